package store_test

import (
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

// TestPersonsAlikeAreFound finds who has a word of the name, the number without its
// zeros or the birth date, and not the person itself.
func TestPersonsAlikeAreFound(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, first, _ := m.storedEye(s, "Bartholo Vint", "00123")
		_, second, _ := m.storedEye(s, "Quirin Osterby", "U-9")
		for name, one := range map[string]struct {
			person record.Person
			wanted []record.ID
		}{
			"a word":         {record.Person{Names: []record.PersonName{{Text: "VINT, Bartolo"}}}, []record.ID{first.ID}},
			"the number":     {record.Person{UnitNumber: "123"}, []record.ID{first.ID}},
			"the birth date": {record.Person{BirthDate: second.BirthDate}, nil},
			"itself":         {*second, nil},
			"nobody":         {record.Person{Names: []record.PersonName{{Text: "Xy Zz"}}}, nil},
		} {
			got, err := s.PersonsAlike(background, &one.person)
			if err != nil {
				t.Fatal(err)
			}
			found := map[record.ID]bool{}
			for _, p := range got {
				found[p.ID] = true
			}
			for _, id := range one.wanted {
				if !found[id] {
					t.Errorf("%s: %s is not found", name, id)
				}
			}
			if found[one.person.ID] {
				t.Errorf("%s: the person itself is found", name)
			}
			if name == "the birth date" && second.BirthDate.Full() && !found[second.ID] {
				t.Errorf("%s is not found", name)
			}
		}
		write(t, s, func(tx *store.Tx) error {
			_, err := tx.Merge(background, first.ID, second.ID, "one person")
			return err
		})
		for _, id := range []record.ID{first.ID, second.ID} {
			merges, err := s.MergesOf(background, id)
			if err != nil || len(merges) != 1 {
				t.Errorf("%d merges of %s (%v)", len(merges), id, err)
				continue
			}
			if id == second.ID {
				write(t, s, func(tx *store.Tx) error {
					_, err := tx.UndoMerge(background, merges[0].ID, "two after all")
					return err
				})
			}
		}
		if merges, err := s.MergesOf(background, first.ID); err != nil {
			t.Error(err)
		} else {
			for _, one := range merges {
				if one.Survivor != "" {
					t.Errorf("a merge that was undone stands: %+v", one)
				}
			}
		}
	})
}
