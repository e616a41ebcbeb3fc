package fluidics

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// TransferTime returns how many seconds a volume in mL (above 0, up to 30)
// needs to pass the line at a constant difference of pressure, V/Q: oil going in
// or coming out. Its interval is that of the flow. For oil it is Poiseuille's
// law, time ∝ μ·L/(d⁴·ΔP); hands, syringes and pumps take their time to reach a
// pressure, which is not in it.
func (l Line) TransferTime(f Fluid, p Pressure, volumeML float64) (estimate.Estimate, error) {
	if !(volumeML > 0 && volumeML <= 30) {
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "volume", What: fmt.Sprintf("%g mL is no fill of an eye", volumeML), Expected: "above 0, up to 30 mL"}
	}
	if !(p.pascal > 0) {
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "pressure", What: "zero moves nothing", Expected: "above zero"}
	}
	q, err := l.Flow(f, p)
	if err != nil {
		return estimate.Estimate{}, err
	}
	seconds := func(mLPerMin float64) float64 { return volumeML / mLPerMin * secondsPerMin }
	return estimate.Estimate{Value: seconds(q.Value), Low: seconds(q.High), High: seconds(q.Low), Basis: q.Basis}, nil
}

// airDensity: dry air at 20 °C and one atmosphere, kg/m³ (textbook, from memory).
const airDensity = 1.19

// AirJetMPerS returns the greatest speed, in m/s, that air can have as it leaves
// the infusion at a pressure above that of the eye, √(2ΔP/ρ), without any loss; an upper
// bound. The jet's dynamic pressure is ΔP itself. Published field defects after
// fluid-air exchange: 24 % at 50 mmHg, 4 % at 30 (Am J Ophthalmol 2000,
// abstract); 23 % with dry, none with humidified air (Ohji et al. 1999, doi
// 10.1016/s0002-9394(98)00287-6, abstract). The defect of the retina lies
// opposite the cannula. The bound refuses pressures above 120 mmHg.
func AirJetMPerS(p Pressure) (float64, error) {
	if p.MmHg() > 120 {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "air pressure", What: fmt.Sprintf("%.4g mmHg is none for an eye", p.MmHg()), Expected: "0 to 120 mmHg"}
	}
	return math.Sqrt(2 * p.pascal / airDensity), nil
}
