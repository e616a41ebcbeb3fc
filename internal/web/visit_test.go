package web

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// hiddenOf reads the hidden fields of a form as a browser sends them back.
func hiddenOf(page string) url.Values {
	form := url.Values{}
	for _, m := range regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)">`).FindAllStringSubmatch(page, -1) {
		form.Add(m[1], unescape(m[2]))
	}
	return form
}

func unescape(text string) string {
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&lt;", "<", "&gt;", ">", "&#43;", "+", "&amp;", "&").Replace(text)
}

// send fills a form and sends it.
func (p *person) send(page answer, to string, fields url.Values) answer {
	form := hiddenOf(page.body)
	for name, values := range fields {
		form[name] = values
	}
	return p.post(to, form)
}

// fields makes a form from pairs.
func fields(pairs ...string) url.Values {
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return form
}

// TestVisitWithoutScript enters a visit as a nurse whose browser runs no script:
// every reading is shown before it is stored, every question once.
func TestVisitWithoutScript(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/visits"
	entry := nurse.get(at + "/new")
	typed := fields(
		"on", "2026-11-24", "acuity-0-raw", "6/9-2", "acuity-0-role", "corrected", "acuity-1-raw", "CF 1m",
		"pressure-0-mmhg", "14,5", "pressure-0-method", "goldmann_applanation", "lens", "pseudophakic", "no-complications", "yes",
	)
	shown := nurse.send(entry, at, typed)
	for _, wanted := range []string{"6/9, 2 missed", "logMAR 0.22", "counting fingers at 1 m", "stands for it, not measured", "Lange 2009", "Not stored yet"} {
		if !strings.Contains(shown.body, wanted) {
			t.Errorf("the form that came back does not say %q", wanted)
		}
	}
	if shown.status != http.StatusUnprocessableEntity {
		t.Fatalf("answered %d", shown.status)
	}
	stored := nurse.send(shown, at, typed)
	if stored.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
	}
	to := stored.header.Get("Location")
	e, err := b.store.Get(context.Background(), record.KindVisit, record.ID(to[strings.LastIndex(to, "/")+1:]))
	must(t, err)
	v := e.(*record.Visit)
	if len(v.Acuities) != 2 || v.Acuities[0].Raw != "6/9-2" || *v.Pressures[0].MmHg != 14.5 || v.Pressures[0].Raw != "14,5" || v.Lens != record.LensPseudophakic || !v.NoComplications {
		t.Errorf("stored as %+v", v)
	}
	for _, page := range []string{to, at, to + "/edit"} {
		if got := nurse.get(page); got.status != http.StatusOK || !strings.Contains(got.body, "6/9-2") {
			t.Errorf("%s: %d", page, got.status)
		}
	}
}

// text is what a page says, for messages of tests.
func text(page string) string {
	_, page, _ = strings.Cut(page, "<main")
	page, _, _ = strings.Cut(page, "</main>")
	return strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " ")), " ")
}

// TestAmbiguousAcuityIsAsked holds that a text with two readings is never stored
// before a person has chosen, and that what cannot be read is kept as such.
func TestAmbiguousAcuityIsAsked(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	row := b.firstEye()
	at := "/eyes/" + string(row.EyeID) + "/visits"
	typed := fields("on", "2026-11-24", "acuity-0-raw", "0,5", "missing-pressure", "not_done")
	shown := nurse.send(nurse.get(at+"/new"), at, typed)
	again := nurse.send(shown, at, typed)
	if again.status != http.StatusUnprocessableEntity || !strings.Contains(again.body, "What was meant?") || !strings.Contains(again.body, "decimal 0,5") {
		t.Fatalf("answered %d: %s", again.status, text(again.body))
	}
	typed.Set("acuity-0-choice", "logMAR 0,5")
	stored := nurse.send(again, at, typed)
	if stored.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
	}
	e, err := b.store.Get(context.Background(), record.KindVisit, record.ID(stored.header.Get("Location")[len(at)+1:]))
	must(t, err)
	if a := e.(*record.Visit).Acuities[0]; a.Chosen == nil || a.Chosen.As != "logMAR 0,5" || a.ChosenBy == "" {
		t.Errorf("stored as %+v", a)
	}
	for typed, wanted := range map[string]string{"20/020": "20/200", "070": "cannot be used", "0,5": "decimal 0,5", "HM": "hand movements", "6/12 → 6/9 PH": "pinhole"} {
		live := nurse.get(at + "/reading?row=0&text=" + url.QueryEscape(typed))
		if live.status != http.StatusOK || !strings.Contains(live.body, wanted) {
			t.Errorf("%q: %d, %q is not in %s", typed, live.status, wanted, live.body)
		}
	}
	other := map[string]string{"Right": "L 6/9", "Left": "R 6/9"}[sideWords(row.Side)]
	if live := nurse.get(at + "/reading?row=0&text=" + url.QueryEscape(other)); !strings.Contains(live.body, "this is the "+sideWords(row.Side)) {
		t.Errorf("%q on the %s eye is not stopped: %s", other, row.Side, live.body)
	}
}

