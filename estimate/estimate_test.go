package estimate_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
)

// Z95 against the error function of the standard library: Φ(Z95) = 0.975. The
// density there is 0.0584, so half a unit in the last place of Z95 moves Φ by
// 1.3e-17, below the rounding of erf (1.1e-16).
func TestZ95(t *testing.T) {
	if p := 0.5 * math.Erfc(-estimate.Z95/math.Sqrt2); math.Abs(p-0.975) > 3e-16 {
		t.Errorf("Φ(Z95) = %.17g", p)
	}
	if z := math.Sqrt2 * math.Erfinv(0.95); math.Abs(z-estimate.Z95) > 1e-14 {
		t.Errorf("Φ⁻¹(0.975) = %.17g, Z95 = %.17g", z, estimate.Z95)
	}
}

// An interval of ±Z95 standard deviations covers 95 %: second route by summing
// the normal density with Simpson's rule over 2000 intervals (error below 1e-12).
func TestNormalCovers95Percent(t *testing.T) {
	const mean, sd, n = 381.0, 12.5, 2000
	e := estimate.Normal(mean, sd, "basis")
	h := (e.High - e.Low) / n
	sum := 0.0
	for i := range n + 1 {
		weight := 2.0 + 2.0*float64(i%2)
		if i == 0 || i == n {
			weight = 1
		}
		z := (e.Low + float64(i)*h - mean) / sd
		sum += weight * math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
	}
	if covered := sum * h / 3; math.Abs(covered-0.95) > 1e-11 {
		t.Errorf("the interval covers %.14f", covered)
	}
	if e.Value != mean || e.Basis != "basis" {
		t.Errorf("%+v", e)
	}
}

func TestNormalPositiveEndsAtZero(t *testing.T) {
	e := estimate.NormalPositive(10, 20, "b")
	plain := estimate.Normal(10, 20, "b")
	if e.Low != 0 || e.Value != 10 || e.High != plain.High {
		t.Errorf("%+v, want the plain interval %+v cut at 0", e, plain)
	}
	if e := estimate.NormalPositive(100, 2, "b"); e != estimate.Normal(100, 2, "b") {
		t.Errorf("%+v: changed though it does not reach 0", e)
	}
}

func TestMissing(t *testing.T) {
	e := estimate.Missing("no light")
	if e.Known() || e.Basis != "no light" || !math.IsNaN(e.Value) || !math.IsNaN(e.Low) || !math.IsNaN(e.High) {
		t.Errorf("%+v", e)
	}
	for name, m := range map[string]estimate.Estimate{
		"scaled": e.Scaled(2), "normal": estimate.Normal(math.NaN(), 1, "x"), "positive": estimate.NormalPositive(math.NaN(), 1, "x"),
	} {
		if m.Known() || !math.IsNaN(m.Low) || !math.IsNaN(m.High) {
			t.Errorf("%s: a missing estimate became %+v", name, m)
		}
	}
}

// The JSON keys are read by other programs; missing is null and never 0.
func TestJSONForm(t *testing.T) {
	for _, test := range []struct {
		in   estimate.Estimate
		want string
	}{
		{estimate.Estimate{Value: 1.5, Low: 1, High: 2, Basis: "b"}, `{"value":1.5,"low":1,"high":2,"basis":"b"}`},
		{estimate.Missing("why"), `{"value":null,"low":null,"high":null,"basis":"why"}`},
		{estimate.Estimate{Value: 1, Low: 0, High: math.Inf(1)}, `{"value":1,"low":0,"high":null,"basis":""}`},
	} {
		got, err := json.Marshal(test.in)
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != test.want {
			t.Errorf("%s, want %s", got, test.want)
		}
	}
	for _, bad := range []string{`{"value":"1"}`, `[1,2,3]`, `{"value":1,`, `5`} {
		var e estimate.Estimate
		if err := json.Unmarshal([]byte(bad), &e); err == nil {
			t.Errorf("%s was read as %+v", bad, e)
		}
	}
}

// What is written can be read again, missing and extreme numbers included.
func TestJSONRoundTrip(t *testing.T) {
	same := func(a, b float64) bool { return a == b || (math.IsNaN(a) && math.IsNaN(b)) }
	number := rapid.OneOf(rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64), rapid.Float64Range(0, 2000), rapid.Just(math.NaN()))
	rapid.Check(t, func(t *rapid.T) {
		in := estimate.Estimate{
			Value: number.Draw(t, "value"), Low: number.Draw(t, "low"), High: number.Draw(t, "high"),
			Basis: rapid.String().Draw(t, "basis"),
		}
		data, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var out estimate.Estimate
		if err := json.Unmarshal(data, &out); err != nil {
			t.Fatal(err)
		}
		// Bytes that are no UTF-8 are replaced by encoding/json; rapid draws valid text.
		if !same(in.Value, out.Value) || !same(in.Low, out.Low) || !same(in.High, out.High) || in.Basis != out.Basis {
			t.Fatalf("%+v became %+v through %s", in, out, data)
		}
		if strings.Contains(string(data), "NaN") {
			t.Fatalf("%s is not JSON", data)
		}
	})
}

// Scaling keeps the order low ≤ value ≤ high and the relative width.
func TestScaled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := estimate.Normal(rapid.Float64Range(1, 1500).Draw(t, "value"), rapid.Float64Range(0, 100).Draw(t, "sd"), "b")
		factor := rapid.Float64Range(0.5, 2).Draw(t, "factor")
		s := e.Scaled(factor)
		if s.Value != e.Value*factor || !(s.Low <= s.Value && s.Value <= s.High) || s.Basis != e.Basis {
			t.Fatalf("%+v times %g is %+v", e, factor, s)
		}
		if got, want := (s.High-s.Low)/s.Value, (e.High-e.Low)/e.Value; math.Abs(got-want) > 1e-12*(1+want) {
			t.Fatalf("relative width %g became %g", want, got)
		}
	})
}
