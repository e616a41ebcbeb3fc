package record

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/eye"
)

// sentinels are texts, days and numbers that must not be found where they do not belong.
const (
	sentinelText = "Rosalind Sentinel"
	sentinelHash = "5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e"
)

var sentinelTime = time.Date(1987, 6, 5, 4, 3, 2, 0, time.UTC)

// fill sets every field of a noun: coded words to the first of their words, all other
// texts to the sentinel, lists to one member.
func fill(t testing.TB, v reflect.Value, words bool) {
	switch v.Interface().(type) {
	case ID:
		v.Set(reflect.ValueOf(testID))
		return
	case Date:
		v.Set(reflect.ValueOf(Date{Year: 1987, Month: 6, Day: 5, Raw: sentinelText, How: sentinelText}))
		return
	case Clock:
		v.Set(reflect.ValueOf(Clock("10:20")))
		return
	case FileRef:
		v.Set(reflect.ValueOf(FileRef{SHA256: sentinelHash, Bytes: 4711, MediaType: "image/png"}))
		return
	case time.Time:
		v.Set(reflect.ValueOf(sentinelTime))
		return
	case json.RawMessage:
		v.Set(reflect.ValueOf(json.RawMessage(`{"name":"` + sentinelText + `"}`)))
		return
	case estimate.Estimate:
		v.Set(reflect.ValueOf(estimate.Normal(400, 10, sentinelText)))
		return
	case eye.Laterality:
		v.Set(reflect.ValueOf(eye.Right))
		return
	case acuity.Entry:
		e := acuity.Parse("6/9 "+sentinelText, acuity.Options{})[0]
		e.Understood = sentinelText
		v.Set(reflect.ValueOf(e))
		return
	case acuity.Reading:
		v.Set(reflect.ValueOf(acuity.Reading{As: sentinelText, Kind: acuity.Measured}))
		return
	case Base: // set by the caller
		return
	}
	switch v.Kind() {
	case reflect.String:
		if list := vocabulary[v.Type()]; words && list != nil {
			v.SetString(list[0])
		} else {
			v.SetString(sentinelText)
		}
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(1)
	case reflect.Float64:
		v.SetFloat(1)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(t, v.Elem(), words)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(t, v.Index(0), words)
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i), words)
		}
	default:
		t.Fatalf("a noun holds a %s, which checks and views do not know", v.Type())
	}
}

func filled(t testing.TB, kind Kind, words bool) Entity {
	t.Helper()
	e, err := New(kind)
	if err != nil {
		t.Fatal(err)
	}
	fill(t, reflect.ValueOf(e).Elem(), words)
	e.Identity().ID, e.Identity().Version = testID, 7
	return e
}

func TestKinds(t *testing.T) {
	if len(Kinds()) < 14 {
		t.Fatalf("%d kinds", len(Kinds()))
	}
	seen := map[Kind]bool{}
	for _, k := range Kinds() {
		e := filled(t, k.Kind, true)
		if e.Kind() != k.Kind || k.Name == "" || seen[k.Kind] {
			t.Errorf("%+v makes a %s", k, e.Kind())
		}
		seen[k.Kind] = true
		data, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		back, _ := New(k.Kind)
		decoder := json.NewDecoder(strings.NewReader(string(data)))
		decoder.DisallowUnknownFields()
		if err := decoder.Decode(back); err != nil {
			t.Fatalf("%s: %v", k.Kind, err)
		}
		again, err := json.Marshal(back)
		if err != nil || string(again) != string(data) {
			t.Errorf("%s changed by storing:\n%s\n%s", k.Kind, data, again)
		}
		if strings.Contains(string(data), `"ID"`) || !strings.HasPrefix(string(data), `{"id":`) {
			t.Errorf("%s is stored as %s", k.Kind, data)
		}
	}
	if _, err := New("horse"); err == nil {
		t.Error("a kind that is none")
	}
	if slices.ContainsFunc(Kinds(), func(k KindInfo) bool { return k.Kind == KindPerson && !k.Identifying }) {
		t.Error("a person does not identify")
	}
}

// Every noun with every word unknown is stopped at each coded field; and nothing
// panics on values that make no sense.
func TestUnknownWordsAreStopped(t *testing.T) {
	for _, k := range Kinds() {
		e := filled(t, k.Kind, false)
		n := 0
		for _, f := range Check(e, Around{Today: testToday}) {
			if f.Code == CodeUnknownWord {
				n++
			}
		}
		want := countCoded(reflect.TypeOf(e).Elem())
		if k.Kind == KindScan {
			want++ // the trust of the scale
		}
		if n != want {
			t.Errorf("%s: %d unknown words of %d", k.Kind, n, want)
		}
	}
	if Check(nil, Around{})[0].Severity != Stop || Check((*Visit)(nil), Around{})[0].Severity != Stop {
		t.Error("nothing passed")
	}
}

