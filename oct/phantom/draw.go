package phantom

import (
	"math"
	"math/rand/v2"

	"limitans/eye"
)

// Kind narrows what is drawn.
type Kind string

// Kinds of holes, by the waist's smaller diameter.
const (
	Small  Kind = "small"  // 80 to 250 µm
	Medium Kind = "medium" // 250 to 400 µm
	Large  Kind = "large"  // 400 to 1300 µm
	Coarse Kind = "coarse" // slices as far apart as a crossing allows
)

// Kinds of eyes without a hole.
const (
	NormalPit       Kind = "normal pit"
	NoPit           Kind = "no pit"
	SteepPit        Kind = "steep pit" // a pseudohole: steep walls, membrane
	CystUnderRoof   Kind = "cyst under roof"
	Lamellar        Kind = "lamellar defect"
	MembraneOnly    Kind = "membrane"
	FluidUnderRoof  Kind = "fluid under roof"
	WithDrusen      Kind = "drusen"
	ClosedOperculum Kind = "operculum over closed pit"
	WithStrands     Kind = "strands"
	WeakSignal      Kind = "weak signal"
)

// IntactKinds lists the kinds that [DrawIntact] chooses from.
func IntactKinds() []Kind {
	return []Kind{
		NormalPit, NoPit, SteepPit, CystUnderRoof, Lamellar, MembraneOnly, FluidUnderRoof, WithDrusen,
		ClosedOperculum, WithStrands, WeakSignal,
	}
}

// noiseLevels are the looks that are drawn, from quiet to noisy.
var noiseLevels = [4]float64{24, 12, 6, 3}

type ranger struct{ *rand.Rand }

func (r ranger) between(low, high float64) float64 { return low + (high-low)*r.Float64() }

func (r ranger) logBetween(low, high float64) float64 {
	return math.Exp(r.between(math.Log(low), math.Log(high)))
}

func (r ranger) chance(share float64) bool { return r.Float64() < share }

// Draw returns an eye with a full-thickness hole, anywhere in the clinical
// range: waist log-uniform 80 to 1300 µm (narrower for the kinds Small, Medium,
// Large), larger / smaller diameter 1 to 1.5, base 1.3 to 2.5 times the waist
// but at most 2000 µm (and at least 60 µm wider than the waist), crest 300 to
// 500 µm, waist at 35 to 65 % of it, tilts to ±12° as far as the rows allow,
// curvature radius 10 to 40 mm or flat, four noise levels, depth 1.95 to
// 3.87 µm, lateral 5.8 to 11.5 µm, 300 to 496 rows, at least 350 µm beside the
// base.
//
// Slices are 12 to 120 µm apart, log-uniform, and at most waist/3.5, so that at
// least three cross the waist; with the kind Coarse, and in one of ten draws
// without a kind, they lie 0.5 to 0.8 waists apart (60 to 120 µm where that is
// less, and never more than 60 µm for waists under 120 µm), so that at least one
// crosses. There are at most 100 slices; a hole that would need more gets them
// further apart.
func Draw(rng *rand.Rand, kinds ...Kind) Parameters {
	r := ranger{rng}
	low, high, coarse := 80.0, 1300.0, r.chance(0.1)
	if len(kinds) > 0 {
		coarse = false
	}
	for _, kind := range kinds {
		switch kind {
		case Small:
			low, high = 80, 250
		case Medium:
			low, high = 250, 400
		case Large:
			low, high = 400, 1300
		case Coarse:
			coarse = true
		}
	}
	p := r.common()
	h := r.hole(r.logBetween(low, high))
	p.Hole = h
	p.ThicknessUM = math.Min(math.Max(h.RimHeightUM-r.between(50, 150), 220), 330)
	p.Cysts = r.IntN(60)
	if r.chance(0.4) && h.MinimumUM > 100 {
		p.Fragments = 1 + r.IntN(6)
	}
	p.Operculum = r.chance(0.25)
	if r.chance(0.25) {
		p.Strands = 1 + r.IntN(2)
	}
	p.Membrane = r.chance(0.25)
	p.SubretinalFluidCuff = r.chance(0.2)
	p.Fraying = r.between(0.2, 1)
	if r.chance(0.15) {
		p.Drusen = 1 + r.IntN(4)
	}
	r.sample(&p, coarse)
	return r.fitted(p)
}

