package store_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

func TestHistorySaysWhoWhenWhereAndWhat(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		visit := m.visit(right, "2026-03-01")
		put(t, s, visit)
		visit.Version = 1
		visit.Lens = record.LensPseudophakic
		err := s.Write(background, nurse, func(tx *store.Tx) error {
			_, err := tx.Put(background, visit, "letter from the other clinic")
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		entries, err := s.History(background, record.KindVisit, visit.ID)
		if err != nil || len(entries) != 2 {
			t.Fatalf("%d entries (%v), want 2", len(entries), err)
		}
		first, second := entries[0], entries[1]
		if first.Action != store.ActionCreate || first.By != surgeon || first.Before != "" || first.Version != 1 || first.Reason != "" {
			t.Errorf("first entry %+v", first)
		}
		if second.Action != store.ActionChange || second.By != nurse || second.Version != 2 || second.Reason != "letter from the other clinic" {
			t.Errorf("second entry %+v", second)
		}
		if second.Before != first.After || !strings.Contains(second.After, `"lens":"pseudophakic"`) || strings.Contains(second.Before, "lens") {
			t.Errorf("before %s\nafter %s", second.Before, second.After)
		}
		if !second.At.After(first.At) || first.At.Before(start) {
			t.Errorf("times %v, %v", first.At, second.At)
		}
		// The whole history, in two stretches, is the same chain as the head says.
		all, err := s.HistorySince(background, 0, 3)
		if err != nil || len(all) != 3 {
			t.Fatalf("%d entries (%v), want 3", len(all), err)
		}
		rest, err := s.HistorySince(background, all[2].Number, 100)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, rest...)
		head, err := s.Head(background)
		if last := all[len(all)-1]; err != nil || head.Entries != int64(len(all)) || last.Hash != head.Hash || last.Number != head.Entries {
			t.Errorf("head %+v (%v), last entry %d %s", head, err, last.Number, last.Hash)
		}
		checkChain(t, all)
	})
}

// checkChain is a second way to the hashes: the texts put together by hand as
// the documentation of the history says.
func checkChain(t *testing.T, all []store.Entry) {
	t.Helper()
	previous := ""
	for _, e := range all {
		var content strings.Builder
		for _, part := range []string{
			"limitans history 1", fmt.Sprint(e.Number), previous, e.At.UTC().Format("2006-01-02T15:04:05.000000") + "Z",
			string(e.By.AccountID), string(e.By.Place), string(e.Action), string(e.Kind), string(e.Entity), fmt.Sprint(e.Version),
			e.Before, e.After, e.Reason,
		} {
			fmt.Fprintf(&content, "%d:%s,", len(part), part)
		}
		sum := sha256.Sum256([]byte(content.String()))
		if got := hex.EncodeToString(sum[:]); got != e.Hash {
			t.Errorf("entry %d: hash %s, by hand %s", e.Number, e.Hash, got)
		}
		previous = e.Hash
	}
}

func TestCanonicalJSON(t *testing.T) {
	for _, test := range []struct {
		in   any
		want string
	}{
		{map[string]any{"b": 1, "a": []int{2}}, `{"a":[2],"b":1}`},
		{json.RawMessage(`{ "z": 0.30, "a": {"d":1,"c":1e5} }`), `{"a":{"c":1e5,"d":1},"z":0.30}`},
		{"<&> é\u2028", "\"<&> é\\u2028\""},
		{"typed \ufffd", "\"typed \ufffd\""},
		{`typed \ufffd`, `"typed \\ufffd"`},
	} {
		if got, err := store.Canonical(test.in); err != nil || got != test.want {
			t.Errorf("%v: %s (%v), want %s", test.in, got, err, test.want)
		}
	}
	if _, err := store.Canonical("no text \xff"); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("bytes that are no text: %v", err)
	}
}

func TestPutRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		_, _, other := m.storedEye(s, "Bartholo Vint", "U-2")
		visit := m.visit(right, "2026-03-01")
		put(t, s, visit)
		signed := &record.Plan{
			Base: m.base(), PatientID: right.PatientID, EyeID: right.ID, Revision: 1, MadeOn: day(t, "2026-03-01"), MadeBy: "account-1",
			Side: eye.Right, Options: []record.PlanOption{{Code: "peel", Name: "peel"}}, Chosen: "peel",
			Signed: &record.Signature{By: surgeon, At: start},
		}
		put(t, s, signed)
		struck := m.visit(right, "2026-03-02")
		put(t, s, struck)
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindVisit, struck.ID, 1, "another patient's")
		})

		for name, test := range map[string]struct {
			noun record.Entity
			code fault.Code
		}{
			"no identifier":            {&record.Patient{}, fault.Malformed},
			"a version of nothing":     {&record.Patient{Base: record.Base{ID: m.id(), Version: 3}}, fault.NotFound},
			"a version to come":        {with(*visit, func(v *record.Visit) { v.Version = 9 }), fault.Invalid},
			"struck out from the door": {with(*visit, func(v *record.Visit) { v.Version, v.StruckOut = 1, &record.StrikeOut{Reason: "x"} }), fault.Invalid},
			"struck out before":        {with(*struck, func(v *record.Visit) { v.Version, v.Lens = 2, record.LensAphakic }), fault.Invalid},
			"eye of another patient":   {with(*visit, func(v *record.Visit) { v.ID, v.PatientID = m.id(), other.PatientID }), fault.Invalid},
			"eye becomes the other":    {with(*right, func(e *record.Eye) { e.Version, e.Side = 1, eye.Left }), fault.Invalid},
			"eye changes its patient":  {with(*right, func(e *record.Eye) { e.Version, e.PatientID = 1, other.PatientID }), fault.Invalid},
			"eye that is not there":    {with(*visit, func(v *record.Visit) { v.ID, v.EyeID = m.id(), m.id() }), fault.Invalid},
			"patient that is not there": {
				&record.Eye{Base: m.base(), PatientID: m.id(), Side: eye.Left}, fault.Invalid,
			},
			"signed":  {with(*signed, func(p *record.Plan) { p.Version, p.GaugeG = 1, 25 }), fault.Invalid},
			"no text": {with(*visit, func(v *record.Visit) { v.Version, v.Note = 1, "\xff" }), fault.Malformed},
			"zero byte": {
				&record.Batch{Base: m.base(), Class: record.AgentOil, Product: "Oil", Lot: "A\x00B", Expiry: day(t, "2027-01")}, fault.Malformed,
			},
		} {
			before, err := s.Head(background)
			if err != nil {
				t.Fatal(err)
			}
			err = s.Write(background, surgeon, func(tx *store.Tx) error {
				_, err := tx.Put(background, test.noun, "")
				return err
			})
			if fault.CodeOf(err) != test.code {
				t.Errorf("%s: %v, want code %s", name, err, test.code)
			}
			if after, err := s.Head(background); err != nil || after != before {
				t.Errorf("%s: the history moved (%v)", name, err)
			}
		}
		mustVerify(t, s)
	})
}

