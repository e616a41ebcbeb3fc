package evidence

import (
	"encoding/csv"
	"math"
	"strings"
	"testing"

	"limitans/fault"
)

func allRows(t testing.TB) []Row {
	t.Helper()
	rows, err := Rows()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func rowOf(t testing.TB, id string) Row {
	t.Helper()
	for _, r := range allRows(t) {
		if r.ID == id {
			return r
		}
	}
	t.Fatalf("no row %s", id)
	return Row{}
}

// 152 rows, 90 of them with both counts, as the table was compiled; every row
// with its source.
func TestRowsAreWhole(t *testing.T) {
	rows := allRows(t)
	counted, derived, recalled, secondary := 0, 0, 0, 0
	for i, r := range rows {
		if r.Source == "" || r.HowKnown == "" || r.Study == "" {
			t.Errorf("row %d: %+v", i, r)
		}
		if r.Counted() {
			counted++
		}
		if r.CountsDerived() {
			derived++
		}
		if r.Recalled != "" {
			recalled++
		}
		if r.Secondary() {
			secondary++
		}
		if r.Year != 0 && (r.Year < 1980 || r.Year > 2026) {
			t.Errorf("%s: year %d", r.ID, r.Year)
		}
		if r.Year == 0 && !strings.Contains(r.Recalled, "year") {
			t.Errorf("%s: no year and no word about it", r.ID)
		}
	}
	if len(rows) != 152 || counted != 90 {
		t.Errorf("%d rows, %d with counts", len(rows), counted)
	}
	if derived != 38 || recalled != 26 || secondary != 10 {
		t.Errorf("%d derived, %d recalled, %d secondary", derived, recalled, secondary)
	}
}

// A derived count is the only whole number that fits what was printed: rounded
// or cut off at the printed decimals. Printed percentages as the notes quote
// them. Row E025 is the other way round: 56 printed, 84 % printed, eyes derived.
func TestDerivedCountsAreUnique(t *testing.T) {
	printed := map[string]struct {
		percent  float64
		decimals int
	}{
		"E013": {86.8, 1}, "E015": {61.39, 2}, "E018": {90.5, 1}, "E028": {73.9, 1}, "E047": {98.7, 1}, "E048": {84.0, 1}, "E049": {91.9, 1}, "E050": {46.2, 1},
		"E052": {90.2, 1}, "E053": {65.0, 1}, "E056": {91.6, 1}, "E057": {91.6, 1}, "E058": {85.71, 2}, "E059": {70.0, 1}, "E060": {90.0, 1}, "E086": {66.7, 1},
		"E099": {76.92, 2}, "E100": {95, 0}, "E108": {87.7, 1}, "E109": {60, 0}, "E137": {94.8, 1}, "E138": {91.2, 1}, "E139": {90.5, 1}, "E140": {95.6, 1},
		"E141": {94.0, 1}, "E149": {82.7, 1}, "E150": {72.7, 1}, "E005": {89.92, 2}, "E029": {100, 0}, "E030": {100, 0}, "E031": {100, 0}, "E085": {100, 0},
	}
	fits := func(k, n int, percent float64, decimals int) bool {
		unit := math.Pow(10, float64(decimals))
		at := 100 * float64(k) / float64(n) * unit
		want := math.Round(percent * unit)
		return math.Round(at) == want || math.Floor(at+1e-9) == want
	}
	for id, p := range printed {
		r := rowOf(t, id)
		if !r.CountsDerived() {
			t.Errorf("%s is not marked as derived", id)
		}
		var found []int
		for k := range r.Eyes + 1 {
			if fits(k, r.Eyes, p.percent, p.decimals) {
				found = append(found, k)
			}
		}
		if len(found) != 1 || found[0] != r.Events {
			t.Errorf("%s: %v fit %g %% of %d, the table says %d", id, found, p.percent, r.Eyes, r.Events)
		}
	}
	var eyes []int
	for n := 56; n < 200; n++ {
		if fits(56, n, 84, 0) {
			eyes = append(eyes, n)
		}
	}
	// 56 of 66 is 84.8 %, which only cutting off would print as 84: the table
	// rests on rounding here.
	if len(eyes) != 2 || eyes[0] != 66 || eyes[1] != 67 || rowOf(t, "E025").Eyes != 67 {
		t.Errorf("FILMS: %v eyes fit", eyes)
	}
	// Arithmetic in the notes.
	for id, sum := range map[string][2]int{"E017": {23 + 6, 32}, "E022": {7 + 37, 8 + 42}, "E142": {161 - 24, 161}, "E147": {48 - 1, 48}, "E148": {40 - 1, 40}} {
		if r := rowOf(t, id); r.Events != sum[0] || r.Eyes != sum[1] || !r.CountsDerived() {
			t.Errorf("%s: %d of %d", id, r.Events, r.Eyes)
		}
	}
}

// Strata that divide a total add up to it.
func TestStrataAddUp(t *testing.T) {
	for total, strata := range map[string][]string{
		"E005": {"E001", "E002", "E003", "E004"}, "E045": {"E047", "E048"}, "E046": {"E049", "E050"}, "E051": {"E052", "E053"}, "E107": {"E108", "E109"},
	} {
		events, eyes := 0, 0
		for _, id := range strata {
			r := rowOf(t, id)
			if r.StratumOf != total {
				t.Errorf("%s is not known as a stratum of %s", id, total)
			}
			events, eyes = events+r.Events, eyes+r.Eyes
		}
		if r := rowOf(t, total); r.Events != events || r.Eyes != eyes {
			t.Errorf("%s: %d of %d, its strata %d of %d", total, r.Events, r.Eyes, events, eyes)
		}
	}
	for id, total := range map[string]string{"E007": "E006", "E008": "E006", "E100": "E101", "E106": "E105"} {
		if r := rowOf(t, id); r.StratumOf != total {
			t.Errorf("%s is a stratum of %q", id, r.StratumOf)
		}
	}
}

// Every correction names a row and a column, gives a reason, and is what now
// stands in the table.
func TestCorrectionsStand(t *testing.T) {
	corrections, err := Corrections()
	if err != nil {
		t.Fatal(err)
	}
	if len(corrections) < 60 {
		t.Fatalf("%d corrections", len(corrections))
	}
	lines, err := csv.NewReader(strings.NewReader(evidenceCSV)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, name := range lines[0] {
		at[name] = i
	}
	now := map[string][]string{}
	for _, line := range lines[1:] {
		now[line[0]] = line
	}
	for _, c := range corrections {
		column, isColumn := at[c.Field]
		line, isRow := now[c.RowID]
		switch {
		case !isColumn || !isRow || len(c.Reason) < 15 || c.Before == c.After:
			t.Errorf("%+v", c)
		case c.Field == "derived" && !strings.Contains(line[column], c.After), c.Field != "derived" && line[column] != c.After:
			t.Errorf("%s %s is %q, the correction says %q", c.RowID, c.Field, line[column], c.After)
		}
	}
}

// The loader refuses what would let a number pass without its source, and
// other broken tables, naming the row.
func TestLoaderRefuses(t *testing.T) {
	heading := strings.Join(columns, ",")
	good := map[string]string{
		"id": "X1", "study": "S", "question": "hole", "technique_class": "peel", "outcome": "closed", "eyes": "10", "events": "9", "design": "series",
		"source": "somewhere", "how_known": "abstract",
	}
	line := func(changes ...string) string {
		var out []string
		for _, name := range columns {
			value := good[name]
			for i := 0; i+1 < len(changes); i += 2 {
				if changes[i] == name {
					value = changes[i+1]
				}
			}
			out = append(out, value)
		}
		return strings.Join(out, ",")
	}
	if rows, err := readRows(heading + "\n" + line() + "\n"); err != nil || len(rows) != 1 {
		t.Fatalf("the good row: %v", err)
	}
	stratum := line("id", "X2", "stratum_of", "X1", "eyes", "11")
	for name, text := range map[string]string{
		"no source":         line("source", ""),
		"blank source":      line("source", "  "),
		"no mark":           line("how_known", ""),
		"another mark":      line("how_known", "hearsay"),
		"no id":             line("id", ""),
		"no study":          line("study", ""),
		"question":          line("question", "nose"),
		"technique":         line("technique_class", "magic"),
		"outcome":           line("outcome", "fine"),
		"tamponade":         line("tamponade_class", "water"),
		"design":            line("design", "guess"),
		"derived":           line("derived", "luck"),
		"twice":             line() + "\n" + line(),
		"more than all":     line("events", "11"),
		"no eyes":           line("eyes", "0", "events", "0"),
		"negative":          line("events", "-1"),
		"half an eye":       line("eyes", "10.5"),
		"too many":          line("eyes", "99999999"),
		"no number":         line("size_low_um", "wide"),
		"infinite":          line("mld_mean_um", "Inf"),
		"ends":              line("size_low_um", "500", "size_high_um", "400"),
		"larger stratum":    line() + "\n" + stratum,
		"lost total":        line("stratum_of", "X9"),
		"total elsewhere":   line() + "\n" + line("id", "X2", "study", "T", "stratum_of", "X1"),
		"stratum of itself": line("stratum_of", "X1"),
		"lost overlap":      line("overlaps", "X9"),
		"short line":        "X1,S",
		"nothing":           "",
	} {
		if _, err := readRows(heading + "\n" + text + "\n"); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := readRows("id,study\nX,S\n"); fault.CodeOf(err) != fault.Internal {
		t.Errorf("heading: %v", err)
	}
}

// The published analyses of individual patients, as printed; errors of the
// logarithm by hand: ln(8.30/2.77)/3.92 = 0.280, ln 2.884/2.308 = 0.459.
func TestEffects(t *testing.T) {
	effects, err := Effects()
	if err != nil || len(effects) != 6 {
		t.Fatalf("%d effects, %v", len(effects), err)
	}
	for id, want := range map[string][2]float64{"F01": {4.80, 0.280}, "F02": {9.27, 0.317}, "F03": {2.884, 0.459}, "F04": {0.965, 0.0162}, "F05": {0.996, math.NaN()}, "F06": {3.656, 0.394}} {
		e, err := effectOf(id)
		if err != nil || e.OddsRatio.Value != want[0] || e.Source == "" || e.HowKnown == "" {
			t.Errorf("%s: %+v, %v", id, e, err)
		}
		if math.IsNaN(want[1]) != math.IsNaN(e.StandardError) || math.Abs(e.StandardError-want[1]) > 0.001 {
			t.Errorf("%s: error %.4f, want %.4f", id, e.StandardError, want[1])
		}
	}
	if _, err := effectOf("F99"); err == nil {
		t.Error("an effect that is not there")
	}
}

// Every word of a question, technique and outcome has its words for people.
func TestWordsForPeople(t *testing.T) {
	for _, q := range Questions() {
		if q.String() == "" {
			t.Error(string(q))
		}
	}
	for _, k := range Techniques() {
		if k.String() == "" {
			t.Error(string(k))
		}
	}
	for _, r := range allRows(t) {
		if r.Outcome.String() == "" {
			t.Error(r.ID)
		}
	}
}
