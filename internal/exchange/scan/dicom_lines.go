package scan

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// line is a slice on the picture of the fundus, from its first to its last
// column, x to the right and y up, in millimetres or, when the picture's
// spacing is not known, in its pixels.
type line struct{ x0, y0, x1, y1 float64 }

func (l line) direction() (dx, dy float64) {
	dx, dy = l.x1-l.x0, l.y1-l.y0
	n := math.Hypot(dx, dy)
	return dx / n, dy / n
}

// lines uses the places of the slices on the picture of the fundus; it reports
// whether they decide.
func lines(v *oct.Volume, frames []*dicomFrame, order []int, references []*dicomObject) (bool, error) {
	for _, f := range frames {
		if f.location == nil || len(f.location.coordinates) == 0 {
			return false, nil
		}
		if f.location.orientation == "NONLINEAR" || len(f.location.coordinates) != 4 {
			v.Notes = append(v.Notes, fmt.Sprintf("%s: the slice is no straight line on the fundus; pattern and slice distance are unknown", f.label))
			return true, nil
		}
		if f.location.reference != frames[0].location.reference {
			v.Notes = append(v.Notes, "the slices refer to different pictures of the fundus; their places were not used")
			return false, nil
		}
	}
	rowMM, columnMM, source, err := referenceSpacing(frames[0].location.reference, references)
	if err != nil {
		return false, err
	}
	known := source != ""
	if !known {
		rowMM, columnMM = 1, 1
	}
	segments := make([]line, len(frames))
	for i, f := range frames {
		c := f.location.coordinates
		segments[i] = line{x0: c[1] * columnMM, y0: -c[0] * rowMM, x1: c[3] * columnMM, y1: -c[2] * rowMM}
		if segments[i].x0 == segments[i].x1 && segments[i].y0 == segments[i].y1 {
			return false, &fault.Error{
				Code: fault.Malformed, Where: place(f.label, dicom.TagReferenceCoordinates.String()),
				What: "the slice begins and ends at one place", Expected: "two places",
			}
		}
	}
	if radialLines(v, segments, known) {
		return true, nil
	}
	return parallelLines(v, segments, order, known, source), nil
}

// referenceSpacing returns the Pixel Spacing of the picture referred to, in mm
// between rows and columns, with its source in words; "" when it is not known.
func referenceSpacing(uid string, references []*dicomObject) (rowMM, columnMM float64, source string, err error) {
	for _, r := range references {
		instance, err := r.file.Text(dicom.TagSOPInstance, &r.file.DataSet)
		if err != nil {
			return 0, 0, "", dicomFault(r.name, err)
		}
		if instance != uid || uid == "" {
			continue
		}
		frames, err := r.frames()
		if err != nil {
			return 0, 0, "", err
		}
		if s := frames[0].spacing; s != nil && !math.IsNaN(s[0]) && !math.IsNaN(s[1]) {
			return s[0], s[1], fmt.Sprintf("%s × %s of %s", dicom.TagReferenceCoordinates, dicom.TagPixelSpacing, clean(r.name)), nil
		}
	}
	return 0, 0, "", nil
}

// radialLines recognises lines of several directions whose middles coincide.
func radialLines(v *oct.Volume, segments []line, known bool) bool {
	first := segments[0]
	longest, turned := 0.0, false
	angles := make([]float64, len(segments))
	for i, l := range segments {
		longest = math.Max(longest, math.Hypot(l.x1-l.x0, l.y1-l.y0))
		dx, dy := l.direction()
		angles[i] = turn(dy, dx)
		fx, fy := first.direction()
		turned = turned || math.Abs(dx*fy-dy*fx) > math.Sin(sameDirection)
	}
	if !turned {
		return false
	}
	const crossRelative = 0.01 // of the length of the longest line
	for _, l := range segments {
		x, y := (l.x0+l.x1)/2-(first.x0+first.x1)/2, (l.y0+l.y1)/2-(first.y0+first.y1)/2
		if math.Hypot(x, y) > crossRelative*longest {
			v.Notes = append(v.Notes, "the slices on the fundus are neither parallel nor do they cross at their middle: no slice distance")
			return true
		}
	}
	v.Pattern, v.SliceAnglesDeg = oct.PatternRadial, angles
	if !known {
		v.Notes = append(v.Notes, "the angles of the slices suppose square pixels of the picture of the fundus, whose spacing is not known")
	}
	return true
}

// parallelLines orders parallel lines and, when the picture's spacing is known,
// sets their distance.
func parallelLines(v *oct.Volume, segments []line, order []int, known bool, source string) bool {
	dx, dy := segments[0].direction()
	along := make([]float64, len(segments))
	for i, l := range segments {
		along[i] = -dy*((l.x0+l.x1)/2) + dx*((l.y0+l.y1)/2)
	}
	if known {
		return raster(v, along, order, source)
	}
	v.Notes = append(v.Notes, "the slices lie on a picture of the fundus whose spacing is not known (the picture is not among the files): their distance cannot be taken from it")
	sortAlong(v, along, order)
	return false
}

func unequalSpacing(a, b *dicomFrame) error {
	return &fault.Error{
		Code: fault.Unsupported, Where: place(b.label, dicom.TagPixelSpacing.String()),
		What: fmt.Sprintf("its spacing %g mm differs from %g mm of %s", b.spacing, a.spacing, a.label), Expected: "slices of one scale",
	}
}
