package acuity

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
)

func entriesOf(t *testing.T, texts ...string) []Entry {
	t.Helper()
	var out []Entry
	for _, text := range texts {
		out = append(out, single(t, text, Options{}))
	}
	return out
}

// TestMeanIsGeometric: 20/20 and 20/200 average to logMAR 0.5, 20/63, not to
// decimal 0.55 (Holladay 1997, J Refract Surg 13:388).
func TestMeanIsGeometric(t *testing.T) {
	s := Summarise(entriesOf(t, "20/20", "20/200"))
	if s.Measured.N != 2 || math.Abs(s.Measured.MeanLogMAR-0.5) > 1e-12 {
		t.Errorf("mean %+v", s.Measured)
	}
	if math.Abs(s.Measured.MeanDecimal-math.Sqrt(1*0.1)) > 1e-12 || math.Abs(s.Measured.MeanLetters-60) > 1e-9 {
		t.Errorf("converted back: %+v", s.Measured)
	}
	if math.Abs(s.Measured.SDLogMAR-math.Sqrt(0.5)) > 1e-12 { // two values 0.5 from their mean, n − 1
		t.Errorf("SD %g", s.Measured.SDLogMAR)
	}
	if len(s.Substituted) != 0 || len(s.Notes) != 0 {
		t.Errorf("nothing to warn of: %+v", s)
	}
}

func TestSummaryKeepsCategoriesOutOfMeans(t *testing.T) {
	given := entriesOf(t, "6/6", "6/60", "CF 1m", "HM", "LP", "NLP", "2525", "0.3", "N8", "N/A", "cc 6/12")
	before := show(given)
	s := Summarise(given)
	if show(given) != before {
		t.Error("entries changed")
	}
	want := map[Kind]int{Measured: 3, CountingFingers: 1, HandMovements: 1, LightPerception: 1, NoLightPerception: 1, Unusable: 2, Ask: 1, Near: 1}
	for kind, n := range want {
		if s.Counts[kind] != n {
			t.Errorf("%s: %d, want %d", kind, s.Counts[kind], n)
		}
	}
	if s.N != 11 || s.Ranked != 7 || s.Measured.N != 3 {
		t.Errorf("n %d ranked %d measured %d", s.N, s.Ranked, s.Measured.N)
	}
	if mean := (0 + 1 + math.Log10(2)) / 3; math.Abs(s.Measured.MeanLogMAR-mean) > 1e-12 {
		t.Errorf("mean %g, want %g", s.Measured.MeanLogMAR, mean)
	}
	if s.Median != "counting fingers" { // fourth of seven
		t.Errorf("median %q", s.Median)
	}
	if len(s.Substituted) != len(Schemes()) || s.Substituted[0].Scheme != Lange2009 {
		t.Fatalf("schemes: %+v", s.Substituted)
	}
	for _, m := range s.Substituted {
		v := m.Scheme.values()
		hand, n := v.HandMovements, 2
		if m.Scheme == FingersOverSixty {
			v.CountingFingers, hand, n = math.Log10(60), 0, 1
		}
		mean := (1 + math.Log10(2) + v.CountingFingers + hand) / float64(3+n)
		if m.Substituted != n || m.LeftOut != 2-n || math.Abs(m.Moments.MeanLogMAR-mean) > 1e-12 {
			t.Errorf("%s: %+v, want mean %g", m.Scheme, m, mean)
		}
	}
	if notes := strings.Join(s.Notes, "\n"); !strings.Contains(notes, "4 of 7") || !strings.Contains(notes, "roles are mixed") {
		t.Errorf("notes: %s", notes)
	}
	if _, err := json.Marshal(s); err != nil {
		t.Error(err)
	}
}

func TestMedianByRank(t *testing.T) {
	for _, c := range []struct {
		want  string
		texts []string
	}{
		{"no entry with a rank", []string{"2525"}},
		{"logMAR 0.30", []string{"6/12", "6/6", "HM"}},
		{"logMAR 0.50", []string{"20/20", "20/200"}},
		{"between logMAR 1.00 and counting fingers", []string{"CF", "6/60"}},
		{"between hand movements and light perception", []string{"HM", "LP", "NLP", "6/6"}},
		{"hand movements", []string{"HM", "HM 1m", "NLP", "6/6"}},
	} {
		if s := Summarise(entriesOf(t, c.texts...)); s.Median != c.want {
			t.Errorf("%v: %q, want %q", c.texts, s.Median, c.want)
		}
	}
	s := Summarise(nil)
	if !math.IsNaN(s.Measured.MeanLogMAR) || s.MedianLow != nil {
		t.Errorf("nothing given: %+v", s)
	}
	if _, err := json.Marshal(s); err != nil {
		t.Error(err)
	}
}

