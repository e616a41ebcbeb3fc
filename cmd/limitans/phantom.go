package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/internal/exchange/scan"
	"limitans/oct"
	"limitans/oct/phantom"
)

type phantomCommand struct {
	File string `arg:"" help:"File to write: .dcm for DICOM, .tif for a multi-page TIFF. The truth goes beside it as .truth.json, the scale of a TIFF as .yaml."`
	Seed uint64 `default:"1" help:"The same seed gives the same eye."`
	Kind string `default:"any" enum:"any,small,medium,large,coarse,intact" help:"Which eye: any, small, medium, large or coarse hole, or intact."`
}

// Run writes a phantom and its truth.
func (c phantomCommand) Run(out *console) error {
	extension := strings.ToLower(filepath.Ext(c.File))
	if extension != ".dcm" && extension != ".tif" && extension != ".tiff" {
		return &fault.Error{Code: fault.Invalid, Where: fmt.Sprintf("%q", c.File), What: "the ending names no format this verb writes", Expected: ".dcm or .tif"}
	}
	for _, name := range phantomFiles(c.File) {
		if _, err := os.Lstat(name); err == nil {
			return &fault.Error{Code: fault.Invalid, Where: name, What: "is there already and is not written over", Mend: "name another file"}
		}
	}
	v, truth, err := phantom.Make(drawPhantom(c.Kind, c.Seed))
	if err != nil {
		return err
	}
	written, err := writePhantom(out, c.File, v, truth, c.Seed)
	if err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "An invented eye, seed %d: %d slices of %d × %d samples\n", c.Seed, v.Slices, v.Rows, v.Columns)
	for _, name := range written {
		fmt.Fprintln(out.Stdout, "  "+name)
	}
	return nil
}

// drawPhantom draws the parameters of a kind of eye from a seed.
func drawPhantom(kind string, seed uint64) phantom.Parameters {
	rng := rand.New(rand.NewPCG(seed, 0))
	switch kind {
	case "intact":
		return phantom.DrawIntact(rng)
	case "any":
		return phantom.Draw(rng)
	}
	return phantom.Draw(rng, phantom.Kind(kind))
}

// phantomFiles names the files of a phantom: the scan, its truth and, for a
// TIFF, its side file.
func phantomFiles(name string) []string {
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	if strings.EqualFold(filepath.Ext(name), ".dcm") {
		return []string{name, stem + ".truth.json"}
	}
	return []string{name, stem + ".truth.json", stem + ".yaml"}
}

// writePhantom writes the files of a phantom.
func writePhantom(out *console, name string, v *oct.Volume, truth *phantom.Truth, seed uint64) ([]string, error) {
	truthJSON, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return nil, err
	}
	var image bytes.Buffer
	if strings.EqualFold(filepath.Ext(name), ".dcm") {
		err = dicom.WriteOphthalmicTomography(&image, v, dicom.OphthalmicMeta{
			Seed: fmt.Sprintf("limitans phantom %d", seed), At: out.Now(),
			Manufacturer: "limitans", Model: "phantom", SoftwareVersion: version(),
		})
	} else {
		err = scan.WriteTIFF(&image, v)
	}
	if err != nil {
		return nil, err
	}
	names := phantomFiles(name)
	return names, writeTogether(names, [][]byte{image.Bytes(), append(truthJSON, '\n'), scan.SideFile(v)}[:len(names)])
}

// writeTogether writes files of one folder: all of them appear whole, or none.
func writeTogether(names []string, contents [][]byte) (err error) {
	folder := filepath.Dir(names[0])
	scratch, err := os.MkdirTemp(folder, ".limitans-*")
	if err != nil {
		return cannotWrite(names[0], err)
	}
	defer os.RemoveAll(scratch)
	for i, name := range names {
		if err := os.WriteFile(filepath.Join(scratch, filepath.Base(name)), contents[i], 0o644); err != nil {
			return cannotWrite(name, err)
		}
	}
	for i, name := range names {
		if err := os.Rename(filepath.Join(scratch, filepath.Base(name)), name); err != nil {
			for _, moved := range names[:i] {
				os.Remove(moved)
			}
			return cannotWrite(name, err)
		}
	}
	return nil
}

// cannotWrite says why a file or folder cannot be written.
func cannotWrite(name string, err error) error {
	why := err
	for cause := errors.Unwrap(why); cause != nil; cause = errors.Unwrap(why) {
		why = cause
	}
	return undone{&fault.Error{
		Code: fault.Internal, Where: name, What: "cannot be written: " + why.Error(),
		Mend: "check that the folder is there and may be written to", Cause: err,
	}}
}
