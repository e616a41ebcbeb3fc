package phantom

import "math"

// knot is one point of a brightness profile: where, and the grey value from 0
// to 255 that a phantom of the reference display shows there.
type knot struct{ at, grey float64 }

// The reference display: the one against which brightness was set. With it the
// vitreous has mean 14, standard deviation 13 and 12 % zeros at about 8 looks,
// as the real volume has.
const (
	referenceRangeDB = 35
	referenceBlackDB = -2.1
)

// linearOf returns the reflectivity, without noise floor, that the reference
// display shows as grey.
func linearOf(grey float64) float64 {
	return math.Max(0, math.Pow(10, (grey/255*referenceRangeDB+referenceBlackDB+0.3)/10)-1)
}

// profile is reflectivity on an even grid from 0 to span.
type profile struct {
	value []float32
	scale float32 // entries per unit
}

const profileEntries = 512

func newProfile(span float64, knots []knot) profile {
	p := profile{make([]float32, profileEntries+2), float32(profileEntries / span)}
	for i := range p.value {
		at := float64(i) / profileEntries * span
		k := 0
		for k < len(knots)-2 && at > knots[k+1].at {
			k++
		}
		t := (at - knots[k].at) / (knots[k+1].at - knots[k].at)
		t = ease(math.Min(math.Max(t, 0), 1))
		p.value[i] = float32(linearOf(knots[k].grey + t*(knots[k+1].grey-knots[k].grey)))
	}
	return p
}

// at looks up the profile; outside it the ends hold.
func (p *profile) at(x float32) float32 {
	i := int(x*p.scale + 0.5)
	if uint(i) > profileEntries {
		if i < 0 {
			i = 0
		} else {
			i = profileEntries
		}
	}
	return p.value[i]
}

// Spans of the profiles in µm where they are not fractions.
const (
	choroidSpanUM    = 700
	outerFixedUM     = 84 // photoreceptors: of constant height above the epithelium
	epitheliumBandUM = 24 // thickness of the pigment epithelium; its centre line is at half
	normalPathUM     = 320
)

// mostDisorder is the disorder at the waist of a hole.
const mostDisorder = 0.8

// tissue holds the profiles.
type tissue struct {
	below  profile // µm below the epithelium's inner edge: epithelium, choroid
	outer  profile // µm above it, up to outerFixedUM
	middle profile // 0 there to 1 at the inner edge of the outer plexiform layer
	inner  profile // 0 there to 1 at the nerve fibre layer's outer edge
	rim    profile // 0 to 1 of the thickness: the disordered rim of a hole
	fibre  float32 // nerve fibre layer
	first  float32 // its first µm, the reflex of the inner surface
	over   float32 // epiretinal membrane; 0: none
	span   float32 // height over which rim runs: that of the crest
}

func newTissue(p *Parameters) *tissue {
	t := &tissue{
		below: newProfile(choroidSpanUM, []knot{
			{0, 200},
			{7, 214},
			{12, 219},
			{17, 214},
			{24, 192},
			{33, 146},
			{50, 112},
			{75, 88},
			{110, 68},
			{170, 62},
			{260, 46},
			{400, 25},
			{700, 4},
		}),
		outer: newProfile(outerFixedUM, []knot{
			{0, 140},
			{6, 126},
			{14, 142},
			{22, 162},
			{28, 140},
			{34, 84},
			{40, 70},
			{47, 88},
			{53, 62},
			{84, 54},
		}),
		middle: newProfile(1, []knot{{0, 54}, {0.35, 68}, {0.62, 78}, {0.8, 100}, {0.9, 136}, {0.96, 142}, {1, 122}}),
		inner: newProfile(1, []knot{
			{0, 122},
			{0.05, 108},
			{0.2, 104},
			{0.29, 118},
			{0.36, 140},
			{0.5, 151},
			{0.6, 152},
			{0.68, 143},
			{0.8, 146},
			{1, 150},
		}),
		rim:   newProfile(1, []knot{{0, 104}, {0.15, 96}, {0.4, 122}, {0.6, 140}, {0.8, 158}, {1, 164}}),
		fibre: float32(linearOf(178)),
		first: float32(linearOf(206)),
	}
	t.span = float32(p.ThicknessUM)
	if p.Hole != nil {
		t.span = float32(p.Hole.RimHeightUM)
	}
	if p.Membrane {
		t.over = float32(linearOf(222))
	}
	return t
}

