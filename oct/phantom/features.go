package phantom

import (
	"math"
	"math/rand/v2"
)

// Feature is one thing that was put into the volume, in the retina's frame.
type Feature struct {
	Kind       string  `json:"kind"` // cyst, central cyst, cleft, fragment, operculum
	XUM        float64 `json:"x_um"`
	YUM        float64 `json:"y_um"`
	VUM        float64 `json:"v_um"` // above the epithelium's inner edge
	HalfXUM    float64 `json:"half_x_um"`
	HalfYUM    float64 `json:"half_y_um"`
	HalfVUM    float64 `json:"half_v_um"`
	FirstSlice int     `json:"first_slice"` // slices it may touch
	LastSlice  int     `json:"last_slice"`

	reflectivity float64
	ragged       float64 // unevenness of its surface and filling, 0 to 1
}

type strand struct{ x, y, v, slope, wave, phase, reflectivity float64 }

type vessel struct{ offset, slope, bend, phase, radius, shade float64 }

// features holds everything that is not the layered retina.
type features struct {
	list    []Feature
	dots    []Feature // bright sections of capillaries; part of the texture, not of the truth
	strands []strand
	vessels []vessel
}

func newFeatures(p *Parameters, f *frame, s *shape) *features {
	all := &features{}
	rng := newStream(p.Seed, streamFeatures)
	if c := p.LargeCentralCyst; c != nil {
		all.list = append(all.list, Feature{
			Kind: "central cyst", VUM: centralCystFloorUM + c.HeightUM/2 + s.fluidAt(0, 0),
			HalfXUM: c.WidthUM / 2, HalfYUM: c.WidthUM / 2, HalfVUM: c.HeightUM / 2,
		})
	}
	all.addClefts(p, s, rng)
	for range p.Cysts {
		all.addCyst(p, s, rng)
	}
	for range p.Fragments {
		all.addFragment(s, rng)
	}
	if p.Operculum {
		all.addOperculum(s, rng)
	}
	all.addDots(p, s)
	for range p.Strands {
		high := s.highest()
		all.strands = append(all.strands, strand{
			400 * (rng.Float64() - 0.5), 400 * (rng.Float64() - 0.5), high + 25 + 120*rng.Float64(),
			0.02 + 0.22*rng.Float64(), 4 + 8*rng.Float64(), 6 * rng.Float64(), linearOf(60 + 60*rng.Float64()),
		})
	}
	for range p.Vessels {
		half := float64(p.Columns) * p.LateralUM / 2
		side := 1.0
		if rng.IntN(2) == 0 {
			side = -1
		}
		all.vessels = append(all.vessels, vessel{
			side * (0.55 + 0.45*rng.Float64()) * half, 0.5 * (rng.Float64() - 0.5), 15 + 30*rng.Float64(),
			6 * rng.Float64(), 16 + 28*rng.Float64(), 0.15 + 0.4*rng.Float64(),
		})
	}
	for i := range all.list {
		all.list[i].findSlices(p, f)
	}
	for i := range all.dots {
		all.dots[i].findSlices(p, f)
	}
	return all
}

// highest returns the height above which there is no retina near the centre.
func (s *shape) highest() float64 {
	if s.h != nil {
		return s.h.RimHeightUM + math.Abs(s.h.RimAsymmetryUM)/2
	}
	return math.Max(s.top(0, 0), s.p.ThicknessUM+0.12*s.p.Pit.DepthUM)
}

func (f *Feature) findSlices(p *Parameters, fr *frame) {
	_, y, _ := fr.image(f.XUM, f.YUM, f.VUM)
	reach := 1.3*math.Hypot(f.HalfYUM, f.HalfVUM) + 2
	f.FirstSlice = max(0, int(math.Ceil((y-reach)/p.SliceUM+fr.middleSlice)))
	f.LastSlice = min(p.Slices-1, int(math.Floor((y+reach)/p.SliceUM+fr.middleSlice)))
}

