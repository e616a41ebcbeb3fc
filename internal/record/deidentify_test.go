package record

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
)

var testKey = []byte("sixteen bytes at least")

// fullSet holds every clinical noun with every field set.
func fullSet(t testing.TB) Clinical {
	set := Clinical{
		Patients: []*Patient{filled(t, KindPatient, true).(*Patient)}, Eyes: []*Eye{filled(t, KindEye, true).(*Eye)},
		Scans: []*Scan{filled(t, KindScan, true).(*Scan)}, Figures: []*HoleFigures{filled(t, KindFigures, true).(*HoleFigures)},
		Plans: []*Plan{filled(t, KindPlan, true).(*Plan)}, Operations: []*Operation{filled(t, KindOperation, true).(*Operation)},
		Visits: []*Visit{filled(t, KindVisit, true).(*Visit)}, Films: []*Film{filled(t, KindFilm, true).(*Film)},
	}
	set.Figures[0].Source = FiguresTyped
	set.Patients[0].BirthYear = 1931
	return set
}

// ownTexts puts a word of the program into the fields that only the program words.
func ownTexts(v reflect.Value, field string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			ownTexts(v.Elem(), field)
		}
	case reflect.Slice:
		for i := range v.Len() {
			ownTexts(v.Index(i), field)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			ownTexts(v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name)
		}
	case reflect.String:
		if programTexts[field] && !typedTexts[field] {
			v.SetString("worded here")
		}
	}
}

// Nothing that identifies passes, whatever field it stands in: every text, day, time,
// hash and identifier of the set is one that must not be found again.
func TestNothingIdentifyingPasses(t *testing.T) {
	for _, days := range []DayView{DaysFromOperation, YearOnly} {
		for _, words := range []bool{true, false} {
			set := fullSet(t)
			if !words {
				for _, e := range []Entity{set.Visits[0], set.Operations[0], set.Scans[0], set.Plans[0], set.Films[0], set.Eyes[0]} {
					fill(t, reflect.ValueOf(e).Elem(), false)
				}
			}
			ownTexts(reflect.ValueOf(&set).Elem(), "")
			before, err := json.Marshal(set)
			if err != nil {
				t.Fatal(err)
			}
			for _, must := range []string{sentinelText, sentinelHash, "1987-06-05", string(testID), "4711", "1931", "Rosalind"} {
				if !strings.Contains(string(before), must) {
					t.Fatalf("the set does not hold %q", must)
				}
			}
			view, err := DeIdentify(set, ViewOptions{Days: days, Key: testKey})
			if err != nil {
				t.Fatal(err)
			}
			after, err := json.Marshal(view)
			if err != nil {
				t.Fatal(err)
			}
			for _, never := range []string{sentinelText, "Rosalind", sentinelHash, "1987-06", string(testID), "4711", "1931", "04:03:02"} {
				if strings.Contains(string(after), never) {
					t.Errorf("view %d holds %q:\n%s", days, never, after)
				}
			}
			if again, _ := json.Marshal(set); string(again) != string(before) {
				t.Error("the set was changed")
			}
			if view.Report.FreeTexts == 0 || view.Report.Blobs == 0 || view.Report.Files == 0 {
				t.Errorf("%+v", view.Report)
			}
		}
	}
}

func TestViewKeepsWhatItMay(t *testing.T) {
	course := courseOf(t, courseCase{
		Operations: []map[string]any{
			{"on": "2024-04-01", "surgeon": "s1", "agents": []any{map[string]any{"class": "dye", "action": "used", "dye": "brilliant_blue_g", "lot": "D-77", "seconds": 60}}},
			{"on": "2024-09-01", "surgeon": "s2"},
		},
		Visits: []map[string]any{
			{"on": "2024-03-01", "acuities": []any{map[string]any{"raw": "6/60 says Mr Doe", "through": "fluid"}}},
			{"on": "2024-05-01"},
			{"on": "2024-06"},
			{"on": map[string]any{"raw": "Easter"}},
		},
	})
	set := Clinical{
		Patients: []*Patient{nounOf(t, KindPatient, map[string]any{"birth_year": 1950, "sex": "female"}).(*Patient)},
		Eyes:     []*Eye{course.Eye}, Operations: course.Operations, Visits: course.Visits, Scans: course.Scans,
	}
	view, err := DeIdentify(set, ViewOptions{Key: testKey})
	if err != nil {
		t.Fatal(err)
	}
	if len(view.Patients) != 1 || len(view.Eyes) != 1 || len(view.Operations) != 2 || len(view.Visits) != 4 {
		t.Fatalf("%+v", view)
	}
	patient := view.Patients[0].ID
	if view.Eyes[0].PatientID != patient || view.Eyes[0].Side != eye.Right || view.Operations[0].EyeID != view.Eyes[0].ID || view.Patients[0].Sex != Female {
		t.Error("what belongs together does not any more")
	}
	if age := view.AgeAtFirstSurgery[patient]; age.String() != "74" {
		t.Errorf("age %s", age)
	}
	days := map[int]bool{}
	for _, o := range view.Operations {
		days[o.On.Offset] = o.On.Relative
		if o.Surgeon == "" || o.Surgeon == "s1" || o.Surgeon == "s2" {
			t.Errorf("surgeon %q", o.Surgeon)
		}
	}
	if !days[0] || !days[153] {
		t.Errorf("operations on days %v", days)
	}
	if view.Operations[0].Surgeon == view.Operations[1].Surgeon {
		t.Error("two surgeons became one")
	}
	// Sums go on working: day counts are the same before and after.
	p, ok, _ := Baseline(view.Visits, FirstOperation(view.Operations).On)
	if !ok || p.On.Offset != -31 || p.Entry.LogMAR == nil || *p.Entry.LogMAR != 1 || p.Raw != "" {
		t.Errorf("baseline %+v", p)
	}
	text, _ := json.Marshal(view)
	for _, never := range []string{"Doe", "D-77", "2024", "1950", "Easter", "n1"} {
		if strings.Contains(string(text), never) {
			t.Errorf("the view holds %q: %s", never, text)
		}
	}
	if !strings.Contains(string(text), "brilliant_blue_g") {
		t.Error("the dye is gone")
	}
	if view.Report.DatesDropped < 2 || view.Report.SmallGroups != 1 || len(view.Report.Cautions) < 2 {
		t.Errorf("%+v", view.Report)
	}
	again, _ := DeIdentify(set, ViewOptions{Key: testKey})
	other, _ := DeIdentify(set, ViewOptions{Key: []byte("another key of sixteen bytes")})
	if again.Patients[0].ID != patient || other.Patients[0].ID == patient {
		t.Error("pseudonyms do not follow the key")
	}
	years, err := DeIdentify(set, ViewOptions{Key: testKey, Days: YearOnly})
	if err != nil || years.Operations[0].On.ISO() != "2024" {
		t.Errorf("%+v, %v", years.Operations[0].On, err)
	}
}

