package web

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestThreePeopleWalkTheWholePath goes through the clinic in a browser as a
// surgeon, a clinic nurse and an auditor: a real volume is brought in and
// measured, one line is moved, the figures are signed; a visit is entered with
// acuities as people write them; who is due is found; the course is printed; and
// the auditor sees the case without the person.
func TestThreePeopleWalkTheWholePath(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 0).measuring()
	eye, name := b.eyeWithoutScan()
	at := "/eyes/" + string(eye)

	surgeon := chrome.tab(t, b.http.URL)
	surgeon.signIn(account.Surgeon)
	surgeon.bringRealScan(at)
	surgeon.screenshot("walk-scan")
	surgeon.moveOneLine()
	surgeon.screenshot("walk-moved")
	surgeon.follow("Sign figures")
	surgeon.until(`document.querySelector("#scanfigures").innerText.includes("Signed")`)

	nurse := chrome.tab(t, b.http.URL)
	nurse.signIn(account.Clinic)
	nurse.open("/")
	nurse.until(`document.querySelectorAll(".row").length > 0`)
	nurse.screenshot("walk-today")
	nurse.enterVisit(at)
	nurse.screenshot("walk-visit")

	nurse.open(at)
	nurse.until(`document.querySelectorAll(".wide-picture .mark").length > 3`)
	if told := ask[string](nurse, `document.querySelector("main").innerText`); !strings.Contains(told, "6/9-2") {
		t.Errorf("the course does not tell 6/9-2:\n%.800s", told)
	}
	nurse.screenshot("walk-course")
	nurse.follow("Print")
	nurse.until(`document.querySelector(".onpaper svg") !== null`)

	auditor := chrome.tab(t, b.http.URL)
	auditor.signIn(account.Auditor)
	auditor.open("/cases")
	auditor.until(`document.querySelectorAll("main a").length > 1`)
	for _, word := range strings.Fields(name) {
		if ask[bool](auditor, `document.documentElement.outerHTML.includes(`+quoted(word)+`)`) {
			t.Errorf("the auditor reads %q", word)
		}
	}
	auditor.open(at)
	if told := ask[string](auditor, `document.querySelector("main").innerText`); !strings.Contains(told, "is not for the role") {
		t.Errorf("the auditor opens an eye: %.300s", told)
	}
}

// eyeWithoutScan is an eye of the clinic without scans, figures and visits, and
// whose it is.
func (b *workbench) eyeWithoutScan() (record.ID, string) {
	b.t.Helper()
	page, err := b.store.Eyes(context.Background(), "", store.Page{Limit: store.MaxPage})
	must(b.t, err)
	for _, row := range page.Rows {
		c, err := b.store.Course(context.Background(), row.EyeID, false)
		must(b.t, err)
		if len(c.Scans) == 0 && len(c.Figures) == 0 && len(c.Visits) == 0 && c.Persons[0].DiedOn == (record.Date{}) {
			return row.EyeID, row.Name
		}
	}
	b.t.Fatal("every eye of the clinic has scans or visits")
	return "", ""
}

// eyeWithVisits is an eye that was seen often.
func (b *workbench) eyeWithVisits() store.EyeRow {
	b.t.Helper()
	page, err := b.store.Eyes(context.Background(), "", store.Page{Limit: store.MaxPage})
	must(b.t, err)
	for _, row := range page.Rows {
		c, err := b.store.Course(context.Background(), row.EyeID, false)
		must(b.t, err)
		if len(c.Visits) > 3 {
			return row
		}
	}
	b.t.Fatal("no eye of the clinic was seen often")
	return store.EyeRow{}
}

// realVolume is the open scan of a real eye; its scale is told beside it.
const realVolume = "../../testdata/macular-hole-volume/macular-hole-volume.tif"

// bringRealScan brings the volume in and waits for its figures.
func (b *tab) bringRealScan(at string) {
	b.t.Helper()
	file, err := filepath.Abs(realVolume)
	must(b.t, err)
	b.open(at + "/scan")
	b.do("choose the file", chromedp.SetUploadFiles("#file", []string{file}))
	for field, value := range map[string]string{"taken": "20 Nov 2026", "depth": "3.87", "lateral": "5.77", "slice": "31"} {
		b.fill(field, value)
	}
	b.click("Bring scan in")
	b.until(`location.pathname.split("/").length === 5 && document.querySelector("#scanfigures h2")?.innerText.includes("Hole figures")`)
	if told := ask[string](b, `document.querySelector("#scanfigures").innerText`); !strings.Contains(told, "407") {
		b.t.Errorf("the minimum linear diameter of the README, 407 µm, is not among the figures:\n%.600s", told)
	}
}

