package thickness

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// disc leaves the membrane out within a radius: an open hole.
func disc(radius float64, f relief) relief {
	return func(x, y float64) float64 {
		if math.Hypot(x, y) < radius {
			return math.NaN()
		}
		return f(x, y)
	}
}

func slab(_, _ float64) float64 { return 300 }

func TestFieldWithAHoleIsRefusedWhenTooLittleIsLeft(t *testing.T) {
	for _, c := range []struct {
		radius float64
		known  bool
	}{{0, true}, {100, true}, {200, false}, {400, false}} {
		out := newRaster(208, 31).draw(disc(c.radius, slab)).measure(t)
		f := out.Fields[0]
		if f.ThicknessUM.Known() != c.known || out.CentralUM.Known() != c.known || out.TotalVolumeMM3.Known() != c.known {
			t.Errorf("hole of radius %g: %+v", c.radius, f)
		}
		// Interpolation loses up to one slice and one column round the hole.
		least, most := math.Pow(c.radius/500, 2), math.Pow((c.radius+45)/500, 2)
		if c.radius > 0 && (f.NoMembraneShare < least || f.NoMembraneShare > most) {
			t.Errorf("hole of radius %g: %.4f of the field without membrane, want %.4f to %.4f", c.radius, f.NoMembraneShare, least, most)
		}
		near(t, "shares", f.CoveredShare+f.OutsideShare+f.NoMembraneShare+f.NoEpitheliumShare+f.ContradictedShare, 1, 1e-9)
		for _, other := range out.Fields[1:] {
			near(t, other.Name, other.ThicknessUM.Value, 300, 1e-3)
		}
		if !c.known {
			has(t, f.ThicknessUM.Basis, "no retina above the epithelium (an open hole)")
			has(t, out.TotalVolumeMM3.Basis, "field centre is missing")
			has(t, out.CentrePointUM.Basis, "not seen")
		}
	}
}

// What was not seen widens the interval by its share of at least 40 µm.
func TestUnseenAreaWidensTheInterval(t *testing.T) {
	whole, part := newRaster(208, 31).draw(slab).measure(t), newRaster(208, 31).draw(disc(100, slab)).measure(t)
	a, b := whole.CentralUM, part.CentralUM
	want := (1 - part.Fields[0].CoveredShare) * LeastSpreadUM
	// The rest differs by the reading error of a slightly smaller area.
	near(t, "wider by", (b.High-b.Value)-(a.High-a.Value), want, 0.06)
	has(t, b.Basis, "not seen")
}

// Where the hole covers a place the true surface cannot be known, yet whatever
// plausible value stands there, the interval holds the whole field's mean.
func TestIntervalHoldsTheMeanOfTheWholeField(t *testing.T) {
	whole := newRaster(208, 31).draw(pit).measure(t).CentralUM
	part := newRaster(208, 31).draw(disc(110, pit)).measure(t).CentralUM
	if !part.Known() || whole.Value < part.Low || whole.Value > part.High || part.Value == whole.Value {
		t.Errorf("whole %.2f, part %+v", whole.Value, part)
	}
}

func TestFieldsOutsideTheScanAreRefused(t *testing.T) {
	out := newRaster(97, 31).draw(slab).measure(t) // 2.98 mm high
	for _, f := range out.Fields {
		inside := f.OuterUM <= InnerRadiusUM
		if f.ThicknessUM.Known() != inside || (f.OutsideShare > 0.1) == inside {
			t.Errorf("%s: covered %.3f, outside %.3f, known %v", f.Name, f.CoveredShare, f.OutsideShare, f.ThicknessUM.Known())
		}
	}
	has(t, out.field(t, "outer superior").ThicknessUM.Basis, "outside the scan")
	if out.TotalVolumeMM3.Known() {
		t.Error("a total without the outer ring")
	}
}

