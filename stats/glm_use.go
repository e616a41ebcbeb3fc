package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// AIC returns Akaike's criterion −2·ln L + 2·(number of coefficients); not
// comparable for Firth's fit.
func (m RegressionModel) AIC() float64 {
	return -2*m.LogLikelihood + 2*float64(len(m.Coefficients))
}

// Ratio returns exp of the coefficient of a predictor (counted from 0, without
// the intercept) with its Wald interval: an odds ratio or a rate ratio.
func (m RegressionModel) Ratio(predictor int, level float64) (float64, Interval, error) {
	if len(m.Coefficients) == 0 {
		return 0, Interval{}, invalid("ratio", "a model that was not fitted", "the result of a regression")
	}
	return ratioOf("ratio", m.Coefficients[1:], m.StandardErrors[1:], predictor, level)
}

// Predict returns the probability, or the count at exposure one, for a row of
// predictors, with the Wald interval of the linear predictor carried over. It
// does not say whether the row lies within what was observed.
func (m RegressionModel) Predict(row []float64, level float64) (float64, Interval, error) {
	const where = "prediction"
	if len(m.Coefficients) == 0 || len(row) != len(m.Coefficients)-1 {
		return 0, Interval{}, invalid(where, fmt.Sprintf("%d predictors", len(row)), fmt.Sprintf("%d", max(0, len(m.Coefficients)-1)))
	}
	if err := checkFinite(where, "row", row, 0); err != nil {
		return 0, Interval{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return 0, Interval{}, err
	}
	// In standardised units, where the covariance has no large terms that cancel.
	z := make([]float64, len(m.gamma))
	z[0] = 1
	for j, x := range row {
		z[j+1] = (x - m.scales.means[j]) / m.scales.spreads[j]
	}
	v := mat.NewVecDense(len(z), z)
	eta, half := dot(z, m.gamma), twoSided(level)*math.Sqrt(mat.Inner(v, m.inverse, v))
	return m.data.mean(eta), Interval{m.data.mean(eta - half), m.data.mean(eta + half), level}, nil
}

// ProfileInterval returns the interval of the coefficient of a predictor
// (counted from 0) by profile likelihood: the values whose best fit is within
// χ²₁/2 of the maximum; penalised in Firth's fit. Better than Wald's at small
// numbers. An end is infinite when the likelihood never falls so far.
func (m RegressionModel) ProfileInterval(predictor int, level float64) (Interval, error) {
	const where = "profile likelihood interval"
	if predictor < 0 || predictor >= len(m.Coefficients)-1 {
		return Interval{}, invalid(where, fmt.Sprintf("predictor %d", predictor), fmt.Sprintf("0 to %d", len(m.Coefficients)-2))
	}
	if err := checkLevel(where, level); err != nil {
		return Interval{}, err
	}
	at := predictor + 1
	best := m.LogLikelihood - m.logConst
	drop := ChiSquareQuantile(level, 1) / 2
	step := math.Sqrt(m.inverse.At(at, at))
	end := func(sign float64) (float64, error) {
		current := slices.Clone(m.gamma)
		excess := func(distance float64) (float64, error) {
			fixed := m.gamma[at] + sign*distance
			value, err := m.data.profile(current, at, fixed)
			return best - value - drop, err
		}
		inside, outside := 0.0, step
		for {
			e, err := excess(outside)
			if err != nil {
				return 0, err
			}
			if e >= 0 {
				break
			}
			if outside > 100*step && outside > farthestStandardised {
				return sign * math.Inf(1), nil
			}
			inside, outside = outside, outside*1.5
		}
		for outside-inside > 1e-10*outside {
			middle := (inside + outside) / 2
			e, err := excess(middle)
			if err != nil {
				return 0, err
			}
			if e >= 0 {
				outside = middle
			} else {
				inside = middle
			}
		}
		return m.gamma[at] + sign*outside, nil
	}
	low, err := end(-1)
	if err != nil {
		return Interval{}, err
	}
	high, err := end(1)
	if err != nil {
		return Interval{}, err
	}
	spread := m.scales.spreads[predictor]
	return Interval{low / spread, high / spread, level}, nil
}

// profile maximises over all coefficients but one, starting at and moving gamma.
func (d *regression) profile(gamma []float64, at int, fixed float64) (float64, error) {
	others := append(slices.Clone(gamma[:at]), gamma[at+1:]...)
	whole := func(rest []float64) []float64 {
		return slices.Insert(slices.Clone(rest), at, fixed)
	}
	value, _, err := newton(d.where, others, func(rest []float64) (float64, []float64, *mat.SymDense) {
		v, gradient, information := d.evaluate(whole(rest))
		reduced := mat.NewSymDense(len(rest), nil)
		place := func(i int) int { return i + int(indicator(i >= at)) }
		for i := range rest {
			for j := i; j < len(rest); j++ {
				reduced.SetSym(i, j, information.At(place(i), place(j)))
			}
		}
		return v, slices.Delete(gradient, at, at+1), reduced
	})
	copy(gamma, whole(others))
	return value, err
}

// ClusterRobustErrors returns standard errors that allow for rows of one
// cluster, such as the eyes of one person, going together: the sandwich
// A⁻¹·(Σ_g u_g·u_gᵀ)·A⁻¹·G/(G−1) with the score u_g of each of G clusters.
// cluster gives each row its number. At least two clusters; with fewer than
// about 30 the errors are too small (common practice). Sources: Liang & Zeger,
// Biometrika 1986;73:13 (from memory); why it is needed for eyes: Ying et al.,
// Ophthalmic Epidemiol 2017;24:130, doi:10.1080/09286586.2016.1259636
// (abstract read).
func (m RegressionModel) ClusterRobustErrors(cluster []int) ([]float64, error) {
	const where = "cluster-robust errors"
	if m.data == nil || len(cluster) != len(m.data.y) {
		return nil, invalid(where, fmt.Sprintf("%d cluster numbers", len(cluster)), "one for each row of the model")
	}
	q := len(m.gamma)
	scores := map[int][]float64{}
	for i, row := range m.data.rows {
		g := scores[cluster[i]]
		if g == nil {
			g = make([]float64, q)
			scores[cluster[i]] = g
		}
		expected := m.Fitted[i]
		if m.data.n != nil {
			expected *= m.data.n[i]
		}
		for a, v := range row {
			g[a] += (m.data.y[i] - expected) * v
		}
	}
	count := float64(len(scores))
	if count < 2 {
		return nil, notMeasurable(where, "one cluster only", "")
	}
	middle := mat.NewSymDense(q, nil)
	for _, number := range sortedKeys(scores) { // in a fixed order, so that rounding repeats
		middle.SymRankOne(middle, count/(count-1), mat.NewVecDense(q, scores[number]))
	}
	var half, full mat.Dense
	half.Mul(m.inverse, middle)
	full.Mul(&half, m.inverse)
	covariance := mat.NewSymDense(q, nil)
	for a := range q {
		for b := a; b < q; b++ {
			covariance.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	_, square := m.scales.backWith(m.gamma, covariance)
	return rootDiagonal(square), nil
}

func sortedKeys(m map[int][]float64) []int {
	keys := make([]int, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// BrierScore returns the mean square of probability − outcome: 0 perfect, the
// prevalence's p(1−p) for knowing nothing else. Source: Brier, Mon Weather Rev
// 1950;78:1 (from memory).
func BrierScore(probabilities []float64, outcomes []bool) (float64, error) {
	const where = "Brier score"
	if err := checkForecast(where, probabilities, outcomes); err != nil {
		return 0, err
	}
	var sum compensatedSum
	for i, p := range probabilities {
		d := p - indicator(outcomes[i])
		sum.add(d * d)
	}
	return sum.total() / float64(len(outcomes)), nil
}

func checkForecast(where string, probabilities []float64, outcomes []bool) error {
	if err := checkFinite(where, "probabilities", probabilities, 1); err != nil {
		return err
	}
	for _, p := range probabilities {
		if err := checkClosedProbability(where, "probability", p); err != nil {
			return err
		}
	}
	return checkOutcomes(where, outcomes, len(probabilities))
}

// AreaUnderCurve returns the chance that a case with the outcome was scored
// above one without, ties half: (Σ ranks − n₁(n₁+1)/2)/(n₁·n₀). Needs both
// kinds. Source: Hanley & McNeil, Radiology 1982;143:29 (from memory).
func AreaUnderCurve(scores []float64, outcomes []bool) (float64, error) {
	const where = "area under the curve"
	if err := checkFinite(where, "scores", scores, 2); err != nil {
		return 0, err
	}
	if err := checkOutcomes(where, outcomes, len(scores)); err != nil {
		return 0, err
	}
	ranked, _ := ranks(scores)
	var sum, with float64
	for i, o := range outcomes {
		if o {
			sum += ranked[i]
			with++
		}
	}
	without := float64(len(scores)) - with
	if with == 0 || without == 0 {
		return 0, notMeasurable(where, "every outcome is the same", "")
	}
	return (sum - with*(with+1)/2) / (with * without), nil
}
