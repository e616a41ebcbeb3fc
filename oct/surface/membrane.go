package surface

import (
	"math"
	"slices"

	"limitans/oct/ascan"
)

// traceMembrane finds the inner limiting membrane of a slice whose pigment
// epithelium is known: the upper border of the tissue that hangs together with
// the epithelium.
func (t *tracer) traceMembrane(slice int) {
	s := &t.slices[slice]
	if s.epithelium == nil {
		return
	}
	tissue := t.tissueMask(s)
	t.keepConnected(s, tissue)
	t.collectRuns(s, tissue)
	s.membrane = make([]int, t.geometry.columns)
	for c, runs := range s.runs {
		s.membrane[c] = -1
		if len(runs) > 0 {
			s.membrane[c] = runs[0]
		}
	}
}

// tissueMask marks what is brighter than vitreous in one slice, without columns
// of tissue too narrow to be retina.
func (t *tracer) tissueMask(s *sliceState) []bool {
	g := t.geometry
	threshold := max(0.36, 4.5*s.levels.noise/(s.levels.tissue-s.levels.vitreous))
	grey := float32(s.levels.vitreous + min(threshold, 0.55)*(s.levels.tissue-s.levels.vitreous))
	tissue := make([]bool, len(s.smoothed))
	for i, v := range s.smoothed {
		tissue[i] = v > grey
	}
	narrow := g.lateralCols(narrowestTissueUM)
	for r := range g.rows {
		run := 0
		for c := 0; c <= g.columns; c++ {
			if c < g.columns && tissue[c*g.rows+r] {
				run++
				continue
			}
			// A run that leaves the frame may go on outside it.
			if run > 0 && run < narrow && c-run > 0 && c < g.columns {
				for k := c - run; k < c; k++ {
					tissue[k*g.rows+r] = false
				}
			}
			run = 0
		}
	}
	return tissue
}

// keepConnected clears tissue that does not hang together, within the slice,
// with the band of the epithelium. Rows below the epithelium's centre are
// cleared too: the choroid is of no interest and must not join anything.
func (t *tracer) keepConnected(s *sliceState, tissue []bool) {
	g := t.geometry
	reached := make([]bool, len(tissue))
	stack := make([]int, 0, g.columns*4)
	// The outer nuclear layer can be too dim to be marked as tissue. Averaged
	// over a wider window it is still brighter than vitreous and carries the
	// connection from the inner retina to the epithelium.
	dim := ascan.BoxMean(s.smoothed, g.rows, g.columns, g.depthRows(8), g.lateralCols(10))
	grey := float32(s.levels.vitreous + dimTissue*(s.levels.tissue-s.levels.vitreous))
	push := func(i int) {
		if (tissue[i] || dim[i] > grey) && !reached[i] {
			reached[i] = true
			stack = append(stack, i)
		}
	}
	half := g.depthRows(epitheliumBandUM) / 2
	for c, r := range s.epithelium {
		for k := max(0, r-half); k <= r; k++ {
			i := c*g.rows + k
			tissue[i] = true
			push(i)
		}
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		c, r := i/g.rows, i%g.rows
		if r > 0 {
			push(i - 1)
		}
		if r < s.epithelium[c] {
			push(i + 1)
		}
		if c > 0 && r <= s.epithelium[c-1] {
			push(i - g.rows)
		}
		if c+1 < g.columns && r <= s.epithelium[c+1] {
			push(i + g.rows)
		}
	}
	t.reachSheets(s, tissue, reached)
	for i, r := range reached {
		tissue[i] = tissue[i] && r
	}
}