func TestTooFewSlicesAreRefused(t *testing.T) {
	out := newRaster(11, 600).draw(slab).measure(t)
	if out.CentralUM.Known() {
		t.Error("one slice gave a central field")
	}
	has(t, out.CentralUM.Basis, "only 1 slices cross the field")
	if !out.field(t, "outer nasal").ThicknessUM.Known() {
		t.Error("seven slices did not give an outer field")
	}
	m := newRadialScan(3)
	if out := m.draw(slab).measure(t); out.field(t, "inner nasal").ThicknessUM.Known() {
		t.Error("meridians 60° apart gave a ring")
	}
}

// A slice that is missing leaves a gap of two steps that is not bridged.
func TestMissingSliceIsNotBridged(t *testing.T) {
	m := newRaster(27, 240).draw(slab)
	for c := range m.volume.Columns {
		m.surfaces.PigmentEpithelium.Row[13*m.volume.Columns+c] = float32(math.NaN())
	}
	out := m.measure(t)
	// Two steps of the 480 µm next to the middle: 0.56 of the disc.
	f := out.Fields[0]
	want := (2*math.Asin(0.48) + 2*0.48*math.Sqrt(1-0.48*0.48)) / math.Pi
	near(t, "unseen", f.NoEpitheliumShare, want, 0.02)
	has(t, f.ThicknessUM.Basis, "pigment epithelium that could not be traced")
	for row := range out.Map.Size {
		for column := range out.Map.Size {
			x, y := out.Map.PlaceUM(row, column)
			if unseen := math.IsNaN(out.Map.At(row, column)); unseen != (math.Abs(y) < 240-1) {
				t.Fatalf("map at %g, %g: unseen %v", x, y, unseen)
			}
		}
	}
}

func TestMembraneBelowEpitheliumIsNotMeasured(t *testing.T) {
	out := newRaster(27, 240).draw(func(_, _ float64) float64 { return -5 }).measure(t)
	for _, f := range out.Fields {
		if f.ThicknessUM.Known() || f.ContradictedShare < 1-1e-9 {
			t.Errorf("%+v", f)
		}
		has(t, f.ThicknessUM.Basis, "contradicts itself")
	}
}

func TestNothingTracedGivesNothing(t *testing.T) {
	for name, m := range scans() {
		out := m.draw(func(_, _ float64) float64 { return math.NaN() }).measure(t)
		everythingMissing(t, name, out)
	}
}

func everythingMissing(t *testing.T, name string, out *Thickness) {
	t.Helper()
	all := []estimate.Estimate{out.CentralUM, out.CentrePointUM, out.TotalVolumeMM3}
	for _, f := range out.Fields {
		all = append(all, f.ThicknessUM, f.VolumeMM3)
	}
	for _, s := range out.Membrane {
		all = append(all, s.Value)
	}
	if len(all) != 3+18+4 {
		t.Fatalf("%s: %d figures", name, len(all))
	}
	for _, e := range all {
		if e.Known() || e.Basis == "" {
			t.Errorf("%s: %+v", name, e)
		}
	}
}

func TestScanWithoutScaleOrPatternIsRefused(t *testing.T) {
	for reason, spoil := range map[string]func(v *oct.Volume){
		"depth scale is unknown":            func(v *oct.Volume) { v.Scale.Depth = oct.AxisScale{} },
		"lateral scale is unknown":          func(v *oct.Volume) { v.Scale.Lateral = oct.AxisScale{} },
		"distance between slices":           func(v *oct.Volume) { v.Scale.Slice = oct.AxisScale{} },
		"pattern is unknown":                func(v *oct.Volume) { v.Pattern = oct.PatternUnknown },
		"pattern is single slice; fields n": func(v *oct.Volume) { v.Pattern = oct.PatternSingle },
	} {
		m := newRaster(27, 240).draw(slab)
		spoil(m.volume)
		out := m.measure(t)
		everythingMissing(t, reason, out)
		has(t, out.CentralUM.Basis, reason)
		if out.Map != nil || out.Centre != nil {
			t.Errorf("%s: a map or a centre", reason)
		}
		if _, err := json.Marshal(out); err != nil {
			t.Errorf("%s: %v", reason, err)
		}
	}
	// A radial scan needs no distance between slices.
	if !newRadialScan(12).draw(slab).measure(t).TotalVolumeMM3.Known() {
		t.Error("radial scan refused")
	}
}

