package colour_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"limitans/colour"
	"limitans/fault"
	"limitans/internal/expect"
)

// rows reads a table of numbers; a cell that is none becomes NaN.
func rows(t *testing.T, name string, least int) [][]float64 {
	t.Helper()
	file := expect.Must[*os.File](t)(os.Open(name))
	defer file.Close()
	cells := expect.Must[[][]string](t)(csv.NewReader(file).ReadAll())
	if len(cells) != least+1 {
		t.Fatalf("%s: %d rows", name, len(cells)-1)
	}
	out := make([][]float64, least)
	for i, row := range cells[1:] {
		for _, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				v = math.NaN()
			}
			out[i] = append(out[i], v)
		}
	}
	return out
}

// Examples 1 and 2, Sharma 2005: 34 pairs to 1e-4, and the same the other way
// round to 1e-9.
func TestExamples1And2CIEDE2000(t *testing.T) {
	for _, r := range rows(t, "testdata/ciede2000.csv", 34) {
		x, y := colour.Lab{L: r[1], A: r[2], B: r[3]}, colour.Lab{L: r[4], A: r[5], B: r[6]}
		got := colour.Difference2000(x, y)
		expect.Near(t, "pair "+strconv.Itoa(int(r[0])), got, r[7], 1e-4)
		expect.Near(t, "swapped pair "+strconv.Itoa(int(r[0])), colour.Difference2000(y, x), got, 1e-9)
	}
}

// Examples 3 to 7, derived: single colours, 1e-3, and the whole table of twelve in
// both pairings to half a unit of its last digit.
func TestExamples3To7Lab(t *testing.T) {
	for _, row := range []struct {
		m       colour.Matrix
		r, g, b uint8
		l, a, c float64
	}{
		{colour.FourDigit(), 255, 0, 0, 53.2329, 80.1053, 67.2228},
		{colour.FourDigit(), 0, 0, 255, 32.3026, 79.1936, -107.8537},
		{colour.FourDigit(), 0, 255, 0, 87.7370, -86.1884, 83.1861},
		{colour.FourDigit(), 10, 10, 10, 2.7417, 0, 0},
		{colour.SevenDigit(), 200, 110, 70, 55.9642, 32.1355, 37.6200},
	} {
		got := expect.Must[colour.Lab](t)(row.m.ToLab(colour.Bytes(row.r, row.g, row.b)))
		expect.Near(t, "L", got.L, row.l, 1e-3)
		expect.Near(t, "a", got.A, row.a, 1e-3)
		expect.Near(t, "b", got.B, row.c, 1e-3)
	}
	for _, r := range rows(t, "testdata/srgb-lab-checks.csv", 12) {
		c := colour.Bytes(uint8(r[0]), uint8(r[1]), uint8(r[2]))
		xyz := expect.Must[colour.XYZ](t)(colour.FourDigit().XYZ(c))
		expect.Near(t, "X", xyz.X, r[3], 6e-7)
		expect.Near(t, "Y", xyz.Y, r[4], 6e-7)
		expect.Near(t, "Z", xyz.Z, r[5], 6e-7)
		four, seven := expect.Must[colour.Lab](t)(colour.FourDigit().ToLab(c)), expect.Must[colour.Lab](t)(colour.SevenDigit().ToLab(c))
		for i, got := range []float64{four.L, four.A, four.B, seven.L, seven.A, seven.B} {
			expect.Near(t, "Lab", got, r[6+i], 6e-5)
		}
	}
}

func pair(t *testing.T, r, g, b uint8) (x, y colour.Lab) {
	t.Helper()
	return expect.Must[colour.Lab](t)(colour.FourDigit().ToLab(colour.Bytes(200, 110, 70))), expect.Must[colour.Lab](t)(colour.FourDigit().ToLab(colour.Bytes(r, g, b)))
}

// Examples 8 and 9, derived; 1e-2.
func TestExamples8And9Differences(t *testing.T) {
	x, y := pair(t, 120, 120, 110)
	expect.Near(t, "76", colour.Difference76(x, y), 47.189, 1e-2)
	expect.Near(t, "ab", colour.DifferenceAB(x, y), 46.831, 1e-2)
	expect.Near(t, "2000", colour.Difference2000(x, y), 25.410, 1e-2)
	x, y = pair(t, 150, 140, 90)
	expect.Near(t, "76", colour.Difference76(x, y), 37.327, 1e-2)
	expect.Near(t, "ab", colour.DifferenceAB(x, y), 37.270, 1e-2)
	expect.Near(t, "2000", colour.Difference2000(x, y), 24.469, 1e-2)
}

// Example 10, derived: white through the four-decimal matrix under the white of
// the other is tinted; under its own it is not. 1e-4.
func TestExample10ForeignWhite(t *testing.T) {
	xyz := expect.Must[colour.XYZ](t)(colour.FourDigit().XYZ(colour.Bytes(255, 255, 255)))
	tinted := expect.Must[colour.Lab](t)(xyz.Lab(colour.SevenDigit().White()))
	expect.Near(t, "a", tinted.A, 0.00526, 1e-4)
	expect.Near(t, "b", tinted.B, -0.01041, 1e-4)
	// The middle row of seven digits sums to 1.0000001, which is 500/3·1e-7 in a*.
	for _, row := range []struct {
		m         colour.Matrix
		tolerance float64
	}{{colour.FourDigit(), 1e-9}, {colour.SevenDigit(), 2e-5}} {
		own := expect.Must[colour.Lab](t)(row.m.ToLab(colour.Bytes(255, 255, 255)))
		expect.Near(t, "a", own.A, 0, row.tolerance)
		expect.Near(t, "b", own.B, 0, row.tolerance)
		expect.Near(t, "L", own.L, 100, row.tolerance)
	}
}

