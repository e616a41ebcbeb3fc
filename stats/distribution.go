package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// The functions of this file follow package math: outside their range they
// return NaN. Their sources are the definitions of the distributions; the
// special functions underneath are gonum's.

var nan = math.NaN()

// NormalQuantile returns z with Φ(z) = p, for 0 ≤ p ≤ 1 (infinite at the ends).
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return nan
	}
	return mathext.NormalQuantile(p)
}

// NormalCDF returns Φ(z), the probability of at most z under the standard
// normal distribution; the lower tail keeps its relative precision.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func normalDensity(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// StudentUpper returns P(T ≥ t) of Student's distribution with df > 0 degrees
// of freedom: ½·I_{df/(df+t²)}(df/2, ½) for t ≥ 0.
func StudentUpper(t, df float64) float64 {
	if !(df > 0) || math.IsNaN(t) {
		return nan
	}
	if t < 0 {
		return 1 - StudentUpper(-t, df)
	}
	if math.IsInf(t, 1) {
		return 0
	}
	return 0.5 * BetaCDF(df/(df+t*t), df/2, 0.5)
}

// StudentQuantile returns t with P(T ≤ t) = p for 0 < p < 1 and df > 0.
func StudentQuantile(p, df float64) float64 {
	if !(p > 0 && p < 1) || !(df > 0) {
		return nan
	}
	if p < 0.5 {
		return -StudentQuantile(1-p, df)
	}
	// The part of x or 1−x that is small is solved for, so that it keeps its digits.
	if tail := 2 * (1 - p); tail < 0.5 {
		x := BetaQuantile(tail, df/2, 0.5)
		return math.Sqrt(df * (1 - x) / x)
	}
	y := BetaQuantile(2*p-1, 0.5, df/2)
	return math.Sqrt(df * y / (1 - y))
}

// ChiSquareUpper returns P(X ≥ x) of the χ² distribution with df > 0 degrees
// of freedom.
func ChiSquareUpper(x, df float64) float64 {
	switch {
	case !(df > 0) || math.IsNaN(x):
		return nan
	case x <= 0:
		return 1
	case math.IsInf(x, 1):
		return 0
	case df == 1: // the far tail keeps its relative precision
		return math.Erfc(math.Sqrt(x / 2))
	}
	return mathext.GammaIncRegComp(df/2, x/2)
}

// ChiSquareQuantile returns x with P(X ≤ x) = p for 0 < p < 1 and df > 0.
func ChiSquareQuantile(p, df float64) float64 {
	if !(p > 0 && p < 1) || !(df > 0) {
		return nan
	}
	high := df + 10
	for ChiSquareUpper(high, df) > 1-p {
		high *= 2
	}
	if p < 0.5 {
		return bisect(func(x float64) float64 { return mathext.GammaIncReg(df/2, x/2) - p }, 0, high)
	}
	return bisect(func(x float64) float64 { return 1 - p - ChiSquareUpper(x, df) }, 0, high)
}

// FUpper returns P(F ≥ f) of the F distribution with df1, df2 > 0 degrees of
// freedom.
func FUpper(f, df1, df2 float64) float64 {
	switch {
	case !(df1 > 0) || !(df2 > 0) || math.IsNaN(f):
		return nan
	case f <= 0:
		return 1
	case math.IsInf(f, 1):
		return 0
	}
	return BetaCDF(df2/(df2+df1*f), df2/2, df1/2)
}

// BetaCDF returns I_x(a, b), the probability of at most x under the beta
// distribution, for 0 ≤ x ≤ 1 and a, b > 0.
func BetaCDF(x, a, b float64) float64 {
	if !(a > 0) || !(b > 0) || !(x >= 0 && x <= 1) || math.IsInf(a, 1) || math.IsInf(b, 1) {
		return nan
	}
	return mathext.RegIncBeta(a, b, x)
}

// BetaUpper returns 1 − I_x(a, b) with its relative precision kept.
func BetaUpper(x, a, b float64) float64 { return BetaCDF(1-x, b, a) }

