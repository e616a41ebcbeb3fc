package record

import (
	"encoding/json"
	"testing"
	"time"

	"limitans/estimate"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/thickness"
)

// A measurement as package oct/measure makes it, by hand: the figures that are stored
// are the corrected ones where there are such, and each keeps its interval and basis.
func TestFiguresFromMeasurement(t *testing.T) {
	of := func(x float64) estimate.Estimate { return estimate.Normal(x, x/50, "made for the test") }
	r := &measure.Result{
		Version: "test", Warnings: []string{"a warning"},
		Hole: &hole.Hole{
			Present: true, MLDUM: of(400), BaseUM: of(800), HeightUM: of(380), OpeningUM: estimate.Missing("not seen"),
			MinSection: hole.MinSection{SmallUM: of(390), LargeUM: of(450)}, Indices: []hole.Index{{Name: "form", Value: of(0.9)}},
		},
		Thickness: &thickness.Thickness{Fields: []thickness.Field{{InnerUM: 500, ThicknessUM: of(320)}, {InnerUM: 0, ThicknessUM: of(280)}}},
	}
	at := time.Date(2024, 4, 1, 10, 0, 0, 0, time.UTC)
	f, err := FiguresFrom(r, DayOf(at), at, nil)
	if err != nil {
		t.Fatal(err)
	}
	if *f.MLDUM != r.Hole.MLDUM || f.Corrected || f.AxialLengthMM != nil || f.HolePresent != Yes || f.CentralUM.Value != 280 || len(f.Indices) != 1 || f.VolumeMM3 != nil || f.OpeningUM.Known() || f.OpeningUM.Basis != "not seen" {
		t.Errorf("%+v", f)
	}
	f.ID, f.EyeID, f.MeasuredBy = testID, testEye, "n1"
	if findings := Check(f, Around{Today: testToday}); len(findings) != 0 {
		t.Errorf("%v", findings)
	}
	if !json.Valid(f.Document) {
		t.Error("the document is no JSON")
	}
	r.LateralCorrection = measure.LateralCorrection{Corrected: true, AxialLengthMM: 28, MLDUM: of(460), BaseUM: of(920)}
	r.Hole.Present = false
	g, err := FiguresFrom(r, DayOf(at), at, json.RawMessage(`{}`))
	if err != nil || g.MLDUM.Value != 460 || g.BaseUM.Value != 920 || g.HeightUM.Value != 380 || *g.AxialLengthMM != 28 || !g.Corrected || g.HolePresent != No || string(g.Document) != "{}" {
		t.Errorf("%+v, %v", g, err)
	}
}

// The sum of a bubble's reading: a full sphere, an empty one, and the middle.
// Closed form: x²·(3 − 2x).
func TestMeniscusFill(t *testing.T) {
	for height, want := range map[float64]float64{0: 0, 50: 50, 100: 100, 71.28: 80} {
		no := 0.0
		low, high, fill, ok := MeniscusFill(BubbleReading{MeniscusPercent: &height, MeniscusErrorPercent: &no})
		if !ok || fill < want-0.05 || fill > want+0.05 || low > fill || high < fill { // heights are given to 0.01 %
			t.Errorf("height %g %%: %g %% (%g to %g)", height, fill, low, high)
		}
	}
	if _, _, _, ok := MeniscusFill(BubbleReading{}); ok {
		t.Error("a fill without a meniscus")
	}
	bad := 120.0
	if _, _, _, ok := MeniscusFill(BubbleReading{MeniscusPercent: &bad}); ok {
		t.Error("a meniscus above the eye")
	}
}
