package acuity

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

// logMARRange draws what a letter chart can hold.
func logMARRange(low, high float64) *rapid.Generator[float64] { return rapid.Float64Range(low, high) }

// TestRoundTrips: each conversion and its inverse agree to rounding of float64
// (a few units in the last place of values up to 100).
func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := logMARRange(-0.3, 1.7).Draw(t, "logMAR")
		if back, err := LogMARFromDecimal(DecimalFromLogMAR(x)); err != nil || math.Abs(back-x) > 1e-12 {
			t.Fatalf("decimal: %g to %g (%v)", x, back, err)
		}
		for _, numerator := range []float64{1, 4, 6, 20} {
			if back, err := LogMARFromSnellen(numerator, SnellenDenominator(x, numerator)); err != nil || math.Abs(back-x) > 1e-12 {
				t.Fatalf("Snellen %g: %g to %g (%v)", numerator, x, back, err)
			}
		}
		letters, err := LettersFromLogMAR(x)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := LogMARFromLetters(letters); err != nil || math.Abs(back-x) > 1e-12 {
			t.Fatalf("letters: %g to %g (%v)", x, back, err)
		}
	})
}

// TestWrittenAndRead: a value written in each notation is read back within the
// rounding of the writing.
func TestWrittenAndRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := logMARRange(-0.28, 1.65).Draw(t, "logMAR")
		denominator := SnellenDenominator(x, 6)
		// half a unit of the second decimal of the denominator, as logMAR
		snellenRounding := math.Log10(1 + 0.005/denominator)
		decimal := DecimalFromLogMAR(x)
		decimalRounding := -math.Log10(1 - 0.00005/decimal)
		for _, c := range []struct {
			text      string
			tolerance float64
		}{
			{fmt.Sprintf("6/%.2f", denominator), snellenRounding},
			{fmt.Sprintf("sc 20/%.2f", SnellenDenominator(x, 20)), snellenRounding},
			{strings.Replace(fmt.Sprintf("6/%.2f cc", denominator), ".", ",", 1), snellenRounding},
			{fmt.Sprintf("%.4f decimal", decimal), decimalRounding},
			{fmt.Sprintf("logMAR %.3f", x), 0.0005},
			{fmt.Sprintf("%.3f logMAR", x), 0.0005},
			{fmt.Sprintf("%.0f letters", 85-50*x), 0.01},
		} {
			got := Parse(c.text, Options{})
			if len(got) != 1 || got[0].Kind != Measured || math.Abs(*got[0].LogMAR-x) > c.tolerance+1e-9 {
				t.Fatalf("%q: want %.5f within %.5f, got%s", c.text, x, c.tolerance, show(got))
			}
		}
	})
}

// TestScripts: a text in the digits of any script means what it means in ASCII.
func TestScripts(t *testing.T) {
	var zeros []rune
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if unicode.Is(unicode.Nd, r) && digitValue(r) == 0 {
			zeros = append(zeros, r)
		}
	}
	if len(zeros) < 50 {
		t.Fatalf("%d scripts found", len(zeros))
	}
	for _, zero := range zeros {
		for d := rune(0); d < 10; d++ {
			if !unicode.Is(unicode.Nd, zero+d) || digitValue(zero+d) != d {
				t.Fatalf("U+%04X is not digit %d", zero+d, d)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		zero := rapid.SampledFrom(zeros).Draw(t, "zero")
		text := rapid.SampledFrom([]string{"6/9", "20/40+1", "logMAR 0.3", "85 letters", "CF 1m", "0,3", "-0.10", "6/7.5"}).Draw(t, "text")
		foreign := strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' {
				return zero + r - '0'
			}
			return r
		}, text)
		a, b := Parse(text, Options{}), Parse(foreign, Options{})
		if show(a) != show(b) {
			t.Fatalf("%q reads%s\n%q reads%s", text, show(a), foreign, show(b))
		}
		if b[0].Raw != foreign {
			t.Fatal("raw text changed")
		}
	})
}

