package thickness

import (
	"fmt"
	"math"
	"testing"

	"limitans/eye"
)

// Areas of the macular grid, from the exact circles of 0.5, 1.5 and 3 mm;
// printed to a thousandth, hence the tolerance.
var publishedAreas = []float64{0.785, 1.571, 1.571, 1.571, 1.571, 5.301, 5.301, 5.301, 5.301}

func scans() map[string]*made {
	return map[string]*made{"raster": newRaster(208, 31), "coarse raster": newRaster(27, 240), "radial": newRadialScan(24), "six lines": newRadialScan(6)}
}

func TestSlabGivesItsThicknessAndTheGridsAreas(t *testing.T) {
	for name, m := range scans() {
		t.Run(name, func(t *testing.T) {
			out := m.draw(func(_, _ float64) float64 { return 300 }).measure(t)
			if len(out.Fields) != 9 {
				t.Fatalf("%d fields", len(out.Fields))
			}
			for i, f := range out.Fields {
				// Rows are 32-bit: 150 rows hold 8e-6 rows, 3e-5 µm.
				near(t, f.Name, f.ThicknessUM.Value, 300, 1e-3)
				near(t, f.Name+" area", f.AreaMM2, publishedAreas[i], 0.0005)
				near(t, f.Name+" volume", f.VolumeMM3.Value, 0.3*publishedAreas[i], 0.3*0.0005+1e-5)
				near(t, f.Name+" covered", f.CoveredShare, 1, 1e-12)
			}
			near(t, "total", out.TotalVolumeMM3.Value, 0.3*28.274, 0.3*0.0005+1e-5)
			near(t, "centre point", out.CentrePointUM.Value, 300, 1e-3)
			if out.CentralUM != out.Fields[0].ThicknessUM {
				t.Error("the central thickness is not that of the central field")
			}
			e := out.CentralUM
			if up, down := e.High-e.Value, e.Value-e.Low; up < ReadsTooLittleUM || up > ReadsTooLittleUM+3 || down < ReadsTooMuchUM || down > ReadsTooMuchUM+3 {
				t.Errorf("interval +%.2f −%.2f µm on a slab", up, down)
			}
		})
	}
}

// The mean of a + bx + cy over a quarter ring is taken at its centroid, at
// (2 sin α / 3α)·(R³ − r³)/(R² − r²) from the centre, α = 45°.
func TestTiltedPlaneIsReadAtTheCentroids(t *testing.T) {
	centroid := func(r, R float64) float64 {
		return 2 * math.Sin(math.Pi/4) / (3 * math.Pi / 4) * (R*R*R - r*r*r) / (R*R - r*r)
	}
	const b, c = 0.02, -0.013
	for _, name := range []string{"raster", "coarse raster", "radial"} {
		m := scans()[name]
		t.Run(name, func(t *testing.T) {
			out := m.draw(func(x, y float64) float64 { return 300 + b*x + c*y }).measure(t)
			inner, outer := centroid(CentreRadiusUM, InnerRadiusUM), centroid(InnerRadiusUM, OuterRadiusUM)
			// Midpoint rule: below 1e-4 of the slope's 40 µm. Radial: the chord of
			// an arc of 7.5° errs by (7.5°)²/12 of them, 0.06 µm.
			tolerance := 0.005
			if name == "radial" {
				tolerance = 0.07
			}
			for field, want := range map[string]float64{
				"centre": 300, "inner nasal": 300 + b*inner, "inner temporal": 300 - b*inner, "inner superior": 300 + c*inner, "inner inferior": 300 - c*inner,
				"outer nasal": 300 + b*outer, "outer temporal": 300 - b*outer, "outer superior": 300 + c*outer, "outer inferior": 300 - c*outer,
			} {
				near(t, field, out.field(t, field).ThicknessUM.Value, want, tolerance)
			}
			near(t, "total", out.TotalVolumeMM3.Value, 0.3*math.Pi*9, 1e-5)
		})
	}
}

