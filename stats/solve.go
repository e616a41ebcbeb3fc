package stats

import "math"

// bisect returns where f changes its sign between low and high, to the last
// bit that halving can reach. f must be monotone there; the caller has made
// sure that the ends have opposite signs or takes the end that is nearer.
func bisect(f func(float64) float64, low, high float64) float64 {
	fLow := f(low)
	if fLow == 0 {
		return low
	}
	const mostHalvings = 1100 // from 1 to the smallest float64
	for range mostHalvings {
		middle := low + (high-low)/2
		if middle == low || middle == high {
			return middle
		}
		fMiddle := f(middle)
		if fMiddle == 0 {
			return middle
		}
		if (fMiddle > 0) == (fLow > 0) {
			low = middle
		} else {
			high = middle
		}
	}
	return low + (high-low)/2
}

// goldenMaximum returns the place of the maximum of a function with one peak
// between low and high, to the given width, and the value there.
func goldenMaximum(f func(float64) float64, low, high, width float64) (place, value float64) {
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for high-low > width {
		if fa >= fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = f(b)
		}
	}
	place = low + (high-low)/2
	return place, f(place)
}

// logSumExp returns ln Σ exp(x) without overflow.
func logSumExp(xs []float64) float64 {
	most := math.Inf(-1)
	for _, x := range xs {
		most = math.Max(most, x)
	}
	if math.IsInf(most, -1) {
		return most
	}
	var sum float64
	for _, x := range xs {
		sum += math.Exp(x - most)
	}
	return most + math.Log(sum)
}

// logistic is 1/(1+e^−x); logit is its inverse.
func logistic(x float64) float64 {
	if x >= 0 {
		return 1 / (1 + math.Exp(-x))
	}
	e := math.Exp(x)
	return e / (1 + e)
}

func logit(p float64) float64 { return math.Log(p) - math.Log1p(-p) }

// logOnePlusExp returns ln(1+e^x) without overflow.
func logOnePlusExp(x float64) float64 {
	if x > 0 {
		return x + math.Log1p(math.Exp(-x))
	}
	return math.Log1p(math.Exp(x))
}

func logGamma(x float64) float64 {
	y, _ := math.Lgamma(x)
	return y
}

// logChoose is the logarithm of n over k.
func logChoose(n, k float64) float64 {
	return logGamma(n+1) - logGamma(k+1) - logGamma(n-k+1)
}

func logBeta(a, b float64) float64 { return logGamma(a) + logGamma(b) - logGamma(a+b) }

// compensatedSum adds with the rounding errors carried along (Neumaier 1974,
// Z Angew Math Mech 54:39; from memory).
type compensatedSum struct{ sum, lost float64 }

func (s *compensatedSum) add(x float64) {
	t := s.sum + x
	if math.Abs(s.sum) >= math.Abs(x) {
		s.lost += (s.sum - t) + x
	} else {
		s.lost += (x - t) + s.sum
	}
	s.sum = t
}

func (s *compensatedSum) total() float64 { return s.sum + s.lost }
