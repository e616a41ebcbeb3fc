package light_test

import (
	"math"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/expect"
	"limitans/light"
)

func TestParseSpectrum(t *testing.T) {
	rows := "420, 0.1\n440, 0.5\n460, 1\n480, 0.6\n500, 0.4\n"
	want := expect.Must[light.Spectrum](t)(light.ParseSpectrum(rows)).Total()
	for name, text := range map[string]string{
		"heading":       "wavelength_nm,power\n" + rows,
		"comments":      "# by the maker\n\n" + rows,
		"mark of order": "\ufeff" + rows,
		"line ends":     strings.ReplaceAll(rows, "\n", "\r\n"),
		"blanks":        strings.ReplaceAll(rows, ",", " "),
		"tabs":          strings.ReplaceAll(rows, ", ", "\t"),
		"decimal comma": strings.ReplaceAll(strings.ReplaceAll(rows, ", ", ";"), ".", ","),
	} {
		s, err := light.ParseSpectrum(text)
		if err != nil || math.Abs(s.Total()-want) > 1e-12 {
			t.Errorf("%s: %g, %v", name, s.Total(), err)
		}
	}
	for name, text := range map[string]string{
		"empty":        "",
		"two headings": "a\nb\n" + rows,
		"words inside": rows + "and so on\n",
		"one column":   "420\n440\n460\n480\n500\n",
		"three":        "420 1 1\n440 1 1\n",
		"falling":      rows + "490, 1\n",
		"gap":          rows + "560, 1\n",
		"hexadecimal":  rows + "0x208, 1\n",
		"infinite":     rows + "520, Inf\n",
		"negative":     rows + "520, -1\n",
		"micrometres":  strings.ReplaceAll(rows, "420", "0.420"),
		"dark":         "420,0\n440,0\n460,0\n480,0\n500,0\n",
		"short":        "420,1\n440,1\n",
	} {
		if _, err := light.ParseSpectrum(text); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := light.ParseSpectrum(strings.Repeat("#", 1<<20+1)); fault.CodeOf(err) != fault.TooLarge {
		t.Error(err)
	}
	nm, power := []float64{420, 440, 460, 480, 500}, []float64{1, 1, 1, 1, 1}
	s := expect.Must[light.Spectrum](t)(light.NewSpectrum(nm, power))
	power[0], nm[0] = 1000, 300
	if s.Total() != 100 {
		t.Error("a caller's change reached the spectrum")
	}
	if err := drop(light.NewSpectrum(nm, power[:3])); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if err := drop(s.LongPass(600)); fault.CodeOf(err) != fault.NotMeasurable {
		t.Error(err)
	}
}

func TestParseSegment(t *testing.T) {
	for text, want := range map[string]light.Segment{
		"60s 10mW 8mm":              {60, 10, 8, 0},
		"4 min, 10 mW, 15 mm":       {240, 10, 15, 0},
		"10 mm 5 mW 120 sec":        {120, 5, 10, 0},
		"60 s; 8,5 mW; 7.5 mm":      {60, 8.5, 7.5, 0},
		"60s 10mW 8mm 475nm":        {60, 10, 8, 475},
		"\t0.5 min  10 mW   8 mm  ": {30, 10, 8, 0},
	} {
		if got, err := light.ParseSegment(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{
		"", "60 10 8", "60s 10mW", "60s 10mW 8", "60s 10mW 8mm 9mm", "60s 1min 10mW 8mm", "60s 10W 8mm", "60s 10MW 8mm", "60s 10mW 8cm",
		"-60s 10mW 8mm", "1e3s 10mW 8mm", "60,5,5s 10mW 8mm", "s 10mW 8mm", "NaNs 10mW 8mm", strings.Repeat("1", 300),
	} {
		if _, err := light.ParseSegment(text); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Whatever is read makes a spectrum that can be weighed; nothing panics.
func FuzzParseSpectrum(f *testing.F) {
	for _, seed := range []string{
		"420, 0.1\n440, 0.5\n460, 1\n480, 0.6\n500, 0.4\n", "nm;W\n400;0,1\n410;0,2\n420;0,3\n430;1\n440;2\n", "380\t1\n", "# x\n\ufeff", "300 1e300\n", "420 NaN",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := light.ParseSpectrum(text)
		if err != nil {
			if c := fault.CodeOf(err); c != fault.Malformed && c != fault.TooLarge {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		a, err := s.Weighted(light.Aphakic, 300, 700)
		if total := s.Total(); err != nil || !(total > 0) || math.IsInf(total, 0) || !(a >= 0 && a <= 6.001*total) {
			t.Fatalf("%q: %g of %g, %v", text, a, total, err)
		}
	})
}

// Whatever is read has numbers; what has not is Invalid; nothing panics.
func FuzzParseSegment(f *testing.F) {
	for _, seed := range []string{"60s 10mW 8mm", "4 min, 10 mW, 15 mm", "8,5mm;10mW;1sec", "60s10mW8mm475nm", "१०s 10mW 8mm", "1..2s", ",s", "9999999999999999999999999999s 1mW 1mm"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		g, err := light.ParseSegment(text)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		for _, v := range []float64{g.Seconds, g.PowerMW, g.DistanceMM, g.FilterNM} {
			if !(v >= 0) || math.IsInf(v, 0) {
				t.Fatalf("%q: %+v", text, g)
			}
		}
	})
}
