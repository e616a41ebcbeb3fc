package demo

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"limitans/acuity"
	"limitans/internal/record"
	"limitans/oct/phantom"
)

var testDay = record.Date{Year: 2026, Month: 11, Day: 24}

func clinicOf(t *testing.T, patients int, seed uint64) *Clinic {
	t.Helper()
	c, err := New(patients, seed, testDay)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestSameSeedSameClinic(t *testing.T) {
	text := func(c *Clinic, n int) string {
		one, err := c.Case(n)
		if err != nil {
			t.Fatal(err)
		}
		b, err := json.Marshal(one)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	small, large, other := clinicOf(t, 60, 1), clinicOf(t, 100_000, 1), clinicOf(t, 60, 2)
	for n := range 60 {
		if first, again := text(small, n), text(small, n); first != again || first != text(large, n) {
			t.Errorf("patient %d is told in two ways", n)
		}
		if text(small, n) == text(other, n) {
			t.Errorf("patient %d is the same with another seed", n)
		}
	}
}

func TestPossibleClinics(t *testing.T) {
	for _, patients := range []int{0, -1, MaxPatients + 1} {
		if _, err := New(patients, 1, testDay); err == nil {
			t.Errorf("%d patients were accepted", patients)
		}
	}
	if _, err := New(1, 1, record.Date{Year: 2026}); err == nil {
		t.Error("a year was accepted as today")
	}
	if _, err := clinicOf(t, 3, 1).Case(3); err == nil {
		t.Error("a fourth patient of three was told")
	}
}

// TestStoriesArePossible walks through a larger clinic and holds every case to
// what a real one would have to keep.
func TestStoriesArePossible(t *testing.T) {
	c := clinicOf(t, 1500, 3)
	batches := map[record.ID]*record.Batch{}
	for _, b := range c.Batches() {
		batches[b.ID] = b
	}
	seen := map[record.ID]bool{}
	courses := map[string]int{}
	var lost, oilIn, agents int
	for one, err := range c.Cases() {
		if err != nil {
			t.Fatal(err)
		}
		courses[one.Course]++
		if one.Lost {
			lost++
		}
		var operated *record.Operation
		for i, e := range one.Entries {
			base := e.Entity.Identity()
			if seen[base.ID] || base.ID.Check() != nil {
				t.Fatalf("patient %d: ID %q", one.Number, base.ID)
			}
			seen[base.ID] = true
			if i > 0 && !one.Entries[i-1].At.Before(e.At) {
				t.Errorf("patient %d (%s): entry %d is not later than the one before", one.Number, one.Course, i)
			}
			if day := record.DayOf(e.At); testDay.CertainlyBefore(day) {
				t.Errorf("patient %d: written on %s, after today", one.Number, day)
			}
			switch x := e.Entity.(type) {
			case *record.Operation:
				operated = x
				for _, a := range x.Agents {
					if a.Class == record.AgentAir {
						continue
					}
					agents++
					b := batches[a.BatchID]
					if b == nil || b.Lot != a.Lot || b.Class != a.Class {
						t.Errorf("patient %d: agent %s has no batch", one.Number, a.Product)
					} else if b.Expiry.CertainlyBefore(x.On) {
						t.Errorf("patient %d: batch %s of %s was past its date on %s", one.Number, b.Lot, b.Expiry, x.On)
					}
				}
			case *record.Visit:
				for _, a := range x.Acuities {
					for _, u := range a.Understood {
						if u.Kind == acuity.Unusable || u.Kind == acuity.Ask {
							t.Errorf("patient %d: acuity %q is %s", one.Number, a.Raw, u.Kind)
						}
					}
				}
			}
		}
		if operated != nil && one.Course == "recurrent detachment" && operated.Procedure != record.OilRemoval {
			oilIn++
		}
	}
	for _, course := range Courses() {
		if courses[course.Name] == 0 {
			t.Errorf("nobody has the course %q", course.Name)
		}
	}
	if lost < 100 || lost > 400 || oilIn < 5 || agents < 1000 {
		t.Errorf("%d lost, %d with oil still in, %d agents: not a believable clinic", lost, oilIn, agents)
	}
}

func TestFirstPatientsHaveAllCourses(t *testing.T) {
	c := clinicOf(t, 60, 1)
	for n, course := range Courses() {
		one, err := c.Case(n)
		if err != nil || one.Course != course.Name {
			t.Errorf("patient %d: %v, %v", n, one, err)
		}
	}
}

// TestSightIsWrittenAsMeant: what the clinic writes is understood as meant, to
// the width of a chart line.
func TestSightIsWrittenAsMeant(t *testing.T) {
	c := clinicOf(t, 1, 1)
	for _, logMAR := range []float64{0, 0.1, 0.2, 0.3, 0.48, 0.6, 0.78, 1.0} {
		for range 50 {
			text := newTeller(c, 0).written(logMAR)
			read := acuity.Parse(text, acuity.Options{})[0]
			if read.LogMAR == nil || math.Abs(*read.LogMAR-logMAR) > 0.13 {
				t.Errorf("%v was written as %q and read as %v", logMAR, text, read.LogMAR)
			}
		}
	}
	for logMAR, kind := range map[float64]acuity.Kind{1.8: acuity.CountingFingers, 2.3: acuity.HandMovements, 2.7: acuity.LightPerception} {
		text := newTeller(c, 0).written(logMAR)
		if read := acuity.Parse(text, acuity.Options{})[0]; read.Kind != kind {
			t.Errorf("%v was written as %q and read as %s", logMAR, text, read.Kind)
		}
	}
}

// TestScansCanBeDrawn checks the parameters of every scan and draws one of each
// sort.
func TestScansCanBeDrawn(t *testing.T) {
	c := clinicOf(t, 200, 5)
	count := 0
	for one, err := range c.Cases() {
		if err != nil {
			t.Fatal(err)
		}
		for id, p := range one.Drawings {
			count++
			if err := p.Check(); err != nil {
				t.Errorf("patient %d: %v", one.Number, err)
			}
			if !slices.ContainsFunc(one.Entries, func(e Entry) bool { return e.Entity.Identity().ID == id }) {
				t.Errorf("patient %d: a drawing without a scan", one.Number)
			}
		}
	}
	if count < 100 {
		t.Fatalf("only %d scans", count)
	}
	one, err := c.Case(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range one.Drawings {
		v, truth, err := phantom.Make(p)
		if err != nil {
			t.Fatal(err)
		}
		if v.Laterality != p.Laterality || (p.Hole != nil) != (truth.MLDUM > 0) {
			t.Errorf("drawn %v, truth %v", p.Hole, truth.MLDUM)
		}
	}
}

func BenchmarkCases(b *testing.B) {
	c, err := New(MaxPatients, 1, testDay)
	if err != nil {
		b.Fatal(err)
	}
	for i := range b.N {
		if _, err := c.Case(i % MaxPatients); err != nil {
			b.Fatal(err)
		}
	}
}
