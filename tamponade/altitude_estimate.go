package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// NotUntilSeenEmpty is the one answer to every question about flying, heights,
// nitrous oxide and diving. No calendar, fill or pressure computed here changes
// it.
const NotUntilSeenEmpty = "not until an eye doctor has seen the eye empty"

// Travel is a question about a journey.
type Travel struct {
	Agent   Agent
	Eye     AltitudeEye
	Journey Journey
	// Symptoms: pain, dim sight, haloes, sickness, or a bubble that the patient
	// sees. They outweigh every calendar.
	Symptoms bool
	// DaysSinceSurgery is quoted beside the published stay; NaN when not told.
	DaysSinceSurgery float64
}

// TravelPoint is the middle eye at one minute of a journey.
type TravelPoint struct {
	Minutes      float64 `json:"minutes"`
	HeightM      float64 `json:"height_m"`
	PressureMMHg float64 `json:"pressure_mmhg"`
}

// TravelEstimate is what a journey does to an eye with gas in it, as an
// estimate, with the answer that stands whatever the estimate.
type TravelEstimate struct {
	// RiseMMHg is the highest pressure of the journey above that before it.
	RiseMMHg estimate.Estimate
	PeakMMHg estimate.Estimate
	// SealedRiseMMHg is the same when no fluid leaves the eye.
	SealedRiseMMHg estimate.Estimate
	// LowestMMHg is the lowest pressure, on the way down.
	LowestMMHg    estimate.Estimate
	PeakAtMinutes float64
	// FreeExpansion is how many times larger free gas would become at the top.
	FreeExpansion float64
	// RuleRiseMMHg is the plain rule, 0.41 of the fall in ambient pressure; only
	// for fills of 50 to 65 % and fast climbs, else missing.
	RuleRiseMMHg estimate.Estimate
	Course       []TravelPoint
	Verdict      string
	Reasons      []Warning
}

// ruleShare is the measured rise over the fall in ambient pressure: 33/79 and
// 28/69 mmHg (Kokame and Ing 1994; Foulsham et al. 2021; abstracts).
const ruleShare = 0.41

const (
	sourceGsellman = "Gsellman and Amini, Invest Ophthalmol Vis Sci 2016;57:3340, doi 10.1167/iovs.15-18010 (abstract)"
	sourceMuzychuk = "Muzychuk et al., Arch Ophthalmol 2011;129:805, doi 10.1001/archophthalmol.2011.144 (full text, part)"
	sourceDieckert = "Dieckert et al., Ophthalmology 1986;93:642, doi 10.1016/s0161-6420(86)33687-x (abstract)"
	sourceLincoff  = "Lincoff et al., Arch Ophthalmol 1989;107:907, doi 10.1001/archopht.1989.01070010929043 (abstract)"

	altitudeBasis = "estimate: Boyle's law with water vapour, one rigidity fitted to two people's measured climbs, outflow by facility; " +
		"interval from the softest to the stiffest and least draining eye, the cavity and the fill judged from outside; beyond 900 m of climb extrapolated"
)

// EstimateTravel computes a journey and gives the answer. It never permits.
//
// The eye is a closed room whose pressure solves
//
//	V₀·(d₀/d − 1) + W = log10(P/P₀)/K,   d = ambient + P − 47,
//
// V₀ the bubble at rest where the patient lives, W the aqueous gained (outflow
// by facility above rest, refilling at most 2.5 µL/min), K the effective
// rigidity. Gas exchange with blood is left out: it is slow against a journey.
// Published measurements against this model are in [AltitudeComparison].
func EstimateTravel(t Travel) (TravelEstimate, error) {
	if _, err := t.Agent.Facts(); err != nil {
		return TravelEstimate{}, err
	}
	if err := t.Eye.Check(); err != nil {
		return TravelEstimate{}, err
	}
	if err := t.Journey.Check(); err != nil {
		return TravelEstimate{}, err
	}
	if d := t.DaysSinceSurgery; d < 0 || math.IsInf(d, 0) {
		return TravelEstimate{}, &fault.Error{Code: fault.Invalid, Where: "days since surgery", What: fmt.Sprintf("%g cannot be", d), Expected: "0 or more"}
	}
	living := t.Journey[0].HeightM
	rest := t.Eye.BaselineMMHg
	middle, yielding, stiff := t.Eye.variants(living)
	out := TravelEstimate{Verdict: "No: " + NotUntilSeenEmpty + "."}
	peak, lowest, sealedPeak := banded(altitudeBasis), banded(altitudeBasis), banded("the same with no fluid leaving the eye, as in a climb of no time; "+altitudeBasis)
	for i, s := range []sealed{middle, yielding, stiff} {
		high, low, at := s.peak(t.Journey)
		if i == 0 {
			out.PeakAtMinutes = at
		}
		peak.add(i, high)
		lowest.add(i, low)
		s.facility = 0
		high, _, _ = s.peak(t.Journey)
		sealedPeak.add(i, high)
	}
	out.PeakMMHg, out.LowestMMHg = peak.Estimate, lowest.Estimate
	out.RiseMMHg, out.SealedRiseMMHg = above(peak.Estimate, rest), above(sealedPeak.Estimate, rest)
	middle.course(t.Journey, func(minutes, heightM, p float64) {
		out.Course = append(out.Course, TravelPoint{minutes, heightM, p})
	})
	top := ambientMMHg(t.Journey.HighestM())
	var err error
	if out.FreeExpansion, err = FreeExpansion(ambientMMHg(living), top, rest); err != nil {
		return TravelEstimate{}, err
	}
	out.RuleRiseMMHg = estimate.Missing("the rule holds for fills of 50 to 65 % only")
	if t.Eye.Fill >= 50 && t.Eye.Fill <= 65 {
		rise := ruleShare * math.Max(0, ambientMMHg(living)-top)
		out.RuleRiseMMHg = estimate.Estimate{Value: rise, Low: rise * 28.0 / 33, High: rise * 33.0 / 28, Basis: "0.41 of the fall in ambient pressure, two measured climbs at 50 and 65 % fill; interval ours, the ratio of their rises"}
	}
	out.Reasons = t.reasons(out)
	return out, nil
}

