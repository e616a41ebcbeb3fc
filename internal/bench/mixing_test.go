package bench

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"limitans/fault"
)

// TestMixingNeedsTwoAccounts signs a sheet, and is refused for the same account,
// for what was misread, and while a stop stands.
func TestMixingNeedsTwoAccounts(t *testing.T) {
	percent := "14"
	asked := Mix{Gas: "c3f8", Percent: &percent, SyringeML: 50, Cavity: "air", Lens: "phakic", Fill: "85", Closure: "unknown"}
	when := time.Date(2026, 11, 24, 14, 5, 0, 0, time.UTC)
	maker, checker := Signer{"a", "Anna Moor", when}, Signer{"b", "Carl Winter", when}
	m, err := NewMixing(asked, "Right", "123", "2027-01", maker)
	if err != nil {
		t.Fatal(err)
	}
	right := MixingCheck{"C3F8", "14", 7, 50}
	for name, bad := range map[string]struct {
		read MixingCheck
		by   Signer
	}{
		"the same account": {right, maker},
		"another gas":      {MixingCheck{"SF6", "14", 7, 50}, checker},
		"another share":    {MixingCheck{"C3F8", "20", 7, 50}, checker},
		"two readings":     {MixingCheck{"C3F8", "0.14 %", 7, 50}, checker},
		"another volume":   {MixingCheck{"C3F8", "14", 8, 50}, checker},
	} {
		got, err := m.Check(bad.read, bad.by)
		if fault.CodeOf(err) != fault.Conflict || got.Checker != nil {
			t.Errorf("%s is signed: %v", name, err)
		}
	}
	signed, err := m.Check(right, checker)
	if err != nil || !strings.Contains(strings.Join(signed.Label, "\n"), "RIGHT eye") || m.Checker != nil {
		t.Fatalf("%v %v", err, signed.Label)
	}
	data, err := json.Marshal(signed)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ReadMixing(data)
	if err != nil || again.Checker.Name != "Carl Winter" || *again.Asked.Percent != "14" || again.Read.GasML != 7 {
		t.Errorf("%+v %v", again, err)
	}
	if _, err := again.Check(right, Signer{"c", "Eve Lund", when}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("checked twice: %v", err)
	}
	for _, bad := range []string{"{", `{"schema":"other","version":1}`} {
		if _, err := ReadMixing([]byte(bad)); err == nil {
			t.Errorf("%s is read", bad)
		}
	}
	twenty := "20"
	asked.Percent = &twenty
	if _, err := NewMixing(asked, "Right", "1", "2027-01", maker); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a stop is signed: %v", err)
	}
	// Lifted by two people, one of whom must be the one who checks.
	asked.Lift, asked.First, asked.Second = []string{"above_non_expansile=leaking ports, giant tear", "number_of_another_gas=read twice from the bottle"}, "Anna Moor", "Carl Winter"
	lifted, err := NewMixing(asked, "Left", "1", "not told", maker)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lifted.Check(MixingCheck{"C3F8", "20", 10, 50}, Signer{"c", "Eve Lund", when}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a third person checks what another lifted: %v", err)
	}
	if _, err := NewMixing(asked, "Left", "1", "", maker); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no expiry: %v", err)
	}
	if _, err := NewMixing(asked, "", "1", "2027-01", maker); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no side: %v", err)
	}
}
