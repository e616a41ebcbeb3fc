package phantom

import (
	"math"

	"limitans/eye"
)

// shape is the exact geometry in the retina's frame. Everything drawn and
// everything told as truth comes from the functions of this file.
type shape struct {
	p       *Parameters
	h       *Hole
	waistUM float64 // radius of the waist along the smaller diameter
	baseUM  float64 // radius at v = 0, without the cuff
	crestUM float64 // radius of the crest
	waistV  float64
	cosM    float64
	sinM    float64
	lower   []float64 // radius below the waist, every lowerStepUM
	wobble0 []float64 // wave around, and its two companions that turn with v
	wobble1 []float64
	wobble2 []float64
	waveMax float64 // largest |wave|
	drusen  []druse
	fold    foldWave
	nasal   float64 // +1, −1: side of the optic nerve along x
	cuffUM  float64
	outerUM float64 // normal height of the outer plexiform layer's inner edge
}

type druse struct{ x, y, radius, height float64 }

type foldWave struct{ kx, ky, phase, amplitude float64 }

const (
	lowerStepUM    = 0.25
	wobbleEntries  = 2048
	wobbleLengthUM = 260 // one turn of the wave upward
	cuffHeightUM   = 45
	cuffReachUM    = 90
)

func newShape(p *Parameters) *shape {
	s := &shape{p: p, h: p.Hole, outerUM: 0.46 * p.ThicknessUM, nasal: 1}
	if p.Laterality == eye.Left { // the nerve is on the left of the image
		s.nasal = -1
	}
	rng := newStream(p.Seed, streamShape)
	angle, wave := rng.Float64()*math.Pi, 70+50*rng.Float64()
	s.fold = foldWave{2 * math.Pi * math.Cos(angle) / wave, 2 * math.Pi * math.Sin(angle) / wave, rng.Float64() * 6, 0}
	if p.Membrane {
		s.fold.amplitude = 3 + 4*rng.Float64()
	}
	if s.h != nil {
		s.prepareHole()
	}
	s.placeDrusen()
	return s
}

func (s *shape) prepareHole() {
	h := s.h
	s.waistUM = h.MinimumUM / 2
	s.baseUM = s.waistUM * h.BaseRatio
	s.crestUM = s.waistUM + h.RimRollUM
	s.waistV = h.WaistHeightFraction * h.RimHeightUM
	s.sinM, s.cosM = math.Sincos(h.MeridianDeg * math.Pi / 180)
	if s.p.SubretinalFluidCuff {
		s.cuffUM = cuffReachUM
	}
	power := 1 + 3*h.Overhang
	s.lower = make([]float64, int(s.waistV/lowerStepUM)+2)
	for i := range s.lower {
		v := math.Min(float64(i)*lowerStepUM, s.waistV)
		t := 1 - v/s.waistV
		s.lower[i] = s.waistUM + (s.baseUM-s.waistUM)*(1-math.Pow(1-t*t, power))
		if v < cuffHeightUM {
			s.lower[i] += s.cuffUM * (1 - v/cuffHeightUM) * (1 - v/cuffHeightUM)
		}
	}
	s.prepareWobble()
}

// prepareWobble fills the three waves; together they have standard deviation 1
// over the wall.
func (s *shape) prepareWobble() {
	rng := newStream(s.p.Seed, streamWobble)
	tables := [3][]float64{}
	for t := range tables {
		table := make([]float64, wobbleEntries+1)
		power := 0.0
		for order := 2; order <= 9; order++ {
			amplitude, phase := rng.NormFloat64()/math.Sqrt(float64(order)), rng.Float64()*2*math.Pi
			power += amplitude * amplitude / 2
			for i := range table {
				table[i] += amplitude * math.Cos(float64(order)*2*math.Pi*float64(i)/wobbleEntries+phase)
			}
		}
		for i := range table {
			table[i] /= math.Sqrt(2 * power) // each of variance ½: 0.5 + 0.5·(cos² + sin²) = 1
		}
		tables[t] = table
	}
	s.wobble0, s.wobble1, s.wobble2 = tables[0], tables[1], tables[2]
	for i := range s.wobble0 {
		s.waveMax = math.Max(s.waveMax, math.Abs(s.wobble0[i])+math.Hypot(s.wobble1[i], s.wobble2[i]))
	}
}

