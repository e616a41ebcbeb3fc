package tamponade

import (
	"fmt"
	"strings"

	"limitans/fault"
)

// Agent is what is injected as gas: air, or one long-acting gas with or without
// air. Two long-acting gases in one eye are no agent: nothing here computes
// with such a mixture.
type Agent int

// The agents. An agent is never guessed: what is not told stays AgentUnknown.
const (
	AgentUnknown Agent = iota
	AgentAir
	AgentSF6  // sulphur hexafluoride
	AgentC2F6 // hexafluoroethane
	AgentC3F8 // octafluoropropane
)

// Agents returns the four agents, shortest stay first.
func Agents() []Agent { return []Agent{AgentAir, AgentSF6, AgentC2F6, AgentC3F8} }

// String returns the chemical formula as it is written in theatre, or "air".
func (a Agent) String() string {
	switch a {
	case AgentAir:
		return "air"
	case AgentSF6:
		return "SF6"
	case AgentC2F6:
		return "C2F6"
	case AgentC3F8:
		return "C3F8"
	}
	return "unknown gas"
}

// FullName returns the chemical name, to be read aloud beside the formula.
func (a Agent) FullName() string {
	switch a {
	case AgentAir:
		return "air"
	case AgentSF6:
		return "sulphur hexafluoride"
	case AgentC2F6:
		return "hexafluoroethane"
	case AgentC3F8:
		return "octafluoropropane"
	}
	return "unknown gas"
}

// agentNames are the spellings, in upper case without spaces and hyphens.
var agentNames = map[string]Agent{
	"AIR": AgentAir, "ROOMAIR": AgentAir,
	"SF6": AgentSF6, "SULPHURHEXAFLUORIDE": AgentSF6, "SULFURHEXAFLUORIDE": AgentSF6,
	"C2F6": AgentC2F6, "HEXAFLUOROETHANE": AgentC2F6, "PERFLUOROETHANE": AgentC2F6,
	"C3F8": AgentC3F8, "OCTAFLUOROPROPANE": AgentC3F8, "PERFLUOROPROPANE": AgentC3F8,
}

// ParseAgent reads the name of one gas as people write it, in any case, with
// subscripts, spaces or hyphens: air, SF6, C₂F₆, octafluoropropane. Two gases
// in one text ("SF6/C3F8") are a Conflict; a text without a known gas is
// Invalid. Nothing is guessed.
func ParseAgent(text string) (Agent, error) {
	var found []Agent
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("/+&,;", r) }) {
		word := strings.ToUpper(subscripts.Replace(part))
		word = strings.NewReplacer(" ", "", "-", "", "\t", "").Replace(word)
		if word == "" {
			continue
		}
		agent, known := agentNames[word]
		if !known {
			return AgentUnknown, unknownAgent(text)
		}
		if len(found) == 0 || found[0] != agent {
			found = append(found, agent)
		}
	}
	switch len(found) {
	case 0:
		return AgentUnknown, unknownAgent(text)
	case 1:
		return found[0], nil
	}
	return AgentUnknown, &fault.Error{
		Code: fault.Conflict, Where: "gas", What: fmt.Sprintf("%q names two gases, and nothing is computed until one is left", text),
		Expected: "one of air, SF6, C2F6, C3F8", Mend: "read the bottle",
	}
}

var subscripts = strings.NewReplacer("₂", "2", "₃", "3", "₆", "6", "₈", "8")

func unknownAgent(text string) error {
	return &fault.Error{
		Code: fault.Invalid, Where: "gas", What: fmt.Sprintf("%q names no gas that is known here", text),
		Expected: "one of air, SF6, C2F6, C3F8",
	}
}

// MarshalText writes the formula in lower case: "air", "sf6", "c2f6", "c3f8",
// or "unknown".
func (a Agent) MarshalText() ([]byte, error) {
	if a == AgentUnknown {
		return []byte("unknown"), nil
	}
	return []byte(strings.ToLower(a.String())), nil
}

// UnmarshalText reads what [ParseAgent] reads, and "unknown".
func (a *Agent) UnmarshalText(text []byte) error {
	if strings.EqualFold(string(text), "unknown") {
		*a = AgentUnknown
		return nil
	}
	agent, err := ParseAgent(string(text))
	*a = agent
	return err
}

// Span is a published range without a stated probability, in the unit that the
// name of its field tells. Low and High are equal where one number is printed.
type Span struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// String writes "14" or "10 to 14".
func (s Span) String() string {
	if s.Low == s.High {
		return fmt.Sprintf("%g", s.Low)
	}
	return fmt.Sprintf("%g to %g", s.Low, s.High)
}

// sourceCollege is the table that plans are made by: one authority's numbers
// for all gases, so that two gases' numbers come from one hand.
const sourceCollege = "Royal College of Ophthalmologists safety alert, 18 December 2018 (web page read in full)"

// sourceStay is behind the planned and the longest stay.
const sourceStay = sourceCollege + "; longest stay: Int J Retina Vitreous 2024, doi 10.1186/s40942-024-00530-y, and patient texts (secondary)"

