package phantom

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
)

// figuresOf returns the truth without drawing or surfaces.
func figuresOf(t *testing.T, p Parameters) *Truth {
	t.Helper()
	d, err := newDrawing(&p)
	if err != nil {
		t.Fatalf("%+v: %v", p, err)
	}
	truth := &Truth{GapUM: make([]float64, p.Slices)}
	d.figures(truth)
	return truth
}

// TestClosedForms compares the figures of smooth, untilted holes with closed
// forms (plane geometry): ellipses of semi-axes R(v) and q·R(v), with
// R = w + Δ·t² below the waist (t from 1 at the base to 0) and
// R = w + roll·(1 − √(1 − t²)) above it (t from 0 to 1 at the crest).
func TestClosedForms(t *testing.T) {
	for _, c := range []struct {
		name                        string
		minimum, oval, base, degree float64
	}{
		{"cylinder below the waist", 400, 1, 1, 0},
		{"round hourglass", 300, 1, 1.8, 0},
		{"small", 90, 1.2, 2.4, 70},
		{"oval, large axis along x", 380, 1.4, 1.5, 0},
		{"oval, large axis across", 380, 1.4, 1.5, 90},
		{"oval, oblique", 380, 1.3, 1.5, 35},
		{"large", 900, 1.1, 1.4, 130},
	} {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() && c.name != "oval, oblique" {
				t.Skip("one drawing is enough under the race detector: runs in the full run of scripts/test")
			}
			p := plain()
			p.Hole.MinimumUM, p.Hole.OvalityRatio, p.Hole.BaseRatio, p.Hole.MeridianDeg = c.minimum, c.oval, c.base, c.degree
			got := figuresOf(t, p)
			h := p.Hole
			w, q, waist := c.minimum/2, c.oval, h.WaistHeightFraction*h.RimHeightUM
			lid := 0.9 * h.RimHeightUM
			// The crests are searched every µm along x, up to 0.5·1.4 µm from
			// the top of the quarter ellipse: height 145·(0.7/240)²/2 below it.
			near(t, "lid", got.LidUM, lid, 0.01)
			sin, cos := math.Sincos(c.degree * math.Pi / 180)
			chord := func(radius float64) float64 {
				return 2 * radius * q / math.Sqrt(cos*cos+q*q*sin*sin)
			}
			// The outline is a polygon of 720 sides: areas are low by
			// (2π/720)²/6 = 1.3·10⁻⁵; chords between two lines of y are low by
			// at most step²/8 times the curvature 4/D.
			near(t, "MLD", got.MLDUM, chord(w), 0.05)
			near(t, "base", got.BaseUM, chord(w*c.base), 0.05)
			top := (lid - waist) / (h.RimHeightUM - waist)
			open := w + h.RimRollUM*(1-math.Sqrt(1-top*top))
			near(t, "opening", got.OpeningUM, chord(open), 0.1)
			near(t, "area", got.MinSection.AreaMM2, math.Pi*w*w*q*1e-6, 1.5e-5*w*w*q*1e-6*math.Pi)
			near(t, "small", got.MinSection.SmallUM, c.minimum, 0.01)
			near(t, "large", got.MinSection.LargeUM, c.minimum*q, 0.01)
			if c.base > 1 {
				near(t, "height of the section", got.MinSection.HeightUM, waist, 0.2)
			}
			if q > 1 {
				// The larger axis at +degree from x towards y is at −degree in
				// a view whose slices run downward; the smaller stands across.
				want := math.Mod(90-c.degree+360, 180)
				difference := math.Abs(got.MinSection.MeridianDeg - want)
				near(t, "meridian", math.Min(difference, 180-difference), 0, 0.25)
			}
			delta, roll, crest := w*(c.base-1), h.RimRollUM, w+h.RimRollUM
			below := waist * (w*w + 2*w*delta/3 + delta*delta/5)
			above := (h.RimHeightUM - waist) * (crest*crest*top - crest*roll*(top*math.Sqrt(1-top*top)+math.Asin(top)) +
				roll*roll*(top-top*top*top/3))
			want := math.Pi * q * (below + above) * 1e-9
			near(t, "volume", got.VolumeMM3, want, 1e-4*want)
		})
	}
}

