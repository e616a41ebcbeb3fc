package store_test

import (
	"fmt"
	"slices"
	"sort"
	"testing"
	"unicode/utf8"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// people are names with the traps of the trade: accents, letters that Unicode
// does not take apart, other scripts, hyphens, one word inside another.
var people = []struct{ name, number string }{
	{"Amaryllis Quell", "U-0012"},
	{"Bartholo Öztürk-Straße", "U-0123"},
	{"Łucja Ødegård", "U-1234"},
	{"Дарья Квелль", "U-2012"},
	{"Ann Anders", "A-55"},
	{"Anders Ann", "A-56"},
	{"Zoë O'Quell", "٤٤٢"},
}

// storePeople stores each with a right eye, and the first with a left one too.
func storePeople(t *testing.T, s *store.Store) map[string]record.ID {
	t.Helper()
	m := newMaker(t, 1)
	persons := map[string]record.ID{}
	for i, p := range people {
		patient, person, _ := m.storedEye(s, p.name, p.number)
		persons[p.name] = person.ID
		if i == 0 {
			put(t, s, &record.Eye{Base: m.base(), PatientID: patient.ID, Side: eye.Left})
		}
	}
	return persons
}

func names(rows []store.EyeRow) []string {
	var list []string
	for _, r := range rows {
		list = append(list, r.Name+" "+r.Side.String())
	}
	return list
}

func TestSearchFindsAnyFragment(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		storePeople(t, s)
		for _, test := range []struct {
			text string
			want []string
		}{
			{"quell", []string{"Amaryllis Quell Right", "Amaryllis Quell Left", "Zoë O'Quell Right"}},
			{"QUELL ama", []string{"Amaryllis Quell Right", "Amaryllis Quell Left"}},
			{"uel", []string{"Amaryllis Quell Right", "Amaryllis Quell Left", "Zoë O'Quell Right"}},
			{"ozturk", []string{"Bartholo Öztürk-Straße Right"}},
			{"STRASSE", []string{"Bartholo Öztürk-Straße Right"}},
			{"Öztürk-Straße", []string{"Bartholo Öztürk-Straße Right"}},
			{"lucja", []string{"Łucja Ødegård Right"}},
			{"odegard", []string{"Łucja Ødegård Right"}},
			{"квелль", []string{"Дарья Квелль Right"}},
			{"дарьп", nil}, // ends with the byte 0xbf, after which no character begins
			{"п", nil},
			{"0012", []string{"Amaryllis Quell Right", "Amaryllis Quell Left"}},
			{"012", []string{"Bartholo Öztürk-Straße Right", "Amaryllis Quell Right", "Amaryllis Quell Left", "Дарья Квелль Right"}},
			{"442", []string{"Zoë O'Quell Right"}},
			{"zoe", []string{"Zoë O'Quell Right"}},
			{"ann and", []string{"Ann Anders Right", "Anders Ann Right"}},
			{"ann ann ann", []string{"Ann Anders Right", "Anders Ann Right"}},
			{"nobody", nil},
			{"quell nobody", nil},
			{"?!", nil},
		} {
			got, err := s.Eyes(background, test.text, store.Page{})
			if err != nil {
				t.Fatal(err)
			}
			if list := names(got.Rows); !sameSet(list, test.want) || got.Next != "" {
				t.Errorf("%q finds %q, want %q", test.text, list, test.want)
			}
		}
	})
}

func TestAfterIsTheNextTextOfAll(t *testing.T) {
	for prefix, want := range map[string]string{
		"a": "b", "az": "a{", "о": "п", "п": "р", "\ud7ff": "\ue000", "a\U0010ffff": "b", "\U0010ffff": "\U0010ffff",
	} {
		if got := store.After(prefix); got != want || !utf8.ValidString(got) {
			t.Errorf("after %q comes %q, want %q", prefix, got, want)
		}
	}
}

