package thickness

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/oct"
	"limitans/oct/surface"
)

// Sign is one sign of an epiretinal membrane. It is indicative only: no method
// without training has a published error for it, and no limit between healthy
// and not is given here.
type Sign struct {
	Key        string            `json:"key"`
	Name       string            `json:"name"`
	Unit       string            `json:"unit"`
	Value      estimate.Estimate `json:"value"`
	Indicative string            `json:"indicative"` // the caution, to be printed beside the value
	Method     string            `json:"method"`
}

// The keys of the signs.
const (
	SignRuggedness = "inner_surface_ruggedness"
	SignBrightLine = "inner_surface_bright_line"
	SignPitDepth   = "pit_depth"
	SignCentral    = "central_thickness"
)

const indicative = "indicative only: the error of this sign is not published and it is no diagnosis"

// Lengths of the signs, µm.
const (
	ruggednessHalfUM = 250.0 // half-window of the smoothed line: folds shorter than about 250 µm remain
	lineFromUM       = 3.0   // below the membrane: past the blur of the step
	lineToUM         = 15.0
	belowFromUM      = 30.0
	belowToUM        = 60.0
	clearanceUM      = 100.0 // thickness left below, so that the outer bands stay out
	pitRingInnerUM   = 900.0
	pitRingOuterUM   = 1100.0
	leastSignColumns = 20 // of a slice, for it to count
)

// signs returns the four signs without values.
func signs() []Sign {
	out := []Sign{
		{
			Key: SignRuggedness, Name: "ruggedness of the inner surface", Unit: "µm",
			Method: "root mean square, along depth, of the inner limiting membrane from a parabola fitted in a sliding window of 500 µm, within 1.5 mm of the centre; mean over slices. Noise of the traced line is part of it",
		},
		{
			Key: SignBrightLine, Name: "bright line on the inner surface", Unit: "share of the step from vitreous to tissue",
			Method: "mean grey 3 to 15 µm below the inner limiting membrane minus that 30 to 60 µm below it, over the step from vitreous to tissue, within 1.5 mm of the centre; mean over slices. The nerve fibre layer raises it too",
		},
		{
			Key: SignPitDepth, Name: "depth of the foveal pit", Unit: "µm",
			Method: "mean thickness 0.9 to 1.1 mm from the centre minus the centre point's; zero or less: no pit",
		},
		{Key: SignCentral, Name: "central thickness", Unit: "µm", Method: "mean of the central field of 1 mm"},
	}
	for i := range out {
		out[i].Indicative = indicative
	}
	return out
}

// missingSigns gives every sign the same reason.
func missingSigns(why string) []Sign {
	out := signs()
	for i := range out {
		out[i].Value = estimate.Missing(why)
	}
	return out
}

// scene is what the signs look at.
type scene struct {
	plane     plane
	volume    *oct.Volume
	surfaces  *surface.Surfaces
	centre    centred
	lateralUM float64
}

// membraneSigns computes the signs of a scan whose fields can be placed.
func membraneSigns(x scene, central estimate.Estimate) []Sign {
	out := signs()
	out[0].Value = x.perSlice(x.ruggedness())
	out[1].Value = x.perSlice(x.brightLine())
	out[2].Value = x.pitDepth()
	out[3].Value = central
	return out
}

// near reports whether a column lies within the inner circle of the grid.
func (x *scene) near(slice, column int) bool {
	p := x.plane.locate(float64(slice), float64(column))
	return math.Hypot(p.x-x.centre.place.x, p.y-x.centre.place.y) <= InnerRadiusUM
}

// perSlice is the mean over slices with the interval of that mean, or missing
// with the reason why.
func (x *scene) perSlice(values []float64, why string) estimate.Estimate {
	if why != "" {
		return estimate.Missing(why)
	}
	n := float64(len(values))
	if len(values) < LeastSlices {
		return estimate.Missing(fmt.Sprintf("only %d slices show enough of the inner surface within 1.5 mm of the centre, %d are needed", len(values), LeastSlices))
	}
	var mean, variance float64
	for _, v := range values {
		mean += v / n
	}
	for _, v := range values {
		variance += (v - mean) * (v - mean) / (n - 1)
	}
	return estimate.Normal(mean, math.Sqrt(variance/n),
		fmt.Sprintf("%s; interval from the scatter between %d slices only; %s", indicative, len(values), x.centre.basis))
}