// TestOrderIgnoresScheme: ranks do not move with the scheme.
func TestOrderIgnoresScheme(t *testing.T) {
	texts := []string{"6/5", "6/60", "1/60", "0.5/60", "CF", "HM", "LP", "NLP"}
	for _, v := range Schemes() {
		var keys []float64
		for _, text := range texts {
			key, ok := OrderKey(single(t, text, Options{LowVision: v.Scheme}))
			if !ok {
				t.Fatalf("%s has no rank", text)
			}
			keys = append(keys, key)
		}
		if !slices.IsSorted(keys) {
			t.Errorf("%s: %v", v.Name, keys)
		}
	}
}

// What was understood comes back from JSON as it was, and JSON written before
// these keys were there is read with them empty.
func TestWhatWasUnderstoodComesBack(t *testing.T) {
	texts := []string{
		"6/9-2", "6/12+3 OS", "6/18 partial", "6/9 (p)", "20/40-1", "CF 1m", "HM", "NLP", "N/A", "999", "OD 6/12 → 0.3 PH", "0.8", "8/10", "J2",
		"kein Licht", "gibberish", "", "logMAR 2.30", "85 letters",
	}
	side, missed, missing, partial := 0, 0, 0, 0
	for _, text := range texts {
		for _, want := range Parse(text, Options{}) {
			data, err := json.Marshal(want)
			if err != nil {
				t.Fatal(err)
			}
			var got Entry
			if err := json.Unmarshal(data, &got); err != nil {
				t.Fatalf("%s: %v", data, err)
			}
			want.plain, want.plainNum, want.overTen, want.numerator = false, 0, false, 0
			if want.Readings == nil {
				want.Readings = []Reading{}
			}
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%q: %+v, want %+v", text, got, want)
			}
			if want.Side != eye.SideUnknown {
				side++
			}
			if want.LettersMissed+want.LettersGained > 0 {
				missed++
			}
			if want.Missing {
				missing++
			}
			if want.Partial {
				partial++
			}
		}
	}
	if side < 2 || missed < 3 || missing < 2 || partial < 1 {
		t.Errorf("the texts try too little: %d sides, %d letters, %d missing, %d partial", side, missed, missing, partial)
	}
	var old Entry
	before := `{"raw":"6/9-2","kind":"measured","logmar":0.216,"letters":74,"scheme":"line","role":"unknown","distance_m":6,"readings":[],"note":""}`
	if err := json.Unmarshal([]byte(before), &old); err != nil || old.Understood != "" || old.LettersMissed != 0 || old.Side != eye.SideUnknown || *old.LogMAR != 0.216 {
		t.Errorf("%+v, %v", old, err)
	}
	if again, err := json.Marshal(old); err != nil || string(again) != before {
		t.Errorf("%s (%v)", again, err)
	}
}