func TestSearchPutsBeginningsFirst(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		storePeople(t, s)
		got, err := s.Eyes(background, "an", store.Page{})
		if err != nil {
			t.Fatal(err)
		}
		// Ann and Anders begin words; no other name has "an".
		if want := []string{"Anders Ann Right", "Ann Anders Right"}; !sameSet(names(got.Rows), want) {
			t.Errorf("%q", names(got.Rows))
		}
		got, err = s.Eyes(background, "a", store.Page{})
		if err != nil {
			t.Fatal(err)
		}
		list := names(got.Rows)
		inside := slices.Index(list, "Bartholo Öztürk-Straße Right")
		for _, begins := range []string{"Amaryllis Quell Right", "Ann Anders Right", "Anders Ann Right"} {
			if at := slices.Index(list, begins); at < 0 || at > inside {
				t.Errorf("%q stands behind a name with the letter inside: %q", begins, list)
			}
		}
	})
}

func sameSet(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	sort.Strings(a)
	sort.Strings(b)
	return slices.Equal(a, b)
}

// TestEveryListPagesWithoutGapOrRepeat walks each list in pages of every small
// size and compares with the whole.
func TestEveryListPagesWithoutGapOrRepeat(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		storePeople(t, s)
		m := newMaker(t, 5)
		all, err := s.Eyes(background, "", store.Page{})
		if err != nil || len(all.Rows) != len(people)+1 {
			t.Fatalf("%d eyes (%v)", len(all.Rows), err)
		}
		for i, row := range all.Rows {
			right := get(t, s, &record.Eye{Base: record.Base{ID: row.EyeID}})
			put(t, s, m.operation(right, fmt.Sprintf("2026-01-%02d", 1+i/2), record.AgentUse{
				Class: record.AgentOil, Action: record.AgentPlaced, Product: "Oil", Lot: "L1", Expiry: day(t, "2027-01"),
			}, record.AgentUse{Class: record.AgentHeavyLiquid, Action: record.AgentPlaced, Product: "Liquid", Lot: "L2", Expiry: day(t, "2027-01")}))
			visit := m.visit(right, "2026-02-01")
			visit.DueBy, visit.DueFor = day(t, fmt.Sprintf("2026-03-%02d", 1+i/3)), record.DueReview
			put(t, s, visit)
		}
		lists := map[string]func(store.Page) ([]string, string){
			"all eyes": func(p store.Page) ([]string, string) { return eyeKeys(t, s, "", p) },
			"search":   func(p store.Page) ([]string, string) { return eyeKeys(t, s, "a", p) },
			"due": func(p store.Page) ([]string, string) {
				page, err := s.Due(background, store.DueQuery{Page: p})
				if err != nil {
					t.Fatal(err)
				}
				var keys []string
				for _, r := range page.Rows {
					keys = append(keys, r.On+string(r.EyeID)+string(r.Reason)+string(r.Source))
				}
				return keys, page.Next
			},
			"in eyes": func(p store.Page) ([]string, string) {
				rows, next, err := s.InEyes(background, p)
				if err != nil {
					t.Fatal(err)
				}
				var keys []string
				for _, r := range rows {
					keys = append(keys, r.Content.Since.ISO()+string(r.EyeID)+string(r.Content.Medium))
				}
				return keys, next
			},
		}
		for name, list := range lists {
			whole, next := list(store.Page{Limit: store.MaxPage})
			if next != "" || len(whole) < 6 {
				t.Errorf("%s: %d rows and a next page", name, len(whole))
			}
			for size := 1; size <= 4; size++ {
				var walked []string
				for page := (store.Page{Limit: size}); ; {
					keys, next := list(page)
					walked = append(walked, keys...)
					if page.After = next; next == "" || len(walked) > 2*len(whole) {
						break
					}
				}
				if !slices.Equal(walked, whole) {
					t.Errorf("%s in pages of %d: %d rows, want %d", name, size, len(walked), len(whole))
				}
			}
			for bad, page := range map[string]store.Page{"size": {Limit: store.MaxPage + 1}, "mark": {After: "?"}} {
				if _, err := s.Eyes(background, "", page); fault.CodeOf(err) != fault.Invalid {
					t.Errorf("%s: bad %s: %v", name, bad, err)
				}
			}
		}
	})
}

