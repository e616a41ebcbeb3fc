package store_test

import (
	"errors"
	"flag"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// model is the record as a person would keep it on paper: each visit with all
// its versions, the contests, and nothing else.
type model struct {
	s       *store.Store
	m       *maker
	eyes    []*record.Eye
	visits  []record.ID
	version map[record.ID]int64
	notes   map[record.ID][]record.FreeText // by version, from 1
	struck  map[record.ID]bool
	onEye   map[record.ID]record.ID
	open    []record.ID
	yours   map[record.ID]record.FreeText
	about   map[record.ID]record.ID
	entries int64
}

func newModel(t *testing.T, s *store.Store, seed uint64) *model {
	m := newMaker(t, seed)
	x := &model{
		s: s, m: m, version: map[record.ID]int64{}, notes: map[record.ID][]record.FreeText{}, struck: map[record.ID]bool{},
		onEye: map[record.ID]record.ID{}, yours: map[record.ID]record.FreeText{}, about: map[record.ID]record.ID{},
	}
	for i := range 2 {
		_, _, right := m.storedEye(s, people[i].name, fmt.Sprint("U-", seed, "-", i))
		x.eyes = append(x.eyes, right)
	}
	head, err := s.Head(background)
	if err != nil {
		t.Fatal(err)
	}
	x.entries = head.Entries
	return x
}

// act runs a change and says whether it was refused, contested or stands.
func (x *model) act(t *rapid.T, change func(*store.Tx) error) (code fault.Code, contest record.ID) {
	err := x.s.Write(background, surgeon, change)
	var late *store.Contested
	if errors.As(err, &late) {
		return "", late.Contests[0]
	}
	if err != nil && fault.CodeOf(err) == fault.Internal {
		t.Fatal(err)
	}
	return fault.CodeOf(err), ""
}

func (x *model) visit(id record.ID, version int64, note record.FreeText) *record.Visit {
	i := slices.IndexFunc(x.eyes, func(e *record.Eye) bool { return e.ID == x.onEye[id] })
	v := x.m.visit(x.eyes[i], "2026-02-01")
	v.ID, v.Version, v.Note = id, version, note
	return v
}

// latest is what the note reads now.
func (x *model) latest(id record.ID) record.FreeText { return x.notes[id][len(x.notes[id])-1] }

func (x *model) next(id record.ID, note record.FreeText) {
	x.version[id]++
	x.notes[id] = append(x.notes[id], note)
	x.entries++
}

func (x *model) actions() map[string]func(*rapid.T) {
	note := rapid.SampledFrom([]record.FreeText{"a", "b", "c", "d"})
	return map[string]func(*rapid.T){
		"create": func(t *rapid.T) {
			id := x.m.id()
			x.onEye[id] = rapid.SampledFrom(x.eyes).Draw(t, "eye").ID
			text := note.Draw(t, "note")
			if code, _ := x.act(t, func(tx *store.Tx) error { return putAll(tx, x.visit(id, 0, text)) }); code != "" {
				t.Fatalf("create: %s", code)
			}
			x.visits = append(x.visits, id)
			x.next(id, text)
		},
		"change": func(t *rapid.T) {
			id := x.pick(t)
			from := rapid.Int64Range(0, x.version[id]+1).Draw(t, "from")
			x.change(t, id, from, note.Draw(t, "note"))
		},
		"change and change one's mind": func(t *rapid.T) {
			id := x.pick(t)
			mind := errors.New("no")
			err := x.s.Write(background, surgeon, func(tx *store.Tx) error {
				_ = putAll(tx, x.visit(id, x.version[id], "never"))
				return mind
			})
			if !errors.Is(err, mind) {
				t.Fatal(err)
			}
		},
		"strike out": func(t *rapid.T) { x.mark(t, true) },
		"restore":    func(t *rapid.T) { x.mark(t, false) },
		"resolve": func(t *rapid.T) {
			if len(x.open) == 0 {
				// rapid's way to say that an action does not apply now; it takes
				// another one, and the test is not skipped.
				t.Skip("no contest is open")
			}
			x.resolve(t)
		},
		"": x.check,
	}
}

func (x *model) pick(t *rapid.T) record.ID {
	if len(x.visits) == 0 {
		// As above: this action does not apply yet.
		t.Skip("no visit yet")
	}
	return rapid.SampledFrom(x.visits).Draw(t, "visit")
}

func (x *model) change(t *rapid.T, id record.ID, from int64, text record.FreeText) {
	code, contest := x.act(t, func(tx *store.Tx) error { return putAll(tx, x.visit(id, from, text)) })
	now := x.version[id]
	same := !x.struck[id] && text == x.latest(id)
	switch {
	case from > now || (x.struck[id] && from == now):
		if code != fault.Invalid {
			t.Fatalf("from %d of %d, struck %v: %q", from, now, x.struck[id], code)
		}
	case same:
		if code != "" || contest != "" {
			t.Fatalf("the same: %q %q", code, contest)
		}
	case from < now:
		if contest == "" {
			t.Fatalf("from %d of %d: %q and no contest", from, now, code)
		}
		x.open = append(x.open, contest)
		x.yours[contest], x.about[contest] = text, id
		x.entries++
	default:
		if code != "" || contest != "" {
			t.Fatalf("change: %q %q", code, contest)
		}
		x.next(id, text)
	}
}

func (x *model) mark(t *rapid.T, strike bool) {
	id := x.pick(t)
	version := rapid.Int64Range(max(1, x.version[id]-1), x.version[id]).Draw(t, "version")
	code, _ := x.act(t, func(tx *store.Tx) error {
		if strike {
			return tx.StrikeOut(background, record.KindVisit, id, version, "mistaken")
		}
		return tx.Restore(background, record.KindVisit, id, version, "not mistaken")
	})
	switch {
	case version != x.version[id]:
		if code != fault.Conflict {
			t.Fatalf("of an older version: %q", code)
		}
	case x.struck[id] == strike:
		if code != fault.Invalid {
			t.Fatalf("twice: %q", code)
		}
	case code != "":
		t.Fatalf("mark: %q", code)
	default:
		x.next(id, x.latest(id))
		x.struck[id] = strike
	}
}

func (x *model) resolve(t *rapid.T) {
	i := rapid.IntRange(0, len(x.open)-1).Draw(t, "contest")
	contest := x.open[i]
	id := x.about[contest]
	r := store.Resolution{Choice: rapid.SampledFrom([]store.Choice{store.ChooseTheirs, store.ChooseYours, store.ChooseMerged}).Draw(t, "choice"), SeenVersion: x.version[id], Reason: "decided"}
	result := x.yours[contest]
	if r.Choice == store.ChooseMerged {
		result += " and theirs"
		r.Merged = x.visit(id, 0, result)
	}
	code, _ := x.act(t, func(tx *store.Tx) error {
		_, err := tx.Resolve(background, contest, r)
		return err
	})
	switch {
	case r.Choice == store.ChooseTheirs:
		if code != "" {
			t.Fatalf("theirs: %q", code)
		}
	case x.struck[id]:
		if code != fault.Invalid {
			t.Fatalf("into a struck-out visit: %q", code)
		}
		return
	case code != "":
		t.Fatalf("%s: %q", r.Choice, code)
	default:
		x.next(id, result)
	}
	x.entries++
	x.open = slices.Delete(x.open, i, i+1)
}

// check compares the whole state after every step.
func (x *model) check(t *rapid.T) {
	for _, e := range x.eyes {
		for _, withStruck := range []bool{false, true} {
			course, err := x.s.Course(background, e.ID, withStruck)
			if err != nil {
				t.Fatal(err)
			}
			want, contests := 0, 0
			for id, on := range x.onEye {
				if on == e.ID && x.version[id] > 0 && (withStruck || !x.struck[id]) {
					want++
				}
			}
			for _, c := range x.open {
				if x.onEye[x.about[c]] == e.ID {
					contests++
				}
			}
			if len(course.Visits) != want || len(course.Contests) != contests {
				t.Fatalf("%d visits and %d contests, want %d and %d", len(course.Visits), len(course.Contests), want, contests)
			}
			for _, v := range course.Visits {
				if v.Note != x.latest(v.ID) || v.Version != x.version[v.ID] || v.Struck() != x.struck[v.ID] {
					t.Fatalf("visit %s reads %q at version %d, want %q at %d", v.ID, v.Note, v.Version, x.latest(v.ID), x.version[v.ID])
				}
			}
		}
	}
	if head, err := x.s.Head(background); err != nil || head.Entries != x.entries {
		t.Fatalf("%d entries (%v), want %d", head.Entries, err, x.entries)
	}
}

// fewChecks keeps the number of random runs to what a test run can spend on two
// databases, unless the command line says otherwise.
func fewChecks(t *testing.T) {
	t.Helper()
	checks, steps := "8", "25"
	if testing.Short() {
		checks, steps = "3", "15"
	}
	for name, value := range map[string]string{"rapid.checks": checks, "rapid.steps": steps} {
		f := flag.Lookup(name)
		if f == nil {
			t.Fatalf("rapid has no flag %s any more", name)
		}
		if f.Value.String() == f.DefValue {
			if err := flag.Set(name, value); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestRandomOperationsAgainstAModel runs random operations on a record and on
// the model; at the end the record verifies, and each version is in the history.
func TestRandomOperationsAgainstAModel(t *testing.T) {
	fewChecks(t)
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		seed := uint64(0)
		rapid.Check(t, func(r *rapid.T) {
			seed++
			x := newModel(t, s, seed)
			r.Repeat(x.actions())
			for id, notes := range x.notes {
				entries, err := s.History(background, record.KindVisit, id)
				if err != nil || len(entries) != len(notes) {
					r.Fatalf("%d entries (%v), want %d", len(entries), err, len(notes))
				}
			}
		})
		mustVerify(t, s)
	})
}
