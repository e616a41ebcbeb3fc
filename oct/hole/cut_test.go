package hole_test

import (
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/oct"
	"limitans/oct/hole"
)

// checkCut wants the figures that need what lies outside the scan to be missing
// with the reason, and a warning.
func checkCut(t *testing.T, h *hole.Hole, waistIsCut bool) {
	t.Helper()
	missing := map[string]estimate.Estimate{"base": h.BaseUM, "opening": h.OpeningUM, "volume": h.VolumeMM3}
	if waistIsCut {
		missing["mld"], missing["visible"], missing["area"] = h.MLDUM, h.VisibleMLDUM, h.MinSection.AreaMM2
	}
	for figure, e := range missing {
		if e.Known() || !strings.Contains(e.Basis, "cut by the scan's edge") {
			t.Errorf("%s of a cut hole: %+v", figure, e)
		}
	}
	if !strings.Contains(strings.Join(h.Warnings, "\n"), "cut by the edge") {
		t.Errorf("no warning that the hole is cut: %q", h.Warnings)
	}
	if waistIsCut && len(h.SizeClass) != 0 {
		t.Errorf("a size class of a cut waist: %+v", h.SizeClass)
	}
}

// A hole cut by the first slice: figures that need what lies outside are missing
// and say so; nothing is extrapolated.
func TestDrawnCutAtTheEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("measured in full in the run without the race detector")
	}
	base, waist := plain(), plain()
	base.baseUM, base.yUM = 700, 200 // the base runs out beyond slice 0, the waist does not
	waist.yUM = 420                  // the waist too
	h := measured(t, base.volume())
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	within(t, "minimum linear diameter", h.MLDUM, base.waistUM, readingUM)
	checkCut(t, h, false)
	h = measured(t, waist.volume())
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	checkCut(t, h, true)
}

// A hole whose base runs out of the frame at the right, with its waist and its
// rim in view, and one whose right rim is outside too. Either is a hole that a
// person sees at once: it must never be called absent.
func TestDrawnCutAtTheSide(t *testing.T) {
	base, rim := plain(), plain()
	base.baseUM, base.xUM = 700, 380
	rim.baseUM, rim.xUM = 700, 440
	h := measured(t, base.volume())
	if h.Judgement == hole.NoneFound {
		t.Errorf("base cut: %s, %v", h.Judgement, h.Seen)
	}
	if h.Present {
		within(t, "minimum linear diameter", h.MLDUM, base.waistUM, readingUM)
		checkCut(t, h, false)
	}
	if h := measured(t, rim.volume()); h.Judgement == hole.NoneFound || h.BaseUM.Known() || h.VolumeMM3.Known() {
		t.Errorf("rim cut: %s, base %+v, %v", h.Judgement, h.BaseUM, h.Seen)
	}
}

// One slice spans no volume and no section, even where the file states a slice
// distance.
func TestSingleSliceHasNoVolume(t *testing.T) {
	d := plain()
	d.pattern, d.slices = oct.PatternSingle, 1
	v := d.volume()
	v.Scale.Slice = oct.AxisScale{MicrometresPerSample: 31, Trust: oct.TrustFileGiven, Source: "drawn"}
	h := measured(t, v)
	if !h.Present {
		t.Fatalf("%v", h.Seen)
	}
	for name, e := range map[string]estimate.Estimate{"volume": h.VolumeMM3, "area": h.MinSection.AreaMM2} {
		if e.Known() {
			t.Errorf("%s of one slice: %+v", name, e)
		}
	}
}
