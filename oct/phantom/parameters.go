package phantom

import (
	"fmt"
	"math"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// Parameters say everything about one phantom; two equal Parameters give equal
// volumes and truths. The zero value is invalid: use [Draw], [DrawIntact] or
// fill all of the first three groups.
type Parameters struct {
	// Sampling.
	Slices, Rows, Columns          int
	BitDepth                       int     // 8 or 16
	DepthUM, LateralUM, SliceUM    float64 // µm per sample
	TiltLateralDeg, TiltSliceDeg   float64 // tilt of the retina in the image, −12° to 12°
	CurvatureRadiusMM              float64 // 0: flat; positive: the edges rise towards the vitreous
	EpitheliumRow                  float64 // row of the epithelium at the scan's centre; 0: placed so that the retina fits
	MotionDepthUM, MotionLateralUM float64 // standard deviation of the shift of each slice, 0 to 12 µm
	Inverted                       bool    // upside down: vitreous at the last row
	WhiteWedge                     bool    // white corners, as left by rotating an image
	Laterality                     eye.Laterality
	Seed                           uint64

	// Macula.
	ThicknessUM      float64      // normal thickness around the centre, epithelium's inner edge to inner limiting membrane
	Hole             *Hole        // nil: no hole
	Pit              Pit          // without a hole only
	LargeCentralCyst *CentralCyst // without a hole only: cyst under an intact roof
	LamellarDefect   *Defect      // without a hole only: partial thickness, floor intact
	Fluid            *Fluid       // without a hole only: fluid under an intact retina

	// Light.
	Looks                        float64 // independent intensities averaged, 1 to 200; +Inf: no noise
	NoiseFloor                   float64 // linear; 1 is the level the reflectivities were set against
	SignalLevel                  float64 // factor on all reflectivities; 1 good, 0.3 weak
	AxialSigmaUM, LateralSigmaUM float64 // point spread
	Display                      Display
	GrainLateral, GrainDepth     float64 // weight of each neighbour in the grain, 0 to 1

	// Things that disturb.
	Cysts, Fragments, Strands, Vessels, Drusen int
	Operculum                                  bool
	Membrane                                   bool    // bright epiretinal layer inside the true surface, with folds
	SubretinalFluidCuff                        bool    // with a hole: the base flares into a thin cuff
	Fraying                                    float64 // 0 smooth walls, 1 as frayed as the real volume
}

// Hole is a full-thickness hole.
type Hole struct {
	MinimumUM           float64 // smaller diameter of the waist
	OvalityRatio        float64 // larger / smaller diameter of every section, ≥ 1
	MeridianDeg         float64 // direction of the larger diameter, degrees from x towards y (y grows with the slice)
	BaseRatio           float64 // base / waist
	WaistHeightFraction float64 // height of the waist / RimHeightUM
	RimHeightUM         float64 // crest above the epithelium's inner edge
	RimRollUM           float64 // from waist to crest along the smaller diameter
	RimDecayUM          float64 // Gaussian length over which the rim falls to normal thickness
	RimAsymmetryUM      float64 // rim far to the right minus rim far to the left
	Overhang            float64 // 0: parabolic flare to the base; 1: the lip is undercut abruptly
	WallRoughnessUM     float64 // standard deviation of the wavy wall
	CentreXUM           float64 // from the scan's centre
	CentreYUM           float64
}

// Pit is a foveal depression, exp(−ln 2·(2r/WidthUM)^Steepness) deep.
type Pit struct {
	DepthUM   float64 // 0: no pit
	WidthUM   float64 // diameter at half depth
	Steepness float64 // 2 normal to 6 punched out
}

// CentralCyst is a large closed cyst in the centre.
type CentralCyst struct {
	WidthUM, HeightUM float64
	RoofUM            float64 // thinnest tissue above it
}

// Defect is a lamellar defect: an inner part of the retina is missing.
type Defect struct {
	WidthUM, DepthUM float64
}

// Fluid is a dome of subretinal fluid.
type Fluid struct {
	HeightUM, WidthUM float64
}

// Curve is the law of the display.
type Curve int

// The curves.
const (
	CurveLogarithm  Curve = iota // grey is linear in dB
	CurveFourthRoot              // grey is linear in the fourth root of the intensity
)

// Display turns linear intensity into grey values. RangeDB lie between BlackDB
// (grey 0) and BlackDB + RangeDB (white); 0 dB is intensity 1. What is outside
// is clipped, as scanners do.
type Display struct {
	Curve            Curve
	BlackDB, RangeDB float64
}

// inRange is one rule of Check.
type inRange struct {
	name          string
	value         float64
	low, high     float64
	lowIsExcluded bool
}

// Check returns a fault that names the first impossible field.
func (p *Parameters) Check() error {
	if err := oct.CheckSize(p.Slices, p.Rows, p.Columns); err != nil {
		return err
	}
	if p.BitDepth != 8 && p.BitDepth != 16 {
		return invalid("BitDepth", float64(p.BitDepth), "8 or 16")
	}
	if p.Display.Curve != CurveLogarithm && p.Display.Curve != CurveFourthRoot {
		return invalid("Display.Curve", float64(p.Display.Curve), "a known curve")
	}
	if !(math.IsInf(p.Looks, 1) || (p.Looks >= 1 && p.Looks <= 200)) {
		return invalid("Looks", p.Looks, "1 to 200, or +Inf for no noise")
	}
	if r := math.Abs(p.CurvatureRadiusMM); !(r == 0 || (r >= 5 && r <= 1e6)) {
		return invalid("CurvatureRadiusMM", p.CurvatureRadiusMM, "0 or at least 5 mm")
	}
	rules := []inRange{
		{"Rows", float64(p.Rows), 16, oct.MaxSide, false},
		{"Columns", float64(p.Columns), 16, oct.MaxSide, false},
		{"DepthUM", p.DepthUM, 0.5, 20, false},
		{"LateralUM", p.LateralUM, 1, 60, false},
		{"SliceUM", p.SliceUM, 1, 500, false},
		{"TiltLateralDeg", p.TiltLateralDeg, -12, 12, false},
		{"TiltSliceDeg", p.TiltSliceDeg, -12, 12, false},
		{"EpitheliumRow", p.EpitheliumRow, 0, float64(p.Rows), false},
		{"MotionDepthUM", p.MotionDepthUM, 0, 12, false},
		{"MotionLateralUM", p.MotionLateralUM, 0, 12, false},
		{"ThicknessUM", p.ThicknessUM, 120, 450, false},
		{"NoiseFloor", p.NoiseFloor, 0, 1000, true},
		{"SignalLevel", p.SignalLevel, 0, 1000, true},
		{"AxialSigmaUM", p.AxialSigmaUM, 0, 30, false},
		{"LateralSigmaUM", p.LateralSigmaUM, 0, 60, false},
		{"Display.RangeDB", p.Display.RangeDB, 1, 100, false},
		{"Display.BlackDB", p.Display.BlackDB, -100, 100, false},
		{"GrainLateral", p.GrainLateral, 0, 1, false},
		{"GrainDepth", p.GrainDepth, 0, 1, false},
		{"Fraying", p.Fraying, 0, 1, false},
		{"Cysts", float64(p.Cysts), 0, 200, false},
		{"Fragments", float64(p.Fragments), 0, 50, false},
		{"Strands", float64(p.Strands), 0, 5, false},
		{"Vessels", float64(p.Vessels), 0, 50, false},
		{"Drusen", float64(p.Drusen), 0, 50, false},
	}
	return checkAll(append(rules, p.maculaRules()...), p)
}

// maculaRules are the rules of the parts that are there.
func (p *Parameters) maculaRules() []inRange {
	var rules []inRange
	if h := p.Hole; h != nil {
		rules = append(rules,
			inRange{"Hole.MinimumUM", h.MinimumUM, 20, 3000, false},
			inRange{"Hole.OvalityRatio", h.OvalityRatio, 1, 3, false},
			inRange{"Hole.MeridianDeg", h.MeridianDeg, -360, 360, false},
			inRange{"Hole.BaseRatio", h.BaseRatio, 1, 6, false},
			inRange{"Hole.WaistHeightFraction", h.WaistHeightFraction, 0.1, 0.85, false},
			inRange{"Hole.RimHeightUM", h.RimHeightUM, 150, 700, false},
			inRange{"Hole.RimRollUM", h.RimRollUM, 10, 800, false},
			inRange{"Hole.RimDecayUM", h.RimDecayUM, 50, 2000, false},
			inRange{"Hole.RimAsymmetryUM", h.RimAsymmetryUM, -150, 150, false},
			inRange{"Hole.Overhang", h.Overhang, 0, 1, false},
			inRange{"Hole.WallRoughnessUM", h.WallRoughnessUM, 0, h.MinimumUM / 8, false},
			inRange{"Hole.CentreXUM", h.CentreXUM, -10000, 10000, false},
			inRange{"Hole.CentreYUM", h.CentreYUM, -10000, 10000, false})
	}
	if p.Pit != (Pit{}) {
		rules = append(rules,
			inRange{"Pit.DepthUM", p.Pit.DepthUM, 0, p.ThicknessUM - 60, false},
			inRange{"Pit.WidthUM", p.Pit.WidthUM, 100, 3000, false},
			inRange{"Pit.Steepness", p.Pit.Steepness, 2, 6, false})
	}
	if c := p.LargeCentralCyst; c != nil {
		rules = append(rules,
			inRange{"LargeCentralCyst.WidthUM", c.WidthUM, 60, 1500, false},
			inRange{"LargeCentralCyst.HeightUM", c.HeightUM, 60, 500, false},
			inRange{"LargeCentralCyst.RoofUM", c.RoofUM, 5, 200, false})
	}
	if d := p.LamellarDefect; d != nil {
		rules = append(rules,
			inRange{"LamellarDefect.WidthUM", d.WidthUM, 60, 2000, false},
			inRange{"LamellarDefect.DepthUM", d.DepthUM, 20, p.ThicknessUM - p.Pit.DepthUM - 40, false})
	}
	if f := p.Fluid; f != nil {
		rules = append(rules,
			inRange{"Fluid.HeightUM", f.HeightUM, 5, 400, false},
			inRange{"Fluid.WidthUM", f.WidthUM, 100, 4000, false})
	}
	return rules
}

func checkAll(rules []inRange, p *Parameters) error {
	for _, r := range rules {
		if !(r.value >= r.low && r.value <= r.high) || (r.lowIsExcluded && r.value == r.low) {
			return invalid(r.name, r.value, fmt.Sprintf("%g to %g", r.low, r.high))
		}
	}
	if p.Hole == nil {
		if p.Fragments > 0 || p.SubretinalFluidCuff {
			return &fault.Error{Code: fault.Invalid, Where: "phantom", What: "fragments and a cuff need a hole", Expected: "none without a hole"}
		}
		return nil
	}
	if p.Pit != (Pit{}) || p.LargeCentralCyst != nil || p.LamellarDefect != nil || p.Fluid != nil {
		return &fault.Error{
			Code: fault.Invalid, Where: "phantom", What: "a pit, central cyst, lamellar defect or fluid dome beside a hole",
			Expected: "a hole or one of these",
		}
	}
	return p.Hole.checkRim(p.ThicknessUM)
}

// checkRim returns a fault unless the rim is higher than the normal retina all
// around and its lid lies above the waist.
func (h *Hole) checkRim(thicknessUM float64) error {
	lower := h.RimHeightUM - math.Abs(h.RimAsymmetryUM)/2
	if lower < thicknessUM+10 {
		return invalid("ThicknessUM", thicknessUM, fmt.Sprintf("at least 10 below the lower rim, %g", lower))
	}
	if waist := h.WaistHeightFraction * h.RimHeightUM; lidFraction*lower < waist+10 {
		return invalid("Hole.WaistHeightFraction", h.WaistHeightFraction, "a waist at least 10 µm below the lid")
	}
	return nil
}

func invalid(field string, value float64, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: "phantom " + field, What: fmt.Sprintf("%g is impossible", value), Expected: expected}
}
