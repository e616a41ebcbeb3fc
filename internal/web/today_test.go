package web

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestTodayTellsWhatWaits holds each thing that waits for somebody to the page,
// with its act, and an act that leads somewhere.
func TestTodayTellsWhatWaits(t *testing.T) {
	b := newBench(t, 0)
	ctx := context.Background()
	surgeon := b.as(account.Surgeon)
	row := b.firstEye()
	at := "/eyes/" + string(row.EyeID) + "/operations"
	var stored answer
	// Taken out before it was put in, which cannot be.
	for day, action := range map[string]string{"2026-11-20": "removed", "2026-11-22": "placed"} {
		typed := fields("on", day, "side", sideWords(row.Side), "procedure", "oil_exchange", "no-events", "yes",
			"agent-0-class", "oil", "agent-0-action", action, "agent-0-lot", "O-1", "agent-0-ml", "5")
		shown := surgeon.send(surgeon.get(at+"/new"), at, typed)
		if stored = surgeon.send(shown, at, typed); stored.status != http.StatusSeeOther {
			t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
		}
	}
	must(t, b.server.reviewRound(ctx, 0))
	got := surgeon.get("/")
	for _, wanted := range []string{
		"Operation records that nobody has signed", stored.header.Get("Location"),
		"Entries that disagree",
	} {
		if !strings.Contains(got.body, wanted) {
			t.Errorf("the page of today does not say %q", wanted)
		}
	}
	papers, err := b.store.Papers(ctx, store.DueUnsignedFigures, store.MaxPage)
	must(t, err)
	if has := strings.Contains(got.body, "Results that nobody has signed"); has != (len(papers) > 0) {
		t.Errorf("%d results wait; shown: %v", len(papers), has)
	}
	due, err := b.store.Due(ctx, store.DueQuery{From: "2026-11-24", Until: "2026-11-24"})
	must(t, err)
	for _, one := range due.Rows {
		if one.Reason != store.DueUnsignedPlan && one.On != record.DayOf(now).ISO() {
			t.Errorf("%s is not due today", one.On)
		}
	}
	if got := b.as(account.Auditor).get("/"); got.status != http.StatusSeeOther {
		t.Errorf("the auditor sees the page of today: %d", got.status)
	}
}

// TestGasThatMustBeGoneIsCounted: an eye filled longer ago than any gas is printed to
// stay is no alarm for ever; the page counts it and leads to the register.
func TestGasThatMustBeGoneIsCounted(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	row := b.firstEye()
	since, known := record.GasGoneSince(record.DayOf(now))
	if !known || since.ISO() != "2026-08-26" { // 90 days before the clock of the tests
		t.Fatalf("gas must be gone since %s", since.ISO())
	}
	ctx := context.Background()
	before, err := b.server.due.read(ctx, b.store, record.DayOf(now))
	must(t, err)
	at := "/eyes/" + string(row.EyeID) + "/operations"
	typed := fields("on", "2026-08-20", "side", sideWords(row.Side), "procedure", "vitrectomy", "no-events", "yes",
		"agent-0-class", "gas", "agent-0-action", "placed", "agent-0-gas", "SF6", "agent-0-percent", "20", "agent-0-lot", "G-1")
	shown := surgeon.send(surgeon.get(at+"/new"), at, typed)
	if stored := surgeon.send(shown, at, typed); stored.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
	}
	after, err := b.server.due.read(ctx, b.store, record.DayOf(now))
	must(t, err)
	if again, err := b.server.due.read(ctx, b.store, record.DayOf(now)); err != nil || again != after {
		t.Errorf("read twice although nobody wrote: %v", err)
	}
	hidden := func(k *keptLists) (n int64) {
		for _, p := range k.pages {
			n = max(n, p.Hidden)
		}
		return n
	}
	if got, want := hidden(after), hidden(before)+1; got != want {
		t.Errorf("%d eyes are counted, want %d", got, want)
	}
	for i, p := range after.pages {
		for _, r := range p.Rows {
			if r.EyeID == row.EyeID && r.Reason == record.DueGasCheck {
				t.Errorf("stands under %q", todayLists[i].Words)
			}
		}
	}
	page := surgeon.get("/")
	if !strings.Contains(page.body, "/registers?list=gas&amp;age=90") {
		t.Error("nothing leads to the register")
	}
	if got := surgeon.get("/registers?list=gas&age=90"); got.status != http.StatusOK || !strings.Contains(got.body, string(row.EyeID)) {
		t.Errorf("not in the register: %d", got.status)
	}
	for _, one := range todayLists {
		if got := surgeon.get("/due/" + one.Code); got.status != http.StatusOK || !strings.Contains(got.body, one.Words) {
			t.Errorf("%s: %d", one.Code, got.status)
		}
	}
	if got := surgeon.get("/due/nothing"); got.status != http.StatusNotFound {
		t.Errorf("a list that is not there: %d", got.status)
	}
}
