package bench

import (
	"math"
	"testing"

	"limitans/estimate"
)

// TestBandedSaysWhereThereIsNoLimit: an interval that is open above is told so, and a
// missing value says why; neither prints a NaN.
func TestBandedSaysWhereThereIsNoLimit(t *testing.T) {
	for _, c := range []struct {
		e    estimate.Estimate
		says string
	}{
		{estimate.Estimate{Value: 0.38, Low: 0.26, High: 0.5}, "0.38 s (0.26 to 0.5)"},
		{estimate.Estimate{Value: 0.38, Low: 0.26, High: math.NaN()}, "0.38 s (0.26 to no limit)"},
		{estimate.Missing("nobody measured it"), "not computed: nobody measured it"},
	} {
		if got := banded("%.2g", c.e, "s"); got != c.says {
			t.Errorf("%q, want %q", got, c.says)
		}
	}
}
