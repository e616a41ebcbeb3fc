package tamponade

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"limitans/fault"
)

// StopCode names a stop for programs; it does not change when its wording does.
type StopCode string

// The stops. While one stands that is not lifted there is no recipe.
const (
	// StopAboveNonExpansile: a whole fill with more than the share that keeps its volume.
	StopAboveNonExpansile StopCode = "above_non_expansile"
	// StopAboveUse: a whole fill with more than is in use anywhere that was read.
	StopAboveUse StopCode = "above_range_in_use"
	// StopNearPure: a whole fill that would grow far beyond the eye. Nothing lifts it.
	StopNearPure StopCode = "near_pure"
	// StopOtherGas: the share is that of another gas and outside this gas's range in use.
	StopOtherGas StopCode = "number_of_another_gas"
	// StopPureTooMuch: a pneumatic injection above the volume that is in use.
	StopPureTooMuch StopCode = "pneumatic_volume"
	// StopNotPure: a pneumatic injection of a mixture.
	StopNotPure StopCode = "pneumatic_mixture"
	// StopSyringe: the syringe is too coarse for this mixture.
	StopSyringe StopCode = "syringe_too_coarse"
	// StopGasUnclear and StopPercentUnclear: what was written has two readings.
	StopGasUnclear     StopCode = "gas_unclear"
	StopPercentUnclear StopCode = "percent_unclear"
)

// Stop is one reason why there is no recipe.
type Stop struct {
	Code StopCode `json:"code"`
	Text string   `json:"text"`
	// Liftable: a typed reason of two people may lift it.
	Liftable bool   `json:"liftable"`
	Lifted   bool   `json:"lifted"`
	LiftedBy string `json:"lifted_by,omitempty"` // names and reason
	Source   string `json:"source"`
}

// Warning is what the two people must know although the recipe stands.
type Warning struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Technique says what the gas is for.
type Technique int

// The techniques.
const (
	// WholeFill: the cavity is filled with the mixture after vitrectomy.
	WholeFill Technique = iota
	// PneumaticRetinopexy: a small volume of pure gas into an eye that keeps
	// its vitreous.
	PneumaticRetinopexy
)

const (
	// nearPurePercent: above it a whole fill is refused whatever the reason.
	// Ours: well above the highest share in use (30 % SF6), well below pure gas.
	nearPurePercent = 50
	// LargestPneumaticML is the largest volume of pure gas, in mL, that is taken
	// for a pneumatic injection; from memory.
	LargestPneumaticML = 1.0
	// sameNumberPoints is how near a share lies to another gas's number to be
	// taken for it (ours).
	sameNumberPoints = 0.25

	sourceOurs     = "limit of this program, built on published incidents; no source"
	sourceIncident = "Kanclerz and Grzybowski, Case Rep Ophthalmol 2018;9:405, doi 10.1159/000492746 (abstract): 3 eyes, two needed exchange"
)

// mixtureStops are the stops that a mixture raises by itself.
func mixtureStops(m Mixture, technique Technique, volumeML float64) []Stop {
	facts, err := m.Agent.Facts()
	if err != nil || m.Agent == AgentAir {
		return nil
	}
	if technique == PneumaticRetinopexy {
		return pneumaticStops(m, volumeML)
	}
	var stops []Stop
	if m.Percent > nearPurePercent {
		return []Stop{{
			Code: StopNearPure,
			Text: fmt.Sprintf("%s for a whole fill: pure %s grows to %g times its volume, and the eye cannot hold it. Nothing lifts this stop. A small pure volume is a pneumatic injection and is asked for as such.", m, m.Agent, facts.ExpansionPure), Source: sourceIncident + "; " + sourceCollege,
		}}
	}
	if other, is := numberOfAnother(m, facts); is {
		stops = append(stops, Stop{
			Code: StopOtherGas, Liftable: true,
			Text:   fmt.Sprintf("%s is the number of %s, not of %s (%s, in use %s to %s). Which gas is in the bottle?", m.Percent, other, m.Agent, facts.NonExpansilePercent, facts.LowestUsedPercent, facts.HighestUsedPercent),
			Source: sourceCollege,
		})
	}
	if m.Percent > facts.NonExpansilePercent+1e-9 {
		stops = append(stops, Stop{
			Code: StopAboveNonExpansile, Liftable: true,
			Text:   fmt.Sprintf("%s for a whole fill lies above the non-expansile %s and will grow in the closed eye.", m, facts.NonExpansilePercent),
			Source: sourceCollege,
		})
	}
	if m.Percent > facts.HighestUsedPercent+1e-9 {
		stops = append(stops, Stop{
			Code: StopAboveUse, Liftable: true,
			Text:   fmt.Sprintf("%s lies above %s, the top of the range in use for a whole fill.", m, facts.HighestUsedPercent),
			Source: "ranges in use (secondary); refusing above them is a " + sourceOurs,
		})
	}
	return stops
}

