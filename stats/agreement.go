package stats

import (
	"fmt"
	"math"
)

// Agreement of two methods on the same subjects.
type Agreement struct {
	N                 int
	Bias              float64 // mean of first − second
	StandardDeviation float64 // of the differences
	Limits            Interval
	// BiasInterval and the intervals of the limits are at the same level, from
	// t; those of the limits are approximate.
	BiasInterval, LowerLimitInterval, UpperLimitInterval Interval
}

// BlandAltman returns the limits of agreement Bias ± 1.96·SD (for level 0.95),
// within which a new difference lies with that chance if differences are about
// normal and do not grow with the value: look at the plot. At least three
// pairs; one pair a subject. The error of a limit is SD·√(1/n + z²/(2(n−1))).
// Source: Bland & Altman, Lancet 1986;i:307, doi:10.1016/S0140-6736(86)90837-8
// (data and figures from memory).
func BlandAltman(first, second []float64, level float64) (Agreement, error) {
	const where = "limits of agreement"
	differences, err := pairDifferences(where, first, second)
	if err != nil {
		return Agreement{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return Agreement{}, err
	}
	if len(differences) < 3 {
		return Agreement{}, invalid(where, fmt.Sprintf("%d pairs", len(differences)), "at least three")
	}
	d, err := Describe(differences)
	if err != nil {
		return Agreement{}, err
	}
	n, z := float64(d.N), twoSided(level)
	t := StudentQuantile(1-(1-level)/2, n-1)
	half := t * d.StandardDeviation * math.Sqrt(1/n+z*z/(2*(n-1)))
	limits := around(d.Mean, z*d.StandardDeviation, level)
	return Agreement{
		N: d.N, Bias: d.Mean, StandardDeviation: d.StandardDeviation, Limits: limits,
		BiasInterval:       around(d.Mean, t*d.StandardDeviation/math.Sqrt(n), level),
		LowerLimitInterval: around(limits.Low, half, level),
		UpperLimitInterval: around(limits.High, half, level),
	}, nil
}

// Reliability of k raters, or repeats, on the same subjects.
type Reliability struct {
	Subjects, Raters int
	// Single and Average are the intraclass correlations of one rating and of
	// the mean of all raters, under three models: OneWay (1,1) (1,k), raters
	// differ between subjects; Random (2,1) (2,k), raters are a sample and their
	// offsets count; Fixed (3,1) (3,k), these raters only, offsets do not count.
	// They may be negative. Raters that agree exactly have one.
	OneWaySingle, RandomSingle, FixedSingle    float64
	OneWayAverage, RandomAverage, FixedAverage float64
	// WithinSubject is √ of the mean square within subjects, and Repeatability
	// z·√2 times it: two measurements of one subject differ by less in 95 % at
	// level 0.95.
	WithinSubject, Repeatability float64
}

// IntraclassCorrelation takes one row a subject and one column a rater, at
// least two of each, nothing missing. Sources: Shrout & Fleiss, Psychol Bull
// 1979;86:420, doi:10.1037/0033-2909.86.2.420 (data and figures from memory);
// repeatability: Bland & Altman, BMJ 1996;313:106 (from memory).
func IntraclassCorrelation(ratings [][]float64, level float64) (Reliability, error) {
	const where = "intraclass correlation"
	if err := checkLevel(where, level); err != nil {
		return Reliability{}, err
	}
	raters, err := checkRows(where, ratings, len(ratings))
	if err != nil {
		return Reliability{}, err
	}
	if len(ratings) < 2 || raters < 2 {
		return Reliability{}, invalid(where, fmt.Sprintf("%d subjects and %d raters", len(ratings), raters), "at least two of each")
	}
	n, k := float64(len(ratings)), float64(raters)
	rows, columns, grand := make([]float64, len(ratings)), make([]float64, raters), 0.0
	for i, row := range ratings {
		for j, x := range row {
			rows[i] += x / k
			columns[j] += x / n
			grand += x / (n * k)
		}
	}
	var between, among, within float64
	for i, row := range ratings {
		between += k * (rows[i] - grand) * (rows[i] - grand)
		for _, x := range row {
			within += (x - rows[i]) * (x - rows[i])
		}
	}
	for _, c := range columns {
		among += n * (c - grand) * (c - grand)
	}
	if between+within == 0 {
		return Reliability{}, notMeasurable(where, "all ratings are equal", "")
	}
	bms, wms, jms := between/(n-1), within/(n*(k-1)), among/(k-1)
	ems := math.Max(0, within-among) / ((n - 1) * (k - 1))
	s := math.Sqrt(wms)
	return Reliability{
		Subjects: len(ratings), Raters: raters,
		OneWaySingle:  (bms - wms) / (bms + (k-1)*wms),
		RandomSingle:  (bms - ems) / (bms + (k-1)*ems + k*(jms-ems)/n),
		FixedSingle:   (bms - ems) / (bms + (k-1)*ems),
		OneWayAverage: (bms - wms) / bms, RandomAverage: (bms - ems) / (bms + (jms-ems)/n), FixedAverage: (bms - ems) / bms,
		WithinSubject: s, Repeatability: twoSided(level) * math.Sqrt2 * s,
	}, nil
}

// Kappa is agreement beyond chance of two raters on named classes.
type Kappa struct {
	Value, Observed, Expected float64
	StandardError             float64 // large-sample, around Value
	Interval                  Interval
}

// CohenKappa takes the square table of counts, first rater's class by second's:
// κ = (p_o − p_e)/(1 − p_e). At least two classes. The standard error is that
// of Fleiss, Cohen & Everitt; with a few dozen subjects the interval is rough,
// and it may pass 1. Sources: Cohen, Educ Psychol Meas 1960;20:37,
// doi:10.1177/001316446002000104; Fleiss et al., Psychol Bull 1969;72:323 (from
// memory).
func CohenKappa(table [][]int, level float64) (Kappa, error) {
	const where = "kappa"
	if err := checkLevel(where, level); err != nil {
		return Kappa{}, err
	}
	if len(table) < 2 || len(table) > 1000 {
		return Kappa{}, invalid(where, fmt.Sprintf("%d classes", len(table)), "2 to 1000")
	}
	rows, columns, n := make([]float64, len(table)), make([]float64, len(table)), 0.0
	for i, row := range table {
		if len(row) != len(table) {
			return Kappa{}, invalid(where, fmt.Sprintf("row %d of %d counts", i+1, len(row)), "a square table")
		}
		for j, c := range row {
			if c < 0 {
				return Kappa{}, invalid(where, fmt.Sprintf("a count of %d", c), "counts from zero")
			}
			rows[i] += float64(c)
			columns[j] += float64(c)
			n += float64(c)
		}
	}
	var k Kappa
	for i := range table {
		k.Observed += float64(table[i][i]) / n
		k.Expected += rows[i] / n * columns[i] / n
	}
	if !(k.Expected < 1) {
		return Kappa{}, notMeasurable(where, "both raters used one class only", "")
	}
	k.Value = (k.Observed - k.Expected) / (1 - k.Expected)
	k.StandardError = kappaError(table, rows, columns, n, k)
	k.Interval = around(k.Value, twoSided(level)*k.StandardError, level)
	return k, nil
}

func kappaError(table [][]int, rows, columns []float64, n float64, k Kappa) float64 {
	var diagonal, rest float64
	for i, row := range table {
		for j, c := range row {
			p := float64(c) / n
			if i == j {
				d := 1 - (rows[i]+columns[i])/n*(1-k.Value)
				diagonal += p * d * d
			} else {
				s := (columns[i] + rows[j]) / n
				rest += p * s * s
			}
		}
	}
	rest *= (1 - k.Value) * (1 - k.Value)
	last := k.Value - k.Expected*(1-k.Value)
	return math.Sqrt(math.Max(0, diagonal+rest-last*last)/n) / (1 - k.Expected)
}
