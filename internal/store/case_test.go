package store_test

import (
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

var viewKey = record.ViewOptions{Key: []byte("sixteen secret bytes")}

// TestOneCaseIsThatOfTheWholeView takes one eye by its own query and out of the
// view of the whole record: two ways to the same nouns.
func TestOneCaseIsThatOfTheWholeView(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 2)
		patient, person, right := m.eyeOf("Planted Name", "PLANTED-1")
		other, otherPerson, otherEye := m.eyeOf("Somebody Else", "PLANTED-2")
		scan, operation := m.scan(right, "2026-01-10", "a"), m.operation(right, "2026-02-01")
		visit := m.visit(right, "2026-03-01")
		visit.Note, scan.Note = "PLANTED-note", "PLANTED-scan"
		elsewhere := m.visit(otherEye, "2026-03-02")
		write(t, s, func(tx *store.Tx) error {
			return putAll(tx, patient, person, right, other, otherPerson, otherEye, scan, operation, visit, elsewhere)
		})
		whole, err := s.DeIdentified(background, viewKey)
		must(t, err)
		one, err := s.DeIdentifiedAround(background, right.ID, viewKey)
		must(t, err)
		mine := record.Pseudonym(viewKey.Key, patient.ID)
		for _, pair := range [][2]any{
			{onlyOf(whole.Patients, mine), one.Patients},
			{onlyOf(whole.Eyes, mine), one.Eyes},
			{onlyOf(whole.Scans, mine), one.Scans},
			{onlyOf(whole.Operations, mine), one.Operations},
			{onlyOf(whole.Visits, mine), one.Visits},
		} {
			if !reflect.DeepEqual(pair[0], pair[1]) {
				t.Errorf("%+v, by its own query %+v", pair[0], pair[1])
			}
		}
		if len(one.Visits) != 1 || len(one.Eyes) != 1 || one.AgeAtFirstSurgery[mine] != whole.AgeAtFirstSurgery[mine] {
			t.Errorf("%+v", one)
		}
		text, err := json.Marshal(one)
		must(t, err)
		if strings.Contains(string(text), "PLANTED") || strings.Contains(string(text), string(right.ID)) {
			t.Errorf("%s", text)
		}
		listed, err := s.DeIdentifiedEyes(background, []record.ID{right.ID, otherEye.ID}, viewKey)
		must(t, err)
		if len(listed.Eyes) != 2 || len(listed.Patients) != 2 || len(listed.Operations) != 1 || len(listed.Visits) != 0 {
			t.Errorf("%d eyes, %d patients, %d operations, %d visits", len(listed.Eyes), len(listed.Patients), len(listed.Operations), len(listed.Visits))
		}
		all, entries, err := s.EyesSince(background, 0)
		must(t, err)
		if len(all) != 2 || !slices.IsSorted(all) {
			t.Errorf("%v", all)
		}
		none, same, err := s.EyesSince(background, entries)
		must(t, err)
		if len(none) != 0 || same != entries {
			t.Errorf("%v made since, %d entries after %d", none, same, entries)
		}
		// By the history alone they are the same eyes.
		told, _, err := s.EyesSince(background, 1)
		must(t, err)
		if slices.Sort(told); !slices.Equal(told, all) {
			t.Errorf("%v told by the history, %v in the record", told, all)
		}
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindEye, right.ID, 1, "another patient's")
		})
		if _, err := s.DeIdentifiedAround(background, right.ID, viewKey); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("an eye that is struck out: %v", err)
		}
		if _, err := s.DeIdentifiedEyes(background, nil, viewKey); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("no eye: %v", err)
		}
	})
}

func onlyOf[T record.Entity](all []T, patient record.ID) []T {
	var out []T
	for _, e := range all {
		if e.Links().PatientID == patient {
			out = append(out, e)
		}
	}
	return out
}

// TestCaseQueriesReadNoIdentity reads the queries' own texts.
func TestCaseQueriesReadNoIdentity(t *testing.T) {
	for _, name := range []string{"eye ids", "clinical nouns around eye", "eyes for cases"} {
		tables := regexp.MustCompile(`(?:from|join)\s+(\w+)`).FindAllStringSubmatch(store.QueryTexts[name], -1)
		if len(tables) == 0 {
			t.Fatalf("no table found in %q", name)
		}
		for _, table := range tables {
			if !slices.ContainsFunc(record.Kinds(), func(k record.KindInfo) bool { return string(k.Kind) == table[1] && !k.Identifying }) && table[1] != "one" {
				t.Errorf("%q reads %s", name, table[1])
			}
		}
	}
}

// must ends a test whose ground is not there.
func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