// numberOfAnother finds the gas whose planning number the share is, when the
// share lies outside what is in use for its own gas.
func numberOfAnother(m Mixture, facts AgentFacts) (Agent, bool) {
	if m.Percent >= facts.LowestUsedPercent && m.Percent <= facts.NonExpansilePercent {
		return AgentUnknown, false
	}
	for _, other := range Agents() {
		theirs, err := other.Facts()
		if err != nil || other == m.Agent || other == AgentAir {
			continue
		}
		if math.Abs(float64(theirs.NonExpansilePercent-m.Percent)) <= sameNumberPoints {
			return other, true
		}
	}
	return AgentUnknown, false
}

func pneumaticStops(m Mixture, volumeML float64) []Stop {
	var stops []Stop
	if m.Percent != 100 {
		stops = append(stops, Stop{Code: StopNotPure, Text: fmt.Sprintf("%s is no pure gas; a pneumatic injection is pure, a mixture is for a whole fill.", m), Source: "common practice, no source"})
	}
	if !(volumeML > 0 && volumeML <= LargestPneumaticML) {
		stops = append(stops, Stop{
			Code: StopPureTooMuch,
			Text: fmt.Sprintf("%g mL of %s is not a pneumatic injection: about %g mL or less is in use.", volumeML, m, LargestPneumaticML), Source: "from memory",
		})
	}
	return stops
}

// Lifting is a typed reason by which two people lift one stop. The zero value
// lifts nothing; make one with [NewLifting].
type Lifting struct {
	stop   StopCode
	reason string
	by     Pair
}

// stopCodes are all stops; a lifting names one of them.
var stopCodes = []StopCode{
	StopAboveNonExpansile, StopAboveUse, StopNearPure, StopOtherGas, StopPureTooMuch, StopNotPure, StopSyringe, StopGasUnclear, StopPercentUnclear,
}

// NewLifting joins a stop, the reason in the words of whoever decides, and the
// two people who stand for it. The reason must hold at least three words: a
// single "ok" explains nothing to the one who reads the record. A stop that
// does not exist is Invalid; one that nothing lifts is accepted here and
// answered on the sheet.
func NewLifting(stop StopCode, reason string, by Pair) (Lifting, error) {
	if !slices.Contains(stopCodes, stop) {
		return Lifting{}, &fault.Error{Code: fault.Invalid, Where: "stop", What: fmt.Sprintf("%q is no stop", string(stop)), Expected: fmt.Sprint(stopCodes)}
	}
	if len(strings.FieldsFunc(reason, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) })) < 3 {
		return Lifting{}, &fault.Error{Code: fault.Invalid, Where: "reason", What: fmt.Sprintf("%q gives no reason", reason), Expected: "a sentence of three words or more"}
	}
	if by.first.Name == "" {
		return Lifting{}, &fault.Error{Code: fault.Invalid, Where: "reason", What: "nobody stands for it", Expected: "two people"}
	}
	return Lifting{stop, strings.Join(strings.Fields(reason), " "), by}, nil
}

// lift marks the stops that the liftings name; a lifting never touches a stop
// that is not liftable.
func lift(stops []Stop, liftings []Lifting) []Stop {
	for i := range stops {
		for _, l := range liftings {
			if stops[i].Liftable && l.stop == stops[i].Code {
				stops[i].Lifted = true
				stops[i].LiftedBy = fmt.Sprintf("%s and %s: %s", l.by.first.Name, l.by.second.Name, l.reason)
			}
		}
	}
	return stops
}

// idleLiftings warns of reasons that lifted nothing, so that nobody believes a
// stop lifted that was never there or cannot be.
func idleLiftings(stops []Stop, liftings []Lifting) []Warning {
	var out []Warning
	for _, l := range liftings {
		lifted := slices.ContainsFunc(stops, func(s Stop) bool { return s.Code == l.stop && s.Lifted })
		if !lifted {
			out = append(out, Warning{"lifting_without_effect", fmt.Sprintf("The reason for %s lifts nothing: that stop does not stand, or nothing lifts it.", l.stop), sourceOurs})
		}
	}
	return out
}

// standing reports whether a stop is left that nobody lifted.
func standing(stops []Stop) bool {
	for _, s := range stops {
		if !s.Lifted {
			return true
		}
	}
	return false
}
