package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// NitrousOxideAnswer is the answer to "may this patient have nitrous oxide".
type NitrousOxideAnswer struct {
	Verdict string
	Reasons []Warning
}

// AnswerNitrousOxide answers for an eye that got this agent daysSinceSurgery
// days ago (NaN when not told). It is always no: the longest published harm
// came after 42 days, C3F8 is printed with up to three months, and only an
// examination clears. An eye in which nitrous oxide is already running is
// answered in the reasons.
func AnswerNitrousOxide(agent Agent, daysSinceSurgery float64) (NitrousOxideAnswer, error) {
	facts, err := agent.Facts()
	if err != nil {
		return NitrousOxideAnswer{}, err
	}
	if daysSinceSurgery < 0 || math.IsInf(daysSinceSurgery, 0) {
		return NitrousOxideAnswer{}, &fault.Error{Code: fault.Invalid, Where: "days since surgery", What: fmt.Sprintf("%g cannot be", daysSinceSurgery), Expected: "0 or more"}
	}
	stay := fmt.Sprintf("%s is planned to stay %s days and is printed with up to %g", agent, facts.StayDays, facts.LongestStayDays)
	if !math.IsNaN(daysSinceSurgery) {
		stay += fmt.Sprintf("; %g days have passed", daysSinceSurgery)
	}
	out := NitrousOxideAnswer{
		Verdict: "No nitrous oxide: " + NotUntilSeenEmpty + ".",
		Reasons: []Warning{
			{"calendar", stay + ". Sight was lost up to 42 days after surgery. Days never prove an empty eye.", "Br J Anaesth letter (secondary); Vote et al., Anesthesiology 2002;97:1305 (full text, part); " + sourceStay},
			{"what_counts", "Every kind counts: theatre, the dentist, and the half-and-half mixture breathed against pain.", sourceCollege},
			{"how_fast", "The bubble doubles within half an hour and the retina may be past saving after about 100 minutes.", "cat: letter, Arch Ophthalmol 1985;103:1272, doi 10.1001/archopht.1985.01050090022007 (full text, part); " + sourceCollege},
			{"stop", "If it is running: stop it at once and breathe oxygen or air; in the cat the pressure fell from 29 to 12 mmHg in 18 minutes. Call the eye doctor.", "Stinson and Donlon (author from memory), Anesthesiology 1982 (abstract)"},
			{"at_surgery", "If it was used at the surgery itself: stop it 15 to 20 minutes before the gas goes in, and expect the fill to shrink if it was not.", "common advice (from memory)"},
		},
	}
	if agent == AgentAir {
		out.Reasons = append(out.Reasons, Warning{"air", "Air counts as gas.", "gas law: nitrous oxide enters any bubble"})
	}
	return out, nil
}