// TestWrongVisitsAreStopped holds what must not be stored away from the record,
// with the mend beside the field.
func TestWrongVisitsAreStopped(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/visits"
	for _, one := range []struct {
		name, wanted string
		typed        url.Values
	}{
		{"no number", "is no number", fields("on", "2026-11-24", "missing-acuity", "not_done", "pressure-0-mmhg", "high")},
		{"future", "lies ahead of today", fields("on", "2027-11-24", "missing-acuity", "not_done", "missing-pressure", "not_done")},
		{"two days", "more than one way", fields("on", "03/04/2026", "missing-acuity", "not_done", "missing-pressure", "not_done")},
		{"both", "take one away", fields("on", "2026-11-24", "missing-acuity", "not_done", "missing-pressure", "not_done", "no-complications", "yes", "complication", "hypotony")},
		{"impossible", "0 to 100", fields("on", "2026-11-24", "missing-acuity", "not_done", "pressure-0-mmhg", "140")},
		{"conflict asked", "height is not volume", fields("on", "2026-11-24", "missing-acuity", "not_done", "missing-pressure", "not_done",
			"bubble-0-medium", "gas", "bubble-0-fill", "80", "bubble-0-fill-error", "5", "bubble-0-meniscus", "50", "bubble-0-meniscus-error", "5")},
		{"missing asked", "missing without a reason", fields("on", "2026-11-24", "missing-acuity", "not_done")},
		{"other word", "is no word of the record", fields("on", "2026-11-24", "missing-acuity", "not_done", "missing-pressure", "not_done", "lens", "glass")},
	} {
		got := nurse.send(nurse.get(at+"/new"), at, one.typed)
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(unescape(got.body), one.wanted) {
			t.Errorf("%s: %d, %q is not in: %s", one.name, got.status, one.wanted, text(got.body))
		}
	}
}

// TestTwoPeopleOneVisit changes a visit from one version twice: both are kept, and
// a person decides field by field.
func TestTwoPeopleOneVisit(t *testing.T) {
	b := newBench(t, 0)
	nurse, surgeon := b.as(account.Clinic), b.as(account.Surgeon)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/visits"
	typed := fields("on", "2026-11-24", "missing-acuity", "not_done", "pressure-0-mmhg", "14", "lens", "pseudophakic")
	stored := nurse.send(nurse.get(at+"/new"), at, typed)
	to := stored.header.Get("Location")
	first, second := nurse.get(to+"/edit"), surgeon.get(to+"/edit")
	typed.Set("pressure-0-mmhg", "16")
	if got := nurse.send(first, to, typed); got.header.Get("Location") != to {
		t.Fatalf("not stored: %d %s", got.status, text(got.body))
	}
	typed.Set("pressure-0-mmhg", "14")
	typed.Set("note", "read again")
	contested := surgeon.send(second, to, typed)
	where := contested.header.Get("Location")
	if !strings.HasPrefix(where, "/contests/") {
		t.Fatalf("no contest: %d %s", contested.status, text(contested.body))
	}
	page := surgeon.get(where)
	for _, wanted := range []string{"16", "read again", "Why you decide so"} {
		if !strings.Contains(page.body, wanted) {
			t.Errorf("the contest does not show %q", wanted)
		}
	}
	if got := surgeon.send(page, where, fields("take-pressures", "theirs", "take-note", "yours")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("decided without a reason: %d", got.status)
	}
	if got := b.as(account.Theatre).send(page, where, fields("take-pressures", "theirs", "take-note", "yours", "reason", "x")); got.status != http.StatusForbidden {
		t.Errorf("decided by theatre: %d", got.status)
	}
	if got := surgeon.send(page, where, fields("take-pressures", "theirs", "take-note", "yours", "reason", "both are right")); got.status != http.StatusSeeOther {
		t.Fatalf("not decided: %d %s", got.status, text(got.body))
	}
	e, err := b.store.Get(context.Background(), record.KindVisit, record.ID(to[len(at)+1:]))
	must(t, err)
	if v := e.(*record.Visit); *v.Pressures[0].MmHg != 16 || v.Note != "read again" {
		t.Errorf("decided as %+v", v)
	}
	if got := surgeon.get(where); !strings.Contains(got.body, "both are right") {
		t.Error("the decision is not shown")
	}
}

