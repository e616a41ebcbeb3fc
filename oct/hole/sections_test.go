package hole

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/oct"
)

// ellipse is a section with semi-axes a and b in µm, its larger axis turned by
// deg counter-clockwise from the fast scan, centred on (x, y).
type ellipse struct{ a, b, deg, x, y float64 }

// chord is where the line at height y above the fast scan's axis cuts it.
func (e ellipse) chord(y float64) (left, right float64, ok bool) {
	sin, cos := math.Sincos(e.deg * math.Pi / 180)
	// |(x cos + y sin)/a|² + |(−x sin + y cos)/b|² = 1 as a quadratic in x.
	y -= e.y
	p := cos*cos/(e.a*e.a) + sin*sin/(e.b*e.b)
	q := 2 * y * sin * cos * (1/(e.a*e.a) - 1/(e.b*e.b))
	r := y*y*(sin*sin/(e.a*e.a)+cos*cos/(e.b*e.b)) - 1
	d := q*q - 4*p*r
	if d <= 0 {
		return 0, 0, false
	}
	return e.x + (-q-math.Sqrt(d))/(2*p), e.x + (-q+math.Sqrt(d))/(2*p), true
}

// sliced is the lumen of one height that slices sliceUM apart see of an ellipse,
// slice 0 at the top of the fundus.
func sliced(e ellipse, lateralUM, sliceUM float64, slices, columns int) *lumen {
	l := &lumen{
		field:    &field{slices: slices, columns: columns, heights: 1},
		geometry: geometry{depthUM: 4, lateralUM: lateralUM, sliceUM: sliceUM},
		first:    0, last: slices - 1, walls: make([]wallRow, slices),
	}
	for s := range slices {
		l.walls[s] = closed
		y := (float64(slices-1)/2 - float64(s)) * sliceUM
		if left, right, ok := e.chord(y); ok {
			middle := float64(columns-1) / 2
			l.walls[s] = wallRow{middle + left/lateralUM, middle + right/lateralUM}
		}
	}
	return l
}

// Area and diameters of circles and ellipses from their exact chords. Closed
// forms: area π·a·b; the distance between parallel tangents at an angle t from
// the larger axis is 2·√(a²cos²t + b²sin²t), so smallest 2b, largest 2a, and the
// smallest lies at right angles to the larger axis.
//
// Tolerances: the trapezoid rule over n chords of a circle misses about
// 0.6/n^1.5 of its area and the caps add the most of it back; for a diameter the
// program states a standard deviation of 0.15 slice distances, of which two are
// allowed here, and 1 % for the smoothing of the contour by its first harmonics.
func TestRasterSectionClosedForm(t *testing.T) {
	for _, test := range []struct {
		name          string
		e             ellipse
		sliceUM       float64
		areaTolerance float64
	}{
		{"circle of 400 µm, 10 µm apart", ellipse{200, 200, 0, 0, 0}, 10, 0.005},
		{"circle of 400 µm, 31 µm apart", ellipse{200, 200, 0, 0, 0}, 31, 0.01},
		{"circle of 400 µm between slices", ellipse{200, 200, 0, 0, 15.5}, 31, 0.01},
		{"circle of 250 µm, 31 µm apart", ellipse{125, 125, 0, 0, 7}, 31, 0.02},
		{"circle of 400 µm, 60 µm apart", ellipse{200, 200, 0, 0, 11}, 60, 0.03},
		{"lying ellipse", ellipse{260, 200, 0, 30, 4}, 20, 0.01},
		{"standing ellipse", ellipse{260, 200, 90, 30, 4}, 20, 0.01},
		{"oblique ellipse", ellipse{260, 200, 35, -20, 3}, 20, 0.01},
		{"oblique the other way", ellipse{260, 200, 120, -20, 3}, 20, 0.01},
	} {
		t.Run(test.name, func(t *testing.T) {
			e := test.e
			s := sliced(e, 6, test.sliceUM, 61, 200).sectionAt(0, &oct.Volume{Pattern: oct.PatternRaster})
			if want := math.Pi * e.a * e.b; math.Abs(s.areaUM2-want) > test.areaTolerance*want {
				t.Errorf("area %.0f µm², closed form %.0f", s.areaUM2, want)
			}
			// The contour's own area is a second route to the same figure.
			if polygon := math.Abs(polygonArea(s.contour)); math.Abs(polygon-s.areaUM2) > 0.02*s.areaUM2 {
				t.Errorf("area %.0f µm², of the contour %.0f", s.areaUM2, polygon)
			}
			small, large, deg := feret(s.contour, s.slices)
			checkDiameters(t, e, small, large, deg, 0.01+2*0.15*test.sliceUM/(2*e.b))
		})
	}
}

