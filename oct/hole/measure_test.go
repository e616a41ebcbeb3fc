package hole_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// readingUM is what a figure of a clean drawing may be off by: 15 µm, the 95 %
// agreement of the means of three readings (Baumann et al. 2021, see
// [hole.RealChangeUM]); no automatic reading needs to be better than that.
const readingUM = 15.0

func within(t testing.TB, what string, got estimate.Estimate, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got.Value-want) <= tolerance) {
		t.Errorf("%s: %.4g (%.4g to %.4g), drawn %.4g ± %.4g; %s", what, got.Value, got.Low, got.High, want, tolerance, got.Basis)
	}
}

// The same hole in a raster and in a radial set: both find what was drawn. Closed
// forms: the widest chord at the waist is its diameter; area π/4·a·b; the volume
// by integrating the drawn sections up to nine tenths of the rim.
func TestDrawnHole(t *testing.T) {
	radial := plain()
	radial.pattern, radial.slices = oct.PatternRadial, 24
	small := plain()
	small.waistUM, small.baseUM, small.slices = 240, 360, 25
	for name, d := range map[string]drawing{"raster": plain(), "radial": radial, "small": small} {
		t.Run(name, func(t *testing.T) {
			h := measured(t, d.volume())
			if !h.Present || h.Judgement != hole.FullThickness {
				t.Fatalf("%s: %v", h.Judgement, h.Seen)
			}
			within(t, "minimum linear diameter", h.MLDUM, d.waistUM, readingUM)
			within(t, "smallest diameter", h.MinSection.SmallUM, d.waistUM, 1.5*readingUM)
			within(t, "largest diameter", h.MinSection.LargeUM, d.waistUM, 1.5*readingUM)
			area := math.Pi / 4 * d.waistUM * d.waistUM / 1e6
			within(t, "smallest area", h.MinSection.AreaMM2, area, area*2*readingUM/d.waistUM)
			within(t, "base", h.BaseUM, d.baseUM, 3*readingUM)
			within(t, "height", h.HeightUM, d.rimUM, readingUM)
			within(t, "left rim", h.HeightLeftUM, d.rimUM, readingUM)
			within(t, "right rim", h.HeightRightUM, d.rimUM, readingUM)
			volume := 0.0
			for v := 0.5; v < 0.9*d.rimUM; v++ {
				volume += math.Pi * d.radius(v) * d.radius(v) / 1e9
			}
			within(t, "volume", h.VolumeMM3, volume, 0.1*volume)
			if h.MinSection.MeridianDeg.Known() {
				t.Errorf("a round section has the meridian %+v", h.MinSection.MeridianDeg)
			}
			if math.Abs(float64(h.MLDHeightUM)-waistHeight) > 60 {
				t.Errorf("narrowest at %.0f µm, drawn at %g", h.MLDHeightUM, waistHeight)
			}
			checkHole(t, h)
		})
	}
}

// The same hole seen in a radial set and in a raster: every figure agrees within
// what one reading may be off, and the direction of an oval is the same one,
// though one set of slices turns around the hole and the other passes by it.
func TestRadialAgreesWithRaster(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	raster := plain()
	raster.waistUM, raster.baseUM, raster.ovality, raster.axisDeg = 320, 440, 1.3, 50
	radial := raster
	radial.pattern, radial.slices = oct.PatternRadial, 24
	a, b := measured(t, raster.volume()), measured(t, radial.volume())
	if !a.Present || !b.Present {
		t.Fatalf("raster %v, radial %v", a.Seen, b.Seen)
	}
	within(t, "smallest diameter", b.MinSection.SmallUM, a.MinSection.SmallUM.Value, 1.5*readingUM)
	within(t, "largest diameter", b.MinSection.LargeUM, a.MinSection.LargeUM.Value, 1.5*readingUM)
	within(t, "area", b.MinSection.AreaMM2, a.MinSection.AreaMM2.Value, 0.08*a.MinSection.AreaMM2.Value)
	within(t, "volume", b.VolumeMM3, a.VolumeMM3.Value, 0.1*a.VolumeMM3.Value)
	within(t, "height", b.HeightUM, a.HeightUM.Value, readingUM)
	if off := math.Mod(a.MinSection.MeridianDeg.Value-b.MinSection.MeridianDeg.Value+360, 180); !(math.Min(off, 180-off) <= 15) {
		t.Errorf("smallest diameter at %g° in the raster, %g° in the radial set", a.MinSection.MeridianDeg.Value, b.MinSection.MeridianDeg.Value)
	}
	// A radial set crosses the largest diameter, a raster only its widest chord
	// along the fast scan.
	within(t, "widest gap of the radial set", b.MLDUM, raster.waistUM*raster.ovality, readingUM)
	if a.MLDUM.Value >= b.MLDUM.Value {
		t.Errorf("raster %.0f µm, radial %.0f µm", a.MLDUM.Value, b.MLDUM.Value)
	}
}

