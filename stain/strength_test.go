package stain_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/internal/expect"
	"limitans/stain"
)

func TestParseStrength(t *testing.T) {
	for text, want := range map[string]float64{
		"0.25 mg/mL": 0.25, "0.25mg/ml": 0.25, "0.025 %": 0.25, "0.025%": 0.25, "0,025 %": 0.25, ".025%": 0.25, "250 µg/mL": 0.25, "250 μg/ml": 0.25, "250 ug/ml": 0.25,
		"0.25 g/L": 0.25, "25 mg in 5 mL": 5, "25 mg/5 ml": 5, "0.25 mg/mL (0.025 %)": 0.25, "0.025 % = 0.25 mg/mL": 0.25, "0.15 % w/v": 1.5, "0.25 mg per mL": 0.25,
		"०.०२५ %": 0.25, "٠٫٠٢٥٪": 0.25, "0.05％": 0.5, "\u00a01\u00a0%": 10, "MG": math.NaN(),
	} {
		r, err := stain.ParseStrength(text)
		if math.IsNaN(want) {
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%q: %v", text, err)
			}
			continue
		}
		if err != nil || math.Abs(r.Strength.MGPerML()-want) > 1e-12 || r.Raw != text || r.How == "" {
			t.Errorf("%q: %v, %v", text, r, err)
		}
	}
	for _, text := range []string{"0.25", "0,25", "5", "150", "1.2 mg/mL (0.15 %)", "1,250 µg/mL", "0.25 mg/mL 0.25 %"} {
		if _, err := stain.ParseStrength(text); fault.CodeOf(err) != fault.Conflict {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, text := range []string{
		"", " ", "strong", "0 %", "-0.25 %", "0.25 mg", "0.25 mg%", "1:1000", "25 %", "1e-2 %", "0.25 mg/mLx", "0.25 mg in", "0.25 mg/0 ml", "0.25 mg/mL and", "NaN %",
		"0x1 %", "1.2.3 %", "300", strings.Repeat("9", 400),
	} {
		if _, err := stain.ParseStrength(text); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Per cent and mg/mL are inverse, and what is written is read again.
func TestConversionsAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		percent := float64(rapid.IntRange(1, 20000).Draw(t, "thousandths")) / 1000
		s := expect.Must[stain.Strength](t)(stain.Percent(percent))
		back := expect.Must[stain.Strength](t)(stain.MGPerML(s.MGPerML()))
		if s.Percent() != percent || back != s || math.Abs(s.MGPerML()-10*percent) > 1e-9 {
			t.Fatalf("%g %% became %v and %g %%", percent, s, s.Percent())
		}
		for _, text := range []string{strconv.FormatFloat(percent, 'f', -1, 64) + " %", strconv.FormatFloat(s.MGPerML(), 'f', -1, 64) + " mg/mL"} {
			r := expect.Must[stain.StrengthReading](t)(stain.ParseStrength(text))
			if math.Abs(r.Strength.MGPerML()-s.MGPerML()) > 1e-9 {
				t.Fatalf("%q became %v", text, r.Strength)
			}
		}
	})
}

