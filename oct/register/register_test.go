package register_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/phantom"
	"limitans/oct/register"
	"limitans/oct/surface"
)

// cleanEye is a large phantom without noise, of which the two scans of a test
// are taken with noise of their own.
func cleanEye(t testing.TB, seed uint64, vessels int) *oct.Volume {
	t.Helper()
	p := phantom.Draw(rand.New(rand.NewPCG(seed, 1)), phantom.Medium)
	p.Slices, p.Rows, p.Columns = 100, 125, 440
	p.DepthUM, p.LateralUM, p.SliceUM = 8, 11, 48
	p.BitDepth, p.EpitheliumRow, p.Inverted, p.WhiteWedge = 8, 0, false, false
	p.TiltLateralDeg, p.TiltSliceDeg, p.CurvatureRadiusMM = 0, 0, 0
	p.MotionDepthUM, p.MotionLateralUM = 0, 0
	p.Looks, p.Vessels, p.Laterality = math.Inf(1), vessels, eye.Right
	p.Display = phantom.Display{Curve: phantom.CurveLogarithm, BlackDB: -6, RangeDB: 42}
	v, _, err := phantom.Make(p)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// taken says how a scan is taken from a clean eye: its middle, how it is turned,
// and how deep it lies.
type taken struct {
	xUM, yUM, turnDeg, depthUM float64
	seed                       uint64
}

// take takes a scan of 60 slices of 125 × 280 samples, each sample interpolated
// between the four nearest columns of the eye, with noise of 14 grey levels.
func take(t testing.TB, from *oct.Volume, how taken) register.Scan {
	t.Helper()
	rng := rand.New(rand.NewPCG(how.seed, 7))
	v := &oct.Volume{
		Slices: 60, Rows: from.Rows, Columns: 280, BitDepth: 8, Scale: from.Scale, Pattern: oct.PatternRaster, Laterality: from.Laterality,
		Samples: make([]uint16, 60*from.Rows*280),
	}
	lateral, between, deep := v.Scale.Lateral.MicrometresPerSample, v.Scale.Slice.MicrometresPerSample, v.Scale.Depth.MicrometresPerSample
	sin, cos := math.Sincos(-how.turnDeg * math.Pi / 180)
	shift := int(math.Round(how.depthUM / deep))
	for slice := range v.Slices {
		y := (float64(v.Slices-1)/2 - float64(slice)) * between
		for c := range v.Columns {
			x := (float64(c) - float64(v.Columns-1)/2) * lateral
			fc := (how.xUM+x*cos-y*sin)/lateral + float64(from.Columns-1)/2
			fs := float64(from.Slices-1)/2 - (how.yUM+x*sin+y*cos)/between
			ci, si := int(math.Floor(fc)), int(math.Floor(fs))
			if ci < 0 || si < 0 || ci+1 >= from.Columns || si+1 >= from.Slices {
				t.Fatalf("the scan leaves the eye at slice %d, column %d", slice, c)
			}
			tc, ts := fc-float64(ci), fs-float64(si)
			for row := range v.Rows {
				source := min(max(row-shift, 0), v.Rows-1)
				at := func(s, k int) float64 { return float64(from.Samples[(s*from.Rows+source)*from.Columns+k]) }
				g := (1-ts)*((1-tc)*at(si, ci)+tc*at(si, ci+1)) + ts*((1-tc)*at(si+1, ci)+tc*at(si+1, ci+1))
				v.Samples[(slice*v.Rows+row)*v.Columns+c] = uint16(min(max(math.Round(g+14*rng.NormFloat64()), 0), 255))
			}
		}
	}
	lines, err := surface.Trace(context.Background(), v, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return register.Scan{Volume: v, Lines: lines}
}

// TestKnownMotion: scans of one phantom, taken with known shifts, turns and
// depths, are laid on each other within a third of the distance of two slices
// (16 µm), which is what interpolating between slices leaves, half a degree and
// half a sample of depth (4 µm) with what tracing differs by (2 µm).
func TestKnownMotion(t *testing.T) {
	for name, c := range map[string]struct {
		eye    uint64
		second taken
	}{
		"where it was":     {1, taken{0, 0, 0, 0, 11}},
		"down and deeper":  {3, taken{-120, -330, 0, 64, 13}},
		"turned and moved": {5, taken{210, 260, -4, -24, 15}},
	} {
		if testing.Short() && c.second.turnDeg == 0 {
			continue // one case in short runs
		}
		t.Run(name, func(t *testing.T) {
			v := cleanEye(t, c.eye, 14)
			first, second := take(t, v, taken{seed: 1}), take(t, v, c.second)
			m, err := register.Scans(t.Context(), first, second)
			if err != nil {
				t.Fatal(err)
			}
			// x₂ = R(turn)·(x₁ − c), so the shift is −R(turn)·c.
			sin, cos := math.Sincos(c.second.turnDeg * math.Pi / 180)
			wantX, wantY := -(c.second.xUM*cos - c.second.yUM*sin), -(c.second.xUM*sin + c.second.yUM*cos)
			t.Logf("match %.2f, overlap %.2f, x %.1f±%.1f (%.1f) y %.1f±%.1f (%.1f) turn %.2f±%.2f depth %.1f", m.Match, m.Overlap,
				m.XUM.Value, m.XUM.High-m.XUM.Value, wantX, m.YUM.Value, m.YUM.High-m.YUM.Value, wantY, m.TurnDeg.Value, m.TurnDeg.High-m.TurnDeg.Value, m.DepthUM.Value)
			for _, one := range []struct {
				what      string
				got       estimate.Estimate
				want, off float64
			}{{"x", m.XUM, wantX, 16}, {"y", m.YUM, wantY, 16}, {"turn", m.TurnDeg, c.second.turnDeg, 0.5}, {"depth", m.DepthUM, c.second.depthUM, 6}} {
				if math.Abs(one.got.Value-one.want) > one.off || !(one.got.Low < one.got.Value && one.got.Value < one.got.High) {
					t.Errorf("%s: %.2f (%.2f to %.2f), want %.2f", one.what, one.got.Value, one.got.Low, one.got.High, one.want)
				}
			}
			x, y := m.ToSecond(120, -80)
			if bx, by := m.ToFirst(x, y); math.Hypot(bx-120, by+80) > 1e-9 {
				t.Errorf("there and back: %g, %g", bx, by)
			}
		})
	}
}

// TestForeignScansAreRefused: scans of two eyes, and of eyes without vessels,
// are not laid on each other.
func TestForeignScansAreRefused(t *testing.T) {
	pairs := [][2]uint64{{1, 2}, {3, 4}}
	if testing.Short() {
		pairs = pairs[:1]
	}
	for _, seeds := range pairs {
		first, second := take(t, cleanEye(t, seeds[0], 14), taken{seed: 1}), take(t, cleanEye(t, seeds[1], 14), taken{seed: 2})
		if m, err := register.Scans(t.Context(), first, second); fault.CodeOf(err) != fault.NotMeasurable {
			t.Errorf("eyes %v: %+v, %v", seeds, m, err)
		}
	}
}

func TestRefusals(t *testing.T) {
	v := cleanEye(t, 1, 14)
	good := take(t, v, taken{seed: 1})
	change := func(do func(*oct.Volume)) register.Scan {
		other := *good.Volume
		do(&other)
		return register.Scan{Volume: &other, Lines: good.Lines}
	}
	for name, c := range map[string]struct {
		second register.Scan
		code   fault.Code
	}{
		"no scan":       {register.Scan{}, fault.Invalid},
		"foreign lines": {register.Scan{Volume: good.Volume, Lines: &surface.Surfaces{InnerLimitingMembrane: surface.New("", 1, 1), PigmentEpithelium: surface.New("", 1, 1)}}, fault.Invalid},
		"other side":    {change(func(v *oct.Volume) { v.Laterality = eye.Left }), fault.Invalid},
		"no scale":      {change(func(v *oct.Volume) { v.Scale.Slice = oct.AxisScale{} }), fault.NotMeasurable},
		"no raster":     {change(func(v *oct.Volume) { v.Pattern = oct.PatternUnknown }), fault.NotMeasurable},
	} {
		if _, err := register.Scans(t.Context(), good, c.second); fault.CodeOf(err) != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	ended, stop := context.WithCancel(t.Context())
	stop()
	if _, err := register.Scans(ended, good, good); err == nil {
		t.Error("an ended context was ignored")
	}
}

// TestChangeOf: a change is real beyond the repeatability alone, and the
// intervals join as independent errors do.
func TestChangeOf(t *testing.T) {
	at := func(value, half float64) estimate.Estimate {
		return estimate.Estimate{Value: value, Low: value - half, High: value + half}
	}
	for _, c := range []struct {
		first, second float64
		real          bool
	}{{400, 400 + hole.RealChangeUM, false}, {400, 400 + hole.RealChangeUM + 0.1, true}, {400, 400 - hole.RealChangeUM - 0.1, true}, {400, 390, false}} {
		got, ok := register.ChangeOf(at(c.first, 9), at(c.second, 12))
		if !ok || got.Real != c.real || got.DifferenceUM.Value != c.second-c.first || math.Abs(got.DifferenceUM.High-got.DifferenceUM.Value-15) > 1e-12 {
			t.Errorf("%+v: %+v", c, got)
		}
	}
	if _, ok := register.ChangeOf(estimate.Missing("none"), at(1, 1)); ok {
		t.Error("a change of nothing")
	}
}
