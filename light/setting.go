package light

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fault"
)

// The ranges that a setting may have.
const (
	leastPowerMW = 0.01
	mostPowerMW  = 500 // six sources gave 15 to 190 mW (Ophthalmologe 2008;105:905, abstract)
	leastMM      = 0.5 // nearer than this is touching
	mostMM       = 30  // no eye is deeper
	mostReflect  = 5
	mostDegrees  = 80
)

// Setting is a probe held still: what leaves it, how far it is, what it is.
type Setting struct {
	PowerMW    estimate.Estimate // at the tip in the eye, after every filter
	DistanceMM estimate.Estimate // from the tip to the retina, along the axis
	Probe      Probe
	Source     Source
	// IncidenceDegrees is the angle between the axis and the retina's normal, 0
	// to 80.
	IncidenceDegrees float64
	// Reflection multiplies the direct light by what the wall throws back, 1 to 5.
	Reflection estimate.Estimate
}

// UnknownReflection is 1 with an interval up to 2: light at the macula of pig
// eyes was always significantly more than the direct one (Koelbl 2018, doi
// 10.1007/s40123-018-0157-3, abstract), and no factor was seen.
func UnknownReflection() estimate.Estimate {
	return estimate.Estimate{Value: 1, Low: 1, High: 2, Basis: "light thrown back by the wall counted as none, up to as much as the direct light (Koelbl 2018, abstract; factor not published)"}
}

// NewSetting joins power, distance, probe and light, straight on and with
// [UnknownReflection].
func NewSetting(powerMW, distanceMM estimate.Estimate, p Probe, s Source) (Setting, error) {
	out := Setting{PowerMW: powerMW, DistanceMM: distanceMM, Probe: p, Source: s, Reflection: UnknownReflection()}
	return out, out.check()
}

func (s Setting) check() error {
	for _, q := range []struct {
		name        string
		e           estimate.Estimate
		least, most float64
		unit        string
	}{
		{"power", s.PowerMW, leastPowerMW, mostPowerMW, "mW"},
		{"distance", s.DistanceMM, leastMM, mostMM, "mm"},
		{"fibre radius", s.Probe.FibreRadiusMM, smallestFibre, largestFibre, "mm"},
		{"half angle", s.Probe.HalfAngleDegrees, 1, mostHalfAngle, "°"},
		{"reflection", s.Reflection, 1, mostReflect, "times"},
	} {
		if !(q.e.Value >= q.least && q.e.Value <= q.most) {
			e := &fault.Error{Code: fault.Invalid, Where: q.name, What: fmt.Sprintf("%g %s cannot be", q.e.Value, q.unit), Expected: fmt.Sprintf("%g to %g %s", q.least, q.most, q.unit)}
			if q.name == "distance" && q.e.Value >= 0 && q.e.Value < leastMM {
				e.Mend = "a tip that touches the retina burns it, and no dose tells how much"
			}
			return e
		}
		if !(q.e.Low > 0 && q.e.Low <= q.e.Value && q.e.Value <= q.e.High && !math.IsInf(q.e.High, 0)) {
			return &fault.Error{Code: fault.Invalid, Where: q.name, What: fmt.Sprintf("%g does not lie inside its interval %g to %g above zero", q.e.Value, q.e.Low, q.e.High)}
		}
	}
	if !(s.IncidenceDegrees >= 0 && s.IncidenceDegrees <= mostDegrees) {
		return &fault.Error{Code: fault.Invalid, Where: "incidence", What: fmt.Sprintf("%g° cannot be", s.IncidenceDegrees), Expected: fmt.Sprintf("0 to %d°", mostDegrees)}
	}
	if s.Source.name == "" {
		return &fault.Error{Code: fault.Invalid, Where: "light", What: "is not told", Expected: "a lamp, a spectrum or a mean weight"}
	}
	return nil
}

// DiscRadiusMM is the radius of the lit disc on the retina, a + d·tan θ.
func (s Setting) DiscRadiusMM() (estimate.Estimate, error) {
	if err := s.check(); err != nil {
		return estimate.Estimate{}, err
	}
	return spread(func(x []float64) float64 { return coneRadiusMM(x[0], x[1], x[2]) }, "cone of the probe: "+s.geometryBasis(),
		s.Probe.FibreRadiusMM, s.Probe.HalfAngleDegrees, s.DistanceMM), nil
}

func (s Setting) geometryBasis() string {
	return strings.Join([]string{s.Probe.FibreRadiusMM.Basis, s.Probe.HalfAngleDegrees.Basis, s.DistanceMM.Basis}, "; ")
}

// IrradianceMWPerCM2 is the mean unweighted irradiance of the lit disc,
// M·cos i·P / (π(a + d·tan θ)²), in mW/cm².
func (s Setting) IrradianceMWPerCM2() (estimate.Estimate, error) {
	if err := s.check(); err != nil {
		return estimate.Estimate{}, err
	}
	return spread(s.irradiance, s.geometryBasis()+"; "+s.PowerMW.Basis+"; "+s.Reflection.Basis, s.inputs()...), nil
}

func (s Setting) inputs() []estimate.Estimate {
	return []estimate.Estimate{s.PowerMW, s.Probe.FibreRadiusMM, s.Probe.HalfAngleDegrees, s.DistanceMM, s.Reflection}
}

func (s Setting) irradiance(x []float64) float64 {
	r := coneRadiusMM(x[1], x[2], x[3])
	return x[4] * math.Cos(s.IncidenceDegrees*math.Pi/180) * x[0] / (math.Pi * r * r) * squareMMPerSquareCM
}
