package eye_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/eye"
	"limitans/fault"
)

// Flat cap of a sphere, tamponade reference section 2: fill against height and
// share of the wall in percent, printed to 0.1, and arc in degrees, printed
// to 1 from the rounded height, so within 0.65 (derived there; closed form. At
// 85 % the arc is 241.49°, printed as 242).
func TestCapTableOfTheTamponadeReference(t *testing.T) {
	sphere := mustSphere(t, 11)
	fills := []float64{6.25, 10, 20, 30, 40, 50, 60, 65, 70, 78, 80, 85, 90, 95}
	heights := []float64{15.2, 19.6, 28.7, 36.3, 43.3, 50, 56.7, 60.1, 63.7, 69.7, 71.3, 75.6, 80.4, 86.5}
	arcs := []float64{92, 105, 130, 148, 165, 180, 195, 203, 212, 226, 230, 242, 255, 274}
	for i, fill := range fills {
		c, err := sphere.CapOfFill(fill / 100)
		if err != nil {
			t.Fatal(err)
		}
		if got := 100 * c.RelativeHeight(); math.Abs(got-heights[i]) > 0.0501 {
			t.Errorf("fill %g %%: height %.3f %%, printed %g", fill, got, heights[i])
		}
		if got := 100 * c.WallMM2() / sphere.AreaMM2(); math.Abs(got-heights[i]) > 0.0501 {
			t.Errorf("fill %g %%: wall %.3f %%, printed %g", fill, got, heights[i])
		}
		if got := 2 * c.HalfAngleDeg(); math.Abs(got-arcs[i]) > 0.65 {
			t.Errorf("fill %g %%: arc %.2f°, printed %g", fill, got, arcs[i])
		}
	}
}

// Tamponade worked examples 1 (Parver and Lincoff 1978, secondary: 0.28 mL
// gives an arc of 90° in a sphere of 21 mm, 1 %) and 2 (93 % fill of 4.5 mL
// touches 11 cm²; simulation, abstract, 2 %).
func TestCapAgainstPublished(t *testing.T) {
	c, err := mustSphere(t, 10.5).CapOfHalfAngle(45)
	if err != nil {
		t.Fatal(err)
	}
	if got := c.VolumeML(); math.Abs(got-0.2815) > 0.00005 || math.Abs(got-0.28) > 0.01*0.28 {
		t.Errorf("90° arc in 21 mm: %.5f mL", got)
	}
	cavity, err := eye.SphereOfVolume(4.5)
	if err != nil {
		t.Fatal(err)
	}
	full, err := cavity.CapOfFill(0.93)
	if err != nil {
		t.Fatal(err)
	}
	if got := full.WallMM2() / 100; math.Abs(got-11.05) > 0.005 || math.Abs(got-11) > 0.02*11 {
		t.Errorf("93 %% of 4.5 mL: %.4f cm²", got)
	}
}

// Worked example 40 of the geometry reference, R 12 mm: cap areas within
// 0.1 mm² and arcs within 0.01 mm (exact).
func TestCapAreaWorkedExample40(t *testing.T) {
	sphere := mustSphere(t, 12)
	for _, row := range []struct{ deg, area, arc float64 }{{30, 121.2, 6.28}, {45, 265.0, 9.42}, {60, 452.4, 12.57}, {90, 904.8, 18.85}} {
		c, err := sphere.CapOfHalfAngle(row.deg)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(c.WallMM2()-row.area) > 0.1 || math.Abs(sphere.ArcMM(row.deg)-row.arc) > 0.01 {
			t.Errorf("%g°: %.2f mm², %.3f mm", row.deg, c.WallMM2(), sphere.ArcMM(row.deg))
		}
	}
}

