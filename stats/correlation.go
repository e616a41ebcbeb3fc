package stats

import (
	"fmt"
	"math"
)

// Correlation is a coefficient with its two-sided p value against none.
type Correlation struct {
	Coefficient, PTwoSided float64
	Exact                  bool // p is from the permutation distribution
	// Interval is Fisher's, for the Pearson coefficient of more than three pairs.
	Interval Interval
}

func checkPairs(where string, x, y []float64, least int) error {
	if err := checkSameLength(where, len(x), len(y)); err != nil {
		return err
	}
	if err := checkFinite(where, "x", x, least); err != nil {
		return err
	}
	return checkFinite(where, "y", y, least)
}

// Pearson returns the product-moment correlation of at least four pairs, p
// from t = r√((n−2)/(1−r²)) and the interval tanh(atanh r ± z/√(n−3)).
func Pearson(x, y []float64, level float64) (Correlation, error) {
	const where = "Pearson correlation"
	if err := checkPairs(where, x, y, 4); err != nil {
		return Correlation{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return Correlation{}, err
	}
	r, err := productMoment(where, x, y)
	if err != nil {
		return Correlation{}, err
	}
	result := Correlation{Coefficient: r, PTwoSided: momentP(r, len(x))}
	half := twoSided(level) / math.Sqrt(float64(len(x)-3))
	result.Interval = Interval{math.Tanh(math.Atanh(r) - half), math.Tanh(math.Atanh(r) + half), level}
	return result, nil
}

func momentP(r float64, n int) float64 {
	df := float64(n - 2)
	return math.Min(1, 2*StudentUpper(math.Abs(r)*math.Sqrt(df/((1-r)*(1+r))), df))
}

func productMoment(where string, x, y []float64) (float64, error) {
	dx, err := Describe(x)
	if err != nil {
		return 0, err
	}
	dy, err := Describe(y)
	if err != nil {
		return 0, err
	}
	var xx, yy, xy compensatedSum
	for i := range x {
		a, b := x[i]-dx.Mean, y[i]-dy.Mean
		xx.add(a * a)
		yy.add(b * b)
		xy.add(a * b)
	}
	if xx.total() == 0 || yy.total() == 0 {
		return 0, notMeasurable(where, "one of the two does not vary", "")
	}
	return math.Max(-1, math.Min(1, xy.total()/math.Sqrt(xx.total())/math.Sqrt(yy.total()))), nil
}

// Kendall returns τ_b of at least two pairs. Without ties below 50 pairs p is
// exact, else normal with the variance corrected for ties. No interval.
// Source: Hollander & Wolfe 1973, p. 185 (secondary, as quoted in R's help of
// cor.test).
func Kendall(x, y []float64) (Correlation, error) {
	const where = "Kendall correlation"
	if err := checkPairs(where, x, y, 2); err != nil {
		return Correlation{}, err
	}
	n := len(x)
	if n > mostRankValues { // all pairs are compared
		return Correlation{}, invalid(where, fmt.Sprintf("%d pairs", n), fmt.Sprintf("at most %d", mostRankValues))
	}
	var score, pairs, pairsX, pairsY float64
	for i := range x {
		for j := range i {
			sx, sy := compareFloat(x[i], x[j]), compareFloat(y[i], y[j])
			score += float64(sx * sy)
			pairs++
			pairsX += math.Abs(float64(sx))
			pairsY += math.Abs(float64(sy))
		}
	}
	if pairsX == 0 || pairsY == 0 {
		return Correlation{}, notMeasurable(where, "one of the two does not vary", "")
	}
	result := Correlation{Coefficient: score / math.Sqrt(pairsX) / math.Sqrt(pairsY)}
	if pairsX == pairs && pairsY == pairs && n < mostExact {
		result.Exact = true
		p := inversionDistribution(n)
		concordant := int(math.Round((score + pairs) / 2))
		var low, high float64
		for k, w := range p {
			if k <= concordant {
				low += w
			}
			if k >= concordant {
				high += w
			}
		}
		result.PTwoSided = math.Min(1, 2*math.Min(low, high))
		return result, nil
	}
	result.PTwoSided = math.Min(1, 2*NormalCDF(-math.Abs(score)/math.Sqrt(kendallVariance(x, y))))
	return result, nil
}

// kendallVariance is the variance of the score under no association with ties.
func kendallVariance(x, y []float64) float64 {
	n := float64(len(x))
	sums := func(values []float64) (v, two, three float64) {
		counts := map[float64]float64{}
		for _, a := range values {
			counts[a]++
		}
		for _, t := range counts {
			v += t * (t - 1) * (2*t + 5)
			two += t * (t - 1)
			three += t * (t - 1) * (t - 2)
		}
		return v, two, three
	}
	vx, x2, x3 := sums(x)
	vy, y2, y3 := sums(y)
	v := (n*(n-1)*(2*n+5)-vx-vy)/18 + x2*y2/(2*n*(n-1))
	if n > 2 {
		v += x3 * y3 / (9 * n * (n - 1) * (n - 2))
	}
	return v
}

// inversionDistribution returns the share of the permutations of n things that
// have k inversions.
func inversionDistribution(n int) []float64 {
	p := []float64{1}
	for i := 2; i <= n; i++ {
		next := make([]float64, len(p)+i-1)
		for k, w := range p {
			for j := range i {
				next[k+j] += w / float64(i)
			}
		}
		p = next
	}
	return p
}

// mostPermuted is the number of pairs up to which all orders are counted:
// 9! = 362,880.
const mostPermuted = 9

// Spearman returns the correlation of ranks of at least three pairs. Without
// ties up to nine pairs p counts all permutations, above that it is from the t
// distribution. No interval. Source: Hollander & Wolfe 1973, p. 187
// (secondary, as quoted in R's help of cor.test).
func Spearman(x, y []float64) (Correlation, error) {
	const where = "Spearman correlation"
	if err := checkPairs(where, x, y, 3); err != nil {
		return Correlation{}, err
	}
	rx, tx := ranks(x)
	ry, ty := ranks(y)
	rho, err := productMoment(where, rx, ry)
	if err != nil {
		return Correlation{}, err
	}
	result := Correlation{Coefficient: rho, PTwoSided: momentP(rho, len(x))}
	if tx == 0 && ty == 0 && len(x) <= mostPermuted {
		result.Exact = true
		var squares float64
		for i := range rx {
			squares += (rx[i] - ry[i]) * (rx[i] - ry[i])
		}
		result.PTwoSided = spearmanExact(len(x), int(math.Round(squares)))
	}
	return result, nil
}

// spearmanExact is twice the smaller tail of Σd² over all permutations.
func spearmanExact(n, squares int) float64 {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	var low, high, all int
	var visit func(k, sum int)
	visit = func(k, sum int) {
		if k == n {
			all++
			low += int(indicator(sum <= squares))
			high += int(indicator(sum >= squares))
			return
		}
		for i := k; i < n; i++ {
			order[k], order[i] = order[i], order[k]
			visit(k+1, sum+(order[k]-k)*(order[k]-k))
			order[k], order[i] = order[i], order[k]
		}
	}
	visit(0, 0)
	return math.Min(1, 2*float64(min(low, high))/float64(all))
}
