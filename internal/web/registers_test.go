package web

import (
	"context"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestRegisters lists what is in eyes with days and what is due, cuts the list at
// an age, and finds every eye with a lot.
func TestRegisters(t *testing.T) {
	b := newBench(t, 0)
	clinic := b.as(account.Clinic)
	rows, _, err := b.store.InEyes(context.Background(), store.Page{}, record.MediumOil, record.MediumHeavyOil)
	must(t, err)
	if len(rows) == 0 {
		t.Fatal("no eye of the clinic holds oil")
	}
	got := clinic.get("/registers?list=oil")
	for _, row := range rows {
		if !strings.Contains(got.body, string(row.EyeID)) {
			t.Errorf("%s is not in the register", row.Name)
		}
	}
	if !strings.Contains(got.body, "Days in the eye") || !strings.Contains(got.body, "lot ") {
		t.Error("days or lots are missing")
	}
	if got := clinic.get("/registers?list=oil&age=40000"); strings.Contains(got.body, string(rows[0].EyeID)) {
		t.Error("an age of a century leaves nobody out")
	}
	lot := rows[0].Content.Labels[0].Lot
	if got := clinic.get("/registers?list=lots&lot=" + strings.ToLower(lot)); !strings.Contains(got.body, string(rows[0].EyeID)) {
		t.Errorf("the eye with lot %s is not found", lot)
	}
	if got := clinic.get("/registers?list=lots&lot=nothing-has-this"); !strings.Contains(got.body, "No use of this lot") {
		t.Error("a lot that nobody got")
	}
	for _, list := range []string{"gas", "heavy-liquid", "lots", "other"} {
		if got := clinic.get("/registers?list=" + list); got.status != 200 {
			t.Errorf("%s: %d", list, got.status)
		}
	}
}
