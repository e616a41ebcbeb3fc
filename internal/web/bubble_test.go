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
	"limitans/tamponade"
)

// withMedium is an eye of the clinic that holds one of the media.
func (b *workbench) withMedium(media ...record.Medium) record.ID {
	b.t.Helper()
	rows, _, err := b.store.InEyes(context.Background(), store.Page{}, media...)
	must(b.t, err)
	if len(rows) == 0 {
		b.t.Fatalf("no eye of the clinic holds %v", media)
	}
	return rows[0].EyeID
}

// TestBubbleStation asks for what is missing, draws what was told, and never gives
// a permission.
func TestBubbleStation(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := "/eyes/" + string(b.withMedium(record.MediumGas, record.MediumAir)) + "/bubble"
	asked := surgeon.get(at)
	if asked.status != http.StatusOK || !strings.Contains(asked.body, "The record does not tell:") || strings.Contains(asked.body, `id="drawn"`) {
		t.Errorf("an eye whose fill nobody told: %d, drawn without it", asked.status)
	}
	q := url.Values{"fill": {"85"}, "day": {"2"}, "posture": {"prone"}, "percent": {"20"}, "gas": {"sf6"}, "axial-length": {"24"}, "lens": {"phakic"}}
	shown := surgeon.get(at + "?" + q.Encode())
	for _, wanted := range []string{`id="drawn"`, tamponade.NotUntilSeenEmpty, "<svg", "Retina touched by the bubble", "prone", "Hours covered on this day"} {
		if !strings.Contains(shown.body, wanted) {
			t.Errorf("the station does not show %q (%d)", wanted, shown.status)
		}
	}
	part := surgeon.get(at + "/drawn?" + q.Encode() + "&pitch=45&roll=0")
	if part.status != http.StatusOK || strings.Contains(part.body, "<html") || !strings.Contains(part.body, "face down 45°") {
		t.Errorf("drawn alone: %d %.200s", part.status, part.body)
	}
	for _, bad := range []string{"&pitch=1000", "&pitch=x"} {
		if got := surgeon.get(at + "/drawn?" + q.Encode() + bad); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s is answered %d", bad, got.status)
		}
	}
	q.Set("other-gas", "c3f8")
	q.Set("other-percent", "14")
	if got := surgeon.get(at + "?" + q.Encode()); !strings.Contains(got.body, "14 % C3F8, fill 85 %") {
		t.Error("two agents do not stand side by side")
	}
	q.Set("percent", "0.2 %")
	if got := surgeon.get(at + "?" + q.Encode()); got.status != http.StatusOK || !strings.Contains(got.body, "trouble") {
		t.Error("a share with two readings is not asked back")
	}
}

// TestBubbleDiary asks for whole days, keeps them in the address of every form, and
// shows what is covered beside what was told.
func TestBubbleDiary(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := "/eyes/" + string(b.withMedium(record.MediumGas, record.MediumAir)) + "/bubble"
	// Nothing seen at visits, so that the course is predicted whatever they found.
	q := url.Values{"fill": {"85"}, "day": {"2"}, "percent": {"20"}, "gas": {"sf6"}, "axial-length": {"24"}, "lens": {"phakic"}, "seen": {""}, "seen-height": {""}, "break": {"6:14"}}
	shown := surgeon.get(at + "?" + q.Encode()).body
	for _, wanted := range []string{"Nobody has told yet how this patient spends the day", "PMID 24292701", "Hours a day in which the macula is covered", "Two targets, day 2", "Day by day"} {
		if !strings.Contains(shown, wanted) {
			t.Errorf("without a diary: %q is missing", wanted)
		}
	}
	q.Set("hours-upright", "15")
	q.Set("hours-left_side", "8")
	q.Set("told", "left_side")
	if got := surgeon.get(at + "?" + q.Encode()); got.status != http.StatusOK || !strings.Contains(got.body, "23 of 24 hours are told; missing: 1") || strings.Contains(got.body, "Day by day") {
		t.Error("a day of 23 hours is answered")
	}
	q.Set("hours-supine", "1")
	shown = surgeon.get(at + "?" + q.Encode()).body
	for _, wanted := range []string{"were told for this patient", `name="hours-left_side" value="8"`, `type="hidden" name="hours-supine" value="1"`, `type="hidden" name="gas" value="sf6"`, "Done: as this", "Chosen here, not in the record"} {
		if !strings.Contains(shown, wanted) {
			t.Errorf("with a diary: %q is missing", wanted)
		}
	}
	if part := surgeon.get(at + "/drawn?" + q.Encode()); !strings.Contains(part.body, "done, as this patient tells it</th>") || strings.Contains(part.body, "Day by day") {
		t.Error("the drawn day does not tell the patient's own hours alone")
	}
	q.Set("want-1", "many")
	if got := surgeon.get(at + "?" + q.Encode()); got.status != http.StatusOK || !strings.Contains(got.body, "many is no number of hours") {
		t.Error("hours that are none are not asked back")
	}
}

