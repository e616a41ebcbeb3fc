package oct_test

import (
	"math/rand/v2"
	"testing"

	"limitans/oct"
	"limitans/oct/phantom"
)

// Drawn volumes, whose truth is known: no direction is wrong, and parts without
// data are found where the drawing left them and nowhere else.
func TestInspectDrawnVolumes(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	rng := rand.New(rand.NewPCG(11, 12))
	decided := 0
	const draws = 4
	for i := range draws {
		p := phantom.Draw(rng)
		if i%2 == 1 {
			p = phantom.DrawIntact(rng)
		}
		p.WhiteWedge = i%4 < 2
		v, _, err := phantom.Make(p)
		if err != nil {
			t.Fatal(err)
		}
		up, down := oct.Upright(v).Direction, oct.Upright(oct.FlipDepth(v)).Direction
		if up == oct.DirectionMirrored || down == oct.DirectionUpright {
			t.Errorf("draw %d: %s, flipped %s", i, up, down)
		}
		if up == oct.DirectionUpright {
			decided++
		}
		noData := false
		for _, f := range oct.Inspect(v) {
			switch f.Kind {
			case oct.FindingNoData:
				noData = true
			default:
				t.Errorf("draw %d: %s", i, f.Text)
			}
		}
		if noData != p.WhiteWedge {
			t.Errorf("draw %d: white wedge %v, found %v", i, p.WhiteWedge, noData)
		}
	}
	if decided < draws-1 {
		t.Errorf("only %d of %d drawn volumes were decided", decided, draws)
	}
}
