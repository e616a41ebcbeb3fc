package fluidics

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Definitions of units, exact or conventional.
const (
	pascalPerMmHg = 133.322387415 // conventional millimetre of mercury
	pascalPerPsi  = 6894.757293168
	pascalPerBar  = 1e5
	gravity       = 9.80665 // standard gravity, m/s²
	m3PerML       = 1e-6
	m3PerUL       = 1e-9
	secondsPerMin = 60.0
	metrePerMM    = 1e-3
)

// The ranges of what can be meant. Outside them a number is a slip of unit.
const (
	maxPressurePa    = 1.5e6 // bench tests of oil went to 6 bar; 15 bar leaves room
	maxVacuumMmHg    = 760.0 // no pump pulls more than the air's own pressure
	minViscosityMPaS = 0.1   // below every liquid of the trade; gases are another law
	maxViscosityMPaS = 20000
	minDensityGPerML = 0.6
	maxDensityGPerML = 2.2
	maxFlowMLPerMin  = 500
)

// Pressure is a difference of pressure, 0 to 1.5 MPa. It can only be made with
// its unit, because a bare 40 has been read as mmHg and as psi, 52 times more.
type Pressure struct{ pascal float64 }

func newPressure(value, pascalPerUnit float64, unit string) (Pressure, error) {
	p := value * pascalPerUnit
	if !(p >= 0 && p <= maxPressurePa) {
		return Pressure{}, &fault.Error{
			Code: fault.Invalid, Where: "pressure", What: fmt.Sprintf("%g %s is none that drives a fluid here", value, unit),
			Expected: fmt.Sprintf("0 to %.5g %s", maxPressurePa/pascalPerUnit, unit),
		}
	}
	return Pressure{p}, nil
}

// MmHg makes a pressure from millimetres of mercury.
func MmHg(value float64) (Pressure, error) { return newPressure(value, pascalPerMmHg, "mmHg") }

// KPa makes a pressure from kilopascals.
func KPa(value float64) (Pressure, error) { return newPressure(value, 1e3, "kPa") }

// Psi makes a pressure from pounds per square inch, 51.715 mmHg each.
func Psi(value float64) (Pressure, error) { return newPressure(value, pascalPerPsi, "psi") }

// Bar makes a pressure from bars, 750.06 mmHg each.
func Bar(value float64) (Pressure, error) { return newPressure(value, pascalPerBar, "bar") }

// HeadCM is the pressure under a column of fluid, ρ·g·h, for a height in
// centimetres and a density in g/mL (0.6 to 2.2). Under a drip chamber the
// height counts from the fluid's level there; glass bottles lose another 4 to 7
// inches (Danis and Thompson, Arch Ophthalmol 1990;108:267, abstract).
func HeadCM(heightCM, densityGPerML float64) (Pressure, error) {
	if err := checkDensity(densityGPerML); err != nil {
		return Pressure{}, err
	}
	return newPressure(heightCM, densityGPerML*1000*gravity/100, "cm of this fluid")
}

// MmHg is the pressure in millimetres of mercury.
func (p Pressure) MmHg() float64 { return p.pascal / pascalPerMmHg }

// KPa is the pressure in kilopascals.
func (p Pressure) KPa() float64 { return p.pascal / 1e3 }

// Psi is the pressure in pounds per square inch.
func (p Pressure) Psi() float64 { return p.pascal / pascalPerPsi }

// Bar is the pressure in bars.
func (p Pressure) Bar() float64 { return p.pascal / pascalPerBar }

// HeadCM is the height in centimetres of the column of fluid of a density in
// g/mL (0.6 to 2.2) that gives this pressure.
func (p Pressure) HeadCM(densityGPerML float64) (float64, error) {
	if err := checkDensity(densityGPerML); err != nil {
		return math.NaN(), err
	}
	return p.pascal / (densityGPerML * 1000 * gravity) * 100, nil
}

