package measure_test

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"testing"

	"limitans/fault"
	"limitans/oct/measure"
	"limitans/oct/phantom"
	"limitans/oct/surface"
)

// TestLinesGiveTheFiguresOfTheVolume: the lines of a scan, handed back, give
// what measuring it whole gave, to the last digit; a raised membrane changes the
// height and leaves the traced lines as they are.
func TestLinesGiveTheFiguresOfTheVolume(t *testing.T) {
	p := phantom.Draw(rand.New(rand.NewPCG(3, 4)), phantom.Medium)
	v, _, err := phantom.Make(p)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := measure.Volume(context.Background(), v, measure.Options{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	again, err := measure.Lines(context.Background(), v, whole.Traced, measure.Options{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	text := func(r *measure.Result) string {
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if text(whole) != text(again) {
		t.Errorf("figures differ:\n%s\n%s", text(whole), text(again))
	}
	var moves []surface.Move
	for slice := range v.Slices {
		moves = append(moves, surface.Move{Line: surface.MembraneLine, Slice: slice, Column: v.Columns / 2, Rows: -10, Reach: v.Columns})
	}
	moved, err := whole.Traced.Moved(moves, v.Rows)
	if err != nil {
		t.Fatal(err)
	}
	raised, err := measure.Lines(context.Background(), v, moved, measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !(raised.Hole.HeightUM.Value > whole.Hole.HeightUM.Value+4*p.DepthUM) {
		t.Errorf("the height went from %g to %g µm when the membrane rose by 10 samples of %g µm", whole.Hole.HeightUM.Value, raised.Hole.HeightUM.Value, p.DepthUM)
	}
}

func TestLinesOfAnotherScanAreRefused(t *testing.T) {
	p := phantom.Draw(rand.New(rand.NewPCG(3, 4)), phantom.Medium)
	v, _, err := phantom.Make(p)
	if err != nil {
		t.Fatal(err)
	}
	none := surface.New("a", 1, v.Columns)
	_, err = measure.Lines(context.Background(), v, &surface.Surfaces{InnerLimitingMembrane: none, PigmentEpithelium: none, PigmentEpitheliumInnerEdge: none}, measure.Options{})
	if fault.CodeOf(err) != fault.Invalid {
		t.Errorf("%v", err)
	}
}
