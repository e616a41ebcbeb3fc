package thickness

import (
	"math"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/oct"
	"limitans/oct/surface"
)

// relief is thickness in µm as a function of the place, x to the right and y up
// from the middle of the scan.
type relief func(x, y float64) float64

func known(um float64) oct.AxisScale {
	return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustFileGiven, Source: "test"}
}

const (
	testDepthUM   = 3.87
	testLateralUM = 11.6
)

// made is a scan of a known relief over 6.4 mm.
type made struct {
	volume   *oct.Volume
	surfaces *surface.Surfaces
	options  Options
}

// at returns the place of a sample from the scan's middle.
func (m *made) at(slice, column int) (x, y float64) {
	v := m.volume
	d := (float64(column) - float64(v.Columns-1)/2) * v.Scale.Lateral.MicrometresPerSample
	if v.Pattern == oct.PatternRadial {
		sin, cos := math.Sincos(v.SliceAnglesDeg[slice] * math.Pi / 180)
		return d * cos, d * sin
	}
	return d, (float64(v.Slices-1)/2 - float64(slice)) * v.Scale.Slice.MicrometresPerSample
}

// draw sets the surfaces; the epithelium is bent so that only differences
// count. Thickness NaN leaves the membrane out.
func (m *made) draw(f relief) *made {
	v := m.volume
	m.surfaces = &surface.Surfaces{
		InnerLimitingMembrane: surface.New("inner limiting membrane", v.Slices, v.Columns),
		PigmentEpithelium:     surface.New("pigment epithelium", v.Slices, v.Columns),
	}
	for s := range v.Slices {
		for c := range v.Columns {
			x, y := m.at(s, c)
			bottom := 150 + x*x/3e6 + float64(s%3)
			m.surfaces.PigmentEpithelium.Row[s*v.Columns+c] = float32(bottom)
			m.surfaces.InnerLimitingMembrane.Row[s*v.Columns+c] = float32(bottom - f(x, y)/testDepthUM)
		}
	}
	return m
}

// middle gives the scan's middle as the centre.
func (m *made) middle() *made {
	m.options.CentreSlice, m.options.CentreColumn = float64(m.volume.Slices-1)/2, float64(m.volume.Columns-1)/2
	return m
}

func newRaster(slices int, stepUM float64) *made {
	const columns, rows = 553, 2
	return (&made{volume: &oct.Volume{
		Slices: slices, Rows: rows, Columns: columns, BitDepth: 8, Samples: make([]uint16, slices*rows*columns),
		Scale:   oct.Scale{Depth: known(testDepthUM), Lateral: known(testLateralUM), Slice: known(stepUM)},
		Pattern: oct.PatternRaster, Laterality: eye.Right,
	}}).middle()
}

func newRadialScan(slices int) *made {
	const columns, rows = 553, 2
	m := &made{volume: &oct.Volume{
		Slices: slices, Rows: rows, Columns: columns, BitDepth: 8, Samples: make([]uint16, slices*rows*columns),
		Scale:   oct.Scale{Depth: known(testDepthUM), Lateral: known(testLateralUM)},
		Pattern: oct.PatternRadial, Laterality: eye.Right,
	}}
	for s := range slices {
		m.volume.SliceAnglesDeg = append(m.volume.SliceAnglesDeg, float64(s)*180/float64(slices))
	}
	m.middle()
	m.options.CentreSlice = 0
	return m
}

func (m *made) measure(t testing.TB) *Thickness {
	t.Helper()
	out, err := Measure(m.volume, m.surfaces, m.options)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// field finds a field by name.
func (t *Thickness) field(tb testing.TB, name string) Field {
	tb.Helper()
	for _, f := range t.Fields {
		if f.Name == name {
			return f
		}
	}
	tb.Fatalf("no field %q", name)
	return Field{}
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.5f, want %.5f ± %g", what, got, want, tolerance)
	}
}

func has(t testing.TB, text, part string) {
	t.Helper()
	if !strings.Contains(text, part) {
		t.Errorf("%q does not say %q", text, part)
	}
}

// pit is a healthy fovea in shape: a rim at about 1 mm, slightly thicker on one
// side.
func pit(x, y float64) float64 {
	r := math.Hypot(x, y)
	return 330 - 110*math.Exp(-r*r/(2*350*350)) - 50*(1-math.Exp(-r*r/(2*2200*2200))) + 8*x/1500
}
