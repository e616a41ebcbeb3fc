package figure

import (
	"math"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/internal/figure/scene"
	"limitans/oct"
)

func TestFrontOfTheRealScan(t *testing.T) {
	subject := realSubject(t, true, eye.Left)
	h := subject.Hole
	elements := checkSheet(t, EnFace(subject.Volume, subject.Surfaces, h))
	text := words(elements)
	for _, want := range []string{"Base", "Opening", "Smallest section", "Small diameter of section", "Large diameter of section", "Minimum linear diameter", "Left eye", "superior", "inferior"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
	r := pictureOf(t, elements)
	// 200 columns of 5.77 µm by 49 slices of 31 µm.
	if got, want := r.Height/r.Width, 49*31/(200*5.77); math.Abs(got-want) > 1e-3 {
		t.Errorf("picture is %g times as high as wide, want %g", got, want)
	}
	line := named(elements, "path", "minimum-linear-diameter")[0].runs(t)[0]
	if want := r.Y + (float64(h.WidestSlice)+0.5)/49*r.Height; math.Abs(line[0].Y-want) > 0.02 {
		t.Errorf("the diameter lies at %g, its slice at %g", line[0].Y, want)
	}
	for name, want := range map[string]float64{"smallest-diameter": h.MinSection.SmallUM.Value, "largest-diameter": h.MinSection.LargeUM.Value} {
		lines := named(elements, "path", name)
		if !h.MinSection.MeridianDeg.Known() {
			if len(lines) > 0 {
				t.Errorf("%s of a round section is drawn", name)
			}
			continue
		}
		run := lines[0].runs(t)[0]
		um := math.Hypot(run[1].X-run[0].X, run[1].Y-run[0].Y) / r.Width * 200 * 5.77
		if math.Abs(um-want) > 0.05 {
			t.Errorf("%s is drawn %g µm long, measured %g", name, um, want)
		}
	}
}

// The disc lies nasal, at the right of a right eye as it is seen from the
// front; no side, no compass.
func TestCompass(t *testing.T) {
	v, s := madeEye(8, 100, 40, 4000)
	for side, want := range map[eye.Laterality]string{eye.Right: "nasal", eye.Left: "temporal", eye.SideUnknown: ""} {
		v.Laterality = side
		elements := checkSheet(t, EnFace(v, s, nil))
		texts := named(elements, "text", "compass")
		rightmost, x := "", 0.0
		for _, e := range texts {
			if e.number(t, "x") > x {
				rightmost, x = e.text, e.number(t, "x")
			}
		}
		if rightmost != want || (want == "") != (len(texts) == 0) {
			t.Errorf("%v: %q is right, want %q", side, rightmost, want)
		}
		if side != eye.SideUnknown && !strings.Contains(words(elements), "The compass assumes") {
			t.Errorf("%v: the assumption is not told", side)
		}
	}
}

func TestNoMicrometresWithoutScale(t *testing.T) {
	real := realSubject(t, false, eye.SideUnknown)
	if !real.Hole.Present {
		t.Fatal("no hole found")
	}
	for _, d := range drawings(real) {
		s := d.draw()
		if text := words(checkSheet(t, s)); strings.Contains(text, "µm") || strings.Contains(text, " mm") {
			t.Errorf("%s shows lengths: %s", s.Name, text)
		}
	}
	v, s := madeEye(12, 100, 60, 1200)
	v.Scale = oct.Scale{}
	h := madeHole(v, 20, 40)
	text := words(checkSheet(t, Slice(v, s, nil, 6)))
	if strings.Contains(text, "µm") || !strings.Contains(text, "20 columns") || !strings.Contains(text, "20 rows") {
		t.Errorf("bars of an unscaled slice: %s", text)
	}
	text = words(checkSheet(t, EnFace(v, s, nil)))
	if strings.Contains(text, "µm") || !strings.Contains(text, "Not drawn to scale") || !strings.Contains(text, "20 columns") {
		t.Errorf("unscaled view from the front: %s", text)
	}
	// Only the distance between slices is missing.
	d := oct.AxisScale{MicrometresPerSample: 4, Trust: oct.TrustUserGiven}
	v.Scale.Depth, v.Scale.Lateral = d, d
	if text := words(checkSheet(t, Slice(v, s, nil, 6))); !strings.Contains(text, "µm") {
		t.Error("a slice needs no slice distance")
	}
	if text := words(checkSheet(t, Lumen3D(v, h))); !strings.Contains(text, "not known") {
		t.Errorf("body without slice distance: %s", text)
	}
}

// radialEye has 12 slices through one centre; its lines and lumen do not depend
// on the slice, so that everything is round.
func radialEye() (*oct.Volume, Subject) {
	v, s := madeEye(12, 100, 101, 3000)
	v.Pattern, v.Scale.Slice = oct.PatternRadial, oct.AxisScale{}
	for i := range v.Slices {
		v.SliceAnglesDeg = append(v.SliceAnglesDeg, 15*float64(i))
		copy(s.InnerLimitingMembrane.Row[i*101:(i+1)*101], s.InnerLimitingMembrane.Row[6*101:7*101])
		for k := range v.Slice(i) {
			v.Samples[i*100*101+k] = uint16(k % 101) // grey grows with the column
		}
	}
	return v, Subject{Volume: v, Surfaces: s, Hole: madeHole(v, 40, 60)}
}

func TestRadialScan(t *testing.T) {
	v, subject := radialEye()
	for _, s := range []*scene.Scene{EnFace(v, subject.Surfaces, subject.Hole), Lumen3D(v, subject.Hole), Slice(v, subject.Surfaces, subject.Hole, 3), Overview(v, subject.Surfaces, subject.Hole)} {
		checkSheet(t, s)
	}
	for _, p := range outlineAt(planeOf(v), subject.Hole.Lumen, 10) {
		if r := math.Hypot(p.x, p.y); math.Abs(r-10*3000/101.0) > 1e-6 {
			t.Errorf("outline at %g µm from the centre, wall at %g", r, 10*3000/101.0)
		}
	}
	values := retinaBrightness(v, subject.Surfaces)
	for _, c := range []struct{ x, y, want float64 }{
		{0, 0, 50}, {30, 0, 80}, {-30, 0, 20}, {0, 30, 80}, {0, -30, 20}, // along slices 0 and 6
		{30 * math.Cos(math.Pi/24), 30 * math.Sin(math.Pi/24), 80}, // between slices 0 and 1
	} {
		if got := radialValue(v, values, c.x, c.y); math.Abs(got-c.want) > 0.51 {
			t.Errorf("(%g, %g) is %g, want %g", c.x, c.y, got, c.want)
		}
	}
	if got := radialValue(v, values, 60, 0); !math.IsNaN(got) {
		t.Errorf("beyond the slices %g", got)
	}
}

// A cylinder: every ring has its radius, and the body has three axes and its
// strong section.
func TestBody(t *testing.T) {
	v, s := madeEye(20, 200, 80, 1600)
	h := madeHole(v, 30, 50)
	for k := range 24 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 24)
		h.Lumen.ContourUM = append(h.Lumen.ContourUM, [2]float64{200 * cos, 200 * sin})
	}
	elements := checkSheet(t, Lumen3D(v, h))
	text := words(elements)
	for _, want := range []string{"along the scan lines, µm", "across slices, µm", "height, µm", "Smallest section", "Opening, at the lid", "Base, at the epithelium", "Volume"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if n := len(named(elements, "path", "body")); n < 500 {
		t.Errorf("%d faces and lines", n)
	}
	checkSheet(t, EnFace(v, s, h))
	contour := sectionContour(h.Lumen)
	section := ringAt(contour, 50)
	for _, p := range section.points {
		// A regular polygon of 24 sides lies within 1 − cos(π/24) of its circle.
		if r := math.Hypot(p.x, p.y); r > 200+1e-9 || r < 200*math.Cos(math.Pi/24)-1e-9 {
			t.Errorf("ring point at %g µm", r)
		}
	}
	// Faces that look away are not drawn: about half of a cylinder's.
	w := newView()
	faces := wallPieces(w, []ring{ringAt(contour, 0), ringAt(contour, 50)})
	if len(faces) < ringPoints/2-2 || len(faces) > ringPoints/2+2 {
		t.Errorf("%d of %d faces of a cylinder are seen", len(faces), ringPoints)
	}
	farToNear(faces)
	for i := 1; i < len(faces); i++ {
		if faces[i].near < faces[i-1].near {
			t.Fatal("not painted from far to near")
		}
	}
}

// The longest direction of an ellipse is that of its long axis, and a diameter
// is placed through the centre with its own length.
func TestDiametersArePlaced(t *testing.T) {
	var contour []place
	sin30, cos30 := math.Sincos(math.Pi / 6)
	for k := range 360 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 180)
		x, y := 300*cos, 100*sin
		contour = append(contour, place{7 + x*cos30 - y*sin30, -5 + x*sin30 + y*cos30})
	}
	if deg := longestDirection(contour); deg != 30 {
		t.Errorf("longest at %g°, want 30°", deg)
	}
	a, b := diameterAlong(contour, 30, 590)
	if d := math.Hypot(b.x-a.x, b.y-a.y); math.Abs(d-590) > 1e-9 {
		t.Errorf("diameter %g long", d)
	}
	if x, y := (a.x+b.x)/2, (a.y+b.y)/2; math.Hypot(x-7, y+5) > 1e-6 {
		t.Errorf("middle of the diameter at %g, %g", x, y)
	}
}
