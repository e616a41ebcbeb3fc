package thickness

import (
	"context"
	"math"
	"testing"

	"limitans/oct/phantom"
	"limitans/oct/surface"
)

// synthetic eyes over 6.2 mm, healthy in contour, with and without a membrane.
func syntheticEye(seed uint64) phantom.Parameters {
	return phantom.Parameters{
		Slices: 27, Rows: 256, Columns: 540, BitDepth: 8, DepthUM: 3.87, LateralUM: 11.6, SliceUM: 240,
		Seed: seed, ThicknessUM: 310, Looks: 12, NoiseFloor: 1, SignalLevel: 1, AxialSigmaUM: 3.5, LateralSigmaUM: 6,
		TiltLateralDeg: 1.5, CurvatureRadiusMM: 25, MotionDepthUM: 4,
		Pit:     phantom.Pit{DepthUM: 110, WidthUM: 1100, Steepness: 2},
		Display: phantom.Display{Curve: phantom.CurveLogarithm, BlackDB: -2.1, RangeDB: 35}, GrainLateral: 0.28, GrainDepth: 0.5,
	}
}

// On eyes whose surfaces are known, figures from the traced surfaces lie within
// their own intervals round the figures from the true ones.
func TestIntervalsHoldTheTruthOfSyntheticEyes(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans: left to the run without the race detector")
	}
	held, figures := 0, 0
	worst, sum := 0.0, 0.0
	for seed := range uint64(3) { // two displays; the last with a membrane
		p := syntheticEye(seed + 1)
		p.Membrane = seed == 2
		if seed == 1 {
			p.Display = phantom.Display{Curve: phantom.CurveFourthRoot, BlackDB: -1.5, RangeDB: 28}
			p.Looks = 6
		}
		volume, truth, err := phantom.Make(p)
		if err != nil {
			t.Fatal(err)
		}
		traced, err := surface.Trace(context.Background(), volume, surface.Options{})
		if err != nil {
			t.Fatal(err)
		}
		actual := &surface.Surfaces{InnerLimitingMembrane: asSurface(truth.InnerLimitingMembrane), PigmentEpithelium: asSurface(truth.PigmentEpithelium), Levels: traced.Levels}
		options := Options{CentreSlice: 13, CentreColumn: 269.5}
		found, err := Measure(volume, traced, options)
		if err != nil {
			t.Fatal(err)
		}
		want, err := Measure(volume, actual, options)
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range found.Fields {
			e, w := f.ThicknessUM, want.Fields[i].ThicknessUM
			if !w.Known() || !e.Known() {
				t.Fatalf("eye %d, %s: %+v, true %+v", seed, f.Name, e, w)
			}
			figures++
			if e.Low <= w.Value && w.Value <= e.High {
				held++
			}
			sum += e.Value - w.Value
			worst = math.Max(worst, math.Abs(e.Value-w.Value))
		}
		t.Logf("eye %d: centre %.1f (%.1f to %.1f), true %.1f; point %.1f, true %.1f; total %.3f, true %.3f mm³", seed, found.CentralUM.Value, found.CentralUM.Low, found.CentralUM.High,
			want.CentralUM.Value, found.CentrePointUM.Value, want.CentrePointUM.Value, found.TotalVolumeMM3.Value, want.TotalVolumeMM3.Value)
		for _, s := range found.Membrane {
			t.Logf("  %s %.2f (%.2f to %.2f)", s.Key, s.Value.Value, s.Value.Low, s.Value.High)
		}
	}
	t.Logf("%d of %d fields within; mean error %.2f, worst %.2f µm", held, figures, sum/float64(figures), worst)
	if held < figures*95/100 {
		t.Errorf("intervals of 95 %% hold the truth in %d of %d fields", held, figures)
	}
}

func asSurface(s phantom.Surface) *surface.Surface {
	out := surface.New("true", s.Slices, s.Columns)
	copy(out.Row, s.Row)
	return out
}
