package store_test

import (
	"slices"
	"strings"
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

func TestFilesThatNounsName(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		for _, digit := range []string{"c", "a", "a", "b"} {
			put(t, s, m.scan(right, "2026-01-10", digit))
		}
		hash := func(digit string) string { return strings.Repeat(digit, 64) }
		for digit, want := range map[string]bool{"a": true, "c": true, "d": false} {
			if got, err := s.FileReferenced(background, hash(digit)); err != nil || got != want {
				t.Errorf("%s: %v (%v)", digit, got, err)
			}
		}
		first, err := s.Files(background, "", 2)
		if err != nil || !slices.Equal(first, []string{hash("a"), hash("b")}) {
			t.Errorf("%v (%v)", first, err)
		}
		if rest, err := s.Files(background, first[1], 2); err != nil || !slices.Equal(rest, []string{hash("c")}) {
			t.Errorf("%v (%v)", rest, err)
		}
	})
}

// Scans of one content are found by it, struck out or not, in a transaction that
// sees what it has put itself; films of the same content are another kind.
func TestNounsWithAFile(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		first, second, other := m.scan(right, "2026-01-10", "a"), m.scan(right, "2026-01-11", "a"), m.scan(right, "2026-01-12", "b")
		put(t, s, first)
		put(t, s, other)
		write(t, s, func(tx *store.Tx) error { return tx.StrikeOut(background, record.KindScan, first.ID, 1, "wrong eye") })
		find := func(tx *store.Tx, kind record.Kind, digit string) []record.ID {
			ids, err := tx.NounsWithFile(background, kind, strings.Repeat(digit, 64))
			if err != nil {
				t.Error(err)
			}
			return ids
		}
		write(t, s, func(tx *store.Tx) error {
			if got := find(tx, record.KindScan, "a"); !slices.Equal(got, []record.ID{first.ID}) {
				t.Errorf("before: %v", got)
			}
			if _, err := tx.Put(background, second, ""); err != nil {
				return err
			}
			if got := find(tx, record.KindScan, "a"); !slices.Equal(got, []record.ID{first.ID, second.ID}) {
				t.Errorf("after: %v", got)
			}
			if got := find(tx, record.KindFilm, "a"); len(got) != 0 {
				t.Errorf("films: %v", got)
			}
			if got := find(tx, record.KindScan, "d"); len(got) != 0 {
				t.Errorf("another content: %v", got)
			}
			return nil
		})
	})
}

// The figures of a scan are listed but for those struck out, also to the
// transaction that puts them.
func TestFiguresOfAScan(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		scan, other := m.scan(right, "2026-01-10", "a"), m.scan(right, "2026-01-11", "b")
		put(t, s, scan)
		put(t, s, other)
		mistaken, kept := m.figures(scan), m.figures(scan)
		put(t, s, mistaken)
		write(t, s, func(tx *store.Tx) error {
			if _, err := tx.Put(background, kept, ""); err != nil {
				return err
			}
			if err := tx.StrikeOut(background, record.KindFigures, mistaken.ID, 1, "wrong layer"); err != nil {
				return err
			}
			got, err := tx.FiguresOfScan(background, scan.ID)
			if err != nil || len(got) != 1 || got[0].ID != kept.ID {
				t.Errorf("inside: %d figures, %v", len(got), err)
			}
			return nil
		})
		got, err := s.FiguresOfScan(background, scan.ID)
		if err != nil || len(got) != 1 || got[0].ID != kept.ID || got[0].MeasuredBy != kept.MeasuredBy {
			t.Errorf("%d figures, %v", len(got), err)
		}
		if none, err := s.FiguresOfScan(background, other.ID); err != nil || len(none) != 0 {
			t.Errorf("%d figures of another scan, %v", len(none), err)
		}
	})
}
