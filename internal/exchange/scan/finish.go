package scan

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/oct"
)

// finish lays what people said over what the files said, checks the result and
// looks at it.
func finish(v *oct.Volume, p string, b *bundle, o Options) error {
	side, err := findSideFile(p, b)
	if err != nil {
		return err
	}
	if side != nil {
		side.scale.apply(v, "side file "+side.name)
	}
	o.Scale.apply(v, "given by the user")
	if err := settlePattern(v, side); err != nil {
		return err
	}
	if side != nil {
		settleAcquisition(v, side)
	}
	if err := settleSide(v, p, b, side, o); err != nil {
		return err
	}
	return v.Check()
}

// settlePattern decides how the slices lie: as a side file says, else as the
// file says, else as a raster when somebody gave the distance of the slices.
func settlePattern(v *oct.Volume, side *sideFile) error {
	if side != nil && side.pattern != oct.PatternUnknown {
		if v.Pattern != side.pattern && v.Pattern != oct.PatternUnknown && v.Pattern != oct.PatternSingle {
			v.Notes = append(v.Notes, fmt.Sprintf("pattern: %s (side file %s) is used; the file says %s", side.pattern, side.name, v.Pattern))
		}
		if side.anglesDeg != nil && len(side.anglesDeg) != v.Slices {
			return &fault.Error{Code: fault.Conflict, Where: place(side.name, "slice_angles_deg"),
				What: fmt.Sprintf("%d angles for %d slices", len(side.anglesDeg), v.Slices), Expected: "one a slice"}
		}
		if v.Slices > 1 || side.pattern == oct.PatternRadial {
			v.Pattern, v.SliceAnglesDeg = side.pattern, side.anglesDeg
		}
	}
	switch {
	case v.Pattern == oct.PatternUnknown && v.Scale.Slice.Known():
		v.Pattern = oct.PatternRaster
	case v.Pattern == oct.PatternRadial && v.Scale.Slice.Trust == oct.TrustUserGiven:
		return &fault.Error{Code: fault.Conflict, Where: sliceAxis.name,
			What: fmt.Sprintf("a distance between slices is given (%s), but the slices are radial", v.Scale.Slice.Source), Expected: "no distance"}
	}
	return nil
}

func settleAcquisition(v *oct.Volume, side *sideFile) {
	source := "side file " + side.name
	a := &v.Acquisition
	if mm := side.axialLengthMM; mm != 0 {
		if a.AxialLengthMM != 0 && math.Abs(a.AxialLengthMM-mm) > 0.005 {
			v.Notes = append(v.Notes, fmt.Sprintf("axial length: %g mm (%s) is used; the file says %g mm", mm, source, a.AxialLengthMM))
		}
		a.AxialLengthMM = mm
	}
	if at := side.acquired; !at.IsZero() {
		if !a.AcquiredAt.IsZero() && a.AcquiredAt.Format("2006-01-02") != at.Format("2006-01-02") {
			v.Notes = append(v.Notes, fmt.Sprintf("acquired: %s (%s) is used; the file says %s", at.Format("2006-01-02"), source, a.AcquiredAt.Format("2006-01-02")))
		}
		if a.AcquiredAt.IsZero() || a.AcquiredAt.Format("2006-01-02") != at.Format("2006-01-02") {
			a.AcquiredAt = at
		}
	}
}