// addCyst places a closed cyst in the inner nuclear layer or above the
// photoreceptors, at least 15 µm from every surface; after 40 vain tries it
// gives up, as there is no room.
func (a *features) addCyst(p *Parameters, s *shape, rng *rand.Rand) {
	for range 40 {
		c := Feature{Kind: "cyst", ragged: 0.5}
		c.HalfXUM = 12 + 55*math.Pow(rng.Float64(), 1.3)
		c.HalfYUM = c.HalfXUM * (0.7 + 0.6*rng.Float64())
		c.HalfVUM = c.HalfXUM * (0.45 + 0.4*rng.Float64())
		direction := 2 * math.Pi * rng.Float64()
		distance := 60 + 700*rng.Float64()
		if s.h != nil {
			distance = s.waistUM*s.h.OvalityRatio + 40 + 420*math.Pow(rng.Float64(), 1.4)
		}
		c.XUM, c.YUM = distance*math.Cos(direction), distance*math.Sin(direction)
		if s.h != nil {
			c.XUM, c.YUM = c.XUM+s.h.CentreXUM, c.YUM+s.h.CentreYUM
		}
		l := s.layoutAt(c.XUM, c.YUM)
		c.VUM = float64(l.plexiform) + 25*rng.Float64()
		if rng.IntN(3) == 0 {
			c.VUM = float64(l.plexiform) - 35 - 30*rng.Float64()
		}
		if s.enclosed(&c, 15) && !a.meets(&c, 6) {
			a.list = append(a.list, c)
			return
		}
	}
}

// enclosed reports whether retina is all around the feature.
func (s *shape) enclosed(f *Feature, marginUM float64) bool {
	grow := 1.25
	for i := range 24 {
		sinT, cosT := math.Sincos(float64(i) * math.Pi / 12)
		for k := -2; k <= 2; k++ {
			sinE, cosE := math.Sincos(float64(k) * math.Pi / 4)
			x := f.XUM + (grow*f.HalfXUM+marginUM)*cosT*cosE
			y := f.YUM + (grow*f.HalfYUM+marginUM)*sinT*cosE
			if !s.solid(x, y, f.VUM+(grow*f.HalfVUM+marginUM)*sinE) {
				return false
			}
		}
	}
	return true
}

// meets reports whether a feature would touch one that is there.
func (a *features) meets(f *Feature, gapUM float64) bool {
	for _, o := range a.list {
		dx, dy, dv := (f.XUM-o.XUM)/(f.HalfXUM+o.HalfXUM+gapUM), (f.YUM-o.YUM)/(f.HalfYUM+o.HalfYUM+gapUM), (f.VUM-o.VUM)/(f.HalfVUM+o.HalfVUM+gapUM)
		if dx*dx+dy*dy+dv*dv < 1 {
			return true
		}
	}
	return false
}

// addClefts splits the rim of a lamellar defect.
func (a *features) addClefts(p *Parameters, s *shape, rng *rand.Rand) {
	d := p.LamellarDefect
	if d == nil {
		return
	}
	for i := range 9 {
		angle := float64(i)*2*math.Pi/9 + 0.3*rng.Float64()
		c := Feature{Kind: "cleft", ragged: 0.6, HalfXUM: 40 + 40*rng.Float64(), HalfVUM: 8 + 10*rng.Float64()}
		c.HalfYUM = c.HalfXUM
		r := d.WidthUM/2 + c.HalfXUM + 50 + 30*rng.Float64()
		c.XUM, c.YUM = r*math.Cos(angle), r*math.Sin(angle)
		c.VUM = float64(s.layoutAt(c.XUM, c.YUM).plexiform) - 12
		if s.enclosed(&c, 5) && !a.meets(&c, 0) {
			a.list = append(a.list, c)
		}
	}
}

