package hole

import (
	"math"
	"slices"

	"limitans/oct"
)

// point is a place on the retina in µm, seen as the surgeon sees the fundus with
// the fast scan running to the right: x along the fast scan, y upward, so that
// later slices of a raster lie lower.
//
//	y ▲   slice 0 ─────────▶
//	  │   slice 1 ─────────▶
//	  └──────▶ x
type point struct{ x, y float64 }

// section is the lumen cut parallel to the epithelium at one height.
type section struct {
	height  float64 // steps of depth
	areaUM2 float64
	slices  int
	contour []point // closed polygon in µm along the epithelium
}

// sectionAt cuts the lumen at height k.
func (l *lumen) sectionAt(k int, v *oct.Volume) section {
	s := section{height: float64(k)}
	if v.Pattern == oct.PatternRadial {
		l.radialSection(&s, k, v)
	} else {
		l.rasterSection(&s, k)
	}
	return s
}

// rasterSection joins the chords of neighbouring slices and closes both ends.
func (l *lumen) rasterSection(s *section, k int) {
	g := l.geometry
	var left, right []point
	var widths, positions []float64
	for slice := l.first; slice <= l.last; slice++ {
		w := l.wall(slice, k)
		if !w.open() {
			continue
		}
		y := -float64(slice) * g.sliceUM * g.crossFactor()
		left = append(left, point{w.left * g.lateralUM * g.gapFactor(), y})
		right = append(right, point{w.right * g.lateralUM * g.gapFactor(), y})
		widths = append(widths, w.width()*g.lateralUM*g.gapFactor())
		positions = append(positions, y)
	}
	s.slices = len(widths)
	if len(widths) < 3 {
		return
	}
	step := g.sliceUM * g.crossFactor()
	upper := endCap(widths, step)
	slices.Reverse(widths)
	lower := endCap(widths, step)
	slices.Reverse(widths)
	for i := 1; i < len(widths); i++ {
		s.areaUM2 += (widths[i-1] + widths[i]) / 2 * (positions[i-1] - positions[i])
	}
	// A segment of a parabola fills two thirds of its box.
	n := len(widths) - 1
	s.areaUM2 += 2.0 / 3 * (upper*widths[0] + lower*widths[n])
	s.contour = append(s.contour, capPoints(left[0], right[0], upper)...)
	s.contour = append(s.contour, right...)
	s.contour = append(s.contour, capPoints(right[n], left[n], -lower)...)
	slices.Reverse(left)
	s.contour = append(s.contour, left...)
}

// endCap is how far the lumen reaches beyond its first slice: the square of the
// width of a rounded opening falls linearly near its end, so its zero is
// extrapolated from the first two slices; it lies within one step because the
// next slice is closed.
func endCap(widths []float64, step float64) float64 {
	first, second := widths[0]*widths[0], widths[1]*widths[1]
	if second <= first {
		return step / 2
	}
	return math.Min(step, step*first/(second-first))
}

// capPoints rounds off the end of a contour from a to b by a half ellipse of the
// given height, seven points.
func capPoints(a, b point, height float64) []point {
	var out []point
	for i := 1; i <= 7; i++ {
		angle := math.Pi * float64(i) / 8
		out = append(out, point{(a.x+b.x)/2 + (a.x-b.x)/2*math.Cos(angle), (a.y+b.y)/2 + height*math.Sin(angle)})
	}
	return out
}

// radialSection joins the wall points of slices that cross at their middle.
func (l *lumen) radialSection(s *section, k int, v *oct.Volume) {
	g := l.geometry
	middle := float64(v.Columns-1) / 2
	for slice := l.first; slice <= l.last; slice++ {
		w := l.wall(slice, k)
		if !w.open() {
			continue
		}
		sin, cos := math.Sincos(v.SliceAnglesDeg[slice] * math.Pi / 180)
		for _, c := range [2]float64{w.left, w.right} {
			d := (c - middle) * g.lateralUM
			s.contour = append(s.contour, point{d * cos, d * sin})
		}
		s.slices++
	}
	if s.slices < 3 {
		s.contour = nil
		return
	}
	centre := centroid(s.contour)
	slices.SortFunc(s.contour, func(a, b point) int {
		if math.Atan2(a.y-centre.y, a.x-centre.x) < math.Atan2(b.y-centre.y, b.x-centre.x) {
			return -1
		}
		return 1
	})
	s.areaUM2 = math.Abs(polygonArea(s.contour))
}

