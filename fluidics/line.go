package fluidics

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// Bounds of what is taken for a tube, in millimetres.
const (
	minBoreMM, maxBoreMM     = 0.02, 3.0
	minLengthMM, maxLengthMM = 0.5, 3000.0
)

// Kinetic loss at entry and exit, K·½ρV²: the Hagenbach and Couette terms of
// the undeveloped flow and the jet lost at the exit (textbook, from memory).
const (
	lossK     = 2.3
	lossKLow  = 1.5
	lossKHigh = 2.7
)

// Reynolds number up to which flow in a tube is taken to be laminar, and the
// entrance length as a multiple of Re·d (textbook, from memory).
const (
	laminarReynolds = 2000.0
	entranceFactor  = 0.06
)

// Tube is a straight round bore. Its estimates carry how well it is known; flow
// goes with the fourth power of the bore, so ± 5 % there is ± 20 % of flow.
type Tube struct {
	BoreMM   estimate.Estimate
	LengthMM estimate.Estimate
}

// NewTube returns a tube of a measured bore (0.02 to 3 mm) and length (0.5 to
// 3000 mm), the bore known to a share (95 % half-width, 0 to 0.5).
func NewTube(boreMM, lengthMM, boreShare float64) (Tube, error) {
	switch {
	case !(boreShare >= 0 && boreShare <= 0.5):
		return Tube{}, &fault.Error{Code: fault.Invalid, Where: "bore", What: "its error is not a share", Expected: "0 to 0.5"}
	case !(boreMM >= minBoreMM && boreMM <= maxBoreMM):
		return Tube{}, &fault.Error{Code: fault.Invalid, Where: "bore", What: fmt.Sprintf("%g mm is no cannula or tubing", boreMM), Expected: fmt.Sprintf("%g to %g mm", minBoreMM, maxBoreMM)}
	case !(lengthMM >= minLengthMM && lengthMM <= maxLengthMM):
		return Tube{}, &fault.Error{Code: fault.Invalid, Where: "length of the tube", What: fmt.Sprintf("%g mm is no cannula or tubing", lengthMM), Expected: fmt.Sprintf("%g to %g mm", minLengthMM, maxLengthMM)}
	}
	return Tube{
		estimate.Estimate{Value: boreMM, Low: boreMM * (1 - boreShare), High: boreMM * (1 + boreShare), Basis: "as given"},
		estimate.Estimate{Value: lengthMM, Low: lengthMM, High: lengthMM, Basis: "as given"},
	}, nil
}

// Line is a cannula, with tubing before it or none (zero value).
//
//	pressure ══════ tubing ══════▶═ cannula ═▶ jet
//	          friction only        friction a·Q, kinetic b·Q²
type Line struct {
	Cannula Tube
	Tubing  Tube
}

// physics is one exactly known line and liquid in SI units.
type physics struct {
	boreM, lengthM             float64
	tubingBoreM, tubingLengthM float64
	lossK                      float64
	viscosity, density         float64
}

// coefficients of ΔP = a·Q + b·Q²; Pa per m³/s and its square.
func (p physics) coefficients() (a, b float64) {
	a = poiseuille(p.viscosity, p.lengthM, p.boreM)
	if p.tubingLengthM > 0 {
		a += poiseuille(p.viscosity, p.tubingLengthM, p.tubingBoreM)
	}
	area := math.Pi * p.boreM * p.boreM / 4
	return a, p.lossK * p.density / (2 * area * area)
}

// poiseuille is 128 μ L / (π d⁴).
func poiseuille(viscosity, lengthM, boreM float64) float64 {
	return 128 * viscosity * lengthM / (math.Pi * math.Pow(boreM, 4))
}

// flow solves ΔP = a·Q + b·Q² in the form that also holds for b = 0.
func (p physics) flow(pascal float64) float64 {
	a, b := p.coefficients()
	return 2 * pascal / (a + math.Sqrt(a*a+4*b*pascal))
}

func (l Line) physics(f Fluid) physics {
	return physics{
		l.Cannula.BoreMM.Value * metrePerMM, l.Cannula.LengthMM.Value * metrePerMM,
		l.Tubing.BoreMM.Value * metrePerMM, l.Tubing.LengthMM.Value * metrePerMM,
		lossK, f.ViscosityMPaS.Value * 1e-3, f.DensityGPerML * 1000,
	}
}

// Coefficients returns a and b of
//
//	ΔP = a·Q + b·Q²,   a = 128μL/(πd⁴),   b = K·ρ/2·(4/(πd²))²,   K = 2.3,
//
// in mmHg per mL/min and mmHg per (mL/min)². The law is the published one of
// infusion lines (Rossi et al., MAIO 2019;2(3):88 and Transl Vis Sci Technol
// 2025, abstracts); the coefficients are textbook physics.
func (l Line) Coefficients(f Fluid) (a, b float64, err error) {
	if err := check(l, f); err != nil {
		return math.NaN(), math.NaN(), err
	}
	a, b = l.physics(f).coefficients()
	unit := m3PerML / secondsPerMin
	return a * unit / pascalPerMmHg, b * unit * unit / pascalPerMmHg, nil
}