// The mean of r² over a ring, or a quarter of one, is (R² + r²)/2. Linear
// interpolation over a step h reads k·h²/6 too much in each direction, and that
// is what the interval's part for the distance of slices must show.
func TestParaboloidIsReadWithTheBiasOfItsSampling(t *testing.T) {
	const k = 1e-5
	for name, bias := range map[string]float64{
		"raster": k * 31 * 31 / 6, "coarse raster": k * 240 * 240 / 6, "radial": 0, "six lines": 0,
	} {
		m := scans()[name]
		t.Run(name, func(t *testing.T) {
			out := m.draw(func(x, y float64) float64 { return 250 + k*(x*x+y*y) }).measure(t)
			for _, f := range out.Fields {
				want := 250 + k*(f.InnerUM*f.InnerUM+f.OuterUM*f.OuterUM)/2
				// Columns add k·11.6²/6 = 0.0002, the midpoint rule k·25²/4 = 0.0016.
				// Where a field's edge cuts a step the mean of the bias is not exact.
				near(t, f.Name, f.ThicknessUM.Value-bias, want, 0.003+bias/5)
			}
			if bias > 0.05 {
				in := integrate(newPlane(m.volume, m.surfaces, m.options), gridShapes()[5], mustCentre(m), cellUM)
				near(t, "part for the distance of slices", in.widths(newPlane(m.volume, m.surfaces, m.options)).sampling, bias, bias/100)
			}
		})
	}
}

func mustCentre(m *made) place {
	return findCentre(newPlane(m.volume, m.surfaces, m.options), m.volume, m.options).place
}

// Published means of 2,230 eyes measured to the junction of inner and outer
// segments: 176.4, 255.3, 237.7 µm in centre, inner and outer ring; central
// volume 0.139 mm³ and total 6.761 mm³ (abstract). The same means weighted by
// area give 0.1385 and 6.783 mm³.
func TestPublishedRingMeansGiveThePublishedVolumes(t *testing.T) {
	out := newRadialScan(24).draw(func(x, y float64) float64 {
		switch r := math.Hypot(x, y); {
		case r < CentreRadiusUM:
			return 176.4
		case r < InnerRadiusUM:
			return 255.3
		}
		return 237.7
	}).measure(t)
	// The steps lie up to one column of 11.6 µm off: 2·11.6/500 of 79 µm.
	near(t, "centre", out.CentralUM.Value, 176.4, 3.7)
	near(t, "central volume", out.Fields[0].VolumeMM3.Value, 0.1385, 0.003)
	near(t, "total, arithmetic", out.TotalVolumeMM3.Value, 6.783, 0.01)
	near(t, "total, published", out.TotalVolumeMM3.Value, 6.761, 0.005*6.761)
}

// A sum over a square grid, with its own interpolation, is the second route.
func TestSquareGridGivesTheSameMeans(t *testing.T) {
	m := newRaster(53, 120).draw(pit)
	out := m.measure(t)
	v := m.volume
	um := func(s, c int) float64 {
		i := s*v.Columns + c
		return float64(m.surfaces.PigmentEpithelium.Row[i]-m.surfaces.InnerLimitingMembrane.Row[i]) * testDepthUM
	}
	sums, areas := map[string]float64{}, map[string]float64{}
	for y := -2995.0; y < 3000; y += 10 {
		for x := -2995.0; x < 3000; x += 10 {
			fs, fc := 26-y/120, 276+x/testLateralUM
			s, c := int(fs), int(fc)
			a, b := fs-float64(s), fc-float64(c)
			value := (1-a)*((1-b)*um(s, c)+b*um(s, c+1)) + a*((1-b)*um(s+1, c)+b*um(s+1, c+1))
			name := ""
			switch r := math.Hypot(x, y); {
			case r > 3000:
				continue
			case r <= 500:
				name = "centre"
			case r <= 1500:
				name = "inner "
			default:
				name = "outer "
			}
			if name != "centre" {
				switch {
				case y >= math.Abs(x):
					name += "superior"
				case -y >= math.Abs(x):
					name += "inferior"
				case x > 0:
					name += "nasal"
				default:
					name += "temporal"
				}
			}
			sums[name] += value
			areas[name]++
		}
	}
	for name := range sums {
		// Squares of 10 µm cut by the circle: some 300 at the centre's edge, of
		// 7,850; their half is wrong at random, 60 µm from the mean at most.
		near(t, name, out.field(t, name).ThicknessUM.Value, sums[name]/areas[name], 0.15)
	}
}

