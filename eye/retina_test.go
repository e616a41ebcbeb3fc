package eye_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/eye"
	"limitans/fault"
)

// Worked examples 22 (1e-4, exact), 30 (0.1°, published: 4.76 mm at 23.2 mm is
// "17°" in older text), 27 (1e-4, published form: Bengtsson and Krakau shorten
// the eye by 1.6 mm instead of 1.82) and 26 (0.001: the factor of the old form
// t = p·q·s is that of a 24.46 mm eye; p from memory).
func TestMillimetresPerDegreeWorkedExamples(t *testing.T) {
	for mm, want := range map[float64]float64{20: 0.2374, 24: 0.2897, 26: 0.3158, 30: 0.3680} {
		q, err := eye.MillimetresPerDegree(mm)
		if err != nil || math.Abs(q.Value-want) > 1e-4 {
			t.Errorf("%g mm: %v, %v", mm, q, err)
		}
	}
	q := must(t)(eye.MillimetresPerDegree(23.2))
	if got := eye.DiscFoveaMM / q; math.Abs(got-17.05) > 0.1 {
		t.Errorf("disc to fovea %g°", got)
	}
	bengtsson := (26 - 1.6) / (24.46 - 1.6)
	f, err := eye.LateralFactor(26, 24.46)
	if err != nil || math.Abs(bengtsson-1.0674) > 1e-4 || math.Abs(f.Value-1.0680) > 1e-4 || bengtsson < f.Low || bengtsson > f.High {
		t.Errorf("%g outside %v, %v", bengtsson, f, err)
	}
	if p := 1 / must(t)(eye.MillimetresPerDegree(eye.ReferenceAxialLengthMM)); math.Abs(p-3.382) > 0.001 {
		t.Errorf("p = %g", p)
	}
}

// Published central values for a 24 mm eye, 0.268 to 0.2897 mm per degree
// (section 5.3), lie in the interval, and 0.176 at the ora in what the law has
// beyond 60°.
func TestRetinalLengthAgainstPublished(t *testing.T) {
	q, err := eye.MillimetresPerDegree(24)
	if err != nil {
		t.Fatal(err)
	}
	for _, published := range []float64{0.268, 0.276, 0.288, 0.2897} {
		if published < q.Low || published > q.High {
			t.Errorf("%g outside %+v", published, q)
		}
	}
	slope := must(t)(eye.RetinalLengthMM(80, 24)) - must(t)(eye.RetinalLengthMM(79, 24))
	if math.Abs(slope-0.176) > 0.02 {
		t.Errorf("%g mm per degree at 80°, published 0.176 at the ora", slope)
	}
	// From 30° on the law is the polynomial: worked example 28, 0.001 mm.
	for deg, want := range map[float64]float64{30: 8.123, 50: 13.215} {
		if got := must(t)(eye.RetinalLengthMM(deg, 24)); math.Abs(got-want) > 0.001 {
			t.Errorf("%g°: %g mm", deg, got)
		}
	}
}

func TestRetinalLengthProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		al := rapid.Float64Range(eye.MinAxialLengthMM, eye.MaxAxialLengthMM).Draw(t, "length")
		deg := rapid.Float64Range(0, 89.99).Draw(t, "angle")
		r, err := eye.RetinalLengthMM(deg, al)
		if err != nil {
			t.Fatal(err)
		}
		further, err := eye.RetinalLengthMM(deg+0.01, al)
		if err != nil || !(further.Value > r.Value) {
			t.Fatalf("%g then %g, %v", r.Value, further.Value, err)
		}
		back, err := eye.VisualAngleDeg(r.Value, al)
		if err != nil || math.Abs(back.Value-deg) > 1e-9 || back.Low > back.Value || back.High < back.Value {
			t.Fatalf("%g° is back %+v, %v", deg, back, err)
		}
		if deg <= 15 {
			if q := must(t)(eye.MillimetresPerDegree(al)); math.Abs(r.Value-q*deg) > 1e-12 {
				t.Fatalf("%g mm, paraxial %g", r.Value, q*deg)
			}
		}
	})
	for _, bad := range []float64{math.NaN(), -1, 90.1, math.Inf(1)} {
		if _, err := eye.RetinalLengthMM(bad, 24); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("angle %g: %v", bad, err)
		}
		if _, err := eye.VisualAngleDeg(bad, 24); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("length %g: %v", bad, err)
		}
		_, err1 := eye.RetinalLengthMM(10, bad)
		_, err2 := eye.VisualAngleDeg(1, bad)
		_, err3 := eye.MillimetresPerDegree(bad)
		_, err4 := eye.NewEntry(bad, 4)
		for _, err := range []error{err1, err2, err3, err4} {
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("axial length %g: %v", bad, err)
			}
		}
	}
}

