package main

import (
	"fmt"

	"limitans/fault"
	"limitans/internal/report"
	"limitans/oct/proof"
)

// mostEyes bounds the memory that a proof takes: its eyes are kept to the end.
const mostEyes = 10000

type proofCommand struct {
	Holes  int    `default:"20" help:"How many synthetic eyes with a hole."`
	Intact int    `default:"20" help:"How many without."`
	Seed   uint64 `default:"2026" help:"The same seed gives the same eyes; 2026 is that of the published table."`
}

// Run measures synthetic eyes and prints the errors.
func (c proofCommand) Run(out *console) error {
	if c.Holes > mostEyes || c.Intact > mostEyes {
		return &fault.Error{Code: fault.Invalid, Where: "proof", What: fmt.Sprintf("%d holes and %d intact eyes", c.Holes, c.Intact), Expected: fmt.Sprintf("at most %d of each", mostEyes)}
	}
	p := newProgress(out, "measuring synthetic eyes")
	eyes, err := proof.Eyes(out.Context, proof.Options{Holes: c.Holes, Intact: c.Intact, Seed: c.Seed, Progress: p.update})
	p.finish()
	if err != nil {
		return err
	}
	return report.Proof(out.Stdout, proof.Summarise(eyes), c.Seed)
}
