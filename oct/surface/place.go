package surface

import (
	"math"

	"limitans/oct/ascan"
)

// nan32 is the row of an untraceable column.
var nan32 = float32(math.NaN())

// placeWithinSample turns the whole-row lines of a slice into rows with
// fractions and a confidence, and marks what cannot be traced.
func (t *tracer) placeWithinSample(slice int) {
	s := &t.slices[slice]
	if s.epithelium == nil || s.membrane == nil {
		return
	}
	t.placeEpithelium(slice, s)
	for _, segment := range membraneSegments(s.membrane) {
		t.searchMembrane(s, segment[0], segment[1])
	}
	t.placeMembrane(slice, s)
	*s = sliceState{levels: s.levels} // the images are no longer needed
}

// membraneSegments returns the stretches [from, to) of columns with tissue.
func membraneSegments(membrane []int) [][2]int {
	var out [][2]int
	from := -1
	for c := 0; c <= len(membrane); c++ {
		inside := c < len(membrane) && membrane[c] >= 0
		if inside && from < 0 {
			from = c
		}
		if !inside && from >= 0 {
			out = append(out, [2]int{from, c})
			from = -1
		}
	}
	return out
}

// searchMembrane replaces the border of the tissue mask in columns [from, to)
// by the minimum-cost path over the dark-to-bright step near it.
func (t *tracer) searchMembrane(s *sliceState, from, to int) {
	g := t.geometry
	reach := g.depthRows(24)
	window := g.depthRows(12)
	rows, columns := 2*reach+1, to-from
	cost := make([]float32, rows*columns)
	sums := make([]float64, g.rows+1)
	scale := 1 / (s.levels.tissue - s.levels.vitreous)
	for c := range columns {
		ascan.PrefixSums(s.smoothed[(from+c)*g.rows:(from+c+1)*g.rows], sums)
		for k := range rows {
			r := s.membrane[from+c] - reach + k
			below, okBelow := meanBetween(sums, r, r+window)
			above, okAbove := meanBetween(sums, r-window, r)
			value := 1.0
			if okBelow && okAbove {
				value = 1 - (below-above)*scale
			}
			cost[c*rows+k] = float32(min(max(value, 0), 2)) + 0.01*float32(abs(k-reach))
		}
	}
	// The corridor follows the mask, so a step in the corridor is a step beside
	// the mask's own; the mask carries the steepness.
	path, _, err := MinimumPath(cost, rows, columns, min(g.maxStep(membraneSlopeMax), reach), 0.02)
	if err != nil {
		return // no infinite costs are set, so a path always exists
	}
	for c, k := range path {
		s.membrane[from+c] += k - reach
	}
}

// alignedProfile averages smoothed A-scans around column c along the line, so
// that a slope does not blur the step: out[o] is the mean at line+o−reach.
func (t *tracer) alignedProfile(s *sliceState, line []int, c, halfColumns, reach int, out []float64) bool {
	g := t.geometry
	n := 0
	clear(out)
	for k := max(0, c-halfColumns); k <= min(g.columns-1, c+halfColumns); k++ {
		r0 := line[k] - reach
		if line[k] < 0 || r0 < 0 || r0+len(out) > g.rows {
			continue
		}
		scan := s.smoothed[k*g.rows+r0 : k*g.rows+r0+len(out)]
		for o, v := range scan {
			out[o] += float64(v)
		}
		n++
	}
	if n == 0 {
		return false
	}
	for o := range out {
		out[o] /= float64(n)
	}
	return true
}

// placeMembrane sets the membrane's rows where the profile crosses the edge share
// of its own step, and the visible edge where it crosses the middle.
func (t *tracer) placeMembrane(slice int, s *sliceState) {
	g := t.geometry
	out := t.out.InnerLimitingMembrane
	reach := g.depthRows(32)
	profile := make([]float64, 2*reach+1)
	step := s.levels.tissue - s.levels.vitreous
	rows, visible := make([]float64, g.columns), make([]float64, g.columns)
	for c := range g.columns {
		rows[c], visible[c] = math.NaN(), math.NaN()
		r := s.membrane[c]
		if r < 0 || (s.excluded != nil && s.excluded[c*g.rows+min(r, g.rows-1)]) || !t.alignedProfile(s, s.membrane, c, 1, reach, profile) {
			continue
		}
		low := mean(profile[:reach-g.depthRows(12)])
		high := maxOf(profile[reach : reach+g.depthRows(20)])
		confidence := min(max((high-low)/step/0.6, 0), 1)
		if high-low < 3*s.levels.noise || confidence < 0.2 {
			continue
		}
		offset, ok := crossing(profile, low+t.out.EdgeShare*(high-low), reach)
		middle, okMiddle := crossing(profile, low+0.5*(high-low), reach)
		if !ok || !okMiddle || float64(r-reach)+min(offset, middle) < 0 { // not found, or above the frame
			continue
		}
		rows[c], visible[c] = float64(r-reach)+offset, float64(r-reach)+middle
		t.out.VisibleMembrane.Confidence[slice*g.columns+c] = float32(confidence)
		out.Confidence[slice*g.columns+c] = float32(confidence)
	}
	g.trimBorder(rows)
	g.trimBorder(visible)
	store(out, slice, smoothSegments(rows, g.lateralCols(6)))
	store(t.out.VisibleMembrane, slice, smoothSegments(visible, g.lateralCols(6)))
}

