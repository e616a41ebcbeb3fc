package eye

import (
	"math"
	"testing"
)

// Worked examples 28 (0.001 mm; formula from memory) and 29 (the published
// inverse, θ = 3.556·r + 0.05993·r² − 0.007358·r³ + 0.0003027·r⁴, from memory,
// comes back within 0.3°): Watson, J Vis 2014;14(7):15.
func TestWideFieldPolynomialWorkedExamples(t *testing.T) {
	for deg, want := range map[float64][2]float64{10: {2.706, 9.93}, 15: {4.069, 15.05}, 30: {8.123, 30.22}, 50: {13.215, 49.71}} {
		r := wideFieldLengthMM(deg)
		if math.Abs(r-want[0]) > 0.001 {
			t.Errorf("%g°: %.4f mm, printed %g", deg, r, want[0])
		}
		back := r * (3.556 + r*(0.05993+r*(-0.007358+r*0.0003027)))
		if math.Abs(back-want[1]) > 0.005 || math.Abs(back-deg) > 0.3 {
			t.Errorf("%g°: published inverse gives %.3f, printed %g", deg, back, want[1])
		}
	}
}
