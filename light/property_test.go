package light_test

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/expect"
	"limitans/light"
)

type icnirp = light.ICNIRP2013

// A dose of one basis is neither a dose of the other nor can be converted to one:
// the compiler refuses whatever reflection says is not assignable and not
// convertible. Limits differ, and so do the wavelengths that count.
func TestBasesDoNotMix(t *testing.T) {
	for _, pair := range [][2]any{{light.Dose[icnirp]{}, light.Dose[light.ISO15004]{}}, {light.Budget[icnirp]{}, light.Budget[light.ISO15004]{}}} {
		a, b := reflect.TypeOf(pair[0]), reflect.TypeOf(pair[1])
		if a.AssignableTo(b) || b.AssignableTo(a) || a.ConvertibleTo(b) || b.ConvertibleTo(a) {
			t.Errorf("%v mixes with %v", a, b)
		}
	}
	plus, _ := reflect.TypeOf(light.Dose[icnirp]{}).MethodByName("Plus")
	if plus.Type.In(1) != reflect.TypeOf(light.Dose[icnirp]{}) {
		t.Errorf("adds %v", plus.Type.In(1))
	}
	var a light.Budget[icnirp]
	var b light.Budget[light.ISO15004]
	if a.JPerCM2() != 2.2 || b.JPerCM2() != 10 || a.Key() == b.Key() || a.String() == b.String() || a.Source() == b.Source() || a.HowKnown() == b.HowKnown() {
		t.Errorf("%v %v", a, b)
	}
	// 302 nm counts on one basis and not on the other.
	nm, power := []float64{}, []float64{}
	for w := 300.0; w <= 500; w += 2 {
		nm, power = append(nm, w), append(power, 1)
	}
	s := setting(t, 10, 10, 0.05)
	s.Source = expect.Must[light.Source](t)(light.Measured(expect.Must[light.Spectrum](t)(light.NewSpectrum(nm, power))))
	if x, y := expect.Must[estimate.Estimate](t)(light.Rate[icnirp](s)).Value, expect.Must[estimate.Estimate](t)(light.Rate[light.ISO15004](s)).Value; !(x > y*1.01) {
		t.Errorf("%g and %g", x, y)
	}
}

func drawSetting(t *rapid.T) light.Setting {
	p, err := light.Fibre(rapid.Float64Range(0.05, 1.5).Draw(t, "fibre"), rapid.Float64Range(2, 60).Draw(t, "angle"))
	if err != nil {
		t.Fatal(err)
	}
	source, err := light.MeanAphakicWeight(exact(rapid.Float64Range(0.001, 1).Draw(t, "mean")))
	if err != nil {
		t.Fatal(err)
	}
	e := light.CommonErrors()
	s, err := light.NewSetting(e.Power(rapid.Float64Range(0.1, 200).Draw(t, "power")), e.Distance(rapid.Float64Range(1, 25).Draw(t, "distance")), p, source)
	if err != nil {
		t.Fatal(err)
	}
	s.IncidenceDegrees = rapid.Float64Range(0, 80).Draw(t, "incidence")
	return s
}

// Dose rises with time and power and falls with distance, cone, fibre and
// incidence; it is linear in time and power; the interval holds the value.
func TestDoseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetting(t)
		seconds := rapid.Float64Range(0.5, 3000).Draw(t, "seconds")
		dose := func(s light.Setting, seconds float64) float64 {
			d := expect.Must[light.Dose[icnirp]](t)(light.Exposure[icnirp](s, seconds)).JPerCM2()
			if !(d.Low > 0 && d.Low <= d.Value && d.Value <= d.High && !math.IsInf(d.High, 0) && d.Basis != "") {
				t.Fatalf("%+v", d)
			}
			return d.Value
		}
		d := dose(s, seconds)
		if more := dose(s, seconds*1.5); math.Abs(more/d-1.5) > 1e-9 {
			t.Fatalf("one and a half times as long: %g times", more/d)
		}
		e := light.CommonErrors()
		stronger, farther, wider, slanted := s, s, s, s
		stronger.PowerMW = e.Power(s.PowerMW.Value * 2)
		if more := dose(stronger, seconds); math.Abs(more/d-2) > 1e-9 {
			t.Fatalf("twice as strong: %g times", more/d)
		}
		farther.DistanceMM = e.Distance(s.DistanceMM.Value * 1.1)
		wider.Probe = expect.Must[light.Probe](t)(s.Probe.WithHalfAngle(s.Probe.HalfAngleDegrees.Value * 1.1))
		slanted.IncidenceDegrees = math.Max(0, s.IncidenceDegrees-5)
		for what, less := range map[string]light.Setting{"farther": farther, "wider": wider} {
			if !(dose(less, seconds) < d) {
				t.Fatalf("%s is not milder", what)
			}
		}
		if dose(slanted, seconds) < d {
			t.Fatal("straighter is milder")
		}
	})
}

