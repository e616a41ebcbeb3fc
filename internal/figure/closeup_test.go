package figure

import (
	"image"
	"math"
	"strings"
	"testing"

	"limitans/eye"
)

// A hole that is small in its scan is drawn close up; the picture then still
// lies true: the outline of a wall is where its column is.
func TestSmallHoleIsDrawnCloseUp(t *testing.T) {
	v, s := madeEye(60, 100, 120, 6000)
	v.Laterality = eye.Right
	h := madeHole(v, 62, 68)
	h.Lumen.FirstSlice, h.Lumen.LastSlice, h.Lumen.MLDSlice, h.WidestSlice = 20, 23, 21, 21
	p := planeOf(v)
	all := image.Rect(0, 0, 120, 60)
	window, near := closeWindow(p, all, h.Lumen)
	if !near || window.Dx() > 20 || window.Dy() > 12 || !window.In(all) {
		t.Fatalf("window %v, near %v", window, near)
	}
	whole, part := p.regionOf(all, all), p.regionOf(all, window)
	if whole != p.whole() {
		t.Errorf("the whole picture shows %v of %v", whole, p.whole())
	}
	if left := p.at(20, float64(window.Min.X)-0.5); math.Abs(left.x-part.low.x) > 1e-9 {
		t.Errorf("left side at %g, its column at %g", part.low.x, left.x)
	}
	if top := p.at(window.Min.Y, 0); math.Abs(top.y+p.perSlice/2-part.high.y) > 1e-9 {
		t.Errorf("upper side at %g, its slice at %g", part.high.y, top.y)
	}
	elements := checkSheet(t, EnFace(v, s, h))
	r := pictureOf(t, elements)
	line := named(elements, "path", "minimum-linear-diameter")[0].runs(t)[0]
	want := r.X + (62+0.5-float64(window.Min.X))/float64(window.Dx())*r.Width
	if math.Abs(line[0].X-want) > 0.01 || !strings.Contains(words(elements), "whole scan") {
		t.Errorf("wall at %g, want %g", line[0].X, want)
	}
	if _, near := closeWindow(p, all, madeHole(v, 20, 100).Lumen); near {
		t.Error("a large hole is drawn close up")
	}
	if _, near := closeWindow(p, all, nil); near {
		t.Error("no hole is drawn close up")
	}
	text := words(checkSheet(t, Widest(v, s, h)))
	if !strings.Contains(text, "Slice 22 of 60, close up") || !strings.Contains(text, "Minimum linear diameter") {
		t.Errorf("widest slice: %s", text)
	}
	checkSheet(t, Widest(v, s, nil))
}