// A base that is undermined beyond the 45° that the method assumes is read low;
// its interval must say so.
func TestDrawnUnderminedBase(t *testing.T) {
	d := plain()
	d.baseUM = 700
	h := measured(t, d.volume())
	if !(h.BaseUM.Low <= d.baseUM && d.baseUM <= h.BaseUM.High) {
		t.Errorf("base %+v, drawn %g", h.BaseUM, d.baseUM)
	}
	within(t, "minimum linear diameter", h.MLDUM, d.waistUM, readingUM)
}

// checkHole holds for every hole that was found: intervals in order, all figures
// with a basis, a lumen that fits its figures.
func checkHole(t testing.TB, h *hole.Hole) {
	t.Helper()
	for name, e := range map[string]estimate.Estimate{
		"mld": h.MLDUM, "visible": h.VisibleMLDUM, "base": h.BaseUM, "opening": h.OpeningUM, "height": h.HeightUM,
		"left": h.HeightLeftUM, "right": h.HeightRightUM, "volume": h.VolumeMM3, "area": h.MinSection.AreaMM2,
		"small": h.MinSection.SmallUM, "large": h.MinSection.LargeUM, "meridian": h.MinSection.MeridianDeg,
	} {
		if e.Basis == "" {
			t.Errorf("%s: no basis", name)
		}
		if e.Known() && !(e.Low < e.Value && e.Value < e.High) {
			t.Errorf("%s: %+v has no interval", name, e)
		}
	}
	if h.VisibleMLDUM.Known() && h.VisibleMLDUM.Value > h.MLDUM.Value {
		t.Errorf("visible %g, true %g: bright tissue does not bloom inward", h.VisibleMLDUM.Value, h.MLDUM.Value)
	}
	if len(h.Seen) == 0 || len(h.Criteria) == 0 {
		t.Error("nothing is said of what was seen")
	}
	if h.MinSection.SmallUM.Known() && h.MinSection.SmallUM.Value > h.MinSection.LargeUM.Value {
		t.Errorf("smallest diameter %g, largest %g", h.MinSection.SmallUM.Value, h.MinSection.LargeUM.Value)
	}
	if !h.Present {
		return
	}
	l := h.Lumen
	mask := l.Mask()
	if len(mask) != l.Slices*l.Rows*l.Columns || !slices.Contains(mask, true) {
		t.Error("the lumen has no samples")
	}
	if l.MLDSlice != h.WidestSlice || l.MLDLeft >= l.MLDRight || l.FirstSlice > h.WidestSlice || l.LastSlice < h.WidestSlice {
		t.Errorf("lumen %d to %d, widest %d, %g to %g", l.FirstSlice, l.LastSlice, h.WidestSlice, l.MLDLeft, l.MLDRight)
	}
}

// The volume again by counting the samples of the lumen: a second route that
// shares the walls but not the summing. Samples are 31 µm apart across slices,
// so the ends may differ by a slice at either end, below 10 %.
func TestVolumeByCounting(t *testing.T) {
	d := plain()
	h := measured(t, d.volume())
	n := 0
	for _, in := range h.Lumen.Mask() {
		if in {
			n++
		}
	}
	counted := float64(n) * d.depthUM * d.lateralUM * d.sliceUM / 1e9
	within(t, "volume", h.VolumeMM3, counted, 0.1*counted)
}

// Oval holes: the raster's minimum linear diameter is the widest chord along the
// fast scan, the one through the centre: 2/√(cos²t/a² + sin²t/b²) for half axes a
// and b with a at the angle t. The smallest section tells both diameters and
// their direction whatever the scan's direction. Later slices lie lower, angles
// are counter-clockwise.
func TestDrawnOval(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	for _, axisDeg := range []float64{0, 40, 90, 130} {
		d := plain()
		d.waistUM, d.baseUM, d.ovality, d.axisDeg = 320, 480, 1.3, axisDeg
		h := measured(t, d.volume())
		if !h.Present {
			t.Fatalf("axis at %g°: %v", axisDeg, h.Seen)
		}
		within(t, "smallest diameter", h.MinSection.SmallUM, d.waistUM, 1.5*readingUM)
		within(t, "largest diameter", h.MinSection.LargeUM, d.waistUM*d.ovality, 1.5*readingUM)
		sin, cos := math.Sincos(axisDeg * math.Pi / 180)
		chord := d.waistUM / math.Sqrt(cos*cos/(d.ovality*d.ovality)+sin*sin)
		within(t, "widest chord along the fast scan", h.MLDUM, chord, readingUM)
		if off := math.Mod(h.MinSection.MeridianDeg.Value-axisDeg-90+720, 180); !(math.Min(off, 180-off) <= 12) {
			t.Errorf("axis at %g°: smallest diameter at %g°", axisDeg, h.MinSection.MeridianDeg.Value)
		}
		checkHole(t, h)
	}
}

