package main

import (
	"fmt"
	"os"
	"path/filepath"

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
			return cannotWrite(os.TempDir(), err)
		}
	} else if err := os.MkdirAll(folder, 0o755); err != nil {
		return cannotWrite(folder, err)
	}
	v, truth, err := phantom.Make(drawPhantom("medium", demoSeed))
	if err != nil {
		return err
	}
	scanFile := filepath.Join(folder, "invented-eye.dcm")
	if _, err := writePhantom(out, scanFile, v, truth, demoSeed); err != nil {
		return err
	}
	result, err := measureScan(out, scanFlags{Path: scanFile})
	if err != nil {
		return err
	}
	if err := printResult(out, result, false, filepath.Join(folder, "figures")); err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "The eye is invented, nobody's: %s\n", scanFile)
	fmt.Fprintf(out.Stdout, "Its true minimum linear diameter: %.0f µm; measured %.0f µm (95 %%: %.0f to %.0f)\n",
		truth.MLDUM, result.Hole.MLDUM.Value, result.Hole.MLDUM.Low, result.Hole.MLDUM.High)
	return nil
}