// TestMaskAndSurfacesAgreeWithTheFigures: the samples of the lumen, a second
// route, fill its volume; columns without retina span the narrowest gap.
func TestMaskAndSurfacesAgreeWithTheFigures(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans: left to the run without the race detector")
	}
	for _, tilt := range [][2]float64{{0, 0}, {9, 0}, {0, -8}, {-7, 6}} {
		p := plain()
		p.TiltLateralDeg, p.TiltSliceDeg, p.CurvatureRadiusMM = tilt[0], tilt[1], 20
		p.Rows, p.Hole.WallRoughnessUM, p.Hole.OvalityRatio = 420, 4, 1.2
		d, err := newDrawing(&p)
		if err != nil {
			t.Fatal(err)
		}
		truth := d.truth()
		inside := 0
		for _, lumen := range truth.Lumen {
			if lumen {
				inside++
			}
		}
		volume := float64(inside) * p.DepthUM * p.LateralUM * p.SliceUM * 1e-9
		near(t, "volume of the mask", volume, truth.VolumeMM3, 0.006*truth.VolumeMM3)
		free := 0
		for c := range p.Columns {
			if math.IsNaN(truth.InnerLimitingMembrane.At(truth.WidestSlice, c)) {
				free++
			}
		}
		if tilt[0] == 0 && tilt[1] == 0 {
			// A waist narrows the view: at most the gap, less only where the
			// wavy wall is narrowest at different heights on its two sides.
			near(t, "columns that see the epithelium", float64(free)*p.LateralUM, truth.MLDSampledUM, 3*p.LateralUM)
		}
		for i := range truth.PigmentEpithelium.Row {
			difference := float64(truth.PigmentEpithelium.Row[i]-truth.PigmentEpitheliumInnerEdge.Row[i]) * p.DepthUM
			if difference < 12-0.1 || difference > 12/math.Pow(math.Cos(12*math.Pi/180), 2)+0.2 {
				t.Fatalf("centre line %.2f µm below the inner edge", difference)
			}
		}
	}
}

// TestMLDUnderTiltAcrossSlices: a tilt across slices moves y with the height,
// which for a round hole cannot change the largest narrowest gap by more than
// the change of chord within that shift (second route: direct search).
func TestMLDUnderTiltAcrossSlices(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector")
	}
	p := plain()
	p.TiltSliceDeg, p.Rows, p.Hole.MeridianDeg, p.Hole.OvalityRatio = 10, 420, 20, 1.3
	got := figuresOf(t, p)
	d, err := newDrawing(&p)
	if err != nil {
		t.Fatal(err)
	}
	var outlines []*section
	for v := 20.0; v <= got.LidUM; v += 5 {
		outlines = append(outlines, d.s.sectionAt(v))
	}
	best := 0.0
	for imageY := -300.0; imageY <= 300; imageY += 2 {
		narrow := math.Inf(1)
		for _, outline := range outlines {
			left, right, met := outline.chord(imageY/d.f.cosB + outline.v*d.f.sinB/d.f.cosB)
			if !met {
				narrow = 0
				break
			}
			narrow = math.Min(narrow, right-left)
		}
		best = math.Max(best, narrow)
	}
	near(t, "MLD", got.MLDUM, best, 0.3)
}

