package stats

import (
	"fmt"
	"math"
)

// BinomialNormal is a random-effects model of proportions fitted by maximum
// likelihood: rᵢ ~ Binomial(nᵢ, pᵢ), logit pᵢ ~ Normal(Mean, StandardDeviation²).
// No continuity correction, no normal approximation of small counts.
type BinomialNormal struct {
	Mean, StandardDeviation float64 // of the logits
	// MeanStandardError is from the observed information of both parameters.
	MeanStandardError float64
	LogLikelihood     float64
	// HomogeneousLogLikelihood is the best with one probability for all, and
	// HeterogeneityP the p value against it: half of the upper tail of χ²₁,
	// because the standard deviation ends at zero.
	HomogeneousLogLikelihood, HeterogeneityP float64
	// Conditional is the most probable value of each unit's probability given
	// the fit (empirical Bayes): shrunken towards the middle.
	Conditional []float64

	units []binomialUnit
}

// The standard deviations of logits that are searched: a tenth of a percent in
// the odds, to units that range from never to always.
const (
	leastSigma = 1e-3
	mostSigma  = 20
)

// FitBinomialNormal fits at least two units; all or no events in total is
// refused, because the mean logit is infinite then. The marginal likelihood is
// integrated numerically to rounding. Source of the model: Stijnen, Hamza &
// Özdemir, Stat Med 2010;29:3046, doi:10.1002/sim.4040 (from memory).
func FitBinomialNormal(counts []Counts) (BinomialNormal, error) {
	const where = "binomial-normal model"
	if err := checkUnits(where, counts, 2); err != nil {
		return BinomialNormal{}, err
	}
	if all := total(counts); all.Events == 0 || all.Events == all.Trials {
		return BinomialNormal{}, notMeasurable(where, fmt.Sprintf("%d of %d events in all units together", all.Events, all.Trials), "use an exact interval of the proportion")
	}
	units, start, spread := newBinomialUnits(counts)
	m := BinomialNormal{units: units}
	m.HomogeneousLogLikelihood = math.Inf(-1)
	m.Mean, m.HomogeneousLogLikelihood = m.bestMean(0, start, spread)
	m.LogLikelihood = m.HomogeneousLogLikelihood
	logSigma, value := bestOf(func(l float64) float64 {
		_, v := m.bestMean(math.Exp(l), start, spread)
		return v
	}, math.Log(leastSigma), math.Log(mostSigma))
	if value > m.LogLikelihood+1e-10 {
		m.StandardDeviation = math.Exp(logSigma)
		m.Mean, m.LogLikelihood = m.bestMean(m.StandardDeviation, start, spread)
	}
	m.HeterogeneityP = 1
	if x := 2 * (m.LogLikelihood - m.HomogeneousLogLikelihood); x > 0 {
		m.HeterogeneityP = ChiSquareUpper(x, 1) / 2
	}
	m.MeanStandardError = m.errorOfMean()
	for _, u := range units {
		theta := m.Mean
		if m.StandardDeviation > 0 {
			theta, _ = u.mode(m.Mean, m.StandardDeviation)
		}
		m.Conditional = append(m.Conditional, logistic(theta))
	}
	return m, nil
}

// bestOf scans a coarse grid for the highest place and closes in on it.
func bestOf(f func(float64) float64, low, high float64) (place, value float64) {
	const cells = 20
	width := (high - low) / cells
	best, value := 0, math.Inf(-1)
	for i := range cells + 1 {
		if v := f(low + float64(i)*width); v > value {
			best, value = i, v
		}
	}
	return goldenMaximum(f, low+math.Max(0, float64(best-1))*width, low+math.Min(cells, float64(best+1))*width, 1e-6)
}

// bestMean maximises over the mean, in which the likelihood is log-concave.
func (m BinomialNormal) bestMean(sigma, start, spread float64) (mean, value float64) {
	f := func(mu float64) float64 { return logMarginals(m.units, mu, sigma) }
	reach := 4*spread + 2*sigma
	low, high := start-reach, start+reach
	for f(low) >= f(low+reach/16) && low > -700 {
		low -= reach
	}
	for f(high) >= f(high-reach/16) && high < 700 {
		high += reach
	}
	return goldenMaximum(f, low, high, 1e-7)
}

// errorOfMean inverts the information by central differences.
func (m BinomialNormal) errorOfMean() float64 {
	f := func(mu, logSigma float64) float64 { return logMarginals(m.units, mu, math.Exp(logSigma)) }
	const h = 1e-3
	if m.StandardDeviation == 0 {
		value := func(mu float64) float64 { return logMarginals(m.units, mu, 0) }
		return 1 / math.Sqrt(-(value(m.Mean+h)-2*value(m.Mean)+value(m.Mean-h))/(h*h))
	}
	l := math.Log(m.StandardDeviation)
	middle := f(m.Mean, l)
	mm := -(f(m.Mean+h, l) - 2*middle + f(m.Mean-h, l)) / (h * h)
	ss := -(f(m.Mean, l+h) - 2*middle + f(m.Mean, l-h)) / (h * h)
	ms := -(f(m.Mean+h, l+h) - f(m.Mean+h, l-h) - f(m.Mean-h, l+h) + f(m.Mean-h, l-h)) / (4 * h * h)
	if determinant := mm*ss - ms*ms; ss > 0 && determinant > 0 {
		return math.Sqrt(ss / determinant)
	}
	return 1 / math.Sqrt(mm)
}

