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

// TestUnitIsSetByTheAdministrator changes the unit, finds it on the sheets at once and
// in the history, and refuses what nobody can call and what came too late.
func TestUnitIsSetByTheAdministrator(t *testing.T) {
	b := newBench(t, 0)
	boss, surgeon := b.as(account.Administrator), b.as(account.Surgeon)
	shown := boss.get("/unit")
	if !strings.Contains(shown.body, `value="01632 960 142"`) || !strings.Contains(shown.body, `name="version" value="1"`) || strings.Contains(shown.body, "is missing") {
		t.Fatalf("the unit of the clinic: %d %s", shown.status, shown.body)
	}
	fresh := url.Values{"version": {"1"}, "name": {" Eye  Clinic Southgate "}, "day_phone": {"01632 960 777"}, "night_phone": {""}, "paper": {"Letter"}}
	if got := boss.post("/unit", fresh); got.status != http.StatusSeeOther {
		t.Fatalf("not kept: %d %s", got.status, got.body)
	}
	after := boss.get("/unit?kept=1").body
	for _, want := range []string{"Eye Clinic Southgate (was Harbour Eye Unit, Port Selvane (invented))", "Telephone out of hours: taken away (was 01632 960 199)", "Paper: Letter (was A4)", "No telephone out of hours is set", `value="Letter" checked`} {
		if !strings.Contains(after, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	oil := "/eyes/" + string(b.withMedium(record.MediumOil))
	page := surgeon.get(oil + "/card.html").body
	for _, want := range []string{"Eye Clinic Southgate", "01632\u00a0960\u00a0777", `<p class="write"></p>`, "paper-letter", "A telephone is missing", "An administrator sets it"} {
		if !strings.Contains(page, want) {
			t.Errorf("the card does not hold %q", want)
		}
	}
	if strings.Contains(page, "960\u00a0199") {
		t.Error("the card has a number that was taken away")
	}
	fresh.Set("name", "Too Late Clinic")
	if got := boss.post("/unit", fresh); got.status != http.StatusConflict || !strings.Contains(got.body, "changed it meanwhile") || !strings.Contains(got.body, `name="version" value="2"`) {
		t.Errorf("what came too late: %d", got.status)
	}
	bad := url.Values{"version": {"2"}, "day_phone": {"the desk"}, "paper": {"A5"}}
	if got := boss.post("/unit", bad); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "is no number that a patient can call") {
		t.Errorf("what nobody can call: %d", got.status)
	}
	if got := boss.post("/unit", url.Values{}); got.status != http.StatusUnprocessableEntity {
		t.Errorf("no version: %d", got.status)
	}
	due, err := b.store.Due(context.Background(), store.DueQuery{From: record.DayOf(now).ISO(), Page: store.Page{Limit: store.MaxPage}})
	must(t, err)
	for _, row := range due.Rows {
		if got := surgeon.get("/eyes/" + string(row.EyeID) + "/visits.ics"); got.status == http.StatusOK {
			plain := strings.ReplaceAll(got.body, "\r\n ", "")
			if !strings.Contains(plain, "LOCATION:Eye Clinic Southgate") || !strings.Contains(plain, "DESCRIPTION:Telephone by day: 01632 960 777") {
				t.Errorf("the calendar says %s", got.body)
			}
			return
		}
	}
	t.Error("no eye of the clinic has a visit ahead")
}
