package fluidics

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// The loads that bending is told for.
const (
	// RetinalForceMN: most forces on the retina stay below (Gonenc et al., EMBC
	// 2013, doi 10.1109/EMBC.2013.6610841, citing earlier work; secondary). Row
	// PEEL-LIM of [Facts].
	RetinalForceMN = 7.5
	// PortForceMN is a firm push of the shaft against the wall at the entry: the
	// bound that robot-assisted work keeps to (120 mN; from memory, no source seen).
	PortForceMN = 120
	// BendTooMuchMM is from where this program calls a bend of the tip too much.
	// Ours: no source; about a third of a disc diameter.
	BendTooMuchMM = 0.5
)

// GaugeShaft is the shaft of a gauge as published deflections tell it.
type GaugeShaft struct {
	Gauge        int
	Shaft        Shaft
	FreeLengthMM estimate.Estimate
	RigidityNMM2 estimate.Estimate // E·I
	Source       string
	HowKnown     string
}

// ShaftOf returns the shaft of 23, 25 or 27 gauge: the least stiff of three
// makers' cutters, by [ShaftFromDeflection] from rows STF-… of [Facts]. The
// intervals carry the spread of five repeats, as 1.96 standard deviations of both
// forces in quadrature; other makers are stiffer, other instruments unknown.
// Unsupported: another gauge, of which no stiffness is published.
func ShaftOf(gauge int) (GaugeShaft, error) {
	name := fmt.Sprintf("STF-%dG", gauge)
	tip, err := FactOf(name + "-TIP")
	if err != nil {
		return GaugeShaft{}, &fault.Error{Code: fault.Unsupported, Where: fmt.Sprintf("%d gauge", gauge), What: "no stiffness of this size is published", Expected: "23, 25 or 27"}
	}
	probe, err := FactOf(name + "-15")
	if err != nil {
		return GaugeShaft{}, err
	}
	s, err := ShaftFromDeflection(tip.Value, probe.Value)
	if err != nil {
		return GaugeShaft{}, err
	}
	// One standard deviation of either force, the other held.
	softTip, err := ShaftFromDeflection(tip.High, probe.Value)
	if err != nil {
		return GaugeShaft{}, err
	}
	softProbe, err := ShaftFromDeflection(tip.Value, probe.High)
	if err != nil {
		return GaugeShaft{}, err
	}
	const basis = "cantilever through two published forces; interval from the spread of five repeats on the least stiff of three makers; others are stiffer"
	return GaugeShaft{
		gauge, s,
		estimate.Normal(s.FreeLengthMM, math.Hypot(softTip.FreeLengthMM-s.FreeLengthMM, softProbe.FreeLengthMM-s.FreeLengthMM), basis),
		estimate.Normal(s.RigidityNMM2, math.Hypot(softTip.RigidityNMM2-s.RigidityNMM2, softProbe.RigidityNMM2-s.RigidityNMM2), basis),
		tip.Source + ", doi 10.1016/j.oret.2022.05.004; model derived", tip.HowKnown,
	}, nil
}

// WithLength is the same shaft cut or grown to another free length, hub to tip, 5
// to 80 mm, of the same rigidity; what a maker changes with the length (a sleeve,
// a wall) is not known here.
func (g GaugeShaft) WithLength(mm float64) (GaugeShaft, error) {
	if !(mm >= 5 && mm <= 80) {
		return g, &fault.Error{Code: fault.Invalid, Where: "shaft", What: fmt.Sprintf("%g mm is no instrument for the eye", mm), Expected: "5 to 80 mm"}
	}
	g.Shaft.FreeLengthMM = mm
	g.FreeLengthMM = estimate.Estimate{Value: mm, Low: mm, High: mm, Basis: "length as given"}
	return g, nil
}

// Bend is how far the tip of a shaft leaves the straight line.
type Bend struct {
	// TipMM is the bend under a load at the tip, F·L³/(3·EI), the whole shaft
	// free: the entry holds it too, so in the eye it is less.
	TipMM estimate.Estimate
	// PortMM is how far the tip lags when the shaft pushes against the wall at the
	// entry. What is inside the eye stays straight and follows the slope there,
	//
	//	hub |======a======o-------- inside --------- tip
	//	                  F  entry
	//
	//	F·a³/(3·EI) + F·a²/(2·EI)·inside,   a = L − inside.
	PortMM estimate.Estimate
}

// BendIn tells both for a shaft of which insideMM millimetres (above 0, below the
// free length) are in the eye, under tipMN and portMN millinewton (0 to 1000).
// The law is that of the cantilever (textbook, from memory); the interval carries
// the spread of length and rigidity, which are not independent, as the wider of
// the two ends.
func (g GaugeShaft) BendIn(insideMM, tipMN, portMN float64) (Bend, error) {
	switch {
	case !(insideMM > 0 && insideMM < g.FreeLengthMM.Low):
		return Bend{}, &fault.Error{Code: fault.Invalid, Where: "inside the eye", What: fmt.Sprintf("%g mm do not leave a shaft outside", insideMM), Expected: fmt.Sprintf("above 0, below %.3g mm", g.FreeLengthMM.Low)}
	case !(tipMN >= 0 && tipMN <= 1000):
		return Bend{}, forceFault("force at the tip", tipMN)
	case !(portMN >= 0 && portMN <= 1000):
		return Bend{}, forceFault("force at the entry", portMN)
	}
	spread := func(of func(Shaft) float64, basis string) estimate.Estimate {
		e := estimate.Estimate{Value: of(g.Shaft), Basis: basis}
		e.Low, e.High = e.Value, e.Value
		for _, length := range []float64{g.FreeLengthMM.Low, g.FreeLengthMM.High} {
			for _, rigidity := range []float64{g.RigidityNMM2.Low, g.RigidityNMM2.High} {
				v := of(Shaft{length, rigidity})
				e.Low, e.High = min(e.Low, v), max(e.High, v)
			}
		}
		return e
	}
	return Bend{
		TipMM: spread(func(s Shaft) float64 { return tipMN * s.TipUMPerMN() / 1000 },
			fmt.Sprintf("cantilever under %g mN at the tip; the entry, which holds it too, is left out", tipMN)),
		PortMM: spread(func(s Shaft) float64 {
			outside := s.FreeLengthMM - insideMM
			newton := portMN / 1000
			return newton*outside*outside*outside/(3*s.RigidityNMM2) + newton*outside*outside/(2*s.RigidityNMM2)*insideMM
		}, fmt.Sprintf("cantilever pushed with %g mN at the entry, straight inside", portMN)),
	}, nil
}

func forceFault(where string, mn float64) error {
	return &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%g mN is none", mn), Expected: "0 to 1000 mN"}
}
