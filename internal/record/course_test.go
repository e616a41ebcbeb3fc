package record

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/goccy/go-yaml"
	"pgregory.net/rapid"
)

type courseCase struct {
	Case       string           `yaml:"case"`
	Text       string           `yaml:"text"`
	Eye        map[string]any   `yaml:"eye"`
	Scans      []map[string]any `yaml:"scans"`
	Figures    []map[string]any `yaml:"figures"`
	Plans      []map[string]any `yaml:"plans"`
	Operations []map[string]any `yaml:"operations"`
	Visits     []map[string]any `yaml:"visits"`
	AsOf       string           `yaml:"as_of"`
	InEye      []string         `yaml:"in_eye"`
	Lots       []string         `yaml:"lots"`
	Baseline   *string          `yaml:"baseline"`
	Latest     *string          `yaml:"latest"`
	First      string           `yaml:"first"`
	Expect     []string         `yaml:"expect"`
}

// nounsOf makes the nouns of a course, each with an identifier of its own.
func nounsOf[T Entity](t testing.TB, kind Kind, all []map[string]any) []T {
	var out []T
	for i, fields := range all {
		if year, is := fields["on"].(uint64); is { // a year alone is a number in YAML
			fields["on"] = fmt.Sprint(year)
		}
		e := nounOf(t, kind, fields).(T)
		if e.Identity().ID == testID {
			e.Identity().ID = ID(fmt.Sprintf("0190a000-0000-7000-8000-%06x%06x", len(kind), i+1))
		}
		out = append(out, e)
	}
	return out
}

// courseOf adds a scan before everything where a case tells none, so that only
// the cases about it find one missing.
func courseOf(t testing.TB, c courseCase) Course {
	fields := map[string]any{"side": "right", "id": testEye}
	for k, v := range c.Eye {
		fields[k] = v
	}
	if c.Scans == nil {
		c.Scans = []map[string]any{{"taken": "2001-01-01"}}
	}
	return Course{
		Eye: nounOf(t, KindEye, fields).(*Eye), Scans: nounsOf[*Scan](t, KindScan, c.Scans),
		Figures: nounsOf[*HoleFigures](t, KindFigures, c.Figures), Plans: nounsOf[*Plan](t, KindPlan, c.Plans),
		Operations: nounsOf[*Operation](t, KindOperation, c.Operations), Visits: nounsOf[*Visit](t, KindVisit, c.Visits),
	}
}

