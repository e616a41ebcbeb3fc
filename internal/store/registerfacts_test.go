package store_test

import (
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

// TestRegisterFacts tells of an eye when it is due, when it was last seen and how
// the last attempt to reach the patient ended.
func TestRegisterFacts(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		place.Now, place.Random = clock(), seeded(5)
		s := open(t, place)
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Bartholo Vint", "U-2")
		first, second := m.visit(right, "2024-02-01"), m.visit(right, "2024-03-01")
		second.DueBy, second.DueFor = day(t, "2024-04-01"), record.DueReview
		contact := &record.ContactAttempt{Base: record.Base{ID: m.id()}, PatientID: right.PatientID, On: day(t, "2024-04-05"), By: second.SeenBy, Way: record.ContactPhone, Outcome: record.NotReached}
		write(t, s, func(tx *store.Tx) error { return putAll(tx, first, second, contact) })
		got, err := s.RegisterFacts(background, []record.ID{right.ID})
		if err != nil {
			t.Fatal(err)
		}
		f := got[right.ID]
		if f.Due[record.DueReview] != "2024-04-01" || f.LastVisit != "2024-03-01" || f.LastContact != "2024-04-05" || f.Outcome != record.NotReached {
			t.Errorf("%+v", f)
		}
		if none, err := s.RegisterFacts(background, nil); err != nil || len(none) != 0 {
			t.Errorf("of no eye: %v %v", none, err)
		}
	})
}
