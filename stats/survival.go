package stats

import (
	"fmt"
	"math"
	"slices"
)

// Lifetime is one eye's time under observation: until the event, or until it
// was last seen without one (censored). The unit of time is the caller's, the
// same for all.
type Lifetime struct {
	Time  float64
	Event bool
}

func checkLifetimes(where string, lives []Lifetime) error {
	if len(lives) == 0 {
		return invalid(where, "nobody under observation", "at least one time")
	}
	for i, l := range lives {
		if !finite(l.Time) || l.Time < 0 {
			return invalid(where, fmt.Sprintf("time number %d is %g", i+1, l.Time), "times from zero")
		}
	}
	return nil
}

// SurvivalStep is the state of the curve from Time until the next step.
type SurvivalStep struct {
	Time                     float64
	AtRisk, Events, Censored int // at Time; events come before censorings
	Survival                 float64
	StandardError            float64 // Greenwood; not a number once Survival is zero
	greenwood                float64 // Σ d/(n(n−d))
}

// SurvivalCurve is a Kaplan-Meier curve: one step for each time at which
// something happened, in rising order.
type SurvivalCurve struct {
	N     int
	Steps []SurvivalStep
}

// SurvivalScale is the scale on which an interval of survival is symmetric.
type SurvivalScale int

// The scales. LogLog stays inside [0, 1] and is good at small numbers; it is
// the one to show.
const (
	LogLog SurvivalScale = iota // S^exp(±z·se/(S·ln S))
	Log                         // S·exp(±z·se/S), at most 1
	Plain                       // S ± z·se, within [0, 1]
)

// KaplanMeier returns the product-limit curve S(t) = Π (1 − dᵢ/nᵢ) with
// Greenwood's variance S²·Σ dᵢ/(nᵢ(nᵢ−dᵢ)). At equal times events come before
// censorings. Assumes that whoever is lost has the same prospects as the rest;
// an event found at a visit happened before it. Source: Kaplan & Meier, J Am
// Stat Assoc 1958;53:457 (from memory).
func KaplanMeier(lives []Lifetime) (SurvivalCurve, error) {
	if err := checkLifetimes("Kaplan-Meier curve", lives); err != nil {
		return SurvivalCurve{}, err
	}
	sorted := slices.Clone(lives)
	slices.SortFunc(sorted, func(a, b Lifetime) int { return compareFloat(a.Time, b.Time) })
	curve := SurvivalCurve{N: len(lives)}
	survival, greenwood := 1.0, 0.0
	for i := 0; i < len(sorted); {
		step := SurvivalStep{Time: sorted[i].Time, AtRisk: len(sorted) - i}
		for ; i < len(sorted) && sorted[i].Time == step.Time; i++ {
			if sorted[i].Event {
				step.Events++
			} else {
				step.Censored++
			}
		}
		n, d := float64(step.AtRisk), float64(step.Events)
		survival *= (n - d) / n
		greenwood += d / (n * (n - d)) // infinite when all have the event
		step.Survival, step.greenwood = survival, greenwood
		step.StandardError = survival * math.Sqrt(greenwood)
		curve.Steps = append(curve.Steps, step)
	}
	return curve, nil
}

// At returns the step that holds at a time: the last one not after it, or a
// step with survival 1 before the first.
func (c SurvivalCurve) At(time float64) SurvivalStep {
	current := SurvivalStep{Time: 0, AtRisk: c.N, Survival: 1}
	for _, s := range c.Steps {
		if s.Time > time {
			break
		}
		current = s
	}
	return current
}

// AtRisk returns how many are under observation just before a time; a curve is
// best not shown where fewer than about ten are (common editorial rule, from
// memory).
func (c SurvivalCurve) AtRisk(time float64) int {
	for _, s := range c.Steps {
		if s.Time >= time {
			return s.AtRisk
		}
	}
	return 0
}

// Interval returns the pointwise interval of a step's survival. Before the
// first event and once survival is zero Greenwood's variance says nothing, and
// the step is refused; use a [ClopperPearson] interval there.
func (s SurvivalStep) Interval(scale SurvivalScale, level float64) (Interval, error) {
	const where = "interval of a survival curve"
	if err := checkLevel(where, level); err != nil {
		return Interval{}, err
	}
	if s.Survival <= 0 || s.Survival >= 1 {
		return Interval{}, notMeasurable(where, fmt.Sprintf("at survival %g the variance is unknown", s.Survival), "use the exact interval of the proportion at risk")
	}
	z, root := twoSided(level), math.Sqrt(s.greenwood)
	switch scale {
	case LogLog:
		width := z * root / math.Log(s.Survival)
		return Interval{math.Pow(s.Survival, math.Exp(-width)), math.Pow(s.Survival, math.Exp(width)), level}, nil
	case Log:
		return Interval{s.Survival * math.Exp(-z*root), math.Min(1, s.Survival*math.Exp(z*root)), level}, nil
	case Plain:
		return Interval{math.Max(0, s.Survival-z*s.StandardError), math.Min(1, s.Survival+z*s.StandardError), level}, nil
	}
	return Interval{}, invalid(where, fmt.Sprintf("scale %d", scale), "one of the named scales")
}

// Median returns the first time at which survival is at most ½; the middle of
// the stretch when it is ½ over one. An estimate of a curve that stays above ½
// is refused.
func (c SurvivalCurve) Median() (float64, error) {
	for i, s := range c.Steps {
		// Survival is a product of fractions: ½ is met within rounding only.
		if math.Abs(s.Survival-0.5) < 1e-12 {
			for _, next := range c.Steps[i+1:] {
				if next.Events > 0 {
					return (s.Time + next.Time) / 2, nil
				}
			}
			return s.Time, nil
		}
		if s.Survival < 0.5 {
			return s.Time, nil
		}
	}
	return 0, notMeasurable("median survival", "the curve never comes down to one half", "give survival at a fixed time")
}

