package hole

import "math"

// dropFragments moves a wall back where a loose fragment lies against it: a bump
// of less than fragmentUM along the wall that stands out of it and is parted
// from it by a darker cleft. A tuft of the wall itself has no cleft and stays.
// line holds the wall's column from height k0 upward and is changed in place;
// outward is the direction into the tissue.
func (l *lumen) dropFragments(slice, k0 int, line []float64, outward float64) {
	g := l.geometry
	opened := opening(line, -outward, g.rows(fragmentUM/2))
	limit := fragmentDepthUM / g.lateralUM
	for from := 0; from < len(line); from++ {
		if math.Abs(line[from]-opened[from]) <= limit/3 {
			continue
		}
		to, deepest := from, 0.0
		for to < len(line) && math.Abs(line[to]-opened[to]) > limit/3 {
			deepest = math.Max(deepest, math.Abs(line[to]-opened[to]))
			to++
		}
		if deepest > limit && l.cleft(slice, k0+from, k0+to, line[from:to], opened[from:to], outward) {
			copy(line[from:to], opened[from:to])
		}
		from = to
	}
}

// opening cuts bumps shorter than 2·half+1 that stand out in the direction of
// sign: the largest of the smallest values over the window.
func opening(line []float64, sign float64, half int) []float64 {
	n := len(line)
	window := func(in []float64, pick func(a, b float64) float64) []float64 {
		out := make([]float64, n)
		for c := range in {
			out[c] = in[c]
			for k := max(0, c-half); k <= min(n-1, c+half); k++ {
				out[c] = pick(out[c], in[k])
			}
		}
		return out
	}
	out := make([]float64, n)
	for c, v := range line {
		out[c] = sign * v
	}
	out = window(window(out, math.Min), math.Max)
	for c := range out {
		out[c] *= sign
	}
	return out
}

// cleft reports whether, between heights from and to, brightness falls again
// behind a bump before it rises into the wall: by cleftDepth below the lower of
// the bump's peak and the tissue behind the wall, on the mean over the bump's
// middle half.
func (l *lumen) cleft(slice, from, to int, line, opened []float64, outward float64) bool {
	f, g := l.field, l.geometry
	quarter := (to - from) / 4
	depth := 0.0
	for i := range line {
		depth = math.Max(depth, math.Abs(line[i]-opened[i]))
	}
	steps := int(depth) + g.columns(30)
	profile := make([]float64, steps)
	for d := range profile {
		n := 0.0
		for i := quarter; i < to-from-quarter; i++ {
			c := int(math.Round(line[i])) + int(outward)*d
			if c >= 0 && c < f.columns {
				profile[d] += fromByte(f.value[f.index(slice, c, from+i)])
				n++
			}
		}
		profile[d] /= math.Max(n, 1)
	}
	behind := 0.0
	last := g.columns(15)
	for _, v := range profile[steps-last:] {
		behind += v / float64(last)
	}
	peak := math.Inf(-1)
	for d := 0; d < int(depth)+g.columns(8) && d < steps; d++ {
		peak = math.Max(peak, profile[d])
		if math.Min(peak, behind)-profile[d] > cleftDepth {
			return true
		}
	}
	return false
}