// checkDiameters compares with the closed form, relative tolerance; the meridian
// within 6° when the ellipse has one.
func checkDiameters(t *testing.T, e ellipse, small, large, deg, tolerance float64) {
	t.Helper()
	if math.Abs(small-2*e.b) > tolerance*2*e.b || math.Abs(large-2*e.a) > tolerance*2*e.a {
		t.Errorf("diameters %.1f and %.1f µm, closed form %.1f and %.1f", small, large, 2*e.b, 2*e.a)
	}
	if deg < 0 || deg >= 180 {
		t.Errorf("meridian %g°, want 0 to 180", deg)
	}
	if e.a > 1.2*e.b {
		off := math.Mod(deg-(e.deg+90)+720, 180)
		if math.Min(off, 180-off) > 6 {
			t.Errorf("smallest diameter at %g°, the larger axis at %g°", deg, e.deg)
		}
	}
}

// Radial slices that cross at the middle column see both walls; angles are
// counter-clockwise as the fundus is seen. Twelve slices give a polygon of 24
// corners, which misses 1 − sin(15°)/(15°·π/180) = 1.1 % of a circle's area.
func TestRadialSectionClosedForm(t *testing.T) {
	for _, e := range []ellipse{{200, 200, 0, 0, 0}, {260, 200, 0, 0, 0}, {260, 200, 35, 0, 0}, {260, 200, 120, 0, 0}} {
		const slices, columns, lateralUM = 12, 201, 6.0
		v := &oct.Volume{Pattern: oct.PatternRadial, Columns: columns}
		l := &lumen{
			field: &field{slices: slices, columns: columns, heights: 1}, geometry: geometry{depthUM: 4, lateralUM: lateralUM, sliceUM: 1},
			first: 0, last: slices - 1, walls: make([]wallRow, slices),
		}
		for s := range slices {
			deg := 180 * float64(s) / slices
			v.SliceAnglesDeg = append(v.SliceAnglesDeg, deg)
			// Radius of a centred ellipse along a direction.
			sin, cos := math.Sincos((deg - e.deg) * math.Pi / 180)
			r := 1 / math.Sqrt(cos*cos/(e.a*e.a)+sin*sin/(e.b*e.b)) / lateralUM
			l.walls[s] = wallRow{100 - r, 100 + r}
		}
		s := l.sectionAt(0, v)
		want := math.Pi * e.a * e.b
		if math.Abs(s.areaUM2-want) > 0.015*want || s.slices != slices {
			t.Errorf("%+v: area %.0f µm² of %d slices, closed form %.0f", e, s.areaUM2, s.slices, want)
		}
		small, large, deg := feret(s.contour, s.slices)
		checkDiameters(t, e, small, large, deg, 0.02)
	}
}

// Fewer than three slices make no section.
func TestSectionNeedsThreeSlices(t *testing.T) {
	for _, pattern := range []oct.Pattern{oct.PatternRaster, oct.PatternRadial} {
		v := &oct.Volume{Pattern: pattern, Columns: 200, SliceAnglesDeg: []float64{0, 90, 45}}
		l := sliced(ellipse{100, 100, 0, 0, 0}, 6, 90, 3, 200)
		l.walls[2] = closed
		if s := l.sectionAt(0, v); s.areaUM2 != 0 || s.contour != nil || s.slices != 2 {
			t.Errorf("%v: %+v", pattern, s)
		}
	}
}

// Feret diameters of any ellipse by the closed form; contour of 90 points, angles
// in whole degrees: the smallest is off by at most (1 − cos ½°) of the larger.
func TestFeretClosedForm(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := rapid.Float64Range(60, 400).Draw(rt, "b")
		e := ellipse{b * rapid.Float64Range(1, 1.3).Draw(rt, "ovality"), b, rapid.Float64Range(0, 180).Draw(rt, "deg"), 0, 0}
		x, y := rapid.Float64Range(-500, 500).Draw(rt, "x"), rapid.Float64Range(-500, 500).Draw(rt, "y")
		sin, cos := math.Sincos(e.deg * math.Pi / 180)
		var contour []point
		for i := range 90 {
			s, c := math.Sincos(2 * math.Pi * float64(i) / 90)
			contour = append(contour, point{x + e.a*c*cos - e.b*s*sin, y + e.a*c*sin + e.b*s*cos})
		}
		small, large, deg := feret(contour, 90)
		checkDiametersRapid(rt, e, small, large, deg)
		if got := polygonArea(contour); math.Abs(got-math.Pi*e.a*e.b) > 0.002*math.Pi*e.a*e.b {
			rt.Fatalf("area %.0f of %+v", got, e)
		}
		if c := centreOfArea(contour); math.Hypot(c.x-x, c.y-y) > 1e-6*e.a {
			rt.Fatalf("centre %+v, want %g, %g", c, x, y)
		}
	})
}

func checkDiametersRapid(t *rapid.T, e ellipse, small, large, deg float64) {
	if math.Abs(small-2*e.b) > 0.01*2*e.b || math.Abs(large-2*e.a) > 0.01*2*e.a {
		t.Fatalf("%+v: diameters %.2f and %.2f", e, small, large)
	}
	if e.a > 1.1*e.b {
		if off := math.Mod(deg-(e.deg+90)+720, 180); math.Min(off, 180-off) > 3 {
			t.Fatalf("%+v: smallest at %g°", e, deg)
		}
	}
}