// Height and fill are inverse to rounding over the whole range, and a cap made
// by any of its measures has the same others. Second route to the volume: the
// textbook cap πh²(3R − h)/3; to the chord: a²= h(2R − h).
func TestCapProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fill := rapid.OneOf(rapid.Float64Range(0, 1), rapid.Float64Range(0, 1e-12), rapid.Just(1.0), rapid.Float64Range(1-1e-12, 1)).Draw(t, "fill")
		x, err := eye.HeightOfFill(fill)
		if err != nil || x < 0 || x > 1 {
			t.Fatal(x, err)
		}
		// The fill's relative slope against x is at most 2, so eight roundings
		// of x and f stay below 3e-15 of the smaller part.
		back, err := eye.FillOfHeight(x)
		if err != nil || math.Abs(back-fill) > 3e-15*fill {
			t.Fatalf("%g, back %g, %v", fill, back, err)
		}
		other, err := eye.HeightOfFill(math.Min(1, fill+1e-6))
		if err != nil || fill < 1 && !(other > x) {
			t.Fatalf("height does not rise: %g, %g", x, other)
		}
		r := rapid.Float64Range(8, 16).Draw(t, "radius")
		s, err := eye.NewSphere(r)
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.CapOfFill(fill)
		if err != nil {
			t.Fatal(err)
		}
		h := c.HeightMM()
		if v := math.Pi * h * h * (3*r - h) / 3 / 1000; math.Abs(v-c.VolumeML()) > 1e-13*s.VolumeML() {
			t.Fatalf("volume %g, textbook %g", c.VolumeML(), v)
		}
		if half := math.Sqrt(math.Max(0, h*(2*r-h))); math.Abs(2*half-c.ChordMM()) > 1e-6*r {
			t.Fatalf("chord %g, by Euclid %g", c.ChordMM(), 2*half)
		}
		if math.Abs(c.LevelMM2()-math.Pi*c.ChordMM()*c.ChordMM()/4) > 1e-9 {
			t.Fatal("level")
		}
		byHeight, err := s.CapOfHeightMM(h)
		if err != nil || math.Abs(byHeight.Fill()-c.Fill()) > 1e-14 {
			t.Fatal(byHeight, err)
		}
		byAngle, err := s.CapOfHalfAngle(c.HalfAngleDeg())
		if err != nil || math.Abs(byAngle.RelativeHeight()-x) > 1e-14 {
			t.Fatal(byAngle, err)
		}
	})
}

func TestSphereProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ml := rapid.Float64Range(0.5, 40).Draw(t, "volume")
		s, err := eye.SphereOfVolume(ml)
		if err != nil || math.Abs(s.VolumeML()-ml) > 1e-13*ml {
			t.Fatal(s.VolumeML(), err)
		}
		again, err := eye.SphereOfArea(s.AreaMM2())
		if err != nil || math.Abs(again.RadiusMM()-s.RadiusMM()) > 1e-13*s.RadiusMM() {
			t.Fatal(again, err)
		}
		deg := rapid.Float64Range(0, 360).Draw(t, "angle")
		if back := s.ArcDeg(s.ArcMM(deg)); math.Abs(back-deg) > 1e-12 {
			t.Fatal(back)
		}
		if math.Abs(12*s.ClockHourMM()-2*math.Pi*s.RadiusMM()) > 1e-12 {
			t.Fatal(s.ClockHourMM())
		}
	})
}

func TestImpossibleShapesAreRefused(t *testing.T) {
	sphere := mustSphere(t, 11)
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range []float64{nan, inf, -inf, -1, 0, 3.9, 26, 1e300} {
		if _, err := eye.NewSphere(bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("radius %g: %v", bad, err)
		}
	}
	for _, bad := range []float64{nan, inf, -1, 0, 0.1, 70, 5000} {
		if _, err := eye.SphereOfVolume(bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("volume %g: %v", bad, err)
		}
	}
	for _, bad := range []float64{nan, inf, -1, 0, 1e9} {
		if _, err := eye.SphereOfArea(bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("area %g: %v", bad, err)
		}
	}
	for _, bad := range []float64{nan, inf, -inf, -1e-300, 1.0000001, 80} {
		_, err1 := eye.HeightOfFill(bad)
		_, err2 := eye.FillOfHeight(bad)
		_, err3 := sphere.CapOfFill(bad)
		_, err4 := sphere.CapOfHeightMM(bad * 22)
		_, err5 := sphere.CapOfHalfAngle(bad * 180)
		for i, err := range []error{err1, err2, err3, err4, err5} {
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%d, %g: %v", i, bad, err)
			}
		}
	}
}

func mustSphere(t *testing.T, radiusMM float64) eye.Sphere {
	t.Helper()
	s, err := eye.NewSphere(radiusMM)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
