package store_test

import (
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestMixingSheetIsSignedByTwoAccounts: the floor of the record, whatever a door
// asks of it. One account begins, another one reads and signs, each for itself; then
// nothing of it changes, and what is struck out is signed by nobody.
func TestMixingSheetIsSignedByTwoAccounts(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 5)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		when := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
		begun := &record.Document{
			Base: m.base(), PatientID: right.PatientID, EyeID: right.ID, Sort: record.DocumentMixingSheet, On: day(t, "2026-03-14"), File: fileRef("a"),
			Mixing: &record.Mixing{Asked: record.MixingFacts{Gas: record.SF6, Percent: 20, GasML: 10, TotalML: 50, DivisionML: 1}, Maker: record.Signature{By: surgeon, At: when}},
		}
		// try writes a changed copy of the sheet as somebody.
		try := func(by record.Actor, change func(*record.Document)) error {
			d, mixing := *begun, *begun.Mixing
			d.Mixing = &mixing
			change(&d)
			return s.Write(background, by, func(tx *store.Tx) error { _, err := tx.Put(background, &d, ""); return err })
		}
		read := func(by record.Actor) func(*record.Document) {
			return func(d *record.Document) {
				d.Mixing.Read = &record.MixingFacts{Gas: record.SF6, Percent: 20, GasML: 10, TotalML: 50}
				d.Signed = &record.Signature{By: by, At: when}
			}
		}
		refused := func(name string, err error) {
			t.Helper()
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s: %v", name, err)
			}
		}
		refused("begun in another one's name", try(nurse, func(*record.Document) {}))
		refused("begun and signed at once", try(surgeon, read(surgeon)))
		if err := try(surgeon, func(*record.Document) {}); err != nil {
			t.Fatal(err)
		}
		begun.Version = 1
		refused("signed by the maker", try(surgeon, read(surgeon)))
		refused("signed by the maker for the second", try(surgeon, read(nurse)))
		refused("signed without a reading", try(nurse, func(d *record.Document) { d.Signed = &record.Signature{By: nurse, At: when} }))
		refused("another gas", try(nurse, func(d *record.Document) { read(nurse)(d); d.Mixing.Read.Gas = record.C3F8 }))
		refused("another recipe", try(nurse, func(d *record.Document) { read(nurse)(d); d.File = fileRef("b") }))
		refused("another maker", try(nurse, func(d *record.Document) { read(nurse)(d); d.Mixing.Maker.By = record.Actor{AccountID: "account-3"} }))
		if err := try(nurse, read(nurse)); err != nil {
			t.Fatal(err)
		}
		begun.Version = 2
		refused("read once more", try(nurse, func(d *record.Document) { read(nurse)(d); d.Mixing.Read.GasML = 10.4 }))
		if err := s.Write(background, nurse, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindDocument, begun.ID, 2, "the wrong bottle")
		}); err != nil {
			t.Fatal(err)
		}
		if got := get(t, s, begun); got.Mixing.Read == nil || got.Signed == nil || !got.Struck() {
			t.Errorf("struck out it reads %+v", got)
		}
		second := *begun
		second.Base = m.base()
		put(t, s, &second)
		if err := s.Write(background, surgeon, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindDocument, second.ID, 1, "begun for the wrong eye")
		}); err != nil {
			t.Fatal(err)
		}
		*begun = second
		begun.Version = 2
		refused("a sheet that is struck out", try(nurse, read(nurse)))
		mustVerify(t, s)
	})
}
