package phantom

import (
	"math"
	"runtime"
	"sync"
)

// Surface is one boundary: for every slice and column the row, with fractions,
// where it lies; NaN where there is none. Index: slice·Columns + column.
type Surface struct {
	Slices, Columns int
	Row             []float32
}

// At returns the row at a slice and column.
func (s *Surface) At(slice, column int) float64 { return float64(s.Row[slice*s.Columns+column]) }

// Truth is what is known of a phantom. All figures come from the exact
// geometry on fine grids, none from the samples. Without a hole the figures
// are 0. The surfaces and the lumen are not part of the JSON form.
//
// The directions of the figures are those of a fundus view: x to the right
// along the fast scan, slices increasing downward,
//
//	          90°
//	           │      slice 0 at the top
//	180° ──────┼────── 0°   x (columns)
//	           │
//	           ▼ slice index
//
// counter-clockwise, 0 ≤ direction < 180.
type Truth struct {
	InnerLimitingMembrane      Surface `json:"-"` // NaN where a ray from above reaches the epithelium through a hole
	PigmentEpithelium          Surface `json:"-"` // centre line of the bright band, 12 µm below its inner edge
	PigmentEpitheliumInnerEdge Surface `json:"-"`
	Lumen                      []bool  `json:"-"` // per sample, index as Samples; fragments are lumen, closed cysts are not

	FullThickness bool       `json:"full_thickness"`
	MLDUM         float64    `json:"mld_um"`         // largest over all slice positions of the narrowest gap along the fast scan, 20 µm to the lid
	MLDSampledUM  float64    `json:"mld_sampled_um"` // the same over the slices that were taken
	WidestSlice   int        `json:"widest_slice"`
	GapUM         []float64  `json:"gap_um"` // narrowest gap of every slice, 0 where closed
	MinSection    MinSection `json:"min_section"`
	BaseUM        float64    `json:"base_um"`    // largest over y of the gap along the fast scan at v = 0
	OpeningUM     float64    `json:"opening_um"` // the same at the lid
	LidUM         float64    `json:"lid_um"`     // height of the lid: 0.9 of the lower crest
	HeightLeftUM  float64    `json:"height_left_um"`
	HeightRightUM float64    `json:"height_right_um"`
	HeightUM      float64    `json:"height_um"` // mean of both crests, above the epithelium's inner edge, on the widest slice
	LowerRimUM    float64    `json:"lower_rim_height_um"`
	VolumeMM3     float64    `json:"volume_mm3"` // lumen from the epithelium to the lid
	Crossed       int        `json:"crossed"`    // slices whose waist is open
	LeavesField   bool       `json:"leaves_field"`

	Features []Feature `json:"features"`
}

// MinSection is the section of smallest area parallel to the epithelium,
// between 20 µm and the lid.
type MinSection struct {
	AreaMM2     float64 `json:"area_mm2"`
	SmallUM     float64 `json:"small_um"` // smallest distance between parallel lines that enclose it
	LargeUM     float64 `json:"large_um"`
	MeridianDeg float64 `json:"meridian_deg"` // direction of the smallest diameter in the fundus view
	HeightUM    float64 `json:"height_um"`
}

// Bounds of the heights that are searched.
const (
	lowestSectionUM = 20
	lidFraction     = 0.9
	sectionStepUM   = 3
)

func (d *drawing) truth() *Truth {
	t := &Truth{Features: d.features.list}
	for _, surface := range []*Surface{&t.InnerLimitingMembrane, &t.PigmentEpithelium, &t.PigmentEpitheliumInnerEdge} {
		surface.Slices, surface.Columns = d.p.Slices, d.p.Columns
		surface.Row = make([]float32, d.p.Slices*d.p.Columns)
	}
	t.Lumen = make([]bool, d.p.Slices*d.p.Rows*d.p.Columns)
	t.GapUM = make([]float64, d.p.Slices)
	if d.s.h != nil {
		d.figures(t)
	}
	workers := min(runtime.GOMAXPROCS(0), d.p.Slices)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			for slice := w; slice < d.p.Slices; slice += workers {
				d.trueSurfaces(t, slice)
				if d.s.h != nil {
					d.trueLumen(t, slice)
				}
			}
		})
	}
	group.Wait()
	return t
}

// gaps tabulates the widest gap along x of one section over y.
type gaps struct {
	v, y0, stepUM float64
	width         []float64
}

