package stats

import (
	"fmt"
	"math"
)

// BetaDistribution is belief about a probability: prior or posterior. A+B is
// how many trials it is worth.
type BetaDistribution struct{ A, B float64 }

// Priors that say little: flat, and Jeffreys'.
var (
	FlatPrior     = BetaDistribution{1, 1}
	JeffreysPrior = BetaDistribution{0.5, 0.5}
)

func (d BetaDistribution) check(where string) error {
	if err := checkPositive(where, "A", d.A); err != nil {
		return err
	}
	return checkPositive(where, "B", d.B)
}

// Updated returns the belief after events among trials: Beta(A+r, B+n−r).
func (d BetaDistribution) Updated(events, trials int) (BetaDistribution, error) {
	const where = "beta-binomial update"
	if err := d.check(where); err != nil {
		return BetaDistribution{}, err
	}
	if events < 0 || events > trials || trials > mostTrials {
		return BetaDistribution{}, invalid(where, fmt.Sprintf("%d events in %d trials", events, trials), "from zero to all of the trials")
	}
	return BetaDistribution{d.A + float64(events), d.B + float64(trials-events)}, nil
}

// Mean returns A/(A+B).
func (d BetaDistribution) Mean() float64 { return d.A / (d.A + d.B) }

// StandardDeviation returns √(AB/((A+B)²(A+B+1))).
func (d BetaDistribution) StandardDeviation() float64 {
	n := d.A + d.B
	return math.Sqrt(d.A*d.B/(n+1)) / n
}

// Interval returns the central interval of the level.
func (d BetaDistribution) Interval(level float64) (Interval, error) {
	const where = "credible interval"
	if err := d.check(where); err != nil {
		return Interval{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return Interval{}, err
	}
	tail := (1 - level) / 2
	return Interval{BetaQuantile(tail, d.A, d.B), 1 - BetaQuantile(tail, d.B, d.A), level}, nil
}

// ProbabilityAbove returns P(p > x) for 0 ≤ x ≤ 1, not a number outside.
func (d BetaDistribution) ProbabilityAbove(x float64) float64 { return BetaUpper(x, d.A, d.B) }

// Predictive returns the beta-binomial probability of k events in the next n
// trials.
func (d BetaDistribution) Predictive(k, n int) (float64, error) {
	const where = "predictive probability"
	if err := d.check(where); err != nil {
		return 0, err
	}
	if err := checkCounts(where, k, n); err != nil {
		return 0, err
	}
	fk, fn := float64(k), float64(n)
	return math.Exp(logChoose(fn, fk) + logBeta(d.A+fk, d.B+fn-fk) - logBeta(d.A, d.B)), nil
}

// ProbabilityGreater returns P(p₁ > p₂) of two independent beliefs,
// ∫ f₁(x)·F₂(x) dx, by the trapezium rule on the logit scale, where the
// integrand falls off smoothly on both sides.
func ProbabilityGreater(first, second BetaDistribution) (float64, error) {
	const where = "probability that one is greater"
	for _, d := range []BetaDistribution{first, second} {
		if err := d.check(where); err != nil {
			return 0, err
		}
		if math.Min(d.A, d.B) < 0.01 {
			return 0, invalid(where, fmt.Sprintf("a belief Beta(%g, %g)", d.A, d.B), "both parameters at least 0.01")
		}
	}
	density := func(u float64) float64 { return -first.A*logOnePlusExp(-u) - first.B*logOnePlusExp(u) }
	w := concaveWindow(density, logit(first.Mean()), first.StandardDeviation()/(first.Mean()*(1-first.Mean())))
	// The logistic function bends on the scale of one, shallow beliefs reach far.
	points := max(800, int((w.high-w.low)/0.25))
	var sum, norm float64
	w.walk(points, func(u float64) {
		f := math.Exp(density(u) - w.top)
		norm += f
		if u < 0 {
			sum += f * BetaCDF(logistic(u), second.A, second.B)
		} else { // the distance from one keeps its digits
			sum += f * (1 - BetaCDF(logistic(-u), second.B, second.A))
		}
	})
	return math.Min(1, sum/norm), nil
}