// with is a changed copy.
func with[N any](noun N, change func(*N)) *N {
	change(&noun)
	return &noun
}

// mustVerify fails the test when the record does not verify.
func mustVerify(t testing.TB, s *store.Store) *store.Report {
	t.Helper()
	report, err := s.Verify(background)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range report.Problems {
		t.Errorf("verification: %s: %s", p.Where, p.What)
	}
	return report
}

func TestEyeOnWhichNothingHangsMayBeMended(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		_, _, right := newMaker(t, 1).storedEye(s, "Amaryllis Quell", "U-1")
		right.Version, right.Side = 1, eye.Left
		put(t, s, right)
		if got := get(t, s, right); got.Side != eye.Left {
			t.Errorf("the side is %v", got.Side)
		}
	})
}

func TestStopsOfTheRecordForbidStoring(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		wrong := m.operation(right, "2026-03-01")
		wrong.Side = eye.Left
		err := s.Write(background, surgeon, func(tx *store.Tx) error { return putAll(tx, wrong) })
		var refused *store.Refused
		if fault.CodeOf(err) != fault.Invalid || !errors.As(err, &refused) || refused.Stops[0].Severity != record.Stop {
			t.Errorf("the wrong side: %v", err)
		}
	})
}

func TestErrorInsideATransactionCannotBeSwallowed(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		lost := &record.Eye{Base: m.base(), PatientID: m.id(), Side: eye.Left}
		err := s.Write(background, surgeon, func(tx *store.Tx) error {
			if _, err := tx.Put(background, lost, ""); err == nil {
				t.Error("an eye without a patient was stored")
			}
			return nil
		})
		if err == nil {
			t.Error("the transaction was committed after a noun was half written")
		}
		mustVerify(t, s)
	})
}

func TestSameContentChangesNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		before, _ := s.Head(background)
		for _, version := range []int64{0, 1} {
			right.Version = version
			if got := put(t, s, right); got != 1 {
				t.Errorf("version %d after storing the same", got)
			}
		}
		if after, _ := s.Head(background); after != before || before.Entries != 3 {
			t.Errorf("the history went from %+v to %+v", before, after)
		}
		if right.Version != 1 {
			t.Error("Put changed the caller's noun")
		}
	})
}

func TestStrikeOutStaysLegible(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		visit := m.visit(right, "2026-03-01")
		put(t, s, visit)
		strike := func(version int64, reason string) error {
			return s.Write(background, nurse, func(tx *store.Tx) error {
				return tx.StrikeOut(background, record.KindVisit, visit.ID, version, reason)
			})
		}
		if err := strike(1, "  "); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("without a reason: %v", err)
		}
		if err := strike(2, "wrong eye"); fault.CodeOf(err) != fault.Conflict {
			t.Errorf("of another version: %v", err)
		}
		if err := strike(1, "wrong eye"); err != nil {
			t.Fatal(err)
		}
		if err := strike(2, "again"); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("twice: %v", err)
		}
		got := get(t, s, visit)
		if got.StruckOut == nil || got.StruckOut.Reason != "wrong eye" || got.StruckOut.By != nurse || got.Version != 2 || got.On != visit.On {
			t.Errorf("struck out it reads %+v", got)
		}
		for withStruck, want := range map[bool]int{false: 0, true: 1} {
			course, err := s.Course(background, right.ID, withStruck)
			if err != nil || len(course.Visits) != want {
				t.Errorf("with struck %v: %d visits (%v), want %d", withStruck, len(course.Visits), err, want)
			}
		}
		write(t, s, func(tx *store.Tx) error {
			return tx.Restore(background, record.KindVisit, visit.ID, 2, "it was right after all")
		})
		if got := get(t, s, visit); got.Struck() || got.Version != 3 {
			t.Errorf("restored it reads %+v", got)
		}
		entries, err := s.History(background, record.KindVisit, visit.ID)
		if err != nil || len(entries) != 3 || entries[1].Action != store.ActionStrikeOut || entries[2].Action != store.ActionRestore {
			t.Errorf("%d entries (%v)", len(entries), err)
		}
		missing := m.id()
		err = s.Write(background, nurse, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindVisit, missing, 1, "x")
		})
		if fault.CodeOf(err) != fault.NotFound {
			t.Errorf("of nothing: %v", err)
		}
		mustVerify(t, s)
	})
}