func (s *section) gaps(stepUM float64) *gaps {
	low, high := s.extentY()
	g := &gaps{v: s.v, y0: low, stepUM: stepUM, width: make([]float64, int((high-low)/stepUM)+2)}
	for i := range g.width {
		g.width[i] = -1
	}
	type list struct {
		at [6]float64
		n  int
	}
	crossings := make([]list, len(g.width))
	j := len(s.x) - 1
	for i := range s.x {
		a, b := (s.y[j]-low)/stepUM, (s.y[i]-low)/stepUM
		for k := int(math.Ceil(math.Min(a, b))); float64(k) < math.Max(a, b); k++ {
			if l := &crossings[k]; l.n < len(l.at) {
				l.at[l.n] = s.x[j] + (float64(k)-a)/(b-a)*(s.x[i]-s.x[j])
				l.n++
			}
		}
		j = i
	}
	for k := range crossings {
		g.width[k] = widestGap(crossings[k].at[:crossings[k].n])
	}
	return g
}

func widestGap(crossings []float64) float64 {
	for i := 1; i < len(crossings); i++ {
		for k := i; k > 0 && crossings[k] < crossings[k-1]; k-- {
			crossings[k], crossings[k-1] = crossings[k-1], crossings[k]
		}
	}
	widest := 0.0
	for i := 0; i+1 < len(crossings); i += 2 {
		widest = math.Max(widest, crossings[i+1]-crossings[i])
	}
	return widest
}

func (g *gaps) at(y float64) float64 {
	at := (y - g.y0) / g.stepUM
	i := int(math.Floor(at))
	if i < 0 || i >= len(g.width)-1 {
		return 0
	}
	return g.width[i] + (at-float64(i))*(g.width[i+1]-g.width[i])
}

func (g *gaps) largest() float64 {
	widest := 0.0
	for _, w := range g.width {
		widest = math.Max(widest, w)
	}
	return widest
}

// figures fills the numbers.
func (d *drawing) figures(t *Truth) {
	s := d.s
	// The crests do not depend on the lid, only on which slice is the widest,
	// and the waist lies below any lid: a first search at the waist alone.
	sections := []*gaps{s.sectionAt(s.waistV).gaps(2)}
	d.widest(t, sections)
	d.crests(t)
	sections = d.sections(t.LidUM)
	d.widest(t, sections)
	d.crests(t)
	t.FullThickness = true
	for _, gap := range t.GapUM {
		if gap > 0 {
			t.Crossed++
		}
	}
	d.minSection(t)
	t.BaseUM = s.sectionAt(0).gaps(1).largest()
	t.OpeningUM = s.sectionAt(t.LidUM).gaps(1).largest()
	t.VolumeMM3 = s.volumeUM3(t.LidUM) * 1e-9
	d.leavesField(t)
}

// sections computes the gaps at heights from the lowest to the lid, the waist
// among them.
func (d *drawing) sections(lidV float64) []*gaps {
	heights := []float64{}
	steps := max(1, int(math.Ceil((lidV-lowestSectionUM)/sectionStepUM)))
	for i := range steps + 1 {
		heights = append(heights, lowestSectionUM+(lidV-lowestSectionUM)*float64(i)/float64(steps))
	}
	if d.s.waistV > lowestSectionUM && d.s.waistV < lidV {
		heights = append(heights, d.s.waistV)
	}
	out := make([]*gaps, len(heights))
	step := math.Min(2, d.s.waistUM/40)
	for i, v := range heights {
		out[i] = d.s.sectionAt(v).gaps(step)
	}
	return out
}

// narrowest is the narrowest gap on the plane of a slice at imageY.
func (d *drawing) narrowest(sections []*gaps, imageY float64) float64 {
	narrow := math.Inf(1)
	for _, g := range sections {
		narrow = math.Min(narrow, g.at(d.f.yInSlice(imageY, d.s.h.CentreXUM, g.v)))
		if narrow == 0 {
			break
		}
	}
	return narrow
}

// widest fills the largest narrowest gap over all positions and over the
// slices that were taken.
func (d *drawing) widest(t *Truth, sections []*gaps) {
	t.MLDUM, t.MLDSampledUM, t.WidestSlice = 0, 0, 0
	_, centre, _ := d.f.image(d.s.h.CentreXUM, d.s.h.CentreYUM, d.s.waistV)
	reach := d.s.waistUM*d.s.h.OvalityRatio + d.s.waveMax*d.s.h.WallRoughnessUM + 120
	step := math.Min(1, d.s.waistUM/60)
	for y := centre - reach; y <= centre+reach; y += step {
		t.MLDUM = math.Max(t.MLDUM, d.narrowest(sections, y))
	}
	for slice := range t.GapUM {
		gap := d.narrowest(sections, d.f.imageY(slice))
		t.GapUM[slice] = gap
		if gap > t.MLDSampledUM {
			t.MLDSampledUM, t.WidestSlice = gap, slice
		}
	}
	t.MLDUM = math.Max(t.MLDUM, t.MLDSampledUM)
}

