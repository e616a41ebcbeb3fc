package light

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/fluidics"
)

const squareMMPerSquareCM = 100

// Probe is the fibre that the light leaves: the radius of its face and the half
// angle of its cone in fluid.
type Probe struct {
	FibreRadiusMM    estimate.Estimate
	HalfAngleDegrees estimate.Estimate
}

// The cone of a straight probe whose maker says nothing.
const (
	// straightHalfAngle: the 20° full angle of the published 0.3 mm fibre; the
	// full angle is derived, because the times at 5 and 10 mm fit no other.
	straightHalfAngle = 10
	narrowHalfAngle   = 8  // what the least of the ten published ratios fits
	wideHalfAngle     = 22 // numerical aperture 0.5 in fluid of index 1.336 (from memory)

	vanDenBiesenRadiusMM = 0.15

	// The fibre's share of the outside of its tube: ours, about what fibres of
	// 20 to 27 gauge measure (from memory), and what is left for a wall.
	fibreShare     = 0.75
	leastFibre     = 0.5
	mostFibre      = 0.9
	smallestFibre  = 0.02
	largestFibre   = 1
	mostHalfAngle  = 80.0
	angleErrorPart = 0.1 // a maker's angle is taken to be known to a tenth (ours)
)

const straightBasis = "half angle of 10° of the one published fibre of 0.3 mm (van den Biesen 2000, derived), 8 to 22° in other makes (from memory); the wider the cone, the milder the light"

// StraightProbe is a straight probe of 20, 23, 25 or 27 gauge. The fibre is an
// estimate from the tube's outside diameter, the cone that of the one published
// probe; what the maker says beats both. Other probes are Unsupported.
func StraightProbe(gauge int) (Probe, error) {
	switch gauge {
	case 20, 23, 25, 27:
	default:
		return Probe{}, &fault.Error{Code: fault.Unsupported, Where: fmt.Sprintf("%d gauge", gauge), What: "no probe of that size is known", Expected: "20, 23, 25 or 27", Mend: "or give the fibre's diameter"}
	}
	g, err := fluidics.GaugeOf(gauge)
	if err != nil {
		return Probe{}, err
	}
	half := g.NominalOutsideMM / 2
	return Probe{
		FibreRadiusMM: estimate.Estimate{
			Value: half * fibreShare, Low: half * leastFibre, High: half * mostFibre,
			Basis: fmt.Sprintf("fibre of %d gauge taken as 0.75 (0.5 to 0.9) of the tube's outside %.2f mm (from memory)", gauge, g.NominalOutsideMM),
		},
		HalfAngleDegrees: estimate.Estimate{Value: straightHalfAngle, Low: narrowHalfAngle, High: wideHalfAngle, Basis: straightBasis},
	}, nil
}

// Fibre is a probe of a fibre of known diameter in mm (0.04 to 2). halfAngle in
// degrees (1 to 80) is the maker's, in fluid; NaN takes that of a straight
// probe. Wide-angle and chandelier probes need the maker's.
func Fibre(diameterMM, halfAngleDegrees float64) (Probe, error) {
	r := diameterMM / 2
	if !(r >= smallestFibre && r <= largestFibre) {
		return Probe{}, &fault.Error{Code: fault.Invalid, Where: "fibre", What: fmt.Sprintf("%g mm across is no fibre", diameterMM), Expected: fmt.Sprintf("%g to %g mm", 2*smallestFibre, 2.0*largestFibre)}
	}
	p := Probe{
		FibreRadiusMM:    estimate.Estimate{Value: r, Low: r, High: r, Basis: "fibre as given"},
		HalfAngleDegrees: estimate.Estimate{Value: straightHalfAngle, Low: narrowHalfAngle, High: wideHalfAngle, Basis: straightBasis},
	}
	if math.IsNaN(halfAngleDegrees) {
		return p, nil
	}
	return p.WithHalfAngle(halfAngleDegrees)
}

// WithHalfAngle is the probe with the maker's half angle in fluid, in degrees
// (1 to 80), taken to be known to a tenth.
func (p Probe) WithHalfAngle(degrees float64) (Probe, error) {
	if !(degrees >= 1 && degrees <= mostHalfAngle) {
		return Probe{}, &fault.Error{Code: fault.Invalid, Where: "half angle", What: fmt.Sprintf("%g° is no cone", degrees), Expected: fmt.Sprintf("1 to %g°, half of the full angle, in fluid", mostHalfAngle)}
	}
	p.HalfAngleDegrees = estimate.Estimate{
		Value: degrees, Low: degrees * (1 - angleErrorPart), High: degrees * (1 + angleErrorPart),
		Basis: "half angle as given, taken to be known to a tenth (ours)",
	}
	return p, nil
}

func vanDenBiesenProbe() Probe {
	exact := func(v float64) estimate.Estimate {
		return estimate.Estimate{Value: v, Low: v, High: v, Basis: "published"}
	}
	return Probe{exact(vanDenBiesenRadiusMM), exact(straightHalfAngle)}
}

// discRadiusMM is r(d) = a + d·tan θ at the probe's own values.
func (p Probe) discRadiusMM(distanceMM float64) float64 {
	return coneRadiusMM(p.FibreRadiusMM.Value, p.HalfAngleDegrees.Value, distanceMM)
}

func coneRadiusMM(fibreRadiusMM, halfAngleDegrees, distanceMM float64) float64 {
	return fibreRadiusMM + distanceMM*math.Tan(halfAngleDegrees*math.Pi/180)
}

// spread is f at the values of its inputs, all above zero, with an interval from
// moving one input at a time to both of its ends, combined in quadrature of
// logarithms; f is above zero and monotone in each input.
func spread(f func([]float64) float64, basis string, inputs ...estimate.Estimate) estimate.Estimate {
	at := make([]float64, len(inputs))
	for i, e := range inputs {
		at[i] = e.Value
	}
	value := f(at)
	up, down := 0.0, 0.0
	for i, e := range inputs {
		most, least := 0.0, 0.0
		for _, end := range []float64{e.Low, e.High} {
			at[i] = end
			moved := math.Log(f(at) / value)
			most, least = math.Max(most, moved), math.Min(least, moved)
		}
		at[i] = e.Value
		up, down = math.Hypot(up, most), math.Hypot(down, least)
	}
	return estimate.Estimate{Value: value, Low: value * math.Exp(-down), High: value * math.Exp(up), Basis: basis}
}