// BetaQuantile returns x with I_x(a, b) = p for 0 ≤ p ≤ 1 and a, b > 0, by
// halving to the last bit.
func BetaQuantile(p, a, b float64) float64 {
	switch {
	case !(a > 0) || !(b > 0) || !(p >= 0 && p <= 1) || math.IsInf(a, 1) || math.IsInf(b, 1):
		return nan
	case p == 0:
		return 0
	case p == 1:
		return 1
	case p > 0.5 && BetaCDF(0.5, a, b) < p:
		// Solved in 1−x, whose digits would be lost beside 1.
		return 1 - bisect(func(y float64) float64 { return BetaCDF(y, b, a) - (1 - p) }, 0, 1)
	}
	return bisect(func(x float64) float64 { return BetaCDF(x, a, b) - p }, 0, 1)
}

// LogGamma returns ln Γ(x) for x > 0.
func LogGamma(x float64) float64 {
	if !(x > 0) {
		return nan
	}
	return logGamma(x)
}

// BinomialPMF returns P(X = k) for n ≥ 0 trials of probability 0 ≤ p ≤ 1.
func BinomialPMF(k, n int, p float64) float64 {
	switch {
	case n < 0 || !(p >= 0 && p <= 1):
		return nan
	case k < 0 || k > n:
		return 0
	case p == 0:
		return indicator(k == 0)
	case p == 1:
		return indicator(k == n)
	}
	return math.Exp(logChoose(float64(n), float64(k)) + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
}

func indicator(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// BinomialCDF returns P(X ≤ k) = I_{1−p}(n−k, k+1) for n ≥ 0 trials of
// probability 0 ≤ p ≤ 1.
func BinomialCDF(k, n int, p float64) float64 {
	switch {
	case n < 0 || !(p >= 0 && p <= 1):
		return nan
	case k < 0:
		return 0
	case k >= n:
		return 1
	}
	return BetaCDF(1-p, float64(n-k), float64(k)+1)
}

// BinomialUpper returns P(X ≥ k), with its relative precision kept.
func BinomialUpper(k, n int, p float64) float64 {
	switch {
	case n < 0 || !(p >= 0 && p <= 1):
		return nan
	case k <= 0:
		return 1
	case k > n:
		return 0
	}
	return BetaCDF(p, float64(k), float64(n-k)+1)
}

// BinomialQuantile returns the smallest k with P(X ≤ k) ≥ q, for 0 < q < 1,
// or −1 outside the range.
func BinomialQuantile(q float64, n int, p float64) int {
	if n < 0 || !(p >= 0 && p <= 1) || !(q > 0 && q < 1) {
		return -1
	}
	low, high := -1, n // F(low) < q ≤ F(high)
	for high-low > 1 {
		middle := low + (high-low)/2
		if BinomialCDF(middle, n, p) >= q {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}

// HypergeometricPMF returns the probability of k white balls among drawn ones
// from an urn of white and black balls.
func HypergeometricPMF(k, white, black, drawn int) float64 {
	if white < 0 || black < 0 || drawn < 0 || drawn > white+black {
		return nan
	}
	if k < max(0, drawn-black) || k > min(white, drawn) {
		return 0
	}
	return math.Exp(logChoose(float64(white), float64(k)) + logChoose(float64(black), float64(drawn-k)) -
		logChoose(float64(white+black), float64(drawn)))
}

// PoissonCDF returns P(X ≤ k) for a mean ≥ 0.
func PoissonCDF(k int, mean float64) float64 {
	switch {
	case !(mean >= 0) || math.IsInf(mean, 1):
		return nan
	case k < 0:
		return 0
	case mean == 0:
		return 1
	}
	return mathext.GammaIncRegComp(float64(k)+1, mean)
}

// GeometricCDF returns P(G ≤ g) = 1 − (1−p)^(g+1), where G counts the trials
// before the first event, for 0 < p ≤ 1.
func GeometricCDF(g int, p float64) float64 {
	switch {
	case !(p > 0 && p <= 1):
		return nan
	case g < 0:
		return 0
	case p == 1:
		return 1
	}
	return -math.Expm1((float64(g) + 1) * math.Log1p(-p))
}
