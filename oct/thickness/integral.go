package thickness

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/estimate"
)

// integral is what one field showed.
type integral struct {
	shape     shape
	areaUM2   float64
	kinds     [sightKinds]float64 // area of each kind of sight, µm²
	sum       float64             // µm³
	values    []float64           // thickness of the cells that were seen
	unlikeSum float64             // size of the differences between slices, times area
	unlikeUM2 float64
	slices    int
}

// integrate visits the cells of a field.
func integrate(pl plane, f shape, centre place, sideUM float64) *integral {
	in := &integral{shape: f}
	f.cells(sideUM, func(p place, area float64) {
		p = place{centre.x + p.x, centre.y + p.y}
		um, why := pl.at(p)
		in.areaUM2 += area
		in.kinds[why] += area
		if why != seen {
			return
		}
		in.sum += um * area
		in.values = append(in.values, um)
		if d := math.Abs(pl.unlike(p)); !math.IsNaN(d) {
			in.unlikeSum += d * area
			in.unlikeUM2 += area
		}
	})
	in.slices = pl.slicesAcross(f, centre)
	return in
}

func (in *integral) share(kind sight) float64 { return in.kinds[kind] / in.areaUM2 }

// mean is the mean thickness of what was seen, NaN when nothing was.
func (in *integral) mean() float64 { return in.sum / in.kinds[seen] }

// spread is the range of thickness from the 5th to the 95th percentile.
func (in *integral) spread() float64 {
	sorted := slices.Clone(in.values)
	slices.Sort(sorted)
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	return sorted[min(n-1, n*95/100)] - sorted[n*5/100]
}

// widths are the parts of an interval, µm; see the package comment.
type widths struct{ random, sampling, coverage, centre float64 }

// around is value with the interval; a thickness is never below zero, which is
// a fact about the quantity.
func (w widths) around(value float64, basis string) estimate.Estimate {
	side := func(systematic float64) float64 {
		return math.Hypot(systematic, w.random) + w.sampling + w.coverage + w.centre
	}
	return estimate.Estimate{Value: value, Low: math.Max(0, value-side(ReadsTooMuchUM)), High: value + side(ReadsTooLittleUM), Basis: basis}
}

// String tells the parts, for a basis.
func (w widths) String() string {
	return fmt.Sprintf("95 %% interval from the two lines −%.1f +%.1f (bright tissue tends to look larger than it is), reading ±%.1f, distance of slices ±%.1f, unseen part ±%.1f, place of the centre ±%.1f µm",
		ReadsTooMuchUM, ReadsTooLittleUM, w.random, w.sampling, w.coverage, w.centre)
}

// widths computes the parts; the centre's is added by the caller.
func (in *integral) widths(pl plane) widths {
	middle := (in.shape.innerUM + in.shape.outUM) / 2
	independent := IndependentUM * math.Max(IndependentUM, pl.sliceStepUM(middle))
	w := widths{
		random: ReadingErrorUM / math.Sqrt(math.Max(1, in.kinds[seen]/independent)),
	}
	if missed := 1 - in.share(seen); missed > 1e-9 { // less is rounding
		w.coverage = missed * math.Max(LeastSpreadUM, in.spread())
	}
	if in.unlikeUM2 > 0 {
		w.sampling = in.unlikeSum / in.unlikeUM2 / 6
	}
	return w
}

// refusal returns why a field must not be given a number, or nothing.
func (in *integral) refusal() string {
	if in.share(seen) < LeastShare {
		return fmt.Sprintf("only %.0f %% of the field was seen, %.0f %% are needed: %s",
			math.Floor(100*in.share(seen)), 100*LeastShare, in.unseen())
	}
	if in.slices < LeastSlices {
		return fmt.Sprintf("only %d slices cross the field, %d are needed: what lies between is not known", in.slices, LeastSlices)
	}
	if in.unlikeUM2 < in.kinds[seen]/2 {
		return "no three neighbouring slices show the field: what lies between is not known"
	}
	return ""
}

// unseen tells the unseen shares by reason.
func (in *integral) unseen() string {
	var parts []string
	for _, kind := range []struct {
		kind sight
		text string
	}{
		{outside, "lies outside the scan or too far between its slices"},
		{noMembrane, "has no retina above the epithelium (an open hole) or an inner limiting membrane that could not be traced"},
		{noEpithelium, "has a pigment epithelium that could not be traced"},
		{crossed, "has an inner limiting membrane below the epithelium, which contradicts itself"},
	} {
		if share := in.share(kind.kind); share > 0 {
			parts = append(parts, fmt.Sprintf("%.1f %% %s", 100*share, kind.text))
		}
	}
	return strings.Join(parts, ", ")
}

// centreWidth is how far the mean of a field moves when its centre moves by
// errorUM in any of four directions.
func centreWidth(pl plane, f shape, centre place, errorUM float64) float64 {
	if errorUM == 0 {
		return 0
	}
	side := coarseCellsFactor * cellUM
	here := meanOf(pl, f, centre, side)
	most := 0.0
	for _, d := range [4]place{{errorUM, 0}, {-errorUM, 0}, {0, errorUM}, {0, -errorUM}} {
		if moved := math.Abs(meanOf(pl, f, place{centre.x + d.x, centre.y + d.y}, side) - here); moved > most {
			most = moved
		}
	}
	return most
}

// meanOf is the mean over what is seen of a field, NaN when nothing is.
func meanOf(pl plane, f shape, centre place, sideUM float64) float64 {
	mean, _ := seenMean(pl, f, centre, sideUM)
	return mean
}

// seenMean is the mean over what is seen of a field and the share that is seen.
func seenMean(pl plane, f shape, centre place, sideUM float64) (mean, share float64) {
	var sum, area, all float64
	f.cells(sideUM, func(p place, a float64) {
		all += a
		if um, why := pl.at(place{centre.x + p.x, centre.y + p.y}); why == seen {
			sum += um * a
			area += a
		}
	})
	return sum / area, area / all
}

// thickness is the field's estimate, missing when it must be refused.
func (in *integral) thickness(pl plane, c centred) estimate.Estimate {
	if why := in.refusal(); why != "" {
		return estimate.Missing(why)
	}
	w := in.widths(pl)
	w.centre = centreWidth(pl, in.shape, c.place, c.errorUM)
	basis := fmt.Sprintf("mean along depth over %.1f %% of the field's area, %d slices; %s; %s", 100*in.share(seen), in.slices, w, c.basis)
	if text := in.unseen(); text != "" {
		basis += "; not seen: " + text
	}
	return w.around(in.mean(), basis)
}