func (a *features) addFragment(s *shape, rng *rand.Rand) {
	half := 6 + 16*rng.Float64()
	room := math.Max(0, s.waistUM-half-8)
	direction, distance := 2*math.Pi*rng.Float64(), room*math.Sqrt(rng.Float64())
	x, y := s.h.CentreXUM+distance*math.Cos(direction), s.h.CentreYUM+distance*math.Sin(direction)
	a.list = append(a.list, Feature{
		Kind: "fragment", XUM: x, YUM: y, VUM: 50 + (0.85*s.h.RimHeightUM-50)*rng.Float64(),
		HalfXUM: half, HalfYUM: half * (0.7 + 0.6*rng.Float64()), HalfVUM: half * (0.6 + 0.6*rng.Float64()),
		reflectivity: linearOf(95 + 60*rng.Float64()), ragged: 1,
	})
}

func (a *features) addOperculum(s *shape, rng *rand.Rand) {
	o := Feature{
		Kind: "operculum", XUM: 120 * (rng.Float64() - 0.5), YUM: 120 * (rng.Float64() - 0.5),
		HalfXUM: 70 + 110*rng.Float64(), HalfYUM: 70 + 110*rng.Float64(), HalfVUM: 18 + 22*rng.Float64(),
		reflectivity: linearOf(95 + 35*rng.Float64()), ragged: 1,
	}
	if s.h != nil {
		o.XUM, o.YUM = o.XUM+s.h.CentreXUM, o.YUM+s.h.CentreYUM
	}
	o.VUM = s.highest() + o.HalfVUM*1.3 + 30 + 220*rng.Float64()
	a.list = append(a.list, o)
}

// addDots scatters capillaries cut across over the inner layers, two a slice.
func (a *features) addDots(p *Parameters, s *shape) {
	rng := newStream(p.Seed, streamDots)
	halfX, halfY := float64(p.Columns)*p.LateralUM/2, float64(p.Slices)*p.SliceUM/2
	for range 2 * p.Slices {
		half := 5 + 5*rng.Float64()
		f := Feature{
			Kind: "capillary", XUM: (2*rng.Float64() - 1) * halfX, YUM: (2*rng.Float64() - 1) * halfY,
			HalfXUM: half, HalfYUM: 3 * half, HalfVUM: half, reflectivity: linearOf(175 + 40*rng.Float64()),
		}
		l := s.layoutAt(f.XUM, f.YUM)
		f.VUM = float64(l.plexiform) + (0.1+0.75*rng.Float64())*float64(l.top-l.plexiform)
		if s.enclosed(&f, 20) {
			a.dots = append(a.dots, f)
		}
	}
}

// draw puts the features into one slice of linear reflectivity.
func (a *features) draw(d *drawing, signal []float32, slice int) {
	for i := range a.dots {
		if f := &a.dots[i]; slice >= f.FirstSlice && slice <= f.LastSlice {
			d.drawFeature(f, signal, slice)
		}
	}
	for i := range a.list {
		if f := &a.list[i]; slice >= f.FirstSlice && slice <= f.LastSlice {
			d.drawFeature(f, signal, slice)
		}
	}
	for i := range a.strands {
		d.drawStrand(&a.strands[i], signal, slice)
	}
}

