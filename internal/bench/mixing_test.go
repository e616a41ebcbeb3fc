package bench

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/tamponade"
)

// people are two of them, by name and account.
func people(t *testing.T, first, second string) tamponade.Pair {
	t.Helper()
	by, err := tamponade.NewPair(tamponade.Person{Name: first, Identifier: first}, tamponade.Person{Name: second, Identifier: second})
	if err != nil {
		t.Fatal(err)
	}
	return by
}

// TestMixingIsReadBack compares what the second person read, and refuses what was
// misread, a stop that stands, and somebody else than who lifted one.
func TestMixingIsReadBack(t *testing.T) {
	percent := "14"
	asked := Mix{Gas: "c3f8", Percent: &percent, SyringeML: 50, Cavity: "air", Lens: "phakic", Fill: "85", Closure: "unknown"}
	by := people(t, "Anna Moor", "Carl Winter")
	m, err := NewMixing(asked, "Right", "123", "2027-01")
	if err != nil {
		t.Fatal(err)
	}
	want := record.MixingFacts{Gas: record.C3F8, Percent: 14, GasML: 7, TotalML: 50, DivisionML: 1}
	if facts, err := m.Facts(); err != nil || facts != want {
		t.Errorf("%+v (%v), want %+v", facts, err, want)
	}
	for name, read := range map[string]MixingCheck{
		"another gas":    {"SF6", "14", 7, 50},
		"another share":  {"C3F8", "20", 7, 50},
		"two readings":   {"C3F8", "0.14 %", 7, 50},
		"another volume": {"C3F8", "14", 8, 50},
	} {
		if got, err := m.Check(read, by); fault.CodeOf(err) != fault.Conflict || got != (record.MixingFacts{}) {
			t.Errorf("%s is taken: %v", name, err)
		}
	}
	want.DivisionML = 0
	read, err := m.Check(MixingCheck{"C3F8", "14", 7, 50}, by)
	if err != nil || read != want {
		t.Fatalf("%+v (%v)", read, err)
	}
	data, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ReadMixing(data)
	if err != nil || *again.Asked.Percent != "14" {
		t.Errorf("%+v %v", again, err)
	}
	label, err := again.Label(read, by, time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC))
	if err != nil || !strings.Contains(strings.Join(label, "\n"), "RIGHT eye\nmixed 14:05 by Anna Moor, read by Carl Winter") {
		t.Errorf("%v %v", label, err)
	}
	for _, bad := range []string{"{", `{"schema":"other","version":1}`, `{"schema":"limitans mixing sheet","version":1}`} {
		if _, err := ReadMixing([]byte(bad)); err == nil {
			t.Errorf("%s is read", bad)
		}
	}
	twenty := "20"
	asked.Percent = &twenty
	if _, err := NewMixing(asked, "Right", "1", "2027-01"); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a stop is signed: %v", err)
	}
	// Lifted by two people, one of whom must be the one who checks.
	asked.Lift, asked.First, asked.Second = []string{"above_non_expansile=leaking ports, giant tear", "number_of_another_gas=read twice from the bottle"}, "Anna Moor", "Carl Winter"
	lifted, err := NewMixing(asked, "Left", "1", "not told")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lifted.Check(MixingCheck{"C3F8", "20", 10, 50}, people(t, "Anna Moor", "Eve Lund")); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a third person checks what another lifted: %v", err)
	}
	if _, err := NewMixing(asked, "Left", "1", ""); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no expiry: %v", err)
	}
	if _, err := NewMixing(asked, "", "1", "2027-01"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no side: %v", err)
	}
}

// TestMixingOfAir has no gas and no share, in the record neither.
func TestMixingOfAir(t *testing.T) {
	m, err := NewMixing(Mix{Gas: "air", SyringeML: 50, Cavity: "air", Lens: "phakic", Fill: "85", Closure: "unknown"}, "Left", "not told", "not told")
	if err != nil {
		t.Fatal(err)
	}
	facts, err := m.Facts()
	if err != nil || facts.Gas != "" || facts.Percent != 0 || facts.TotalML != 50 {
		t.Errorf("%+v (%v)", facts, err)
	}
	by := people(t, "Anna Moor", "Carl Winter")
	read, err := m.Check(MixingCheck{Gas: "air", GasML: facts.GasML, TotalML: 50}, by)
	if err != nil {
		t.Fatal(err)
	}
	if label, err := m.Label(read, by, time.Time{}); err != nil || label[0] != "GAS FOR THE EYE: AIR" {
		t.Errorf("%v %v", label, err)
	}
}
