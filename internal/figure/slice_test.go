package figure

import (
	"math"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/figure/scene"
	"limitans/oct/hole"
)

// pictureOf is the rectangle of the one image of a drawing.
func pictureOf(t *testing.T, elements []element) scene.Rect {
	t.Helper()
	images := named(elements, "image", "")
	if len(images) == 0 {
		t.Fatal("no picture")
	}
	e := images[0]
	return scene.Rect{X: e.number(t, "x"), Y: e.number(t, "y"), Width: e.number(t, "width"), Height: e.number(t, "height")}
}

func runsOf(t *testing.T, elements []element, group string) [][]scene.Point {
	t.Helper()
	paths := named(elements, "path", group)
	if len(paths) == 0 {
		return nil
	}
	return paths[len(paths)-1].runs(t)
}

func TestLinesStopWhereNothingWasTraced(t *testing.T) {
	v, s := madeEye(3, 200, 100, 4000)
	s.InnerLimitingMembrane.Row[50] = float32(math.NaN())
	s.InnerLimitingMembrane.Row[52] = float32(math.NaN()) // leaves one column alone
	elements := checkSheet(t, Slice(v, s, nil, 0))
	var counts []int
	for _, run := range runsOf(t, elements, "inner-limiting-membrane") {
		counts = append(counts, len(run))
	}
	if want := []int{10, 30, 1, 47}; len(counts) != 4 || counts[0] != want[0] || counts[1] != want[1] || counts[2] != want[2] || counts[3] != want[3] {
		t.Errorf("runs of %v points, want %v", counts, want)
	}
	if runs := runsOf(t, elements, "pigment-epithelium"); len(runs) != 1 || len(runs[0]) != 100 {
		t.Errorf("%d runs of the pigment epithelium", len(runs))
	}
	for c := range 100 {
		s.InnerLimitingMembrane.Row[100+c] = float32(math.NaN())
	}
	elements = checkSheet(t, Slice(v, s, nil, 1))
	if runs := runsOf(t, elements, "inner-limiting-membrane"); runs != nil || !strings.Contains(words(elements), "not traced on this slice") {
		t.Errorf("an untraced line was drawn or not named: %d runs", len(runs))
	}
}

// A sample lies where its row and column say, and both directions have one
// scale.
func TestSliceIsTrueToScale(t *testing.T) {
	v, s := madeEye(2, 160, 80, 1600) // 20 µm a column, 5 µm a row
	elements := checkSheet(t, Slice(v, s, nil, 1))
	r := pictureOf(t, elements)
	if ratio := r.Width / r.Height; math.Abs(ratio-1600.0/800) > 1e-3 {
		t.Errorf("picture is %g times as wide as high, want 2", ratio)
	}
	run := runsOf(t, elements, "pigment-epithelium")[0]
	for c, p := range run {
		x := r.X + (float64(c)+0.5)/80*r.Width
		y := r.Y + (0.8*160+0.5)/160*r.Height
		if math.Abs(p.X-x) > 0.01 || math.Abs(p.Y-y) > 0.01 {
			t.Fatalf("column %d at %v, want %g, %g", c, p, x, y)
		}
	}
	for _, group := range []string{"scale-bar-level", "scale-bar-upright"} {
		bar := named(elements, "path", group)[0].runs(t)[0]
		length := math.Hypot(bar[1].X-bar[0].X, bar[1].Y-bar[0].Y)
		if want := 200 / 1600.0 * r.Width; math.Abs(length-want) > 0.01 || named(elements, "text", group)[0].text != "200 µm" {
			t.Errorf("%s is %g long, want %g; %q", group, length, want, named(elements, "text", group)[0].text)
		}
	}
}

