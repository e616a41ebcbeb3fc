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
		months    float64
		lens      eye.LensStatus
		want      float64
		low, high float64
	}{
		{1, eye.LensUnknown, 1.5, 1.5, 1.5},
		{3, eye.LensUnknown, 1.5, 1.5, 1.5},
		{6, eye.Phakic, 2.0, 2.0, 2.0},
		{9, eye.LensUnknown, 2.0, 2.0, 2.0},
		{18, eye.Aphakic, 2.5, 2.5, 2.5},
		{48, eye.Pseudophakic, 3.0, 3.0, 3.0},
		{120, eye.Phakic, 3.5, 3.5, 3.5},
		{216, eye.Aphakic, 3.5, 3.0, 3.5},
		{800, eye.Pseudophakic, 3.5, 3.0, 3.5},
		{800, eye.Phakic, 4.0, 3.5, 4.0},
		{1500, eye.Phakic, 4.0, 3.5, 4.0},
	} {
		got, err := eye.SclerotomyMM(eye.Growth{AgeMonths: row.months, Lens: row.lens})
		if err != nil || got.MM != row.want || got.LowMM != row.low || got.HighMM != row.high || got.Source == "" || got.HowKnown == "" {
			t.Errorf("%g months: %+v, %v", row.months, got, err)
		}
		if got.MM < last {
			t.Errorf("%g months: nearer than at a younger age", row.months)
		}
		last = got.MM
	}
	for _, g := range []eye.Growth{{AgeMonths: 0.5}, {AgeMonths: 0, Lens: eye.Phakic}, {AgeMonths: 9, Unusual: true}} {
		if got, err := eye.SclerotomyMM(g); fault.CodeOf(err) != fault.Unsupported || got.MM != 0 {
			t.Errorf("%+v: %+v, %v", g, got, err)
		}
	}
	for _, bad := range []float64{math.NaN(), -1, 2000, math.Inf(1)} {
		if _, err := eye.SclerotomyMM(eye.Growth{AgeMonths: bad}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g months: %v", bad, err)
		}
	}
	if _, err := eye.SclerotomyMM(eye.Growth{AgeMonths: 800}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("an adult whose lens is not told: %v", err)
	}
}

func TestParseLens(t *testing.T) {
	for _, lens := range []eye.LensStatus{eye.Phakic, eye.Pseudophakic, eye.Aphakic} {
		if got, err := eye.ParseLens(lens.String()); err != nil || got != lens {
			t.Errorf("%v: %v, %v", lens, got, err)
		}
	}
	for _, text := range []string{"", "unknown", "Phakic ", "clear"} {
		if got, err := eye.ParseLens(text); fault.CodeOf(err) != fault.Invalid || got != eye.LensUnknown {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
}

// Every row of the table of entries has a source and says how it is known; the
// rows of the ages meet without a gap from one month on.
func TestTheatreTables(t *testing.T) {
	facts, err := eye.TheatreFacts()
	if err != nil || len(facts) < 12 {
		t.Fatalf("%d facts, %v", len(facts), err)
	}
	for _, f := range facts {
		known := map[string]bool{"abstract": true, "secondary": true, "from memory": true, "derived": true, "ours": true}[f.HowKnown]
		if !known || f.Source == "" || f.Unit == "" || f.Value < f.Low || f.Value > f.High {
			t.Errorf("%+v", f)
		}
	}
	for months := 1.0; months < 1500; months += 0.5 {
		if _, err := eye.SclerotomyMM(eye.Growth{AgeMonths: months, Lens: eye.Aphakic}); err != nil {
			t.Fatalf("%g months: %v", months, err)
		}
	}
	if _, err := eye.TheatreFactOf("none"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}
