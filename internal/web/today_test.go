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
