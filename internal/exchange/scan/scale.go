package scan

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/oct"
)

// scaleConflict is the relative difference beyond which two sources of one
// scale disagree: rounding to the usual three digits stays below it.
const scaleConflict = 0.01

// axis is one axis of a scan with the bounds of what is taken for its scale.
// The bounds are wide on purpose: they catch a wrong unit, not a rare scanner
// (common practice, no source: depth 1 to 15, lateral 2 to 60, between slices 3
// to 1000 µm).
type axis struct {
	name      string
	low, high float64 // µm per sample
}

var (
	depthAxis   = axis{"depth scale", 0.2, 50}
	lateralAxis = axis{"lateral scale", 0.2, 500}
	sliceAxis   = axis{"slice scale", 0.2, 5000}
)

// check refuses a scale that cannot be one.
func (a axis) check(where string, um float64) error {
	if um >= a.low && um <= a.high {
		return nil
	}
	e := &fault.Error{
		Code: fault.Invalid, Where: where, What: fmt.Sprintf("%g µm per sample cannot be", um),
		Expected: fmt.Sprintf("%g to %g µm", a.low, a.high),
	}
	switch um *= 1000; {
	case math.IsNaN(um):
		e.What = "is not a number"
	case um >= a.low && um <= a.high:
		e.Mend = fmt.Sprintf("was %.4g µm meant, given in millimetres?", um)
	}
	return e
}

func (g GivenScale) check() error {
	for _, s := range []struct {
		axis axis
		um   *float64
	}{{depthAxis, g.DepthUM}, {lateralAxis, g.LateralUM}, {sliceAxis, g.SliceUM}} {
		if s.um != nil {
			if err := s.axis.check(s.axis.name, *s.um); err != nil {
				return err
			}
		}
	}
	return nil
}

// apply lays a scale given by a person over what is known so far, and notes
// where the two disagree.
func (g GivenScale) apply(v *oct.Volume, source string) {
	for _, s := range []struct {
		axis axis
		um   *float64
		into *oct.AxisScale
	}{{depthAxis, g.DepthUM, &v.Scale.Depth}, {lateralAxis, g.LateralUM, &v.Scale.Lateral}, {sliceAxis, g.SliceUM, &v.Scale.Slice}} {
		if s.um == nil {
			continue
		}
		was := *s.into
		*s.into = oct.AxisScale{MicrometresPerSample: *s.um, Trust: oct.TrustUserGiven, Source: source}
		if was.Known() && math.Abs(*s.um-was.MicrometresPerSample) > scaleConflict*was.MicrometresPerSample {
			v.Notes = append(v.Notes, fmt.Sprintf("%s: %g µm per sample (%s) is used; %s says %g µm",
				s.axis.name, *s.um, source, was.Source, was.MicrometresPerSample))
		}
	}
}
