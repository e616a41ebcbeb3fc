package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"limitans/internal/account"
)

// TestMixingIsSignedByTwoAccounts makes a recipe, signs it, is refused as the same
// person and for what was misread, and signs as a second one.
func TestMixingIsSignedByTwoAccounts(t *testing.T) {
	b := newBench(t, 0)
	surgeon, theatre := b.as(account.Surgeon), b.as(account.Theatre)
	at := "/eyes/" + string(b.firstEye().EyeID) + "/mixing"
	q := url.Values{"ask": {"1"}, "gas": {"c3f8"}, "percent": {"14%"}, "syringe-ml": {"50"}, "axial-length": {"24"}, "lens": {"phakic"}, "lot": {"123"}, "expiry": {"2027-01"}}
	shown := surgeon.get(at + "?" + q.Encode())
	if shown.status != http.StatusOK || !strings.Contains(shown.body, "Sign as who mixes") || !strings.Contains(shown.body, "43 mL") {
		t.Fatalf("no recipe: %d", shown.status)
	}
	stopped := url.Values{"ask": {"1"}, "gas": {"c3f8"}, "percent": {"20%"}, "syringe-ml": {"50"}, "lot": {"1"}, "expiry": {"2027-01"}}
	if got := surgeon.get(at + "?" + stopped.Encode()); strings.Contains(got.body, "Sign as who mixes") || !strings.Contains(got.body, "above_non_expansile") {
		t.Error("a stop can be signed")
	}
	if got := surgeon.post(at, stopped); got.status != http.StatusConflict {
		t.Errorf("a stop is signed: %d", got.status)
	}
	made := surgeon.post(at, q)
	sheet := made.header.Get("Location")
	if made.status != http.StatusSeeOther || !strings.HasPrefix(sheet, at+"/") {
		t.Fatalf("not signed: %d %s", made.status, made.body)
	}
	read := url.Values{"gas": {"C3F8"}, "percent": {"14%"}, "gas-ml": {"7"}, "total-ml": {"50"}}
	if got := surgeon.post(sheet, read); got.status != http.StatusConflict || !strings.Contains(got.body, "another person signs in") {
		t.Errorf("the same person checks: %d", got.status)
	}
	open := theatre.get(sheet)
	if !strings.Contains(open.body, "Compare and sign") || strings.Contains(open.body, "43 mL") {
		t.Error("the second person cannot read, or can copy")
	}
	for name, value := range map[string]string{"gas": "SF6", "percent": "20%", "gas-ml": "9", "total-ml": "x"} {
		wrong := url.Values{"gas": {"C3F8"}, "percent": {"14%"}, "gas-ml": {"7"}, "total-ml": {"50"}}
		wrong.Set(name, value)
		if got := theatre.post(sheet, wrong); got.status == http.StatusSeeOther || !strings.Contains(got.body, "Nothing is connected") {
			t.Errorf("%s %s is signed: %d", name, value, got.status)
		}
	}
	if got := theatre.post(sheet, read); got.status != http.StatusSeeOther {
		t.Fatalf("not signed by the second: %d %s", got.status, got.body)
	}
	done := surgeon.get(sheet)
	if !strings.Contains(done.body, "Label for the syringe") || !strings.Contains(done.body, "GAS FOR THE EYE") {
		t.Error("the signed sheet has no label")
	}
	if got := theatre.post(sheet, read); got.status != http.StatusConflict {
		t.Errorf("signed twice: %d", got.status)
	}
	if got := theatre.get(at); !strings.Contains(got.body, "read by a second person") {
		t.Error("the sheet is not listed")
	}
	version := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(done.body)
	if version == nil || version[1] != "2" {
		t.Fatalf("the sheet is at version %v", version)
	}
	if got := surgeon.get(sheet + "/sheet.html"); !strings.Contains(got.body, "both signed in the record") || !strings.Contains(got.body, "GAS FOR THE EYE") || strings.Contains(got.body, "Operation on") {
		t.Error("the paper does not say that two people signed, or more than is known")
	}
	if got := theatre.post(sheet+"/strike", url.Values{"version": version[1:], "reason": {""}}); got.status == http.StatusSeeOther {
		t.Error("struck out without a reason")
	}
	if got := theatre.post(sheet+"/strike", url.Values{"version": version[1:], "reason": {"the wrong bottle"}}); got.status != http.StatusSeeOther {
		t.Errorf("not struck out: %d %s", got.status, got.body)
	}
	struck, paper := surgeon.get(sheet), surgeon.get(sheet+"/sheet.html")
	if !strings.Contains(struck.body, "the wrong bottle") || strings.Contains(struck.body, "Label for the syringe") || strings.Contains(struck.body, "Strike this sheet out") {
		t.Error("the sheet does not say that it is struck out")
	}
	if !strings.Contains(paper.body, "DO NOT USE. Struck out by") || strings.Contains(paper.body, "GAS FOR THE EYE") || !strings.Contains(paper.body, "the wrong bottle") {
		t.Error("its paper does not say that it is struck out")
	}
	if got := theatre.get(at); !strings.Contains(got.body, "struck out") {
		t.Error("the list does not say that it is struck out")
	}
	if got := surgeon.get(at + ".pdf"); got.status != http.StatusNotFound {
		t.Errorf("the last sheet is one that is struck out: %d", got.status)
	}
	if got := surgeon.get("/eyes/" + string(b.firstEye().EyeID) + "/mixing/00000000-0000-7000-8000-000000000000"); got.status != http.StatusNotFound {
		t.Errorf("a sheet that is none: %d", got.status)
	}
}
