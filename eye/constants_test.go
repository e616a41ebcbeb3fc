package eye_test

import (
	"math"
	"testing"

	"limitans/estimate"
	"limitans/eye"
)

// Worked examples 32 (4.76/2.65 mm, 0.001), 33 (disc ellipse 2.613 mm², 0.002),
// 34 (zone diameters 582 and 794 µm, 1), 41 (R 12.80 mm, 0.01; half angle
// 108.9°, 0.1) and 43 (clock hours 6.02, 6.28, 6.54 mm, 0.01), all from the
// table of constants.
func TestConstantsWorkedExamples(t *testing.T) {
	if got := constant(t, "disc centre to fovea") / constant(t, "disc centre to fovea in disc diameters"); math.Abs(got-1.796) > 0.001 || math.Abs(got-eye.DiscDiameterMM) > 0.005 {
		t.Errorf("disc %g mm", got)
	}
	if got := math.Pi / 4 * constant(t, "disc, vertical diameter") * constant(t, "disc, horizontal diameter"); math.Abs(got-2.613) > 0.002 {
		t.Errorf("disc %g mm²", got)
	}
	for name, want := range map[string]float64{"superficial": 582, "deep": 794} {
		if got := 2000 * math.Sqrt(constant(t, "foveal avascular zone, "+name)/math.Pi); math.Abs(got-want) > 1 {
			t.Errorf("%s: %g µm", name, got)
		}
	}
	sphere, err := eye.SphereOfArea(constant(t, "inner surface of the eye"))
	if err != nil || math.Abs(sphere.RadiusMM()-12.80) > 0.01 {
		t.Fatal(sphere.RadiusMM(), err)
	}
	c, err := sphere.CapOfHalfAngle(eye.OraFromMaculaDeg)
	if err != nil || math.Abs(c.WallMM2()-constant(t, "retinal area")) > 2 { // 0.1° of the rim is 2 mm²
		t.Errorf("retina %g mm², %v", c.WallMM2(), err)
	}
	for r, want := range map[float64]float64{11.5: 6.02, 12: 6.28, 12.5: 6.54} {
		if got := mustSphere(t, r).ClockHourMM(); math.Abs(got-want) > 0.01 {
			t.Errorf("R %g: %g mm", r, got)
		}
	}
}

// Worked example 42: the quadrants of Nagra et al. 2017 (abstract) add up.
func TestQuadrantsAddUp(t *testing.T) {
	if got := constant(t, "retinal area"); got != 365+340+337+321 {
		t.Errorf("%g mm²", got)
	}
}

func TestEveryConstantSaysWhereItComesFrom(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range eye.Constants() {
		if c.Quantity == "" || c.Source == "" || c.HowKnown == "" || seen[c.Quantity] {
			t.Errorf("%+v", c)
		}
		seen[c.Quantity] = true
		if c.Low > c.Value || c.High < c.Value || math.IsNaN(c.Value) && math.IsNaN(c.Low) {
			t.Errorf("%s: %g not in %g to %g", c.Quantity, c.Value, c.Low, c.High)
		}
		if !math.IsNaN(c.Low) && c.Spread == "" {
			t.Errorf("%s: spread of what", c.Quantity)
		}
	}
	eye.Constants()[0].Value = 0
	if eye.Constants()[0].Value == 0 {
		t.Error("a caller's change reached the table")
	}
}

func constant(t *testing.T, quantity string) float64 {
	t.Helper()
	for _, c := range eye.Constants() {
		if c.Quantity == quantity {
			return c.Value
		}
	}
	t.Fatalf("no constant %q", quantity)
	return 0
}

func must(t interface{ Fatal(...any) }) func(estimate.Estimate, error) float64 {
	return func(e estimate.Estimate, err error) float64 {
		if err != nil {
			t.Fatal(err)
		}
		return e.Value
	}
}
