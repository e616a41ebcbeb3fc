package light

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// ICNIRP2013 is the basis of the ICNIRP guidelines, Health Phys 2013;105:74-96:
// 100 J/(cm² sr), aphakic (equation 18, full text of the erratum), which is 2.2
// J/cm² at the retina through a 3 mm pupil (derived; also the customary figure,
// from memory). Weights count from 300 nm.
type ICNIRP2013 struct{}

// ISO15004 is the basis of ISO 15004-2:2007, Group 2: 10 J/cm² at the retina as a
// guideline to be told to the user (from memory; the edition of 2024 was not
// seen). Weights count from 305 nm.
type ISO15004 struct{}

// Basis is one of the two published bases.
type Basis interface{ ICNIRP2013 | ISO15004 }

const (
	icnirpJPerCM2 = 2.2
	isoJPerCM2    = 10
	// longestSeconds is how long a rule of dose holds (from memory); beyond it
	// the guidelines limit radiance under B(λ) instead.
	longestSeconds = 10000
)

type basisFacts struct {
	key, name, source, howKnown string
	fromNM, toNM, limit         float64
}

func factsOf[B Basis]() basisFacts {
	var b B
	if _, is := any(b).(ISO15004); is {
		return basisFacts{
			"iso15004", "ISO 15004-2:2007 Group 2 guideline", "ISO 15004-2:2007, Group 2 guideline for A-weighted retinal radiant exposure, 305 to 700 nm",
			"from memory; the edition of 2024 was not seen", 305, 700, isoJPerCM2,
		}
	}
	return basisFacts{
		"icnirp2013", "ICNIRP 2013, aphakic", "ICNIRP, Health Phys 2013;105:74-96, equation 18: 100 J/(cm² sr), 300 to 700 nm, through a 3 mm pupil, 17 mm focal length and transmission 0.9",
		"value full text (erratum), retinal dose derived and customary", 300, 700, icnirpJPerCM2,
	}
}

// Dose is an A-weighted radiant exposure of the retina on one basis. The zero
// value is no light. Doses of two bases are different types that neither add nor
// convert.
type Dose[B Basis] struct {
	_       [0]B // keeps the two from being converted into each other
	j       estimate.Estimate
	seconds float64
}

// JPerCM2 is the dose in J/cm².
func (d Dose[B]) JPerCM2() estimate.Estimate {
	if d.seconds == 0 {
		return estimate.Estimate{Basis: "no light yet"}
	}
	return d.j
}

// Seconds is how long the light was on.
func (d Dose[B]) Seconds() float64 { return d.seconds }

// Plus adds two doses. Power times time is what counts, and pauses earn nothing.
// Their errors are taken to go together, as with one meter and one hand.
func (d Dose[B]) Plus(more Dose[B]) Dose[B] {
	switch {
	case d.seconds == 0:
		return more
	case more.seconds == 0:
		return d
	}
	basis := d.j.Basis
	if more.j.Basis != basis {
		basis += " — and: " + more.j.Basis
	}
	return Dose[B]{seconds: d.seconds + more.seconds, j: estimate.Estimate{
		Value: d.j.Value + more.j.Value, Low: d.j.Low + more.j.Low, High: d.j.High + more.j.High, Basis: basis,
	}}
}

// Exposure is the dose of a setting held for seconds (0 to 10,000, where the rule
// of dose ends).
func Exposure[B Basis](s Setting, seconds float64) (Dose[B], error) {
	if !(seconds >= 0 && seconds <= longestSeconds) {
		return Dose[B]{}, &fault.Error{Code: fault.Invalid, Where: "time", What: fmt.Sprintf("%g s cannot be", seconds), Expected: fmt.Sprintf("0 to %d s, for which the rule of dose holds", longestSeconds)}
	}
	rate, err := Rate[B](s)
	if err != nil || seconds == 0 {
		return Dose[B]{}, err
	}
	return Dose[B]{j: rate.Scaled(seconds / 1000), seconds: seconds}, nil
}

