package record

import (
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"limitans/acuity"
	"limitans/eye"
)

// Identifiers of the test files.
const (
	testID      = ID("0190a000-0000-7000-8000-00000000000a")
	testPatient = ID("0190a000-0000-7000-8000-00000000000b")
	testEye     = ID("0190a000-0000-7000-8000-00000000000c")
	testBatch   = ID("0190a000-0000-7000-8000-0000000000b1")
)

var testToday = Date{Year: 2026, Month: 6, Day: 15}

type nounCase struct {
	Case       string         `yaml:"case"`
	Text       string         `yaml:"text"`
	Kind       Kind           `yaml:"kind"`
	Noun       map[string]any `yaml:"noun"`
	Batch      map[string]any `yaml:"batch"`
	Birth      string         `yaml:"birth"`
	Died       string         `yaml:"died"`
	Expect     []string       `yaml:"expect"`
	Says       []string       `yaml:"says"`
	Unresolved *[]FindingCode `yaml:"unresolved"`
}

// ordinary is what a noun of a case has that the case does not tell.
func ordinary(kind Kind) map[string]any {
	actor := map[string]any{"account": "n1", "place": "desk"}
	all := map[string]any{"id": testID, "patient_id": testPatient, "eye_id": testEye}
	switch kind {
	case KindPatient:
		all = map[string]any{"id": testPatient}
	case KindBatch, KindMerge:
		all = map[string]any{"id": testID}
	case KindPerson, KindEye:
		delete(all, "eye_id")
	}
	more := map[Kind]map[string]any{
		KindPerson:  {"names": []any{map[string]any{"text": "Invented Person"}}, "birth_date": "1950-05-05"},
		KindMerge:   {"by": actor, "at": "2026-06-15T10:00:00Z", "reason": "the same person"},
		KindScan:    {"taken": "2024-04-01"},
		KindFigures: {"taken": "2024-04-01", "measured_at": "2024-04-01T10:00:00Z", "method": "caliper", "source": "by hand"},
		KindPlan:    {"made_on": "2024-03-30", "side": "right", "revision": 1},
		KindVisit: {
			"on": "2024-05-01", "acuities": []any{map[string]any{"raw": "6/9", "through": "fluid"}},
			"pressures": []any{map[string]any{"mmhg": 15, "method": "rebound"}},
		},
		KindOperation: {
			"on": "2024-04-01", "procedure": "vitrectomy", "side": "right", "surgeon": "s1", "anaesthesia": "block",
			"lens_after": "pseudophakic", "no_events": true, "periphery_checked": "yes", "trapped_air_looked_for": "yes",
			"ports":        []any{map[string]any{"gauge_g": 25, "sutured": "no"}},
			"end_pressure": map[string]any{"mmhg": 15, "method": "finger"},
			"side_checks":  []any{map[string]any{"when": "before_knife", "typed_side": "right", "by": actor, "at": "2024-04-01T10:00:00Z"}},
		},
		KindFilm: {"on": "2024-04-01"},
	}[kind]
	maps.Copy(all, more)
	return all
}

// nounOf makes a noun from its stored form.
func nounOf(t testing.TB, kind Kind, fields map[string]any) Entity {
	t.Helper()
	all := ordinary(kind)
	maps.Copy(all, fields)
	data, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	e, err := New(kind)
	if err != nil {
		t.Fatal(err)
	}
	decoder := json.NewDecoder(strings.NewReader(string(data)))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(e); err != nil {
		t.Fatalf("%s: %v in %s", kind, err, data)
	}
	if v, is := e.(*Visit); is {
		for i := range v.Acuities {
			v.Acuities[i].Understood = acuity.Parse(string(v.Acuities[i].Raw), acuity.Options{})
		}
	}
	return e
}

// Source: testdata/cases.yaml, see the README there. Every rule of the table of
// rules is raised by a case here or in a course.
func TestNounCases(t *testing.T) {
	data, err := os.ReadFile("testdata/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []nounCase
	if err := yaml.Unmarshal(data, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 60 {
		t.Fatalf("%d cases", len(cases))
	}
	raised := map[FindingCode]bool{}
	for _, c := range cases {
		t.Run(c.Case, func(t *testing.T) { runNoun(t, c, raised) })
	}
	for _, code := range []FindingCode{ // raised in course_test.go and check_test.go
		CodeOrder, CodeRemovalFirst, CodeRemovalAlone, CodeStillFilled, CodeThroughGas, CodeResidual, CodeFrozen, CodeReference,
		CodeTwoOfOneSide, CodeNotReadBack, CodeSignedForOther, // and in mixing_test.go
	} {
		raised[code] = true
	}
	for _, r := range Rules() {
		if !raised[r.Code] {
			t.Errorf("no case raises %s", r.Code)
		}
		if r.Why == "" || r.Severity != Stop && r.Overridable || (r.NeedsSide || r.NeedsSecond) && !r.Overridable {
			t.Errorf("rule %+v", r)
		}
	}
}

func runNoun(t *testing.T, c nounCase, raised map[FindingCode]bool) {
	e := nounOf(t, c.Kind, c.Noun)
	around := Around{Today: testToday, Eye: &Eye{Base: Base{ID: testEye}, PatientID: testPatient, Side: eye.Right}}
	if c.Kind == KindEye {
		around.Eye = nil
	}
	if c.Birth != "" {
		around.BirthDate = mustDate(t, c.Birth)
	}
	if c.Died != "" {
		around.DiedOn = mustDate(t, c.Died)
	}
	if c.Batch != nil {
		around.Batches = map[ID]*Batch{testBatch: nounOf(t, KindBatch, c.Batch).(*Batch)}
	}
	before, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	findings := Check(e, around)
	if after, _ := json.Marshal(e); string(after) != string(before) {
		t.Error("the noun was changed")
	}
	var got []string
	all := ""
	for _, f := range findings {
		got = append(got, string(f.Severity)+" "+string(f.Code))
		all += f.What + "; " + f.Mend + "\n"
		raised[f.Code] = true
		if f.What == "" {
			t.Errorf("%s says nothing", f.Code)
		}
	}
	slices.Sort(got)
	slices.Sort(c.Expect)
	if !slices.Equal(got, c.Expect) {
		t.Errorf("%s: found %v, want %v:\n%s", c.Text, got, c.Expect, all)
	}
	for _, want := range c.Says {
		if !strings.Contains(all, want) {
			t.Errorf("%q does not stand in:\n%s", want, all)
		}
	}
	if c.Unresolved != nil {
		var codes []FindingCode
		for _, f := range Unresolved(findings, overridesOf(e)) {
			codes = append(codes, f.Code)
		}
		slices.Sort(codes)
		slices.Sort(*c.Unresolved)
		if !slices.Equal(codes, *c.Unresolved) {
			t.Errorf("unresolved %v, want %v", codes, *c.Unresolved)
		}
	}
}

func overridesOf(e Entity) []Override {
	switch n := e.(type) {
	case *Scan:
		return n.Overrides
	case *Operation:
		return n.Overrides
	case *Visit:
		return n.Overrides
	}
	return nil
}