// crests fills the heights of the two crests on the widest slice: the highest
// point of the rim on either side of the hole, inside the field.
func (d *drawing) crests(t *Truth) {
	imageY := d.f.imageY(t.WidestSlice)
	half := float64(d.p.Columns-1) / 2 * d.p.LateralUM
	highest := func(direction float64) float64 {
		best := 0.0
		for offset := 0.0; offset < 2500; offset++ {
			x := d.s.h.CentreXUM + direction*offset
			if math.Abs(x) > half {
				break
			}
			v := d.s.h.RimHeightUM
			for range 4 {
				v = d.s.top(x, d.f.yInSlice(imageY, x, v))
			}
			if rho, _, _ := d.s.elliptic(x, d.f.yInSlice(imageY, x, v)); rho > d.s.rimEndUM() {
				break
			}
			if v > d.s.waistV {
				best = math.Max(best, v)
			}
		}
		return best
	}
	t.HeightLeftUM, t.HeightRightUM = highest(-1), highest(1)
	t.HeightUM = (t.HeightLeftUM + t.HeightRightUM) / 2
	t.LowerRimUM = math.Min(t.HeightLeftUM, t.HeightRightUM)
	t.LidUM = lidFraction * t.LowerRimUM
}

// minSection searches the section of smallest area, first every 3 µm, then by
// golden section around the best.
func (d *drawing) minSection(t *Truth) {
	area := func(v float64) float64 { return d.s.sectionAt(v).areaUM2() }
	best, bestV := math.Inf(1), 0.0
	for v := float64(lowestSectionUM); v <= t.LidUM; v += sectionStepUM {
		if a := area(v); a < best {
			best, bestV = a, v
		}
	}
	low, high := math.Max(lowestSectionUM, bestV-sectionStepUM), math.Min(t.LidUM, bestV+sectionStepUM)
	const golden = 0.6180339887498949
	for range 24 {
		a, b := high-golden*(high-low), low+golden*(high-low)
		if area(a) < area(b) {
			high = b
		} else {
			low = a
		}
	}
	at := d.s.sectionAt((low + high) / 2)
	small, large, smallDeg, _ := at.feret()
	t.MinSection = MinSection{
		AreaMM2: at.areaUM2() * 1e-6, SmallUM: small, LargeUM: large,
		MeridianDeg: math.Mod(180-smallDeg, 180), HeightUM: at.v,
	}
}

// volumeUM3 integrates the section areas by Simpson's rule over the stretches
// where the wall is smooth.
func (s *shape) volumeUM3(lidV float64) float64 {
	total, from := 0.0, 0.0
	for _, to := range []float64{cuffHeightUM, s.waistV, lidV} {
		if to = math.Min(to, lidV); to <= from {
			continue
		}
		const steps = 48
		h := (to - from) / steps
		sum := 0.0
		for i := range steps + 1 {
			weight := 4.0
			switch {
			case i == 0 || i == steps:
				weight = 1
			case i%2 == 0:
				weight = 2
			}
			sum += weight * s.sectionAt(from+h*float64(i)).areaUM2()
		}
		total += sum * h / 3
		from = to
	}
	return total
}

// leavesField notes whether part of the base or the opening lies outside.
func (d *drawing) leavesField(t *Truth) {
	halfX, halfY := float64(d.p.Columns-1)/2*d.p.LateralUM, float64(d.p.Slices-1)/2*d.p.SliceUM
	for _, v := range []float64{0, t.LidUM} {
		outline := d.s.sectionAt(v)
		for i := range outline.x {
			x, y, _ := d.f.image(outline.x[i], outline.y[i], v)
			if math.Abs(x) > halfX || math.Abs(y) > halfY {
				t.LeavesField = true
			}
		}
	}
}