func (d *drawing) drawFeature(f *Feature, signal []float32, slice int) {
	p := d.p
	centreX, _, centreW := d.f.image(f.XUM, f.YUM, f.VUM)
	reach := 1.3*math.Max(f.HalfXUM, f.HalfVUM) + 2*p.LateralUM
	middle := centreX + d.f.shiftLateralUM[slice]
	c0 := max(0, int((middle-reach)/p.LateralUM+d.f.middleColumn))
	c1 := min(p.Columns-1, int((middle+reach)/p.LateralUM+d.f.middleColumn)+1)
	// The slice may cut the feature off its centre, where a tilt moves it in depth.
	reach = 1.3*math.Max(f.HalfVUM, f.HalfXUM) + 0.3*(f.HalfXUM+f.HalfYUM) + 2*p.DepthUM
	row := d.f.row(slice, centreW)
	r0, r1 := max(0, int(row-reach/p.DepthUM)), min(p.Rows-1, int(row+reach/p.DepthUM)+1)
	y := d.f.imageY(slice)
	seed := d.texture + 100 + uint64(int64(f.XUM*10))
	for c := c0; c <= c1; c++ {
		for r := r0; r <= r1; r++ {
			cover, texture := f.cover(d, d.f.imageX(slice, float64(c)), y, d.f.imageW(slice, float64(r)), seed)
			if cover <= 0 {
				continue
			}
			at := &signal[c*p.Rows+r]
			*at = *at*float32(1-cover) + float32(cover*f.reflectivity*p.SignalLevel*texture)
		}
	}
}

// cover returns the share of a sample that is the feature, and its brightness.
func (f *Feature) cover(d *drawing, imageX, imageY, imageW float64, seed uint64) (cover, texture float64) {
	x, y, v := d.f.retina(imageX, imageY, imageW)
	gx, gy, gv := (x-f.XUM)/f.HalfXUM, (y-f.YUM)/f.HalfYUM, (v-f.VUM)/f.HalfVUM
	q := gx*gx + gy*gy + gv*gv
	if q > 2 {
		return 0, 0
	}
	q = math.Sqrt(q)
	texture = 1
	shape := q
	if f.ragged > 0 {
		scale := math.Max(8, f.HalfVUM*0.7)
		shape += 0.22 * f.ragged * valueNoise(x/scale, y/scale, v/scale, seed)
		texture += 0.5 * f.ragged * valueNoise(x/15, y/15, v/12, seed+1)
	}
	q = math.Max(q, 0.1)
	width := (math.Abs(gx)/f.HalfXUM*d.p.LateralUM + math.Abs(gv)/f.HalfVUM*d.p.DepthUM) / q
	return math.Min(math.Max((1-shape)/math.Max(width, 1e-3)+0.5, 0), 1), texture
}

// drawStrand draws a thin sheet in the vitreous.
func (d *drawing) drawStrand(s *strand, signal []float32, slice int) {
	p := d.p
	imageY := d.f.imageY(slice)
	for c := range p.Columns {
		imageX, w := d.f.imageX(slice, float64(c)), s.v
		for range 4 {
			x, y, v := d.f.retina(imageX, imageY, w)
			sheet := s.v + s.slope*math.Hypot(x-s.x, y-s.y) + s.wave*math.Sin(x/90+y/130+s.phase)
			w += sheet - v
		}
		middle := d.f.row(slice, w)
		faint := 0.55 + 0.45*valueNoise(imageX/60, imageY/60, 0, d.texture+7)
		for r := max(0, int(middle)-3); r <= min(p.Rows-1, int(middle)+4); r++ {
			t := (float64(r) - middle) * p.DepthUM / 3.5
			value := float32(math.Exp(-t*t/2) * s.reflectivity * p.SignalLevel * faint)
			if at := &signal[c*p.Rows+r]; *at < value {
				*at = value
			}
		}
	}
}

// shadow returns the factor of a vessel's shadow on a column and the height
// below which it falls.
func (a *features) shadow(d *drawing, slice, column int) (factor, below float32) {
	if len(a.vessels) == 0 {
		return 1, math.MaxFloat32
	}
	x, y, _ := d.f.retina(d.f.imageX(slice, float64(column)), d.f.imageY(slice), 0.7*d.p.ThicknessUM)
	factor = 1
	for _, v := range a.vessels {
		distance := math.Abs(x - v.offset - v.slope*y - v.bend*math.Sin(y/400+v.phase))
		if t := distance / v.radius; t < 1.4 {
			factor *= float32(1 - v.shade*ease(math.Min(1, 1.4-t)))
		}
	}
	return factor, float32(0.8 * d.p.ThicknessUM)
}
