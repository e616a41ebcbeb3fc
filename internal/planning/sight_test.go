package planning

import (
	"fmt"
	"math"
	"testing"

	"limitans/acuity"
	"limitans/decide"
	"limitans/internal/record"
)

// peeledMembrane is an eye whose epiretinal membrane was peeled on 1 January with an
// acuity before and one on each of some days after, in logMAR.
func peeledMembrane(before float64, after map[int]float64) record.Course {
	read := func(on record.Date, logmar float64) *record.Visit {
		return &record.Visit{On: on, Acuities: []record.AcuityEntry{{
			Raw: "invented", Understood: []acuity.Entry{{Kind: acuity.Measured, LogMAR: &logmar, Role: acuity.Corrected}},
		}}}
	}
	c := record.Course{
		Operations: []*record.Operation{{
			On: record.Date{Year: 2025, Month: 1, Day: 1}, Procedure: record.Vitrectomy, Indication: record.EpiretinalMembrane,
			Peels: []record.Peel{{Membrane: record.MembraneERM, State: record.Peeled}, {Membrane: record.MembraneILM, State: record.Peeled}},
		}},
		Visits: []*record.Visit{read(record.Date{Year: 2024, Month: 12, Day: 20}, before)},
	}
	for days, logmar := range after {
		on, _ := c.Operations[0].On.AddDays(days)
		c.Visits = append(c.Visits, read(on, logmar))
	}
	return c
}

// TestOwnSightHasItsInterval: mean and intervals by the formula of the one-sample t
// interval, with t(0.975, 4) = 2.776 (NIST/SEMATECH e-Handbook, table 1.3.6.7.2, from
// memory; its rounding gives the tolerance).
func TestOwnSightHasItsInterval(t *testing.T) {
	s := newSeries()
	changes := []float64{-0.3, -0.2, -0.1, 0, -0.4}
	for i, change := range changes {
		// The value of day 30 is too early, that of day 340 further from day 180.
		s.count(peeledMembrane(0.5, map[int]float64{30: 1, 170: 0.5 + change, 340: 0}), decide.EpiretinalMembrane, decide.EpiretinalMembrane, today)
		got := s.Sight(decide.Findings{Condition: decide.EpiretinalMembrane}, "membrane-and-peel")
		if got.Eyes != i+1 || got.Change.Known() != (i+1 >= leastSight) {
			t.Fatalf("after %d operations: %+v", i+1, got)
		}
	}
	got := s.Sight(decide.Findings{Condition: decide.EpiretinalMembrane}, "membrane-and-peel")
	const sd, t975 = 0.15811388, 2.776
	tolerance := 0.0005 * sd * 1.1
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"mean after", got.After.Value, 0.3},
		{"mean change", got.Change.Value, -0.2},
		{"low end of the mean", got.Change.Low, -0.2 - t975*sd/math.Sqrt(5)},
		{"high end", got.Change.High, -0.2 + t975*sd/math.Sqrt(5)},
		{"low end of one eye", got.OneEye.Low, -0.2 - t975*sd*math.Sqrt(1.2)},
		{"high end of one eye", got.OneEye.High, -0.2 + t975*sd*math.Sqrt(1.2)},
	} {
		if math.Abs(c.got-c.want) > tolerance {
			t.Errorf("%s: %.5f, want %.5f", c.name, c.got, c.want)
		}
	}
}

// TestOwnSightCountsWhatWasDoneForWhat: an operation counts for its indication, not for
// every diagnosis of the eye; one without acuities is missing, not left out.
func TestOwnSightCountsWhatWasDoneForWhat(t *testing.T) {
	for _, c := range []struct {
		name          string
		change        func(*record.Course)
		condition     decide.Condition
		untold        decide.Condition
		code          string
		eyes, missing int
	}{
		{"as recorded", func(*record.Course) {}, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-and-peel", 1, 0},
		{"for another condition", func(*record.Course) {}, decide.Hole, decide.Hole, "peel", 0, 0},
		{"limiting membrane left", func(c *record.Course) { c.Operations[0].Peels[1].State = record.LeftInPlace }, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-peel", 1, 0},
		{"no indication", func(c *record.Course) { c.Operations[0].Indication = "" }, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-and-peel", 1, 0},
		{"no indication, counted for the hole already", func(c *record.Course) { c.Operations[0].Indication = "" }, decide.EpiretinalMembrane, "", "membrane-and-peel", 0, 0},
		{"no acuity before", func(c *record.Course) { c.Visits = c.Visits[1:] }, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-and-peel", 0, 1},
		{"operated again before the window", func(c *record.Course) {
			again := *c.Operations[0]
			again.On, again.Peels = record.Date{Year: 2025, Month: 2, Day: 1}, nil
			c.Operations = append(c.Operations, &again)
		}, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-and-peel", 0, 1},
		{"gas alone", func(c *record.Course) { c.Operations[0].Procedure = record.Procedure("office_gas_exchange") }, decide.EpiretinalMembrane, decide.EpiretinalMembrane, "membrane-and-peel", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSeries()
			course := peeledMembrane(0.5, map[int]float64{180: 0.3})
			c.change(&course)
			s.count(course, c.condition, c.untold, today)
			got := s.Sight(decide.Findings{Condition: c.condition}, c.code)
			if got.Eyes != c.eyes || got.Missing != c.missing || got.After.Known() {
				t.Errorf("%d eyes, %d missing: %s", got.Eyes, got.Missing, fmt.Sprint(got.After))
			}
		})
	}
}