// trueSurfaces fills the three surfaces of one slice.
func (d *drawing) trueSurfaces(t *Truth, slice int) {
	imageY := d.f.imageY(slice)
	put := func(surface *Surface, column int, w float64) {
		row := d.f.row(slice, w)
		if d.p.Inverted {
			row = float64(d.p.Rows-1) - row
		}
		surface.Row[slice*d.p.Columns+column] = float32(row)
	}
	for column := range d.p.Columns {
		imageX := d.f.imageX(slice, float64(column))
		edge := d.meet(imageX, imageY, 0, d.s.drusenAt)
		put(&t.PigmentEpitheliumInnerEdge, column, edge)
		put(&t.PigmentEpithelium, column, d.meet(imageX, imageY, edge, func(x, y float64) float64 { return d.s.drusenAt(x, y) - epitheliumBandUM/2 }))
		put(&t.InnerLimitingMembrane, column, d.inner(imageX, imageY, edge))
	}
}

// meet returns the height in the image where an A-scan meets the surface
// height(x, y), by the secant rule from a start near it.
func (d *drawing) meet(imageX, imageY, start float64, height func(x, y float64) float64) float64 {
	above := func(w float64) float64 {
		x, y, v := d.f.retina(imageX, imageY, w)
		return v - height(x, y)
	}
	w0 := start
	g0 := above(w0)
	w1 := w0 - g0
	for range 30 {
		g1 := above(w1)
		if math.Abs(g1) < 1e-6 || g1 == g0 {
			break
		}
		w0, w1, g0 = w1, w1-g1*(w1-w0)/(g1-g0), g1
	}
	return w1
}

// inner returns the height of the first retina an A-scan meets from above, NaN
// if it meets the epithelium first.
func (d *drawing) inner(imageX, imageY, edge float64) float64 {
	s := d.s
	if s.h == nil {
		// From above, never further than half the height that is left: a steep
		// wall is met at its first point.
		w := edge + d.highestW()
		for {
			x, y, v := d.f.retina(imageX, imageY, w)
			if left := v - s.top(x, y); left > 12 {
				w -= left / 2
				continue
			}
			return d.descend(imageX, imageY, w, edge-10, func(x, y, v float64) bool { return v <= s.top(x, y) })
		}
	}
	x, y, _ := d.f.retina(imageX, imageY, edge+s.h.RimHeightUM/2)
	rho, _, _ := s.elliptic(x, y)
	if rho > math.Max(s.crestUM, s.baseUM+s.cuffUM)+s.waveMax*s.h.WallRoughnessUM+150 {
		return d.meet(imageX, imageY, edge+s.p.ThicknessUM, s.top)
	}
	return d.descend(imageX, imageY, edge+d.highestW(), edge, s.solid)
}

func (d *drawing) highestW() float64 {
	return 1.1*d.s.highest() + 60
}

// descend walks down an A-scan until inside is true, then halves the step;
// NaN when the end is reached first.
func (d *drawing) descend(imageX, imageY, from, to float64, inside func(x, y, v float64) bool) float64 {
	const step = 3
	at := func(w float64) bool { return inside(d.f.retina(imageX, imageY, w)) }
	for w := from; w > to; w -= step {
		if !at(w) {
			continue
		}
		low, high := w, w+step
		for range 14 {
			middle := (low + high) / 2
			if at(middle) {
				low = middle
			} else {
				high = middle
			}
		}
		return (low + high) / 2
	}
	return math.NaN()
}

// trueLumen marks the lumen of one slice.
func (d *drawing) trueLumen(t *Truth, slice int) {
	s, imageY := d.s, d.f.imageY(slice)
	reach := math.Max(s.crestUM, s.baseUM+s.cuffUM) + s.waveMax*s.h.WallRoughnessUM
	edges := &t.PigmentEpitheliumInnerEdge
	for column := range d.p.Columns {
		imageX := d.f.imageX(slice, float64(column))
		x, y, _ := d.f.retina(imageX, imageY, 0)
		if rho, _, _ := s.elliptic(x, y); rho > reach+0.25*t.LidUM+0.25*math.Hypot(x, y) {
			continue
		}
		edge := edges.At(slice, column)
		if d.p.Inverted {
			edge = float64(d.p.Rows-1) - edge
		}
		first := max(0, int(edge-1.1*t.LidUM/d.p.DepthUM)-2)
		for row := first; row <= min(d.p.Rows-1, int(edge)+1); row++ {
			x, y, v := d.f.retina(imageX, imageY, d.f.imageW(slice, float64(row)))
			if !s.inLumen(x, y, v, t.LidUM) {
				continue
			}
			to := row
			if d.p.Inverted {
				to = d.p.Rows - 1 - row
			}
			t.Lumen[(slice*d.p.Rows+to)*d.p.Columns+column] = true
		}
	}
}