// TestSignedAndStruck signs a visit, which then stands, and strikes it out.
func TestSignedAndStruck(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/visits"
	typed := fields("on", "2026-11-24", "missing-acuity", "not_done", "pressure-0-mmhg", "14")
	to := surgeon.send(surgeon.get(at+"/new"), at, typed).header.Get("Location")
	page := surgeon.get(to)
	if got := surgeon.send(page, to+"/sign", fields("version", "1")); got.status != http.StatusSeeOther {
		t.Fatalf("not signed: %d %s", got.status, text(got.body))
	}
	typed.Set("pressure-0-mmhg", "18")
	typed.Set("version", "2")
	if got := surgeon.send(surgeon.get(to+"/edit"), to, typed); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "must not change") {
		t.Errorf("a signed visit was changed: %d", got.status)
	}
	if got := surgeon.post(to+"/strike", fields("version", "2", "reason", " ")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("struck out without a reason: %d", got.status)
	}
	if got := surgeon.post(to+"/strike", fields("version", "2", "reason", "another patient")); got.status != http.StatusSeeOther {
		t.Fatalf("not struck out: %d %s", got.status, text(got.body))
	}
	id := to[len(at)+1:]
	if got := surgeon.get(at); strings.Contains(got.body, id) {
		t.Error("a visit that is struck out is listed")
	}
	if got := surgeon.get(at + "?struck=shown"); !strings.Contains(got.body, id) {
		t.Error("a visit that is struck out cannot be found any more")
	}
	if got := surgeon.get(to); !strings.Contains(got.body, "another patient") {
		t.Error("the reason is not shown")
	}
}

// TestVisitFormKeepsWhatItWasMadeFrom writes every visit of the clinic into the
// form and reads it back: nothing may get lost by opening and storing it.
func TestVisitFormKeepsWhatItWasMadeFrom(t *testing.T) {
	b := newBench(t, 0)
	n := 0
	for after := ""; ; {
		page, err := b.store.Eyes(context.Background(), "", store.Page{After: after})
		must(t, err)
		for _, row := range page.Rows {
			c, err := b.store.Course(context.Background(), row.EyeID, true)
			must(t, err)
			for _, v := range c.Visits {
				n++
				e := &entryReader{values: visitValues(v), today: record.DayOf(now)}
				again := e.readVisit(v, "somebody")
				found := slices.DeleteFunc(e.found, func(f record.Finding) bool { return f.Severity != record.Stop })
				before, err := json.Marshal(v)
				must(t, err)
				after, err := json.Marshal(again)
				must(t, err)
				if string(before) != string(after) || len(found) > 0 {
					t.Fatalf("%v\n%s\nread back as\n%s", found, before, after)
				}
			}
		}
		if after = page.Next; after == "" {
			break
		}
	}
	if n == 0 {
		t.Fatal("the clinic has no visit")
	}
}
