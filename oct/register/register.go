package register

import (
	"context"
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/oct/hole"
)

// Bounds of the search and of what is believed.
const (
	mostShiftUM  = 1500.0
	mostTurnDeg  = 10.0
	leastOverlap = 0.4  // share of the smaller scan
	leastMatch   = 0.30 // correlation at the best place
	standsOut    = 1.25 // the best correlation over that of the next best place
	elsewhereUM  = 300.0
)

// Motion lays the first scan on the second; see the package comment. Every
// number has its 95 % interval.
type Motion struct {
	XUM, YUM, TurnDeg estimate.Estimate
	// DepthUM at the middle of the first scan; downward is positive. The tilts
	// are in µm per µm.
	DepthUM      estimate.Estimate
	TiltX, TiltY float64
	// Match is the correlation of the two fields at the best place, Overlap the
	// share of the smaller scan that was compared.
	Match, Overlap float64
}

// ToSecond gives the place in the second scan, in µm from its middle, of a place
// in the first.
func (m *Motion) ToSecond(x, y float64) (float64, float64) {
	sin, cos := math.Sincos(m.TurnDeg.Value * math.Pi / 180)
	return x*cos - y*sin + m.XUM.Value, x*sin + y*cos + m.YUM.Value
}

// ToFirst is the inverse of ToSecond.
func (m *Motion) ToFirst(x, y float64) (float64, float64) {
	sin, cos := math.Sincos(m.TurnDeg.Value * math.Pi / 180)
	x, y = x-m.XUM.Value, y-m.YUM.Value
	return x*cos + y*sin, -x*sin + y*cos
}

// motion is a candidate of the search: µm and degrees.
type motion struct{ x, y, turn float64 }

// Scans finds the motion between two scans of one eye.
//
// Errors: NotMeasurable for scans that cannot be laid on each other or do not
// match; Invalid for missing or foreign parts and for two sides; that of ctx.
func Scans(ctx context.Context, first, second Scan) (*Motion, error) {
	if err := first.check("first"); err != nil {
		return nil, err
	}
	if err := second.check("second"); err != nil {
		return nil, err
	}
	if a, b := first.Volume.Laterality, second.Volume.Laterality; a != b {
		return nil, &fault.Error{Code: fault.Invalid, Where: "scans", What: fmt.Sprintf("one is of the %s eye, the other of the %s", a, b), Mend: "compare scans of one eye"}
	}
	bandA, bandB := first.band(), second.band()
	var best motion
	var match, overlap float64
	var fine *search
	for i, step := range []float64{60, 30, 20} {
		s := &search{a: first.fieldOf(bandA, step).smooth().withoutSlow(), b: second.fieldOf(bandB, step).smooth().withoutSlow(), left: -1}
		s.known = s.count()
		var err error
		if i == 0 {
			best, err = s.everywhere(ctx)
		} else {
			best, err = s.near(ctx, best)
		}
		if err != nil {
			return nil, err
		}
		fine = s
	}
	match, overlap = fine.match(best)
	if match < leastMatch {
		return nil, noMatch(fmt.Sprintf("the best place has a correlation of %.2f", match), fmt.Sprintf("%.2f or more", leastMatch))
	}
	m := &Motion{Match: match, Overlap: overlap}
	if err := fine.jackknife(ctx, best, m); err != nil {
		return nil, err
	}
	return m, depth(first, second, m)
}

func noMatch(what, expected string) error {
	return &fault.Error{
		Code: fault.NotMeasurable, Where: "scans", What: "they cannot be laid on each other: " + what, Expected: expected,
		Mend: "compare the figures alone, or scans that cover the same place",
	}
}

// Change judges two readings of the minimum linear diameter by what a repeated
// reading differs by.
type Change struct {
	DifferenceUM estimate.Estimate // second less first
	Real         bool              // beyond hole.RealChangeUM
}

// ChangeOf compares two diameters of one hole. Both must have a number; the
// second return value is false where one has none. The interval joins those of
// the two readings, which are independent:
//
//	half width = √(h₁² + h₂²)
func ChangeOf(first, second estimate.Estimate) (Change, bool) {
	if !first.Known() || !second.Known() {
		return Change{}, false
	}
	half := func(e estimate.Estimate) float64 { return (e.High - e.Low) / 2 }
	d, h := second.Value-first.Value, math.Hypot(half(first), half(second))
	return Change{
		DifferenceUM: estimate.Estimate{Value: d, Low: d - h, High: d + h, Basis: "difference of two independent readings, their intervals joined as the root of the sum of squares"},
		Real:         math.Abs(d) > hole.RealChangeUM,
	}, true
}
