package hole

import (
	"math"
	"slices"
)

// bridge fills missing values linearly between their neighbours and with the
// nearest value at the ends. It is used for the epithelium only, which runs on
// under shadows; a line with no value at all stays missing.
func bridge(line []float64) {
	last := -1
	for c := range line {
		if math.IsNaN(line[c]) {
			continue
		}
		switch {
		case last < 0:
			for k := range c {
				line[k] = line[c]
			}
		case c-last > 1:
			for k := last + 1; k < c; k++ {
				t := float64(k-last) / float64(c-last)
				line[k] = line[last]*(1-t) + line[c]*t
			}
		}
		last = c
	}
	if last >= 0 {
		for k := last + 1; k < len(line); k++ {
			line[k] = line[last]
		}
	}
}

// runningMedian is the median over a window that stays symmetric at the ends.
func runningMedian(line []float64, half int) []float64 {
	out := make([]float64, len(line))
	window := make([]float64, 0, 2*half+1)
	for c := range line {
		reach := min(half, c, len(line)-1-c)
		window = append(window[:0], line[c-reach:c+reach+1]...)
		slices.Sort(window)
		out[c] = window[len(window)/2]
	}
	return out
}

// runningMean is the mean over a window that stays symmetric at the ends.
func runningMean(line []float64, half int) []float64 {
	sums := make([]float64, len(line)+1)
	for c, v := range line {
		sums[c+1] = sums[c] + v
	}
	out := make([]float64, len(line))
	for c := range line {
		reach := min(half, c, len(line)-1-c)
		out[c] = (sums[c+reach+1] - sums[c-reach]) / float64(2*reach+1)
	}
	return out
}

// median of values, which are sorted in place of a copy; NaN for none.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// fitLine is the least-squares line y = a + b·x, and 0 slope for fewer than two
// different x.
func fitLine(x, y []float64) (a, b float64) {
	var n, sx, sy, sxx, sxy float64
	for i := range x {
		n++
		sx += x[i]
		sy += y[i]
		sxx += x[i] * x[i]
		sxy += x[i] * y[i]
	}
	d := n*sxx - sx*sx
	if n == 0 {
		return math.NaN(), 0
	}
	if d <= 1e-12*n*sxx {
		return sy / n, 0
	}
	b = (n*sxy - sx*sy) / d
	return (sy - b*sx) / n, b
}
