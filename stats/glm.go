package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// RegressionModel is a fitted logistic or Poisson regression.
type RegressionModel struct {
	Coefficients   []float64 // intercept first, then one a predictor
	StandardErrors []float64 // from the inverse information
	Covariance     [][]float64
	LogLikelihood  float64 // with all constants; penalised in Firth's fit
	// Deviance against a perfect fit, and that of the intercept alone.
	Deviance, NullDeviance float64
	// Fitted is the probability, or the expected count, of each row.
	Fitted []float64
	// Dispersion is Pearson's χ² over its degrees of freedom; well above one,
	// the standard errors of grouped counts are too small.
	Dispersion float64

	data     *regression
	gamma    []float64 // in standardised units
	inverse  *mat.SymDense
	scales   scaling
	logConst float64
}

// regression is the data of a fit: rows are standardised and begin with 1.
type regression struct {
	where   string
	rows    [][]float64
	y       []float64 // events or counts
	n       []float64 // trials; nil for counts
	offset  []float64 // added to x·β; nil for none
	penalty bool      // Firth's
}

// LogisticRegression fits logit P(outcome) = β₀ + x·β by maximum likelihood.
// predictors has one row an observation, without intercept (rows may be empty).
// Complete separation, where no maximum exists, is refused; [FirthRegression]
// is the way out. With ten events of the rarer kind one predictor, two at most,
// can be supported (Peduzzi et al., J Clin Epidemiol 1996;49:1373; from memory).
// Two eyes of one person are not independent: see
// [RegressionModel.ClusterRobustErrors].
func LogisticRegression(predictors [][]float64, outcomes []bool) (RegressionModel, error) {
	return binaryRegression("logistic regression", predictors, outcomes, false)
}

// FirthRegression is [LogisticRegression] by Firth's penalised likelihood, the
// likelihood times the root of the determinant of its information. It is finite
// under separation and less biased at small numbers. Standard errors are from
// the unpenalised information; prefer [RegressionModel.ProfileInterval]. Source:
// Firth, Biometrika 1993;80:27, doi:10.1093/biomet/80.1.27 (from memory).
func FirthRegression(predictors [][]float64, outcomes []bool) (RegressionModel, error) {
	return binaryRegression("Firth regression", predictors, outcomes, true)
}

func binaryRegression(where string, predictors [][]float64, outcomes []bool, penalty bool) (RegressionModel, error) {
	if err := checkOutcomes(where, outcomes, len(predictors)); err != nil {
		return RegressionModel{}, err
	}
	events, trials := make([]int, len(outcomes)), make([]int, len(outcomes))
	for i, o := range outcomes {
		events[i], trials[i] = int(indicator(o)), 1
	}
	return groupedRegression(where, predictors, events, trials, penalty)
}

// BinomialRegression is [LogisticRegression] of counts: events among trials in
// each row.
func BinomialRegression(predictors [][]float64, events, trials []int) (RegressionModel, error) {
	return groupedRegression("binomial regression", predictors, events, trials, false)
}

func groupedRegression(where string, predictors [][]float64, events, trials []int, penalty bool) (RegressionModel, error) {
	if len(events) != len(trials) {
		return RegressionModel{}, checkSameLength(where, len(events), len(trials))
	}
	if _, err := checkRows(where, predictors, len(events)); err != nil {
		return RegressionModel{}, err
	}
	data := &regression{where: where, penalty: penalty, y: make([]float64, len(events)), n: make([]float64, len(events))}
	var logConst, total, all float64
	for i := range events {
		if err := checkCounts(where, events[i], trials[i]); err != nil {
			return RegressionModel{}, err
		}
		data.y[i], data.n[i] = float64(events[i]), float64(trials[i])
		logConst += logChoose(data.n[i], data.y[i])
		total += data.y[i]
		all += data.n[i]
	}
	if !penalty && (total == 0 || total == all) {
		return RegressionModel{}, notMeasurable(where, "every outcome is the same", "use an exact interval of the proportion")
	}
	return data.fit(predictors, logConst)
}

// PoissonRegression fits ln E(count) = ln exposure + β₀ + x·β by maximum
// likelihood. exposure is positive, or nil for one each.
func PoissonRegression(predictors [][]float64, counts []int, exposure []float64) (RegressionModel, error) {
	const where = "Poisson regression"
	if _, err := checkRows(where, predictors, len(counts)); err != nil {
		return RegressionModel{}, err
	}
	data := &regression{where: where, y: make([]float64, len(counts))}
	var logConst, total float64
	for i, c := range counts {
		if c < 0 || c > mostTrials {
			return RegressionModel{}, invalid(where, fmt.Sprintf("count %d", c), "counts from zero")
		}
		data.y[i] = float64(c)
		total += data.y[i]
		logConst -= logGamma(data.y[i] + 1)
	}
	if exposure != nil {
		if err := checkSameLength(where, len(exposure), len(counts)); err != nil {
			return RegressionModel{}, err
		}
		data.offset = make([]float64, len(exposure))
		for i, e := range exposure {
			if err := checkPositive(where, "exposure", e); err != nil {
				return RegressionModel{}, err
			}
			data.offset[i] = math.Log(e)
		}
	}
	if total == 0 {
		return RegressionModel{}, notMeasurable(where, "no event at all", "use the bound after no event")
	}
	return data.fit(predictors, logConst)
}

