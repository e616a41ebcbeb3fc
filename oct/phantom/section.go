package phantom

import "math"

// section is the outline of the lumen at one height, as a closed polygon in
// the retina's frame.
type section struct {
	v    float64
	x, y []float64
}

const sectionPoints = 720

// directions are the cosines and sines of the points of an outline.
var directions = func() (d [sectionPoints][2]float64) {
	for i := range d {
		d[i][1], d[i][0] = math.Sincos(2 * math.Pi * float64(i) / sectionPoints)
	}
	return d
}()

// sectionAt computes the outline at height v; it is nil at or above the crest.
// Along each direction the wall obeys rho − wave = wallRadius(x, v), where x
// depends on rho through the height of the crest alone: a few rounds of
// substitution settle it.
func (s *shape) sectionAt(v float64) *section {
	out := &section{v, make([]float64, sectionPoints), make([]float64, sectionPoints)}
	for i := range sectionPoints {
		phi := 2 * math.Pi * float64(i) / sectionPoints
		cos, sin := directions[i][0], directions[i][1]
		place := func(rho float64) (x, y float64) {
			small, large := rho*cos, rho*sin*s.h.OvalityRatio
			return s.h.CentreXUM + large*s.cosM - small*s.sinM, s.h.CentreYUM + large*s.sinM + small*s.cosM
		}
		wave := 0.0
		if s.h.WallRoughnessUM > 0 {
			wave = s.h.WallRoughnessUM * s.wave(phi, v)
		}
		rho := s.waistUM
		for range 30 {
			x, _ := place(rho)
			radius, below := s.wallRadius(x, v)
			if !below {
				return nil
			}
			next := math.Max(0, radius+wave)
			if math.Abs(next-rho) < 1e-9 {
				rho = next
				break
			}
			rho = next
			if v <= s.waistV {
				break // no dependence on x
			}
		}
		out.x[i], out.y[i] = place(rho)
	}
	return out
}

// areaUM2 is the area by the shoelace rule.
func (s *section) areaUM2() float64 {
	sum, j := 0.0, len(s.x)-1
	for i := range s.x {
		sum += s.x[j]*s.y[i] - s.x[i]*s.y[j]
		j = i
	}
	return math.Abs(sum) / 2
}

// feret returns the smallest and largest distance between two parallel lines
// that enclose the outline, and the direction across them in degrees from x
// towards y, searched every quarter degree.
func (s *section) feret() (small, large, smallDeg, largeDeg float64) {
	small = math.Inf(1)
	for i := range 720 {
		deg := float64(i) / 4
		sin, cos := math.Sincos(deg * math.Pi / 180)
		low, high := math.Inf(1), math.Inf(-1)
		for k := range s.x {
			at := s.x[k]*cos + s.y[k]*sin
			low, high = math.Min(low, at), math.Max(high, at)
		}
		if width := high - low; width < small {
			small, smallDeg = width, deg
		}
		if width := high - low; width > large {
			large, largeDeg = width, deg
		}
	}
	return small, large, smallDeg, largeDeg
}

// chord returns the ends of the widest gap along x at y, and false where the
// line misses the section.
func (s *section) chord(y float64) (left, right float64, met bool) {
	var buffer [8]float64
	crossings := buffer[:0]
	j := len(s.x) - 1
	for i := range s.x {
		if (s.y[j] < y) != (s.y[i] < y) {
			t := (y - s.y[j]) / (s.y[i] - s.y[j])
			crossings = append(crossings, s.x[j]+t*(s.x[i]-s.x[j]))
		}
		j = i
	}
	for i := 1; i < len(crossings); i++ { // few: sort by insertion
		for k := i; k > 0 && crossings[k] < crossings[k-1]; k-- {
			crossings[k], crossings[k-1] = crossings[k-1], crossings[k]
		}
	}
	for i := 0; i+1 < len(crossings); i += 2 {
		if !met || crossings[i+1]-crossings[i] > right-left {
			left, right, met = crossings[i], crossings[i+1], true
		}
	}
	return left, right, met
}

// extentY returns the smallest and largest y.
func (s *section) extentY() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, y := range s.y {
		low, high = math.Min(low, y), math.Max(high, y)
	}
	return low, high
}
