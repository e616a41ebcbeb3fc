package store_test

import (
	"slices"
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

// papers are the nouns that wait for a signature.
func papers(t *testing.T, s *store.Store, reason record.DueFor) []record.ID {
	t.Helper()
	rows, err := s.Papers(background, reason, store.MaxPage)
	if err != nil {
		t.Fatal(err)
	}
	var out []record.ID
	for _, row := range rows {
		if row.On != "" || row.Since == "" {
			t.Errorf("a paper with the days %q and %q", row.On, row.Since)
		}
		out = append(out, row.Source)
	}
	return out
}

// TestPapersWaitForASignature tells of figures and operations until they are
// signed, replaced or struck out, and keeps them out of the lists of days.
func TestPapersWaitForASignature(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		place.Now, place.Random = clock(), seeded(3)
		s := open(t, place)
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Bartholo Vint", "U-2")
		expect := func(step string, reason record.DueFor, wanted ...record.ID) {
			t.Helper()
			if got := papers(t, s, reason); !slices.Equal(got, wanted) {
				t.Errorf("%s: %v wait, want %v", step, got, wanted)
			}
			page, err := s.Due(background, store.DueQuery{})
			if err != nil || len(page.Rows) != 0 {
				t.Errorf("%s: the due list has %v (%v)", step, page.Rows, err)
			}
			if c, err := s.Course(background, right.ID, false); err != nil || len(c.Due) != 0 {
				t.Errorf("%s: the eye is due: %v (%v)", step, c.Due, err)
			}
		}
		scan := m.scan(right, "2024-01-02", "a")
		first, second := m.figures(scan), m.figures(scan)
		second.Supersedes = first.ID
		operation := m.operation(right, "2024-02-01")
		write(t, s, func(tx *store.Tx) error { return putAll(tx, scan, first, operation) })
		expect("measured", store.DueUnsignedFigures, first.ID)
		expect("operated", store.DueUnsignedOperation, operation.ID)
		write(t, s, func(tx *store.Tx) error { return putAll(tx, second) })
		expect("measured again", store.DueUnsignedFigures, second.ID)
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindFigures, second.ID, 1, "wrong line")
		})
		expect("struck out", store.DueUnsignedFigures, first.ID)
		signed := m.figures(scan)
		signed.Supersedes, signed.Signed = first.ID, &record.Signature{By: surgeon, At: clock()()}
		write(t, s, func(tx *store.Tx) error { return putAll(tx, signed) })
		expect("signed", store.DueUnsignedFigures)
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindOperation, operation.ID, 1, "other eye")
		})
		expect("operation struck out", store.DueUnsignedOperation)
	})
}

// TestContestCanBeRead reads one contest while it is open and when it is decided.
func TestContestCanBeRead(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		if _, err := s.Contest(background, "0193c430-4cc0-7000-b131-5ff6cfd0dfa8"); err == nil {
			t.Error("a contest that is not there was read")
		}
		if list, err := s.NewestContests(background, 10); err != nil || len(list) != 0 {
			t.Errorf("%v (%v)", list, err)
		}
	})
}
