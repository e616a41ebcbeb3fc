package surface

import (
	"math"
	"slices"

	"limitans/oct/ascan"
)

// traceEpithelium prepares a slice and finds the pigment epithelium in it
// without knowledge of its neighbours.
func (t *tracer) traceEpithelium(slice int) {
	if !t.prepare(slice) {
		return
	}
	s := &t.slices[slice]
	t.searchEpithelium(s, nil)
}

// bandResponse is, for every sample, how much brighter a band of the
// epithelium's thickness around it is than the brightest such band below it, as
// a share of the class step. It is positive only for the lowest bright band of
// an A-scan, which tells the epithelium from the nerve fibre layer and from
// overhanging lips.
func (t *tracer) bandResponse(s *sliceState) []float32 {
	g := t.geometry
	half := max(1, g.depthRows(epitheliumBandUM)/2)
	gap := g.depthRows(nextBandGapUM)
	bright := ascan.MeanAcross(ascan.MeanAlong(s.smoothed, g.rows, g.columns, half), g.rows, g.columns, g.lateralCols(12))
	out := make([]float32, len(bright))
	scale := float32(1 / (s.levels.tissue - s.levels.vitreous))
	for c := range g.columns {
		from, to := bright[c*g.rows:(c+1)*g.rows], out[c*g.rows:(c+1)*g.rows]
		below := float32(s.levels.vitreous)
		for r := g.rows - 1; r >= 0; r-- {
			if k := r + gap; k < g.rows {
				below = max(below, from[k])
			}
			to[r] = (from[r] - below) * scale
			// A band near the frame's lower border has nothing below it to be
			// compared with and would win by default.
			if r >= g.rows-gap-half {
				to[r] = -1
			}
		}
	}
	return out
}

// searchEpithelium finds the path of strongest band response; corridor, when
// given, holds the expected row of every column.
func (t *tracer) searchEpithelium(s *sliceState, corridor []float64) {
	g := t.geometry
	// Kept by no slice: it is as large as the image and seldom needed again.
	band := t.bandResponse(s)
	cost := make([]float32, len(band))
	reach := float64(g.depthRows(corridorUM))
	for c := range g.columns {
		for r := range g.rows {
			i := c*g.rows + r
			cost[i] = 1.5 - min(max(band[i], -0.5), 1.5)
			if corridor != nil && math.Abs(float64(r)-corridor[c]) > reach {
				cost[i] += 2
			}
			if s.excluded != nil && s.excluded[i] {
				cost[i] = 1.5
			}
		}
	}
	path, _, err := MinimumPath(cost, g.rows, g.columns, g.maxStep(epitheliumSlopeMax), 0.05)
	if err != nil {
		return // no infinite costs are set, so a path always exists
	}
	s.epithelium = path
	s.response = make([]float32, g.columns)
	for c, r := range path {
		s.response[c] = band[c*g.rows+r]
	}
}

// agreeOnEpithelium compares every slice with its two neighbours on either side
// and searches again where it departs from what they agree on.
func (t *tracer) agreeOnEpithelium() {
	n := t.volume.Slices
	if n < 3 {
		return
	}
	type again struct {
		slice    int
		corridor []float64
	}
	var todo []again
	limit := float64(t.geometry.depthRows(corridorUM))
	for i := range n {
		s := &t.slices[i]
		if s.epithelium == nil {
			continue
		}
		corridor := t.neighbourhood(i)
		if corridor == nil {
			continue
		}
		for c, r := range s.epithelium {
			if math.Abs(float64(r)-corridor[c]) > limit {
				todo = append(todo, again{i, corridor})
				break
			}
		}
	}
	for _, a := range todo {
		t.searchEpithelium(&t.slices[a.slice], a.corridor)
	}
}

// neighbourhood predicts the epithelium of a slice: the median of its
// neighbours' lines, each moved in depth so that its median difference from
// this slice's own line is zero (scanners do not hold depth between slices).
func (t *tracer) neighbourhood(slice int) []float64 {
	g := t.geometry
	var lines [][]float64
	for _, d := range []int{-2, -1, 1, 2} {
		k := slice + d
		if k < 0 || k >= t.volume.Slices || t.slices[k].epithelium == nil {
			continue
		}
		difference := make([]int, g.columns)
		for c := range g.columns {
			difference[c] = t.slices[slice].epithelium[c] - t.slices[k].epithelium[c]
		}
		slices.Sort(difference)
		shift := float64(difference[g.columns/2])
		line := make([]float64, g.columns)
		for c, r := range t.slices[k].epithelium {
			line[c] = float64(r) + shift
		}
		lines = append(lines, line)
	}
	if len(lines) < 2 {
		return nil
	}
	out := make([]float64, g.columns)
	column := make([]float64, len(lines))
	for c := range g.columns {
		for i, line := range lines {
			column[i] = line[c]
		}
		slices.Sort(column)
		out[c] = (column[(len(column)-1)/2] + column[len(column)/2]) / 2
	}
	return out
}