// wave returns the disturbance of the wall at the elliptic angle phi.
func (s *shape) wave(phi, v float64) float64 {
	at := phi / (2 * math.Pi) * wobbleEntries
	if at < 0 {
		at += wobbleEntries
	}
	i := int(at)
	if i >= wobbleEntries {
		i = wobbleEntries - 1
	}
	part := at - float64(i)
	v = math.Min(math.Max(v, 0), s.h.RimHeightUM)
	sin, cos := math.Sincos(2 * math.Pi * v / wobbleLengthUM)
	first := s.wobble0[i] + cos*s.wobble1[i] + sin*s.wobble2[i]
	next := s.wobble0[i+1] + cos*s.wobble1[i+1] + sin*s.wobble2[i+1]
	return first + part*(next-first)
}

// elliptic returns the elliptic radius, measured along the smaller diameter,
// and the two coordinates it comes from.
func (s *shape) elliptic(x, y float64) (rho, small, large float64) {
	dx, dy := x-s.h.CentreXUM, y-s.h.CentreYUM
	large = (dx*s.cosM + dy*s.sinM) / s.h.OvalityRatio
	small = dy*s.cosM - dx*s.sinM
	return math.Sqrt(small*small + large*large), small, large
}

// smoothed returns the elliptic radius with the wave taken off: the wall is
// where it equals wallRadius.
func (s *shape) smoothed(x, y, v float64) float64 {
	rho, small, large := s.elliptic(x, y)
	if s.h.WallRoughnessUM == 0 {
		return rho
	}
	return rho - s.h.WallRoughnessUM*s.wave(math.Atan2(large, small), v)
}

// crestV returns the height the crest would have at x.
func (s *shape) crestV(x float64) float64 {
	t := (x - s.h.CentreXUM) / s.crestUM
	return s.h.RimHeightUM + s.h.RimAsymmetryUM/2*t/math.Sqrt(1+t*t)
}

// lowerRadius returns the radius of the wall below the waist.
func (s *shape) lowerRadius(v float64) float64 {
	at := math.Max(v, 0) / lowerStepUM
	i := min(int(at), len(s.lower)-2)
	part := math.Min(at-float64(i), 1)
	return s.lower[i] + part*(s.lower[i+1]-s.lower[i])
}

// wallRadius returns the radius of the wall at height v and at x (the crest
// depends on x), and false above the crest.
func (s *shape) wallRadius(x, v float64) (float64, bool) {
	if v <= s.waistV {
		return s.lowerRadius(v), true
	}
	t := (v - s.waistV) / (s.crestV(x) - s.waistV)
	if t > 1 {
		return 0, false
	}
	return s.crestUM - s.h.RimRollUM*math.Sqrt(1-t*t), true
}

// normalTop is the inner surface away from hole or pit.
func (s *shape) normalTop(x, y float64) float64 {
	top := s.p.ThicknessUM + 0.006*s.nasal*x
	if s.fold.amplitude > 0 {
		top += s.fold.amplitude * math.Sin(s.fold.kx*x+s.fold.ky*y+s.fold.phase)
	}
	return top
}

// top returns the height of the inner surface at (x, y), looking down along v;
// inside the waist of a hole it returns the height of the waist.
func (s *shape) top(x, y float64) float64 {
	if s.h != nil {
		rho := s.smoothed(x, y, s.h.RimHeightUM)
		crest := s.crestV(x)
		switch {
		case rho >= s.crestUM:
			t := (rho - s.crestUM) / s.h.RimDecayUM
			fall := math.Exp(-t * t)
			normal := s.normalTop(x, y)
			return normal + (crest-normal)*fall + s.drusenAt(x, y)*0.8
		case rho <= s.waistUM:
			return s.waistV
		}
		t := (s.crestUM - rho) / s.h.RimRollUM
		return s.waistV + (crest-s.waistV)*math.Sqrt(1-t*t)
	}
	top := s.normalTop(x, y) + s.fluidAt(x, y) + s.drusenAt(x, y)*0.8
	r := math.Hypot(x, y)
	if pit := s.p.Pit; pit.DepthUM > 0 {
		t := 2 * r / pit.WidthUM
		rim := t / 1.9
		top += 0.12*pit.DepthUM*rim*rim*math.Exp(1-rim*rim) - pit.DepthUM*math.Exp(-math.Ln2*math.Pow(t, pit.Steepness))
	}
	if d := s.p.LamellarDefect; d != nil {
		t := 2 * r / d.WidthUM
		top -= d.DepthUM * math.Exp(-math.Ln2*math.Pow(t, 6))
	}
	if c := s.p.LargeCentralCyst; c != nil {
		// The retina is lifted until the roof above the cyst is RoofUM thick.
		lift := centralCystFloorUM + c.HeightUM + c.RoofUM - s.p.ThicknessUM + s.p.Pit.DepthUM
		t := r / math.Max(0.75*c.WidthUM, 330)
		top += lift * math.Exp(-t*t)
	}
	return top
}

