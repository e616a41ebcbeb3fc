package store_test

import (
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

// TestEyesDiagnosed lists eyes by what they have, each once, the newest first,
// without those that are struck out.
func TestEyesDiagnosed(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, older := m.storedEye(s, "Amaryllis Quell", "U-1")
		_, _, newer := m.storedEye(s, "Benedikt Orlow", "U-2")
		_, _, struck := m.storedEye(s, "Cosima Tarn", "U-3")
		twice := get(t, s, newer)
		twice.Diagnoses = append(twice.Diagnoses, record.Diagnosis{Code: record.MacularHoleDetachment})
		err := s.Write(background, record.Actor{AccountID: "account-1"}, func(tx *store.Tx) error {
			if _, err := tx.Put(background, twice, ""); err != nil {
				return err
			}
			return tx.StrikeOut(background, record.KindEye, struck.ID, get(t, s, struck).Version, "entered twice")
		})
		if err != nil {
			t.Fatal(err)
		}
		want := func(limit int, ids ...record.ID) {
			t.Helper()
			got, err := s.EyesDiagnosed(background, limit, record.FullThicknessHole, record.MacularHoleDetachment)
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != len(ids) {
				t.Fatalf("%v, wanted %v", got, ids)
			}
			for i := range ids {
				if got[i] != ids[i] {
					t.Errorf("%v, wanted %v", got, ids)
				}
			}
		}
		want(10, newer.ID, older.ID)
		want(1, newer.ID)
		want(0)
	})
}