// hole draws the shape.
func (r ranger) hole(minimumUM float64) *Hole {
	h := &Hole{
		MinimumUM: minimumUM, OvalityRatio: 1 + 0.5*r.Float64()*r.Float64()*1.6, MeridianDeg: r.between(0, 180),
		BaseRatio: r.between(1.3, 2.5), WaistHeightFraction: r.between(0.35, 0.65), RimHeightUM: r.between(300, 500),
		RimRollUM: r.between(140, 320), RimDecayUM: r.between(280, 480), RimAsymmetryUM: r.between(-60, 60),
		Overhang: r.Float64(), WallRoughnessUM: r.Float64() * math.Min(6, minimumUM/45),
		CentreXUM: r.between(-150, 150), CentreYUM: r.between(-100, 100),
	}
	h.OvalityRatio = math.Min(h.OvalityRatio, 1.5)
	h.BaseRatio = math.Min(h.BaseRatio, math.Max(1.3, 2000/minimumUM))
	h.BaseRatio = math.Max(h.BaseRatio, 1+60/minimumUM)
	return h
}

// common draws what holes and intact eyes share.
func (r ranger) common() Parameters {
	p := Parameters{
		BitDepth: 8, Seed: r.Uint64(), Looks: noiseLevels[r.IntN(4)], NoiseFloor: 1,
		SignalLevel: r.between(0.6, 1.3), AxialSigmaUM: r.between(2.8, 4.2), LateralSigmaUM: r.between(4.5, 7.5),
		Display:      Display{CurveLogarithm, r.between(-3, -0.5), r.between(33, 39)},
		GrainLateral: r.between(0.15, 0.35), GrainDepth: r.between(0.35, 0.55),
		TiltLateralDeg: r.between(-12, 12), TiltSliceDeg: r.between(-12, 12),
		Vessels: r.IntN(5), Laterality: eye.Right,
	}
	if r.chance(0.5) {
		p.Laterality = eye.Left
	}
	if r.chance(0.25) {
		p.BitDepth = 16
	}
	if r.chance(0.3) {
		p.Display = Display{CurveFourthRoot, r.between(-3, -0.5), r.between(26, 30)}
	}
	if r.chance(0.4) { // many volumes come flattened and upright
		p.TiltLateralDeg, p.TiltSliceDeg = p.TiltLateralDeg/6, p.TiltSliceDeg/6
	}
	if r.chance(0.6) {
		p.CurvatureRadiusMM = r.between(10, 40)
	}
	if r.chance(0.5) {
		p.MotionDepthUM, p.MotionLateralUM = r.between(0, 5), r.between(0, 5)
	}
	p.WhiteWedge = r.chance(0.05)
	return p
}

// sample draws spacings and counts for a hole.
func (r ranger) sample(p *Parameters, coarse bool) {
	h := p.Hole
	r.depth(p)
	p.LateralUM = r.between(5.8, 11.5)
	base := h.MinimumUM*h.BaseRatio*h.OvalityRatio + 40
	if p.SubretinalFluidCuff {
		base += 2 * cuffReachUM
	}
	width := base + 2*math.Abs(h.CentreXUM) + 2*r.between(360, 700)
	p.Columns = int(math.Ceil(width/p.LateralUM)) + 1
	closest := math.Min(120, h.MinimumUM/3.5)
	p.SliceUM = r.logBetween(12, math.Max(12, closest))
	if coarse {
		p.SliceUM = math.Min(120, h.MinimumUM*r.between(0.5, 0.8))
		if h.MinimumUM < 120 {
			p.SliceUM = math.Min(60, p.SliceUM)
		}
	}
	opening := (h.MinimumUM + 2*h.RimRollUM) * h.OvalityRatio
	extent := math.Max(base, opening) + 2*math.Abs(h.CentreYUM) + 2*90
	p.Slices = int(math.Ceil(extent/p.SliceUM)) + 3
	if p.Slices > 100 {
		p.SliceUM *= float64(p.Slices) / 100
		p.Slices = 100
	}
}

