package web

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
)

// TestPlanFromFindingsToSignature walks the Plan station as a surgeon: options
// for a large hole, a choice away from the first with its reason, signing, and a
// new version that the old one tells of.
func TestPlanFromFindingsToSignature(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/plan"
	findings := url.Values{
		"condition": {"hole"}, "mld_um": {"620"}, "mld_um_low": {"590"}, "mld_um_high": {"650"}, "earlier_surgery": {"none"},
		"duration_months": {"10"}, "axial_length_mm": {"23,8"}, "lens": {"pseudophakic"},
	}
	page := surgeon.get(at + "?" + findings.Encode())
	if page.status != http.StatusOK || !strings.Contains(page.body, "inverted flap") {
		t.Fatalf("answered %d; no inverted flap for a hole of 620 µm:\n%s", page.status, stripped(page.body))
	}
	codes := regexp.MustCompile(`name="chosen" value="([a-z-]+)"`).FindAllStringSubmatch(page.body, -1)
	if len(codes) < 3 || codes[0][1] != "inverted-flap" {
		t.Fatalf("options are %v, wanted the inverted flap first", codes)
	}
	form := url.Values{}
	for k, v := range findings {
		form[k] = v
	}
	form.Set("chosen", codes[1][1])
	form.Set("filling", "sf6")
	form.Set("percent", "20")
	form.Set("plan_gauge", "25")
	if got := surgeon.post(at, form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "without a reason") {
		t.Fatalf("the second option without a reason is answered with %d: %s", got.status, stripped(got.body))
	}
	form.Set("reason", "patient_wish")
	kept := surgeon.post(at, form)
	if kept.status != http.StatusSeeOther {
		t.Fatalf("not kept: %d %s", kept.status, stripped(kept.body))
	}
	first := kept.header.Get("Location")
	if got := surgeon.get(first); !strings.Contains(got.body, "Not signed") || !strings.Contains(got.body, "20 %") {
		t.Fatalf("%s", stripped(got.body))
	}
	if got := b.as(account.Clinic).post(first+"/sign", nil); got.status != http.StatusForbidden {
		t.Errorf("a clinic nurse signs a plan: %d", got.status)
	}
	if got := surgeon.post(first+"/sign", nil); got.status != http.StatusSeeOther {
		t.Fatalf("not signed: %d %s", got.status, stripped(got.body))
	}
	if got := surgeon.post(first+"/sign", nil); got.status != http.StatusConflict {
		t.Errorf("signed twice: %d", got.status)
	}
	for _, sheet := range []string{"/theatre.pdf", "/kit.pdf"} {
		if got := surgeon.get(first + sheet); got.status != http.StatusOK || !strings.HasPrefix(got.body, "%PDF-") {
			t.Errorf("%s is answered with %d: %.300s", sheet, got.status, stripped(got.body))
		}
	}
	form.Set("chosen", codes[0][1])
	again := surgeon.post(at, form)
	if again.status != http.StatusSeeOther || again.header.Get("Location") == first {
		t.Fatalf("a change of a signed plan is answered with %d to %s", again.status, again.header.Get("Location"))
	}
	if got := surgeon.get(first); !strings.Contains(got.body, "Replaced by version 2") {
		t.Errorf("the old version does not say that it was replaced:\n%s", stripped(got.body))
	}
	plan := newestPlan(b.plans(b.firstEye().EyeID))
	if plan.Revision != 2 || plan.Frozen() || plan.GaugeG != 25 || plan.Tamponade.Gas != record.SF6 || len(plan.ReasonsAgainstFirst) != 0 {
		t.Errorf("the new version is %+v", plan)
	}
}

// TestPlanStopsGasAboveTheFullFill wants a typed reason for a gas share that
// expands a full eye.
func TestPlanStopsGasAboveTheFullFill(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/plan"
	form := url.Values{"condition": {"hole"}, "mld_um": {"300"}, "chosen": {"peel"}, "filling": {"c3f8"}, "percent": {"50"}, "reason": {"surgeon_experience"}}
	got := surgeon.post(at, form)
	code := regexp.MustCompile(`name="pass_([a-z_]+)"`).FindStringSubmatch(got.body)
	if got.status != http.StatusUnprocessableEntity || code == nil {
		t.Fatalf("50 %% C3F8 is answered with %d: %s", got.status, stripped(got.body))
	}
	theatre, err := b.server.Gate.EnterDemo(context.Background(), account.Theatre, "test")
	must(t, err)
	form.Set("pass_"+code[1], "partial fill on purpose")
	alone := surgeon.post(at, form)
	if alone.status != http.StatusUnprocessableEntity {
		t.Errorf("a stop for two people is passed by one: %d", alone.status)
	}
	for _, wanted := range []string{`value="partial fill on purpose"`, `<option value="` + string(theatre.ID) + `">`} {
		if !strings.Contains(alone.body, wanted) {
			t.Errorf("the page that comes back has no %s", wanted)
		}
	}
	if mine, err := b.server.Gate.EnterDemo(context.Background(), account.Surgeon, "test"); err != nil || strings.Contains(alone.body, `<option value="`+string(mine.ID)+`">`) {
		t.Errorf("who plans is offered as the second person (%v)", err)
	}
	form.Set("second_"+code[1], string(theatre.ID))
	if got := surgeon.post(at, form); got.status != http.StatusSeeOther {
		t.Fatalf("with a reason: %d %s", got.status, stripped(got.body))
	}
	if plan := newestPlan(b.plans(b.firstEye().EyeID)); len(plan.Overrides) != 1 || plan.Overrides[0].Reason != "partial fill on purpose" {
		t.Errorf("the reason is not kept: %+v", plan.Overrides)
	}
}

func (b *workbench) plans(eye record.ID) []*record.Plan {
	b.t.Helper()
	c, err := b.store.Course(context.Background(), eye, false)
	must(b.t, err)
	return c.Plans
}

// stripped is the text of a page.
func stripped(page string) string {
	page = regexp.MustCompile(`(?s)<head>.*?</head>|<svg.*?</svg>`).ReplaceAllString(page, " ")
	page = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " ")
	return strings.Join(strings.Fields(page), " ")
}
