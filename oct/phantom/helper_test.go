package phantom

import (
	"math"
	"testing"
)

// asReal resembles the real volume of the test data in sampling and size.
func asReal() Parameters {
	return Parameters{
		Slices: 49, Rows: 200, Columns: 200, BitDepth: 8, DepthUM: 3.87, LateralUM: 5.77, SliceUM: 31,
		Seed: 7, ThicknessUM: 310, Looks: 6, NoiseFloor: 1, SignalLevel: 1, AxialSigmaUM: 3.5, LateralSigmaUM: 6,
		Display: Display{CurveLogarithm, referenceBlackDB, referenceRangeDB}, GrainLateral: 0.28, GrainDepth: 0.5,
		Hole: &Hole{
			MinimumUM: 350, OvalityRatio: 1.08, MeridianDeg: 30, BaseRatio: 1.8, WaistHeightFraction: 0.55,
			RimHeightUM: 365, RimRollUM: 240, RimDecayUM: 330, RimAsymmetryUM: 30, Overhang: 0.1, WallRoughnessUM: 5,
		},
		Cysts: 60, Fragments: 5, Fraying: 1,
	}
}

// plain is a hole without anything that disturbs: no noise, no blur, no waves.
func plain() Parameters {
	p := asReal()
	p.Cysts, p.Fragments, p.Fraying = 0, 0, 0
	p.Looks, p.AxialSigmaUM, p.LateralSigmaUM = math.Inf(1), 0, 0
	p.Hole.WallRoughnessUM, p.Hole.RimAsymmetryUM, p.Hole.Overhang = 0, 0, 0
	p.Hole.RimHeightUM, p.Hole.RimDecayUM = 400, 300
	p.BitDepth, p.Display = 16, Display{CurveLogarithm, -5, 60}
	p.Rows, p.Columns, p.Slices, p.SliceUM = 320, 320, 60, 25
	return p
}

// linear turns a grey value back into intensity without the floor.
func linear(p Parameters, grey uint16) float64 {
	white := float64(uint32(1)<<p.BitDepth - 1)
	return math.Pow(10, (float64(grey)/white*p.Display.RangeDB+p.Display.BlackDB)/10) - p.NoiseFloor
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}
