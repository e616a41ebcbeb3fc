package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/scan"
	"limitans/internal/figure"
	"limitans/internal/report"
	"limitans/oct/measure"
)

// scanFlags are the flags of every verb that opens a scan.
type scanFlags struct {
	Path        string  `arg:"" help:"Scan: DICOM file, multi-page TIFF, picture, or a folder or zip of slices."`
	Scale       string  `placeholder:"DEPTH,LATERAL,SLICE" help:"Micrometres per sample on the three axes, for example 3.87,5.77,31. Leave an axis empty when it is not known."`
	Eye         string  `placeholder:"SIDE" help:"Side of the eye: right or left."`
	AxialLength float64 `placeholder:"MM" help:"Axial length of the eye in mm, for the lateral correction."`
	Flip        bool    `help:"Turn the scan over if it is found upside down."`
}

type measureCommand struct {
	scanFlags
	JSON    bool   `name:"json" help:"Print JSON instead of text."`
	Figures string `placeholder:"DIR" help:"Write the slices with their lines, the view from the front, the hole in space and the thickness map into this folder."`
}

// Run measures a scan and prints the result.
func (c measureCommand) Run(out *console) error {
	result, err := measureScan(out, c.scanFlags)
	if err != nil {
		return err
	}
	return printResult(out, result, c.JSON, c.Figures)
}

// measureScan opens and measures the scan that the flags name.
func measureScan(out *console, flags scanFlags) (*measure.Result, error) {
	scale, err := parseScale(flags.Scale)
	if err != nil {
		return nil, err
	}
	side := eye.SideUnknown
	if flags.Eye != "" {
		if side, err = eye.ParseLaterality(flags.Eye); err != nil {
			return nil, err
		}
	}
	if flags.AxialLength != 0 {
		if err := eye.CheckAxialLengthMM(flags.AxialLength); err != nil {
			return nil, err
		}
	}
	reading := newProgress(out, "reading")
	volume, err := scan.Open(out.Context, flags.Path, scan.Options{
		Scale: scale, Laterality: side,
		AcceptFlip: flags.Flip, Progress: reading.update,
	})
	reading.finish()
	if err != nil {
		return nil, err
	}
	measuring := newProgress(out, "measuring")
	result, err := measure.Volume(out.Context, volume, measure.Options{
		AxialLengthMM: flags.AxialLength,
		Now:           out.Now(), Version: version(), Progress: measuring.update,
	})
	measuring.finish()
	if err != nil {
		return nil, atPath(err, flags.Path)
	}
	return result, nil
}

// printResult prints a result and writes its figures.
func printResult(out *console, result *measure.Result, asJSON bool, figures string) error {
	var files []string
	if figures != "" {
		drawing := newProgress(out, "drawing")
		var err error
		files, err = writeFigures(out.Context, figures, result, drawing.update)
		drawing.finish()
		if err != nil {
			return err
		}
	}
	if asJSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(report.Document(result))
	}
	if err := report.Text(out.Stdout, result); err != nil {
		return err
	}
	if len(files) > 0 {
		fmt.Fprintf(out.Stdout, "\nFigures: %d files in %s, start with %s\n", len(files), figures, filepath.Base(files[0]))
	}
	return nil
}

// writeFigures draws a result into a folder.
func writeFigures(ctx context.Context, folder string, result *measure.Result, progress func(done, total int)) ([]string, error) {
	return figure.WriteAll(ctx, folder, figure.Subject{
		Volume: result.Volume, Surfaces: result.Traced, Hole: result.Hole,
		Thickness: result.Thickness,
	}, progress)
}

// atPath adds the file's name to a fault that does not name a place in it.
func atPath(err error, path string) error {
	if f, ok := err.(*fault.Error); ok {
		named := *f
		named.Where = strings.TrimSuffix(path+": "+f.Where, ": ")
		return &named
	}
	return err
}

// parseScale reads DEPTH,LATERAL,SLICE in µm; an empty part stays unknown.
func parseScale(text string) (scan.GivenScale, error) {
	var out scan.GivenScale
	if text == "" {
		return out, nil
	}
	wrong := func(what string) error {
		return &fault.Error{
			Code: fault.Invalid, Where: "--scale " + text, What: what,
			Expected: "micrometres per sample as DEPTH,LATERAL,SLICE, for example 3.87,5.77,31",
		}
	}
	parts := strings.Split(text, ",")
	if len(parts) > 3 {
		return out, wrong(fmt.Sprintf("%d numbers", len(parts)))
	}
	for i, target := range []**float64{&out.DepthUM, &out.LateralUM, &out.SliceUM}[:len(parts)] {
		part := strings.TrimSpace(parts[i])
		if part == "" {
			continue
		}
		um, err := strconv.ParseFloat(part, 64)
		if err != nil || math.IsNaN(um) || math.IsInf(um, 0) {
			return out, wrong(fmt.Sprintf("%q is not a number", part))
		}
		if um <= 0 || um > 1000 {
			return out, wrong(fmt.Sprintf("%g µm is not a spacing of samples", um))
		}
		*target = &um
	}
	return out, nil
}
