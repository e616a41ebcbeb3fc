package store_test

import (
	"errors"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestFullDiskLeavesTheOldState lets the database grow no further, which the
// engine reports as it reports a full disk (SQLITE_FULL), in the midst of writing.
func TestFullDiskLeavesTheOldState(t *testing.T) {
	s := open(t, store.Options{Folder: t.TempDir()})
	m := newMaker(t, 1)
	_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
	visit := m.visit(right, "2026-03-01")
	put(t, s, visit)
	before, err := s.Head(background)
	if err != nil {
		t.Fatal(err)
	}
	var pages int64
	if err := s.Writer().QueryRow(background, "pragma page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	// The writer has one connection, so the limit holds for all that follows.
	var limit int64
	if err := s.Writer().QueryRow(background, "pragma max_page_count = 1").Scan(&limit); err != nil || limit < pages {
		t.Fatalf("limit %d of %d pages (%v)", limit, pages, err)
	}
	err = s.Write(background, surgeon, func(tx *store.Tx) error {
		if _, err := tx.Put(background, with(*visit, func(v *record.Visit) { v.Version, v.Lens = 1, record.LensAphakic }), ""); err != nil {
			return err
		}
		for range 200 {
			if err := putAll(tx, with(*m.visit(right, "2026-03-02"), func(v *record.Visit) { v.Note = record.FreeText(strings.Repeat("x", 4000)) })); err != nil {
				return err
			}
		}
		return nil
	})
	if !errors.Is(err, store.ErrDiskFull) || fault.CodeOf(err) != fault.NoSpace || !strings.Contains(err.Error(), s.Where()) {
		t.Fatalf("on a full disk: %v", err)
	}
	if after, err := s.Head(background); err != nil || after != before {
		t.Errorf("the history went from %+v to %+v (%v)", before, after, err)
	}
	if got := get(t, s, visit); got.Lens != "" || got.Version != 1 {
		t.Errorf("the visit reads %+v", got)
	}
	mustVerify(t, s)
	if err := s.Writer().QueryRow(background, "pragma max_page_count = 1073741823").Scan(&limit); err != nil {
		t.Fatal(err)
	}
	put(t, s, m.visit(right, "2026-03-03"))
}
