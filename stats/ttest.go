package stats

import (
	"math"
)

// TTest is the result of a t test of a difference of means.
type TTest struct {
	Difference, StandardError   float64
	Statistic, DegreesOfFreedom float64
	PTwoSided                   float64
	// Interval of the difference.
	Interval Interval
}

func newTTest(where string, difference, standardError, df, level float64) (TTest, error) {
	if !(standardError > 0) {
		return TTest{}, notMeasurable(where, "the values do not vary, so the test has no error to compare with", "")
	}
	t := difference / standardError
	half := StudentQuantile(1-(1-level)/2, df) * standardError
	return TTest{difference, standardError, t, df, math.Min(1, 2*StudentUpper(math.Abs(t), df)), around(difference, half, level)}, nil
}

// PairedT tests the mean of before − after, pair by pair, against zero:
// t = d̄ / (s_d/√n), n − 1 degrees of freedom. At least two pairs; differences
// about normal. Source: Student, Biometrika 1908;6:1 (from memory).
func PairedT(first, second []float64, level float64) (TTest, error) {
	const where = "paired t test"
	differences, err := pairDifferences(where, first, second)
	if err != nil {
		return TTest{}, err
	}
	return OneSampleT(differences, 0, level)
}

func pairDifferences(where string, first, second []float64) ([]float64, error) {
	if err := checkSameLength(where, len(first), len(second)); err != nil {
		return nil, err
	}
	if err := checkFinite(where, "the first values", first, 1); err != nil {
		return nil, err
	}
	if err := checkFinite(where, "the second values", second, 1); err != nil {
		return nil, err
	}
	differences := make([]float64, len(first))
	for i := range first {
		differences[i] = first[i] - second[i]
	}
	return differences, nil
}

// OneSampleT tests the mean of at least two values against expected; the
// difference is mean − expected.
func OneSampleT(values []float64, expected, level float64) (TTest, error) {
	const where = "t test"
	if err := checkLevel(where, level); err != nil {
		return TTest{}, err
	}
	s, err := Describe(values)
	if err != nil {
		return TTest{}, err
	}
	if s.N < 2 || !finite(expected) {
		return TTest{}, invalid(where, "one value or no expectation", "at least two values and a finite expectation")
	}
	return newTTest(where, s.Mean-expected, s.StandardDeviation/math.Sqrt(float64(s.N)), float64(s.N-1), level)
}

// WelchT tests the difference of two means, first minus second, without
// assuming equal variances: error √(s₁²/n₁ + s₂²/n₂), degrees of freedom after
// Satterthwaite. At least two values in each. Source: Welch, Biometrika
// 1947;34:28 (from memory).
func WelchT(first, second []float64, level float64) (TTest, error) {
	const where = "Welch's t test"
	a, b, err := describeTwo(where, first, second, level)
	if err != nil {
		return TTest{}, err
	}
	va := a.StandardDeviation * a.StandardDeviation / float64(a.N)
	vb := b.StandardDeviation * b.StandardDeviation / float64(b.N)
	df := (va + vb) * (va + vb) / (va*va/float64(a.N-1) + vb*vb/float64(b.N-1))
	return newTTest(where, a.Mean-b.Mean, math.Sqrt(va+vb), df, level)
}

// PooledT is the classical two-sample t test with one variance for both
// groups; [WelchT] is the safer choice.
func PooledT(first, second []float64, level float64) (TTest, error) {
	const where = "pooled t test"
	a, b, err := describeTwo(where, first, second, level)
	if err != nil {
		return TTest{}, err
	}
	na, nb := float64(a.N), float64(b.N)
	variance := ((na-1)*a.StandardDeviation*a.StandardDeviation + (nb-1)*b.StandardDeviation*b.StandardDeviation) / (na + nb - 2)
	return newTTest(where, a.Mean-b.Mean, math.Sqrt(variance*(1/na+1/nb)), na+nb-2, level)
}

func describeTwo(where string, first, second []float64, level float64) (a, b Description, err error) {
	if err := checkLevel(where, level); err != nil {
		return a, b, err
	}
	if a, err = Describe(first); err != nil {
		return a, b, err
	}
	if b, err = Describe(second); err != nil {
		return a, b, err
	}
	if a.N < 2 || b.N < 2 {
		return a, b, invalid(where, "a group of one", "at least two values in each group")
	}
	return a, b, nil
}