// Drop returns the pressure that is lost when a flow passes the line, in mmHg,
// with the 95 % interval from bore, length, viscosity and kinetic loss.
func (l Line) Drop(f Fluid, q Flow) (estimate.Estimate, error) {
	if err := check(l, f); err != nil {
		return estimate.Estimate{}, err
	}
	if r := l.physics(f).reynolds(q.m3PerS); r > laminarReynolds {
		return estimate.Estimate{}, notLaminar(r)
	}
	return band(l, f, func(p physics) float64 {
		a, b := p.coefficients()
		return (a + b*q.m3PerS) * q.m3PerS / pascalPerMmHg
	}, lineBasis), nil
}

const lineBasis = "friction (Poiseuille) and kinetic loss in a straight tube; interval from the bore, the length, the viscosity and the loss factor 1.5 to 2.7"

// Flow returns the flow in mL/min that a difference of pressure drives through
// the line, with the 95 % interval from bore, length, viscosity and kinetic
// loss. It refuses, as not measurable, flows that would not be laminar.
func (l Line) Flow(f Fluid, p Pressure) (estimate.Estimate, error) {
	if err := check(l, f); err != nil {
		return estimate.Estimate{}, err
	}
	ph := l.physics(f)
	if r := ph.reynolds(ph.flow(p.pascal)); r > laminarReynolds {
		return estimate.Estimate{}, notLaminar(r)
	}
	q := band(l, f, func(ph physics) float64 { return Flow{ph.flow(p.pascal)}.MLPerMin() }, lineBasis)
	if ph.reynolds(q.High*m3PerML/secondsPerMin) > laminarReynolds {
		q.Basis += "; the upper limit lies beyond laminar flow and is not reached"
	}
	return q, nil
}

// band evaluates a quantity of the line at its value and at both ends of every
// input, and adds the logarithms of the changes in quadrature, upward and
// downward apart. The quantity must be positive or zero.
func band(l Line, f Fluid, of func(physics) float64, basis string) estimate.Estimate {
	middle := l.physics(f)
	value := of(middle)
	if !(value > 0) {
		return estimate.Estimate{Value: value, Low: value, High: value, Basis: basis}
	}
	up, down := 0.0, 0.0
	for _, ends := range [][2]physics{
		changed(middle, l.Cannula.BoreMM, func(p *physics, v float64) { p.boreM = v * metrePerMM }),
		changed(middle, l.Cannula.LengthMM, func(p *physics, v float64) { p.lengthM = v * metrePerMM }),
		changed(middle, l.Tubing.BoreMM, func(p *physics, v float64) { p.tubingBoreM = v * metrePerMM }),
		changed(middle, f.ViscosityMPaS, func(p *physics, v float64) { p.viscosity = v * 1e-3 }),
		changed(middle, estimate.Estimate{Value: lossK, Low: lossKLow, High: lossKHigh}, func(p *physics, v float64) { p.lossK = v }),
	} {
		most, least := 0.0, 0.0
		for _, end := range ends {
			change := math.Log(of(end) / value)
			most, least = math.Max(most, change), math.Min(least, change)
		}
		up, down = math.Hypot(up, most), math.Hypot(down, least)
	}
	return estimate.Estimate{Value: value, Low: value * math.Exp(-down), High: value * math.Exp(up), Basis: basis}
}

func changed(middle physics, e estimate.Estimate, set func(*physics, float64)) [2]physics {
	ends := [2]physics{middle, middle}
	set(&ends[0], e.Low)
	set(&ends[1], e.High)
	return ends
}

// check refuses lines and liquids that were put together by hand wrongly; the
// constructors cannot make them.
func check(l Line, f Fluid) error {
	tubes := []Tube{l.Cannula}
	if l.Tubing != (Tube{}) {
		tubes = append(tubes, l.Tubing)
	}
	for _, t := range tubes {
		for _, e := range []struct {
			of       estimate.Estimate
			min, max float64
		}{{t.BoreMM, minBoreMM, maxBoreMM}, {t.LengthMM, minLengthMM, maxLengthMM}} {
			// The ends of the interval may leave the range by its width, at most half.
			if !(e.of.Value >= e.min && e.of.Value <= e.max && e.of.Low >= e.min/2 && e.of.Low <= e.of.Value && e.of.High >= e.of.Value && e.of.High <= 1.5*e.max) {
				return &fault.Error{Code: fault.Invalid, Where: "tube", What: "has no possible bore or length", Expected: "a tube made with its bore and length"}
			}
		}
	}
	v := f.ViscosityMPaS
	if _, err := MPaS(v.Value); err != nil {
		return err
	}
	if !(v.Low > 0 && v.Low <= v.Value && v.High >= v.Value && v.High <= 1.5*maxViscosityMPaS) {
		return &fault.Error{Code: fault.Invalid, Where: "viscosity", What: "its interval is none", Expected: "low ≤ value ≤ high"}
	}
	return checkDensity(f.DensityGPerML)
}

func notLaminar(reynolds float64) error {
	return &fault.Error{
		Code: fault.NotMeasurable, Where: "flow", What: fmt.Sprintf("would not be laminar (Reynolds number %.0f), so no law here holds", reynolds),
		Expected: fmt.Sprintf("a Reynolds number up to %.0f", laminarReynolds), Mend: "ask for less pressure or a finer bore",
	}
}