// Source: testdata/courses.yaml, see the README there.
func TestCourseCases(t *testing.T) {
	data, err := os.ReadFile("testdata/courses.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []courseCase
	if err := yaml.Unmarshal(data, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 30 {
		t.Fatalf("%d cases", len(cases))
	}
	for _, c := range cases {
		t.Run(c.Case, func(t *testing.T) { runCourse(t, c) })
	}
}

func runCourse(t *testing.T, c courseCase) {
	course := courseOf(t, c)
	before, err := json.Marshal(course)
	if err != nil {
		t.Fatal(err)
	}
	asOf := mustDate(t, c.AsOf)
	var inEye, lots, found []string
	for _, in := range InEye(course.Operations, course.Visits, asOf) {
		inEye = append(inEye, fmt.Sprintf("%s %s since %s", in.Medium, in.State, in.Since))
		for _, l := range in.Labels {
			lots = append(lots, l.Lot)
		}
	}
	if !slices.Equal(inEye, c.InEye) {
		t.Errorf("%s: in the eye %q, want %q", c.Text, inEye, c.InEye)
	}
	if c.Lots != nil && !slices.Equal(lots, c.Lots) {
		t.Errorf("lots %q, want %q", lots, c.Lots)
	}
	for _, f := range CheckCourse(course, Around{Today: testToday}) {
		found = append(found, string(f.Severity)+" "+string(f.Code))
	}
	slices.Sort(found)
	if !slices.Equal(found, c.Expect) && len(found)+len(c.Expect) > 0 {
		t.Errorf("%s: found %v, want %v", c.Text, CheckCourse(course, Around{Today: testToday}), c.Expect)
	}
	state := StateOf(course, asOf)
	raw := func(p *AcuityPoint) string {
		if p == nil {
			return ""
		}
		return string(p.Raw)
	}
	if c.Baseline != nil && (raw(state.Baseline) != *c.Baseline || (state.Baseline == nil) != (state.NoBaseline != "")) {
		t.Errorf("baseline %q (%s), want %q", raw(state.Baseline), state.NoBaseline, *c.Baseline)
	}
	if c.Latest != nil && raw(state.Latest) != *c.Latest {
		t.Errorf("latest %q, want %q", raw(state.Latest), *c.Latest)
	}
	if c.First != "" && (state.First == nil || state.First.On.ISO() != c.First) {
		t.Errorf("first operation %v, want %s", state.First, c.First)
	}
	if after, _ := json.Marshal(course); string(after) != string(before) {
		t.Error("the course was changed")
	}
}

// Whatever was put in and never taken out or seen gone is in the eye, with its lot;
// a removal later than everything else closes it. Order of entry does not matter.
func TestInEyeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		classes := []AgentClass{AgentOil, AgentHeavyOil, AgentHeavyLiquid, AgentGas}
		class := rapid.SampledFrom(classes).Draw(t, "class")
		var operations []*Operation
		day := Date{Year: 2020, Month: 1, Day: 1}
		for i := range rapid.IntRange(1, 4).Draw(t, "fillings") {
			day, _ = day.AddDays(rapid.IntRange(1, 100).Draw(t, "days"))
			operations = append(operations, &Operation{Base: Base{ID: ID(fmt.Sprint(i))}, On: day, Agents: []AgentUse{{Class: class, Action: AgentPlaced, Lot: fmt.Sprint("L", i)}}})
		}
		last := operations[len(operations)-1].Agents[0].Lot
		shuffled := rapid.Permutation(operations).Draw(t, "order")
		open := InEye(shuffled, nil, Date{})
		want := len(operations)
		if class == AgentGas {
			want = 1 // gas replaces gas
		}
		if len(open) != want || open[len(open)-1].Labels[0].Lot != last {
			t.Fatalf("%d fillings of %s: %+v", len(operations), class, open)
		}
		later, _ := day.AddDays(rapid.IntRange(1, 1000).Draw(t, "later"))
		out := append(slices.Clone(shuffled), &Operation{On: later, Agents: []AgentUse{{Class: class, Action: AgentRemoved, SeenEmpty: Yes}}})
		if left := InEye(out, nil, Date{}); len(left) != 0 {
			t.Fatalf("left after removal: %+v", left)
		}
		if before := InEye(out, nil, day); len(before) != want {
			t.Fatalf("before the removal: %+v", before)
		}
	})
}

// Hard case 20: the value of the third month is missing, that of the fifth is there;
// the window decides, and the day is shown.
func TestWindow(t *testing.T) {
	operation := Date{Year: 2024, Month: 1, Day: 1}
	visits := nounsOf[*Visit](t, KindVisit, []map[string]any{
		{"on": "2024-02-01", "acuities": []any{map[string]any{"raw": "6/24", "through": "fluid"}}},
		{"on": "2024-04-01", "acuities": []any{}, "missing": []any{map[string]any{"field": "acuity", "reason": "not_done"}}},
		{"on": "2024-06-01", "acuities": []any{map[string]any{"raw": "6/12", "through": "fluid"}, map[string]any{"raw": "cc 6/9", "through": "fluid"}}},
		{"on": "2024-06-02", "acuities": []any{map[string]any{"raw": "HM", "through": "air"}}},
	})
	if p, day, ok := AcuityInWindow(visits, operation, 91, 61, 121); ok {
		t.Errorf("found %q on day %d in an empty window", p.Raw, day)
	}
	p, day, ok := AcuityInWindow(visits, operation, 91, 61, 182)
	if !ok || p.Raw != "cc 6/9" || day != 152 {
		t.Errorf("found %q on day %d, want cc 6/9 on day 152", p.Raw, day)
	}
	if p, day, ok := AcuityInWindow(visits, operation, 31, 0, 365); !ok || p.Raw != "6/24" || day != 31 {
		t.Errorf("found %q on day %d", p.Raw, day)
	}
	if _, _, ok := AcuityInWindow(visits, Date{Year: 2024}, 31, 0, 365); ok {
		t.Error("a window after an operation of unknown day")
	}
}