// trimBorder drops the ends of a line that fall away within borderUM of the
// frame's border: some exports fade to black there and leave no membrane to see.
func (g geometry) trimBorder(rows []float64) {
	n := len(rows)
	limit := membraneSlopeMax * g.lateralUM / g.depthUM
	reach := min(g.lateralCols(borderUM), n/4)
	for c := reach; c > 0; c-- {
		if math.Abs(rows[c]-rows[c-1]) > limit {
			clearTo(rows[:c])
			break
		}
	}
	for c := n - 1 - reach; c < n-1; c++ {
		if math.Abs(rows[c]-rows[c+1]) > limit {
			clearTo(rows[c+1:])
			break
		}
	}
}

func clearTo(rows []float64) {
	for i := range rows {
		rows[i] = math.NaN()
	}
}

// placeEpithelium sets the rows of the band's centre and of its inner edge.
func (t *tracer) placeEpithelium(slice int, s *sliceState) {
	g := t.geometry
	reach := g.depthRows(innerEdgeReachUM + 16)
	half := max(1, g.depthRows(epitheliumBandUM)/2)
	profile := make([]float64, 2*reach+1)
	centre, edge := make([]float64, g.columns), make([]float64, g.columns)
	for c, r := range s.epithelium {
		centre[c], edge[c] = math.NaN(), math.NaN()
		confidence := float64(min(max(s.response[c]/0.35, 0), 1))
		if confidence < 0.1 || (s.excluded != nil && s.excluded[c*g.rows+r]) || !t.alignedProfile(s, s.epithelium, c, 2, reach, profile) {
			continue
		}
		at := bandCentre(profile, reach, half)
		centre[c] = float64(r-reach) + at
		t.out.PigmentEpithelium.Confidence[slice*g.columns+c] = float32(confidence)
		if at, ok := t.bandEdge(profile, at, half); ok && float64(r-reach)+at >= 0 { // not above the frame
			edge[c] = float64(r-reach) + at
			t.out.PigmentEpitheliumInnerEdge.Confidence[slice*g.columns+c] = float32(confidence)
		}
	}
	store(t.out.PigmentEpithelium, slice, smoothSegments(centre, g.lateralCols(18)))
	store(t.out.PigmentEpitheliumInnerEdge, slice, smoothSegments(edge, g.lateralCols(18)))
}

// bandCentre is the place, near the middle of the profile, where the mean over
// the band's thickness is largest, by a parabola through the three best.
func bandCentre(profile []float64, middle, half int) float64 {
	band := func(at int) float64 { return mean(profile[max(0, at-half):min(len(profile), at+half+1)]) }
	best := middle
	for at := middle - half; at <= middle+half; at++ {
		if band(at) > band(best) {
			best = at
		}
	}
	left, peak, right := band(best-1), band(best), band(best+1)
	if curvature := left - 2*peak + right; curvature < 0 {
		return float64(best) + min(max(0.5*(left-right)/curvature, -0.5), 0.5)
	}
	return float64(best)
}

// bandEdge is where the profile, going up from the band's centre, falls through
// the edge share of the step to the darkest place within reach above it.
func (t *tracer) bandEdge(profile []float64, centre float64, half int) (float64, bool) {
	from := min(max(int(math.Round(centre)), 0), len(profile)-1)
	top := max(0, from-t.geometry.depthRows(innerEdgeReachUM))
	high := maxOf(profile[max(0, from-half) : from+1])
	low := high
	for r := from; r >= top; r-- {
		low = min(low, profile[r])
	}
	level := low + t.out.EdgeShare*(high-low)
	for r := from; r > top; r-- {
		if profile[r] >= level && profile[r-1] < level {
			return float64(r-1) + (level-profile[r-1])/(profile[r]-profile[r-1]), true
		}
	}
	return 0, false
}

// crossing is the place nearest to near where the profile rises through level.
func crossing(profile []float64, level float64, near int) (at float64, ok bool) {
	best := math.Inf(1)
	for r := 1; r < len(profile); r++ {
		if profile[r-1] < level && profile[r] >= level {
			x := float64(r-1) + (level-profile[r-1])/(profile[r]-profile[r-1])
			if d := math.Abs(x - float64(near)); d < best {
				best, at, ok = d, x, true
			}
		}
	}
	return at, ok
}

// smoothSegments averages over 2·half+1 columns without crossing gaps.
func smoothSegments(rows []float64, half int) []float64 {
	out := make([]float64, len(rows))
	for c := range rows {
		out[c] = math.NaN()
		if math.IsNaN(rows[c]) {
			continue
		}
		// The window stays symmetric, so that a slope is not shifted at the
		// end of a stretch.
		reach := 0
		for reach < half && c-reach-1 >= 0 && c+reach+1 < len(rows) &&
			!math.IsNaN(rows[c-reach-1]) && !math.IsNaN(rows[c+reach+1]) {
			reach++
		}
		out[c] = mean(rows[c-reach : c+reach+1])
	}
	return out
}

func store(s *Surface, slice int, rows []float64) {
	for c, r := range rows {
		i := slice*s.Columns + c
		s.Row[i] = nan32
		if !math.IsNaN(r) {
			s.Row[i] = float32(r)
		} else {
			s.Confidence[i] = 0
		}
	}
}

func mean(values []float64) float64 {
	var sum float64
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

func maxOf(values []float64) float64 {
	best := values[0]
	for _, v := range values {
		best = max(best, v)
	}
	return best
}
