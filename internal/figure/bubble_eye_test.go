package figure

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/figure/scene"
	"limitans/tamponade"
)

// TestCoveredRunsAreTheCap holds the drawn outline against the rule of the science:
// a point of the retina lies inside it where a target there is covered.
func TestCoveredRunsAreTheCap(t *testing.T) {
	tried := 0
	for _, p := range append(tamponade.Positions(), tamponade.Position{Name: "odd", PitchDeg: 25, RollDeg: -35}) {
		up, err := p.Up()
		if err != nil {
			t.Fatal(err)
		}
		for _, fill := range []float64{0.02, 0.1, 0.3, 0.5, 0.7, 0.95} {
			x, err := eye.HeightOfFill(fill)
			if err != nil {
				t.Fatal(err)
			}
			alpha := 2 * math.Asin(math.Sqrt(x))
			runs := coveredRuns(up, alpha)
			for hour := 0.5; hour <= 12; hour++ {
				for _, deg := range []float64{5, 30, 60, 100} {
					d, err := eye.ClockHourDirection(hour, deg)
					if err != nil {
						t.Fatal(err)
					}
					angle := math.Acos(math.Max(-1, math.Min(1, d.X*up.X+d.Y*up.Y+d.Z*up.Z)))
					if math.Abs(angle-alpha) < 0.06 {
						continue // nearer to the edge than the outline's chords are
					}
					point, in := onRetina(d)
					if !in {
						t.Fatalf("%g o'clock, %g degrees is not drawn", hour, deg)
					}
					tried++
					if inside(runs, point) != (angle < alpha) {
						t.Errorf("%s, fill %g: %g o'clock %g° is drawn covered %v, lies %.3f from the top of a cap of %.3f", p.Name, fill, hour, deg, inside(runs, point), angle, alpha)
					}
				}
			}
		}
	}
	if tried < 2000 {
		t.Errorf("only %d points were tried", tried)
	}
}

// inside counts crossings, the even-odd rule.
func inside(runs []scene.Subpath, p scene.Point) bool {
	odd := false
	for _, run := range runs {
		for i, a := range run.Points {
			b := run.Points[(i+1)%len(run.Points)]
			if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
				odd = !odd
			}
		}
	}
	return odd
}

// TestBubbleEye draws both sides, says in words what it shows, and refuses a
// position that cannot be.
func TestBubbleEye(t *testing.T) {
	sphere, err := eye.SphereOfVolume(5)
	if err != nil {
		t.Fatal(err)
	}
	macula, err := tamponade.MaculaTarget(400, sphere)
	if err != nil {
		t.Fatal(err)
	}
	tear, err := tamponade.BreakTarget(6, 14, 1, sphere)
	if err != nil {
		t.Fatal(err)
	}
	for _, side := range []eye.Laterality{eye.Right, eye.Left} {
		b := BubbleEye{Side: side, Position: tamponade.Prone, Fill: estimate.Estimate{Value: 0.4, Low: 0.3, High: 0.5, Basis: "test"}, Targets: []tamponade.Target{macula, tear}, When: "day 3", Agent: "20 % SF6"}
		s, err := DrawBubbleEye(b)
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := s.WriteInline(&out); err != nil {
			t.Fatal(err)
		}
		for _, wanted := range []string{"The macula is covered.", "break at 6", "gravity"} {
			if !strings.Contains(out.String(), wanted) {
				t.Errorf("%s: %q is missing", side, wanted)
			}
		}
	}
	if _, err := DrawBubbleEye(BubbleEye{Position: tamponade.Position{PitchDeg: 200}}); err == nil {
		t.Error("a head that cannot be held so is drawn")
	}
	for _, one := range []struct {
		fill   estimate.Estimate
		wanted Cover
	}{
		{estimate.Estimate{Value: 0.9, Low: 0.8, High: 0.95}, Covered},
		{estimate.Estimate{Value: 0.5, Low: 0.3, High: 0.9}, MayBeCovered},
		{estimate.Estimate{Value: 0.2, Low: 0.1, High: 0.3}, NotCovered},
		{estimate.Missing("test"), CoverNotKnown},
	} {
		if got, err := CoverOf(tamponade.Upright, macula, one.fill); err != nil || got != one.wanted {
			t.Errorf("%v: %q, %v", one.fill, got, err)
		}
	}
}
