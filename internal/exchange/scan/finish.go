package scan

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/oct"
)

// finish lays what people said over what the files said, checks the result and
// looks at it. It returns another volume when the scan was turned.
func finish(v *oct.Volume, p string, b *bundle, o Options) (*oct.Volume, error) {
	if err := settle(v, p, b, o); err != nil {
		return nil, err
	}
	if err := v.Check(); err != nil {
		return nil, err
	}
	v = turnUpright(v, o.AcceptFlip)
	noteUnknownScale(v)
	noteUnusedBits(v)
	for _, f := range oct.Inspect(v) {
		if f.Kind == oct.FindingMirrored {
			f.Text += "; it was left as it is (--flip turns it)"
		}
		v.Notes = append(v.Notes, f.Text)
	}
	return v, nil
}

// settle decides scale, pattern, acquisition and side between their sources.
func settle(v *oct.Volume, p string, b *bundle, o Options) error {
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
	return settleSide(v, p, b, side, o)
}

// turnUpright flips a scan that looks upside down when the user accepted that, and
// records both.
func turnUpright(v *oct.Volume, accepted bool) *oct.Volume {
	if !accepted {
		return v
	}
	o := oct.Upright(v)
	if o.Direction != oct.DirectionMirrored {
		v.Notes = append(v.Notes, fmt.Sprintf("a flip was accepted but not made: the scan looks %s (%s)", o.Direction, o.Reason))
		return v
	}
	v = oct.FlipDepth(v)
	v.Notes = append(v.Notes, fmt.Sprintf("the flip was accepted by the user; before it the scan looked upside down (%s)", o.Reason))
	return v
}

// noteUnknownScale names the axes without micrometres.
func noteUnknownScale(v *oct.Volume) {
	var missing []string
	for _, a := range []struct {
		name  string
		scale oct.AxisScale
		skip  bool
	}{
		{"depth", v.Scale.Depth, false},
		{"lateral", v.Scale.Lateral, false},
		{"slice", v.Scale.Slice, v.Slices == 1 || v.Pattern == oct.PatternRadial},
	} {
		if !a.scale.Known() && !a.skip {
			missing = append(missing, a.name)
		}
	}
	if missing != nil {
		v.Notes = append(v.Notes, fmt.Sprintf("scale unknown: %s; no micrometres along it until it is given", strings.Join(missing, ", ")))
	}
}

// noteUnusedBits says when the samples use an eighth of their range or less, as
// 12 bits stored in 16 do. They are left as they are.
func noteUnusedBits(v *oct.Volume) {
	top := slices.Max(v.Samples)
	if used := bits.Len16(top); v.BitDepth > 8 && used <= v.BitDepth-3 && top > 0 {
		v.Notes = append(v.Notes, fmt.Sprintf("the largest sample is %d: the scan uses %d of its %d bits", top, used, v.BitDepth))
	}
}

// settlePattern decides how the slices lie: as a side file says, else as the
// file says, else as a raster when somebody gave the distance of the slices.
func settlePattern(v *oct.Volume, side *sideFile) error {
	if side != nil && side.pattern != oct.PatternUnknown {
		if v.Pattern != side.pattern && v.Pattern != oct.PatternUnknown && v.Pattern != oct.PatternSingle {
			v.Notes = append(v.Notes, fmt.Sprintf("pattern: %s (side file %s) is used; the file says %s", side.pattern, side.name, v.Pattern))
		}
		if side.anglesDeg != nil && len(side.anglesDeg) != v.Slices {
			return &fault.Error{
				Code: fault.Conflict, Where: place(side.name, "slice_angles_deg"),
				What: fmt.Sprintf("%d angles for %d slices", len(side.anglesDeg), v.Slices), Expected: "one a slice",
			}
		}
		if v.Slices > 1 || side.pattern == oct.PatternRadial {
			v.Pattern, v.SliceAnglesDeg = side.pattern, side.anglesDeg
		}
	}
	switch {
	case v.Pattern == oct.PatternUnknown && v.Scale.Slice.Known():
		v.Pattern = oct.PatternRaster
	case v.Pattern == oct.PatternRadial && v.Scale.Slice.Trust == oct.TrustUserGiven:
		return &fault.Error{
			Code: fault.Conflict, Where: sliceAxis.name,
			What: fmt.Sprintf("a distance between slices is given (%s), but the slices are radial", v.Scale.Slice.Source), Expected: "no distance",
		}
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
