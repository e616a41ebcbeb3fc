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
	return out
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