func centroid(points []point) point {
	var c point
	for _, p := range points {
		c.x += p.x
		c.y += p.y
	}
	return point{c.x / float64(len(points)), c.y / float64(len(points))}
}

// polygonArea is the signed area of a closed polygon (shoelace formula).
func polygonArea(p []point) float64 {
	var sum float64
	for i := range p {
		j := (i + 1) % len(p)
		sum += p[i].x*p[j].y - p[j].x*p[i].y
	}
	return sum / 2
}

// feret returns the smallest and the largest diameter of a contour between
// parallel tangents, and the meridian of the smallest in degrees, 0 to 180,
// counter-clockwise from the fast scan. The contour is first smoothed by the
// first harmonics of its distance from the centre, so that the noise of single
// walls does not make the largest larger; an oval needs the even ones up to six,
// which the section must have slices for.
func feret(contour []point, sliceCount int) (small, large, smallMeridianDeg float64) {
	harmonics := 2
	switch {
	case sliceCount >= 12:
		harmonics = 6
	case sliceCount >= 6:
		harmonics = 4
	}
	shape := smoothContour(contour, harmonics)
	small, large = math.Inf(1), 0
	for degree := range 180 {
		sin, cos := math.Sincos(float64(degree) * math.Pi / 180)
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range shape {
			d := p.x*cos + p.y*sin
			low, high = math.Min(low, d), math.Max(high, d)
		}
		if high-low < small {
			small, smallMeridianDeg = high-low, float64(degree)
		}
		large = math.Max(large, high-low)
	}
	return small, large, smallMeridianDeg
}

// smoothContour is the contour rebuilt from the harmonics 0 to harmonics of its
// radius, sampled evenly over the angle around its centre.
func smoothContour(contour []point, harmonics int) []point {
	const samples = 180
	centre := centreOfArea(contour)
	radius := radii(contour, centre, samples)
	out := make([]point, samples)
	a, b := make([]float64, harmonics+1), make([]float64, harmonics+1)
	for i, r := range radius {
		for h := range a {
			sin, cos := math.Sincos(2 * math.Pi * float64(h*i) / samples)
			a[h] += r * cos * 2 / samples
			b[h] += r * sin * 2 / samples
		}
	}
	a[0] /= 2
	for i := range out {
		r := 0.0
		for h := range a {
			sin, cos := math.Sincos(2 * math.Pi * float64(h*i) / samples)
			r += a[h]*cos + b[h]*sin
		}
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / samples)
		out[i] = point{centre.x + r*cos, centre.y + r*sin}
	}
	return out
}

// centreOfArea is the centre of gravity of a polygon.
func centreOfArea(p []point) point {
	area := polygonArea(p)
	if area == 0 {
		return centroid(p)
	}
	var c point
	for i := range p {
		j := (i + 1) % len(p)
		cross := p[i].x*p[j].y - p[j].x*p[i].y
		c.x += (p[i].x + p[j].x) * cross
		c.y += (p[i].y + p[j].y) * cross
	}
	return point{c.x / (6 * area), c.y / (6 * area)}
}

// radii is the farthest crossing of the polygon with rays from the centre at
// evenly spaced angles.
func radii(p []point, centre point, samples int) []float64 {
	out := make([]float64, samples)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(samples))
		for j := range p {
			a, b := p[j], p[(j+1)%len(p)]
			ax, ay, bx, by := a.x-centre.x, a.y-centre.y, b.x-centre.x, b.y-centre.y
			// Distance of both ends from the ray's line, and along the ray.
			da, db := ay*cos-ax*sin, by*cos-bx*sin
			if da == db || (da > 0) == (db > 0) {
				continue
			}
			t := da / (da - db)
			if along := (ax+t*(bx-ax))*cos + (ay+t*(by-ay))*sin; along > out[i] {
				out[i] = along
			}
		}
	}
	return out
}
