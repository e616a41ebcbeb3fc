package fluidics

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// Tension of the heavy liquid's surface in water, N/m: 0.05, with 0.04 to 0.057
// (from memory; 55 mN/m for perfluoro-n-octane in the tamponade reference).
const (
	interfacialTension     = 0.050
	interfacialTensionLow  = 0.040
	interfacialTensionHigh = 0.057
)

// Aspiration is what it takes to draw a retained droplet of heavy liquid through
// a fine cannula.
//
//	eye pressure + vacuum = drive
//	  droplet ))))══════ tip ══════▶
//	          ^ the surface bends at the mouth: 4γ/d holds it back
type Aspiration struct {
	// HoldUpMmHg is the pressure that a droplet's surface can hold at the mouth,
	// 4γ/d; below it the droplet may not enter at all.
	HoldUpMmHg estimate.Estimate
	// FlowULPerS is the flow once the tip is full of the liquid; its lower limit
	// has the hold-up taken off the drive, and is zero where nothing may enter.
	FlowULPerS estimate.Estimate
	// Seconds is the droplet's volume over that flow; High is NaN where nothing
	// may enter.
	Seconds estimate.Estimate
	// Enters says whether the drive is above the hold-up: "yes" above its
	// interval, "uncertain" within, "unlikely" below.
	Enters string
	Regime Regime
}

// HemisphereUL is the volume in µL of a droplet under the retina taken as half a
// ball of the given diameter in mm (0.05 to 10), 2π/3·(D/2)³. A whole ball holds
// twice as much, a flat pool less; measure it on the scan where that matters.
func HemisphereUL(diameterMM float64) (float64, error) {
	if !(diameterMM >= 0.05 && diameterMM <= 10) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "droplet", What: fmt.Sprintf("%g mm is no retained droplet", diameterMM), Expected: "0.05 to 10 mm"}
	}
	return math.Pi / 12 * diameterMM * diameterMM * diameterMM, nil
}

// Aspirate reckons the aspiration of a droplet of volumeUL microlitres (above 0,
// up to 500) through a fine cannula at a drive, which is the eye's pressure plus
// the vacuum, above 0 and at most 860 mmHg (760 of them vacuum). No flow of heavy
// liquid through 38 to 41 gauge is published: the result is physics with an
// assumed bore, unproved at the bench.
func (l Line) Aspirate(f Fluid, drive Pressure, volumeUL float64) (Aspiration, error) {
	switch {
	case !(volumeUL > 0 && volumeUL <= 500):
		return Aspiration{}, &fault.Error{Code: fault.Invalid, Where: "droplet", What: fmt.Sprintf("%g µL is no retained droplet", volumeUL), Expected: "above 0, up to 500 µL"}
	case !(drive.pascal > 0):
		return Aspiration{}, &fault.Error{Code: fault.Invalid, Where: "drive", What: "zero moves nothing", Expected: "eye pressure plus vacuum above zero"}
	case drive.MmHg() > maxVacuumMmHg+100:
		return Aspiration{}, checkVacuum(drive)
	}
	q, err := l.Flow(f, drive)
	if err != nil {
		return Aspiration{}, err
	}
	bore := l.Cannula.BoreMM
	hold := func(tension, boreMM float64) float64 { return 4 * tension / (boreMM * metrePerMM) / pascalPerMmHg }
	a := Aspiration{HoldUpMmHg: estimate.Estimate{
		Value: hold(interfacialTension, bore.Value), Low: hold(interfacialTensionLow, bore.High), High: hold(interfacialTensionHigh, bore.Low),
		Basis: "4γ/d; interval from a tension of 40 to 57 mN/m (from memory) and the bore",
	}}
	a.Enters = enters(drive.MmHg(), a.HoldUpMmHg)
	low := 0.0
	if net := drive.pascal - a.HoldUpMmHg.High*pascalPerMmHg; net > 0 {
		slowed, err := l.Flow(f, Pressure{net})
		if err != nil {
			return Aspiration{}, err
		}
		low = slowed.Low
	}
	const perS = 1000 / secondsPerMin // µL/s in a mL/min
	a.FlowULPerS = estimate.Estimate{Value: q.Value * perS, Low: low * perS, High: q.High * perS, Basis: q.Basis + "; lower limit with the hold-up at the mouth taken off"}
	a.Seconds = estimate.Estimate{Value: volumeUL / a.FlowULPerS.Value, Low: volumeUL / a.FlowULPerS.High, High: math.NaN(), Basis: "volume over flow"}
	if low > 0 {
		a.Seconds.High = volumeUL / a.FlowULPerS.Low
	} else {
		a.Seconds.Basis += "; no upper limit, because the droplet may not enter the tip"
	}
	a.Regime, err = l.Regime(f, Flow{q.Value * m3PerML / secondsPerMin})
	return a, err
}

func enters(driveMmHg float64, hold estimate.Estimate) string {
	switch {
	case driveMmHg > hold.High:
		return "yes"
	case driveMmHg < hold.Low:
		return "unlikely"
	}
	return "uncertain"
}

// Drive is the pressure that moves a fluid out of the eye: the eye's pressure
// (0 to 100 mmHg) plus the vacuum (0 to 760 mmHg).
func Drive(eyeMmHg, vacuumMmHg float64) (Pressure, error) {
	if !(eyeMmHg >= 0 && eyeMmHg <= 100) {
		return Pressure{}, &fault.Error{Code: fault.Invalid, Where: "eye pressure", What: fmt.Sprintf("%g mmHg is none in surgery", eyeMmHg), Expected: "0 to 100 mmHg"}
	}
	vacuum, err := MmHg(vacuumMmHg)
	if err != nil {
		return Pressure{}, &fault.Error{Code: fault.Invalid, Where: "vacuum", What: fmt.Sprintf("%g mmHg is none", vacuumMmHg), Expected: "0 to 760 mmHg", Cause: err}
	}
	if err := checkVacuum(vacuum); err != nil {
		return Pressure{}, err
	}
	return MmHg(eyeMmHg + vacuumMmHg)
}
