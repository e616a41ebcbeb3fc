package web

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"limitans/internal/account"
	"limitans/internal/paper"
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
	for _, path := range []string{"/card.html", "/leaflet.html", "/leaflet.html?paper=letter"} {
		got := surgeon.get(oil + path)
		size := "paper-a4"
		if strings.Contains(path, "letter") {
			size = "paper-letter"
		}
		if got.status != http.StatusOK || !strings.Contains(got.body, `<article class="sheet `+size) || !strings.Contains(got.body, ".pdf?paper=") {
			t.Errorf("%s: %d %.80s", path, got.status, got.body)
		}
		style := regexp.MustCompile(`href="(/assets/sheet-[0-9a-f]{12}\.css)"`).FindStringSubmatch(got.body)
		if style == nil {
			t.Fatalf("%s names no style", path)
		}
		sheet := surgeon.get(style[1])
		fonts := regexp.MustCompile(`url\("([^"]+)"\)`).FindAllStringSubmatch(sheet.body, -1)
		if len(fonts) != 6 {
			t.Errorf("the style names %d fonts", len(fonts))
		}
		for _, font := range fonts {
			if got := surgeon.get("/assets/" + font[1]); got.status != http.StatusOK || got.header.Get("Content-Type") != "font/woff" {
				t.Errorf("%s: %d %s", font[1], got.status, got.header.Get("Content-Type"))
			}
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

// TestMixingSheetOfTheBench prints the recipe of the bench for nobody yet, with the
// same numbers as the answer, and a stop without a recipe.
func TestMixingSheetOfTheBench(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Theatre)
	q := url.Values{"ask": {"1"}, "gas": {"c3f8"}, "percent": {"14%"}, "syringe-ml": {"50"}, "axial-length": {"24"}}
	answer := nurse.get("/bench/mix?" + q.Encode())
	at := regexp.MustCompile(`href="(/bench/mix/sheet\.(?:html|pdf)[^"]*)"`).FindAllStringSubmatch(answer.body, -1)
	if len(at) != 2 {
		t.Fatalf("the answer leads to %v", at)
	}
	page := nurse.get(html.UnescapeString(at[0][1]))
	for _, want := range []string{"FOR NOBODY YET", "7\u00a0mL", "50\u00a0mL", "43\u00a0mL of air", "RIGHT EYE", "LEFT EYE", "Harbour Eye Unit"} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the sheet does not say %q", want)
		}
	}
	if got := nurse.get(html.UnescapeString(at[1][1])); !strings.HasPrefix(got.body, "%PDF-") {
		t.Errorf("the PDF: %d %.80s", got.status, got.body)
	}
	q.Set("percent", "20%")
	if got := nurse.get("/bench/mix/sheet.html?" + q.Encode()); !strings.Contains(got.body, "STOP: there is no recipe") || strings.Contains(got.body, "plunger at") {
		t.Errorf("a stop: %d", got.status)
	}
	q.Del("gas")
	if got := nurse.get("/bench/mix/sheet.pdf?" + q.Encode()); got.status != http.StatusUnprocessableEntity {
		t.Errorf("half a question: %d", got.status)
	}
	if got := nurse.get("/bench/acuity?ask=1&text=6/6"); strings.Contains(got.body, "sheet.pdf") {
		t.Error("acuity has a mixing sheet")
	}
}

