package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Closure is how a prepared syringe was closed.
type Closure int

// The closures.
const (
	ClosureUnknown Closure = iota
	Stopcock
	PlasticCap
)

// String names the closure.
func (c Closure) String() string {
	switch c {
	case Stopcock:
		return "stopcock"
	case PlasticCap:
		return "plastic cap"
	}
	return "closure not told"
}

// Kept is one published measurement of what a closed syringe still held.
type Kept struct {
	SyringeML float64 `json:"syringe_ml"`
	Closure   Closure `json:"-"`
	Closed    string  `json:"closed"`
	Minutes   float64 `json:"minutes"`
	Percent   Span    `json:"percent_of_gas_left"`
	Source    string  `json:"source"`
}

const (
	sourceHumayun = "Humayun et al., Arch Ophthalmol 1989;107:853, doi 10.1001/archopht.1989.01070010875033 (abstract), SF6, closure not told"
	sourceOhji    = "Ohji, Adachi and Tano, Am J Ophthalmol 1997;123:709, doi 10.1016/S0002-9394(14)71094-3 (abstract), SF6 and C3F8"
)

// keptInSyringe is everything that was found. The two series clash in rate (size
// and seal differ), and no curve is drawn through them.
var keptInSyringe = []Kept{
	{10, ClosureUnknown, "not told", 0.5, Span{97, 97}, sourceHumayun},
	{10, ClosureUnknown, "not told", 60, Span{76, 76}, sourceHumayun},
	{10, ClosureUnknown, "not told", 18 * 60, Span{2, 2}, sourceHumayun},
	{60, Stopcock, "stopcock", 24 * 60, Span{98, 100}, sourceOhji},
	{60, PlasticCap, "plastic cap", 24 * 60, Span{0, 41}, sourceOhji},
}

// PublishedKept returns the published measurements of gas left in a syringe.
func PublishedKept() []Kept { return append([]Kept(nil), keptInSyringe...) }

// AgeWarnings says what is known of a mixture that waited minutes in a syringe
// of syringeML with that closure. unitLimitMinutes is the unit's own limit, NaN
// where there is none. Only published figures are quoted: nothing is computed
// between them, because two series clash and a weak bubble is not repaired by a
// guessed number. A negative time is Invalid.
func AgeWarnings(minutes, syringeML float64, closure Closure, unitLimitMinutes float64) ([]Warning, error) {
	if !(minutes >= 0) || math.IsInf(minutes, 0) {
		return nil, &fault.Error{Code: fault.Invalid, Where: "time since mixing", What: fmt.Sprintf("%g minutes cannot be", minutes), Expected: "0 or more"}
	}
	var out []Warning
	if closure != Stopcock {
		out = append(out, Warning{
			"closure", "Close the syringe with a stopcock: with a plastic cap less than 41 % of the gas was left in 60 mL syringes after 24 h, with a stopcock more than 98 %.", sourceOhji,
		})
	}
	if minutes > unitLimitMinutes {
		out = append(out, Warning{"unit_limit", fmt.Sprintf("Mixed %g minutes ago; the unit's own limit is %g. Mix again.", minutes, unitLimitMinutes), "the unit's rule"})
	}
	if syringeML <= 10 && minutes >= 0.5 {
		text := "In a 10 mL syringe 97 % of the gas was left after 30 s"
		if minutes >= 60 {
			text += " and 76 % after 60 min"
		}
		if minutes >= 18*60 {
			text += " and 2 % after 18 h"
		}
		out = append(out, Warning{"small_syringe", text + ". Mix at the moment of use.", sourceHumayun})
	}
	if minutes > 0 && len(out) == 0 {
		out = append(out, Warning{
			"age", fmt.Sprintf("Mixed %g minutes ago: the two published series clash on how fast gas leaves, so no loss is computed. Mix at the moment of use.", minutes), sourceHumayun + "; " + sourceOhji,
		})
	}
	return out, nil
}
