package store_test

import (
	"errors"
	"strings"
	"sync"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// contested stores a visit that two people change from the same version, and
// returns the visit and the contest.
func contested(t *testing.T, s *store.Store, m *maker) (*record.Visit, record.ID) {
	t.Helper()
	_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
	visit := m.visit(right, "2026-03-01")
	put(t, s, visit)
	theirs := with(*visit, func(v *record.Visit) { v.Version, v.Lens = 1, record.LensAphakic })
	put(t, s, theirs)
	yours := with(*visit, func(v *record.Visit) { v.Version, v.Note = 1, "seen by me" })
	var out store.Outcome
	err := s.Write(background, nurse, func(tx *store.Tx) (err error) {
		out, err = tx.Put(background, yours, "typed in the evening")
		return err
	})
	var told *store.Contested
	if fault.CodeOf(err) != fault.Conflict || !errors.As(err, &told) || len(told.Contests) != 1 || told.Contests[0] != out.Contest || told.Error() == "" {
		t.Fatalf("the late change gives %v", err)
	}
	if out.Version != 2 {
		t.Errorf("the visit is at version %d, want theirs", out.Version)
	}
	return visit, out.Contest
}

func TestLateChangeIsKeptBesideTheOther(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		visit, contest := contested(t, s, newMaker(t, 1))
		if got := get(t, s, visit); got.Lens != record.LensAphakic || got.Note != "" {
			t.Errorf("the visit reads %+v, want theirs", got)
		}
		course, err := s.Course(background, visit.EyeID, false)
		if err != nil || len(course.Contests) != 1 {
			t.Fatalf("the course has %d contests (%v)", len(course.Contests), err)
		}
		c := course.Contests[0]
		if c.ID != contest || c.Kind != record.KindVisit || c.Entity != visit.ID || c.BaseVersion != 1 || c.TheirsVersion != 2 ||
			c.By != nurse || c.Reason != "typed in the evening" {
			t.Errorf("the contest reads %+v", c)
		}
		for name, test := range map[string]struct{ text, has, lacks string }{
			"base":   {string(c.Base), `"version":1`, "aphakic"},
			"theirs": {string(c.Theirs), "aphakic", "seen by me"},
			"yours":  {string(c.Yours), "seen by me", "aphakic"},
		} {
			if !strings.Contains(test.text, test.has) || strings.Contains(test.text, test.lacks) {
				t.Errorf("%s is %s", name, test.text)
			}
		}
		for _, q := range []struct {
			kind record.Kind
			id   record.ID
			want int
		}{{"", "", 1}, {record.KindVisit, visit.ID, 1}, {record.KindVisit, visit.EyeID, 0}} {
			list, err := s.OpenContests(background, q.kind, q.id)
			if err != nil || len(list) != q.want {
				t.Errorf("%v: %d contests (%v)", q, len(list), err)
			}
		}
		mustVerify(t, s)
	})
}

func TestResolve(t *testing.T) {
	merged := func(v *record.Visit) record.Entity {
		return with(*v, func(v *record.Visit) { v.Lens, v.Note = record.LensAphakic, "seen by me" })
	}
	for name, test := range map[string]struct {
		choice  store.Choice
		merged  func(*record.Visit) record.Entity
		lens    record.LensState
		note    record.FreeText
		version int64
	}{
		"theirs": {store.ChooseTheirs, nil, record.LensAphakic, "", 2},
		"yours":  {store.ChooseYours, nil, "", "seen by me", 3},
		"merged": {store.ChooseMerged, merged, record.LensAphakic, "seen by me", 3},
	} {
		t.Run(name, func(t *testing.T) {
			onBoth(t, func(t *testing.T, e engine) {
				s := open(t, e.place(t))
				visit, contest := contested(t, s, newMaker(t, 1))
				resolution := store.Resolution{Choice: test.choice, SeenVersion: 2, Reason: "asked both"}
				if test.merged != nil {
					resolution.Merged = test.merged(visit)
				}
				var version int64
				write(t, s, func(tx *store.Tx) (err error) {
					version, err = tx.Resolve(background, contest, resolution)
					return err
				})
				got := get(t, s, visit)
				if got.Lens != test.lens || got.Note != test.note || got.Version != test.version || version != test.version {
					t.Errorf("version %d, the visit reads %+v", version, got)
				}
				if list, err := s.OpenContests(background, "", ""); err != nil || len(list) != 0 {
					t.Errorf("%d contests are open still (%v)", len(list), err)
				}
				err := s.Write(background, surgeon, func(tx *store.Tx) error {
					_, err := tx.Resolve(background, contest, store.Resolution{Choice: store.ChooseTheirs, SeenVersion: test.version, Reason: "again"})
					return err
				})
				if fault.CodeOf(err) != fault.Invalid {
					t.Errorf("deciding twice: %v", err)
				}
				mustVerify(t, s)
			})
		})
	}
}

func TestResolveRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		visit, contest := contested(t, s, m)
		for name, test := range map[string]struct {
			contest    record.ID
			resolution store.Resolution
			code       fault.Code
		}{
			"no reason":    {contest, store.Resolution{Choice: store.ChooseYours, SeenVersion: 2}, fault.Invalid},
			"not there":    {visit.ID, store.Resolution{Choice: store.ChooseYours, SeenVersion: 2, Reason: "x"}, fault.NotFound},
			"moved on":     {contest, store.Resolution{Choice: store.ChooseYours, SeenVersion: 1, Reason: "x"}, fault.Conflict},
			"no choice":    {contest, store.Resolution{Choice: "both", SeenVersion: 2, Reason: "x"}, fault.Invalid},
			"nothing else": {contest, store.Resolution{Choice: store.ChooseMerged, SeenVersion: 2, Reason: "x"}, fault.Invalid},
			"another noun": {contest, store.Resolution{
				Choice: store.ChooseMerged, SeenVersion: 2, Reason: "x", Merged: with(*visit, func(v *record.Visit) { v.ID = m.id() }),
			}, fault.Invalid},
		} {
			err := s.Write(background, surgeon, func(tx *store.Tx) error {
				_, err := tx.Resolve(background, test.contest, test.resolution)
				return err
			})
			if fault.CodeOf(err) != test.code {
				t.Errorf("%s: %v, want %s", name, err, test.code)
			}
		}
		if list, err := s.OpenContests(background, "", ""); err != nil || len(list) != 1 {
			t.Errorf("%d contests are open (%v)", len(list), err)
		}
	})
}

// TestManyWritersAtOnce lets writers in several goroutines and two stores of one
// place change the same visit. Every change is either the next version or a
// contest, and the chain is whole.
func TestManyWritersAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		place.Now = clock()
		place.Random = seeded(7)
		stores := []*store.Store{open(t, place), open(t, place)}
		m := newMaker(t, 1)
		_, _, right := m.storedEye(stores[0], "Amaryllis Quell", "U-1")
		visit := m.visit(right, "2026-03-01")
		put(t, stores[0], visit)

		const writers, changes = 6, 8
		var wg sync.WaitGroup
		var mu sync.Mutex
		stood, late := 0, 0
		for w := range writers {
			wg.Go(func() {
				s := stores[w%len(stores)]
				for range changes {
					got, err := s.Get(background, record.KindVisit, visit.ID)
					if err != nil {
						t.Error(err)
						return
					}
					mine := got.(*record.Visit)
					mine.Note += record.FreeText("abcdef"[w : w+1])
					err = s.Write(background, surgeon, func(tx *store.Tx) error { return putAll(tx, mine) })
					var told *store.Contested
					mu.Lock()
					switch {
					case err == nil:
						stood++
					case errors.As(err, &told):
						late++
					default:
						t.Error(err)
					}
					mu.Unlock()
				}
			})
		}
		wg.Wait()
		if got := get(t, stores[1], visit); stood+late != writers*changes || got.Version != int64(1+stood) || len(got.Note) != stood {
			t.Errorf("%d changes stand, %d came late, version %d, note %q", stood, late, got.Version, got.Note)
		}
		if list, err := stores[0].OpenContests(background, "", ""); err != nil || len(list) != late {
			t.Errorf("%d contests (%v), want %d", len(list), err, late)
		}
		mustVerify(t, stores[0])
	})
}