// A tilted retina: a caliper parallel to the epithelium reads what was drawn,
// whatever the tilt. Without the factor 1/cos the reading at 12° would be 9 µm
// low and heights 8 µm high, more than the difference allowed between tilts.
func TestDrawnTilt(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	var flat *hole.Hole
	for _, tilt := range []float64{0, 6, 12, -12} {
		d := plain()
		d.tiltDeg, d.rows, d.epitheliumRow = tilt, 220, 150
		h := measured(t, d.volume())
		if !h.Present {
			t.Fatalf("%g°: %v", tilt, h.Seen)
		}
		within(t, "minimum linear diameter", h.MLDUM, d.waistUM, readingUM)
		within(t, "height", h.HeightUM, d.rimUM, readingUM)
		if flat == nil {
			flat = h
			continue
		}
		if math.Abs(h.MLDUM.Value-flat.MLDUM.Value) > 7 || math.Abs(h.HeightUM.Value-flat.HeightUM.Value) > 7 {
			t.Errorf("%g°: diameter %.1f and height %.1f, flat %.1f and %.1f", tilt, h.MLDUM.Value, h.HeightUM.Value, flat.MLDUM.Value, flat.HeightUM.Value)
		}
	}
}

// Loose fragments in the lumen count as lumen: the figures do not change by more
// than a reading error.
func TestDrawnFragments(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	clean := measured(t, plain().volume())
	d := plain()
	d.fragments = []box{{-30, 40, 60, 110, 12, 15}, {-120, -80, 200, 240, 13, 14}}
	h := measured(t, d.volume())
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	within(t, "minimum linear diameter", h.MLDUM, clean.MLDUM.Value, readingUM)
	within(t, "volume", h.VolumeMM3, clean.VolumeMM3.Value, 0.05*clean.VolumeMM3.Value)
}

// A closed cyst beside the hole, as dark as the lumen, does not belong to it.
func TestDrawnCyst(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	clean := measured(t, plain().volume())
	d := plain()
	d.cysts = []box{{290, 420, 120, 260, 9, 19}, {-490, -430, 80, 200, 7, 22}}
	h := measured(t, d.volume())
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	within(t, "minimum linear diameter", h.MLDUM, clean.MLDUM.Value, readingUM)
	within(t, "base", h.BaseUM, clean.BaseUM.Value, 2*readingUM)
	within(t, "volume", h.VolumeMM3, clean.VolumeMM3.Value, 0.05*clean.VolumeMM3.Value)
	// No sample of a cyst is lumen.
	mask := h.Lumen.Mask()
	row := int(d.epitheliumRow - 190/d.depthUM)
	if column := int(350/d.lateralUM) + d.columns/2; mask[(14*d.rows+row)*d.columns+column] {
		t.Error("the middle of a closed cyst counts as lumen")
	}
}

// What is no full-thickness hole: nothing is called one, no figure is given, and
// what was seen is said.
func TestDrawnNoHole(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	whole, roofed, lamellar, cysts := plain(), plain(), plain(), plain()
	whole.waistUM = 0
	roofed.roofUM = 60
	lamellar.floorUM, lamellar.baseUM = 90, 500
	cysts.waistUM, cysts.cysts = 0, []box{{-150, 150, 60, 280, 7, 21}}
	for name, d := range map[string]drawing{"whole retina": whole, "roofed space": roofed, "lamellar defect": lamellar, "large closed cyst": cysts} {
		t.Run(name, func(t *testing.T) {
			h := measured(t, d.volume())
			if h.Present || h.Judgement == hole.FullThickness || h.WidestSlice != -1 || h.Lumen != nil {
				t.Fatalf("%s: %v", h.Judgement, h.Seen)
			}
			if len(h.Seen) < 2 || len(h.Criteria) == 0 {
				t.Errorf("seen %q, %d criteria", h.Seen, len(h.Criteria))
			}
			for _, e := range []estimate.Estimate{h.MLDUM, h.VisibleMLDUM, h.BaseUM, h.OpeningUM, h.HeightUM, h.HeightLeftUM, h.HeightRightUM, h.VolumeMM3, h.MinSection.AreaMM2, h.MinSection.SmallUM, h.MinSection.LargeUM, h.MinSection.MeridianDeg} {
				if e.Known() || e.Basis != string(h.Judgement) {
					t.Errorf("a figure of no hole: %+v", e)
				}
			}
			if len(h.SizeClass) != 0 || len(h.Indices) != 0 {
				t.Errorf("%d classes and %d indices of no hole", len(h.SizeClass), len(h.Indices))
			}
		})
	}
}