func (r ranger) depth(p *Parameters) {
	p.DepthUM, p.Rows = 3.87, 300+r.IntN(197)
	switch {
	case r.chance(0.15):
		p.DepthUM, p.Rows = 1.95, 496
		p.GrainDepth = 0.6
	case r.chance(0.2):
		p.DepthUM, p.Rows = 2.6, 400+r.IntN(97)
	}
}

// fitted takes tilt and curvature back, by a tenth at a time, until the retina
// lies within the rows.
func (r ranger) fitted(p Parameters) Parameters {
	for range 60 {
		if fit(&p, newFrame(&p), newShape(&p)) == nil {
			return p
		}
		p.TiltLateralDeg *= 0.9
		p.TiltSliceDeg *= 0.9
		if p.CurvatureRadiusMM != 0 {
			p.CurvatureRadiusMM *= 1.1
		}
		if p.Rows < 496 {
			p.Rows = min(496, p.Rows+8)
		}
	}
	return p
}

// DrawIntact returns an eye without a full-thickness hole: one of the kinds
// given, or of all of [IntactKinds]. Thickness 240 to 340 µm, 21 to 61 slices
// 25 to 100 µm apart, field 1.8 to 3.6 mm wide; the rest as in [Draw].
func DrawIntact(rng *rand.Rand, kinds ...Kind) Parameters {
	r := ranger{rng}
	if len(kinds) == 0 {
		kinds = IntactKinds()
	}
	kind := kinds[r.IntN(len(kinds))]
	p := r.common()
	r.depth(&p)
	p.LateralUM = r.between(5.8, 11.5)
	p.Columns = int(r.between(1800, 3600) / p.LateralUM)
	p.SliceUM = r.between(25, 100)
	p.Slices = max(21, min(61, int(r.between(1200, 3000)/p.SliceUM)))
	p.ThicknessUM = r.between(240, 340)
	p.Pit = Pit{r.between(0.25, 0.45) * p.ThicknessUM, r.between(500, 1100), 2}
	if r.chance(0.3) {
		p.Cysts = r.IntN(15)
	}
	r.intact(&p, kind)
	return r.fitted(p)
}

// intact sets what makes the kind.
func (r ranger) intact(p *Parameters, kind Kind) {
	switch kind {
	case NoPit:
		p.Pit.DepthUM = r.between(0, 0.08) * p.ThicknessUM
	case SteepPit:
		p.Pit = Pit{r.between(0.45, 0.62) * p.ThicknessUM, r.between(300, 700), r.between(3, 6)}
		p.Membrane = true
	case CystUnderRoof:
		p.LargeCentralCyst = &CentralCyst{r.between(150, 500), r.between(140, 300), r.between(10, 25)}
		p.Cysts = 30 + r.IntN(50)
		p.Pit.DepthUM *= 0.15
	case Lamellar:
		p.Pit.DepthUM = r.between(0.1, 0.2) * p.ThicknessUM
		p.LamellarDefect = &Defect{r.between(250, 800), r.between(0.3, 0.5) * p.ThicknessUM}
		p.Membrane = r.chance(0.6)
	case MembraneOnly:
		p.Membrane = true
		p.Pit.DepthUM = r.between(0, 0.2) * p.ThicknessUM
	case FluidUnderRoof:
		p.Fluid = &Fluid{r.between(30, 160), r.between(500, 1600)}
	case WithDrusen:
		p.Drusen = 3 + r.IntN(12)
	case ClosedOperculum:
		p.Operculum = true
		p.Strands = r.IntN(2)
	case WithStrands:
		p.Strands = 1 + r.IntN(3)
	case WeakSignal:
		p.SignalLevel = r.between(0.12, 0.35)
	}
}