// reachSheets adds tissue that does not touch the epithelium but is as thick as
// inner retina and either as wide or running out of the frame: a faint outer
// nuclear layer can cut inner retina off from the epithelium over a whole slice.
// An operculum is narrower and ends inside the frame, a detached vitreous face
// is thinner.
func (t *tracer) reachSheets(s *sliceState, tissue, reached []bool) {
	g := t.geometry
	seen := make([]bool, len(tissue))
	copy(seen, reached)
	wide := min(g.lateralCols(sheetWidthUM), 6*g.columns/10)
	thick := g.depthRows(sheetThicknessUM)
	highest := g.depthRows(thickestRetinaUM)
	for start, is := range tissue {
		if !is || seen[start] {
			continue
		}
		part := []int{start}
		seen[start] = true
		columns := map[int]bool{}
		near, leaves := false, false
		for i := 0; i < len(part); i++ {
			c, r := part[i]/g.rows, part[i]%g.rows
			columns[c] = true
			near = near || s.epithelium[c]-r < highest
			leaves = leaves || c == 0 || c == g.columns-1
			for _, k := range [4]int{part[i] - 1, part[i] + 1, part[i] - g.rows, part[i] + g.rows} {
				if k < 0 || k >= len(tissue) || seen[k] || !tissue[k] || k%g.rows > s.epithelium[k/g.rows] || (k/g.rows != c && k%g.rows != r) {
					continue
				}
				seen[k] = true
				part = append(part, k)
			}
		}
		if near && (leaves || len(columns) >= wide) && len(part) >= thick*len(columns) {
			for _, i := range part {
				reached[i] = true
			}
		}
	}
}

// collectRuns lists, for every column, where runs of retinal tissue begin.
func (t *tracer) collectRuns(s *sliceState, tissue []bool) {
	g := t.geometry
	thin := g.depthRows(thinnestSheetUM)
	nearest := g.depthRows(thinnestRetinaUM)
	s.runs = make([][]int, g.columns)
	for c := range g.columns {
		column := tissue[c*g.rows : (c+1)*g.rows]
		floor := s.epithelium[c] - nearest
		for r := 0; r < floor; {
			if !column[r] {
				r++
				continue
			}
			end := r
			for end <= s.epithelium[c] && column[end] {
				end++
			}
			if end-r >= thin {
				s.runs[c] = append(s.runs[c], r)
			}
			r = end
		}
	}
}

// agreeOnMembrane looks for columns whose first tissue lies far above what the
// same slice and its neighbours show (a strand or membrane in the vitreous that
// touches the retina) and takes the run of tissue that fits instead.
func (t *tracer) agreeOnMembrane() {
	g := t.geometry
	far := g.depthRows(60)
	near := g.depthRows(35)
	chosen := make([][]int, t.volume.Slices)
	for i := range t.slices {
		s := &t.slices[i]
		if s.membrane == nil {
			continue
		}
		chosen[i] = slices.Clone(s.membrane)
		for c, r := range s.membrane {
			if r < 0 || len(s.runs[c]) < 2 {
				continue
			}
			expected, ok := t.expectedMembrane(i, c)
			if !ok || r > expected-far {
				continue
			}
			for _, run := range s.runs[c][1:] {
				if abs(run-expected) <= near {
					chosen[i][c] = run
					break
				}
			}
		}
	}
	for i := range t.slices {
		if chosen[i] != nil {
			t.slices[i].membrane = chosen[i]
		}
	}
}

// expectedMembrane is the median, over a window of 400 µm in this slice and the
// two beside it, of the membrane's height above the epithelium, as a row here.
func (t *tracer) expectedMembrane(slice, column int) (row int, ok bool) {
	g := t.geometry
	half := g.lateralCols(200)
	step := max(1, half/12)
	heights := make([]int, 0, 3*(2*half/step+1))
	for k := max(0, slice-1); k <= min(t.volume.Slices-1, slice+1); k++ {
		s := &t.slices[k]
		if s.membrane == nil {
			continue
		}
		for c := max(0, column-half); c <= min(g.columns-1, column+half); c += step {
			if s.membrane[c] >= 0 {
				heights = append(heights, s.epithelium[c]-s.membrane[c])
			}
		}
	}
	if len(heights) < 8 {
		return 0, false
	}
	slices.Sort(heights)
	return t.slices[slice].epithelium[column] - heights[len(heights)/2], true
}

func abs(x int) int { return int(math.Abs(float64(x))) }

// meanBetween is the mean of an A-scan over rows [from, to), cut at the frame,
// from its prefix sums; ok is false when nothing is left.
func meanBetween(sums []float64, from, to int) (mean float64, ok bool) {
	from, to = max(from, 0), min(to, len(sums)-1)
	if from >= to {
		return 0, false
	}
	return (sums[to] - sums[from]) / float64(to-from), true
}