// layout is what the drawing needs to know at one place (x, y).
type layout struct {
	top       float32 // inner surface
	plexiform float32 // inner edge of the outer plexiform layer
	druse     float32 // height of the epithelium
	floor     float32 // lower edge of the retina: epithelium or fluid
	disorder  float32 // 0 ordered layers to 1 rim of a hole
	outerLost float32 // 0 photoreceptors whole to 1 gone
	fibre     float32 // thickness of the nerve fibre layer, µm
}

// layoutAt computes the layout from the exact shape.
func (s *shape) layoutAt(x, y float64) layout {
	top, druse := s.top(x, y), s.drusenAt(x, y)
	floor := druse + s.fluidAt(x, y)
	l := layout{top: float32(top), druse: float32(druse), floor: float32(floor)}
	r := math.Hypot(x, y)
	var plexiform, fibre float64
	towardsNerve := math.Min(math.Max(s.nasal*x/2500, -0.4), 1)
	if s.h != nil {
		rho, _, _ := s.elliptic(x, y)
		normal := s.p.ThicknessUM
		distance := math.Max(0, rho-s.waistUM)
		plexiform = s.outerUM + 0.42*math.Max(0, top-normal) + 0.17*normal*math.Exp(-distance*distance/(110*110))
		l.disorder = float32(mostDisorder * math.Exp(-distance*distance/(120*120)))
		distance = math.Max(0, rho-s.baseUM)
		l.outerLost = float32(math.Exp(-distance * distance / (110 * 110)))
		fibre = 14 + 10*towardsNerve + 0.02*math.Max(0, rho-s.crestUM)
	} else {
		// Towards the fovea the inner layers give way to the outer ones.
		bump := 35 * math.Exp(-r*r/(420*420))
		pitShare := s.p.Pit.DepthUM / math.Max(1, 0.36*s.p.ThicknessUM)
		plexiform = s.outerUM + bump*math.Min(1, pitShare) + (floor - druse)
		if c := s.p.LargeCentralCyst; c != nil {
			plexiform += 0.5 * math.Max(0, top-s.p.ThicknessUM)
		}
		if s.p.Pit.DepthUM > 0 {
			t := 2 * r / s.p.Pit.WidthUM
			fibre = (8 + 10*math.Min(1, r/1500)) * (1 - math.Exp(-t*t)) * (1 + towardsNerve)
		} else {
			fibre = 10 + 8*towardsNerve
		}
		if d := s.p.LamellarDefect; d != nil {
			t := 2 * r / d.WidthUM
			l.disorder = float32(0.5 * math.Exp(-t*t*0.7))
		}
	}
	// Layers are never quite level.
	plexiform += 7*valueNoise(x/210, y/210, 0, s.p.Seed) + 3*valueNoise(x/70, y/70, 0, s.p.Seed+1)
	highest := top - 9
	if plexiform > highest-20 { // a smooth minimum
		over := plexiform - (highest - 20)
		plexiform = highest - 20*math.Exp(-over/20)
	}
	l.plexiform = float32(math.Max(plexiform, floor+20))
	l.fibre = float32(math.Max(3, fibre))
	return l
}

// retina returns the reflectivity of neurosensory retina at height v.
func (t *tissue) retina(l *layout, v float32) float32 {
	above := v - l.floor
	var value float32
	outerEnd := float32(outerFixedUM)
	if room := 0.8 * (l.plexiform - l.floor); room < outerEnd {
		outerEnd = room
	}
	switch {
	case above < outerEnd:
		value = t.outer.at(above * (outerFixedUM / outerEnd))
		if l.outerLost > 0.01 {
			value += l.outerLost * (t.rim.at(above/t.span) - value)
		}
	case v < l.plexiform:
		value = t.middle.at((above - outerEnd) / (l.plexiform - l.floor - outerEnd))
	default:
		value = t.inner.at((v - l.plexiform) / (l.top - l.plexiform))
	}
	if l.disorder > 0.01 && above >= outerEnd*0.7 {
		value += l.disorder * (t.rim.at(above/t.span) - value)
	}
	depth := l.top - v
	if depth < l.fibre+8 {
		share := (l.fibre + 8 - depth) / 10
		if share > 1 {
			share = 1
		}
		// Neither fibres nor a reflex line the wall of a hole.
		share *= 1 - l.disorder*(1/mostDisorder)
		value += share * (t.fibre - value)
		if depth < 7 {
			value += 0.6 * share * (t.first - value)
			if t.over > 0 {
				value += share * (t.over - value)
			}
		}
	}
	return value
}
