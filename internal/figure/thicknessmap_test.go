package figure

import (
	"math"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/oct/thickness"
)

func TestThicknessMapOfAWholeGrid(t *testing.T) {
	v, s := madeEye(61, 200, 120, 6400)
	v.Laterality = eye.Right
	subject := measured(t, v, s)
	elements := checkSheet(t, ThicknessMap(v, subject.Thickness))
	text := words(elements)
	for _, field := range subject.Thickness.Fields {
		if !strings.Contains(text, field.Name) {
			t.Errorf("field %q is missing", field.Name)
		}
		band, ok := withBand(field.ThicknessUM, 0, "µm")
		if !ok || !strings.Contains(text, band) {
			t.Errorf("%s: %q is not told", field.Name, band)
		}
	}
	if n := len(named(elements, "text", "field")); n < 27 {
		t.Errorf("%d lines in nine fields", n)
	}
	if n := len(named(elements, "path", "level-lines")); n < 8 {
		t.Errorf("%d level lines", n)
	}
	if !strings.Contains(text, "not seen") || !strings.Contains(text, "150 or less") || !strings.Contains(text, "550 or more") {
		t.Error("the colour scale does not tell its ends")
	}
}

// The small real scan shows the inner ring only, hatched where it saw nothing,
// and says what was not measured.
func TestThicknessMapOfASmallScan(t *testing.T) {
	subject := realSubject(t, true, eye.SideUnknown)
	elements := checkSheet(t, ThicknessMap(subject.Volume, subject.Thickness))
	text := words(elements)
	for _, want := range []string{"inner superior", "inner scan left", "not measured", "The outer ring, 3 to 6 mm, lies outside the scan"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, e := range named(elements, "text", "field") {
		if strings.HasPrefix(e.text, "outer") {
			t.Errorf("%q is drawn", e.text)
		}
	}
	if len(runsOf(t, elements, "unseen")) < 50 {
		t.Error("what was not seen is not hatched")
	}
	m := subject.Thickness.Map
	middle := middleOfMap(m, 5)
	if middle.Size != 11 || !same(middle.At(5, 5), m.At(m.Size/2, m.Size/2)) || !same(middle.At(0, 10), m.At(m.Size/2-5, m.Size/2+5)) {
		t.Error("the middle of the map is not its middle")
	}
	checkSheet(t, ThicknessMap(subject.Volume, nil))
	checkSheet(t, ThicknessMap(subject.Volume, &thickness.Thickness{}))
}

func same(a, b float64) bool { return a == b || (math.IsNaN(a) && math.IsNaN(b)) }

// Level lines of a cone are circles: radius by linear interpolation to well
// under a step, closed, and once round. Unknown corners open them.
func TestLevelLinesOfACone(t *testing.T) {
	cone := grid{41, 41, func(column, row int) float64 { return math.Hypot(float64(column)-20, float64(row)-20) }}
	for _, level := range []float64{3.3, 8, 15.7} {
		runs := cone.levelLines(level)
		if len(runs) != 1 || runs[0][0] != runs[0][len(runs[0])-1] {
			t.Fatalf("level %g: %d runs", level, len(runs))
		}
		turn := 0.0
		for i, p := range runs[0] {
			if r := math.Hypot(p.column-20, p.row-20); math.Abs(r-level) > 0.06 {
				t.Errorf("level %g: a point at %g", level, r)
			}
			if i > 0 {
				q := runs[0][i-1]
				turn += math.Remainder(math.Atan2(p.row-20, p.column-20)-math.Atan2(q.row-20, q.column-20), 2*math.Pi)
			}
		}
		if math.Abs(math.Abs(turn)-2*math.Pi) > 1e-9 {
			t.Errorf("level %g goes round by %g", level, turn)
		}
	}
	torn := grid{41, 41, func(column, row int) float64 {
		if column > 20 && row == 20 {
			return math.NaN()
		}
		return cone.value(column, row)
	}}
	if runs := torn.levelLines(8); len(runs) != 1 || runs[0][0] == runs[0][len(runs[0])-1] {
		t.Errorf("a torn line is not open: %d runs", len(runs))
	}
	saddle := grid{2, 2, func(column, row int) float64 { return float64((column + row) % 2) }}
	if runs := saddle.levelLines(0.5); len(runs) != 2 {
		t.Errorf("a saddle has %d lines", len(runs))
	}
}

// The colour scale by a second route: lightness of CIE L* (CIE 15:2004,
// formulas from memory) from the sRGB values rises everywhere and nearly evenly, so
// that grey prints keep the order. Oklab's white must be white.
func TestColourScaleIsEvenInLightness(t *testing.T) {
	if c := fromOklab(1, 0, 0); c.R != 255 || c.G != 255 || c.B != 255 {
		t.Errorf("white is %v", c)
	}
	lightness := func(t float64) float64 {
		c := scaleColour(t)
		linear := func(x uint8) float64 {
			f := float64(x) / 255
			if f <= 0.04045 {
				return f / 12.92
			}
			return math.Pow((f+0.055)/1.055, 2.4)
		}
		y := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
		if y <= 216.0/24389 {
			return y * 24389.0 / 27
		}
		return 116*math.Cbrt(y) - 16
	}
	whole := lightness(1) - lightness(0)
	if whole < 70 {
		t.Errorf("only %g of lightness from end to end", whole)
	}
	for i := range 20 {
		step := lightness(float64(i+1)/20) - lightness(float64(i)/20)
		// An even step is a twentieth; L* and Oklab differ by some tenths of it.
		if step < 0.6*whole/20 || step > 1.4*whole/20 {
			t.Errorf("step %d is %g of lightness, even would be %g", i, step, whole/20)
		}
	}
	if scaleColour(-3) != scaleColour(0) || scaleColour(2) != scaleColour(1) {
		t.Error("beyond its ends the scale goes on")
	}
}
