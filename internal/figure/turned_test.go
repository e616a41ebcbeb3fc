package figure

import (
	"math"
	"strings"
	"testing"

	"limitans/oct/grey"

	"limitans/eye"
	"limitans/internal/figure/scene"
)

// TestTurnedBody: a body turned once around is the same picture, a quarter turn
// another, and its rings stand at the heights of the lumen.
func TestTurnedBody(t *testing.T) {
	r := realSubject(t, true, eye.Right)
	at := func(deg int) *scene.Scene {
		s, why := LumenTurned(r.Volume, r.Hole, deg)
		if s == nil {
			t.Fatal(why)
		}
		s.Name, s.Title = "", ""
		return s
	}
	text := func(s *scene.Scene) string {
		var b strings.Builder
		if err := s.WriteSVG(&b); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if text(at(0)) != text(at(360)) {
		// Sine and cosine of a whole turn differ from those of none by 1e-16, which
		// the two decimals of the drawing do not show.
		t.Error("a whole turn is another picture")
	}
	if text(at(0)) == text(at(90)) {
		t.Error("a quarter turn is the same picture")
	}
	body, why := BodyOf(r.Volume, r.Hole)
	if why != "" || len(body.Rings) < 10 || len(body.Section) == 0 {
		t.Fatalf("%q, %d rings", why, len(body.Rings))
	}
	if first, last := body.Rings[0][0][2], body.Rings[len(body.Rings)-1][0][2]; first != 0 || math.Abs(last-r.Hole.Lumen.LidHeightUM) > r.Hole.Lumen.HeightStepUM {
		t.Errorf("rings from %g to %g µm, the lid is at %g", first, last, r.Hole.Lumen.LidHeightUM)
	}
	if _, why := LumenTurned(r.Volume, nil, 0); why == "" {
		t.Error("nothing was drawn and nothing said")
	}
}

// TestOverlay: a sample lies at its middle, and the caliper is as long as the
// width of the lumen where it was read.
func TestOverlay(t *testing.T) {
	r := realSubject(t, true, eye.Right)
	l := r.Hole.Lumen
	o := OverlayOf(r.Volume, r.Surfaces, r.Hole, l.MLDSlice)
	if !o.InMicrometres || math.Abs(o.Width-200*5.77) > 1e-9 || math.Abs(o.Height-200*3.87) > 1e-9 {
		t.Errorf("%g × %g", o.Width, o.Height)
	}
	if len(o.Caliper) != 2 || math.Abs(o.Caliper[1].X-o.Caliper[0].X-(l.MLDRight-l.MLDLeft)*5.77) > 1e-9 {
		t.Errorf("caliper %v", o.Caliper)
	}
	first := o.Epithelium[0].Points[0]
	if math.Abs(first.X-0.5*5.77) > 1e-9 || math.Abs(first.Y-(r.Surfaces.PigmentEpithelium.At(l.MLDSlice, 0)+0.5)*3.87) > 1e-6 {
		t.Errorf("the first place of the epithelium is at %v", first)
	}
	front, ok := FrontOf(r.Volume, r.Hole)
	if !ok || len(front.Slices) != r.Volume.Slices || len(front.Section) == 0 || front.Width != 200*5.77 {
		t.Errorf("%v %+v", ok, front.Width)
	}
	if o := OverlayOf(r.Volume, nil, nil, 0); o.Membrane != nil || o.Walls != nil {
		t.Error("lines without lines")
	}
	if m := grey.Slice(r.Volume, 3, grey.WindowOf(r.Volume)); m.Bounds().Dx() != 200 || m.Bounds().Dy() != 200 {
		t.Errorf("%v", m.Bounds())
	}
	if m := FrontPicture(r.Volume, r.Surfaces); m.Bounds().Dy() != r.Volume.Slices {
		t.Errorf("%v", m.Bounds())
	}
}