// What a person chose counts instead of the question.
func TestChosenReadingCounts(t *testing.T) {
	v := nounOf(t, KindVisit, map[string]any{"acuities": []any{map[string]any{"raw": "0.3", "role": "corrected", "through": "fluid"}}}).(*Visit)
	if _, ok := LatestAcuity([]*Visit{v}, Date{}); ok {
		t.Fatal("a question counts")
	}
	for i, r := range v.Acuities[0].Understood[0].Readings {
		v.Acuities[0].Chosen = &v.Acuities[0].Understood[0].Readings[i]
		v.Acuities[0].ChosenBy = "n1"
		p, ok := LatestAcuity([]*Visit{v}, Date{})
		if !ok || *p.Entry.LogMAR != *r.LogMAR || p.Entry.Role != "corrected" {
			t.Errorf("chosen %+v, latest %+v", r, p)
		}
		if f := Check(v, Around{Today: testToday}); len(f) != 0 {
			t.Errorf("findings %v", f)
		}
	}
}

func TestStateTakesTheLastOfEach(t *testing.T) {
	course := courseOf(t, courseCase{
		Operations: []map[string]any{{"on": "2024-04-01", "lens_after": "pseudophakic", "end_pressure": map[string]any{"mmhg": 12, "method": "finger"}}},
		Visits: []map[string]any{
			{"on": "2024-03-01", "lens": "phakic_cataract", "pressures": []any{map[string]any{"mmhg": 17, "method": "rebound"}}},
			{"on": "2024-04-01", "lens": "phakic_cataract", "pressures": []any{map[string]any{"mmhg": 25, "method": "rebound"}}},
			{"on": "2024-05-01", "closure": map[string]any{"class": "flat_open"}, "due_by": "2024-08-01", "due_for": "review", "pressures": []any{}},
		},
	})
	s := StateOf(course, Date{})
	if s.Lens != LensPseudophakic || *s.Pressure.MmHg != 25 || s.Closure.Class != FlatOpen || s.DueBy.ISO() != "2024-08-01" || s.LastSeen.ISO() != "2024-05-01" || s.UsableAxial != nil || s.NoUsableAxial == "" {
		t.Errorf("%+v", s)
	}
	if early := StateOf(course, Date{Year: 2024, Month: 3, Day: 15}); early.Lens != LensCataract || early.First != nil || early.NoBaseline == "" {
		t.Errorf("%+v", early)
	}
	for _, c := range ClosureClasses() {
		if c.Class == FlatOpen && c.Closed != No || c.Source == "" || c.Words == "" {
			t.Errorf("%+v", c)
		}
	}
	if len(ClosureClasses()) != len(Words[ClosureClass]()) {
		t.Error("a class of closure without an explanation")
	}
}

func TestUsableAxialLength(t *testing.T) {
	e := nounOf(t, KindEye, map[string]any{"side": "right", "axial_lengths": []any{
		map[string]any{"length_mm": 26.0, "method": "light", "medium_then": "fluid", "on": "2020-01-01"},
		map[string]any{"length_mm": 26.1, "method": "light", "medium_then": "fluid", "on": "2021-01-01"},
		map[string]any{"length_mm": 26.4, "method": "ultrasound", "medium_then": "fluid", "on": "2022-01-01"},
		map[string]any{"length_mm": 33.8, "method": "ultrasound", "medium_then": "oil", "on": "2023-01-01"},
	}}).(*Eye)
	if a, ok, why := UsableAxialLength(e); !ok || a.LengthMM != 26.1 || why != "" {
		t.Errorf("%+v %v %q", a, ok, why)
	}
	e.AxialLengths = e.AxialLengths[3:]
	if _, ok, why := UsableAxialLength(e); ok || why == "" {
		t.Errorf("%v %q: a length by sound in oil is used", ok, why)
	}
}

func TestUsesOfLot(t *testing.T) {
	operations := []*Operation{
		{Base: Base{ID: "1"}, EyeID: "a", Agents: []AgentUse{{Lot: "pf 0012"}, {Lot: "X"}}},
		{Base: Base{ID: "2"}, EyeID: "b", Agents: []AgentUse{{BatchID: "batch"}}},
		{Base: Base{ID: "3", StruckOut: &StrikeOut{}}, EyeID: "c", Agents: []AgentUse{{Lot: "PF-0012"}}},
		{Base: Base{ID: "4"}, EyeID: "d", Agents: []AgentUse{{}}},
		nil,
	}
	got := UsesOfLot(operations, "batch", "PF-0012")
	if len(got) != 2 || got[0].EyeID != "a" || got[1].EyeID != "b" {
		t.Errorf("%+v", got)
	}
	if len(UsesOfLot(operations, "", "")) != 0 {
		t.Error("no lot found something")
	}
}