// Worked examples 44 (0.02 mm) and 45 (0.02 mm, 0.1°) and the tables of
// section 4 (printed to 0.1 mm and 1°): derived model.
func TestReachWorkedExamples(t *testing.T) {
	for mm, want := range map[float64]float64{24: 20.76, 30: 26.87} {
		if e := entry(t, mm, 4); math.Abs(e.ReachMM.Value-want) > 0.02 {
			t.Errorf("%g mm: reach %g", mm, e.ReachMM.Value)
		}
	}
	for mm, want := range map[float64]float64{22: 18.7, 24: 20.8, 26: 22.8, 28: 24.8, 30: 26.9, 32: 28.9, 34: 30.9} {
		if e := entry(t, mm, 4); math.Abs(e.ReachMM.Value-want) > 0.0501 {
			t.Errorf("%g mm: reach %g, printed %g", mm, e.ReachMM.Value, want)
		}
	}
	for _, row := range []struct{ apart, chord, angle, withinMM, withinDeg float64 }{
		{120, 15.37, 43.4, 0.02, 0.1}, {60, 8.9, 25, 0.051, 0.51}, {90, 12.5, 35, 0.051, 0.51}, {150, 17.1, 49, 0.051, 0.51}, {180, 17.7, 51, 0.051, 0.51},
	} {
		chord, angle, err := entry(t, 24, 4).Separation(row.apart)
		if err != nil || math.Abs(chord-row.chord) > row.withinMM || math.Abs(angle-row.angle) > row.withinDeg {
			t.Errorf("%g°: chord %.3f, angle %.2f, printed %g, %g; %v", row.apart, chord, angle, row.chord, row.angle, err)
		}
	}
}

func TestReachProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		al := rapid.Float64Range(18, 35).Draw(t, "length")
		behind := rapid.Float64Range(0, 7.9).Draw(t, "behind")
		e := entry(t, al, behind)
		if longer := entry(t, al+0.1, behind); !(longer.ReachMM.Value > e.ReachMM.Value) {
			t.Fatal("a longer eye is nearer")
		}
		if back := entry(t, al, behind+0.1); !(back.ReachMM.Value < e.ReachMM.Value) {
			t.Fatal("further back is further away")
		}
		if !(e.ReachMM.Low < e.ReachMM.Value && e.ReachMM.Value < e.ReachMM.High && e.ReachMM.Value < al) {
			t.Fatalf("%+v", e.ReachMM)
		}
		chord, _, err := e.Separation(rapid.Float64Range(0, 180).Draw(t, "apart"))
		if err != nil || chord > al {
			t.Fatal(chord, err)
		}
	})
	for _, bad := range []float64{math.NaN(), -1, 8.1, 40} {
		if _, err := eye.NewEntry(24, bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g mm: %v", bad, err)
		}
	}
	for _, bad := range []float64{math.NaN(), -1, 181} {
		if _, _, err := entry(t, 24, 4).Separation(bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g°: %v", bad, err)
		}
	}
}

func entry(t interface{ Fatal(...any) }, al, behind float64) eye.Entry {
	e, err := eye.NewEntry(al, behind)
	if err != nil {
		t.Fatal(err)
	}
	return e
}
