package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

func dot(a, b []float64) float64 {
	var sum float64
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// standardised is a design with columns of mean zero and spread one, so that
// normal equations keep their digits whatever the units.
type standardised struct{ values [][]float64 }

// scaling leads back to the caller's units.
type scaling struct{ means, spreads []float64 }

// standardise copies the rows. A column that does not vary is refused when the
// model has an intercept or needs contrast, for it says nothing then.
func standardise(where string, rows [][]float64, centre bool) (standardised, scaling, error) {
	p := len(rows[0])
	s := scaling{make([]float64, p), make([]float64, p)}
	column := make([]float64, len(rows))
	for j := range p {
		for i, row := range rows {
			column[i] = row[j]
		}
		d, err := Describe(column)
		if err != nil {
			return standardised{}, s, err
		}
		s.means[j], s.spreads[j] = d.Mean, d.StandardDeviation
		if !centre {
			s.means[j] = 0
			s.spreads[j] = math.Hypot(d.Mean, d.StandardDeviation)
		}
		if !(s.spreads[j] > 0) {
			return standardised{}, s, notMeasurable(where, fmt.Sprintf("predictor %d does not vary", j+1), "leave it out")
		}
	}
	out := standardised{make([][]float64, len(rows))}
	for i, row := range rows {
		out.values[i] = make([]float64, p)
		for j, x := range row {
			out.values[i][j] = (x - s.means[j]) / s.spreads[j]
		}
	}
	return out, s, nil
}

// backWithout returns coefficients and covariance of a model without intercept
// in the caller's units.
func (s scaling) backWithout(beta []float64, covariance *mat.SymDense) ([]float64, [][]float64) {
	out, square := make([]float64, len(beta)), make([][]float64, len(beta))
	for j := range beta {
		out[j] = beta[j] / s.spreads[j]
		square[j] = make([]float64, len(beta))
		for k := range beta {
			square[j][k] = covariance.At(j, k) / s.spreads[j] / s.spreads[k]
		}
	}
	return out, square
}

// backWith is [scaling.backWithout] for a model whose first coefficient is the
// intercept: β₀ = γ₀ − Σ γⱼ·mⱼ/sⱼ.
func (s scaling) backWith(gamma []float64, covariance *mat.SymDense) ([]float64, [][]float64) {
	q := len(gamma)
	transform := mat.NewDense(q, q, nil)
	transform.Set(0, 0, 1)
	for j := 1; j < q; j++ {
		transform.Set(0, j, -s.means[j-1]/s.spreads[j-1])
		transform.Set(j, j, 1/s.spreads[j-1])
	}
	var beta mat.VecDense
	beta.MulVec(transform, mat.NewVecDense(q, gamma))
	var half, full mat.Dense
	half.Mul(transform, covariance)
	full.Mul(&half, transform.T())
	square := make([][]float64, q)
	for j := range square {
		square[j] = make([]float64, q)
		for k := range square[j] {
			square[j][k] = (full.At(j, k) + full.At(k, j)) / 2
		}
	}
	return beta.RawVector().Data, square
}

func rootDiagonal(square [][]float64) []float64 {
	out := make([]float64, len(square))
	for j := range square {
		out[j] = math.Sqrt(square[j][j])
	}
	return out
}

// objective is a log-likelihood with gradient and information.
type objective func(beta []float64) (float64, []float64, *mat.SymDense)

// farthestStandardised is the coefficient, in standard deviations of the
// predictor, past which a likelihood is taken to have no maximum: a ratio of
// e^30 between ordinary values of a predictor.
const farthestStandardised = 30

// newton climbs to the maximum of a concave objective from beta, which it
// moves, halving steps that do not climb. It returns value and covariance
// (inverse information) there.
func newton(where string, beta []float64, f objective) (float64, *mat.SymDense, error) {
	value, gradient, information := f(beta)
	for range 100 {
		var factor mat.Cholesky
		if !factor.Factorize(information) || factor.Cond() > 1e14 {
			return 0, nil, notMeasurable(where, "the predictors say the same thing twice, or one of them decides the outcome alone", "leave one out or use Firth's fit")
		}
		var step mat.VecDense
		if err := factor.SolveVecTo(&step, mat.NewVecDense(len(gradient), gradient)); err != nil {
			return 0, nil, notMeasurable(where, "the predictors say the same thing twice", "leave one out")
		}
		scale, next := 1.0, make([]float64, len(beta))
		var nextValue float64
		for {
			for j := range next {
				next[j] = beta[j] + scale*step.AtVec(j)
			}
			var g []float64
			var h *mat.SymDense
			nextValue, g, h = f(next)
			if nextValue >= value-1e-12*(1+math.Abs(value)) || scale < 1e-10 {
				gradient, information = g, h
				break
			}
			scale /= 2
		}
		copy(beta, next)
		var largest float64
		for j, b := range beta {
			if math.Abs(b) > farthestStandardised*10 {
				return 0, nil, notMeasurable(where, "the likelihood has no maximum: an outcome is separated completely", "use Firth's fit")
			}
			largest = math.Max(largest, math.Abs(scale*step.AtVec(j)))
		}
		value = nextValue
		if largest < 1e-11 {
			if !factor.Factorize(information) {
				break
			}
			var inverse mat.SymDense
			if err := factor.InverseTo(&inverse); err != nil {
				break
			}
			return value, &inverse, nil
		}
	}
	return 0, nil, notMeasurable(where, "the fit does not settle: the likelihood has no clear maximum", "use fewer predictors or Firth's fit")
}
