package acuity

import (
	"math"
	"strings"
	"testing"
)

// TestDecide: the kinds of hard cases 7 and 17. Evidence must exclude the other
// reading; otherwise the file is asked about.
func TestDecide(t *testing.T) {
	list := func(s string) []string { return strings.Split(s, " ") }
	for _, c := range []struct {
		why, name, texts string
		plain            PlainNumbers
		tenths           OverTen
		asks             bool
	}{
		{"a negative value", "", "0.3 0.5 -0.1 1.0", PlainLogMAR, 0, false},
		{"a typed minus", "", "0,3 0,5 −0,08", PlainLogMAR, 0, false},
		{"above 2.0", "", "0.3 0.5 2.3", PlainLogMAR, 0, false},
		{"three decimals of Snellen lines", "", "0.176 0.477 0.3", PlainLogMAR, 0, false},
		{"grades only decimals print", "", "0.63 0.125 0.8 0.5", PlainDecimal, 0, false},
		{"good eyes", "", "1.0 0.8 1.2 1.0 0.9 1.0 0.8 1.0 1.0 0.5 6/6 6/6 6/9", PlainDecimal, 0, false},
		{"0.8 to 1.2 may be poor logMAR", "", "1.0 0.8 1.2 1.0 0.9 1.0 0.8 1.0 1.0 0.5", PlainUndecided, 0, true},
		{"poor eyes elsewhere", "", "1.0 0.8 1.2 1.0 0.9 1.0 0.8 1.0 1.0 0.5 6/60 6/60 CF 6/36", PlainUndecided, 0, true},
		{"nothing to go by", "", "0.3 0.5 0.4", PlainUndecided, 0, true},
		{"column name", "BCVA (logMAR)", "0.3 0.5 0.4", PlainLogMAR, 0, false},
		{"column name", "Visus dezimal", "0,3 0,5 0,4", PlainDecimal, 0, false},
		{"name against values", "VA decimal", "0.3 0.5 -0.1", PlainUndecided, 0, true},
		{"name and a value that cannot be", "VA decimal", "0.3 0.5 85", PlainUndecided, 0, true},
		{"letter scores", "", "83 77 58 70 85", PlainLetters, 0, false},
		{"letters or lone denominators", "", "20 40 60 20 25", PlainUndecided, 0, true},
		{"letters and decimals mixed", "", "83 77 58 0.3", PlainUndecided, 0, true},
		{"negative and decimal grades", "", "0.63 0.125 -0.1", PlainUndecided, 0, true},
		{"no plain numbers", "", "6/9 20/40 HM", PlainUndecided, 0, false},
		{"codes for missing are no evidence", "", "-9 999 0.3", PlainUndecided, 0, true},
		{"tenths", "", "5/10 8/10 10/10 3/10", PlainUndecided, OverTenTenths, false},
		{"one fraction over 10", "", "5/10 5/6 5/60", PlainUndecided, OverTenUndecided, true},
		{"feet are not tenths", "", "20/10 20/20 20/15", PlainUndecided, OverTenUndecided, false},
	} {
		d := DecideColumn(c.name, list(c.texts))
		if d.Plain != c.plain || d.OverTen != c.tenths || (len(d.Questions) > 0) != c.asks {
			t.Errorf("%s (%s): %s, %s, reasons %q, questions %q", c.why, c.texts, d.Plain, d.OverTen, d.Reasons, d.Questions)
		}
		if (d.Plain != PlainUndecided || d.OverTen != OverTenUndecided) && len(d.Reasons) == 0 {
			t.Errorf("%s: decided without a reason", c.why)
		}
	}
}

func TestDecisionApplied(t *testing.T) {
	texts := []string{"0.3", "-0.1", "5/10", "7/10", "9/10"}
	opt := DecideNotation(texts).Apply(Options{})
	if e := single(t, "0.3", opt); e.Kind != Measured || *e.LogMAR != 0.3 {
		t.Errorf("0.3: %s %s", e.Kind, e.Note)
	}
	if e := single(t, "5/10", opt); e.DistanceM != nil || math.Abs(*e.LogMAR-math.Log10(2)) > 1e-12 || !strings.Contains(e.Scheme, "tenths") {
		t.Errorf("5/10: %+v", e)
	}
	// a person's word stays
	kept := DecideNotation(texts).Apply(Options{Plain: PlainDecimal, OverTen: OverTenSnellen})
	if kept.Plain != PlainDecimal || kept.OverTen != OverTenSnellen {
		t.Errorf("%+v", kept)
	}
	if e := single(t, "5/10", kept); e.DistanceM == nil || *e.DistanceM != 5 {
		t.Errorf("5/10 as Snellen: %+v", e)
	}
}
