package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// BinomialNormalRegression is a random-effects logistic regression of units:
// rᵢ ~ Binomial(nᵢ, pᵢ), logit pᵢ ~ Normal(β₀ + xᵢ·β, StandardDeviation²).
type BinomialNormalRegression struct {
	Coefficients      []float64 // intercept first, then one a predictor
	StandardErrors    []float64 // given the standard deviation: a little too small
	Covariance        [][]float64
	StandardDeviation float64 // between units, of the logits
	LogLikelihood     float64
	// FixedLogLikelihood is the best without spread between units, and
	// HeterogeneityP half of the upper tail of χ²₁ against it.
	FixedLogLikelihood, HeterogeneityP float64

	scales  scaling
	gamma   []float64
	inverse *mat.SymDense
}

// FitBinomialNormalRegression fits at least two units more than predictors by
// maximum likelihood, each unit's logit integrated to rounding: Newton's method
// in the coefficients, where the likelihood is log-concave, and a search in the
// standard deviation. predictors has one row a unit, without intercept. The
// predictors are those of the units, not of their members; that a unit with
// larger holes closes fewer of them does not say so of each hole. Separation is
// refused. Source of the model: Stijnen, Hamza & Özdemir, Stat Med
// 2010;29:3046, doi:10.1002/sim.4040 (from memory).
func FitBinomialNormalRegression(counts []Counts, predictors [][]float64) (BinomialNormalRegression, error) {
	const where = "binomial-normal regression"
	if err := checkUnits(where, counts, 2); err != nil {
		return BinomialNormalRegression{}, err
	}
	p, err := checkRows(where, predictors, len(counts))
	if err != nil {
		return BinomialNormalRegression{}, err
	}
	if len(counts) < p+2 {
		return BinomialNormalRegression{}, invalid(where, fmt.Sprintf("%d units and %d predictors", len(counts), p), "at least two units more than predictors")
	}
	if all := total(counts); all.Events == 0 || all.Events == all.Trials {
		return BinomialNormalRegression{}, notMeasurable(where, "every outcome is the same", "use an exact interval of the proportion")
	}
	x, scales, err := standardise(where, predictors, true)
	if err != nil {
		return BinomialNormalRegression{}, err
	}
	d := unitRegression{where: where}
	var start float64
	d.units, start, _ = newBinomialUnits(counts)
	for _, row := range x.values {
		d.rows = append(d.rows, append([]float64{1}, row...))
	}
	m := BinomialNormalRegression{scales: scales, gamma: make([]float64, p+1)}
	m.gamma[0] = start
	if m.FixedLogLikelihood, m.inverse, err = d.best(m.gamma, 0); err != nil {
		return BinomialNormalRegression{}, err
	}
	m.LogLikelihood, m.HeterogeneityP = m.FixedLogLikelihood, 1
	warm := append([]float64(nil), m.gamma...)
	var failed error
	logSigma, value := bestOf(func(l float64) float64 {
		v, _, err := d.best(warm, math.Exp(l))
		if err != nil {
			failed = err
			return math.Inf(-1)
		}
		return v
	}, math.Log(10*leastSigma), math.Log(mostSigma))
	if math.IsInf(value, -1) {
		return BinomialNormalRegression{}, failed
	}
	if value > m.FixedLogLikelihood+1e-10 {
		m.StandardDeviation, m.gamma = math.Exp(logSigma), warm
		if m.LogLikelihood, m.inverse, err = d.best(m.gamma, m.StandardDeviation); err != nil {
			return BinomialNormalRegression{}, err
		}
		m.HeterogeneityP = ChiSquareUpper(2*(m.LogLikelihood-m.FixedLogLikelihood), 1) / 2
	}
	m.Coefficients, m.Covariance = scales.backWith(m.gamma, m.inverse)
	m.StandardErrors = rootDiagonal(m.Covariance)
	return m, nil
}

// Predict returns the probability of the middle unit with such predictors, its
// interval, and the interval for the true probability of one new unit, which
// adds the spread between units. Wald's intervals on the logit.
func (m BinomialNormalRegression) Predict(row []float64, level float64) (probability float64, mean, unit Interval, err error) {
	const where = "prediction"
	if len(m.gamma) == 0 || len(row) != len(m.gamma)-1 {
		return 0, mean, unit, invalid(where, fmt.Sprintf("%d predictors", len(row)), fmt.Sprintf("%d", max(0, len(m.gamma)-1)))
	}
	if err := checkFinite(where, "row", row, 0); err != nil {
		return 0, mean, unit, err
	}
	if err := checkLevel(where, level); err != nil {
		return 0, mean, unit, err
	}
	z := mat.NewVecDense(len(m.gamma), nil)
	z.SetVec(0, 1)
	for j, x := range row {
		z.SetVec(j+1, (x-m.scales.means[j])/m.scales.spreads[j])
	}
	eta, sd := dot(z.RawVector().Data, m.gamma), math.Sqrt(mat.Inner(z, m.inverse, z))
	within := func(half float64) Interval { return Interval{logistic(eta - half), logistic(eta + half), level} }
	quantile := twoSided(level)
	return logistic(eta), within(quantile * sd), within(quantile * math.Hypot(sd, m.StandardDeviation)), nil
}

// unitRegression holds units with standardised rows that begin with 1.
type unitRegression struct {
	where string
	units []binomialUnit
	rows  [][]float64
}

// best moves gamma to the maximum at a standard deviation.
func (d unitRegression) best(gamma []float64, sigma float64) (float64, *mat.SymDense, error) {
	return newton(d.where, gamma, func(gamma []float64) (float64, []float64, *mat.SymDense) { return d.evaluate(gamma, sigma) })
}

// evaluate uses that d ln ∫/dμ = E(θ−μ)/σ² and d² = Var(θ)/σ⁴ − 1/σ², with
// mean and variance of the logit given the unit's data.
func (d unitRegression) evaluate(gamma []float64, sigma float64) (float64, []float64, *mat.SymDense) {
	q := len(gamma)
	var loglik compensatedSum
	gradient, information := make([]float64, q), mat.NewSymDense(q, nil)
	for i, u := range d.units {
		row := d.rows[i]
		mu := dot(gamma, row)
		g := u.given(mu, sigma)
		loglik.add(g.logMarginal)
		slope, curvature := u.r-u.n*logistic(mu), u.n*logistic(mu)*logistic(-mu)
		if sigma > 0 {
			slope, curvature = g.slope/(sigma*sigma), (1-g.variance/(sigma*sigma))/(sigma*sigma)
		}
		for a, v := range row {
			gradient[a] += slope * v
			for b := a; b < q; b++ {
				information.SetSym(a, b, information.At(a, b)+curvature*v*row[b])
			}
		}
	}
	return loglik.total(), gradient, information
}
