package thickness

import (
	"math"
	"slices"

	"limitans/oct"
	"limitans/oct/surface"
)

// sight says whether thickness is known at a place and if not, why.
type sight int

const (
	seen         sight = iota
	outside            // beyond the scan, or between meridians too far apart
	noMembrane         // epithelium there, inner limiting membrane not
	noEpithelium       // epithelium not traced
	crossed            // membrane below epithelium
	sightKinds
)

// place is a place on the retina in µm, x to the right and y up as the fundus
// is seen. The origin of a plane is column 0 of slice 0 for a raster (slices go
// down) and the crossing of the slices for a radial scan.
type place struct{ x, y float64 }

// plane gives thickness anywhere on the retina.
type plane interface {
	// at returns thickness in µm.
	at(p place) (float64, sight)
	// unlike returns how far, in µm, the slice nearest to a place differs from
	// the middle of its two neighbours; NaN where that is not known.
	unlike(p place) float64
	// locate turns a slice and column, with fractions, into a place.
	locate(slice, column float64) place
	// slicesAcross counts the slices that cross a field.
	slicesAcross(f shape, centre place) int
	// sliceStepUM is the distance of slices at a distance from the centre.
	sliceStepUM(radiusUM float64) float64
}

// depths is thickness at every sample, in µm.
type depths struct {
	slices, columns int
	um              []float64
	why             []sight
}

// newDepths takes the difference of the two surfaces.
func newDepths(v *oct.Volume, s *surface.Surfaces) *depths {
	d := &depths{slices: v.Slices, columns: v.Columns, um: make([]float64, v.Slices*v.Columns), why: make([]sight, v.Slices*v.Columns)}
	for i := range d.um {
		top, bottom := float64(s.InnerLimitingMembrane.Row[i]), float64(s.PigmentEpithelium.Row[i])
		d.um[i] = (bottom - top) * v.Scale.Depth.MicrometresPerSample
		switch {
		case math.IsNaN(bottom) || math.IsInf(bottom, 0):
			d.why[i] = noEpithelium
		case math.IsNaN(top) || math.IsInf(top, 0):
			d.why[i] = noMembrane
		case d.um[i] < thinnestUM:
			d.why[i] = crossed
		}
	}
	return d
}

// along returns thickness on one slice at a column with fractions. A place
// between two columns is seen when both are.
func (d *depths) along(slice int, column float64) (float64, sight) {
	if !(column >= -edgeSlack && column <= float64(d.columns-1)+edgeSlack) {
		return math.NaN(), outside
	}
	column = math.Min(math.Max(column, 0), float64(d.columns-1)) // rounding only
	c := min(int(column), max(0, d.columns-2))
	return blend(column-float64(c), func(k int) (float64, sight) {
		i := slice*d.columns + min(c+k, d.columns-1)
		return d.um[i], d.why[i]
	})
}

// blend interpolates between value 0 and value 1; a value of no weight need not
// be seen.
func blend(weight float64, value func(k int) (float64, sight)) (float64, sight) {
	var sum float64
	for k, w := range [2]float64{1 - weight, weight} {
		if w <= edgeSlack {
			continue
		}
		um, why := value(k)
		if why != seen {
			return math.NaN(), why
		}
		sum += w * um
	}
	return sum, seen
}

// raster is a plane of parallel slices.
//
//	slice 0 ───────────▶ x    y = −slice · step
//	slice 1 ───────────▶
type raster struct {
	*depths
	lateralUM, stepUM float64
}

func (r *raster) locate(slice, column float64) place {
	return place{column * r.lateralUM, -slice * r.stepUM}
}

func (r *raster) at(p place) (float64, sight) {
	slice := -p.y / r.stepUM
	if !(slice >= -edgeSlack && slice <= float64(r.slices-1)+edgeSlack) {
		return math.NaN(), outside
	}
	slice = math.Min(math.Max(slice, 0), float64(r.slices-1)) // rounding only
	s := min(int(slice), max(0, r.slices-2))
	return blend(slice-float64(s), func(k int) (float64, sight) {
		return r.along(min(s+k, r.slices-1), p.x/r.lateralUM)
	})
}

func (r *raster) unlike(p place) float64 {
	s := int(math.Round(-p.y / r.stepUM))
	if s < 1 || s > r.slices-2 {
		return math.NaN()
	}
	column := p.x / r.lateralUM
	before, _ := r.along(s-1, column)
	here, _ := r.along(s, column)
	after, _ := r.along(s+1, column)
	return here - (before+after)/2
}

func (r *raster) slicesAcross(f shape, centre place) int {
	n := 0
	for s := range r.slices {
		y := -float64(s)*r.stepUM - centre.y
		low, high := f.yRange()
		if y >= low-edgeSlack && y <= high+edgeSlack {
			n++
		}
	}
	return n
}

