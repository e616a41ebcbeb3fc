package evidence

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"limitans/estimate"
	"limitans/fault"
)

// The diameters for which closure is told, µm.
const (
	LeastClosureUM = 150
	MostClosureUM  = 1000
)

// ReferenceMonths is the duration of symptoms for which the curve is taken to
// stand: an assumption, no source; the published strata seldom print it.
const ReferenceMonths = 6

// mostMonths is the longest duration in the published analysis.
const mostMonths = 72

// ClosureQuestion is one hole and one way to operate.
type ClosureQuestion struct {
	// MLDUM is the minimum linear diameter, 150 to 1000 µm.
	MLDUM float64
	// Technique is Peel, NoPeel or InvertedFlap.
	Technique Technique
	// Tamponade is Gas or Air.
	Tamponade Tamponade
	// WithoutFaceDown: the eye is not held face down after surgery. The curve
	// stands for the published mixture of mostly face-down days.
	WithoutFaceDown bool
	// DurationMonths of symptoms, 0 to 72; NaN where not told, which changes
	// nothing.
	DurationMonths float64
}

// ClosureAnswer is what can be expected.
type ClosureAnswer struct {
	// Expected is the probability that this hole closes, the mean over units and
	// posterior, with the central 95 % range of a unit not yet seen.
	Expected estimate.Estimate
	// Middle is the posterior median in the middle unit with its interval.
	Middle   estimate.Estimate
	Warnings []string
	// Sources are those of the odds ratios that were used.
	Sources []string
}

// Expect answers a question. Outside the range of sizes, and for techniques
// without a published analysis of individual patients, it refuses.
func (m *Closure) Expect(q ClosureQuestion) (ClosureAnswer, error) {
	if err := q.check(); err != nil {
		return ClosureAnswer{}, err
	}
	asked := question{air: q.Tamponade == Air, flap: q.Technique == InvertedFlap, noPeel: q.Technique == NoPeel, noFaceDown: q.WithoutFaceDown}
	a := ClosureAnswer{}
	basis := m.fittedTo() + "; 95 % range of a unit not yet seen"
	use := func(e Effect) {
		a.Sources = append(a.Sources, fmt.Sprintf("%s: odds ratio %g (%.2f to %.2f), %s", e.What, e.OddsRatio.Value, e.OddsRatio.Low, e.OddsRatio.High, e.OddsRatio.Basis))
		basis += "; " + e.What + " from individual patients"
	}
	if asked.flap {
		use(m.effects.flap)
		if q.MLDUM < 400 || q.MLDUM >= 900 {
			a.Warnings = append(a.Warnings, "The flap's odds ratio rests on few eyes below 400 and from 900 µm.")
		}
	}
	if asked.noPeel {
		use(m.effects.peel)
	}
	if asked.noFaceDown {
		use(m.effects.faceDown)
		a.Warnings = append(a.Warnings, "Posture: the error of its odds ratio is derived from a p value, and trials below 400 µm found no effect.")
	}
	if !math.IsNaN(q.DurationMonths) {
		use(m.effects.month)
		asked.monthsBeyond = q.DurationMonths - ReferenceMonths
		a.Warnings = append(a.Warnings, fmt.Sprintf("Duration counts from %d months, an assumption: the published strata seldom print theirs.", ReferenceMonths))
	}
	x := (q.MLDUM - middleUM) / stepUM
	a.Expected.Value, _, a.Expected.Low, a.Expected.High = m.summary(func(d draw) float64 { return logistic(m.logit(d, asked, x) + d.StudySD*d.unit) })
	_, a.Middle.Value, a.Middle.Low, a.Middle.High = m.summary(func(d draw) float64 { return logistic(m.logit(d, asked, x)) })
	a.Expected.Basis, a.Middle.Basis = basis, m.fittedTo()+"; posterior of the middle unit"
	return a, nil
}

func (q ClosureQuestion) check() error {
	switch {
	case q.Technique != Peel && q.Technique != NoPeel && q.Technique != InvertedFlap:
		return &fault.Error{Code: fault.Unsupported, Where: "technique", What: fmt.Sprintf("%q has no published analysis of individual patients by size", string(q.Technique)), Expected: "peel, no-peel or inverted-flap", Mend: "look at its pooled rows instead"}
	case q.Tamponade != Gas && q.Tamponade != Air:
		return &fault.Error{Code: fault.Unsupported, Where: "tamponade", What: fmt.Sprintf("%q has no published strata", string(q.Tamponade)), Expected: "gas or air"}
	case math.IsNaN(q.MLDUM) || q.MLDUM <= 0 || math.IsInf(q.MLDUM, 0):
		return &fault.Error{Code: fault.Invalid, Where: "minimum linear diameter", What: fmt.Sprintf("%g µm is no size of a hole", q.MLDUM), Expected: fmt.Sprintf("%d to %d µm", LeastClosureUM, MostClosureUM)}
	case q.MLDUM < LeastClosureUM || q.MLDUM > MostClosureUM:
		return &fault.Error{
			Code: fault.NotMeasurable, Where: "minimum linear diameter", What: fmt.Sprintf("at %g µm the published strata hold too few eyes", q.MLDUM),
			Expected: fmt.Sprintf("%d to %d µm", LeastClosureUM, MostClosureUM), Mend: "look at the pooled rows of a technique instead",
		}
	case q.DurationMonths < 0 || q.DurationMonths > mostMonths:
		return &fault.Error{Code: fault.Invalid, Where: "duration", What: fmt.Sprintf("%g months", q.DurationMonths), Expected: fmt.Sprintf("0 to %d months", mostMonths)}
	}
	return nil
}