// TestDashes: every dash glyph reads alike.
func TestDashes(t *testing.T) {
	for _, dash := range "-‐‑‒–—―−﹣－⁃" {
		for _, c := range []string{"6/9%c2", "%c0.1", "20/50%c2+3", "LP%c"} {
			want, got := Parse(fmt.Sprintf(c, '-'), Options{}), Parse(fmt.Sprintf(c, dash), Options{})
			if show(want) != show(got) {
				t.Errorf("U+%04X in %q:%s", dash, c, show(got))
			}
		}
	}
}

// check holds what is true of every entry, whatever the text.
func check(text string, opt Options) error {
	entries := Parse(text, opt)
	if len(entries) == 0 {
		return fmt.Errorf("no entry")
	}
	for _, e := range entries {
		if e.Raw != text {
			return fmt.Errorf("raw %q", e.Raw)
		}
		has := e.LogMAR != nil
		switch {
		case e.Kind == Measured && (!has || e.Missing || e.Scheme == ""):
			return fmt.Errorf("measured without number or scheme, or missing")
		case (e.Kind == Unusable || e.Kind == Ask || e.Kind == LightPerception || e.Kind == NoLightPerception) && (has || e.Letters != nil):
			return fmt.Errorf("%s with a number", e.Kind)
		case (e.Kind == Ask) != (len(e.Readings) > 0):
			return fmt.Errorf("%s with %d readings", e.Kind, len(e.Readings))
		case (e.Kind == Unusable || e.Kind == Ask) && e.Note == "":
			return fmt.Errorf("%s without a reason", e.Kind)
		case has && (!finite(*e.LogMAR) || !inRange(*e.LogMAR) && e.Kind == Measured || *e.LogMAR > 3):
			return fmt.Errorf("logMAR %g", *e.LogMAR)
		case e.Letters != nil && (*e.Letters < 0 || *e.Letters >= 100.5):
			return fmt.Errorf("letters %g", *e.Letters)
		case !slices.Contains([]Role{Corrected, Uncorrected, Pinhole, RoleUnknown}, e.Role):
			return fmt.Errorf("role %q", e.Role)
		case e.DistanceM != nil && !(*e.DistanceM > 0):
			return fmt.Errorf("distance %g", *e.DistanceM)
		}
		for _, r := range e.Readings {
			if r.LogMAR != nil && (!finite(*r.LogMAR) || *r.LogMAR < MinLogMAR-1e-9 || *r.LogMAR > 3) {
				return fmt.Errorf("reading %g", *r.LogMAR)
			}
		}
		if _, err := json.Marshal(e); err != nil {
			return err
		}
	}
	return nil
}

// TestAnyMixture strings the pieces people use together at random.
func TestAnyMixture(t *testing.T) {
	pieces := strings.Fields("6/9 20/40 0.3 0,3 - + / -2 +1 PH cc sc → , ; CF HM LP NLP 1m 3 ft @ at letters logMAR N8 J1 M0.5 ( ) ? < or 06 020 999 Jun OD OS p no w/ 5/10 20/2000 2.3 ½ ² ′ ETDRS to near NI")
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 8).Draw(t, "parts")
		text := strings.Join(parts, rapid.SampledFrom([]string{"", " "}).Draw(t, "glue"))
		opt := Options{
			Plain: rapid.SampledFrom([]PlainNumbers{PlainUndecided, PlainDecimal, PlainLogMAR, PlainLetters}).Draw(t, "plain"),
			Codes: rapid.SampledFrom([]Codes{CodesUndecided, CodesMeasured, CodesCategories}).Draw(t, "codes"),
		}
		if err := check(text, opt); err != nil {
			t.Fatalf("%q: %v", text, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, line := range caseLines(f) {
		text, _, _ := strings.Cut(line, " | ")
		f.Add(text, uint8(0))
	}
	f.Fuzz(func(t *testing.T, text string, o uint8) {
		opt := Options{
			Plain: PlainNumbers(o & 3), OverTen: OverTen(o >> 2 & 1), Codes: Codes(o >> 3 & 1),
			IgnoreLetters: o>>4&1 == 1, LowVision: LowVisionScheme(o >> 5),
		}
		if err := check(text, opt); err != nil {
			t.Fatalf("%q %+v: %v", text, opt, err)
		}
	})
}
