package stats

import (
	"fmt"
	"math"

	"limitans/estimate"
)

// The intervals for one proportion take r events among n ≥ 1 trials and a
// level between 0 and 1; anything else is refused. They assume independent
// trials of one probability; two eyes of one person are not independent.

// Proportion returns r/n with its 95 % Wilson interval: the default for any
// proportion that is shown.
func Proportion(events, trials int) (estimate.Estimate, error) {
	interval, err := Wilson(events, trials, 0.95)
	if err != nil {
		return estimate.Estimate{}, err
	}
	return interval.Estimate(float64(events)/float64(trials), fmt.Sprintf("%d of %d, Wilson score interval", events, trials))
}

// Wilson returns the score interval
//
//	(2r + z² ± z·√(z² + 4r(1 − r/n))) / (2(n + z²))
//
// which never leaves [0, 1] and never has zero width. Source: Newcombe, Stat
// Med 1998;17:857 (method 3; abstract read, table figures from memory).
func Wilson(events, trials int, level float64) (Interval, error) {
	const where = "Wilson interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	low, high := wilsonLimits(float64(events), float64(trials), twoSided(level), 0)
	return Interval{low, high, level}, nil
}

// WilsonContinuity returns the score interval with continuity correction:
// Wilson's limits for r ∓ ½ with variance at the corrected proportion. Wider
// than [Wilson]. Source: Newcombe, Stat Med 1998;17:857 (method 4).
func WilsonContinuity(events, trials int, level float64) (Interval, error) {
	const where = "Wilson interval with continuity correction"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	low, high := wilsonLimits(float64(events), float64(trials), twoSided(level), 0.5)
	return Interval{low, high, level}, nil
}

func checkProportion(where string, events, trials int, level float64) error {
	if err := checkCounts(where, events, trials); err != nil {
		return err
	}
	return checkLevel(where, level)
}

// wilsonLimits solves |p̂ − p| − correction/n = z·√(p(1−p)/n) on each side. The
// ends 0 and 1 are exact, not rounded.
func wilsonLimits(r, n, z, correction float64) (low, high float64) {
	limit := func(p, sign float64) float64 {
		half := z * z / (2 * n)
		return (p + half + sign*z*math.Sqrt(p*(1-p)/n+half/(2*n))) / (1 + 2*half)
	}
	high = 1
	if p := (r - correction) / n; p > 0 {
		low = limit(p, -1)
	}
	if p := (r + correction) / n; p < 1 {
		high = limit(p, 1)
	}
	return low, high
}

// ClopperPearson returns the exact interval: the beta quantiles α/2 of
// (r, n−r+1) and 1−α/2 of (r+1, n−r), 0 and 1 at the ends. Its coverage is at
// least the level, so it is wide. Source: Clopper & Pearson, Biometrika
// 1934;26:404 (from memory); figures as in Newcombe, Stat Med 1998;17:857.
func ClopperPearson(events, trials int, level float64) (Interval, error) {
	const where = "Clopper-Pearson interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	r, n, tail := float64(events), float64(trials), (1-level)/2
	result := Interval{0, 1, level}
	if events > 0 {
		result.Low = BetaQuantile(tail, r, n-r+1)
	}
	if events < trials {
		result.High = 1 - BetaQuantile(tail, n-r, r+1)
	}
	return result, nil
}

// MidP returns the interval whose tail areas count half of the probability of
// the observed number: P(X > r) + ½P(X = r) = α/2 and likewise below. Coverage
// is near the level on average, not guaranteed. Source: Newcombe, Stat Med
// 1998;17:857.
func MidP(events, trials int, level float64) (Interval, error) {
	const where = "mid-P interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	tail := (1 - level) / 2
	result := Interval{0, 1, level}
	if events > 0 {
		result.Low = bisect(func(p float64) float64 {
			return BinomialUpper(events+1, trials, p) + 0.5*BinomialPMF(events, trials, p) - tail
		}, 0, float64(events)/float64(trials))
	}
	if events < trials {
		result.High = bisect(func(p float64) float64 {
			return BinomialCDF(events-1, trials, p) + 0.5*BinomialPMF(events, trials, p) - tail
		}, float64(events)/float64(trials), 1)
	}
	return result, nil
}

// AgrestiCoull returns Wald's interval on ñ = n + z² trials and r + z²/2
// events. It may pass 0 or 1; it is given as it is, for the caller to show or
// not. Source: Agresti & Coull, Am Stat 1998;52:119 (from memory).
func AgrestiCoull(events, trials int, level float64) (Interval, error) {
	const where = "Agresti-Coull interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	z := twoSided(level)
	n := float64(trials) + z*z
	p := (float64(events) + z*z/2) / n
	return around(p, z*math.Sqrt(p*(1-p)/n), level), nil
}

// Jeffreys returns the central posterior interval under the prior Beta(½, ½),
// with 0 at no event and 1 at nothing but events. Source: Brown, Cai &
// DasGupta, Stat Sci 2001;16:101, doi:10.1214/ss/1009213286 (from memory).
func Jeffreys(events, trials int, level float64) (Interval, error) {
	const where = "Jeffreys interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	r, n, tail := float64(events), float64(trials), (1-level)/2
	result := Interval{0, 1, level}
	if events > 0 {
		result.Low = BetaQuantile(tail, r+0.5, n-r+0.5)
	}
	if events < trials {
		result.High = 1 - BetaQuantile(tail, n-r+0.5, r+0.5)
	}
	return result, nil
}

// Wald returns p̂ ± z·√(p̂(1−p̂)/n). It has no width at 0 and n and passes 0
// and 1 nearby; it is here only to show why it is not used.
func Wald(events, trials int, level float64) (Interval, error) {
	const where = "Wald interval"
	if err := checkProportion(where, events, trials, level); err != nil {
		return Interval{}, err
	}
	p := float64(events) / float64(trials)
	return around(p, twoSided(level)*math.Sqrt(p*(1-p)/float64(trials)), level), nil
}

// ZeroEventsUpper returns the exact one-sided upper bound of a probability
// after n trials without an event: 1 − (1−level)^(1/n), 1 − 0.05^(1/n) at 0.95.
func ZeroEventsUpper(trials int, level float64) (float64, error) {
	const where = "bound after no event"
	if err := checkProportion(where, 0, trials, level); err != nil {
		return 0, err
	}
	return -math.Expm1(math.Log1p(-level) / float64(trials)), nil
}

// RuleOfThree returns 3/n, the quick approximation of the one-sided 95 % bound
// of [ZeroEventsUpper]; above 1 below three trials, where it says nothing.
// Source: Hanley & Lippman-Hand, JAMA 1983;249:1743 (from memory).
func RuleOfThree(trials int) (float64, error) {
	if err := checkCounts("rule of three", 0, trials); err != nil {
		return 0, err
	}
	return 3 / float64(trials), nil
}