// logit is the curve's logit at a size in steps, effects from elsewhere added.
func (m *Closure) logit(d draw, q question, x float64) float64 {
	return d.shift(q) + d.SlopePer100UM*x + m.elsewhere(d, q)
}

// elsewhere is what the odds ratios of other analyses add to the logit.
func (m *Closure) elsewhere(d draw, q question) float64 {
	var l float64
	if q.flap {
		l += m.effects.flap.LogOddsRatio + m.effects.flap.StandardError*d.flap
	}
	if q.noPeel {
		l -= m.effects.peel.LogOddsRatio + m.effects.peel.StandardError*d.peel
	}
	if q.noFaceDown {
		l -= m.effects.faceDown.LogOddsRatio + m.effects.faceDown.StandardError*d.faceDown
	}
	if q.monthsBeyond != 0 {
		l += q.monthsBeyond * (m.effects.month.LogOddsRatio + m.effects.month.StandardError*d.month)
	}
	return l
}

// ClosureMethod says how the curve is made.
const ClosureMethod = "logistic curve over minimum linear diameter with a normal shift for each study, fitted to published strata of peel with gas or air; " +
	"a stratum's closure is the mean over the diameters in it; flap, no peel, posture and duration from published analyses of individual patients; " +
	"posterior by importance sampling with a fixed seed"

// Predicted is a stratum beside what the model says of it without having seen it.
type Predicted struct {
	Stratum Stratum
	// Share is the share of eyes closed that was expected in as many eyes, with
	// the central 95 % of what chance and units make of it.
	Share estimate.Estimate
}

// Observed is the share that was closed.
func (p Predicted) Observed() float64 {
	return float64(p.Stratum.Row.Events) / float64(p.Stratum.Row.Eyes)
}

// Covered reports whether the observed share lies in the predicted interval.
func (p Predicted) Covered() bool {
	// Both are whole eyes over the same number, so equality means equality.
	return p.Observed() >= p.Share.Low-1e-12 && p.Observed() <= p.Share.High+1e-12
}

// LeaveOneOut predicts every stratum from the others: those of its own study
// included, or, with wholeStudy, without any of that study, which is harder on
// the curve. Strata that are not fitted are predicted without their study's
// strata when wholeStudy is set, else with them. draws is the size of each
// sample.
func (m *Closure) LeaveOneOut(wholeStudy bool, draws int) ([]Predicted, error) {
	out := make([]Predicted, len(m.Strata))
	fits := map[string]*Closure{}
	for i, s := range m.Strata {
		var rest []Stratum
		var siblings studyGroup
		for k := range m.Strata {
			other := &m.Strata[k]
			own := other.Row.Study == s.Row.Study
			if k == i || (wholeStudy && own) || !other.Fitted {
				continue
			}
			rest = append(rest, *other)
			if own {
				siblings = append(siblings, other)
			}
		}
		key := s.Row.Study
		if !wholeStudy {
			key = s.Row.ID
			if !s.Fitted {
				key = "all"
			}
		}
		fit, done := fits[key]
		if !done {
			var err error
			if fit, err = FitClosure(rest, m.Seed, draws); err != nil {
				return nil, err
			}
			fits[key] = fit
		}
		out[i] = Predicted{s, fit.predict(&m.Strata[i], siblings)}
	}
	return out, nil
}

// predict draws the share of a stratum's eyes that closes. siblings tell the
// study's shift where there are any.
func (m *Closure) predict(s *Stratum, siblings studyGroup) estimate.Estimate {
	random := rand.New(rand.NewPCG(m.Seed, uint64(s.Row.Eyes)<<20|uint64(s.Row.Events)))
	drawn := slices.Clone(m.draws)
	shares := make([]float64, len(drawn))
	expected := 0.0
	for i, d := range drawn {
		u := d.StudySD * random.NormFloat64()
		if len(siblings) > 0 {
			u = siblings.sample(d.Curve, random)
		}
		p, _, _ := s.sizes.chance(d.shift(s.question)+u+m.elsewhere(d, s.question), d.SlopePer100UM)
		expected += d.weight * p
		closed := 0
		for range s.Row.Eyes {
			if random.Float64() < p {
				closed++
			}
		}
		shares[i] = float64(closed) / float64(s.Row.Eyes)
		drawn[i].unit = shares[i]
	}
	_, _, low, high := summarise(drawn, func(d draw) float64 { return d.unit })
	return estimate.Estimate{Value: expected, Low: low, High: high, Basis: fmt.Sprintf("predicted for %d eyes by %s", s.Row.Eyes, m.fittedTo())}
}

// sample draws a study's shift given its other strata.
func (g studyGroup) sample(c Curve, random *rand.Rand) float64 {
	var us, weights []float64
	var first, sum float64
	g.walk(c, func(u, log float64) {
		if len(us) == 0 {
			first = log
		}
		w := math.Exp(log - first)
		us, weights = append(us, u), append(weights, w)
		sum += w
	})
	at := random.Float64() * sum
	for i, w := range weights {
		if at -= w; at <= 0 {
			return us[i]
		}
	}
	return us[0]
}
