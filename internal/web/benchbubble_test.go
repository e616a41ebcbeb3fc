package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/bench"
)

// TestBenchBubbleIsTheStation: the twin without a patient draws the eye by day and
// position, tells the dates of the same calculator, and names no day of the calendar.
func TestBenchBubbleIsTheStation(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Theatre)
	empty := nurse.get("/bench/bubble")
	if empty.status != http.StatusOK || !strings.Contains(empty.body, "Fill in what is marked as needed") || strings.Contains(empty.body, "data-bubble=") {
		t.Fatalf("nothing asked: %d %s", empty.status, text(empty.body))
	}
	q := url.Values{"ask": {"1"}, "gas": {"sf6"}, "percent": {"20"}, "axial-length": {"24"}, "lens": {"phakic"}, "break": {"6:18"}, "side": {"left"}}
	page := nurse.get("/bench/bubble?" + q.Encode())
	if page.status != http.StatusOK {
		t.Fatalf("%d %s", page.status, text(page.body))
	}
	question := new(bench.Bubble)
	if _, err := bench.Read(question, q.Get); err != nil {
		t.Fatal(err)
	}
	answer, err := question.Predict()
	must(t, err)
	half := answer.Prediction.LastAboveDay[0]
	for _, wanted := range []string{
		`data-bubble="/bench/bubble/drawn"`, "Left eye, upright", bandWords(half.Value, half.Low, half.High, 0, "days"),
		"What a patient really does", "Two targets",
	} {
		if !strings.Contains(page.body, wanted) {
			t.Errorf("the page does not say %q", wanted)
		}
	}
	for _, unwanted := range []string{"Calendar", "/eyes/\"", "2026"} {
		if at := strings.Index(page.body, unwanted); at >= 0 {
			t.Errorf("without a patient it says %q: %s", unwanted, page.body[max(0, at-80):at+80])
		}
	}
	q.Set("day", "3")
	q.Set("posture", "prone")
	drawn := nurse.get("/bench/bubble/drawn?" + q.Encode())
	if drawn.status != http.StatusOK || !strings.Contains(drawn.body, "Left eye, prone") || !strings.Contains(drawn.body, "Day 3") || strings.Contains(drawn.body, "<h1>") {
		t.Errorf("drawn: %d %s", drawn.status, text(drawn.body))
	}
	q.Set("hours-supine", "24")
	if got := nurse.get("/bench/bubble?" + q.Encode()); got.status != http.StatusOK || !strings.Contains(got.body, "told for this patient") {
		t.Errorf("own hours: %d", got.status)
	}
	q.Set("percent", "400")
	for _, at := range []string{"/bench/bubble", "/bench/bubble/drawn"} {
		if got := nurse.get(at + "?" + q.Encode()); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s with 400 %%: %d", at, got.status)
		}
	}
}
