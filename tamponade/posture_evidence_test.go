package tamponade

import (
	"math"
	"testing"

	"limitans/fault"
)

// Worked example 23 of the reference: Pasu 84/88 against 77/90 is 95.5 and
// 85.6 % (tolerance 0.1). Every row has its interval round its share.
func TestClosureCountsWorkedExample23(t *testing.T) {
	trials, err := PostureTrials()
	if err != nil || len(trials) < 8 || len(trials)%2 != 0 {
		t.Fatalf("%d rows, %v", len(trials), err)
	}
	for i, percent := range []float64{95.5, 85.6} {
		if math.Abs(100*trials[i].Share.Value-percent) > 0.1 {
			t.Errorf("%s: %.2f %%, want %g", trials[i].What, 100*trials[i].Share.Value, percent)
		}
	}
	byDay, err := ClosedByDay()
	if err != nil || len(byDay) < 6 {
		t.Fatalf("%d rows, %v", len(byDay), err)
	}
	for _, r := range append(trials, byDay...) {
		if !(r.Share.Low < r.Share.Value && r.Share.Value < r.Share.High) || r.Source == "" || r.Closed > r.Eyes {
			t.Errorf("%+v", r)
		}
	}
	// 40 of 43: 0.809 to 0.985 (SciPy binomtest, exact; three digits).
	if e := byDay[5].Share; math.Abs(e.Low-0.809) > 0.0006 || math.Abs(e.High-0.985) > 0.0006 {
		t.Errorf("40 of 43: %+v", e)
	}
}

// Hard case 65 turns on this default and its alternatives: the small hole is not
// sent to bed, the large one is, and what cannot be is refused.
func TestAdvisePosture(t *testing.T) {
	small, err1 := AdvisePosture(400)
	large, err2 := AdvisePosture(401)
	if err1 != nil || err2 != nil || small.Days != (Span{3, 3}) || large.Days != (Span{3, 5}) || small.Basis == "" || large.Diary.Check() != nil {
		t.Errorf("%+v, %+v, %v %v", small, large, err1, err2)
	}
	for _, um := range []float64{0, -1, 1e6, math.NaN()} {
		if _, err := AdvisePosture(um); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g: %v", um, err)
		}
	}
}