// checkVacuum refuses more suction than a pump can give.
func checkVacuum(p Pressure) error {
	if p.MmHg() <= maxVacuumMmHg {
		return nil
	}
	return &fault.Error{
		Code: fault.Invalid, Where: "vacuum", What: fmt.Sprintf("%.4g mmHg is more than the pressure of the air", p.MmHg()),
		Expected: "0 to 760 mmHg", Mend: "was another unit meant?",
	}
}

// Flow is a volume per time, 0 to 500 mL/min.
type Flow struct{ m3PerS float64 }

func newFlow(value, m3PerSPerUnit float64, unit string) (Flow, error) {
	q := value * m3PerSPerUnit
	if limit := maxFlowMLPerMin * m3PerML / secondsPerMin; !(q >= 0 && q <= limit) {
		return Flow{}, &fault.Error{
			Code: fault.Invalid, Where: "flow", What: fmt.Sprintf("%g %s is none of an eye", value, unit),
			Expected: fmt.Sprintf("0 to %.4g %s", limit/m3PerSPerUnit, unit),
		}
	}
	return Flow{q}, nil
}

// MLPerMin makes a flow from millilitres per minute.
func MLPerMin(value float64) (Flow, error) {
	return newFlow(value, m3PerML/secondsPerMin, "mL/min")
}

// ULPerMin makes a flow from microlitres per minute.
func ULPerMin(value float64) (Flow, error) {
	return newFlow(value, m3PerUL/secondsPerMin, "µL/min")
}

// ULPerS makes a flow from microlitres per second.
func ULPerS(value float64) (Flow, error) { return newFlow(value, m3PerUL, "µL/s") }

// MLPerMin is the flow in millilitres per minute.
func (q Flow) MLPerMin() float64 { return q.m3PerS / m3PerML * secondsPerMin }

// ULPerMin is the flow in microlitres per minute.
func (q Flow) ULPerMin() float64 { return q.m3PerS / m3PerUL * secondsPerMin }

// ULPerS is the flow in microlitres per second.
func (q Flow) ULPerS() float64 { return q.m3PerS / m3PerUL }

// Viscosity is a dynamic viscosity, 0.1 to 20,000 mPa·s.
type Viscosity struct{ pascalSecond float64 }

// MPaS makes a viscosity from millipascal seconds (centipoise).
func MPaS(value float64) (Viscosity, error) {
	if !(value >= minViscosityMPaS && value <= maxViscosityMPaS) {
		return Viscosity{}, &fault.Error{
			Code: fault.Invalid, Where: "viscosity", What: fmt.Sprintf("%g mPa·s is no liquid of the trade", value),
			Expected: fmt.Sprintf("%g to %d mPa·s", minViscosityMPaS, maxViscosityMPaS),
		}
	}
	return Viscosity{value * 1e-3}, nil
}

// Centistokes makes a viscosity from the kinematic one that stands on a bottle
// of oil, μ = ν·ρ, with the density in g/mL (0.6 to 2.2).
func Centistokes(value, densityGPerML float64) (Viscosity, error) {
	if err := checkDensity(densityGPerML); err != nil {
		return Viscosity{}, err
	}
	return MPaS(value * densityGPerML)
}

// MPaS is the viscosity in millipascal seconds.
func (v Viscosity) MPaS() float64 { return v.pascalSecond * 1e3 }

func checkDensity(gPerML float64) error {
	if gPerML >= minDensityGPerML && gPerML <= maxDensityGPerML {
		return nil
	}
	e := &fault.Error{
		Code: fault.Invalid, Where: "density", What: fmt.Sprintf("%g g/mL is no liquid of the trade", gPerML),
		Expected: fmt.Sprintf("%g to %g g/mL", minDensityGPerML, maxDensityGPerML),
	}
	if gPerML >= 600 && gPerML <= 2200 {
		e.Mend = fmt.Sprintf("was %g g/mL (%g kg/m³) meant?", gPerML/1000, gPerML)
	}
	return e
}
