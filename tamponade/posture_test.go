package tamponade

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
)

// fovea is the macula as a point, without margin, as the worked examples have it.
var fovea = Target{Name: "macula", Direction: eye.MaculaDirection()}

// Worked example 4 of the tamponade reference: at pitch 30, 0, −30° the least
// fill is 15.6, 50.0 and 84.4 % (tolerance 0.1 point); the other rows of its
// section 2 likewise.
func TestMinimumFillWorkedExample4(t *testing.T) {
	for pitch, percent := range map[float64]float64{60: 1.3, 45: 5.8, 30: 15.6, 15: 31.0, 0: 50, -15: 69.0, -30: 84.4, -45: 94.2, -90: 100} {
		got, err := MinimumFill(Position{"", pitch, 0}, fovea)
		if err != nil || math.Abs(100*got-percent) > 0.1 {
			t.Errorf("pitch %g: %.2f %%, want %g, %v", pitch, 100*got, percent, err)
		}
	}
}

// The default margin asks for 55 to 60 % upright, the allowance that the
// reference gives for the room that lens and iris take; a published reviewer
// asked for 65 % on day 4 (Alberti 2016, secondary).
func TestMaculaMargin(t *testing.T) {
	target, err := MaculaTarget(0, eye.Sphere{})
	if err != nil {
		t.Fatal(err)
	}
	upright, err := MinimumFill(Upright, target)
	if err != nil || upright < 0.55 || upright > 0.60 {
		t.Errorf("%.4f, %v", upright, err)
	}
	sphere, err := eye.NewSphere(11)
	if err != nil {
		t.Fatal(err)
	}
	same, err := MaculaTarget(1000, sphere)
	if err != nil || math.Abs(same.MarginDeg-target.MarginDeg) > 0.05 {
		t.Errorf("1 mm in 11 mm: margin %.3f, default %.3f, %v", same.MarginDeg, target.MarginDeg, err)
	}
}

// Up for the positions whose direction is plain (definition of the frame).
func TestUp(t *testing.T) {
	for p, want := range map[Position]eye.Direction{
		Upright: {Y: 1}, Prone: {Z: -1}, Supine: {Z: 1}, LeftSide: {X: -1}, RightSide: {X: 1},
		FaceDown45: {Y: math.Sqrt2 / 2, Z: -math.Sqrt2 / 2},
	} {
		got, err := p.Up()
		if err != nil || got.AngleDeg(want) > 1e-9 {
			t.Errorf("%s: %+v, want %+v, %v", p.Name, got, want, err)
		}
	}
}

// Fully supine never covers the macula, whatever the fill below full; coverage
// never falls as the fill rises, for any position, target and margin; a wider
// margin never helps; hours of support follow.
func TestCoverageProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fill := rapid.Float64Range(0, 0.9999).Draw(t, "fill")
		more := rapid.Float64Range(fill, 1).Draw(t, "more")
		margin := rapid.Float64Range(0, 20).Draw(t, "margin")
		if covered, err := Covers(Supine, Target{"macula", eye.MaculaDirection(), margin}, fill); err != nil || covered {
			t.Fatalf("supine covers the macula at %g, %v", fill, err)
		}
		p := Position{"p", rapid.Float64Range(-90, 90).Draw(t, "pitch"), rapid.Float64Range(-180, 180).Draw(t, "roll")}
		direction, err := eye.ClockHourDirection(rapid.Float64Range(0, 12.9).Draw(t, "hour"), rapid.Float64Range(0, 120).Draw(t, "angle"))
		if err != nil {
			t.Fatal(err)
		}
		target := Target{"t", direction, margin}
		now, err1 := Covers(p, target, fill)
		later, err2 := Covers(p, target, more)
		if err1 != nil || err2 != nil || now && !later {
			t.Fatalf("covered at %g and not at %g: %v %v", fill, more, err1, err2)
		}
		target.MarginDeg += 5
		if wider, err := Covers(p, target, fill); err != nil || wider && !now {
			t.Fatalf("the wider margin is covered and the narrower is not, %v", err)
		}
		diary := Diary{{p, 5}, {Upright, 7}, {Prone, 12}}
		few, err1 := HoursOfSupport(diary, target, fill)
		many, err2 := HoursOfSupport(diary, target, more)
		if err1 != nil || err2 != nil || few > many || few < 0 || many > 24 {
			t.Fatalf("%g hours, with more gas %g", few, many)
		}
		a, err1 := RetinaCovered(p, fill)
		b, err2 := RetinaCovered(p, more)
		if err1 != nil || err2 != nil || a > b+1e-12 || a < 0 || b > 1+1e-12 {
			t.Fatalf("retina covered %g, then %g: %v %v", a, b, err1, err2)
		}
	})
}

