package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
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
		return &fault.Error{Code: fault.Invalid, Where: c.File, What: "the ending names no format this verb writes", Expected: ".dcm or .tif"}
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

// writePhantom writes the scan, its truth and, for a TIFF, its side file. Each
// file appears whole or not at all.
func writePhantom(out *console, name string, v *oct.Volume, truth *phantom.Truth, seed uint64) ([]string, error) {
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	truthJSON, err := json.MarshalIndent(truth, "", "  ")
	if err != nil {
		return nil, err
	}
	var image bytes.Buffer
	files := map[string][]byte{stem + ".truth.json": append(truthJSON, '\n')}
	names := []string{name, stem + ".truth.json"}
	if strings.EqualFold(filepath.Ext(name), ".dcm") {
		err = dicom.WriteOphthalmicTomography(&image, v, dicom.OphthalmicMeta{
			Seed: fmt.Sprintf("limitans phantom %d", seed), At: out.Now(),
			Manufacturer: "limitans", Model: "phantom", SoftwareVersion: version(),
		})
	} else {
		err = scan.WriteTIFF(&image, v)
		files[stem+".yaml"] = scan.SideFile(v)
		names = append(names, stem+".yaml")
	}
	if err != nil {
		return nil, err
	}
	files[name] = image.Bytes()
	for _, n := range names {
		if err := writeWhole(n, files[n]); err != nil {
			return nil, err
		}
	}
	return names, nil
}

// writeWhole writes a file beside its place and moves it there.
func writeWhole(name string, data []byte) (err error) {
	failed := func(err error) error {
		return &fault.Error{Code: fault.Invalid, Where: name, What: "cannot be written", Mend: "check that the folder exists and may be written to", Cause: err}
	}
	file, err := os.CreateTemp(filepath.Dir(name), ".limitans-*")
	if err != nil {
		return failed(err)
	}
	defer func() {
		if err != nil {
			os.Remove(file.Name())
		}
	}()
	if _, err = io.Copy(file, bytes.NewReader(data)); err != nil {
		file.Close()
		return failed(err)
	}
	if err = file.Close(); err != nil {
		return failed(err)
	}
	if err = os.Rename(file.Name(), name); err != nil {
		return failed(err)
	}
	return nil
}
