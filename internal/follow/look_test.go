package follow_test

import (
	"slices"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/follow"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
)

var (
	today = record.Date{Year: 2026, Month: 11, Day: 24}
	actor = record.Actor{AccountID: "surgeon", Place: "test"}
)

// onBoth runs a test on an empty record of each engine.
func onBoth(t *testing.T, test func(t *testing.T, s *store.Store)) {
	for name, options := range map[string]func(t *testing.T) store.Options{
		"folder":     func(t *testing.T) store.Options { return store.Options{Folder: t.TempDir()} },
		"postgresql": func(t *testing.T) store.Options { return store.Options{Address: pgtest.Database(t)} },
	} {
		t.Run(name, func(t *testing.T) {
			s, err := store.Open(t.Context(), options(t))
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			test(t, s)
		})
	}
}

// put stores nouns in one transaction and gives them their identifiers.
func put(t *testing.T, s *store.Store, nouns ...record.Entity) error {
	t.Helper()
	return s.Write(t.Context(), actor, func(tx *store.Tx) error {
		for _, n := range nouns {
			if _, err := tx.Put(t.Context(), n, ""); err != nil {
				return err
			}
		}
		return nil
	})
}

// patient stores a person with one eye.
func patient(t *testing.T, s *store.Store, name, number string, born record.Date) (*record.Person, *record.Eye) {
	t.Helper()
	p, person, own := &record.Patient{}, &record.Person{}, &record.Eye{Side: eye.Right}
	give(t, s, &p.Base, &person.Base, &own.Base)
	person.PatientID, own.PatientID = p.ID, p.ID
	person.Names, person.UnitNumber, person.BirthDate = []record.PersonName{{Text: name}}, number, born
	if err := put(t, s, p, person, own); err != nil {
		t.Fatal(err)
	}
	return person, own
}

func give(t *testing.T, s *store.Store, all ...*record.Base) {
	t.Helper()
	err := s.Write(t.Context(), actor, func(tx *store.Tx) error {
		for _, b := range all {
			id, err := tx.NewID()
			if err != nil {
				return err
			}
			b.ID = id
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func look(t *testing.T, s *store.Store) *follow.Review {
	t.Helper()
	r, err := follow.Look(t.Context(), s, today)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestLook(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store) {
		born := record.Date{Year: 1950, Month: 3, Day: 4}
		first, own := patient(t, s, "Ida Fableby", "00123", born)
		if r := look(t, s); r.Eyes != 1 || len(r.Contests)+len(r.Findings)+len(r.Duplicates) > 0 {
			t.Fatalf("%+v", r)
		}

		// Zeros lost from the number: hard case 29.
		second, _ := patient(t, s, "Fableby, Ida", "123", record.Date{Year: 1950, Month: 4, Day: 3})
		r := look(t, s)
		if r.Eyes != 2 || len(r.Duplicates) != 1 || r.Duplicates[0].First.ID != first.ID || r.Duplicates[0].Second.ID != second.ID {
			t.Fatalf("%+v", r.Duplicates)
		}

		// Oil taken out that nobody put in, without a scan before.
		o := &record.Operation{
			PatientID: own.PatientID, EyeID: own.ID, On: record.Date{Year: 2026, Month: 5, Day: 6}, Side: eye.Right,
			Procedure: record.OilRemoval, Surgeon: "surgeon",
			Agents: []record.AgentUse{{Class: record.AgentOil, Action: record.AgentRemoved, SeenEmpty: record.Yes}},
		}
		pressure := 14.0
		o.EndPressure = &record.Pressure{MmHg: &pressure}
		give(t, s, &o.Base)
		if err := put(t, s, o); err != nil {
			t.Fatal(err)
		}
		told := func(f follow.EyeFinding) bool {
			return f.Eye.EyeID == own.ID && strings.Contains(f.Finding.What, "no operation here put it in")
		}
		if r := look(t, s); !slices.ContainsFunc(r.Findings, told) {
			t.Errorf("%+v", r.Findings)
		}

		// Two people change one visit.
		v := &record.Visit{PatientID: own.PatientID, EyeID: own.ID, On: record.Date{Year: 2026, Month: 6, Day: 1}}
		give(t, s, &v.Base)
		if err := put(t, s, v); err != nil {
			t.Fatal(err)
		}
		mine, yours := *v, *v
		mine.Version, mine.Lens = 1, record.LensCataract
		yours.Version, yours.Lens = 1, record.LensPseudophakic
		if err := put(t, s, &mine); err != nil {
			t.Fatal(err)
		}
		if err := put(t, s, &yours); fault.CodeOf(err) != fault.Conflict {
			t.Fatal(err)
		}
		if r := look(t, s); len(r.Contests) != 1 || r.Contests[0].Entity != v.ID {
			t.Errorf("%+v", r.Contests)
		}
	})
}

// TestNotMergedTwice: who was found to be one person is not proposed again.
func TestNotMergedTwice(t *testing.T) {
	onBoth(t, func(t *testing.T, s *store.Store) {
		born := record.Date{Year: 1950, Month: 3, Day: 4}
		first, _ := patient(t, s, "Ida Fableby", "77", born)
		second, left := patient(t, s, "Ida Fableby", "78", born)
		// Nobody has two right eyes, so that the merge is possible.
		left.Version, left.Side = 1, eye.Left
		if err := put(t, s, left); err != nil {
			t.Fatal(err)
		}
		if r := look(t, s); len(r.Duplicates) != 1 {
			t.Fatalf("%+v", r.Duplicates)
		}
		err := s.Write(t.Context(), actor, func(tx *store.Tx) error {
			_, err := tx.Merge(t.Context(), first.ID, second.ID, "the same person")
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if r := look(t, s); len(r.Duplicates) != 0 {
			t.Errorf("%+v", r.Duplicates)
		}
	})
}
