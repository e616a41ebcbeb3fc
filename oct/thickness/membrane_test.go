package thickness

import (
	"math"
	"testing"

	"limitans/oct/surface"
)

func (t *Thickness) sign(tb testing.TB, key string) Sign {
	tb.Helper()
	for _, s := range t.Membrane {
		if s.Key == key {
			return s
		}
	}
	tb.Fatalf("no sign %q", key)
	return Sign{}
}

// The table of smoothing weights of a parabola over five points, (−3, 12, 17,
// 12, −3)/35, as printed since 1964 (from memory).
func TestSmoothingWeightsAreTheTablesAndKeepCubics(t *testing.T) {
	for i, want := range []float64{-3, 12, 17, 12, -3} {
		near(t, "weight", smoothingWeights(2)[i], want/35, 1e-12)
	}
	for _, m := range []int{3, 8, 43} {
		var ones, squares, cubes float64
		for i, w := range smoothingWeights(m) {
			k := float64(i - m)
			ones += w
			squares += w * k * k
			cubes += w * k * k * k
		}
		near(t, "1", ones, 1, 1e-12)
		near(t, "k²", squares, 0, 1e-9)
		near(t, "k³", cubes, 0, 1e-7)
	}
}

// Short folds of amplitude A stay in full, A/√2; a smooth eye has none.
func TestRuggednessIsThatOfTheFolds(t *testing.T) {
	const amplitude, wavelength = 12.0, 110.0
	smooth := newRaster(53, 120).draw(pit).measure(t).sign(t, SignRuggedness).Value
	folded := newRaster(53, 120).draw(func(x, y float64) float64 {
		return pit(x, y) + amplitude*math.Sin(2*math.Pi*x/wavelength)
	}).measure(t).sign(t, SignRuggedness).Value
	if !(smooth.Value < 1) {
		t.Errorf("ruggedness of a smooth eye: %.2f µm", smooth.Value)
	}
	// The window passes up to 15 % of a wave of a quarter of its length.
	near(t, "folds", folded.Value, amplitude/math.Sqrt2, 0.2*amplitude/math.Sqrt2)
	has(t, folded.Basis, "indicative only")
}

func TestPitDepthIsRingMinusCentre(t *testing.T) {
	f := func(x, y float64) float64 { return 300 - 90*math.Exp(-(x*x+y*y)/(2*300*300)) }
	out := newRaster(208, 31).draw(f).measure(t).sign(t, SignPitDepth).Value
	// Ring: 90·exp(−1000²/180000) = 0.35 µm; the disc of 50 µm reads 90·50²/(4·300²) = 0.62 less deep.
	near(t, "pit", out.Value, 90-0.35-0.62, 0.2)
	near(t, "no pit", newRaster(208, 31).draw(slab).measure(t).sign(t, SignPitDepth).Value.Value, 0, 1e-3)
	if e := newRaster(208, 31).draw(disc(300, slab)).measure(t).sign(t, SignPitDepth).Value; e.Known() {
		t.Errorf("depth of a pit in an open hole: %+v", e)
	}
}

func TestEverySignIsIndicative(t *testing.T) {
	out := newRaster(27, 240).draw(pit).measure(t)
	if len(out.Membrane) != 4 {
		t.Fatalf("%d signs", len(out.Membrane))
	}
	for _, s := range out.Membrane {
		has(t, s.Indicative, "indicative only")
		if s.Method == "" || s.Unit == "" || s.Value.Basis == "" {
			t.Errorf("%+v", s)
		}
	}
	has(t, out.sign(t, SignBrightLine).Value.Basis, "grey levels of vitreous and tissue are not known")
}

// A line of grey 180 on tissue of 100 over vitreous of 20 stands out by 80/80.
func TestBrightLineIsTheExcessOverTheStep(t *testing.T) {
	for _, line := range []uint16{100, 180} {
		m := newRaster(27, 240)
		m.volume.Rows = 160
		m.volume.Samples = make([]uint16, 27*160*m.volume.Columns)
		m.draw(func(_, _ float64) float64 { return 300 })
		for s := range 27 {
			for c := range m.volume.Columns {
				// The epithelium lies at row 150 or below; the lowest rows are cut by the frame.
				top := m.surfaces.InnerLimitingMembrane.At(s, c)
				for r := range 160 {
					grey := uint16(20)
					switch d := (float64(r) - top) * testDepthUM; {
					case d >= 0 && d < 20:
						grey = line
					case d >= 20:
						grey = 100
					}
					m.volume.Slice(s)[r*m.volume.Columns+c] = grey
				}
			}
			m.surfaces.Levels = append(m.surfaces.Levels, surface.SliceLevels{Vitreous: 20, Tissue: 100, SampleNoise: 1, Traceable: true})
		}
		near(t, "excess", m.measure(t).sign(t, SignBrightLine).Value.Value, float64(line-100)/80, 1e-9)
	}
}
