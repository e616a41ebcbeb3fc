package main

import (
	"fmt"

	"limitans/internal/caution"
)

type versionCommand struct{}

// Run prints the version and the cautions.
func (versionCommand) Run(out *console) error {
	fmt.Fprintln(out.Stdout, "limitans", version())
	for _, line := range caution.Full() {
		fmt.Fprintln(out.Stdout, line)
	}
	return nil
}
