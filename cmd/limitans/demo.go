package main

import (
	"fmt"
	"os"
	"path/filepath"

	"limitans/fault"
	"limitans/oct/phantom"
)

// demoSeed is the eye of the demonstration.
const demoSeed = 7

type demoCommand struct {
	Folder string `arg:"" optional:"" help:"Where the scan and its figures go; a new temporary folder by default."`
}

// Run makes a synthetic eye, measures it and writes the figures.
func (c demoCommand) Run(out *console) error {
	folder := c.Folder
	if folder == "" {
		var err error
		if folder, err = os.MkdirTemp("", "limitans-demo-"); err != nil {
			return err
		}
	} else if err := os.MkdirAll(folder, 0o755); err != nil {
		return &fault.Error{Code: fault.Invalid, Where: folder, What: "cannot be made a folder", Mend: "name another place", Cause: err}
	}
	v, truth, err := phantom.Make(drawPhantom("medium", demoSeed))
	if err != nil {
		return err
	}
	scanFile := filepath.Join(folder, "invented-eye.dcm")
	if _, err := writePhantom(out, scanFile, v, truth, demoSeed); err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "An invented eye, nobody's: %s\n\n", scanFile)
	result, err := measureScan(out, scanFlags{Path: scanFile})
	if err != nil {
		return err
	}
	if err := printResult(out, result, false, filepath.Join(folder, "figures")); err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "\nTrue minimum linear diameter of the invented eye: %.0f µm; measured %.0f µm (95 %%: %.0f to %.0f)\n",
		truth.MLDUM, result.Hole.MLDUM.Value, result.Hole.MLDUM.Low, result.Hole.MLDUM.High)
	return nil
}