func eyeKeys(t *testing.T, s *store.Store, text string, p store.Page) ([]string, string) {
	t.Helper()
	page, err := s.Eyes(background, text, p)
	if err != nil {
		t.Fatal(err)
	}
	var keys []string
	for _, r := range page.Rows {
		keys = append(keys, string(r.EyeID))
	}
	return keys, page.Next
}

func TestSearchFollowsChangesOfThePerson(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		_, person, _ := newMaker(t, 1).storedEye(s, "Amaryllis Quell", "U-1")
		found := func(text string) int {
			page, err := s.Eyes(background, text, store.Page{})
			if err != nil {
				t.Fatal(err)
			}
			return len(page.Rows)
		}
		person.Version, person.Names[0].Text = 1, "Amaryllis Vint"
		put(t, s, person)
		if found("quell") != 0 || found("vint") != 1 {
			t.Error("the search did not follow a new name")
		}
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindPerson, person.ID, 2, "never was here")
		})
		if found("vint") != 0 || found("") != 0 {
			t.Error("a struck-out person is found")
		}
		write(t, s, func(tx *store.Tx) error {
			return tx.Restore(background, record.KindPerson, person.ID, 3, "was here")
		})
		if found("vint") != 1 || found("") != 1 {
			t.Error("a restored person is not found")
		}
	})
}

func TestMergeAndUndo(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		persons := storePeople(t, s)
		ann, anders := persons["Ann Anders"], persons["Anders Ann"]
		readAs := func(id record.ID) record.ID {
			page, err := s.Eyes(background, "", store.Page{})
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range page.Rows {
				if r.PersonID == id {
					return r.ReadAs
				}
			}
			return ""
		}
		eyes := func(id record.ID) int {
			rows, err := s.EyesOfPerson(background, id)
			if err != nil {
				t.Fatal(err)
			}
			return len(rows)
		}
		var merge, undo record.ID
		write(t, s, func(tx *store.Tx) (err error) {
			merge, err = tx.Merge(background, ann, anders, "same birth date and address")
			return err
		})
		if readAs(anders) != ann || readAs(ann) != ann || eyes(ann) != 2 {
			t.Errorf("after the merge %s reads as %s, %d eyes", anders, readAs(anders), eyes(ann))
		}
		// Back to where it began is refused and changes nothing.
		err := s.Write(background, surgeon, func(tx *store.Tx) error {
			_, err := tx.Merge(background, anders, ann, "the other way round")
			return err
		})
		if fault.CodeOf(err) != fault.Conflict {
			t.Errorf("a circle: %v", err)
		}
		write(t, s, func(tx *store.Tx) (err error) {
			undo, err = tx.UndoMerge(background, merge, "two sisters")
			return err
		})
		if readAs(anders) != anders || eyes(ann) != 1 {
			t.Error("the undone merge holds")
		}
		write(t, s, func(tx *store.Tx) error {
			_, err := tx.UndoMerge(background, undo, "one after all")
			return err
		})
		if readAs(anders) != ann || eyes(ann) != 2 {
			t.Error("the undone undoing holds")
		}
		course, err := s.Course(background, mustEye(t, s, anders), false)
		if err != nil || course.ReadAs != ann || course.Persons[0].ID != anders {
			t.Errorf("the course reads as %s (%v)", course.ReadAs, err)
		}
		mustVerify(t, s)
	})
}

func mustEye(t *testing.T, s *store.Store, person record.ID) record.ID {
	t.Helper()
	rows, err := s.EyesOfPerson(background, person)
	if err != nil || len(rows) == 0 {
		t.Fatalf("no eye (%v)", err)
	}
	return rows[0].EyeID
}