func TestRealSlicesCarryTheirLinesAndLabels(t *testing.T) {
	subject := realSubject(t, true, eye.Right)
	v, h := subject.Volume, subject.Hole
	if !h.Present {
		t.Fatal("no hole found")
	}
	mld, ok := withBand(h.MLDUM, 0, "µm")
	if !ok {
		t.Fatal("no minimum linear diameter")
	}
	for slice := range v.Slices {
		elements := checkSheet(t, Slice(v, subject.Surfaces, h, slice))
		text := words(elements)
		for _, want := range []string{sliceWords(v, slice), "Right eye", "Inner limiting membrane", "Pigment epithelium", "µm (given by the user)"} {
			if !strings.Contains(text, want) {
				t.Errorf("slice %d: %q is missing", slice, want)
			}
		}
		if got := strings.Contains(text, mld); got != (slice == h.WidestSlice) {
			t.Errorf("slice %d: minimum linear diameter shown: %v", slice, got)
		}
		crossed := slice >= h.Lumen.FirstSlice && slice <= h.Lumen.LastSlice
		if !crossed && strings.Contains(text, "Lumen") {
			t.Errorf("slice %d: lumen outside its slices", slice)
		}
		r := pictureOf(t, elements)
		r = scene.Rect{X: r.X - 0.01, Y: r.Y - 0.01, Width: r.Width + 0.02, Height: r.Height + 0.02}
		for _, group := range []string{"inner-limiting-membrane", "pigment-epithelium", "lumen-walls", "lumen-lid"} {
			for _, run := range runsOf(t, elements, group) {
				for _, p := range run {
					if !r.Contains(p) {
						t.Errorf("slice %d: %s leaves the picture at %v", slice, group, p)
					}
				}
			}
		}
	}
	// The caliper joins the walls.
	l := h.Lumen
	elements := drawn(t, Slice(v, subject.Surfaces, h, l.MLDSlice))
	r := pictureOf(t, elements)
	line := named(elements, "path", "minimum-linear-diameter")[0].runs(t)[0]
	for i, column := range []float64{l.MLDLeft, l.MLDRight} {
		if want := r.X + (column+0.5)/float64(v.Columns)*r.Width; math.Abs(line[i].X-want) > 0.01 {
			t.Errorf("end %d at %g, wall at %g", i, line[i].X, want)
		}
	}
}

func TestBandsInWords(t *testing.T) {
	for _, c := range []struct {
		e        estimate.Estimate
		decimals int
		unit     string
		want     string
	}{
		{estimate.Estimate{Value: 375.4, Low: 367.1, High: 383.7}, 0, "µm", "375 ± 8 µm"},
		{estimate.Estimate{Value: 90, Low: 0, High: 200}, 0, "µm", "90 µm (0 to 200)"},
		{estimate.Estimate{Value: 0.1142, Low: 0.108, High: 0.1204}, 3, "mm²", "0.114 ± 0.006 mm²"},
		{estimate.Estimate{Value: 58, Low: 32, High: 84}, 0, "°", "58 ± 26°"},
		{estimate.Missing("why"), 0, "µm", ""},
	} {
		got, ok := withBand(c.e, c.decimals, c.unit)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%v: %q, want %q", c.e, got, c.want)
		}
	}
	if got := withLine("Base", estimate.Missing("not measured: cut"), 0, "µm"); len(got) != 2 || got[1] != "not measured: cut" {
		t.Errorf("a missing figure reads %q", got)
	}
}

func TestRoundLengths(t *testing.T) {
	for longest, want := range map[float64]float64{0: 0, math.NaN(): 0, 0.7: 0.5, 1: 1, 1.9: 1, 49.9: 20, 50: 50, 258: 200, 2133: 2000} {
		if got := roundLength(longest); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g gives %g, want %g", longest, got, want)
		}
	}
}

func TestOverviewShowsTheWidestSlice(t *testing.T) {
	subject := realSubject(t, true, eye.SideUnknown)
	elements := checkSheet(t, Overview(subject.Volume, subject.Surfaces, subject.Hole))
	if n := len(named(elements, "image", "slice")); n != overviewMost {
		t.Errorf("%d slices", n)
	}
	if text := words(elements); !strings.Contains(text, "widest") || !strings.Contains(text, "Side not known") {
		t.Error("widest slice or side is missing")
	}
	v, s := madeEye(120, 20, 20, 4000)
	for _, c := range []struct {
		first, last, widest, slices int
	}{{0, 119, 60, 16}, {0, 1, 0, 16}, {118, 119, 119, 16}, {50, 52, 51, 16}, {10, 80, 33, 16}} {
		h := madeHole(v, 4, 12)
		h.Lumen.FirstSlice, h.Lumen.LastSlice, h.Lumen.MLDSlice, h.WidestSlice = c.first, c.last, c.widest, c.widest
		shown, has := overviewSlices(v, h), false
		for i, slice := range shown {
			has = has || slice == c.widest
			if i > 0 && slice <= shown[i-1] {
				t.Errorf("%+v: %v", c, shown)
			}
		}
		if len(shown) != c.slices || !has {
			t.Errorf("%+v: %v", c, shown)
		}
	}
	if shown := overviewSlices(v, &hole.Hole{}); len(shown) != 16 || shown[0] != 0 || shown[15] != 119 {
		t.Errorf("without a hole %v", shown)
	}
	checkSheet(t, Overview(v, s, nil))
}
