package oct

import "slices"

// Mask marks samples of a volume that hold no data. Slices without any such
// sample take no memory.
type Mask struct {
	Slices, Rows, Columns int
	set                   [][]bool
}

// Slice returns the marks of one slice, row after row, and nil when the slice
// has none. The result is shared and not to be changed.
func (m *Mask) Slice(slice int) []bool { return m.set[slice] }

// At reports whether a sample is marked.
func (m *Mask) At(slice, row, column int) bool {
	s := m.set[slice]
	return s != nil && s[row*m.Columns+column]
}

// Count returns how many samples of a slice are marked.
func (m *Mask) Count(slice int) int {
	n := 0
	for _, b := range m.set[slice] {
		if b {
			n++
		}
	}
	return n
}

// Empty reports whether nothing is marked in any slice.
func (m *Mask) Empty() bool {
	for _, s := range m.set {
		if s != nil {
			return false
		}
	}
	return true
}

// Constants of [NoData], for samples as shares of the full range where not
// said otherwise. They were set on the four open single B-scans of the test
// data (derived) and are checked there.
const (
	// whiteTolerance: JPEG of quality about 90 leaves 242 of 255 in a white
	// wedge beside its border.
	whiteTolerance = 16.0 / 255
	// blackTolerance is small, because the noise of the vitreous is full of
	// zeros and near zeros.
	blackTolerance = 1.0 / 255
	// noDataGrow is how far, in samples, the ringing beyond a border reaches.
	noDataGrow = 3
	// noDataMinLength is the shortest border taken for the edge of an export,
	// in samples along the frame.
	noDataMinLength = 8
	// blackMinShare of the edge must border on a black wedge: eight columns that
	// begin with zeros happen in noise, a whole part of the frame does not.
	blackMinShare = 1.0 / 8
	// noDataRough is how far a border may lie from the median of its
	// neighbours, in samples, and noDataSmoothShare how much of it must lie
	// within: a cut made by turning or shifting a picture is smooth, the border
	// of a bright or dark layer of speckle is not.
	noDataRough       = 2
	noDataSmoothShare = 0.9
	noDataMedianReach = 7
	// whiteExactShare of a white wedge must be exactly white.
	whiteExactShare = 0.5
	// whiteDropTo: just beyond the border of a white wedge the median is below
	// this share of the range. Saturated tissue fades over several samples.
	whiteDropTo = 0.5
	// Beyond a black wedge the noise of the picture begins at once: bright
	// enough to be noise, too dark to be tissue, and not rising with distance
	// as fading tissue does.
	blackNoiseLow   = 3.0 / 255
	blackNoiseHigh  = 0.16
	blackNoiseRatio = 0.6
)

// NoData finds the parts of each slice where the export holds no data: white or
// black wedges and bands of constant value that begin at the frame's edge, as
// they are left when a picture was turned or its columns were shifted, and
// whole slices of one value. The marks reach 3 samples past the border, for the
// ringing of lossy compression.
//
//	■■■■■■■■■■■▀▀▀▀      ■ no data: constant from the edge of the frame on,
//	▀▀▀▀·················   its border smooth, noise beginning right behind it
//	····················
//
// Rule: from each edge of the frame a run of white or black samples is counted
// for every column (or row). A stretch of at least 8 neighbours with runs (for
// black 24 and an eighth of the edge) is taken when 90 % of its runs lie within
// 2 samples of the running median, and what follows the border fits: for white
// a drop below half of the range, for black the level of noise. Side edges count
// only from a corner on or over half of the height, because a saturated layer
// meets them too.
//
// What stays unmarked on purpose: black noise of the vitreous, however dark;
// black that borders on bright tissue, where a vitreous clipped to zero cannot
// be told from a cut; saturated layers; anything that does not reach the edge.
func NoData(v *Volume) *Mask {
	m := &Mask{Slices: v.Slices, Rows: v.Rows, Columns: v.Columns, set: make([][]bool, v.Slices)}
	for s := range v.Slices {
		m.set[s] = noDataSlice(v, v.Slice(s))
	}
	return m
}

// edgeView sees a slice from one edge of its frame: place counts along the
// edge, depth away from it.
type edgeView struct {
	samples          []uint16
	places, depths   int
	origin           int
	perPlace, perDep int
	side             bool
}

func (e *edgeView) index(place, depth int) int { return e.origin + place*e.perPlace + depth*e.perDep }

func edgeViews(samples []uint16, rows, columns int) [4]edgeView {
	return [4]edgeView{
		{samples, columns, rows, 0, 1, columns, false},                     // top
		{samples, columns, rows, (rows - 1) * columns, 1, -columns, false}, // bottom
		{samples, rows, columns, 0, columns, 1, true},                      // left
		{samples, rows, columns, columns - 1, columns, -1, true},           // right
	}
}

func noDataSlice(v *Volume, samples []uint16) []bool {
	if constant(samples) {
		all := make([]bool, len(samples))
		for i := range all {
			all[i] = true
		}
		return all
	}
	var marked []bool
	for _, view := range edgeViews(samples, v.Rows, v.Columns) {
		for _, white := range []bool{true, false} {
			runs := view.runs(white, float64(v.MaxSample()))
			for _, st := range stretches(runs) {
				if !view.accept(runs, st, white, float64(v.MaxSample())) {
					continue
				}
				if marked == nil {
					marked = make([]bool, len(samples))
				}
				view.mark(marked, runs, st)
			}
		}
	}
	if marked != nil {
		grow(marked, v.Rows, v.Columns)
	}
	return marked
}