func countCoded(t reflect.Type) int {
	switch {
	case vocabulary[t] != nil:
		return 1
	case t == reflect.TypeFor[Date](), t == reflect.TypeFor[Base](), t.PkgPath() != "" && t.PkgPath() != reflect.TypeFor[Date]().PkgPath():
		return 0
	}
	n := 0
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice:
		return countCoded(t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			n += countCoded(t.Field(i).Type)
		}
	}
	return n
}

// Every constant of a coded type is in the vocabulary, and every word has a constant.
// Second route: the source.
func TestVocabularyIsWhole(t *testing.T) {
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	constants := map[string][]string{}
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			spec, is := n.(*ast.ValueSpec)
			if !is || spec.Type == nil || len(spec.Values) != 1 {
				return true
			}
			typeName, is := spec.Type.(*ast.Ident)
			literal, text := spec.Values[0].(*ast.BasicLit)
			if is && text && literal.Kind == token.STRING {
				word, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Fatal(err)
				}
				if word != "" {
					constants[typeName.Name] = append(constants[typeName.Name], word)
				}
			}
			return true
		})
	}
	for typ, list := range vocabulary {
		have := slices.Clone(list)
		want := constants[typ.Name()]
		slices.Sort(have)
		slices.Sort(want)
		if !slices.Equal(have, want) {
			t.Errorf("%s: vocabulary %q, constants %q", typ.Name(), have, want)
		}
	}
	if len(vocabulary) < 40 || len(constants) < len(vocabulary) {
		t.Errorf("%d types of %d", len(vocabulary), len(constants))
	}
}

func TestSignedNounsDoNotChange(t *testing.T) {
	plan := func() *Plan {
		return nounOf(t, KindPlan, map[string]any{"signed": map[string]any{"by": map[string]any{"account": "s1", "place": "desk"}, "at": "2024-03-30T10:00:00Z"}, "chosen": "peel", "options": []any{map[string]any{"code": "peel", "name": "peel"}}}).(*Plan)
	}
	before := plan()
	frozen := func(after Entity) bool {
		return slices.ContainsFunc(Check(after, Around{Today: testToday, Before: before}), func(f Finding) bool { return f.Code == CodeFrozen && !f.Overridable })
	}
	same := plan()
	same.Version = 2
	same.StruckOut = &StrikeOut{By: Actor{AccountID: "s1"}, At: sentinelTime, Reason: "other patient"}
	if frozen(same) {
		t.Error("a signed plan cannot be struck out")
	}
	changed := plan()
	changed.GaugeG = 27
	if !frozen(changed) {
		t.Error("a signed plan was changed")
	}
	unsigned := plan()
	unsigned.Signed = nil
	if !frozen(unsigned) {
		t.Error("a signature was taken away")
	}
	before.Signed = nil
	if frozen(changed) {
		t.Error("a plan that is not signed cannot change")
	}
	other := plan()
	other.ID = testEye
	if f := Check(other, Around{Today: testToday, Before: before}); len(f) == 0 || f[0].Code != CodeMalformed {
		t.Errorf("another plan in the place of one: %v", f)
	}
	if !before.Frozen() == before.Frozen() || plan().Frozen() == before.Frozen() {
		t.Error("Frozen")
	}
}

func TestNumbersThatAreNone(t *testing.T) {
	nan := math.NaN()
	v := nounOf(t, KindVisit, nil).(*Visit)
	v.Pressures = []Pressure{{MmHg: &nan}}
	stops := Unresolved(Check(v, Around{Today: testToday}), nil)
	if len(stops) == 0 || stops[0].Code != CodeNotFinite || stops[0].Where != "pressures[0].mmhg" {
		t.Errorf("%v", stops)
	}
}

