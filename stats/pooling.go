package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// weightedQuantile interpolates between the middles of the weights of sorted
// values.
func weightedQuantile(values, weights []float64, q float64) float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compareFloat(values[a], values[b]) })
	var all float64
	for _, w := range weights {
		all += w
	}
	before, cumulative := math.Inf(-1), 0.0
	previous := values[order[0]]
	for i := 0; i < len(order); {
		value, weight := values[order[i]], 0.0
		for ; i < len(order) && values[order[i]] == value; i++ {
			weight += weights[order[i]]
		}
		middle := (cumulative + weight/2) / all
		if middle >= q {
			if math.IsInf(before, -1) {
				return value
			}
			return previous + (q-before)/(middle-before)*(value-previous)
		}
		cumulative += weight
		before, previous = middle, value
	}
	return previous
}

// Measured is one study's estimate with its standard error.
type Measured struct{ Value, StandardError float64 }

func checkMeasured(where string, studies []Measured, least int) error {
	if len(studies) < least {
		return invalid(where, fmt.Sprintf("%d studies", len(studies)), fmt.Sprintf("at least %d", least))
	}
	for i, s := range studies {
		if !finite(s.Value) || !(s.StandardError > 0) || !finite(s.StandardError) {
			return invalid(where, fmt.Sprintf("study %d is %g with standard error %g", i+1, s.Value, s.StandardError), "finite values with positive standard errors")
		}
	}
	return nil
}

// Tau says how the variance between studies is estimated.
type Tau int

// The estimators of the variance between studies.
const (
	RestrictedLikelihood Tau = iota // REML
	MaximumLikelihood
	DerSimonianLaird
	NoHeterogeneity // complete pooling: one true value for all
)

// Pooled is a random-effects (or fixed-effect) mean of studies with normal
// errors. For counts [FitBinomialNormal] is the right model.
type Pooled struct {
	Mean, StandardError float64
	TauSquared          float64 // variance between studies
	// Q is Cochran's, with P its upper tail at k−1 degrees of freedom and
	// ISquared = max(0, 1 − (k−1)/Q); not numbers for one study.
	Q, P, ISquared float64
	Studies        int
}

// Interval of the mean, Mean ± z·StandardError.
func (p Pooled) Interval(level float64) (Interval, error) {
	if err := checkLevel("pooled mean", level); err != nil {
		return Interval{}, err
	}
	return around(p.Mean, twoSided(level)*p.StandardError, level), nil
}

// Prediction is the interval of the true value of a new study, Mean ±
// t_{k−2}·√(TauSquared + StandardError²), for at least three studies. Source:
// Higgins, Thompson & Spiegelhalter, J R Stat Soc A 2009;172:137,
// doi:10.1111/j.1467-985X.2008.00552.x (from memory).
func (p Pooled) Prediction(level float64) (Interval, error) {
	if err := checkLevel("prediction interval", level); err != nil {
		return Interval{}, err
	}
	if p.Studies < 3 {
		return Interval{}, notMeasurable("prediction interval", fmt.Sprintf("%d studies", p.Studies), "needs at least three")
	}
	t := StudentQuantile(1-(1-level)/2, float64(p.Studies-2))
	return around(p.Mean, t*math.Sqrt(p.TauSquared+p.StandardError*p.StandardError), level), nil
}

// Pool weighs studies by 1/(seᵢ² + τ²). One study or more. Sources:
// DerSimonian & Laird, Control Clin Trials 1986;7:177,
// doi:10.1016/0197-2456(86)90046-2; Viechtbauer, J Educ Behav Stat
// 2005;30:261 for the likelihood estimators (both from memory).
func Pool(studies []Measured, tau Tau) (Pooled, error) {
	const where = "pooling of studies"
	if err := checkMeasured(where, studies, 1); err != nil {
		return Pooled{}, err
	}
	fixed, weight, squares := weighted(studies, 0)
	result := Pooled{Studies: len(studies), Q: nan, P: nan, ISquared: nan}
	var q float64
	for _, s := range studies {
		z := (s.Value - fixed) / s.StandardError
		q += z * z
	}
	df := float64(len(studies) - 1)
	if df > 0 {
		result.Q, result.P, result.ISquared = q, ChiSquareUpper(q, df), math.Max(0, 1-df/q)
	}
	switch {
	case tau == NoHeterogeneity || df == 0:
	case tau == DerSimonianLaird:
		result.TauSquared = math.Max(0, (q-df)/(weight-squares/weight))
	case tau == RestrictedLikelihood || tau == MaximumLikelihood:
		result.TauSquared = likelihoodTau(studies, tau == RestrictedLikelihood)
	default:
		return Pooled{}, invalid(where, fmt.Sprintf("estimator %d", tau), "one of the named estimators")
	}
	mean, weight, _ := weighted(studies, result.TauSquared)
	result.Mean, result.StandardError = mean, 1/math.Sqrt(weight)
	return result, nil
}

// weighted returns mean, sum of weights and sum of their squares.
func weighted(studies []Measured, tauSquared float64) (mean, weight, squares float64) {
	for _, s := range studies {
		w := 1 / (s.StandardError*s.StandardError + tauSquared)
		mean += w * s.Value
		weight += w
		squares += w * w
	}
	return mean / weight, weight, squares
}

// logPooled is the log-likelihood of τ² at the best mean, restricted or not,
// without constants.
func logPooled(studies []Measured, tauSquared float64, restricted bool) float64 {
	mean, weight, _ := weighted(studies, tauSquared)
	var sum float64
	for _, s := range studies {
		v := s.StandardError*s.StandardError + tauSquared
		sum -= (math.Log(v) + (s.Value-mean)*(s.Value-mean)/v) / 2
	}
	if restricted {
		sum -= math.Log(weight) / 2
	}
	return sum
}