func (r *raster) sliceStepUM(float64) float64 { return r.stepUM }

// meridian is half a slice of a radial scan, from the crossing outward.
type meridian struct {
	angleDeg float64 // 0 ≤ angle < 360
	slice    int
	sign     float64 // +1: towards later columns
}

// radial is a plane of slices that cross at their middle column.
//
//	   \  |  /      angles counter-clockwise from x
//	────  +  ────▶ x
//	   /  |  \
type radial struct {
	*depths
	lateralUM float64
	anglesDeg []float64
	meridians []meridian // by angle; never two of the same angle
}

func newRadial(d *depths, lateralUM float64, anglesDeg []float64) *radial {
	r := &radial{depths: d, lateralUM: lateralUM, anglesDeg: anglesDeg}
	for s, angle := range anglesDeg {
		r.meridians = append(r.meridians, meridian{turn(angle), s, 1}, meridian{turn(angle + 180), s, -1})
	}
	slices.SortStableFunc(r.meridians, func(a, b meridian) int {
		switch {
		case a.angleDeg < b.angleDeg:
			return -1
		case a.angleDeg > b.angleDeg:
			return 1
		}
		return 0
	})
	return r
}

// turn brings an angle into 0 ≤ angle < 360.
func turn(deg float64) float64 {
	deg = math.Mod(deg, 360)
	if deg < 0 {
		deg += 360
	}
	if deg >= 360-1e-9 {
		return 0
	}
	return deg
}

// repeated returns the number of meridians that were scanned more than once.
func (r *radial) repeated() int {
	n := 0
	for i := 1; i < len(r.meridians); i++ {
		if r.meridians[i].angleDeg-r.meridians[i-1].angleDeg < sameMeridianDeg {
			n++
		}
	}
	return n
}

func (r *radial) middle() float64 { return float64(r.columns-1) / 2 }

func (r *radial) locate(slice, column float64) place {
	s := int(math.Round(slice))
	sin, cos := math.Sincos(r.anglesDeg[s] * degree)
	d := (column - r.middle()) * r.lateralUM
	return place{d * cos, d * sin}
}

// on returns thickness on a meridian at a distance from the crossing.
func (r *radial) on(i int, distanceUM float64) (float64, sight) {
	n := len(r.meridians)
	m := r.meridians[((i%n)+n)%n]
	return r.along(m.slice, r.middle()+m.sign*distanceUM/r.lateralUM)
}

// between returns the index of the meridian at or before an angle, the gap to
// the next and the share of the gap that the angle has passed.
func (r *radial) between(angle float64) (i int, gap, weight float64) {
	n := len(r.meridians)
	i, found := slices.BinarySearchFunc(r.meridians, angle, func(m meridian, a float64) int {
		switch {
		case m.angleDeg < a:
			return -1
		case m.angleDeg > a:
			return 1
		}
		return 0
	})
	if !found {
		i--
	}
	low := r.meridians[(i+n)%n].angleDeg
	gap = turn(r.meridians[(i+1)%n].angleDeg - low)
	return i, gap, turn(angle-low) / math.Max(gap, 1e-12)
}

func (r *radial) at(p place) (float64, sight) {
	distance := math.Hypot(p.x, p.y)
	i, gap, weight := r.between(turn(math.Atan2(p.y, p.x) / degree))
	if gap > widestGapDeg+sameMeridianDeg && distance*gap*degree > r.lateralUM {
		// At the crossing itself the gap has no width.
		if passed := weight * gap; passed > sameMeridianDeg && gap-passed > sameMeridianDeg {
			return math.NaN(), outside
		}
	}
	if gap == 0 {
		weight = 0
	}
	return blend(weight, func(k int) (float64, sight) { return r.on(i+k, distance) })
}

func (r *radial) unlike(p place) float64 {
	distance := math.Hypot(p.x, p.y)
	i, _, weight := r.between(turn(math.Atan2(p.y, p.x) / degree))
	if weight > 0.5 {
		i++
	}
	before, _ := r.on(i-1, distance)
	here, _ := r.on(i, distance)
	after, _ := r.on(i+1, distance)
	return here - (before+after)/2
}

func (r *radial) slicesAcross(f shape, centre place) int {
	through := map[int]bool{}
	away := math.Hypot(centre.x, centre.y)
	from, to := math.Max(0, away-f.outUM), math.Min(r.middle()*r.lateralUM, away+f.outUM)
	for _, m := range r.meridians {
		sin, cos := math.Sincos(m.angleDeg * degree)
		for d := from; d <= to; d += cellUM {
			if f.holds(place{d*cos - centre.x, d*sin - centre.y}) {
				through[m.slice] = true
				break
			}
		}
	}
	return len(through)
}

func (r *radial) sliceStepUM(radiusUM float64) float64 {
	return radiusUM * 2 * math.Pi / float64(len(r.meridians))
}
