package integrate

import (
	"math"
	"testing"
)

// The seventeen order conditions up to order 5 (Butcher; Hairer, Nørsett and
// Wanner, section II.2) on the coefficients, and the eight up to order 4 on the
// embedded weights: a slip in any coefficient breaks at least one.
func TestOrderConditions(t *testing.T) {
	b := [stages]float64{}
	copy(b[:], matrix[stages-1][:])
	var lower [stages]float64
	for i := range b {
		lower[i] = b[i] - errorWeights[i]
	}
	a := func(v [stages]float64) (out [stages]float64) {
		for i := range out {
			for j := range stages - 1 {
				out[i] += matrix[i][j] * v[j]
			}
		}
		return out
	}
	times := func(v, w [stages]float64) (out [stages]float64) {
		for i := range out {
			out[i] = v[i] * w[i]
		}
		return out
	}
	one := [stages]float64{1, 1, 1, 1, 1, 1, 1}
	c := nodes
	for i, sum := range a(one) {
		if math.Abs(sum-c[i]) > 1e-14 {
			t.Errorf("row %d sums to %g, node %g", i, sum, c[i])
		}
	}
	c2 := times(c, c)
	c3 := times(c2, c)
	conditions := []struct {
		tree  [stages]float64
		order int
		gamma float64
	}{
		{one, 1, 1},
		{c, 2, 2},
		{c2, 3, 3},
		{a(c), 3, 6},
		{c3, 4, 4},
		{times(c, a(c)), 4, 8},
		{a(c2), 4, 12},
		{a(a(c)), 4, 24},
		{times(c3, c), 5, 5},
		{times(c2, a(c)), 5, 10},
		{times(a(c), a(c)), 5, 20},
		{times(c, a(c2)), 5, 15},
		{times(c, a(a(c))), 5, 30},
		{a(c3), 5, 20},
		{a(times(c, a(c))), 5, 40},
		{a(a(c2)), 5, 60},
		{a(a(a(c))), 5, 120},
	}
	for i, condition := range conditions {
		sum := func(w [stages]float64) (total float64) {
			for j := range w {
				total += w[j] * condition.tree[j]
			}
			return total
		}
		if math.Abs(sum(b)-1/condition.gamma) > 1e-14 {
			t.Errorf("condition %d, order 5 weights: %.16g, want 1/%g", i, sum(b), condition.gamma)
		}
		if condition.order <= 4 && math.Abs(sum(lower)-1/condition.gamma) > 1e-14 {
			t.Errorf("condition %d, order 4 weights: %.16g, want 1/%g", i, sum(lower), condition.gamma)
		}
	}
}