// TestPostureOfTheLeaflet is that of the plan behind the operation, for the days that
// are left of it, and none once they are over or where the plan tells no days.
func TestPostureOfTheLeaflet(t *testing.T) {
	days := 5.0
	plan := &record.Plan{Base: record.Base{ID: "p"}, Posture: record.PostureFaceDown, PostureDays: &days}
	other := &record.Plan{Base: record.Base{ID: "other"}, Posture: record.PostureUpright, PostureDays: &days}
	c := &store.Course{Course: record.Course{Plans: []*record.Plan{plan, other}, Operations: []*record.Operation{{Base: record.Base{ID: "o"}, PlanID: "p"}}}}
	day := func(d int) record.Date { return record.Date{Year: 2026, Month: 11, Day: d} }
	in := record.Content{OperationID: "o", Since: day(20)}
	for today, left := range map[int]int{20: 5, 22: 3, 24: 1, 25: 0, 30: 0, 19: 0} {
		want := paper.HeadPosture{Posture: record.PostureFaceDown, Days: left}
		if left == 0 {
			want = paper.HeadPosture{}
		}
		if got := postureAsked(c, in, day(today)); got != want {
			t.Errorf("on day %d: %+v, want %+v", today, got, want)
		}
	}
	plan.PostureDays = nil
	if got := postureAsked(c, in, day(20)); got != (paper.HeadPosture{}) {
		t.Errorf("without days: %+v", got)
	}
	if got := postureAsked(c, record.Content{Since: day(20)}, day(20)); got != (paper.HeadPosture{}) {
		t.Errorf("filled elsewhere: %+v", got)
	}
}

// TestOnlyTheSheetIsPrinted opens a print page in a browser as a printer sees it: the
// bar is gone, the type is that of the sheet, and what is told by black is black.
func TestOnlyTheSheetIsPrinted(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 0)
	one := chrome.tab(t, b.http.URL)
	one.signIn(account.Surgeon)
	one.look(themeDim)
	oil := b.withMedium(record.MediumOil)
	c, err := b.store.Course(context.Background(), oil, false)
	must(t, err)
	c.Persons[0].Names[0].Text = "王小明"
	must(t, b.store.Write(context.Background(), record.Actor{AccountID: "test", Place: "test"}, func(tx *store.Tx) error {
		_, err := tx.Put(context.Background(), c.Persons[0], "")
		return err
	}))
	one.open("/eyes/" + string(oil) + "/card.html")
	shown := ask[bool](one, `getComputedStyle(document.querySelector(".sheet-bar")).display !== "none" && !document.querySelector("[data-print]").hidden`)
	printer := func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return chromedp.Void{}, err
	}
	one.do("as a printer", printer)
	for want, expression := range map[string]string{
		"none":               `getComputedStyle(document.querySelector(".sheet-bar")).display`,
		"rgb(255, 255, 255)": `getComputedStyle(document.querySelector(".sheet")).backgroundColor`,
		"rgb(0, 0, 0)":       `getComputedStyle(document.querySelector(".sheet-side")).backgroundColor`,
		"exact":              `getComputedStyle(document.querySelector(".sheet-side")).webkitPrintColorAdjust`,
		"name loaded":        `document.fonts.ready.then(() => [...document.fonts].filter(f => f.family.includes("Sheet letters") && f.status === "loaded").length === 3 ? "name loaded" : "letters of the name not loaded")`,
		"loaded":             `document.fonts.ready.then(() => [...document.fonts].some(f => f.family.includes("IBM Plex Sans") && f.status === "loaded") ? "loaded" : "not loaded")`,
	} {
		if got := ask[string](one, expression); got != want {
			t.Errorf("printed, %s is %q, not %q", expression, got, want)
		}
	}
	if !shown {
		t.Error("the bar is not on the screen")
	}
	for _, said := range one.complaints() {
		t.Error(said)
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

// TestVisitsAheadStandByTheirDays: a leaflet lists what lies ahead, the next first.
func TestVisitsAheadStandByTheirDays(t *testing.T) {
	due := func(month, day int) *record.Visit {
		return &record.Visit{DueBy: record.Date{Year: 2026, Month: month, Day: day}, DueFor: record.DueReview}
	}
	c := &store.Course{Course: record.Course{Visits: []*record.Visit{due(12, 11), due(11, 2), due(11, 30)}}}
	got := visitsAhead(c, record.Date{Year: 2026, Month: 11, Day: 24})
	if len(got) != 2 || got[0].On.ISO() != "2026-11-30" || got[1].On.ISO() != "2026-12-11" {
		t.Errorf("%v", got)
	}
}