// The share of the retina by a second route: points spread evenly over the
// sphere (golden spiral), counted. 20,000 points are right to about a hundredth.
func TestRetinaCoveredAgainstCounting(t *testing.T) {
	const n = 20000
	for _, p := range []Position{Upright, FaceDown45, Prone, LeftSideNosing, Supine} {
		for _, fill := range []float64{0.1, 0.5, 0.8} {
			up, err := p.Up()
			if err != nil {
				t.Fatal(err)
			}
			x, err := eye.HeightOfFill(fill)
			if err != nil {
				t.Fatal(err)
			}
			alpha := math.Acos(1-2*x) * 180 / math.Pi
			retina, covered := 0, 0
			for i := range n {
				z := 1 - 2*(float64(i)+0.5)/n
				r := math.Sqrt(1 - z*z)
				sin, cos := math.Sincos(float64(i) * math.Pi * (3 - math.Sqrt(5)))
				d := eye.Direction{X: r * cos, Y: r * sin, Z: z}
				if d.AngleDeg(eye.MaculaDirection()) > eye.OraFromMaculaDeg {
					continue
				}
				retina++
				if d.AngleDeg(up) <= alpha {
					covered++
				}
			}
			got, err := RetinaCovered(p, fill)
			if want := float64(covered) / float64(retina); err != nil || math.Abs(got-want) > 0.01 {
				t.Errorf("%s at %g: %.4f, counted %.4f, %v", p.Name, fill, got, want, err)
			}
		}
	}
}

