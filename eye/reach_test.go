package eye_test

import (
	"math"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"

	"pgregory.net/rapid"
)

// A second route to the places: points of the model sphere in three dimensions.
// Entry 4 mm behind the limbus at 12 o'clock, axis along z, front positive.
func TestDistancesAgainstCoordinates(t *testing.T) {
	for _, length := range []float64{19, 22, 24, 26, 30, 34} {
		const depth, radius, behind = 2.64, 5.85, 4.0
		middle := (length*length - depth*depth - radius*radius) / (2 * (length - depth))
		r := length - middle
		if got := math.Hypot(radius, middle-depth); math.Abs(got-r) > 1e-9 {
			t.Fatalf("%g mm: the limbus is not on the sphere", length)
		}
		along := math.Atan2(radius, middle-depth) + behind/r
		point := func(fromPoleDeg, sign float64) [2]float64 {
			a := fromPoleDeg * math.Pi / 180
			return [2]float64{sign * r * math.Sin(a), -r * math.Cos(a)}
		}
		from := [2]float64{r * math.Sin(along), r * math.Cos(along)}
		e := entry(t, length, behind)
		for place, to := range map[eye.Target][2]float64{
			eye.TargetMacula:          point(0, 1),
			eye.TargetArcade:          point(3.25/r*180/math.Pi, -1),
			eye.TargetEquatorOpposite: point(90, -1),
			eye.TargetEquatorSame:     point(90, 1),
			eye.TargetOraOpposite:     point(eye.OraFromMaculaDeg, -1),
			eye.TargetFarthest:        {-from[0], -from[1]},
		} {
			want := math.Hypot(to[0]-from[0], to[1]-from[1])
			got, err := e.DistanceMM(place)
			if err != nil || math.Abs(got.Value-want) > 1e-9 || !(got.Low < got.Value && got.Value < got.High) {
				t.Errorf("%g mm, %s: %+v, want %g, %v", length, place, got, want, err)
			}
		}
		tilt := math.Atan2(from[0], from[1]+r) * 180 / math.Pi
		if math.Abs(e.ShaftTiltDeg-tilt) > 1e-9 {
			t.Errorf("%g mm: tilt %g, want %g", length, e.ShaftTiltDeg, tilt)
		}
	}
	if _, err := entry(t, 24, 4).DistanceMM("lens"); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}

// The reference, section 4 (derived; practice secondary): with 2 mm for hub and
// bend and a free shaft of 28 to 29.5 mm the limit falls at 29 to 31 mm.
func TestReachLimitOfTheReference(t *testing.T) {
	limit := func(shaft float64) float64 {
		low, high := 22.0, 40.0
		for range 60 {
			mid := (low + high) / 2
			if check(t, mid, eye.TargetMacula, exactly(shaft)).SpareMM.Value > 0 {
				low = mid
			} else {
				high = mid
			}
		}
		return low
	}
	// 26.0 mm from the entry is 29.1 mm of eye, 27.5 mm is 30.6.
	if short, long := limit(28), limit(29.5); !(short > 29 && short < long && long < 31) {
		t.Errorf("limits %g and %g mm", short, long)
	}
}

func TestReachVerdicts(t *testing.T) {
	for _, row := range []struct {
		length, shaft float64
		to            eye.Target
		want          eye.ReachVerdict
	}{
		{24, 28.5, eye.TargetMacula, eye.Reaches},
		{30, 28.5, eye.TargetMacula, eye.MayFallShort},
		{34, 28.5, eye.TargetMacula, eye.FallsShort},
		{34, 38, eye.TargetMacula, eye.Reaches},
		{36, 28.5, eye.TargetEquatorSame, eye.Reaches},
	} {
		c := check(t, row.length, row.to, exactly(row.shaft))
		if c.Verdict != row.want || math.Abs(c.NeededMM.Value-c.DistanceMM.Value-2) > 1e-12 || math.Abs(c.SpareMM.Value-(row.shaft-c.NeededMM.Value)) > 1e-12 {
			t.Errorf("%+v: %+v", row, c)
		}
	}
	for _, bad := range []estimate.Estimate{exactly(0), exactly(math.NaN()), exactly(200), {Value: 28, Low: 29, High: 30}} {
		if _, err := entry(t, 24, 4).CheckReach(eye.TargetMacula, bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if _, err := entry(t, 24, 4).CheckReach("lens", exactly(28)); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}

// A longer shaft never reaches worse, no place lies farther than the farthest,
// and what is spared and needed makes the shaft.
func TestReachCheckProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(18, 35).Draw(t, "length")
		e := entry(t, length, rapid.Float64Range(1, 6).Draw(t, "behind"))
		to := rapid.SampledFrom(eye.Targets()).Draw(t, "to")
		shaft := rapid.Float64Range(10, 60).Draw(t, "shaft")
		a, err1 := e.CheckReach(to, exactly(shaft))
		b, err2 := e.CheckReach(to, exactly(shaft+1))
		farthest, err3 := e.DistanceMM(eye.TargetFarthest)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		rank := map[eye.ReachVerdict]int{eye.FallsShort: 0, eye.MayFallShort: 1, eye.Reaches: 2}
		if rank[b.Verdict] < rank[a.Verdict] || a.DistanceMM.Value > farthest.Value+1e-9 || math.Abs(a.SpareMM.Value+a.NeededMM.Value-shaft) > 1e-9 {
			t.Fatalf("%+v, %+v, %+v", a, b, farthest)
		}
	})
}

func exactly(mm float64) estimate.Estimate { return estimate.Estimate{Value: mm, Low: mm, High: mm} }

func check(t *testing.T, length float64, to eye.Target, shaft estimate.Estimate) eye.ReachCheck {
	t.Helper()
	c, err := entry(t, length, 4).CheckReach(to, shaft)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