// band collects a middle value and the ends of the others around it.
type band struct{ estimate.Estimate }

func banded(basis string) band { return band{estimate.Estimate{Basis: basis}} }

func (b *band) add(i int, x float64) {
	if i == 0 {
		b.Value, b.Low, b.High = x, x, x
		return
	}
	b.Low, b.High = math.Min(b.Low, x), math.Max(b.High, x)
}

func above(e estimate.Estimate, rest float64) estimate.Estimate {
	return estimate.Estimate{Value: e.Value - rest, Low: e.Low - rest, High: e.High - rest, Basis: e.Basis}
}

// reasons are what stands beside the answer, the gravest first.
func (t Travel) reasons(e TravelEstimate) []Warning {
	var out []Warning
	add := func(code, text, source string) { out = append(out, Warning{code, text, source}) }
	if t.Symptoms {
		add("symptoms", "Pain, dim sight or a bubble still seen outweigh every calendar: to an eye doctor now, and down if the patient is up.", sourceMuzychuk+"; common practice")
	}
	add("flying", "No flying with any gas in the eye: sight was lost in flight with less than a tenth of the eye left, monkeys gained 42 mmHg with 0.25 mL. One chamber study calls 0.6 mL (about 10 %) tolerable from sea level; it is disputed and no limit here.",
		sourceMuzychuk+"; "+sourceDieckert+"; "+sourceLincoff)
	if t.Agent == AgentAir {
		add("air", "Air counts as gas: sight was lost after take-off four days after air.", "J Med Case Rep 2025;19:11, doi 10.1186/s13256-024-05017-w (full text)")
	}
	facts, err := t.Agent.Facts()
	if err == nil {
		text := fmt.Sprintf("%s is planned to stay %s days and is printed with up to %g.", t.Agent, facts.StayDays, facts.LongestStayDays)
		if !math.IsNaN(t.DaysSinceSurgery) {
			text += fmt.Sprintf(" %g days have passed.", t.DaysSinceSurgery)
		}
		add("calendar", text+" Days never prove an empty eye.", sourceStay)
	}
	if climb := t.Journey.HighestM() - t.Journey[0].HeightM; climb > 0 {
		add("climb", fmt.Sprintf("The journey climbs %.0f m above where the patient has been living; free gas would become %.2f times as large. A way home that cannot be put off: tell the surgeon first, climb slowly with stops, turn back down for pain or dim sight, have the pressure measured on arrival.", climb, e.FreeExpansion),
			"free expansion: gas law; the rest common practice, no source; slow ascent without occlusion in 75 eyes (abstract, author not shown)")
	} else {
		add("no_climb", "The journey never climbs above where the patient has been living. What counts is the height lived at for the last day, not the height of the surgery: gas and eye come to rest there, and the way back up can hurt.", sourceGsellman)
	}
	if lowest := t.lowestM(); lowest < t.Journey[0].HeightM && t.Journey[len(t.Journey)-1].HeightM > lowest {
		add("down_and_up", "The journey goes down and up again: after a stay below, the old height is a climb (published model: 34 to 50 mmHg).", sourceGsellman)
	}
	if t.Eye.Glaucoma {
		add("glaucoma", "Glaucoma: a pressure that another eye bears takes sight here, and the eye drains less. Computed with a lower outflow.", sourceMuzychuk+"; facility from memory")
	}
	if t.Eye.Buckle {
		add("buckle", "A buckle never softens the answer (chamber, 12 eyes: peak 20 mmHg with a buckle, 32 without).", "academy summary of a prospective study (secondary)")
	}
	if e.LowestMMHg.Value < 5 {
		add("soft", "On the way down the pressure may fall very low; the eye was soft on return in the chamber.", sourceDieckert)
	}
	return out
}

func (t Travel) lowestM() float64 {
	lowest := math.Inf(1)
	for _, w := range t.Journey {
		lowest = math.Min(lowest, w.HeightM)
	}
	return lowest
}