// Adding segments is the same as adding their doses; two halves are the whole;
// what is left and what is used make up the budget.
func TestBudgetProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSetting(t)
		seconds := rapid.Float64Range(1, 2000).Draw(t, "seconds")
		half := expect.Must[light.Dose[icnirp]](t)(light.Exposure[icnirp](s, seconds/2))
		whole := expect.Must[light.Dose[icnirp]](t)(light.Exposure[icnirp](s, seconds))
		if two := half.Plus(half); math.Abs(two.JPerCM2().Value/whole.JPerCM2().Value-1) > 1e-12 || two.Seconds() != whole.Seconds() {
			t.Fatalf("%+v and %+v", two, whole)
		}
		if none := (light.Dose[icnirp]{}).Plus(whole); none != whole || whole.Plus(light.Dose[icnirp]{}) != whole {
			t.Fatal("no light adds something")
		}
		var b light.Budget[icnirp]
		left := expect.Must[estimate.Estimate](t)(b.MinutesLeft(whole, s))
		if !(left.Low <= left.Value && left.Value <= left.High && left.Low >= 0) {
			t.Fatalf("%+v", left)
		}
		share := b.Share(whole)
		switch state := b.State(whole); {
		case share.Value >= 1:
			if left.Value != 0 || !strings.Contains(left.Basis, "used up") || (state != light.Over && state != light.ProbablyOver) {
				t.Fatalf("%s, %+v", state, left)
			}
		case state != light.Within && state != light.MayBeOver:
			t.Fatalf("%s at %g", state, share.Value)
		case left.Value*60 < 9000:
			more := expect.Must[light.Dose[icnirp]](t)(light.Exposure[icnirp](s, left.Value*60))
			if sum := whole.Plus(more).JPerCM2().Value; math.Abs(sum-b.JPerCM2()) > 1e-9*b.JPerCM2() {
				t.Fatalf("used and left are %g", sum)
			}
		}
		for _, w := range expect.Must[[]light.WhatIf](t)(light.WhatIfs[icnirp](whole, s, light.CommonErrors())) {
			if w.MinutesLeft.Value < left.Value {
				t.Fatalf("%s leaves %g min instead of %g", w.What, w.MinutesLeft.Value, left.Value)
			}
		}
	})
}

// Splitting a spectrum's bands leaves totals; scaling it leaves the mean weight;
// a higher edge never leaves more of the hazard.
func TestSpectrumProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 60).Draw(t, "n")
		nm, power, twice := make([]float64, n), make([]float64, n), make([]float64, n)
		at := rapid.Float64Range(300, 420).Draw(t, "first")
		for i := range n {
			nm[i], power[i] = at, rapid.Float64Range(0.01, 10).Draw(t, "power")
			twice[i] = 2 * power[i]
			at += rapid.Float64Range(1, 15).Draw(t, "gap")
		}
		s := expect.Must[light.Spectrum](t)(light.NewSpectrum(nm, power))
		double := expect.Must[light.Spectrum](t)(light.NewSpectrum(nm, twice))
		a, b := expect.Must[float64](t)(s.Weighted(light.Aphakic, 300, 700)), expect.Must[float64](t)(double.Weighted(light.Aphakic, 300, 700))
		if math.Abs(b-2*a) > 1e-9*a || math.Abs(double.Total()-2*s.Total()) > 1e-9*s.Total() {
			t.Fatalf("%g and %g", a, b)
		}
		if one := expect.Must[float64](t)(s.Weighted(light.Aphakic, 300, 500)); one > a {
			t.Fatal("a part is more than the whole")
		}
		left := s.Total()
		for _, edge := range []float64{400, 420, 440} {
			f, err := s.LongPass(edge)
			if fault.CodeOf(err) == fault.NotMeasurable {
				return
			}
			if err != nil || f.Total() > left {
				t.Fatal(f.Total(), left, err)
			}
			left = f.Total()
		}
	})
}

// A segment's text can be read again in any order.
func TestSegmentRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seconds, power, mm := rapid.IntRange(1, 3600).Draw(t, "s"), rapid.IntRange(1, 100).Draw(t, "mW"), rapid.IntRange(1, 25).Draw(t, "mm")
		parts := rapid.Permutation([]string{itoa(seconds) + "s", itoa(power) + " mW", itoa(mm) + ",5mm"}).Draw(t, "order")
		g := expect.Must[light.Segment](t)(light.ParseSegment(strings.Join(parts, rapid.SampledFrom([]string{" ", ", ", ";"}).Draw(t, "between"))))
		if g.Seconds != float64(seconds) || g.PowerMW != float64(power) || g.DistanceMM != float64(mm)+0.5 {
			t.Fatalf("%q became %+v", parts, g)
		}
	})
}