func TestOpenFields(t *testing.T) {
	empty := OpenFields(&Operation{Procedure: Vitrectomy, Agents: []AgentUse{
		{Class: AgentDye, Action: AgentUsed},
		{Class: AgentGas, Action: AgentPlaced},
		{Class: AgentOil, Action: AgentPlaced},
		{Class: AgentHeavyLiquid, Action: AgentUsed},
		{Class: AgentOil, Action: AgentRemoved},
	}, Steps: []Step{{Code: StepILMPeel}}, Ports: []Port{{}}})
	var where []string
	for _, f := range empty {
		where = append(where, f.Where)
	}
	for _, want := range []string{
		"on", "surgeon", "anaesthesia", "events", "lens_after", "ports[0].sutured", "end_pressure", "periphery_checked", "peels",
		"agents[0].seconds", "agents[0].lot", "agents[1].checked_by", "agents[2].amount_ml", "trapped_air_looked_for",
		"agents[3].seen_empty", "agents[4].seen_empty",
	} {
		if !slices.Contains(where, want) {
			t.Errorf("%s is not open: %v", want, where)
		}
	}
	if open := OpenFields(nounOf(t, KindOperation, nil).(*Operation)); len(open) != 0 {
		t.Errorf("a whole note is open at %v", open)
	}
	injection := &Operation{Procedure: Injection, On: testToday, Surgeon: "s1", Anaesthesia: AnaesthesiaTopical, NoEvents: true}
	if open := OpenFields(injection); len(open) != 0 {
		t.Errorf("an injection needs no ports: %v", open)
	}
}

// Source: hard cases 23 and 85 for the manner of names; names invented.
func TestSideFromFileName(t *testing.T) {
	for name, want := range map[string]eye.Laterality{
		"SMITH_JOHN_1947-OD.mp4": eye.Right, "scan_L_001.tif": eye.Left, "left eye.dcm": eye.Left, "GOLDMANN_RIGHTER.tif": eye.SideUnknown,
		"OD_OS_both.pdf": eye.SideUnknown, "visit-r.tif": eye.SideUnknown, "CLIP0001.mp4": eye.SideUnknown, "": eye.SideUnknown, "os/scan.tif": eye.Left,
	} {
		if got, text := SideFromFileName(name); got != want || got != eye.SideUnknown && text == "" {
			t.Errorf("%q: %s (%q), want %s", name, got, text, want)
		}
	}
}

func TestSidesThatAgree(t *testing.T) {
	for _, side := range []eye.Laterality{eye.Right, eye.Left} {
		got, findings := CheckSides([]SideSource{{SideFromForm, "x", side}, {SideFromName, "", eye.SideUnknown}, {SideFromHeader, "y", side}})
		if got != side || len(findings) != 0 {
			t.Errorf("%s: %v", got, findings)
		}
	}
	got, findings := CheckSides([]SideSource{{SideFromForm, "R", eye.Right}, {SideFromHeader, "L", eye.Left}})
	if got != eye.SideUnknown || len(findings) != 1 {
		t.Errorf("%s: %v", got, findings)
	}
}

// Problem H17: a merge brings the eyes of two records together.
func TestEyesOfOnePatient(t *testing.T) {
	right, left := &Eye{Base: Base{ID: "a"}, Side: eye.Right}, &Eye{Base: Base{ID: "b"}, Side: eye.Left}
	again := &Eye{Base: Base{ID: "c"}, Side: eye.Right}
	struckEye := &Eye{Base: Base{ID: "d", StruckOut: &StrikeOut{}}, Side: eye.Left}
	if got := CheckEyes([]*Eye{right, left, struckEye, right, nil}); len(got) != 0 {
		t.Errorf("%v", got)
	}
	if got := CheckEyes([]*Eye{right, left, again}); len(got) != 1 || got[0].Code != CodeTwoOfOneSide || got[0].Overridable {
		t.Errorf("%v", got)
	}
	if got := CheckEyes([]*Eye{{}}); len(got) != 1 || got[0].Code != CodeSideMissing {
		t.Errorf("%v", got)
	}
}

// The kinds that are signed freeze as plans do; figures are frozen from the first.
func TestWhatFreezes(t *testing.T) {
	for _, kind := range []Kind{KindPlan, KindOperation, KindVisit, KindDocument, KindFigures} {
		before, after := filled(t, kind, true), filled(t, kind, true)
		reflect.ValueOf(after).Elem().FieldByName("Note").SetString("another note")
		if !slices.ContainsFunc(Check(after, Around{Today: testToday, Before: before}), func(f Finding) bool { return f.Code == CodeFrozen }) {
			t.Errorf("%s does not freeze", kind)
		}
	}
	before, after := filled(t, KindScan, true), filled(t, KindScan, true)
	after.(*Scan).Note = "another note"
	if slices.ContainsFunc(Check(after, Around{Today: testToday, Before: before}), func(f Finding) bool { return f.Code == CodeFrozen }) {
		t.Error("a scan freezes")
	}
}
