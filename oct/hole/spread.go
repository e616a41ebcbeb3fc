package hole

import (
	"math"

	"limitans/oct"
	"limitans/oct/surface"
)

// edgeSpread is the mean brightness across the walls as a function of the
// distance from the visible edge, positive into the tissue, in bins of
// spreadBinUM. It is the slanted-edge method of resolution measurement (ISO
// 12233; from memory): walls cross the sampling grid at all fractions, so that
// many of them together show the edge more finely than the grid.
type edgeSpread struct{ sum, count []float64 }

const (
	spreadBinUM   = 2.0
	spreadReachUM = 60.0
	// spreadFromUM: walls lower than this are left out, the glare of the
	// epithelium reaches them.
	spreadFromUM = 50.0
	// fewestEdges: with fewer samples on either side the usual bloom is taken.
	fewestEdges = 400
	// usualBloomUM: 1.3 times a lateral blur of 6 µm (derived for a logarithmic
	// display of a 20 dB step).
	usualBloomUM = 8.0
	// largestBloomUM: beyond twice a wide blur of 7.5 µm a slow rise is frayed
	// tissue and not the display's doing.
	largestBloomUM = 14.0
	// axialBlurShare: blur in depth over lateral blur (common practice, no source).
	axialBlurShare = 0.55
	// steepestLean: a wall leaning more is lid or floor, not wall.
	steepestLean = 4.0
)

// bloomUM is how far behind its visible edge (the middle of the grey step) a wall
// lies on this scan: the place where the edge spread shows half of the tissue's
// signal.
func (l *lumen) bloomUM(v *oct.Volume, s *surface.Surfaces) float64 {
	e := l.spread(v, s)
	level := func(fromUM, toUM float64) (mean, count float64) {
		for i, n := range e.count {
			if d := binCentreUM(i); d >= fromUM && d <= toUM {
				mean += e.sum[i]
				count += n
			}
		}
		return mean / count, count
	}
	low, nLow := level(-44, -26)
	high, nHigh := level(28, 50)
	if nLow < fewestEdges || nHigh < fewestEdges || !(high > low) {
		return usualBloomUM
	}
	share, ok := e.crossing(low + s.EdgeShare*(high-low))
	if !ok {
		return usualBloomUM
	}
	return min(max(share, 0), largestBloomUM)
}

func binCentreUM(i int) float64 { return (float64(i)+0.5)*spreadBinUM - spreadReachUM }

// crossing is the first place, from 30 µm before the edge on, where the spread
// rises through a level.
func (e edgeSpread) crossing(level float64) (um float64, ok bool) {
	for i := 1; i < len(e.sum); i++ {
		a, b := e.sum[i-1]/e.count[i-1], e.sum[i]/e.count[i]
		if binCentreUM(i) > -30 && a < level && b >= level {
			return binCentreUM(i-1) + spreadBinUM*(level-a)/(b-a), true
		}
	}
	return 0, false
}

// spread gathers the samples across all walls of the lumen.
func (l *lumen) spread(v *oct.Volume, s *surface.Surfaces) edgeSpread {
	bins := int(2 * spreadReachUM / spreadBinUM)
	e := edgeSpread{make([]float64, bins), make([]float64, bins)}
	low, high := int(l.geometry.heightSteps(spreadFromUM)), int(0.85*l.lid)
	for slice := l.first; slice <= l.last; slice++ {
		for k := low; k <= high; k++ {
			if w := l.wall(slice, k); w.open() && w.width()*l.geometry.lateralUM >= 50 {
				l.addWall(&e, v, s.Levels[slice], slice, k, w.left, -1)
				l.addWall(&e, v, s.Levels[slice], slice, k, w.right, 1)
			}
		}
	}
	return e
}

// addWall adds the samples across one wall, from the middle of the lumen
// outward; outward is the direction into the tissue.
func (l *lumen) addWall(e *edgeSpread, v *oct.Volume, level surface.SliceLevels, slice, k int, wall, outward float64) {
	f, g := l.field, l.geometry
	samples := v.Slice(slice)
	inner := min(spreadReachUM, l.wall(slice, k).width()*g.lateralUM/2)
	first, last := wall-outward*inner/g.lateralUM, wall+outward*spreadReachUM/g.lateralUM
	for c := int(math.Ceil(min(first, last))); c <= int(max(first, last)); c++ {
		if c < 0 || c >= f.columns {
			continue
		}
		row := int(math.Round(f.floor[slice*f.columns+c] - float64(k)))
		bin := int(math.Floor((outward*(float64(c)-wall)*g.lateralUM + spreadReachUM) / spreadBinUM))
		if row < 0 || row >= v.Rows || bin < 0 || bin >= len(e.sum) {
			continue
		}
		e.sum[bin] += (float64(samples[row*v.Columns+c]) - level.Vitreous) / (level.Tissue - level.Vitreous)
		e.count[bin]++
	}
}

// widen moves every wall outward by the bloom of an upright wall. Across a wall
// that leans by slope (lateral over height) the blur is a mixture of the lateral
// and the axial one, and the lateral shift becomes
//
//	√(bloom² + (axialBlurShare · bloom · slope)²).
func (l *lumen) widen(um float64) {
	g, f := l.geometry, l.field
	half := max(1, g.rows(12))
	moved := make([]wallRow, len(l.walls))
	copy(moved, l.walls)
	for slice := l.first; slice <= l.last; slice++ {
		rows := l.walls[slice*f.heights : (slice+1)*f.heights]
		for k, w := range rows {
			if !w.open() {
				continue
			}
			a, b := k, k
			for a > 0 && k-a < half && rows[a-1].open() {
				a--
			}
			for b < len(rows)-1 && b-k < half && rows[b+1].open() {
				b++
			}
			shift := func(low, high float64) float64 {
				slope := 0.0
				if b > a {
					slope = min(math.Abs(high-low)*g.lateralUM/(g.depthUM*float64(b-a)), steepestLean)
				}
				return math.Hypot(um, axialBlurShare*um*slope) / g.lateralUM
			}
			moved[slice*f.heights+k] = wallRow{w.left - shift(rows[a].left, rows[b].left), w.right + shift(rows[a].right, rows[b].right)}
		}
	}
	l.walls = moved
	l.widenedUM = um
}