func (d *regression) fit(predictors [][]float64, logConst float64) (RegressionModel, error) {
	p, err := checkRows(d.where, predictors, len(d.y))
	if err != nil {
		return RegressionModel{}, err
	}
	x, scales, err := standardise(d.where, predictors, true)
	if err != nil {
		return RegressionModel{}, err
	}
	d.rows = make([][]float64, len(predictors))
	for i := range d.rows {
		d.rows[i] = append([]float64{1}, x.values[i]...)
	}
	m := RegressionModel{data: d, gamma: make([]float64, p+1), scales: scales, logConst: logConst}
	m.gamma[0] = d.start()
	loglik, inverse, err := newton(d.where, m.gamma, d.evaluate)
	if err != nil {
		return RegressionModel{}, err
	}
	m.inverse, m.LogLikelihood = inverse, loglik+logConst
	m.Coefficients, m.Covariance = scales.backWith(m.gamma, inverse)
	m.StandardErrors = rootDiagonal(m.Covariance)
	m.Fitted = d.fitted(m.gamma)
	m.Deviance = d.deviance(m.Fitted)
	for i, f := range m.Fitted {
		m.Dispersion += d.pearson(i, f)
	}
	m.Dispersion /= float64(len(d.y) - p - 1) // not a number for a saturated fit
	alone := *d
	alone.penalty, alone.rows = false, make([][]float64, len(d.rows))
	for i := range alone.rows {
		alone.rows[i] = []float64{1}
	}
	null := []float64{d.start()}
	m.NullDeviance = nan // all outcomes the same under Firth's penalty
	if _, _, err := newton(d.where, null, alone.evaluate); err == nil {
		m.NullDeviance = alone.deviance(alone.fitted(null))
	}
	return m, nil
}

// start is the intercept that fits the total, moved off the ends.
func (d *regression) start() float64 {
	var events, trials float64
	for i, y := range d.y {
		events += y
		switch {
		case d.n != nil:
			trials += d.n[i]
		case d.offset != nil:
			trials += math.Exp(d.offset[i])
		default:
			trials++
		}
	}
	if d.n != nil {
		return logit((events + 0.5) / (trials + 1))
	}
	return math.Log((events + 0.5) / trials)
}

func (d *regression) linear(gamma []float64, i int) float64 {
	eta := dot(gamma, d.rows[i])
	if d.offset != nil {
		eta += d.offset[i]
	}
	return eta
}

// mean returns probability or expected count.
func (d *regression) mean(eta float64) float64 {
	if d.n != nil {
		return logistic(eta)
	}
	return math.Exp(eta)
}

// evaluate returns log-likelihood without constants, score and information.
func (d *regression) evaluate(gamma []float64) (float64, []float64, *mat.SymDense) {
	q := len(gamma)
	var loglik compensatedSum
	gradient, information := make([]float64, q), mat.NewSymDense(q, nil)
	weights := make([]float64, len(d.y))
	for i, row := range d.rows {
		eta := d.linear(gamma, i)
		mu := d.mean(eta)
		expected, weight := mu, mu
		if d.n != nil {
			expected, weight = d.n[i]*mu, d.n[i]*mu*logistic(-eta)
			loglik.add(d.y[i]*eta - d.n[i]*logOnePlusExp(eta))
		} else {
			loglik.add(d.y[i]*eta - mu)
		}
		weights[i] = weight
		for a, v := range row {
			gradient[a] += (d.y[i] - expected) * v
			for b := a; b < q; b++ {
				information.SetSym(a, b, information.At(a, b)+weight*v*row[b])
			}
		}
	}
	if !d.penalty {
		return loglik.total(), gradient, information
	}
	var factor mat.Cholesky
	if !factor.Factorize(information) {
		return math.Inf(-1), gradient, information
	}
	for i, row := range d.rows {
		var solved mat.VecDense
		if err := factor.SolveVecTo(&solved, mat.NewVecDense(q, row)); err != nil {
			return math.Inf(-1), gradient, information
		}
		leverage := weights[i] * dot(row, solved.RawVector().Data)
		half := leverage * (0.5 - d.mean(d.linear(gamma, i)))
		for a, v := range row {
			gradient[a] += half * v
		}
	}
	return loglik.total() + factor.LogDet()/2, gradient, information
}

func (d *regression) fitted(gamma []float64) []float64 {
	out := make([]float64, len(d.y))
	for i := range out {
		out[i] = d.mean(d.linear(gamma, i))
	}
	return out
}

// part is y·ln(y/expected), 0 at y = 0.
func part(y, expected float64) float64 {
	if y == 0 {
		return 0
	}
	return y * math.Log(y/expected)
}

func (d *regression) deviance(fitted []float64) float64 {
	var sum compensatedSum
	for i, f := range fitted {
		if d.n != nil {
			sum.add(2 * (part(d.y[i], d.n[i]*f) + part(d.n[i]-d.y[i], d.n[i]*(1-f))))
		} else {
			sum.add(2 * (part(d.y[i], f) - (d.y[i] - f)))
		}
	}
	return sum.total()
}

func (d *regression) pearson(i int, f float64) float64 {
	if d.n != nil {
		rest := d.y[i] - d.n[i]*f
		return rest * rest / (d.n[i] * f * (1 - f))
	}
	return (d.y[i] - f) * (d.y[i] - f) / f
}
