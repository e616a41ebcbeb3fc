package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// PeakInput is a filled eye whose highest pressure is asked for.
type PeakInput struct {
	Mixture  Mixture
	CavityML estimate.Estimate
	// Fill at the end of surgery, per cent of the cavity.
	Fill Percent
	Lens Lens
	// BaselineMMHg is the pressure without gas; NaN for 15.
	BaselineMMHg float64
	// Glaucoma, or drops for it, or any raised outflow resistance.
	Glaucoma bool
	// FacilityULPerMinPerMMHg is a measured outflow facility, 0.01 to 1; 0 when
	// none was measured. It replaces the default and that of glaucoma.
	FacilityULPerMinPerMMHg float64
}

// facilities are the middle, most and least outflow of the eye, µL/min/mmHg.
func (in PeakInput) facilities() (middle, most, least float64, err error) {
	switch f := in.FacilityULPerMinPerMMHg; {
	case f >= 0.01 && f <= 1:
		return f, f * 4 / 3, f * 2 / 3, nil
	case f != 0:
		return 0, 0, 0, &fault.Error{Code: fault.Invalid, Where: "outflow facility", What: fmt.Sprintf("%g µL/min/mmHg cannot be", f), Expected: "0.01 to 1, or 0 when none was measured"}
	case in.Glaucoma:
		return glaucomaFacility, middleFacility, glaucomaLowFacility, nil
	}
	return middleFacility, highFacility, lowFacility, nil
}

// Peak is the highest pressure in the first days after surgery.
type Peak struct {
	PressureMMHg estimate.Estimate
	// AtDay is when the middle eye has it.
	AtDay float64
	// LargestFill is the largest fill of the middle eye, per cent; 100 means
	// that the bubble is held by the wall.
	LargestFill Percent
	// HeldByWall says that in the least favourable eye of the interval the
	// bubble outgrows the cavity; then no outflow helps.
	HeldByWall bool
	// LimitMMHg is the pressure of a full, closed eye at rest with blood, by
	// the closed form of [ClosedEyePressure] with the middle tissue pressures: a
	// bound, above the course because a real gas leaves meanwhile.
	LimitMMHg float64
}

const (
	peakDays = 6.0 // pure gas is largest after at most 4 days
	// fillSlackPoints is how far the fill at the end of surgery may be off
	// (ours; published fills on day 1 differ by more).
	fillSlackPoints = 10
	// conductanceLow and High are the spread of the long-acting gas's
	// conductance between the fits of the two series of half-lives.
	conductanceLow  = 0.8
	conductanceHigh = 1.25

	peakBasis = "estimate from the exchange model of this package; interval from outflow (0.16 to 0.32 µL/min/mmHg, less in glaucoma, within a third when measured), fill within 10 points, the published range of oxygen in the tissue, conductance of the gas within a quarter; a leaking wound makes it lower"
)

// PeakPressure computes the highest pressure in the first days with its
// interval, from the exchange model ([Run]) in a middle, a favourable and an
// unfavourable eye. Faults: Invalid for values out of reach, Unsupported
// without a gas.
func PeakPressure(in PeakInput) (Peak, error) {
	composition, err := in.Mixture.Composition()
	if err != nil {
		return Peak{}, err
	}
	if !(in.Fill > 0 && in.Fill <= 100) {
		return Peak{}, &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g %% cannot be", float64(in.Fill)), Expected: "above 0, at most 100 % of the cavity"}
	}
	if math.IsNaN(in.BaselineMMHg) {
		in.BaselineMMHg = defaultBaselineMMHg
	}
	middle, low, high, err := in.facilities()
	if err != nil {
		return Peak{}, err
	}
	out := Peak{}
	peak := banded(peakBasis)
	for i, v := range []struct{ facility, fill, oxygen, conductance, cavityML float64 }{
		{middle, float64(in.Fill), gasTable[Oxygen].tissue, 1, in.CavityML.Value},
		{low, math.Max(1, float64(in.Fill)-fillSlackPoints), gasTable[Oxygen].tissueLow, conductanceHigh, in.CavityML.Low},
		{high, math.Min(100, float64(in.Fill)+fillSlackPoints), gasTable[Oxygen].tissueHigh, conductanceLow, in.CavityML.High},
	} {
		if err := checkCavity(v.cavityML); err != nil {
			return Peak{}, err
		}
		p := DefaultParameters(VolumeLaw, in.Lens)
		p.TissueMMHg[Oxygen] = v.oxygen
		for _, g := range []Gas{SulphurHexafluoride, Hexafluoroethane, Octafluoropropane} {
			p.PerDay[g] *= v.conductance
		}
		globe := DefaultGlobe(v.cavityML)
		globe.BaselineMMHg = in.BaselineMMHg
		// Outflow at rest cannot exceed inflow; an eye with raised pressure
		// drains less than the healthy one.
		most := globe.InflowULPerMin / math.Max(1e-9, in.BaselineMMHg-globe.EpiscleralMMHg)
		globe.FacilityULPerMinPerMMHg = math.Min(v.facility, most)
		course, err := Run(Scenario{
			Globe: globe, Composition: composition, OpenMinutes: DefaultOpenMinutes, Fill: v.fill / 100,
			Law: VolumeLaw, Parameters: p, Days: peakDays,
		})
		if err != nil {
			return Peak{}, err
		}
		peak.add(i, course.Peak.PressureMMHg)
		if i == 0 {
			out.AtDay, out.LargestFill = course.Peak.Day, Percent(100*math.Min(1, course.Largest.Fill))
		}
		out.HeldByWall = out.HeldByWall || course.Largest.Fill >= 1-1e-3
	}
	out.PressureMMHg = peak.Estimate
	out.LimitMMHg, err = ClosedEyePressure(in.Mixture, in.Fill, in.BaselineMMHg)
	return out, err
}