// The measured day meets its figures: 18 % beyond 45° face down, a median pitch
// on either side of −6.7° (PMID 24292701, abstract), and 24 hours.
func TestMeasuredDiary(t *testing.T) {
	d := MeasuredDiary()
	if err := d.Check(); err != nil {
		t.Fatal(err)
	}
	total, faceDown, above := 0.0, 0.0, 0.0
	for _, s := range d {
		total += s.Hours
		if s.Position.PitchDeg > 45 {
			faceDown += s.Hours
		}
		if s.Position.PitchDeg > -6.7 {
			above += s.Hours
		}
	}
	if math.Abs(total-24) > 1e-9 || math.Abs(faceDown/24-0.18) > 0.005 || math.Abs(above-12) > 0.05 {
		t.Errorf("%g hours, %g face down, %g above the median", total, faceDown, above)
	}
	for name, d := range map[string]Diary{"face down": FaceDownDiary(), "not supine": NonSupineDiary()} {
		if err := d.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What is told beats what is done as long as the bubble is middle-sized, and
// support falls day by day with the bubble.
func TestSupportHours(t *testing.T) {
	b := aBubble(t, Mixture{AgentSF6, 20})
	target, err := MaculaTarget(400, mustSphereOf(t, b.CavityML.Value))
	if err != nil {
		t.Fatal(err)
	}
	days := []float64{1, 2, 3, 4, 5, 6, 8, 10}
	p, err := Predict(b, Question{Days: days}, 1, 500)
	if err != nil {
		t.Fatal(err)
	}
	support := func(d Diary, fills []estimate.Estimate) []estimate.Estimate {
		hours, err := SupportHours(d, target, fills)
		if err != nil {
			t.Fatal(err)
		}
		return hours
	}
	told, done := support(FaceDownDiary(), p.Fill), support(MeasuredDiary(), p.Fill)
	for i := range days {
		for _, e := range []float64{told[i].Low, told[i].Value, told[i].High, done[i].Value} {
			if e < 0 || e > 24 {
				t.Errorf("day %g: %g hours", days[i], e)
			}
		}
		if i > 0 && (told[i].Value > told[i-1].Value || done[i].Value > done[i-1].Value) {
			t.Errorf("day %g: more support than the day before", days[i])
		}
	}
	if told[3].Value <= done[3].Value {
		t.Errorf("day 4: told %g h, done %g h", told[3].Value, done[3].Value)
	}
	// A visit that finds little gas leaves less support, and no more of it unsure.
	r, err := Refit(b, []Observation{{3, 0.3, 0.04}}, Question{Days: days}, 1, 500)
	if err != nil {
		t.Fatal(err)
	}
	if less := support(FaceDownDiary(), r.Fill); less[3].Value > told[3].Value || less[3].Low < told[3].Low {
		t.Errorf("day 4 after a low reading: %+v, before %+v", less[3], told[3])
	}
	if missing := support(FaceDownDiary(), []estimate.Estimate{estimate.Missing("why")}); missing[0].Known() || missing[0].Basis != "why" {
		t.Errorf("hours of a fill that is missing: %+v", missing)
	}
}

// Hours by the ends of the fill's interval against hours path by path: the order of
// the paths is the same, so that the quantiles are, but for the line between two
// neighbouring paths.
func TestSupportHoursPathByPath(t *testing.T) {
	b := aBubble(t, Mixture{AgentSF6, 20})
	c, err := Sample(b, 1, 2001) // quantiles of 2001 are single paths
	if err != nil {
		t.Fatal(err)
	}
	days := []float64{1, 3, 5, 7}
	p, err := c.Answer(Question{Days: days})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []Diary{FaceDownDiary(), NonSupineDiary(), MeasuredDiary()} {
		hours, err := SupportHours(d, fovea, p.Fill)
		if err != nil {
			t.Fatal(err)
		}
		for k, day := range days {
			column := make([]float64, len(c.tight))
			for i := range column {
				if column[i], err = HoursOfSupport(d, fovea, c.tight[i].fillOn(day, new(fastCourse))); err != nil {
					t.Fatal(err)
				}
			}
			slices.Sort(column)
			if got := hours[k]; got.Low != column[50] || got.Value != column[1000] || got.High != column[1950] {
				t.Errorf("day %g: %g (%g to %g), path by path %g (%g to %g)", day, got.Value, got.Low, got.High, column[1000], column[50], column[1950])
			}
		}
	}
}

func mustSphereOf(t interface{ Fatal(...any) }, volumeML float64) eye.Sphere {
	s, err := eye.SphereOfVolume(volumeML)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A hole and an inferior break conflict (B9 of the problem list): no single
// position covers both at half fill, so they take turns; two places close to
// each other do not.
func TestRota(t *testing.T) {
	sphere := mustSphereOf(t, 5)
	macula, err1 := MaculaTarget(400, sphere)
	inferior, err2 := BreakTarget(6, 18, 1, sphere)
	superior, err3 := BreakTarget(12, 14, 1, sphere)
	if err1 != nil || err2 != nil || err3 != nil {
		t.Fatal(err1, err2, err3)
	}
	headDown := Position{"head hanging", 60, 180}
	rota, err := ProposeRota([]Wanted{{macula, 10}, {inferior, 8}}, append(Positions(), headDown), 0.4)
	if err != nil || len(rota.Blocks) == 0 {
		t.Fatalf("%+v, %v", rota, err)
	}
	given := map[string]float64{}
	for _, b := range rota.Blocks {
		for _, name := range b.Covers {
			given[name] += b.Hours
		}
		if b.Position == Supine {
			t.Error("supine is proposed")
		}
	}
	if len(rota.Short) == 0 && (given["macula"] < 10-1e-9 || given[inferior.Name] < 8-1e-9) {
		t.Errorf("%+v", rota)
	}
	rota, err = ProposeRota([]Wanted{{macula, 10}, {inferior, 20}}, nil, 0.3)
	if err != nil || !rota.Conflict || len(rota.Short) == 0 || !slices.ContainsFunc(rota.Short, func(s string) bool { return strings.Contains(s, "6 o'clock") }) {
		t.Errorf("an inferior break at 30 %% fill: %+v, %v", rota, err)
	}
	rota, err = ProposeRota([]Wanted{{macula, 16}, {superior, 16}}, nil, 0.8)
	if err != nil || rota.Conflict || len(rota.Blocks) != 1 || rota.Blocks[0].Position != Upright || len(rota.Short) != 0 {
		t.Errorf("together: %+v, %v", rota, err)
	}
}

func TestImpossiblePosturesAreRefused(t *testing.T) {
	sphere := mustSphereOf(t, 5)
	for name, err := range map[string]error{
		"pitch":       errorOf(MinimumFill(Position{"x", 120, 0}, fovea)),
		"roll":        errorOf(MinimumFill(Position{"x", 0, 400}, fovea)),
		"not number":  errorOf(MinimumFill(Position{"x", math.NaN(), 0}, fovea)),
		"no place":    errorOf(MinimumFill(Upright, Target{Name: "nowhere"})),
		"margin":      errorOf(MinimumFill(Upright, Target{"m", eye.MaculaDirection(), 100})),
		"fill":        errorOf(Covers(Upright, fovea, 85)),
		"hole":        errorOf(MaculaTarget(-1, sphere)),
		"no sphere":   errorOf(MaculaTarget(400, eye.Sphere{})),
		"break":       errorOf(BreakTarget(6, 99, 1, sphere)),
		"hour":        errorOf(BreakTarget(13, 10, 1, sphere)),
		"radius":      errorOf(BreakTarget(6, 10, -1, sphere)),
		"no cavity":   errorOf(BreakTarget(6, 10, 1, eye.Sphere{})),
		"long day":    errorOf(HoursOfSupport(Diary{{Upright, 20}, {Prone, 20}}, fovea, 0.5)),
		"minus hours": errorOf(HoursOfSupport(Diary{{Upright, -1}}, fovea, 0.5)),
		"fill of day": errorOf(HoursOfSupport(Diary{{Upright, 1}}, fovea, 1.5)),
		"retina":      errorOf(RetinaCovered(Upright, 2)),
		"no targets":  errorOf(ProposeRota(nil, nil, 0.5)),
		"no hours":    errorOf(ProposeRota([]Wanted{{fovea, 0}}, nil, 0.5)),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func errorOf[T any](_ T, err error) error { return err }