// TestDrawnHoles: every hole is crossed, lies in the field and is as large as
// it was asked to be.
func TestDrawnHoles(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans: left to the run without the race detector")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	kinds := map[Kind][2]float64{Small: {80, 250}, Medium: {250, 400}, Large: {400, 1300}, Coarse: {80, 1300}, "": {80, 1300}}
	for kind, span := range kinds {
		for range 12 {
			p := Draw(rng)
			if kind != "" {
				p = Draw(rng, kind)
			}
			h := p.Hole
			if h.MinimumUM < span[0] || h.MinimumUM > span[1] || p.Slices > 100 || p.SliceUM < 12 || p.SliceUM > 120 {
				t.Errorf("%q: waist %.0f µm, %d slices %.0f µm apart", kind, h.MinimumUM, p.Slices, p.SliceUM)
			}
			got := figuresOf(t, p)
			least := 1
			if p.SliceUM < h.MinimumUM/3.4 {
				least = 3
			}
			if got.Crossed < least || got.LeavesField {
				t.Errorf("%q: waist %.0f µm, slices %.0f µm apart: %d cross, leaves field %v", kind, h.MinimumUM, p.SliceUM, got.Crossed, got.LeavesField)
			}
			slack := 6*h.WallRoughnessUM + 0.03*h.MinimumUM
			if got.MLDUM < h.MinimumUM-slack || got.MLDUM > h.MinimumUM*h.OvalityRatio+slack {
				t.Errorf("%q: waist %.1f × %.2f µm, MLD %.1f", kind, h.MinimumUM, h.OvalityRatio, got.MLDUM)
			}
			if got.MLDSampledUM > got.MLDUM || got.MinSection.SmallUM > got.MinSection.LargeUM || got.BaseUM < got.MLDUM || got.VolumeMM3 <= 0 {
				t.Errorf("%q: figures contradict each other: %+v", kind, got)
			}
		}
	}
}

// TestDrawnIntactEyes: no lumen, an inner surface everywhere, above the epithelium.
func TestDrawnIntactEyes(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector")
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for _, kind := range IntactKinds() {
		p := DrawIntact(rng, kind)
		d, err := newDrawing(&p)
		if err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
		truth := d.truth()
		if truth.FullThickness || truth.MLDUM != 0 {
			t.Errorf("%s: has a hole", kind)
		}
		for i, row := range truth.InnerLimitingMembrane.Row {
			edge := truth.PigmentEpitheliumInnerEdge.Row[i]
			thickness := math.Abs(float64(edge-row)) * p.DepthUM
			if !(thickness > 25 && thickness < 700) || row < 0 || int(row) >= p.Rows {
				t.Fatalf("%s: thickness %.1f µm at row %.1f", kind, thickness, row)
			}
		}
	}
}

// TestRoofOverTheCyst: the roof over the large cyst is as thick as asked.
func TestRoofOverTheCyst(t *testing.T) {
	p := DrawIntact(rand.New(rand.NewPCG(5, 5)), CystUnderRoof)
	p.Membrane = false
	d, err := newDrawing(&p)
	if err != nil {
		t.Fatal(err)
	}
	c := d.features.list[0]
	if c.Kind != "central cyst" {
		t.Fatalf("first feature is a %s", c.Kind)
	}
	near(t, "roof", d.s.top(0, 0)-c.VUM-c.HalfVUM, p.LargeCentralCyst.RoofUM, 1e-9)
}

func TestFrameIsARotation(t *testing.T) {
	p := plain()
	p.Rows, p.TiltLateralDeg, p.TiltSliceDeg = 460, 11, -12
	f := newFrame(&p)
	for _, at := range [][3]float64{{0, 0, 0}, {400, -300, 250}, {-900, 600, -120}} {
		x, y, v := f.retina(at[0], at[1], at[2])
		if got, want := x*x+y*y+v*v, at[0]*at[0]+at[1]*at[1]+at[2]*at[2]; math.Abs(got-want) > 1e-6 {
			t.Errorf("length² %g became %g", want, got)
		}
		near(t, "y in the slice", f.yInSlice(at[1], x, v), y, 1e-6)
		a, b, c := f.image(x, y, v)
		near(t, "X", a, at[0], 1e-9)
		near(t, "Y", b, at[1], 1e-9)
		near(t, "W", c, at[2], 1e-9)
	}
}

func TestTruthAsJSON(t *testing.T) {
	data, err := json.Marshal(figuresOf(t, asReal()))
	if err != nil {
		t.Fatal(err)
	}
	var keys map[string]any
	if err := json.Unmarshal(data, &keys); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{
		"mld_um", "mld_sampled_um", "widest_slice", "min_section", "base_um", "opening_um", "lid_um", "height_um",
		"height_left_um", "height_right_um", "volume_mm3", "crossed", "features", "gap_um", "full_thickness",
	} {
		if _, ok := keys[key]; !ok {
			t.Errorf("no key %q", key)
		}
	}
}