// TestOilStation shows what stands about oil.
func TestOilStation(t *testing.T) {
	b := newBench(t, 0)
	surgeon, at := b.as(account.Surgeon), "/eyes/"+string(b.withMedium(record.MediumOil))+"/bubble"
	got := surgeon.get(at)
	for _, wanted := range []string{"Silicone oil in the eye", "statement of risks, not a date", "sound is slower in oil", "of 161"} {
		if !strings.Contains(got.body, wanted) {
			t.Errorf("oil: %q is missing (%d)", wanted, got.status)
		}
	}
	told := surgeon.get(at + "?oil-stays=for+good&oil-axial-length=24&oil-chamber=5&oil-shown=33.8&oil-front=8&oil-viscosity=1000&fill=85")
	for _, wanted := range []string{"3.55 D (", "24.5 mm (24.3 to 24.7)", "never a power by itself", `type="hidden" name="fill" value="85"`} {
		if !strings.Contains(told.body, wanted) {
			t.Errorf("oil for good: %q is missing (%d)", wanted, told.status)
		}
	}
	for _, bad := range []string{"?oil-axial-length=24&oil-chamber=20", "?oil-chamber=deep"} {
		if got := surgeon.get(at + bad); got.status != http.StatusOK || !strings.Contains(got.body, `id="oil-chamber-trouble"`) {
			t.Errorf("%s is not asked back (%d)", bad, got.status)
		}
	}
}

// TestBenchPages asks a calculator with and without trouble.
func TestBenchPages(t *testing.T) {
	b := newBench(t, 0)
	clinic := b.as(account.Clinic)
	if got := clinic.get("/bench"); !strings.Contains(got.body, "/bench/published") {
		t.Error("the bench lists no calculators")
	}
	for path, wanted := range map[string]string{
		"/bench/mix": "Syringe holds",
		"/bench/mix?ask=1&gas=c3f8&percent=20&syringe-ml=50&axial-length=24":   "above_non_expansile",
		"/bench/mix?ask=1&gas=c3f8&percent=14&syringe-ml=50&axial-length=24":   "43 mL",
		"/bench/mix?ask=1&gas=c3f8&syringe-ml=50":                              "is missing",
		"/bench/bubble?ask=1&gas=sf6&percent=20&axial-length=24&paths=300":     "<svg",
		"/bench/altitude?ask=1&gas=c3f8&fill=50&living-m=100&to-m=1500":        tamponade.NotUntilSeenEmpty,
		"/bench/acuity?ask=1&text=6/9":                                         "logMAR",
		"/bench/dye?ask=1&dye=methylene+blue&strength=1+mg/mL&vehicle=unknown": "must not be used",
	} {
		if got := clinic.get(path); !strings.Contains(got.body, wanted) {
			t.Errorf("%s: %q is missing (%d)", path, wanted, got.status)
		}
	}
	if got := clinic.get("/bench/horoscope"); got.status != http.StatusNotFound {
		t.Errorf("a calculator that is none: %d", got.status)
	}
}