func TestJSONKeys(t *testing.T) {
	data, err := json.Marshal(Parse("OD 6/12 → 0.3 PH", Options{}))
	if err != nil {
		t.Fatal(err)
	}
	var got []map[string]any
	if err := json.Unmarshal(data, &got); err != nil || len(got) != 2 {
		t.Fatalf("%s: %v", data, err)
	}
	for _, e := range got {
		var keys []string
		for k := range e {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		always := []string{"distance_m", "kind", "letters", "logmar", "note", "raw", "readings", "role", "scheme"}
		sometimes := []string{"letters_gained", "letters_missed", "missing", "partial", "side", "understood"}
		for _, k := range always {
			if !slices.Contains(keys, k) {
				t.Errorf("%s is missing", k)
			}
		}
		for _, k := range keys {
			if !slices.Contains(always, k) && !slices.Contains(sometimes, k) {
				t.Errorf("%s is new", k)
			}
		}
	}
	if got[1]["logmar"] != nil || len(got[1]["readings"].([]any)) != 2 || got[1]["role"] != "pinhole" {
		t.Errorf("%v", got[1])
	}
	if data, _ := json.Marshal(Entry{}); !strings.Contains(string(data), `"readings":[]`) {
		t.Errorf("%s", data)
	}
}

func TestSides(t *testing.T) {
	for text, want := range map[string][]eye.Laterality{
		"6/9":              {eye.SideUnknown},
		"RE 6/9":           {eye.Right},
		"6/9 LE":           {eye.Left},
		"R 6/9 L 6/12":     {eye.Right, eye.Left},
		"OD sc 6/9 cc 6/6": {eye.Right, eye.Right},
		"6/9 OD 6/12 OS":   {eye.Right, eye.Left},
		"6/9 6/12 OD 6/18": {eye.SideUnknown, eye.SideUnknown, eye.SideUnknown}, // not told
	} {
		got := Parse(text, Options{})
		if len(got) != len(want) {
			t.Errorf("%q:%s", text, show(got))
			continue
		}
		for i := range got {
			if got[i].Side != want[i] {
				t.Errorf("%q value %d: %s, want %s", text, i, got[i].Side, want[i])
			}
		}
	}
}

func TestErrors(t *testing.T) {
	nan := math.NaN()
	for name, call := range map[string]func() error{
		"fraction zero":   func() error { _, err := LogMARFromSnellen(20, 0); return err },
		"fraction NaN":    func() error { _, err := LogMARFromSnellen(nan, 20); return err },
		"decimal zero":    func() error { _, err := LogMARFromDecimal(0); return err },
		"letters 101":     func() error { _, err := LogMARFromLetters(101); return err },
		"letters NaN":     func() error { _, err := LogMARFromLetters(nan); return err },
		"logMAR 1.8":      func() error { _, err := LettersFromLogMAR(1.8); return err },
		"distance 0":      func() error { _, err := LogMARAtDistance(0, 4, 0); return err },
		"near distance 0": func() error { _, err := NearLogMAR(1, 0); return err },
		"scheme":          func() error { _, err := ParseScheme("nobody"); return err },
		"language":        func() error { return Options{Language: "xx"}.Check() },
		"scheme number":   func() error { return Options{LowVision: 99}.Check() },
	} {
		if code := fault.CodeOf(call()); code == "" || code == fault.Internal {
			t.Errorf("%s: code %q", name, code)
		}
	}
	for _, language := range Languages() {
		if err := (Options{Language: language}).Check(); err != nil {
			t.Error(err)
		}
	}
	if got := Parse("HM", Options{LowVision: 99}); *got[0].LogMAR != 2.28 {
		t.Errorf("an unknown scheme counts as the default: %v", *got[0].LogMAR)
	}
	if got := Parse(strings.Repeat("6/9 ", MaxTextBytes), Options{}); len(got) != 1 || got[0].Kind != Unusable {
		t.Errorf("a long text: %d entries", len(got))
	}
}

// TestConstantTables: every rule and scheme names its source and how it is known.
func TestConstantTables(t *testing.T) {
	for _, c := range Conversions() {
		if c.Name == "" || c.Rule == "" || c.Range == "" || c.Source == "" || c.HowKnown == "" {
			t.Errorf("%+v", c)
		}
	}
	for i, s := range Schemes() {
		if int(s.Scheme) != i || s.Name == "" || s.Source == "" || s.HowKnown == "" || s.Conditions == "" {
			t.Errorf("%+v", s)
		}
		if got, err := ParseScheme(s.Name); err != nil || got != s.Scheme {
			t.Errorf("%s: %v %v", s.Name, got, err)
		}
	}
}

// TestReadScheme: the scheme of every measured value begins with a rule of the table.
func TestReadScheme(t *testing.T) {
	for _, text := range []string{"6/9", "20/40-2", "5/10", "1/20", "0.5 decimal", "logMAR 0.3", "70 letters", "N8 @ 40 cm"} {
		e := single(t, text, Options{})
		if !slices.ContainsFunc(Conversions(), func(c Conversion) bool { return strings.HasPrefix(e.Scheme, c.Name) }) {
			t.Errorf("%q: scheme %q is in no table", text, e.Scheme)
		}
	}
}