// ClosedEyePressure is the pressure at which a gas that never leaves would be at
// rest with blood when it fills the whole eye, in mmHg above the air,
//
//	P = f·x·d + Σt − (760 − 47),    d = 760 + baseline − 47,
//
// for a fill f and a share x at closing, and tissue pressures t of nitrogen,
// oxygen and carbon dioxide; never below the baseline. It needs no kinetics, so
// it bounds the exchange model from above (derived; sea level).
func ClosedEyePressure(m Mixture, fill Percent, baselineMMHg float64) (float64, error) {
	c, err := m.Composition()
	if err != nil {
		return 0, err
	}
	if !(fill > 0 && fill <= 100) || !(baselineMMHg >= 1 && baselineMMHg <= 70) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "closed eye", What: fmt.Sprintf("a fill of %g %% at %g mmHg cannot be", float64(fill), baselineMMHg), Expected: "0 to 100 %, 1 to 70 mmHg"}
	}
	share, tissue := 0.0, 0.0
	for g := range gasCount {
		if g.LongActing() {
			share += c[g]
		}
		tissue += gasTable[g].tissue
	}
	dry := SeaLevelMMHg + baselineMMHg - WaterVapourMMHg
	return math.Max(baselineMMHg, fill.Fraction()*share*dry+tissue-(SeaLevelMMHg-WaterVapourMMHg)), nil
}

// WrongMixture is what one mistake would do.
type WrongMixture struct {
	What    string
	Mixture Mixture
	Peak    Peak
}

// WrongMixtures computes, for an eye that is to get a mixture, what the mistakes
// would do that have blinded eyes: gas drawn under pressure, the number of
// another gas, air first and pure gas after it.
func WrongMixtures(in PeakInput) ([]WrongMixture, error) {
	if in.Mixture.Agent == AgentAir {
		return nil, &fault.Error{Code: fault.Unsupported, Where: "gas", What: "air is not mixed", Expected: "one of SF6, C2F6, C3F8"}
	}
	pressed, err := OverpressurePercent(in.Mixture.Percent, 2)
	if err != nil {
		return nil, err
	}
	mistakes := []WrongMixture{
		{What: "as planned", Mixture: in.Mixture},
		{What: "gas drawn at twice the pressure of the room", Mixture: Mixture{in.Mixture.Agent, pressed}},
	}
	for _, other := range Agents() {
		theirs, err := other.Facts()
		if err != nil {
			return nil, err
		}
		if other != AgentAir && other != in.Mixture.Agent && theirs.NonExpansilePercent > in.Mixture.Percent {
			mistakes = append(mistakes, WrongMixture{What: "the number of " + other.String(), Mixture: Mixture{in.Mixture.Agent, theirs.NonExpansilePercent}})
		}
	}
	mistakes = append(mistakes, WrongMixture{What: "air first, then gas: nearly pure", Mixture: Mixture{in.Mixture.Agent, 100}})
	for i := range mistakes {
		eye := in
		eye.Mixture = mistakes[i].Mixture
		if mistakes[i].Peak, err = PeakPressure(eye); err != nil {
			return nil, err
		}
	}
	return mistakes, nil
}

// PressureRise is one published share of eyes with raised pressure after gas.
type PressureRise struct {
	What    string
	Percent float64
	Source  string
}

// PublishedPressureRises returns how often pressure was raised after gas, by the
// definition of each series; they differ too much to be pooled.
func PublishedPressureRises() []PressureRise {
	const table = "Kanclerz and Grzybowski, J Ophthalmol 2018:8606494, doi 10.1155/2018/8606494, table 1 (full text)"
	return []PressureRise{
		{"SF6 20 %, 30 mmHg or more at any visit", 6.1, table},
		{"C3F8 14 %, 30 mmHg or more at any visit", 8.7, table},
		{"SF6 30 %, above 30 mmHg on day 1", 20.4, table},
		{"C3F8 16 %, above 30 mmHg on day 1", 21.7, table},
		{"SF6 18 to 20 % or C3F8 12 to 16 %, above 30 mmHg at 4 to 6 h", 28.6, table},
		{"SF6 or C3F8, above 25 mmHg early", 43, table},
		{"SF6 20 to 100 %, 30 mmHg or more", 45, table},
		{"C3F8 14 % for a macular hole, above 30 mmHg within a week", 52, table},
		{"SF6 18 to 20 % or C3F8 12 to 16 %, above 25 mmHg at 4 to 6 h", 52.4, table},
		{"C2F6 or C3F8, above 22 mmHg within a week", 58.9, table},
	}
}
