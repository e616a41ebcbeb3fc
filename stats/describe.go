package stats

import (
	"fmt"
	"math"
	"slices"
)

// Description of a sample.
type Description struct {
	N    int
	Mean float64
	// StandardDeviation has the divisor n − 1; not a number for one value.
	StandardDeviation float64
}

// Describe returns number, mean and standard deviation, in two passes with
// compensated sums, so that values with many equal leading digits keep their
// spread. At least one finite value.
func Describe(values []float64) (Description, error) {
	if err := checkFinite("description", "the sample", values, 1); err != nil {
		return Description{}, err
	}
	n := float64(len(values))
	var sum compensatedSum
	for _, x := range values {
		sum.add(x)
	}
	mean := sum.total() / n
	var squares, rest compensatedSum
	for _, x := range values {
		d := x - mean
		squares.add(d * d)
		rest.add(d)
	}
	mean += rest.total() / n
	variance := (squares.total() - rest.total()*rest.total()/n) / (n - 1)
	d := Description{len(values), mean, nan}
	if len(values) > 1 {
		d.StandardDeviation = math.Sqrt(math.Max(0, variance))
	}
	return d, nil
}

// Autocorrelation returns the lag-one coefficient
// Σ(xᵢ−x̄)(xᵢ₊₁−x̄) / Σ(xᵢ−x̄)² of at least two values in order of time.
func Autocorrelation(values []float64) (float64, error) {
	const where = "lag-one autocorrelation"
	if err := checkFinite(where, "the series", values, 2); err != nil {
		return 0, err
	}
	d, err := Describe(values)
	if err != nil {
		return 0, err
	}
	var products, squares compensatedSum
	for i, x := range values {
		squares.add((x - d.Mean) * (x - d.Mean))
		if i > 0 {
			products.add((x - d.Mean) * (values[i-1] - d.Mean))
		}
	}
	if squares.total() == 0 {
		return 0, notMeasurable(where, "the series does not vary", "")
	}
	return products.total() / squares.total(), nil
}

// Quantile returns the q-quantile of at least one value by linear
// interpolation between order statistics at (n−1)q, for 0 ≤ q ≤ 1. Source:
// Hyndman & Fan, Am Stat 1996;50:361, type 7 (from memory).
func Quantile(values []float64, q float64) (float64, error) {
	const where = "quantile"
	if err := checkFinite(where, "the sample", values, 1); err != nil {
		return 0, err
	}
	if err := checkClosedProbability(where, "q", q); err != nil {
		return 0, err
	}
	sorted := slices.Sorted(slices.Values(values))
	return sortedQuantile(sorted, q), nil
}

func sortedQuantile(sorted []float64, q float64) float64 {
	at := q * float64(len(sorted)-1)
	below := int(math.Floor(at))
	if below+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[below] + (at-float64(below))*(sorted[below+1]-sorted[below])
}

// AdjustHolm returns p values multiplied for m comparisons so that the chance
// of any false one stays at the level: the running maximum of (m−i+1)·p₍ᵢ₎ in
// rising order, at most 1. Source: Holm, Scand J Stat 1979;6:65 (from memory).
func AdjustHolm(p []float64) ([]float64, error) {
	return adjust("Holm adjustment", p, func(order []int, out []float64) {
		running := 0.0
		for i, at := range order {
			running = math.Max(running, math.Min(1, float64(len(p)-i)*p[at]))
			out[at] = running
		}
	})
}

// AdjustBenjaminiHochberg returns p values for which the expected share of
// false ones among those below the level stays at the level: the running
// minimum of m·p₍ᵢ₎/i from the largest down. Source: Benjamini & Hochberg, J R
// Stat Soc B 1995;57:289, doi:10.1111/j.2517-6161.1995.tb02031.x (from memory).
func AdjustBenjaminiHochberg(p []float64) ([]float64, error) {
	return adjust("Benjamini-Hochberg adjustment", p, func(order []int, out []float64) {
		running := 1.0
		for i := len(order) - 1; i >= 0; i-- {
			running = math.Min(running, float64(len(p))*p[order[i]]/float64(i+1))
			out[order[i]] = running
		}
	})
}

func adjust(where string, p []float64, fill func(order []int, out []float64)) ([]float64, error) {
	if len(p) == 0 {
		return nil, invalid(where, "no p value", "at least one")
	}
	order := make([]int, len(p))
	for i, x := range p {
		if err := checkClosedProbability(where, fmt.Sprintf("p value %d", i+1), x); err != nil {
			return nil, err
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareFloat(p[a], p[b]) })
	out := make([]float64, len(p))
	fill(order, out)
	return out, nil
}

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
