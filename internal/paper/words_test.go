package paper_test

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/paper"
	"limitans/tamponade"
)

// made is a made language that runs from right to left: each word of the English
// texts is an Arabic one of about its length. It is for layout and no translation.
func made(t testing.TB) *paper.Words {
	t.Helper()
	data, err := os.ReadFile("words/en.json")
	if err != nil {
		t.Fatal(err)
	}
	var w paper.Words
	if err := json.Unmarshal(data, &w); err != nil {
		t.Fatal(err)
	}
	word := regexp.MustCompile(`\{[a-z]+\}|[A-Za-z]+`)
	for key, text := range w.Texts {
		w.Texts[key] = word.ReplaceAllStringFunc(text, func(part string) string {
			if strings.HasPrefix(part, "{") {
				return part
			}
			return strings.Repeat("نصلكي", 1+len(part)/5)[:2*min(len(part), 5)]
		})
	}
	w.Language, w.Name, w.Direction = "ar", "نص", "rtl"
	again, err := json.Marshal(w)
	if err != nil {
		t.Fatal(err)
	}
	read, err := paper.ParseWords(again)
	if err != nil {
		t.Fatal(err)
	}
	return read
}

// Another language changes every text that the patient reads, turns the sheet
// around, and brings an English card along.
func TestAnotherLanguage(t *testing.T) {
	l, c := leaflet(t, 2), card(2)
	l.Words, c.Words = made(t), made(t)
	page := pageOf(t, l)
	if !strings.Contains(page, `lang="ar" dir="rtl"`) || strings.Contains(textOf(page), "bubble") || strings.Contains(textOf(page), "nitrous") {
		t.Error("the leaflet is not in the other language")
	}
	for _, size := range []paper.Size{paper.A4, paper.Letter} {
		if got := pages(pdfOf(t, l, size)); got > 4 {
			t.Errorf("%d pages", got)
		}
		if got := pages(pdfOf(t, c, size)); got != 1 {
			t.Errorf("%d pages for a card", got)
		}
	}
	if page := pageOf(t, c); !strings.Contains(page, "NO NITROUS OXIDE") || !strings.Contains(page, `class="card" dir="rtl"`) || !strings.Contains(page, `class="card" dir="ltr"`) {
		t.Error("the second card is not in English")
	}
}

// A translation with a hole is refused, because a hazard left out can blind.
func TestTranslationsAreWhole(t *testing.T) {
	data, err := os.ReadFile("words/en.json")
	if err != nil {
		t.Fatal(err)
	}
	if w, err := paper.ParseWords(data); err != nil || w.Language != "en" {
		t.Fatalf("%v, %v", w, err)
	}
	change := func(old, with string) []byte {
		if !strings.Contains(string(data), old) {
			t.Fatalf("%q is not in the English texts", old)
		}
		return []byte(strings.Replace(string(data), old, with, 1))
	}
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"not JSON":          {[]byte("nitrous: no"), "not JSON"},
		"no language":       {change(`"language": "en"`, `"language": ""`), "not named"},
		"direction":         {change(`"ltr"`, `"up"`), "direction"},
		"eleven months":     {change(`"Jan", `, ``), "11 months"},
		"date":              {change(`{day} {month} {year}`, `{day} {month}`), "date"},
		"hazard missing":    {change(`"no_nitrous":`, `"no_nitrous_x":`), `"no_nitrous" is missing`},
		"hazard empty":      {change(`"Do not fly."`, `" "`), `"no_flying" is missing`},
		"value lost":        {change(`your {eye} on {date}. There`, `your eye on {date}. There`), "gas_lead"},
		"text of no use":    {change(`"texts": {`, `"texts": {"extra": "x",`), `"extra" is none`},
		"larger than large": {make([]byte, 1<<20+1), "bytes"},
	} {
		_, err := paper.ParseWords(c.data)
		if code := fault.CodeOf(err); (code != fault.Malformed && code != fault.TooLarge) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// All hazards stand on the leaflet and on the card of every gas and of air (Br
// Dent J 2008, doi 10.1038/bdj.2008.158: a patient had been told of flying only),
// with side and agent; none makes a date a permission.
func TestHazardsAreTold(t *testing.T) {
	for _, f := range []paper.Filling{
		{Mixture: tamponade.Mixture{Agent: tamponade.AgentSF6, Percent: 20}},
		{Mixture: tamponade.Mixture{Agent: tamponade.AgentC3F8, Percent: 14}},
		{Mixture: tamponade.Mixture{Agent: tamponade.AgentAir, Percent: 100}},
		{Mixture: tamponade.Mixture{Agent: tamponade.AgentSF6, Percent: 100}},
	} {
		l, c := leaflet(t, 1), card(1)
		l.Filling, c.Filling = f, f
		page, wallet := textOf(pageOf(t, l)), textOf(pageOf(t, c))
		agent := f.Mixture.Agent.String()
		if f.Mixture.Agent == tamponade.AgentAir {
			agent = "air"
		}
		for _, want := range []string{"Do not fly", "heights", "nitrous oxide", "Do not dive", "flat on your back", "Do not drive", "hurts badly", "goes dark", "No date in this leaflet makes", "left eye", "LEFT EYE", agent, "01632\u00a0960\u00a0199"} {
			if !strings.Contains(page, want) {
				t.Errorf("%v: the leaflet does not say %q", f, want)
			}
		}
		for _, want := range []string{"NO NITROUS OXIDE", "No flying, no heights, no diving", "SEEN the eye empty", "LEFT EYE", "BUBBLE IN THIS EYE", agent, "26 Nov 2026", "01632\u00a0960\u00a0199"} {
			if !strings.Contains(wallet, want) {
				t.Errorf("%v: the card does not say %q", f, want)
			}
		}
		if permits := regexp.MustCompile(`(?i)you may fly|safe to fly|can fly|flying is allowed`); permits.MatchString(page + wallet) {
			t.Errorf("%v: flying is permitted", f)
		}
	}
	k := card(0)
	k.Filling, k.Phone = paper.Filling{Oil: true}, paper.Telephone{}
	if wallet := textOf(pageOf(t, k)); !strings.Contains(wallet, "SILICONE OIL IN THIS EYE") || !strings.Contains(wallet, "CT, MRI") || strings.Contains(wallet, "NITROUS") {
		t.Errorf("the card of oil says %s", wallet)
	}
	l := leaflet(t, 0)
	l.Days, l.Phone, l.Surgery, l.Posture = nil, paper.Telephone{}, day(2026, 0, 0), paper.HeadPosture{Posture: "not_on_the_back", Days: 1}
	if page := textOf(pageOf(t, l)); !strings.Contains(page, "We cannot tell in advance") || !strings.Contains(page, "For 1 day,") || !strings.Contains(page, "Call, by day and by night:") {
		t.Errorf("the leaflet says %s", page)
	}
}
