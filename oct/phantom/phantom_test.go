package phantom

import (
	"math/rand/v2"
	"testing"
)

// asReal resembles the real volume of the test data in sampling and size.
func asReal() Parameters {
	return Parameters{
		Slices: 49, Rows: 200, Columns: 200, BitDepth: 8, DepthUM: 3.87, LateralUM: 5.77, SliceUM: 31,
		Seed: 7, ThicknessUM: 310, Looks: 6, NoiseFloor: 1, SignalLevel: 1, AxialSigmaUM: 3.5, LateralSigmaUM: 6,
		Display: Display{CurveLogarithm, referenceBlackDB, referenceRangeDB}, GrainLateral: 0.28, GrainDepth: 0.5,
		Hole: &Hole{MinimumUM: 350, OvalityRatio: 1.08, MeridianDeg: 30, BaseRatio: 1.8, WaistHeightFraction: 0.55,
			RimHeightUM: 365, RimRollUM: 240, RimDecayUM: 330, RimAsymmetryUM: 30, Overhang: 0.1, WallRoughnessUM: 5},
		Cysts: 60, Fragments: 5, Fraying: 1,
	}
}

func TestDrawsCanBeMade(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 6 {
		p := Draw(rng)
		volume, truth, err := Make(p)
		if err != nil {
			t.Fatalf("%+v: %v", p, err)
		}
		if err := volume.Check(); err != nil {
			t.Fatal(err)
		}
		if truth.Crossed < 1 || truth.LeavesField || truth.MLDUM < 0.8*p.Hole.MinimumUM {
			t.Errorf("waist %.0f µm: crossed %d, leaves field %v, MLD %.1f", p.Hole.MinimumUM, truth.Crossed, truth.LeavesField, truth.MLDUM)
		}
	}
	for _, kind := range IntactKinds() {
		if _, _, err := Make(DrawIntact(rng, kind)); err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
	}
}