// Rate is the A-weighted irradiance of a setting in mW/cm².
func Rate[B Basis](s Setting) (estimate.Estimate, error) {
	if err := s.check(); err != nil {
		return estimate.Estimate{}, err
	}
	f := factsOf[B]()
	mean, err := s.Source.MeanWeight(Aphakic, f.fromNM, f.toNM)
	if err != nil {
		return estimate.Estimate{}, err
	}
	basis := fmt.Sprintf("A-weighted, %s; mean weight %.3g (%.3g to %.3g): %s; geometry and power: %s; %s; %s",
		f.name, mean.Value, mean.Low, mean.High, mean.Basis, s.geometryBasis(), s.PowerMW.Basis, s.Reflection.Basis)
	if !(mean.Low > 0) {
		return estimate.Estimate{}, &fault.Error{Code: fault.NotMeasurable, Where: "light", What: "has no power where the hazard function counts", Mend: "check the range of the spectrum"}
	}
	inputs := s.inputs()
	return spread(func(x []float64) float64 { return s.irradiance(x[:len(inputs)]) * x[len(inputs)] }, basis, append(inputs, mean)...), nil
}

// Budget is the published limit of a basis.
type Budget[B Basis] struct{ _ [0]B }

// JPerCM2 is the limit in J/cm².
func (Budget[B]) JPerCM2() float64 { return factsOf[B]().limit }

// Key is the basis's name for programs: icnirp2013 or iso15004.
func (Budget[B]) Key() string { return factsOf[B]().key }

// String names the basis for people.
func (Budget[B]) String() string { return factsOf[B]().name }

// Source says where the limit is from.
func (Budget[B]) Source() string { return factsOf[B]().source }

// HowKnown says how well it is known.
func (Budget[B]) HowKnown() string { return factsOf[B]().howKnown }

// Share is how much of the budget a dose takes, 1 for all of it.
func (b Budget[B]) Share(d Dose[B]) estimate.Estimate {
	e := d.JPerCM2().Scaled(1 / b.JPerCM2())
	e.Basis = "of " + b.String() + ": " + e.Basis
	return e
}

// MinutesLeft is how long a setting may still be held until the budget is
// reached, (limit − used) / rate; zero when it is used up, as the basis then
// says. The errors of dose and rate are taken to go together.
func (b Budget[B]) MinutesLeft(used Dose[B], s Setting) (estimate.Estimate, error) {
	rate, err := Rate[B](s)
	if err != nil {
		return estimate.Estimate{}, err
	}
	have := used.JPerCM2()
	minutes := func(dose, rate float64) float64 { return math.Max(0, b.JPerCM2()-dose) / (rate / 1000) / 60 }
	e := estimate.Estimate{Value: minutes(have.Value, rate.Value), Low: minutes(have.High, rate.High), High: minutes(have.Low, rate.Low)}
	e.Basis = fmt.Sprintf("time until %g J/cm² (%s); a dose above that would leave less than none and is shown as 0; %s", b.JPerCM2(), b, rate.Basis)
	if over := have.Value - b.JPerCM2(); over >= 0 {
		e.Basis = fmt.Sprintf("used up: %.3g J/cm² above %g (%s); %s", over, b.JPerCM2(), b, rate.Basis)
	}
	if (e.Value*60 + used.seconds) > longestSeconds {
		e.Basis += fmt.Sprintf("; beyond %d s of light in all the rule of dose is not published", longestSeconds)
	}
	return e, nil
}

// State says where a dose stands in a budget.
type State string

// The states of a budget.
const (
	Within       State = "within"        // the whole interval is below the limit
	MayBeOver    State = "may_be_over"   // the interval reaches the limit
	ProbablyOver State = "probably_over" // the value is over, its interval not wholly
	Over         State = "over"          // the whole interval is above
)

// State compares a dose with the limit.
func (b Budget[B]) State(d Dose[B]) State {
	e, limit := d.JPerCM2(), b.JPerCM2()
	switch {
	case e.Low >= limit:
		return Over
	case e.Value >= limit:
		return ProbablyOver
	case e.High >= limit:
		return MayBeOver
	}
	return Within
}
