package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// LinearModel is a least-squares fit with intercept.
type LinearModel struct {
	Coefficients   []float64 // intercept first, then one a predictor
	StandardErrors []float64
	Covariance     [][]float64
	// ResidualStandardDeviation is √(ResidualSumOfSquares / DegreesOfFreedom).
	ResidualStandardDeviation, ResidualSumOfSquares float64
	DegreesOfFreedom                                int
	RSquared                                        float64
	F, P                                            float64 // of all predictors together
}

// LinearRegression fits y = β₀ + x·β by least squares: orthogonal (QR)
// decomposition of centred and scaled columns, one round of refinement.
// predictors has one row an observation, without intercept, at least one
// column; more observations than coefficients. Collinear columns are refused.
// Checked against certified values of the NIST Statistical Reference Datasets.
func LinearRegression(predictors [][]float64, y []float64) (LinearModel, error) {
	const where = "linear regression"
	if err := checkFinite(where, "y", y, 2); err != nil {
		return LinearModel{}, err
	}
	p, err := checkRows(where, predictors, len(y))
	if err != nil {
		return LinearModel{}, err
	}
	df := len(y) - p - 1
	if p == 0 || df < 1 {
		return LinearModel{}, invalid(where, fmt.Sprintf("%d observations of %d predictors", len(y), p), "at least one predictor and two observations more than predictors")
	}
	x, scales, err := standardise(where, predictors, true)
	if err != nil {
		return LinearModel{}, err
	}
	centre, err := Describe(y)
	if err != nil {
		return LinearModel{}, err
	}
	fit := leastSquares{x: x.values, rest: make([]float64, len(y))}
	var total compensatedSum
	for i, v := range y {
		fit.rest[i] = v - centre.Mean
		total.add(fit.rest[i] * fit.rest[i])
	}
	if total.total() == 0 {
		return LinearModel{}, notMeasurable(where, "the outcome does not vary", "")
	}
	gamma, inverse, err := fit.solve(where)
	if err != nil {
		return LinearModel{}, err
	}
	var residual compensatedSum
	for _, r := range fit.rest {
		residual.add(r * r)
	}
	model := LinearModel{ResidualSumOfSquares: residual.total(), DegreesOfFreedom: df}
	variance := model.ResidualSumOfSquares / float64(df)
	model.ResidualStandardDeviation = math.Sqrt(variance)
	model.RSquared = 1 - model.ResidualSumOfSquares/total.total()
	model.F = (total.total() - model.ResidualSumOfSquares) / float64(p) / variance
	model.P = FUpper(model.F, float64(p), float64(df))
	// The centred columns are orthogonal to the intercept, so its part of the
	// covariance is 1/n.
	covariance := mat.NewSymDense(p+1, nil)
	covariance.SetSym(0, 0, variance/float64(len(y)))
	for a := range p {
		for b := a; b < p; b++ {
			covariance.SetSym(a+1, b+1, variance*inverse.At(a, b))
		}
	}
	model.Coefficients, model.Covariance = scales.backWith(append([]float64{centre.Mean}, gamma...), covariance)
	model.StandardErrors = rootDiagonal(model.Covariance)
	return model, nil
}

// leastSquares keeps the residuals in rest.
type leastSquares struct {
	x    [][]float64
	rest []float64
}

func (l *leastSquares) solve(where string) ([]float64, *mat.SymDense, error) {
	n, p := len(l.x), len(l.x[0])
	design := mat.NewDense(n, p, nil)
	for i, row := range l.x {
		design.SetRow(i, row)
	}
	var qr mat.QR
	qr.Factorize(design)
	if qr.Cond() > 1e10 {
		return nil, nil, notMeasurable(where, "the predictors say the same thing twice", "leave one out")
	}
	gamma := make([]float64, p)
	for range 2 { // the second round fits what rounding left in the residuals
		var step mat.VecDense
		if err := qr.SolveVecTo(&step, false, mat.NewVecDense(n, l.rest)); err != nil {
			return nil, nil, notMeasurable(where, "the predictors say the same thing twice", "leave one out")
		}
		next := make([]float64, n)
		for i, row := range l.x {
			fitted := 0.0
			for j, v := range row {
				fitted = math.FMA(v, step.AtVec(j), fitted)
			}
			next[i] = l.rest[i] - fitted
		}
		l.rest = next
		for j := range gamma {
			gamma[j] += step.AtVec(j)
		}
	}
	var r mat.Dense
	qr.RTo(&r)
	var inverseR mat.Dense
	if err := inverseR.Inverse(r.Slice(0, p, 0, p)); err != nil {
		return nil, nil, notMeasurable(where, "the predictors say the same thing twice", "leave one out")
	}
	inverse := mat.NewSymDense(p, nil)
	for a := range p {
		for b := a; b < p; b++ {
			inverse.SetSym(a, b, dot(inverseR.RawRowView(a), inverseR.RawRowView(b)))
		}
	}
	return gamma, inverse, nil
}
