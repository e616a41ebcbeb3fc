package hole

import "math"

// bound is where the lumen may lie in one slice: between the crests of the rim or
// under the retina, and not above the lower crest. Beyond the rim the retina is
// thinner than the lid is high, and the space over it is vitreous, not lumen.
type bound struct {
	from, to int // columns, inclusive
	top      int // heights, inclusive
}

// bounds finds the crests of every slice, starting from the slices in which the
// lumen touches the epithelium and going outward.
func (l *lumen) bounds(p footprint) []bound {
	f := l.field
	centre := make([]int, f.slices)
	sum, n := make([]int, f.slices), make([]int, f.slices)
	for _, place := range p.places {
		sum[place[0]] += place[1]
		n[place[0]]++
	}
	last := (p.firstColumn + p.lastColumn) / 2
	for slice := p.firstSlice; slice < f.slices; slice++ {
		if n[slice] > 0 {
			last = sum[slice] / n[slice]
		}
		centre[slice] = last
	}
	for slice := p.firstSlice - 1; slice >= 0; slice-- {
		centre[slice] = centre[p.firstSlice]
	}
	out := make([]bound, f.slices)
	for slice := range out {
		out[slice] = l.boundAt(slice, centre[slice])
	}
	for slice := l.crestSlice(centre, p.lastSlice, 1) + 1; slice < f.slices; slice++ {
		out[slice].top = -1
	}
	for slice := l.crestSlice(centre, p.firstSlice, -1) - 1; slice >= 0; slice-- {
		out[slice].top = -1
	}
	return out
}

// crestSlice is the slice, going from the last one in which the lumen touches
// the epithelium, where the rim is highest in the middle: the crest across
// slices. Beyond it no slice holds lumen.
func (l *lumen) crestSlice(centre []int, from, direction int) int {
	f, g := l.field, l.geometry
	half := g.columns(50)
	crest, at := math.NaN(), from
	for slice := from; slice >= 0 && slice < f.slices; slice += direction {
		if math.Abs(float64(slice-from))*g.sliceUM > rimReachUM {
			break
		}
		var heights []float64
		for c := max(0, centre[slice]-half); c <= min(f.columns-1, centre[slice]+half); c++ {
			if h := f.retinaTop[slice*f.columns+c]; !math.IsNaN(h) {
				heights = append(heights, h)
			}
		}
		if h := median(heights); !math.IsNaN(h) && !(h <= crest) {
			crest, at = h, slice
		}
	}
	return at
}

// boundAt looks for the crests on either side of a column. Where there is no
// inner surface up to the frame's border, the lumen may reach the border.
func (l *lumen) boundAt(slice, centre int) bound {
	f, g := l.field, l.geometry
	b := bound{from: 0, to: f.columns - 1, top: int(math.Ceil(l.lid))}
	b.top = min(b.top, f.heights-1)
	line := f.retinaTop[slice*f.columns : (slice+1)*f.columns]
	reach := g.columns(rimReachUM)
	for _, direction := range [2]int{-1, 1} {
		crest, at := math.NaN(), -1
		for d := 0; d <= reach; d++ {
			c := centre + direction*d
			if c < 0 || c >= f.columns {
				break
			}
			if h := line[c]; !math.IsNaN(h) && !(h <= crest) {
				crest, at = h, c
			}
		}
		if at < 0 {
			continue
		}
		if direction < 0 {
			b.from = at
		} else {
			b.to = at
		}
		b.top = min(b.top, int(math.Ceil(crest)))
	}
	return b
}