func TestContradictionsAreErrors(t *testing.T) {
	for name, c := range map[string]struct {
		code  fault.Code
		spoil func(m *made)
	}{
		"no scan":           {fault.Invalid, func(m *made) { m.volume = nil }},
		"no surfaces":       {fault.Invalid, func(m *made) { m.surfaces = nil }},
		"no membrane":       {fault.Invalid, func(m *made) { m.surfaces.InnerLimitingMembrane = nil }},
		"wrong size":        {fault.Invalid, func(m *made) { m.surfaces.PigmentEpithelium.Columns-- }},
		"too few rows":      {fault.Invalid, func(m *made) { m.surfaces.PigmentEpithelium.Row = m.surfaces.PigmentEpithelium.Row[1:] }},
		"bad volume":        {fault.Malformed, func(m *made) { m.volume.Samples = m.volume.Samples[1:] }},
		"half a centre":     {fault.Invalid, func(m *made) { m.options.CentreColumn = math.NaN() }},
		"centre off":        {fault.Invalid, func(m *made) { m.options.CentreSlice = 27 }},
		"centre infinite":   {fault.Invalid, func(m *made) { m.options.CentreColumn = math.Inf(1) }},
		"factor":            {fault.Invalid, func(m *made) { m.options.LateralFactor = 20 }},
		"factor not number": {fault.Invalid, func(m *made) { m.options.LateralFactor = math.NaN() }},
		"two sides":         {fault.Conflict, func(m *made) { m.options.Laterality = eye.Left }},
	} {
		m := newRaster(27, 240).draw(slab)
		c.spoil(m)
		_, err := Measure(m.volume, m.surfaces, m.options)
		var f *fault.Error
		if !errors.As(err, &f) || f.Code != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	m := newRadialScan(12).draw(slab)
	m.volume.SliceAnglesDeg[3] = math.NaN()
	if _, err := Measure(m.volume, m.surfaces, m.options); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("angle not a number: %v", err)
	}
}

func TestAssumptionsAreSaid(t *testing.T) {
	m := newRaster(27, 240).draw(slab)
	m.volume.Scale.Lateral.Trust = oct.TrustAssumed
	out := m.measure(t)
	warnings := fmt.Sprint(out.Warnings)
	has(t, warnings, "first slice is taken as superior")
	has(t, warnings, "lateral scale is assumed (test)")
	has(t, warnings, "not corrected for the length of the eye")
	has(t, out.CentralUM.Basis, "first slice taken as superior")
	has(t, out.CentralUM.Basis, "centre as given")
	has(t, out.Boundary, "inner limiting membrane to the centre of the pigment epithelium band")
	r := newRadialScan(12).draw(slab)
	r.volume.SliceAnglesDeg[1] = 180
	has(t, fmt.Sprint(r.measure(t).Warnings), "2 half-slices")
}

// The caller's scan and surfaces stay as they were.
func TestInputsAreNotChanged(t *testing.T) {
	m, twin := newRaster(27, 240).draw(disc(300, pit)), newRaster(27, 240).draw(disc(300, pit))
	m.options.CentreSlice, m.options.CentreColumn = math.NaN(), math.NaN()
	m.measure(t)
	for i, r := range m.surfaces.InnerLimitingMembrane.Row {
		if math.Float32bits(r) != math.Float32bits(twin.surfaces.InnerLimitingMembrane.Row[i]) {
			t.Fatal("a surface was changed")
		}
	}
}

// The keys of the JSON form are part of the contract.
func TestJSONKeysAreStable(t *testing.T) {
	text, err := json.Marshal(newRaster(27, 240).draw(pit).measure(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{
		"fields", "central_um", "centre_point_um", "total_volume_mm3", "membrane_signs", "centre", "boundary", "warnings",
		"name", "side", "area_mm2", "thickness_um", "volume_mm3", "covered_share", "no_membrane_share", "indicative", "method",
	} {
		has(t, string(text), `"`+key+`":`)
	}
}