// moveOneLine moves the membrane of the current slice by numbers, as a person
// without a pointer does, and keeps it.
func (b *tab) moveOneLine() {
	b.t.Helper()
	b.click("Move a line by numbers")
	for field, value := range map[string]string{"column": "60", "up": "3", "reach": "15"} {
		b.fill(field, value)
	}
	b.follow("Try the move")
	b.until(`document.querySelector(".scankept") !== null`)
	b.fill("reason", "edge drawn too deep")
	b.follow("Keep moved lines")
	b.until(`document.querySelector("#scanfigures details.versions") !== null`)
}

// enterVisit types what a nurse writes.
func (b *tab) enterVisit(at string) {
	b.t.Helper()
	b.open(at + "/visits/new")
	b.fill("acuity-0-raw", "6/9-2")
	b.until(`document.querySelector("#reading-0")?.innerText.includes("2 missed")`)
	b.fill("acuity-1-raw", "CF 1m")
	b.until(`document.querySelector("#reading-1")?.innerText.toLowerCase().includes("fingers")`)
	for range 3 {
		b.follow("Store ")
		if ask[bool](b, `/\/visits\/[0-9a-f-]+$/.test(location.pathname) && document.querySelector("form.entry") === null`) {
			return
		}
	}
	b.t.Fatalf("the visit is not kept\n%s", b.where())
}

// quoted is a text as a script writes it.
func quoted(text string) string { return `"` + strings.ReplaceAll(text, `"`, `\"`) + `"` }

// TestNurseWithoutScript enters a visit with scripts turned off.
func TestNurseWithoutScript(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 0)
	eye, _ := b.eyeWithoutScan()
	nurse := chrome.tab(t, b.http.URL)
	nurse.signIn(account.Clinic)
	nurse.withoutScript()
	nurse.open("/eyes/" + string(eye) + "/visits/new")
	nurse.do("type", chromedp.SendKeys(`[name="acuity-0-raw"]`, "6/12"))
	for range 3 {
		nurse.do("send", chromedp.Submit(`form.entry`))
		nurse.until(`document.readyState === "complete"`)
		if ask[bool](nurse, `/\/visits\/[0-9a-f-]+$/.test(location.pathname)`) {
			return
		}
	}
	t.Fatalf("the visit is not kept without script\n%s", nurse.where())
}

// TestWholePathByKeyboard reaches an eye and its stations with keys alone.
func TestWholePathByKeyboard(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 0)
	row := b.eyeWithVisits()
	one := chrome.tab(t, b.http.URL)
	one.signIn(account.Surgeon)
	one.open("/")
	one.press("/")
	one.until(`document.activeElement.id === "search"`)
	one.press(row.UnitNumber)
	one.until(`document.querySelectorAll("#found a").length > 0 && document.querySelector("#found").innerText.includes(` + quoted(row.UnitNumber) + `)`)
	one.press(kb.ArrowDown)
	one.until(`document.activeElement.closest("#found") !== null`)
	for !ask[bool](one, `document.activeElement.getAttribute("href") === `+quoted("/eyes/"+string(row.EyeID))) {
		one.press(kb.ArrowDown)
	}
	one.press(kb.Enter)
	one.until(`/^\/eyes\/[0-9a-f-]+$/.test(location.pathname) && document.readyState === "complete"`)
	for i, path := range []string{"", "/scan", "/plan", "/bubble", "/visits"} {
		one.press(string(rune('1' + i)))
		one.until(`location.pathname.endsWith(` + quoted(path) + `) && document.readyState === "complete"`)
	}
	one.press("1")
	one.until(`document.querySelector(".wide-picture .mark[tabindex='0']") !== null`)
	ask[bool](one, `(document.querySelector(".wide-picture .mark[tabindex='0']").focus(), true)`)
	before := ask[string](one, `document.querySelector(".readout").textContent`)
	one.press(kb.ArrowRight)
	one.until(`document.querySelector(".readout").textContent !== ` + quoted(before) + ` && document.activeElement.classList.contains("mark")`)
	one.press("?")
	one.until(`location.pathname === "/keys"`)
}