// MedianInterval returns the times at which the pointwise limits first come
// down to ½; High is infinite when the upper one never does. Source: Brookmeyer
// & Crowley, Biometrics 1982;38:29 (from memory).
func (c SurvivalCurve) MedianInterval(scale SurvivalScale, level float64) (Interval, error) {
	if err := checkLevel("interval of the median", level); err != nil {
		return Interval{}, err
	}
	result := Interval{math.Inf(1), math.Inf(1), level}
	for _, s := range c.Steps {
		if s.Survival >= 1 {
			continue
		}
		limits := Interval{}
		if s.Survival > 0 {
			var err error
			if limits, err = s.Interval(scale, level); err != nil {
				return Interval{}, err
			}
		}
		if limits.Low <= 0.5 {
			result.Low = math.Min(result.Low, s.Time)
		}
		if limits.High <= 0.5 {
			result.High = math.Min(result.High, s.Time)
		}
	}
	return result, nil
}

// RestrictedMean returns the mean time without event up to a horizon, the area
// under the curve, and its standard error √Σ Aᵢ²·dᵢ/(nᵢ(nᵢ−dᵢ)), where Aᵢ is
// the area from tᵢ to the horizon. A horizon after the last time seen without
// the curve being zero there is refused: nothing is known beyond.
func (c SurvivalCurve) RestrictedMean(horizon float64) (mean, standardError float64, err error) {
	const where = "restricted mean survival"
	if err := checkPositive(where, "horizon", horizon); err != nil {
		return 0, 0, err
	}
	if len(c.Steps) == 0 {
		return 0, 0, invalid(where, "an empty curve", "a curve made from data")
	}
	if last := c.Steps[len(c.Steps)-1]; horizon > last.Time && last.Survival > 0 {
		return 0, 0, notMeasurable(where, fmt.Sprintf("nobody was seen up to %g", horizon), fmt.Sprintf("take a horizon of at most %g", last.Time))
	}
	area := func(from float64) float64 {
		a, at, height := 0.0, from, c.At(from).Survival
		for _, s := range c.Steps {
			if s.Time > from && s.Time < horizon {
				a += height * (s.Time - at)
				at, height = s.Time, s.Survival
			}
		}
		return a + height*(horizon-at)
	}
	var variance float64
	for _, s := range c.Steps {
		if s.Events > 0 && s.Time < horizon && s.AtRisk > s.Events {
			rest := area(s.Time)
			variance += rest * rest * float64(s.Events) / (float64(s.AtRisk) * float64(s.AtRisk-s.Events))
		}
	}
	return area(0), math.Sqrt(variance), nil
}

// SurvivalWeight chooses what a comparison of two curves stresses.
type SurvivalWeight int

// The weights of [LogRank].
const (
	Unweighted   SurvivalWeight = iota // log-rank: all times alike
	GehanBreslow                       // number at risk: early times
	PetoPrentice                       // pooled survival just before: early times, unmoved by censoring
)

// LogRankTest compares two survival curves.
type LogRankTest struct {
	// Observed and Expected are the weighted events of the first and the
	// second group; events when unweighted.
	Observed, Expected [2]float64
	Variance           float64 // of observed − expected, hypergeometric
	Statistic, P       float64 // χ² with one degree of freedom
}

// LogRank tests whether two groups have the same survival. At each time with
// events the first group's expected number is d·n₁/n with variance
// d(n₁/n)(1−n₁/n)(n−d)/(n−1). Sources: Mantel, Cancer Chemother Rep
// 1966;50:163; Gehan, Biometrika 1965;52:203; Prentice, Biometrika 1978;65:167
// (all from memory).
func LogRank(first, second []Lifetime, weight SurvivalWeight) (LogRankTest, error) {
	const where = "log-rank test"
	if err := checkLifetimes(where, first); err != nil {
		return LogRankTest{}, err
	}
	if err := checkLifetimes(where, second); err != nil {
		return LogRankTest{}, err
	}
	pooled, err := KaplanMeier(slices.Concat(first, second))
	if err != nil {
		return LogRankTest{}, err
	}
	one, err := KaplanMeier(first)
	if err != nil {
		return LogRankTest{}, err
	}
	events := map[float64]int{}
	for _, s := range one.Steps {
		events[s.Time] = s.Events
	}
	var result LogRankTest
	before := 1.0
	for _, s := range pooled.Steps {
		n, d, n1, d1 := float64(s.AtRisk), float64(s.Events), float64(one.AtRisk(s.Time)), float64(events[s.Time])
		w := 1.0
		switch weight {
		case Unweighted:
		case GehanBreslow:
			w = n
		case PetoPrentice:
			w = before
		default:
			return LogRankTest{}, invalid(where, fmt.Sprintf("weight %d", weight), "one of the named weights")
		}
		before = s.Survival
		if d == 0 {
			continue
		}
		result.Observed[0] += w * d1
		result.Observed[1] += w * (d - d1)
		result.Expected[0] += w * d * n1 / n
		result.Expected[1] += w * d * (n - n1) / n
		if n > 1 {
			result.Variance += w * w * d * (n1 / n) * (1 - n1/n) * (n - d) / (n - 1)
		}
	}
	if result.Variance <= 0 {
		return LogRankTest{}, notMeasurable(where, "no event while both groups were under observation", "")
	}
	difference := result.Observed[0] - result.Expected[0]
	result.Statistic = difference * difference / result.Variance
	result.P = ChiSquareUpper(result.Statistic, 1)
	return result, nil
}
