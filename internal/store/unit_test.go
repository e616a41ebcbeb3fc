package store_test

import (
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestUnitIsOneAndTellsWhoChangedIt: empty until told, one row, each change with
// who, when and what it was before, all of it proved.
func TestUnitIsOneAndTellsWhoChangedIt(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		none, err := s.Unit(background)
		if err != nil || *none != (record.Unit{Base: record.Base{ID: record.UnitID}}) {
			t.Fatalf("%+v (%v)", none, err)
		}
		none.Name, none.DayPhone = "Eye Clinic Northgate", "01632 960 123"
		put(t, s, none)
		told, err := s.Unit(background)
		if err != nil || told.Version != 1 || told.DayPhone != "01632 960 123" {
			t.Fatalf("%+v (%v)", told, err)
		}
		told.NightPhone, told.Paper = "01632 960 199", record.PaperLetter
		if err := s.Write(background, nurse, func(tx *store.Tx) error { _, err := tx.Put(background, told, "new ward"); return err }); err != nil {
			t.Fatal(err)
		}
		history, err := s.History(background, record.KindUnit, record.UnitID)
		if err != nil || len(history) != 2 || history[0].By != surgeon || history[1].By != nurse || history[1].Reason != "new ward" || history[1].Before != history[0].After {
			t.Errorf("%+v (%v)", history, err)
		}
		for name, bad := range map[string]record.Unit{
			"a second one":    {Base: record.Base{ID: newMaker(t, 9).base().ID}, Name: "Another"},
			"no number":       {Base: record.Base{ID: record.UnitID, Version: 2}, DayPhone: "later"},
			"a longer number": {Base: record.Base{ID: record.UnitID, Version: 2}, DayPhone: "01632 960 123 or 01632 960 124 or 01632 960 125 or 01632 960 126"},
		} {
			err := s.Write(background, nurse, func(tx *store.Tx) error { _, err := tx.Put(background, &bad, ""); return err })
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s is kept: %v", name, err)
			}
		}
		mustVerify(t, s)
	})
}
