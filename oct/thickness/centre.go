package thickness

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/oct"
)

// centred is the centre of the grid.
type centred struct {
	place   place
	errorUM float64 // 95 %; 0 for a centre that was given
	basis   string
	warning string
}

// checkCentre returns a fault when a centre is half given or off the scan.
func checkCentre(v *oct.Volume, o Options) error {
	for _, axis := range []struct {
		where string
		value float64
		count int
	}{{"centre slice", o.CentreSlice, v.Slices}, {"centre column", o.CentreColumn, v.Columns}} {
		if math.IsNaN(axis.value) {
			if math.IsNaN(o.CentreSlice) != math.IsNaN(o.CentreColumn) {
				return &fault.Error{
					Code: fault.Invalid, Where: axis.where, What: "is not given, the other coordinate of the centre is",
					Expected: "both, or neither to let the centre be found",
				}
			}
			continue
		}
		if axis.value < 0 || axis.value > float64(axis.count-1) {
			return &fault.Error{
				Code: fault.Invalid, Where: axis.where, What: fmt.Sprintf("%g lies outside the scan", axis.value),
				Expected: fmt.Sprintf("0 to %d", axis.count-1),
			}
		}
	}
	return nil
}

// findCentre takes the centre that was given, or looks for the pit: the place
// within 1 mm of the scan's middle where the mean over a disc of 100 µm radius
// is smallest, accepted when a ring of 0.8 to 1.2 mm round it is at least 20 µm
// thicker and the smallest place is not at the border of the search. Failing
// that the scan's middle is assumed, and said to be.
func findCentre(pl plane, v *oct.Volume, o Options) centred {
	if !math.IsNaN(o.CentreSlice) {
		return centred{place: pl.locate(o.CentreSlice, o.CentreColumn), basis: "centre as given"}
	}
	middle := pl.locate(float64(v.Slices-1)/2, float64(v.Columns-1)/2)
	assumed := centred{
		place: middle, errorUM: AssumedCentreUM,
		basis:   "centre not given and no pit found: the scan's middle is assumed",
		warning: "the centre of the grid is assumed to be the scan's middle; give the centre of the fovea or of the hole",
	}
	if holeNear(pl, middle) {
		assumed.warning += " (the inner limiting membrane is missing near the middle: is there an open hole?)"
		return assumed
	}
	best, ok := thinnest(pl, middle)
	if !ok || math.Hypot(best.x-middle.x, best.y-middle.y) > pitSearchUM-2*pitDiscUM {
		return assumed
	}
	disc, _ := seenMean(pl, shape{Centre, 0, pitDiscUM}, best, cellUM)
	rim, share := seenMean(pl, shape{"", pitRimInnerUM, pitRimOuterUM}, best, 2*cellUM)
	if !(share >= LeastShare && rim-disc >= leastPitUM) {
		return assumed
	}
	return centred{
		place: best, errorUM: FoundCentreUM,
		basis:   fmt.Sprintf("centre found as the pit, %.0f µm deep", rim-disc),
		warning: "the centre of the grid was found as the thinnest place of the pit; check it",
	}
}

// holeNear reports whether the membrane is missing over more than 1 % of the
// search area: the thinnest place is then no pit.
func holeNear(pl plane, middle place) bool {
	return integrate(pl, shape{Centre, 0, pitSearchUM}, middle, 2*cellUM).share(noMembrane) > 0.01
}

// thinnest looks for the disc of smallest mean, in steps of 50 µm, then of 10.
func thinnest(pl plane, middle place) (place, bool) {
	best, least := middle, math.Inf(1)
	try := func(p place) {
		mean, share := seenMean(pl, shape{Centre, 0, pitDiscUM}, p, cellUM)
		if share >= LeastShare && mean < least {
			best, least = p, mean
		}
	}
	scan := func(from place, reach, step float64) {
		n := int(reach / step)
		for i := -n; i <= n; i++ {
			for k := -n; k <= n; k++ {
				d := place{float64(i) * step, float64(k) * step}
				if math.Hypot(d.x, d.y) <= reach {
					try(place{from.x + d.x, from.y + d.y})
				}
			}
		}
	}
	scan(middle, pitSearchUM, 50)
	scan(best, 50, 10)
	return best, !math.IsInf(least, 1)
}