// Examples 11 and 12, formula of the W3C; 1e-3. The last pair differs by 25 in
// CIEDE2000 and hardly in luminance: no measure for a stain.
func TestExamples11And12Contrast(t *testing.T) {
	white := colour.Bytes(255, 255, 255)
	for _, row := range []struct {
		x, y colour.RGB
		want float64
	}{
		{colour.Bytes(0, 0, 0), white, 21},
		{colour.Bytes(255, 0, 0), white, 3.9985},
		{colour.Bytes(0x77, 0x77, 0x77), white, 4.4781},
		{colour.Bytes(0x76, 0x76, 0x76), white, 4.5422},
		{colour.Bytes(200, 110, 70), colour.Bytes(120, 120, 110), 1.2260},
	} {
		expect.Near(t, "contrast", expect.Must[float64](t)(colour.LuminanceContrast(row.x, row.y)), row.want, 1e-3)
		expect.Near(t, "swapped", expect.Must[float64](t)(colour.LuminanceContrast(row.y, row.x)), row.want, 1e-3)
	}
}

// Example 13: Ruifrok's rows, normalised, amounts (1, 0.5, 0.25); 1e-4.
func TestExample13Deconvolution(t *testing.T) {
	s := expect.Must[colour.Stains](t)(colour.NewStains([3][3]float64{{0.65, 0.70, 0.29}, {0.07, 0.99, 0.11}, {0.27, 0.57, 0.78}}))
	density := s.Density([3]float64{1, 0.5, 0.25})
	intensity := [3]float64{}
	for i, want := range []float64{0.75345, 1.33897, 0.53997} {
		expect.Near(t, "density", density[i], want, 1e-4)
		intensity[i] = math.Pow(10, -density[i])
		expect.Near(t, "intensity", intensity[i], []float64{0.17642, 0.04582, 0.28842}[i], 1e-4)
	}
	again := expect.Must[[3]float64](t)(colour.OpticalDensity(colour.RGB{R: intensity[0], G: intensity[1], B: intensity[2]}, colour.RGB{R: 1, G: 1, B: 1}))
	for i, got := range s.Amounts(again) {
		expect.Near(t, "amount", got, []float64{1, 0.5, 0.25}[i], 1e-4)
	}
}

// Differences are distances: zero for the same, symmetric, not negative, and the
// plane's never more than the space's. Amounts and densities are inverse.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) colour.Lab {
			c := colour.RGB{R: rapid.Float64Range(0, 1).Draw(t, name), G: rapid.Float64Range(0, 1).Draw(t, name), B: rapid.Float64Range(0, 1).Draw(t, name)}
			return expect.Must[colour.Lab](t)(colour.SevenDigit().ToLab(c))
		}
		x, y := draw("x"), draw("y")
		d := colour.Difference2000(x, y)
		if !(d >= 0) || math.Abs(d-colour.Difference2000(y, x)) > 1e-9 || colour.Difference2000(x, x) > 1e-6 || colour.DifferenceAB(x, y) > colour.Difference76(x, y)+1e-12 {
			t.Fatalf("%v %v: %g", x, y, d)
		}
		s := expect.Must[colour.Stains](t)(colour.NewStains([3][3]float64{{0.65, 0.70, 0.29}, {0.07, 0.99, 0.11}, {0.27, 0.57, 0.78}}))
		in := [3]float64{rapid.Float64Range(-1, 3).Draw(t, "1"), rapid.Float64Range(-1, 3).Draw(t, "2"), rapid.Float64Range(-1, 3).Draw(t, "3")}
		for i, got := range s.Amounts(s.Density(in)) {
			if math.Abs(got-in[i]) > 1e-9 {
				t.Fatalf("%v became %v", in, got)
			}
		}
	})
}

func TestRefusals(t *testing.T) {
	bad, good := colour.RGB{R: 1.1}, colour.RGB{R: 1, G: 1, B: 1}
	nan := math.NaN()
	code := func(name string, err error, want fault.Code) {
		t.Helper()
		if fault.CodeOf(err) != want {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := bad.Linear()
	code("channel", err, fault.Invalid)
	_, err = colour.FourDigit().ToLab(colour.RGB{R: nan})
	code("NaN", err, fault.Invalid)
	_, err = colour.LuminanceContrast(bad, good)
	code("contrast", err, fault.Invalid)
	_, err = colour.LuminanceContrast(good, bad)
	code("contrast", err, fault.Invalid)
	_, err = colour.XYZ{X: -1}.Lab(colour.FourDigit().White())
	code("tristimulus", err, fault.Invalid)
	_, err = colour.XYZ{}.Lab(colour.XYZ{})
	code("white", err, fault.Invalid)
	_, err = colour.OpticalDensity(bad, good)
	code("density", err, fault.Invalid)
	_, err = colour.OpticalDensity(colour.RGB{}, good)
	code("dark", err, fault.NotMeasurable)
	_, err = colour.NewStains([3][3]float64{{1, 0, 0}, {0, 0, 0}, {0, 0, 1}})
	code("no density", err, fault.Invalid)
	_, err = colour.NewStains([3][3]float64{{1, 0, 0}, {0, nan, 0}, {0, 0, 1}})
	code("NaN stain", err, fault.Invalid)
	_, err = colour.NewStains([3][3]float64{{1, 1, 0}, {2, 2, 0}, {0, 0, 1}})
	code("one colour twice", err, fault.NotMeasurable)
}
