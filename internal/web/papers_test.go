package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestPapers prints card and leaflet of an eye with oil, refuses where nothing is in
// the eye, and prints the mixing sheet that was begun.
func TestPapers(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	oil := "/eyes/" + string(b.withMedium(record.MediumOil))
	for _, path := range []string{"/card.pdf", "/leaflet.pdf", "/leaflet.pdf?paper=letter"} {
		got := surgeon.get(oil + path)
		if got.status != http.StatusOK || !strings.HasPrefix(got.body, "%PDF-") || got.header.Get("Content-Type") != "application/pdf" {
			t.Errorf("%s: %d %.80s", path, got.status, got.body)
		}
	}
	if got := surgeon.get(oil + "/card.pdf?paper=napkin"); got.status != http.StatusUnprocessableEntity {
		t.Errorf("a paper that is none: %d", got.status)
	}
	if got := surgeon.get(oil + "/mixing.pdf"); got.status != http.StatusNotFound {
		t.Errorf("no sheet was begun: %d", got.status)
	}
	q := url.Values{"gas": {"c3f8"}, "percent": {"14%"}, "syringe-ml": {"50"}, "lot": {"1"}, "expiry": {"2027-01"}}
	if got := surgeon.post(oil+"/mixing", q); got.status != http.StatusSeeOther {
		t.Fatalf("not begun: %d", got.status)
	}
	if got := surgeon.get(oil + "/mixing.pdf"); !strings.HasPrefix(got.body, "%PDF-") {
		t.Errorf("the mixing sheet: %d %.200s", got.status, got.body)
	}
}

// TestVisitsCalendar writes the visits that are agreed, and names nobody.
func TestVisitsCalendar(t *testing.T) {
	b := newBench(t, 0)
	clinic := b.as(account.Clinic)
	due, err := b.store.Due(context.Background(), store.DueQuery{From: record.DayOf(now).ISO(), Page: store.Page{Limit: store.MaxPage}})
	must(t, err)
	found := false
	for _, row := range due.Rows {
		if row.Reason == store.DueUnsignedPlan {
			continue
		}
		got := clinic.get("/eyes/" + string(row.EyeID) + "/visits.ics")
		if got.status != http.StatusOK {
			continue // the day may come from an operation
		}
		found = true
		if !strings.HasPrefix(got.body, "BEGIN:VCALENDAR") || strings.Contains(got.body, row.Name) {
			t.Errorf("calendar of %s: %.200s", row.EyeID, got.body)
		}
	}
	if !found {
		t.Error("no eye of the clinic has a visit ahead")
	}
}
