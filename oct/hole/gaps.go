package hole

import (
	"math"

	"limitans/oct"
)

// gap is the narrowest place of one slice that is open from the epithelium to
// the lid.
type gap struct {
	slice  int
	height float64 // steps of depth
	width  float64 // µm along the epithelium
	wall   wallRow
}

// gaps returns the narrowest gap of every slice that is open at all heights
// from floorUM to the lid.
func (l *lumen) gaps() []gap {
	var out []gap
	for slice := l.first; slice <= l.last; slice++ {
		if g, ok := l.narrowest(slice); ok {
			out = append(out, g)
		}
	}
	return out
}

// narrowest finds the smallest width of a slice over height: the least of the
// smoothed widths, then the least of a parabola fitted around it, which does
// not follow the noise of a single height.
func (l *lumen) narrowest(slice int) (gap, bool) {
	g := l.geometry
	from := int(math.Ceil(g.heightSteps(floorUM)))
	to := int(math.Floor(l.lid))
	if to >= l.field.heights {
		return gap{}, false
	}
	best := -1
	for k := from; k <= to; k++ {
		w := l.wall(slice, k)
		if !w.open() || (k > from && !overlap(l.wall(slice, k-1), w)) {
			return gap{}, false
		}
		if best < 0 || w.width() < l.wall(slice, best).width() {
			best = k
		}
	}
	if best < 0 {
		return gap{}, false
	}
	width := l.wall(slice, best).width()
	height := float64(best)
	if h, w, ok := l.parabola(slice, best, from, to); ok {
		height, width = h, w
	}
	return gap{slice, height, width * g.lateralUM * g.gapFactor(), l.wall(slice, best)}, true
}

// parabola fits width over height within ±45 µm and returns its least value.
func (l *lumen) parabola(slice, best, from, to int) (height, width float64, ok bool) {
	half := max(3, l.geometry.rows(45))
	var x, y []float64
	for k := max(from, best-half); k <= min(to, best+half); k++ {
		x = append(x, float64(k-best))
		y = append(y, l.wall(slice, k).width())
	}
	a, b, c, ok := fitParabola(x, y, nil)
	if !ok || c <= 0 {
		return 0, 0, false
	}
	at := -b / (2 * c)
	if at < x[0] || at > x[len(x)-1] {
		at = math.Max(x[0], math.Min(at, x[len(x)-1]))
	}
	return float64(best) + at, a + b*at + c*at*at, true
}

// widest combines the gaps of neighbouring slices into the largest gap: across
// slices the square of the width of a rounded opening follows a parabola, which
// is fitted to the slices whose gap is near the largest. With too few slices it
// is the largest gap seen.
func (l *lumen) widest(gaps []gap, pattern oct.Pattern) (width float64, at gap) {
	for _, g := range gaps {
		if g.width > at.width {
			at = g
		}
	}
	if pattern != oct.PatternRaster {
		return at.width, at
	}
	var x, y, weight []float64
	for _, g := range gaps {
		if g.width >= 0.75*at.width && abs(g.slice-at.slice) <= 12 {
			d := float64(g.slice - at.slice)
			x, y = append(x, d), append(y, g.width*g.width)
			weight = append(weight, 1)
		}
	}
	if len(x) < 4 {
		return at.width, at
	}
	a, b, c, ok := fitParabola(x, y, weight)
	if !ok || c >= 0 {
		return at.width, at
	}
	top := math.Max(x[0], math.Min(-b/(2*c), x[len(x)-1]))
	fitted := a + b*top + c*top*top
	if fitted <= 0 {
		return at.width, at
	}
	return math.Sqrt(fitted), at
}

// fitParabola is the weighted least-squares y = a + b·x + c·x²; nil weights
// count as one. ok is false for fewer than three different x.
func fitParabola(x, y, weight []float64) (a, b, c float64, ok bool) {
	var s [5]float64
	var t [3]float64
	for i := range x {
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		p := w
		for j := range s {
			s[j] += p
			if j < 3 {
				t[j] += p * y[i]
			}
			p *= x[i]
		}
	}
	det := func(m [3][3]float64) float64 {
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}
	base := [3][3]float64{{s[0], s[1], s[2]}, {s[1], s[2], s[3]}, {s[2], s[3], s[4]}}
	d := det(base)
	if len(x) < 3 || math.Abs(d) < 1e-9*math.Abs(s[0]*s[2]*s[4]) {
		return 0, 0, 0, false
	}
	var out [3]float64
	for column := range 3 {
		m := base
		for row := range 3 {
			m[row][column] = t[row]
		}
		out[column] = det(m) / d
	}
	return out[0], out[1], out[2], true
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}
