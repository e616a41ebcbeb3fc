package fluidics

import (
	"limitans/estimate"
	"limitans/fault"
)

// Fluid is a liquid with the two numbers that flow depends on.
type Fluid struct {
	Name          string
	ViscosityMPaS estimate.Estimate
	DensityGPerML float64
}

// NewFluid returns a liquid whose viscosity is known to a share (0.05 is 5 %,
// as a 95 % half-width; 0 to 0.5), with a density in g/mL (0.6 to 2.2).
func NewFluid(name string, viscosity Viscosity, densityGPerML, share float64, basis string) (Fluid, error) {
	v := viscosity.MPaS()
	if _, err := MPaS(v); err != nil {
		return Fluid{}, err
	}
	if err := checkDensity(densityGPerML); err != nil {
		return Fluid{}, err
	}
	if !(share >= 0 && share <= 0.5) {
		return Fluid{}, &fault.Error{Code: fault.Invalid, Where: "viscosity", What: "its error is not a share", Expected: "0 to 0.5"}
	}
	return Fluid{name, estimate.Estimate{Value: v, Low: v * (1 - share), High: v * (1 + share), Basis: basis}, densityGPerML}, nil
}

// BalancedSaltSolution is the infusion fluid at 20 to 25 °C: 1.0 (0.9 to 1.05)
// mPa·s, 1.006 g/mL (textbook values of water, from memory). At 37 °C it would
// be 0.7.
func BalancedSaltSolution() Fluid {
	return Fluid{"balanced salt solution, 20 to 25 °C", estimate.Estimate{Value: 1.0, Low: 0.9, High: 1.05, Basis: "textbook values of water, from memory"}, 1.006}
}

// siliconeOilDensity: 0.96 to 0.98 g/mL (textbook, from memory).
const siliconeOilDensity = 0.97

// oilViscosityShare: products stand within 5 % of their name at room
// temperature: a "1000" oil was measured at 995 mPa·s against 970 of ν·ρ
// (Williams et al., Br J Ophthalmol 2011;95:273, abstract). Warmth thins oil.
const oilViscosityShare = 0.05

// SiliconeOil returns a silicone oil by the kinematic viscosity on its bottle
// in centistokes (mm²/s), 100 to 20,000; μ = ν·ρ with 0.97 g/mL. It is taken as
// Newtonian. Blends with a long-chain part thin under shear and go faster: one
// of 4710 mPa·s was faster than a plain 5000 oil (Williams et al. 2011,
// abstract), so for them times are upper bounds.
func SiliconeOil(centistokes float64) (Fluid, error) {
	if !(centistokes >= 100) {
		return Fluid{}, &fault.Error{Code: fault.Invalid, Where: "oil", What: "is thinner than any silicone oil", Expected: "100 to 20,000 centistokes"}
	}
	v, err := Centistokes(centistokes, siliconeOilDensity)
	if err != nil {
		return Fluid{}, err
	}
	return NewFluid("silicone oil", v, siliconeOilDensity, oilViscosityShare, "kinematic viscosity of the name times 0.97 g/mL (from memory); products within 5 % (Williams et al. 2011, abstract)")
}

// PerfluoroNOctane is the heavy liquid of that name at 25 °C: 1.3 (1.2 to 1.4)
// mPa·s, 1.76 g/mL (textbook, from memory).
func PerfluoroNOctane() Fluid {
	return Fluid{"perfluoro-n-octane", estimate.Estimate{Value: 1.3, Low: 1.2, High: 1.4, Basis: "textbook, from memory"}, 1.76}
}

// Perfluorodecalin is the heavy liquid of that name at 25 °C: 5.1 (4.9 to 5.5)
// mPa·s, 1.93 g/mL (textbook, from memory).
func Perfluorodecalin() Fluid {
	return Fluid{"perfluorodecalin", estimate.Estimate{Value: 5.1, Low: 4.9, High: 5.5, Basis: "textbook, from memory"}, 1.93}
}