// AgentFacts is what is published about one agent.
type AgentFacts struct {
	Agent Agent `json:"agent"`
	// NonExpansilePercent is the share in air at which the bubble keeps its
	// volume by the planning table; 100 for air, which does not expand.
	NonExpansilePercent Percent `json:"non_expansile_percent"`
	// FullFillPercent is the share that a model calls right to reach a full
	// eye from 80 to 85 % fill at the end of surgery.
	FullFillPercent Span `json:"full_fill_percent"`
	// HighestUsedPercent is the top of the ranges in use for a whole fill.
	HighestUsedPercent Percent `json:"highest_used_percent"`
	LowestUsedPercent  Percent `json:"lowest_used_percent"`
	// ExpansionPure is the largest volume of the pure gas over its injected volume.
	ExpansionPure float64 `json:"expansion_pure"`
	// DaysToMaximumPure is when the pure gas is largest.
	DaysToMaximumPure Span `json:"days_to_maximum_pure"`
	// HoursToMaximumMixed is when the non-expansile mixture is nearly largest; 0 for air.
	HoursToMaximumMixed float64 `json:"hours_to_maximum_mixed"`
	// StayDays is how long gas stays, by the planning table.
	StayDays Span `json:"stay_days"`
	// LongestStayDays is the longest stay printed anywhere that was read; it is
	// what warnings go by.
	LongestStayDays float64 `json:"longest_stay_days"`
	// Source names where the figures are from, with how they are known.
	Source string `json:"source"`
}

// sourceUse tells the ranges in use apart from the table.
const sourceUse = sourceCollege + "; time to maximum of the mixture: Int J Retina Vitreous 2024, doi 10.1186/s40942-024-00530-y (secondary); " +
	"full fill: Williamson et al., Retina 2018;38 Suppl 1:S60, doi 10.1097/iae.0000000000001963 (abstract); " +
	"range in use: several series (secondary; of C2F6 from memory)"

// Facts returns the published facts of an agent; Unsupported for AgentUnknown.
//
//	        non-expansile  full fill  in use  pure expands  largest after  stays (planning)
//	air     –              –          –       1 ×           –              5 to 7 days
//	SF6     20 %           19–25 %    18–30   2 ×           1–2 days       14 days
//	C2F6    16 %           12–15 %    12–20   3 ×           1–3 days       28 to 35 days
//	C3F8    14 %           10–13 %    10–20   4 ×           3–4 days       56 days
//
// The longest stay is 10, 14, 42 and 90 days: air and the rest from a review's
// introduction of 2024 (secondary), "up to 3 months" for C3F8 as patient texts
// print it (secondary).
func (a Agent) Facts() (AgentFacts, error) {
	switch a {
	case AgentAir:
		return AgentFacts{
			Agent: a, NonExpansilePercent: 100, HighestUsedPercent: 100, LowestUsedPercent: 0, ExpansionPure: 1,
			StayDays: Span{5, 7}, LongestStayDays: 10, Source: sourceCollege,
		}, nil
	case AgentSF6:
		return AgentFacts{
			Agent: a, NonExpansilePercent: 20, FullFillPercent: Span{19, 25}, HighestUsedPercent: 30, LowestUsedPercent: 18,
			ExpansionPure: 2, DaysToMaximumPure: Span{1, 2}, HoursToMaximumMixed: 21, StayDays: Span{14, 14}, LongestStayDays: 14, Source: sourceUse,
		}, nil
	case AgentC2F6:
		return AgentFacts{
			Agent: a, NonExpansilePercent: 16, FullFillPercent: Span{12, 15}, HighestUsedPercent: 20, LowestUsedPercent: 12,
			ExpansionPure: 3, DaysToMaximumPure: Span{1, 3}, HoursToMaximumMixed: 27, StayDays: Span{28, 35}, LongestStayDays: 42, Source: sourceUse,
		}, nil
	case AgentC3F8:
		return AgentFacts{
			Agent: a, NonExpansilePercent: 14, FullFillPercent: Span{10, 13}, HighestUsedPercent: 20, LowestUsedPercent: 10,
			ExpansionPure: 4, DaysToMaximumPure: Span{3, 4}, HoursToMaximumMixed: 30, StayDays: Span{56, 56}, LongestStayDays: 90, Source: sourceUse,
		}, nil
	}
	return AgentFacts{}, &fault.Error{Code: fault.Unsupported, Where: "gas", What: "no gas is named", Expected: "one of air, SF6, C2F6, C3F8"}
}

// ImplantWarnings are what a hydrophilic lens implant means for any gas.
func ImplantWarnings(hydrophilic Answer) []Warning {
	if hydrophilic != Yes {
		return nil
	}
	return []Warning{{
		"hydrophilic_implant", "Hydrophilic acrylic implant: eleven clouded a month to six years after gas, eight were taken out. Another lens or another tamponade?",
		"BMJ Open Ophthalmol 2018;3:e000157 (abstract); Bopp et al., Diagnostics 2023;13:1943 (abstract)",
	}}
}