// Diluting and mixing are inverse; amounts are kept; a mixture lies between its
// parts; order does not matter; the interval holds the value.
func TestMixingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		keys := []string{"bss", "saline", "glucose5", "glucose10", "water"}
		draw := func(name string) stain.Solution {
			return expect.Must[stain.Solution](t)(stain.SolutionOf(rapid.SampledFrom(keys).Draw(t, name)))
		}
		stock := expect.Must[stain.Strength](t)(stain.MGPerML(rapid.Float64Range(0.5, 20).Draw(t, "stock")))
		target := expect.Must[stain.Strength](t)(stain.MGPerML(stock.MGPerML() * rapid.Float64Range(0.1, 0.9).Draw(t, "share")))
		total := rapid.Float64Range(1, 50).Draw(t, "total")
		a, b, err := stain.Dilute(stock, target, total)
		if err != nil || math.Abs(a+b-total) > 1e-9 {
			t.Fatal(a, b, err)
		}
		vehicle, diluent := draw("vehicle"), draw("diluent")
		m := expect.Must[stain.Mixture](t)(stain.Mix(stain.Part{Solution: vehicle, ML: a}, 5, []stain.Part{{Solution: diluent, ML: b}}))
		if got := m.DyeShare.Value * stock.MGPerML(); math.Abs(got-target.MGPerML()) > 1e-9 {
			t.Fatalf("%g mg/mL, wanted %g", got, target.MGPerML())
		}
		low, high := math.Min(vehicle.MOsmPerL.Value+5, diluent.MOsmPerL.Value), math.Max(vehicle.MOsmPerL.Value+5, diluent.MOsmPerL.Value)
		if o := m.MOsmPerL; !(o.Value >= low-1e-9 && o.Value <= high+1e-9 && o.Low <= o.Value && o.Value <= o.High && o.Basis != "") {
			t.Fatalf("%+v outside %g to %g", o, low, high)
		}
		third := stain.Part{Solution: draw("third"), ML: 2}
		x := expect.Must[stain.Mixture](t)(stain.Mix(stain.Part{Solution: vehicle, ML: a}, 5, []stain.Part{{Solution: diluent, ML: b}, third}))
		y := expect.Must[stain.Mixture](t)(stain.Mix(stain.Part{Solution: vehicle, ML: a}, 5, []stain.Part{third, {Solution: diluent, ML: b}}))
		if math.Abs(x.MOsmPerL.Value-y.MOsmPerL.Value) > 1e-9 || math.Abs(x.GlucosePercent.Value-y.GlucosePercent.Value) > 1e-9 {
			t.Fatal("the order matters")
		}
	})
}

// More glucose is never milder; more contact is never milder.
func TestVerdictsAreMonotone(t *testing.T) {
	rank := map[stain.Verdict]int{stain.Good: 0, stain.Unknown: 1, stain.Caution: 1, stain.Halt: 2}
	dyes := expect.Must[[]stain.Dye](t)(stain.Dyes())
	rapid.Check(t, func(t *rapid.T) {
		sensitiser := rapid.Bool().Draw(t, "sensitiser")
		less := rapid.Float64Range(0, 20).Draw(t, "less")
		more := less + rapid.Float64Range(0, 20).Draw(t, "more")
		a, b := expect.Must[stain.Verdict](t)(stain.GlucoseVerdict(less, sensitiser)), expect.Must[stain.Verdict](t)(stain.GlucoseVerdict(more, sensitiser))
		if rank[a] > rank[b] {
			t.Fatalf("%g %%: %s, %g %%: %s", less, a, more, b)
		}
		dye := rapid.SampledFrom(dyes).Draw(t, "dye")
		seconds := rapid.SliceOfN(rapid.Float64Range(1, 100), 1, 5).Draw(t, "seconds")
		c := expect.Must[stain.Contact](t)(stain.AddUp(seconds, dye))
		d := expect.Must[stain.Contact](t)(stain.AddUp(append(seconds, 10), dye))
		if rank[c.Verdict] > rank[d.Verdict] || d.TotalS <= c.TotalS {
			t.Fatalf("%+v and %+v", c, d)
		}
	})
}

// Whatever is read is a strength that can be; nothing panics.
func FuzzParseStrength(f *testing.F) {
	for _, seed := range []string{"0.25 mg/mL", "0,025 %", "250 µg/mL", "25 mg in 5 mL", "1.2 mg/mL (0.15 %)", "BBG 0.25", "०.०२५ %", "1,250 µg/mL", "(((", "9 mg/9", "mg/ml"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := stain.ParseStrength(text)
		if err != nil {
			if c := fault.CodeOf(err); c != fault.Invalid && c != fault.Conflict {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		if v := r.Strength.MGPerML(); !(v > 0 && v <= 200) {
			t.Fatalf("%q is %g mg/mL", text, v)
		}
		if !strings.ContainsAny(strings.ToLower(text), "%٪％﹪ml") {
			t.Fatalf("%q has no unit and was read", text)
		}
	})
}

// A name gives one dye, one denial or a reason; nothing panics; the two parts of a
// text make up all of it.
func FuzzIdentify(f *testing.F) {
	for _, seed := range []string{"BBG", "brilliant blue", "methylene blue 1 %", "icg/bbg", "", "МВ", "blue", "\xff", "acid violet 17"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, denied, err := stain.Identify(text)
		count := 0
		for _, is := range []bool{d.Key != "", denied != nil, err != nil} {
			if is {
				count++
			}
		}
		if count != 1 {
			t.Fatalf("%q: %+v, %v, %v", text, d, denied, err)
		}
		stain.SplitNameAndStrength(text)
	})
}