const centralCystFloorUM = 70 // of the cyst above the epithelium

// fluidAt is the height of the fluid dome; it ends smoothly at its edge.
func (s *shape) fluidAt(x, y float64) float64 {
	f := s.p.Fluid
	if f == nil {
		return 0
	}
	t := 4 * (x*x + y*y) / (f.WidthUM * f.WidthUM)
	if t >= 1 {
		return 0
	}
	return f.HeightUM * (1 - t) * math.Sqrt(1-t)
}

// drusenAt is the height by which drusen lift the epithelium.
func (s *shape) drusenAt(x, y float64) float64 {
	sum := 0.0
	for _, d := range s.drusen {
		dx, dy := x-d.x, y-d.y
		if t := (dx*dx + dy*dy) / (d.radius * d.radius); t < 1 {
			sum += d.height * (1 - t) * (1 - t)
		}
	}
	return sum
}

// placeDrusen scatters drusen over the field, away from a hole.
func (s *shape) placeDrusen() {
	rng := newStream(s.p.Seed, streamDrusen)
	halfX := float64(s.p.Columns) * s.p.LateralUM / 2
	halfY := float64(s.p.Slices) * s.p.SliceUM / 2
	for range s.p.Drusen {
		for range 20 {
			d := druse{(2*rng.Float64() - 1) * halfX, (2*rng.Float64() - 1) * halfY, 60 + 140*rng.Float64(), 0}
			d.height = d.radius * (0.2 + 0.25*rng.Float64())
			if s.h != nil {
				if rho, _, _ := s.elliptic(d.x, d.y); rho < math.Max(s.baseUM+s.cuffUM+120, s.rimEndUM())+d.radius {
					continue
				}
			}
			s.drusen = append(s.drusen, d)
			break
		}
	}
}

// rimEndUM is the elliptic radius up to which the inner surface counts as the
// rim: there it has fallen by half.
func (s *shape) rimEndUM() float64 { return s.crestUM + s.h.RimDecayUM*math.Sqrt(math.Ln2) }

// solid reports whether neurosensory retina is at the place (closed cysts count
// as retina).
func (s *shape) solid(x, y, v float64) bool {
	if v <= s.drusenAt(x, y)+s.fluidAt(x, y) {
		return false
	}
	if s.h == nil {
		return v <= s.top(x, y)
	}
	return s.outsideWall(x, y, v) && (s.smoothed(x, y, v) < s.crestUM || v <= s.top(x, y))
}

// outsideWall reports whether the place lies outside the wall of the hole, or
// beyond the crest.
func (s *shape) outsideWall(x, y, v float64) bool {
	// Most places are further from the wall than its waves reach.
	reach := s.waveMax * s.h.WallRoughnessUM
	rho, _, _ := s.elliptic(x, y)
	if v <= s.waistV {
		if radius := s.lowerRadius(v); math.Abs(rho-radius) > reach {
			return rho > radius
		}
	} else if rho > s.crestUM+reach || rho < s.waistUM-reach {
		return rho > s.crestUM
	}
	rho = s.smoothed(x, y, v)
	if rho >= s.crestUM && v > s.waistV {
		return true
	}
	radius, below := s.wallRadius(x, v)
	return below && rho >= radius
}

// inLumen reports whether the place lies in the hole below the lid.
func (s *shape) inLumen(x, y, v, lidV float64) bool {
	if v <= 0 || v >= lidV {
		return false
	}
	return !s.outsideWall(x, y, v)
}