// constant reports whether all samples have one value.
func constant(samples []uint16) bool {
	for _, x := range samples[1:] {
		if x != samples[0] {
			return false
		}
	}
	return true
}

// runs returns for each place how many samples from the edge on are white or
// black.
func (e *edgeView) runs(white bool, top float64) []int {
	low, high := uint16(top*(1-whiteTolerance)), uint16(top)
	if !white {
		low, high = 0, uint16(top*blackTolerance)
	}
	runs := make([]int, e.places)
	for p := range runs {
		n := 0
		for n < e.depths {
			if x := e.samples[e.index(p, n)]; x < low || x > high {
				break
			}
			n++
		}
		runs[p] = n
	}
	return runs
}

// stretch is a range of neighbouring places with runs.
type stretch struct{ from, to int } // [from, to)

// stretches splits places into ranges with runs; a gap of up to 2 places, where
// ringing broke the first sample of a thin wedge, does not end a range.
func stretches(runs []int) []stretch {
	var out []stretch
	const gap = 2
	for p := 0; p < len(runs); {
		if runs[p] == 0 {
			p++
			continue
		}
		end := p + 1
		for q := p + 1; q < len(runs) && q <= end+gap; q++ {
			if runs[q] > 0 {
				end = q + 1
			}
		}
		if end-p >= noDataMinLength {
			out = append(out, stretch{p, end})
		}
		p = end
	}
	return out
}

// accept decides whether a stretch is the edge of an export.
func (e *edgeView) accept(runs []int, st stretch, white bool, top float64) bool {
	if e.side && st.from > 0 && st.to < e.places && st.to-st.from < e.places/2 {
		return false
	}
	length := st.to - st.from
	if !white && float64(length) < max(3*noDataMinLength, blackMinShare*float64(e.places)) {
		return false
	}
	smooth := runningMedian(runs[st.from:st.to], noDataMedianReach)
	calm, exact, count := 0, 0, 0
	var near, far []float64
	full := uint16(top)
	for i, p := 0, st.from; p < st.to; i, p = i+1, p+1 {
		n := runs[p]
		if abs(n-smooth[i]) <= noDataRough {
			calm++
		}
		for d := range n {
			if x := e.samples[e.index(p, d)]; (white && x == full) || (!white && x == 0) {
				exact++
			}
		}
		count += n
		if n < e.depths {
			near = append(near, e.mean(p, n+1, n+5))
			far = append(far, e.mean(p, n+6, n+14))
		}
	}
	if float64(calm) < noDataSmoothShare*float64(length) || float64(exact) < whiteExactShare*float64(count) {
		return false
	}
	if len(near) == 0 {
		return white // a band as deep as the frame
	}
	nearMedian, farMedian := median(near)/top, median(far)/top
	if white {
		return nearMedian < whiteDropTo
	}
	// A thin dark line along the edge is as likely a decaying signal.
	return median(floats(smooth)) >= noDataGrow && nearMedian > blackNoiseLow && nearMedian < blackNoiseHigh &&
		farMedian < blackNoiseHigh && nearMedian > blackNoiseRatio*farMedian
}

// mean returns the mean over depths [from, to), cut at the frame.
func (e *edgeView) mean(place, from, to int) float64 {
	to = min(to, e.depths)
	if from >= to {
		from = to - 1
	}
	sum := 0.0
	for d := from; d < to; d++ {
		sum += float64(e.samples[e.index(place, d)])
	}
	return sum / float64(to-from)
}

// mark sets the runs of a stretch, with dips from ringing filled.
func (e *edgeView) mark(marked []bool, runs []int, st stretch) {
	smooth := runningMedian(runs[st.from:st.to], noDataMedianReach)
	for i, p := 0, st.from; p < st.to; i, p = i+1, p+1 {
		for d := range max(runs[p], smooth[i]) {
			marked[e.index(p, d)] = true
		}
	}
}

// grow widens the marks by noDataGrow samples to every side, rows first, then
// columns.
func grow(marked []bool, rows, columns int) {
	line := func(start, step, n int) {
		last := -noDataGrow - 1
		next := 0
		was := make([]bool, n)
		for i := range n {
			was[i] = marked[start+i*step]
		}
		for i := range n {
			if was[i] {
				last = i
			}
			for next = max(next, i); next < n && !was[next]; {
				next++
			}
			if i-last <= noDataGrow || (next < n && next-i <= noDataGrow) {
				marked[start+i*step] = true
			}
		}
	}
	for r := range rows {
		line(r*columns, 1, columns)
	}
	for c := range columns {
		line(c, columns, rows)
	}
}

func runningMedian(x []int, reach int) []int {
	out := make([]int, len(x))
	var window []int
	for i := range x {
		window = append(window[:0], x[max(0, i-reach):min(len(x), i+reach+1)]...)
		slices.Sort(window)
		out[i] = window[len(window)/2]
	}
	return out
}

// median sorts x and returns its upper middle.
func median(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}

func floats(x []int) []float64 {
	out := make([]float64, len(x))
	for i, n := range x {
		out[i] = float64(n)
	}
	return out
}

func abs(n int) int { return max(n, -n) }