func likelihoodTau(studies []Measured, restricted bool) float64 {
	var most, low, high float64
	low, high = studies[0].Value, studies[0].Value
	for _, s := range studies {
		low, high = math.Min(low, s.Value), math.Max(high, s.Value)
		most = math.Max(most, s.StandardError)
	}
	reach := math.Max(high-low, most)
	l, value := bestOf(func(l float64) float64 { return logPooled(studies, math.Exp(2*l), restricted) }, math.Log(1e-6*reach), math.Log(10*reach))
	if value <= logPooled(studies, 0, restricted)+1e-12 {
		return 0
	}
	return math.Exp(2 * l)
}

// HierarchicalNormal is the belief about studies that resemble each other.
type HierarchicalNormal struct {
	Mean   Posterior
	Scale  Posterior // standard deviation between studies
	Median float64   // of the scale
	Units  []Posterior
	Prior  string
}

// FitHierarchicalNormal returns posteriors under yᵢ ~ Normal(θᵢ, seᵢ²), θᵢ ~
// Normal(μ, τ²), μ flat, τ from the prior, by quadrature over τ; the rest is
// exact. At least two studies; three for a flat prior of τ to make sense.
// Source: Gelman et al., Bayesian Data Analysis, section 5.4-5.5 (from memory);
// example: Rubin, J Educ Stat 1981;6:377 (secondary).
func FitHierarchicalNormal(studies []Measured, scale ScalePrior, level float64) (HierarchicalNormal, error) {
	const where = "hierarchical normal model"
	if err := checkMeasured(where, studies, 2); err != nil {
		return HierarchicalNormal{}, err
	}
	if err := scale.check(where); err != nil {
		return HierarchicalNormal{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return HierarchicalNormal{}, err
	}
	const nodes = 400
	taus, logWeights := scale.nodes(nodes, func(tau float64) float64 { return logPooled(studies, tau*tau, true) })
	weights := make([]float64, nodes)
	for i, tau := range taus {
		weights[i] = logWeights[i] + logPooled(studies, tau*tau, true)
	}
	all := logSumExp(weights)
	means, variances := make([]float64, nodes), make([]float64, nodes)
	for i, tau := range taus {
		weights[i] = math.Exp(weights[i] - all)
		mean, weight, _ := weighted(studies, tau*tau)
		means[i], variances[i] = mean, 1/weight
	}
	result := HierarchicalNormal{Prior: scale.name, Mean: normalMixture(weights, means, variances, level)}
	var first, second float64
	for i, tau := range taus {
		first += weights[i] * tau
		second += weights[i] * tau * tau
	}
	tail := (1 - level) / 2
	result.Median = weightedQuantile(taus, weights, 0.5)
	result.Scale = Posterior{first, math.Sqrt(math.Max(0, second-first*first)), Interval{weightedQuantile(taus, weights, tail), weightedQuantile(taus, weights, 1-tail), level}}
	for _, s := range studies {
		m, v := make([]float64, nodes), make([]float64, nodes)
		for i, tau := range taus {
			// Given τ and μ: θ = B·μ + (1−B)·y with B = se²/(se²+τ²).
			own := s.StandardError * s.StandardError
			shrink := own / (own + tau*tau)
			m[i] = shrink*means[i] + (1-shrink)*s.Value
			v[i] = (1-shrink)*own + shrink*shrink*variances[i]
		}
		result.Units = append(result.Units, normalMixture(weights, m, v, level))
	}
	return result, nil
}

// normalMixture summarises Σ wᵢ·Normal(mᵢ, vᵢ).
func normalMixture(weights, means, variances []float64, level float64) Posterior {
	var mean, square float64
	low, high := math.Inf(1), math.Inf(-1)
	for i, w := range weights {
		mean += w * means[i]
		sd := math.Sqrt(variances[i])
		low, high = math.Min(low, means[i]-10*sd), math.Max(high, means[i]+10*sd)
	}
	for i, w := range weights {
		square += w * (variances[i] + (means[i]-mean)*(means[i]-mean))
	}
	quantile := func(q float64) float64 {
		return bisectRough(func(x float64) float64 {
			var sum float64
			for i, w := range weights {
				if w > 0 {
					sum += w * NormalCDF((x-means[i])/math.Sqrt(variances[i]))
				}
			}
			return sum - q
		}, low, high)
	}
	tail := (1 - level) / 2
	return Posterior{mean, math.Sqrt(square), Interval{quantile(tail), quantile(1 - tail), level}}
}

// IntegrateNormal returns the mean of f over Normal(mean, sd²) by Gauss-Hermite
// quadrature with n points, exact for polynomials up to degree 2n − 1. n from 1
// to 200; f is called n times.
func IntegrateNormal(f func(float64) float64, mean, sd float64, n int) (float64, error) {
	const where = "Gauss-Hermite quadrature"
	if n < 1 || n > 200 || !finite(mean) || !(sd >= 0) || !finite(sd) {
		return 0, invalid(where, fmt.Sprintf("%d points, mean %g, standard deviation %g", n, mean, sd), "1 to 200 points, a finite mean and a standard deviation from zero")
	}
	x, w := make([]float64, n), make([]float64, n)
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	var sum float64
	for i := range x {
		sum += w[i] * f(mean+math.Sqrt2*sd*x[i])
	}
	return sum / math.Sqrt(math.Pi), nil
}