func TestRadialAndRasterAgreeOnOneShape(t *testing.T) {
	fine, radial := newRaster(208, 31).draw(pit).measure(t), newRadialScan(24).draw(pit).measure(t)
	six := newRadialScan(6).draw(pit).measure(t)
	for i, f := range fine.Fields {
		// f″ ≤ 110/350² = 9e-4 per µm: 31²·9e-4/12 = 0.07; the slope's chord 0.05.
		near(t, f.Name, radial.Fields[i].ThicknessUM.Value, f.ThicknessUM.Value, 0.15)
		if e := six.Fields[i].ThicknessUM; !(e.Low < f.ThicknessUM.Value && f.ThicknessUM.Value < e.High) {
			t.Errorf("%s: six lines give %.2f to %.2f, the fine raster %.2f", f.Name, e.Low, e.High, f.ThicknessUM.Value)
		}
	}
	near(t, "total", radial.TotalVolumeMM3.Value, fine.TotalVolumeMM3.Value, 0.15*28.3/1000)
	near(t, "centre point", radial.CentrePointUM.Value, fine.CentrePointUM.Value, 0.2)
	near(t, "centre point of the shape", fine.CentrePointUM.Value, 220+110*50.0*50/(4*350*350), 0.15)
}

// A left eye is the mirror of a right eye: the same names give the same figures.
func TestLeftEyeIsTheMirrorOfTheRight(t *testing.T) {
	for name, m := range scans() {
		right := m.draw(pit).measure(t)
		m.volume.Laterality = eye.Left
		left := m.draw(func(x, y float64) float64 { return pit(-x, y) }).measure(t)
		for _, f := range right.Fields {
			near(t, name+" "+f.Name, left.field(t, f.Name).ThicknessUM.Value, f.ThicknessUM.Value, 1e-3)
		}
		if a, b := right.field(t, "inner nasal"), right.field(t, "inner temporal"); a.ThicknessUM.Value < b.ThicknessUM.Value+5 || a.Side != Right || b.Side != Left {
			t.Errorf("%s: nasal %.1f at the %s, temporal %.1f at the %s", name, a.ThicknessUM.Value, a.Side, b.ThicknessUM.Value, b.Side)
		}
	}
}

// Without a side, fields are named by the scan; a side given as option counts.
func TestNoSideIsGuessed(t *testing.T) {
	m := newRaster(27, 240).draw(pit)
	m.volume.Laterality = eye.SideUnknown
	out := m.measure(t)
	var names string
	for _, f := range out.Fields {
		names += f.Name + ","
	}
	want := "centre,inner superior,inner scan right,inner inferior,inner scan left,outer superior,outer scan right,outer inferior,outer scan left,"
	if names != want {
		t.Errorf("fields %s", names)
	}
	has(t, fmt.Sprint(out.Warnings), "side of the eye is unknown")
	m.options.Laterality = eye.Left
	if f := m.measure(t).field(t, "outer nasal"); f.Side != Left {
		t.Errorf("nasal of a left eye lies at the %s", f.Side)
	}
}

// A longer eye has larger retinas per degree: the grid covers fewer samples.
func TestLateralFactorMovesTheCircles(t *testing.T) {
	m := newRaster(208, 31)
	m.options.LateralFactor = 1.068 // axial length 26 mm, reference 24.46 mm
	out := m.draw(func(x, y float64) float64 { return 250 + 1e-5*(x*x+y*y) }).measure(t)
	for _, f := range out.Fields {
		want := 250 + 1e-5*(f.InnerUM*f.InnerUM+f.OuterUM*f.OuterUM)/2/(1.068*1.068)
		near(t, f.Name, f.ThicknessUM.Value, want, 0.01)
	}
}
