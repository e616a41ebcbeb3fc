package fluidics

import "math"

// Regime says which law governs a flow and how far it can be trusted.
type Regime struct {
	// Reynolds is 4ρQ/(πμd), laminar below about 2000.
	Reynolds float64
	// EntranceMM is the length over which the flow would develop, 0.06·Re·d. At
	// a given flow and liquid it is the same for every bore.
	EntranceMM float64
	// Developed says that the flow develops within the cannula; where it does
	// not, friction alone understates the loss and the kinetic term carries what
	// is missing, with its wide band.
	Developed bool
	// KineticShare is the share of the cannula's loss that is kinetic, 0 to 1.
	KineticShare float64
	// MeanSpeedMPerS is Q over the bore's area.
	MeanSpeedMPerS float64
}

// Regime returns the regime of a flow through the line's cannula. It does not
// refuse turbulent flow; [Line.Flow] and [Line.Drop] do.
func (l Line) Regime(f Fluid, q Flow) (Regime, error) {
	if err := check(l, f); err != nil {
		return Regime{}, err
	}
	p := l.physics(f)
	p.tubingLengthM = 0
	a, b := p.coefficients()
	r := Regime{Reynolds: p.reynolds(q.m3PerS), MeanSpeedMPerS: q.m3PerS / (math.Pi * p.boreM * p.boreM / 4)}
	r.EntranceMM = entranceFactor * r.Reynolds * p.boreM / metrePerMM
	r.Developed = r.EntranceMM <= l.Cannula.LengthMM.Value
	r.KineticShare = b * q.m3PerS / (a + b*q.m3PerS)
	return r, nil
}

func (p physics) reynolds(m3PerS float64) float64 {
	return 4 * p.density * m3PerS / (math.Pi * p.viscosity * p.boreM)
}

// String says the regime in one sentence.
func (r Regime) String() string {
	switch {
	case r.Reynolds > laminarReynolds:
		return "not laminar: no law here holds"
	case r.Reynolds < 1:
		return "creeping flow: friction alone"
	case r.Developed:
		return "laminar and developed: friction with a kinetic loss"
	}
	return "laminar, but it does not develop within the cannula: the kinetic loss counts beside friction"
}

// HydraulicBoreMM returns the bore, in millimetres, of the straight tube of
// lengthMM (0.5 to 3000) through which friction alone gives a measured flow at a
// measured pressure,
//
//	d = (128 μ L Q / (π ΔP))^¼.
//
// It checks a printed figure: a bore that no cannula has means a wrong unit.
func HydraulicBoreMM(v Viscosity, lengthMM float64, q Flow, p Pressure) (float64, error) {
	if _, err := NewTube(1, lengthMM, 0); err != nil {
		return math.NaN(), err
	}
	if _, err := MPaS(v.MPaS()); err != nil {
		return math.NaN(), err
	}
	d := math.Pow(128*v.pascalSecond*lengthMM*metrePerMM*q.m3PerS/(math.Pi*p.pascal), 0.25) / metrePerMM
	if _, err := NewTube(d, lengthMM, 0); err != nil {
		return math.NaN(), err
	}
	return d, nil
}
