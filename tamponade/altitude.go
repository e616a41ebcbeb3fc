package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// MetresPerFoot is the international foot, exact.
const MetresPerFoot = 0.3048

// Heights of the pressure law: below the lowest shore, above the cabin limit and
// every road there is room.
const (
	minHeightM = -500
	maxHeightM = 11000 // the top of the troposphere, where the law ends
)

// AmbientPressureMMHg is the pressure of the standard atmosphere at a height
// above sea level in metres,
//
//	p = 760 · (1 − 2.25577e-5 · h)^5.25588   mmHg,
//
// for −500 to 11,000 m (ISO 2533, troposphere; formula from memory, checked
// against the printed table from memory). Weather moves it by some 20 mmHg;
// that moves start and goal together.
func AmbientPressureMMHg(heightM float64) (float64, error) {
	if !(heightM >= minHeightM && heightM <= maxHeightM) {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "height", What: fmt.Sprintf("%g m cannot be", heightM), Expected: fmt.Sprintf("%d to %d m above sea level", minHeightM, maxHeightM),
			Mend: "a cabin's height is that of its air, not of the aeroplane",
		}
	}
	return ambientMMHg(heightM), nil
}

func ambientMMHg(heightM float64) float64 {
	return SeaLevelMMHg * math.Pow(1-2.25577e-5*heightM, 5.25588)
}

// CabinHeightM is the greatest height of the cabin's air in normal operation of
// a transport aeroplane, 8000 ft (14 CFR 25.841, secondary).
const CabinHeightM = 8000 * MetresPerFoot

// FreeExpansion is how many times larger a dry amount of gas becomes when the
// ambient pressure falls and the eye neither holds it back nor lets pressure
// rise,
//
//	(p₀ + eye − 47) / (p₁ + eye − 47),
//
// with 47 mmHg of water vapour at both ends; pressures in mmHg. It is an upper
// bound of growth, not a forecast. The simpler (p₀ + eye) / (p₁ + eye) leaves
// the vapour out and is too small: 1.18 for 1.19 between 100 and 1500 m.
func FreeExpansion(fromMMHg, toMMHg, eyeMMHg float64) (float64, error) {
	if !(toMMHg+eyeMMHg > WaterVapourMMHg && fromMMHg+eyeMMHg > WaterVapourMMHg) || math.IsInf(fromMMHg, 0) || math.IsInf(toMMHg, 0) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "pressure", What: fmt.Sprintf("from %g to %g mmHg with %g mmHg in the eye cannot be", fromMMHg, toMMHg, eyeMMHg), Expected: "pressures above that of water vapour"}
	}
	return (fromMMHg + eyeMMHg - WaterVapourMMHg) / (toMMHg + eyeMMHg - WaterVapourMMHg), nil
}

// Waypoint is a place on a journey: minutes since its begin, and height above
// sea level; inside an aeroplane, the height of the cabin's air.
type Waypoint struct {
	Minutes float64 `json:"minutes"`
	HeightM float64 `json:"height_m"`
}

// Journey is a route in time; heights between waypoints run straight. The first
// waypoint is where the patient has been living: there, not where the surgery
// was, the bubble and the eye have come to rest (Gsellman and Amini, Invest
// Ophthalmol Vis Sci 2016;57:3340, doi 10.1167/iovs.15-18010, abstract).
//
//	height
//	  |          .————.  stay
//	  |        .'      '.
//	  |______.'          '._____
//	  living   climb   descent     minutes
type Journey []Waypoint

// Bounds of a journey.
const (
	maxWaypoints      = 200
	maxJourneyMinutes = 14 * 24 * 60
)

// Check returns a fault unless there are at least two waypoints (at most 200)
// whose minutes begin at 0, never run back and end within 14 days, at heights
// where the pressure law holds.
func (j Journey) Check() error {
	if len(j) < 2 || len(j) > maxWaypoints {
		return &fault.Error{Code: fault.Invalid, Where: "route", What: fmt.Sprintf("has %d places", len(j)), Expected: fmt.Sprintf("2 to %d", maxWaypoints)}
	}
	if j[0].Minutes != 0 {
		return &fault.Error{Code: fault.Invalid, Where: "route", What: fmt.Sprintf("begins at %g minutes", j[0].Minutes), Expected: "0, where the patient has been living"}
	}
	for i, w := range j {
		if _, err := AmbientPressureMMHg(w.HeightM); err != nil {
			return err
		}
		if i > 0 && !(w.Minutes >= j[i-1].Minutes && w.Minutes <= maxJourneyMinutes) {
			return &fault.Error{Code: fault.Invalid, Where: "route", What: fmt.Sprintf("place %d at %g minutes", i+1, w.Minutes), Expected: "times that never run back, within 14 days"}
		}
	}
	return nil
}

// HighestM is the greatest height of the journey.
func (j Journey) HighestM() float64 {
	top := math.Inf(-1)
	for _, w := range j {
		top = math.Max(top, w.HeightM)
	}
	return top
}

// Climb is the way from where the patient has been living to one height in
// minutes, and a stay there; 0 minutes is the fastest that can be.
func Climb(livingM, toM, minutes, stayMinutes float64) Journey {
	if stayMinutes == 0 {
		return Journey{{0, livingM}, {minutes, toM}}
	}
	return Journey{{0, livingM}, {minutes, toM}, {minutes + stayMinutes, toM}}
}

// Flight is a flight with the cabin at heightM between two places: climb and
// descent of the cabin's air take 25 minutes each (common practice, about
// 300 ft/min; no source), the cruise takes cruiseMinutes.
func Flight(livingM, heightM, arrivalM, cruiseMinutes float64) Journey {
	const change = 25
	return Journey{{0, livingM}, {change, heightM}, {change + cruiseMinutes, heightM}, {2*change + cruiseMinutes, arrivalM}}
}
