package eye_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/eye"
	"limitans/fault"
)

// The frame as drawn, by places that every surgeon knows: at the equator 12 is
// up, 6 down, 3 on the patient's left. Nasal is 3 in a right and 9 in a left
// eye (common practice, no source).
func TestFrameAsDrawn(t *testing.T) {
	for _, row := range []struct {
		hour, deg float64
		want      eye.Direction
	}{
		{12, 90, eye.Direction{0, 1, 0}},
		{0, 90, eye.Direction{0, 1, 0}},
		{3, 90, eye.Direction{1, 0, 0}},
		{6, 90, eye.Direction{0, -1, 0}},
		{9, 90, eye.Direction{-1, 0, 0}},
		{1, 90, eye.Direction{0.5, math.Sqrt(3) / 2, 0}},
		{12.5, 90, eye.Direction{math.Sin(math.Pi / 12), math.Cos(math.Pi / 12), 0}},
		{7, 0, eye.Direction{0, 0, -1}},
		{7, 180, eye.Direction{0, 0, 1}},
		{12, 45, eye.Direction{0, math.Sqrt2 / 2, -math.Sqrt2 / 2}},
	} {
		got := clock(t, row.hour, row.deg)
		if got.AngleDeg(row.want) > 1e-6 {
			t.Errorf("%g o'clock, %g°: %v, want %v", row.hour, row.deg, got, row.want)
		}
	}
	if eye.MaculaDirection() != (eye.Direction{0, 0, -1}) {
		t.Error(eye.MaculaDirection())
	}
	for side, hour := range map[eye.Laterality]float64{eye.Right: 3, eye.Left: 9} {
		nasal, err := eye.NasalDirection(side)
		if err != nil || nasal.AngleDeg(clock(t, hour, 90)) > 1e-6 {
			t.Errorf("%v: nasal %v, %v", side, nasal, err)
		}
	}
	if _, err := eye.NasalDirection(eye.SideUnknown); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}

// Tamponade reference section 2: face down by the pitch a the fovea is covered
// when half the arc reaches 90° − a, so the least fill is 1.3, 5.8, 15.6, 31.0,
// 50.0, 69.0, 84.4, 94.2, 100 % (printed to 0.1; worked example 4).
func TestMaculaAgainstPitch(t *testing.T) {
	for pitch, want := range map[float64]float64{60: 1.3, 45: 5.8, 30: 15.6, 15: 31.0, 0: 50.0, -15: 69.0, -30: 84.4, -45: 94.2, -90: 100} {
		sin, cos := math.Sincos(pitch * math.Pi / 180)
		up := eye.Direction{0, cos, -sin}
		apart := up.AngleDeg(eye.MaculaDirection())
		if math.Abs(apart-(90-pitch)) > 1e-9 {
			t.Errorf("pitch %g: macula %g° from the top", pitch, apart)
		}
		c, err := mustSphere(t, 11).CapOfHalfAngle(apart)
		if err != nil || math.Abs(100*c.Fill()-want) > 0.0501 {
			t.Errorf("pitch %g: least fill %.3f %%, printed %g; %v", pitch, 100*c.Fill(), want, err)
		}
	}
}

func TestClockHourThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hour := rapid.Float64Range(0.001, 12).Draw(t, "hour")
		deg := rapid.Float64Range(0.001, 179.999).Draw(t, "angle")
		d := clock(t, hour, deg)
		if length := math.Sqrt(d.X*d.X + d.Y*d.Y + d.Z*d.Z); math.Abs(length-1) > 1e-15*4 {
			t.Fatalf("length %g", length)
		}
		backHour, backDeg := d.ClockHour()
		if math.Abs(backHour-hour) > 1e-9 && math.Abs(math.Abs(backHour-hour)-12) > 1e-9 || math.Abs(backDeg-deg) > 1e-9 {
			t.Fatalf("%g o'clock %g° is back %g o'clock %g°", hour, deg, backHour, backDeg)
		}
		// Second route: the spherical law of cosines.
		otherHour, otherDeg := rapid.Float64Range(0, 12).Draw(t, "other"), rapid.Float64Range(0, 180).Draw(t, "other angle")
		other := clock(t, otherHour, otherDeg)
		rad := math.Pi / 180
		cosine := math.Cos(deg*rad)*math.Cos(otherDeg*rad) + math.Sin(deg*rad)*math.Sin(otherDeg*rad)*math.Cos((hour-otherHour)*30*rad)
		if got := math.Cos(d.AngleDeg(other) * rad); math.Abs(got-cosine) > 1e-12 {
			t.Fatalf("cosine %g, by the spherical law %g", got, cosine)
		}
		scale := rapid.SampledFrom([]float64{1e-300, 1, 1e300}).Draw(t, "scale")
		same, err := eye.NewDirection(d.X*scale, d.Y*scale, d.Z*scale)
		if err != nil || same.AngleDeg(d) > 1e-9 {
			t.Fatal(same, err)
		}
	})
	if hour, deg := eye.MaculaDirection().ClockHour(); !math.IsNaN(hour) || deg != 0 {
		t.Error(hour, deg)
	}
}

// Jonas 2015 (abstracts): the disc lies 4.76 mm nasal and above the fovea;
// worked example 31: the fovea 0.643 mm below and 4.716 mm temporal, 0.002.
func TestDiscDirection(t *testing.T) {
	retina := mustSphere(t, eye.RetinalRadiusMM)
	for side, sign := range map[eye.Laterality]float64{eye.Right: 1, eye.Left: -1} {
		d, err := eye.DiscDirection(side, retina)
		if err != nil {
			t.Fatal(err)
		}
		if got := retina.ArcMM(d.AngleDeg(eye.MaculaDirection())); math.Abs(got-4.76) > 1e-9 {
			t.Errorf("%v: %g mm from the fovea", side, got)
		}
		across := math.Hypot(d.X, d.Y)
		if below := 4.76 * d.Y / across; math.Abs(below-0.643) > 0.002 {
			t.Errorf("%v: fovea %g mm below", side, below)
		}
		if temporal := sign * 4.76 * d.X / across; math.Abs(temporal-4.716) > 0.002 {
			t.Errorf("%v: fovea %g mm temporal", side, temporal)
		}
	}
	if _, err := eye.DiscDirection(eye.SideUnknown, retina); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := eye.DiscDirection(eye.Right, eye.Sphere{}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}

func TestImpossibleDirectionsAreRefused(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), -0.1, 13, 360} {
		if _, err := eye.ClockHourDirection(bad, 90); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("hour %g: %v", bad, err)
		}
	}
	for _, bad := range []float64{math.NaN(), math.Inf(-1), -0.1, 180.1} {
		if _, err := eye.ClockHourDirection(12, bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("angle %g: %v", bad, err)
		}
	}
	for _, bad := range [][3]float64{{}, {math.NaN(), 0, 1}, {math.Inf(1), 0, 0}} {
		if d, err := eye.NewDirection(bad[0], bad[1], bad[2]); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v, %v", bad, d, err)
		}
	}
}

func clock(t interface{ Fatal(...any) }, hour, deg float64) eye.Direction {
	d, err := eye.ClockHourDirection(hour, deg)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