// On a retina tilted by θ a caliper parallel to the epithelium reads the
// horizontal distance over cos θ; heights perpendicular to it are the vertical
// ones times cos θ; an area seen along depth grows by 1/cos θ. With tilts in both
// directions the normal is (−tan a, −tan b, 1), so cos θ = 1/√(1 + tan²a + tan²b).
func TestTiltFactors(t *testing.T) {
	for _, a := range []float64{0, 5, 10, 20, 30} {
		for _, b := range []float64{0, 7, 15} {
			ta, tb := math.Tan(a*math.Pi/180), math.Tan(b*math.Pi/180)
			g := geometry{depthUM: 3.87, lateralUM: 6, slopeLateral: -ta, slopeSlice: tb}
			cosine := 1 / math.Sqrt(1+ta*ta+tb*tb)
			for name, pair := range map[string][2]float64{
				"gap":            {g.gapFactor(), 1 / math.Cos(a*math.Pi/180)},
				"across":         {g.crossFactor(), 1 / math.Cos(b*math.Pi/180)},
				"area":           {g.areaFactor(), 1 / cosine},
				"height":         {g.heightUM(10), 38.7 * cosine},
				"there and back": {g.heightSteps(g.heightUM(7)), 7},
			} {
				if math.Abs(pair[0]-pair[1]) > 1e-12*pair[1] {
					t.Errorf("%s at %g° and %g°: %g, want %g", name, a, b, pair[0], pair[1])
				}
			}
		}
	}
}

// Worked by hand: the edge of a semicircle's chords. Squares of width fall
// linearly near the end of a rounded opening: widths² 1 and 4 over one step put
// the end a third of a step out; a second width not larger than the first gives
// half a step; it never lies beyond the next slice.
func TestEndCap(t *testing.T) {
	for _, test := range []struct {
		widths []float64
		want   float64
	}{
		{[]float64{1, 2}, 31.0 / 3},
		{[]float64{1, 1}, 15.5},
		{[]float64{2, 1}, 15.5},
		{[]float64{10, 10.1}, 31},
	} {
		if got := endCap(test.widths, 31); math.Abs(got-test.want) > 1e-12 {
			t.Errorf("%v: %g, want %g", test.widths, got, test.want)
		}
	}
}

// A bump shorter than the window is cut, a longer one stays, and a bump outward
// (away from the lumen) is not a fragment and stays too.
func TestOpeningCutsShortBumps(t *testing.T) {
	line := make([]float64, 60)
	for i := range line {
		line[i] = 50
	}
	for i := 10; i < 15; i++ {
		line[i] = 58 // into the lumen, short
	}
	for i := 25; i < 45; i++ {
		line[i] = 57 // into the lumen, long
	}
	for i := 50; i < 53; i++ {
		line[i] = 42 // outward, short
	}
	got := opening(line, 1, 4)
	for i, v := range got {
		want := line[i]
		if i >= 10 && i < 15 {
			want = 50
		}
		if v != want {
			t.Errorf("at %d: %g, want %g", i, v, want)
		}
	}
}

// Lines: a straight line and a parabola through exact points are found exactly.
func TestFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-10, 10)
		a, b, c := number.Draw(t, "a"), number.Draw(t, "b"), number.Draw(t, "c")
		var x, line, parabola []float64
		for i := range rapid.IntRange(3, 20).Draw(t, "n") {
			v := float64(i - 4)
			x, line, parabola = append(x, v), append(line, a+b*v), append(parabola, a+b*v+c*v*v)
		}
		if gotA, gotB := fitLine(x, line); math.Abs(gotA-a) > 1e-9 || math.Abs(gotB-b) > 1e-9 {
			t.Fatalf("line %g + %g x, want %g + %g x", gotA, gotB, a, b)
		}
		gotA, gotB, gotC, ok := fitParabola(x, parabola, nil)
		if !ok || math.Abs(gotA-a) > 1e-6 || math.Abs(gotB-b) > 1e-6 || math.Abs(gotC-c) > 1e-6 {
			t.Fatalf("parabola %g, %g, %g (%v), want %g, %g, %g", gotA, gotB, gotC, ok, a, b, c)
		}
	})
	if _, _, _, ok := fitParabola([]float64{1, 2}, []float64{1, 2}, nil); ok {
		t.Error("a parabola through two points")
	}
	if a, b := fitLine(nil, nil); !math.IsNaN(a) || b != 0 {
		t.Errorf("a line through nothing: %g, %g", a, b)
	}
	if a, b := fitLine([]float64{2, 2}, []float64{1, 3}); a != 2 || b != 0 {
		t.Errorf("a line through one place: %g, %g", a, b)
	}
}

func TestBridge(t *testing.T) {
	nan := math.NaN()
	line := []float64{nan, nan, 4, nan, nan, 10, nan}
	bridge(line)
	for i, want := range []float64{4, 4, 4, 6, 8, 10, 10} {
		if math.Abs(line[i]-want) > 1e-12 {
			t.Fatalf("%v", line)
		}
	}
	none := []float64{nan, nan}
	if bridge(none); !math.IsNaN(none[0]) {
		t.Errorf("a line out of nothing: %v", none)
	}
}
