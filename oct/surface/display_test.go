package surface_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/oct/surface"
)

// step20dB is the signal of tissue over that of vitreous that the share is
// worked out for: 20 dB, a factor of 100.
const step20dB = 100.0

// Closed values of the formula, for a step Δ = ln 100:
// logarithm 1 − ln 2/ln 100 = 0.84949; fourth root (2^−¼ − 100^−¼)/(1 − 100^−¼);
// linear (½ − 1/100)/(1 − 1/100) = 0.49495. Derived here.
func TestHalfSignalShareClosedValues(t *testing.T) {
	for _, test := range []struct {
		name        string
		ratio, want float64
		tolerance   float64
	}{
		{"logarithm", 1, 1 - math.Ln2/math.Log(100), 1e-12},
		{"logarithm, printed", 1, 0.8495, 0.5e-4},
		{"fourth root", math.Sqrt(math.Sqrt(100)), (math.Pow(2, -0.25) - math.Pow(100, -0.25)) / (1 - math.Pow(100, -0.25)), 1e-12},
		{"fourth root, as documented", math.Sqrt(math.Sqrt(100)), 0.77, 0.5e-2},
		{"square root", 10, (math.Sqrt(0.5) - 0.1) / 0.9, 1e-12},
		{"linear", 100, 0.49 / 0.99, 1e-12},
		{"linear, as documented", 100, 0.5, 1e-2},
		{"below the family", 0.3, 1 - math.Ln2/math.Log(100), 1e-12},
		{"zero", 0, 1 - math.Ln2/math.Log(100), 1e-12},
		{"above the family", 1e4, 0.49 / 0.99, 1e-12},
		{"infinite", math.Inf(1), 0.49 / 0.99, 1e-12},
	} {
		if got := surface.HalfSignalShare(test.ratio); math.Abs(got-test.want) > test.tolerance {
			t.Errorf("%s: %.6f, want %.6f", test.name, got, test.want)
		}
	}
}

// Second route: speckled intensities are put through the display itself. Speckle
// is I·E with E exponential (Goodman 2007, from memory), here its 4000
// quantiles; its standard deviation is read from the displayed greys of vitreous
// and tissue, and the share from where the display shows half of the tissue's
// signal. Displays: I^γ, and for γ = 0 its limit, the logarithm.
func TestHalfSignalShareByDisplay(t *testing.T) {
	for _, gamma := range []float64{0, 0.02, 0.1, 0.25, 0.4, 0.5, 0.75, 1} {
		display := func(i float64) float64 { return math.Pow(i, gamma) }
		if gamma == 0 {
			display = math.Log
		}
		spread := func(signal float64) float64 {
			const n = 4000
			sum, squares := 0.0, 0.0
			for i := range n {
				g := display(-signal * math.Log((float64(i)+0.5)/n))
				sum, squares = sum+g, squares+g*g
			}
			return math.Sqrt(squares/n - sum/n*sum/n)
		}
		ratio := spread(step20dB) / spread(1)
		want := (display(step20dB/2) - display(1)) / (display(step20dB) - display(1))
		// The quantiles of both are the same ones, so only rounding differs.
		if got := surface.HalfSignalShare(ratio); math.Abs(got-want) > 1e-6 {
			t.Errorf("γ = %g: noise ratio %.4f gives %.6f, the display shows %.6f", gamma, ratio, got, want)
		}
	}
}

// More noise in tissue means a more linear display and a lower share; the share
// never leaves the two ends of the family, and joins them without a jump.
func TestHalfSignalShareIsMonotone(t *testing.T) {
	low, high := 0.49/0.99, 1-math.Ln2/math.Log(100)
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 150).Draw(t, "a")
		b := rapid.Float64Range(a, 150).Draw(t, "b")
		qa, qb := surface.HalfSignalShare(a), surface.HalfSignalShare(b)
		if qb > qa+1e-9 || qa > high+1e-9 || qb < low-1e-9 {
			t.Fatalf("share %g at %g and %g at %g", qa, a, qb, b)
		}
	})
	for _, ratio := range []float64{1 + 1e-9, 1 + 4e-6, 1 + 6e-6, 1 + 1e-4} {
		if d := high - surface.HalfSignalShare(ratio); d < -1e-9 || d > 1e-4 {
			t.Errorf("the share jumps by %g at a ratio of %g", d, ratio)
		}
	}
}