// smoothingWeights are the weights of the least-squares parabola's value at the
// middle of 2m+1 equidistant points:
//
//	3·(3m² + 3m − 1 − 5k²) / ((2m−1)(2m+1)(2m+3)),  −m ≤ k ≤ m
//
// (Savitzky and Golay 1964, doi 10.1021/ac60214a047; from memory, checked by
// test against the normal equations.)
func smoothingWeights(m int) []float64 {
	out := make([]float64, 2*m+1)
	f := float64(m)
	for i := range out {
		k := float64(i - m)
		out[i] = 3 * (3*f*f + 3*f - 1 - 5*k*k) / ((2*f - 1) * (2*f + 1) * (2*f + 3))
	}
	return out
}

// ruggedness returns the root mean square of every slice that has enough.
func (x *scene) ruggedness() (values []float64, why string) {
	m := int(math.Round(ruggednessHalfUM / x.lateralUM))
	if m < 3 {
		return nil, "columns lie too far apart to see folds"
	}
	if 2*m+1 > x.volume.Columns {
		return nil, "the scan is narrower than the window of the smoothed line"
	}
	weights := smoothingWeights(m)
	inner := x.surfaces.InnerLimitingMembrane
	for s := range x.volume.Slices {
		var sum float64
		n := 0
		for c := m; c < x.volume.Columns-m; c++ {
			if !x.near(s, c) {
				continue
			}
			residual := inner.At(s, c)
			for k, w := range weights {
				residual -= w * inner.At(s, c-m+k)
			}
			if math.IsNaN(residual) {
				continue // a gap in the window: no line to compare with
			}
			sum += residual * residual
			n++
		}
		if n >= leastSignColumns {
			values = append(values, math.Sqrt(sum/float64(n))*x.volume.Scale.Depth.MicrometresPerSample)
		}
	}
	return values, ""
}

// brightLine returns the mean excess of every slice that has enough.
func (x *scene) brightLine() (values []float64, why string) {
	if len(x.surfaces.Levels) != x.volume.Slices {
		return nil, "the grey levels of vitreous and tissue are not known"
	}
	for s, levels := range x.surfaces.Levels {
		step := levels.Tissue - levels.Vitreous
		if !levels.Traceable || !(step > 0) {
			continue
		}
		var sum float64
		n := 0
		for c := range x.volume.Columns {
			if !x.near(s, c) {
				continue
			}
			if excess, ok := x.excess(s, c); ok {
				sum += excess / step
				n++
			}
		}
		if n >= leastSignColumns {
			values = append(values, sum/float64(n))
		}
	}
	return values, ""
}

// excess is how much brighter the inner surface is than what lies below it, in
// grey; ok is false where the retina is too thin or leaves the frame.
func (x *scene) excess(slice, column int) (grey float64, ok bool) {
	um := x.volume.Scale.Depth.MicrometresPerSample
	top := x.surfaces.InnerLimitingMembrane.At(slice, column)
	bottom := x.surfaces.PigmentEpithelium.At(slice, column)
	if !((bottom-top)*um >= belowToUM+clearanceUM) || top < 0 || top+belowToUM/um > float64(x.volume.Rows-1) {
		return 0, false
	}
	samples := x.volume.Slice(slice)
	mean := func(fromUM, toUM float64) float64 {
		from, to := int(math.Round(top+fromUM/um)), int(math.Round(top+toUM/um))
		sum := 0.0
		for r := from; r <= to; r++ {
			sum += float64(samples[r*x.volume.Columns+column])
		}
		return sum / float64(to-from+1)
	}
	return mean(lineFromUM, lineToUM) - mean(belowFromUM, belowToUM), true
}

// pitDepth is the difference of a ring and the centre point. What both lines
// share drops out.
func (x *scene) pitDepth() estimate.Estimate {
	point := integrate(x.plane, shape{Centre, 0, centrePointUM}, x.centre.place, cellUM/4)
	ring := integrate(x.plane, shape{"", pitRingInnerUM, pitRingOuterUM}, x.centre.place, cellUM)
	for _, in := range [2]*integral{point, ring} {
		if in.share(seen) < LeastShare {
			return estimate.Missing("the centre or the ring round it was not seen: " + in.unseen())
		}
	}
	a, b := point.widths(x.plane), ring.widths(x.plane)
	moved := centreWidth(x.plane, point.shape, x.centre.place, x.centre.errorUM)
	half := math.Hypot(ReadingErrorUM, b.random) + a.sampling + b.sampling + a.coverage + b.coverage + moved
	value := ring.mean() - point.mean()
	return estimate.Estimate{
		Value: value, Low: value - half, High: value + half,
		Basis: fmt.Sprintf("%s; interval ±%.1f µm from reading, distance of slices, unseen parts and place of the centre; %s", indicative, half, x.centre.basis),
	}
}
