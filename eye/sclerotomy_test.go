package eye_test

import (
	"math"
	"testing"

	"limitans/eye"
	"limitans/fault"
)

// Worked example 46 (published: Lemley and Han 2007, abstract) and the adults of
// section 4 (secondary): 3, 9 and 18 months, 4 and 10 years; two weeks and unusual
// growth are refused.
func TestSclerotomyWorkedExample46(t *testing.T) {
	last := 0.0
	for _, row := range []struct {
		months float64
		phakic bool
		want   float64
	}{
		{1, true, 1.5},
		{3, true, 1.5},
		{6, true, 2.0},
		{9, true, 2.0},
		{18, true, 2.5},
		{48, true, 3.0},
		{120, true, 3.5},
		{216, false, 3.5},
		{800, false, 3.5},
		{800, true, 4.0},
	} {
		got, err := eye.SclerotomyMM(eye.Growth{AgeMonths: row.months, Phakic: row.phakic})
		if err != nil || got.MM != row.want || got.LowMM > got.MM || got.HighMM < got.MM || got.Source == "" || got.HowKnown == "" {
			t.Errorf("%g months: %+v, %v", row.months, got, err)
		}
		if got.MM < last {
			t.Errorf("%g months: nearer than at a younger age", row.months)
		}
		last = got.MM
	}
	for _, g := range []eye.Growth{{AgeMonths: 0.5}, {AgeMonths: 0, Phakic: true}, {AgeMonths: 9, Unusual: true}} {
		if got, err := eye.SclerotomyMM(g); fault.CodeOf(err) != fault.Unsupported || got.MM != 0 {
			t.Errorf("%+v: %+v, %v", g, got, err)
		}
	}
	for _, bad := range []float64{math.NaN(), -1, 2000, math.Inf(1)} {
		if _, err := eye.SclerotomyMM(eye.Growth{AgeMonths: bad}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g months: %v", bad, err)
		}
	}
}