// Probability returns the probability of the middle unit, logistic(Mean), with
// its profile-likelihood interval, which allows for not knowing the standard
// deviation. It is the median over units, not their mean: see
// [BinomialNormal.PopulationMean].
func (m BinomialNormal) Probability(level float64) (float64, Interval, error) {
	if err := m.check(level); err != nil {
		return 0, Interval{}, err
	}
	drop := ChiSquareQuantile(level, 1) / 2
	short := func(mu float64) float64 {
		_, v := bestOf(func(l float64) float64 { return logMarginals(m.units, mu, math.Exp(l)) }, math.Log(leastSigma), math.Log(mostSigma))
		v = math.Max(v, logMarginals(m.units, mu, 0))
		return m.LogLikelihood - v - drop
	}
	end := func(sign float64) float64 {
		reach := 2 * m.MeanStandardError
		for short(m.Mean+sign*reach) < 0 && reach < 100 {
			reach *= 1.5
		}
		low, high := 0.0, reach
		for high-low > 1e-6*reach {
			middle := (low + high) / 2
			if short(m.Mean+sign*middle) < 0 {
				low = middle
			} else {
				high = middle
			}
		}
		return logistic(m.Mean + sign*high)
	}
	return logistic(m.Mean), Interval{end(-1), end(1), level}, nil
}

func (m BinomialNormal) check(level float64) error {
	const where = "binomial-normal model"
	if len(m.units) == 0 {
		return invalid(where, "a model that was not fitted", "the result of a fit")
	}
	return checkLevel(where, level)
}

// PopulationMean returns the mean probability over units, ∫ logistic(θ)·N(θ).
func (m BinomialNormal) PopulationMean() float64 {
	if m.StandardDeviation == 0 {
		return logistic(m.Mean)
	}
	var sum, norm float64
	const steps = 200
	for i := range steps + 1 {
		z := -9 + 18*float64(i)/steps
		w := math.Exp(-z * z / 2)
		norm += w
		sum += w * logistic(m.Mean+m.StandardDeviation*z)
	}
	return sum / norm
}

// Prediction returns the interval for the true probability of a new unit:
// logistic(Mean ± t·√(StandardDeviation² + MeanStandardError²)) with k − 2
// degrees of freedom for k units, so at least three. The uncertainty of the
// standard deviation enters through t only. Source: Higgins, Thompson &
// Spiegelhalter, J R Stat Soc A 2009;172:137,
// doi:10.1111/j.1467-985X.2008.00552.x (from memory).
func (m BinomialNormal) Prediction(level float64) (Interval, error) {
	if err := m.check(level); err != nil {
		return Interval{}, err
	}
	if len(m.units) < 3 {
		return Interval{}, notMeasurable("prediction interval", fmt.Sprintf("%d units", len(m.units)), "needs at least three")
	}
	half := StudentQuantile(1-(1-level)/2, float64(len(m.units)-2)) * math.Hypot(m.StandardDeviation, m.MeanStandardError)
	return Interval{logistic(m.Mean - half), logistic(m.Mean + half), level}, nil
}

// BetaBinomial is a random-effects model of proportions with pᵢ ~ Beta(A, B).
type BetaBinomial struct {
	Population    BetaDistribution
	LogLikelihood float64
}

// Shrunken returns a unit's belief given the population: Beta(A+r, B+n−r),
// with mean (A+r)/(A+B+n).
func (m BetaBinomial) Shrunken(unit Counts) (BetaDistribution, error) {
	return m.Population.Updated(unit.Events, unit.Trials)
}

// FitBetaBinomial fits at least two units by maximum likelihood. Units that
// vary no more than chance allows have no finite maximum (A+B grows without
// end) and are refused: pool them. Source: Griffiths, Biometrics 1973;29:637
// (from memory).
func FitBetaBinomial(counts []Counts) (BetaBinomial, error) {
	const where = "beta-binomial model"
	if err := checkUnits(where, counts, 2); err != nil {
		return BetaBinomial{}, err
	}
	all := total(counts)
	if all.Events == 0 || all.Events == all.Trials {
		return BetaBinomial{}, notMeasurable(where, "all outcomes are the same", "use an exact interval of the proportion")
	}
	loglik := func(mean, size float64) float64 {
		a, b := mean*size, (1-mean)*size
		var sum compensatedSum
		for _, c := range counts {
			r, n := float64(c.Events), float64(c.Trials)
			sum.add(logChoose(n, r) + logBeta(a+r, b+n-r) - logBeta(a, b))
		}
		return sum.total()
	}
	bestMean := func(size float64) (float64, float64) {
		l, v := goldenMaximum(func(l float64) float64 { return loglik(logistic(l), size) }, -25, 25, 1e-8)
		return logistic(l), v
	}
	const least, most = 1e-3, 1e7
	logSize, value := bestOf(func(l float64) float64 {
		_, v := bestMean(math.Exp(l))
		return v
	}, math.Log(least), math.Log(most))
	size := math.Exp(logSize)
	if size > most/10 || size < least*10 {
		return BetaBinomial{}, notMeasurable(where, "the spread between units has no finite estimate", "pool the units or give a prior")
	}
	mean, _ := bestMean(size)
	return BetaBinomial{BetaDistribution{mean * size, (1 - mean) * size}, value}, nil
}
