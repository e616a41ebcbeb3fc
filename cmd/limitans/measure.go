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
	Scale       *string `placeholder:"DEPTH,LATERAL,SLICE" help:"Micrometres per sample on the three axes, for example 3.87,5.77,31. Leave an axis empty when it is not known."`
	Eye         *string `placeholder:"SIDE" help:"Side of the eye: right or left."`
	ConfirmEye  bool    `help:"Stand by --eye although the file or its name tells the other side."`
	AxialLength *string `placeholder:"MM" help:"Axial length of the eye in mm, for the lateral correction."`
	Flip        bool    `help:"Turn the scan over if it is found upside down."`
}

type measureCommand struct {
	scanFlags
	JSON    bool    `name:"json" help:"Print JSON instead of text."`
	Figures *string `placeholder:"DIR" help:"Write the slices with their lines, the view from the front, the hole in space and the thickness map into this folder."`
}

// Run measures a scan and prints the result.
func (c measureCommand) Run(out *console) error {
	figures := ""
	if c.Figures != nil {
		if figures = *c.Figures; figures == "" {
			return &fault.Error{Code: fault.Invalid, Where: "--figures", What: "names no folder"}
		}
	}
	if err := figure.CheckFolder(figures); err != nil {
		return undone{err}
	}
	result, err := measureScan(out, c.scanFlags)
	if err != nil {
		return err
	}
	return printResult(out, result, c.JSON, figures)
}

// options checks what the flags say before anything is read. The axial length
// is 0 when it was not given.
func (flags scanFlags) options() (options scan.Options, axialLengthMM float64, err error) {
	if flags.Path == "" {
		return options, 0, &fault.Error{Code: fault.Invalid, Where: "<path>", What: "names no scan", Expected: "a file or folder"}
	}
	options.AcceptFlip, options.AcceptSide = flags.Flip, flags.ConfirmEye
	if flags.Scale != nil {
		if options.Scale, err = parseScale(*flags.Scale); err != nil {
			return options, 0, err
		}
	}
	if flags.Eye != nil {
		if options.Laterality, err = eye.ParseLaterality(*flags.Eye); err != nil {
			return options, 0, atFlag(err, "--eye")
		}
	}
	if options.Laterality == eye.SideUnknown && (flags.Eye != nil || flags.ConfirmEye) {
		return options, 0, &fault.Error{Code: fault.Invalid, Where: "--eye", What: "names no side", Expected: "right or left"}
	}
	if flags.AxialLength != nil {
		if axialLengthMM, err = strconv.ParseFloat(*flags.AxialLength, 64); err != nil {
			return options, 0, &fault.Error{Code: fault.Invalid, Where: "--axial-length", What: fmt.Sprintf("%q is no number", *flags.AxialLength), Expected: "millimetres with a point, for example 24.5"}
		}
		if err := eye.CheckAxialLengthMM(axialLengthMM); err != nil {
			return options, 0, atFlag(err, "--axial-length")
		}
	}
	return options, axialLengthMM, nil
}

// measureScan opens and measures the scan that the flags name.
func measureScan(out *console, flags scanFlags) (*measure.Result, error) {
	options, axialLengthMM, err := flags.options()
	if err != nil {
		return nil, err
	}
	reading := newProgress(out, "reading")
	options.Progress = reading.update
	volume, err := scan.Open(out.Context, flags.Path, options)
	reading.finish()
	if err != nil {
		return nil, notOpened(err, flags.Path)
	}
	measuring := newProgress(out, "measuring")
	result, err := measure.Volume(out.Context, volume, measure.Options{
		AxialLengthMM: axialLengthMM,
		Now:           out.Now(), Version: version(), Progress: measuring.update,
	})
	measuring.finish()
	if err != nil {
		return nil, undone{atFile(err, flags.Path)}
	}
	return result, nil
}

// notOpened tells a wrong flag from a scan that cannot be opened, and names the
// flags that help.
func notOpened(err error, path string) error {
	f, ok := err.(*fault.Error)
	switch {
	case ok && f.Code == fault.Invalid && (f.Where == "depth scale" || f.Where == "lateral scale" || f.Where == "slice scale"):
		return atFlag(err, "--scale, "+f.Where)
	case ok && f.Code == fault.Conflict && f.Where == "eye":
		named := *f
		named.Mend += " (--eye SIDE --confirm-eye)"
		err = &named
	}
	return undone{atFile(err, path)}
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
			return undone{err}
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

// atFlag makes a flag the place of a fault.
func atFlag(err error, flag string) error {
	if f, ok := err.(*fault.Error); ok {
		named := *f
		named.Where = flag
		return &named
	}
	return err
}

// atFile puts a file's name in front of the place that a fault names, unless
// it stands there already.
func atFile(err error, path string) error {
	f, ok := err.(*fault.Error)
	if !ok || strings.Contains(f.Where, filepath.Base(path)) {
		return err
	}
	named := *f
	named.Where = strings.TrimSuffix(filepath.Base(path)+": "+f.Where, ": ")
	return &named
}

// parseScale reads DEPTH,LATERAL,SLICE in µm; an empty part stays unknown.
func parseScale(text string) (scan.GivenScale, error) {
	var out scan.GivenScale
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
			return out, wrong(fmt.Sprintf("%q is no number", part))
		}
		*target = &um
	}
	if out == (scan.GivenScale{}) {
		return out, wrong("names no axis")
	}
	return out, nil
}