// Source: HIPAA Privacy Rule, safe harbour, 45 CFR 164.514(b)(2)(i)(C), from memory:
// ages over 89 and all dates that tell them are grouped.
func TestAgesAbove89AreGrouped(t *testing.T) {
	for year, want := range map[int]string{1935: "89", 1934: "90 or older", 1905: "90 or older", 1890: "not known", 0: "not known", 2025: "not known", 2024: "0"} {
		set := Clinical{
			Patients:   []*Patient{{Base: Base{ID: testPatient}, BirthYear: year, Conditions: []Condition{{Code: Diabetes, Since: Date{Year: 1930, Month: 1, Day: 1}}}}},
			Operations: []*Operation{{Base: Base{ID: testID}, PatientID: testPatient, On: Date{Year: 2024, Month: 4, Day: 1}}},
		}
		for _, days := range []DayView{DaysFromOperation, YearOnly} {
			view, err := DeIdentify(set, ViewOptions{Key: testKey, Days: days})
			if err != nil {
				t.Fatal(err)
			}
			p := view.Patients[0]
			if age := view.AgeAtFirstSurgery[p.ID]; age.String() != want {
				t.Errorf("born %d: %s, want %s", year, age, want)
			}
			if p.BirthYear != 0 || p.Conditions[0].Since.Known() {
				t.Errorf("%+v tells the age", p)
			}
		}
	}
}

func TestViewLeavesOut(t *testing.T) {
	set := Clinical{
		Patients:   []*Patient{nil, {Base: Base{ID: "p"}}, {Base: Base{ID: "q", StruckOut: &StrikeOut{}}}, {Base: Base{ID: "r"}}},
		Visits:     []*Visit{{Base: Base{ID: "v"}, PatientID: "p", On: Date{Year: 2024, Month: 1, Day: 2}}, {Base: Base{ID: "w"}, PatientID: "q"}, {Base: Base{ID: "x", StruckOut: &StrikeOut{}}, PatientID: "p"}, nil},
		Operations: []*Operation{{Base: Base{ID: "o"}, PatientID: "nobody"}},
	}
	view, err := DeIdentify(set, ViewOptions{Key: testKey})
	if err != nil {
		t.Fatal(err)
	}
	r := view.Report
	if len(view.Patients) != 2 || len(view.Visits) != 1 || len(view.Operations) != 0 || r.Struck != 2 || r.Orphans != 2 || r.NoOperation != 1 || r.NoReference != 1 || view.Visits[0].On.Offset != 0 || !view.Visits[0].On.Relative {
		t.Errorf("%+v, %+v", view, r)
	}
	for _, options := range []ViewOptions{{}, {Key: []byte("short")}, {Key: testKey, Days: 7}} {
		if _, err := DeIdentify(set, options); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", options, err)
		}
	}
}

// Hard case 85: a neutral name, nothing of the old one.
func TestNeutralFileNames(t *testing.T) {
	if got := NeutralFileName(KindFilm, "v0a", 2, "video/MP4"); got != "film-v0a-2.mp4" {
		t.Error(got)
	}
	if got := NeutralFileName(KindScan, "v0a", 1, "application/x-odd"); got != "scan-v0a-1" {
		t.Error(got)
	}
}

// Every field that may carry a text of this program exists.
func TestProgramTextsExist(t *testing.T) {
	fields := map[string]bool{}
	var walk func(typ reflect.Type)
	walk = func(typ reflect.Type) {
		switch typ.Kind() {
		case reflect.Pointer, reflect.Slice:
			walk(typ.Elem())
		case reflect.Struct:
			if typ.PkgPath() != reflect.TypeFor[Date]().PkgPath() {
				return
			}
			for i := range typ.NumField() {
				f := typ.Field(i)
				fields[fmt.Sprintf("%s.%s", typ.Name(), f.Name)] = true
				walk(f.Type)
			}
		}
	}
	walk(reflect.TypeFor[Clinical]())
	for _, list := range []map[string]bool{programTexts, typedTexts} {
		for name := range list {
			if !fields[name] {
				t.Errorf("%s is no field", name)
			}
		}
	}
	for name := range typedTexts {
		if !programTexts[name] {
			t.Errorf("%s is not among the texts of the program", name)
		}
	}
}