// One slice: a gap and heights, no section, and a warning that they are lower
// bounds.
func TestDrawnSingleSlice(t *testing.T) {
	d := plain()
	d.pattern, d.slices = oct.PatternSingle, 1
	h := measured(t, d.volume())
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	within(t, "minimum linear diameter", h.MLDUM, d.waistUM, readingUM)
	within(t, "height", h.HeightUM, d.rimUM, readingUM)
	for name, e := range map[string]estimate.Estimate{"area": h.MinSection.AreaMM2, "small": h.MinSection.SmallUM, "large": h.MinSection.LargeUM, "meridian": h.MinSection.MeridianDeg, "volume": h.VolumeMM3} {
		if e.Known() || e.Basis == "" {
			t.Errorf("%s from one slice: %+v", name, e)
		}
	}
	if !strings.Contains(strings.Join(h.Warnings, "\n"), "lower bound") {
		t.Errorf("no warning: %q", h.Warnings)
	}
}

// Without a lateral scale no lateral micrometres are given, only samples; depth
// is given still. The same for depth.
func TestDrawnUnknownScale(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	d := plain()
	d.slices = 25
	for name, spoil := range map[string]func(s *oct.Scale){
		"lateral": func(s *oct.Scale) { s.Lateral = oct.AxisScale{} },
		"depth":   func(s *oct.Scale) { s.Depth = oct.AxisScale{} },
		"slice":   func(s *oct.Scale) { s.Slice = oct.AxisScale{} },
		"all":     func(s *oct.Scale) { *s = oct.Scale{} },
	} {
		t.Run(name, func(t *testing.T) {
			v := d.volume()
			spoil(&v.Scale)
			h := measured(t, v)
			if !h.Present {
				t.Fatalf("%v", h.Seen)
			}
			lateral, depth := v.Scale.Lateral.Known(), v.Scale.Depth.Known()
			for figure, test := range map[string]struct {
				e     estimate.Estimate
				known bool
			}{
				"mld": {h.MLDUM, lateral}, "visible": {h.VisibleMLDUM, lateral}, "base": {h.BaseUM, lateral}, "opening": {h.OpeningUM, lateral},
				"height": {h.HeightUM, depth}, "left": {h.HeightLeftUM, depth}, "right": {h.HeightRightUM, depth},
				"small": {h.MinSection.SmallUM, lateral && v.Scale.Slice.Known()}, "area": {h.MinSection.AreaMM2, lateral && v.Scale.Slice.Known()},
				"volume": {h.VolumeMM3, lateral && depth && v.Scale.Slice.Known()},
			} {
				if test.e.Known() != test.known {
					t.Errorf("%s: %+v, want known to be %v", figure, test.e, test.known)
				}
			}
			if lateral && depth {
				return
			}
			if h.Samples == nil {
				t.Fatal("no figures in samples")
			}
			if math.Abs(h.Samples.MLDColumns-d.waistUM/d.lateralUM) > readingUM/d.lateralUM {
				t.Errorf("%.1f columns, drawn %.1f", h.Samples.MLDColumns, d.waistUM/d.lateralUM)
			}
			if math.Abs(h.Samples.HeightRows-d.rimUM/d.depthUM) > readingUM/d.depthUM {
				t.Errorf("%.1f rows, drawn %.1f", h.Samples.HeightRows, d.rimUM/d.depthUM)
			}
			if !lateral && len(h.SizeClass) != 0 {
				t.Errorf("a size class without a lateral scale: %+v", h.SizeClass)
			}
		})
	}
}

func TestMeasureRefuses(t *testing.T) {
	d := plain()
	d.slices = 3
	v := d.volume()
	s, err := surface.Trace(t.Context(), v, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	other := *v
	other.Slices, other.Samples = 2, v.Samples[:2*v.Rows*v.Columns]
	if _, err := hole.Measure(&other, s, hole.Options{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("surfaces of another scan: %v", err)
	}
	other.Samples = other.Samples[1:]
	if _, err := hole.Measure(&other, s, hole.Options{}); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("a sample missing: %v", err)
	}
}
