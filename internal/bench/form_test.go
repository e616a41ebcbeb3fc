package bench

import (
	"strings"
	"testing"

	"limitans/fault"
)

// TestEveryCalculatorHasAForm wants of each field a label, help that names no flag,
// and a name of its own; and that an empty form is asked back and never answered
// with a guess.
func TestEveryCalculatorHasAForm(t *testing.T) {
	if len(Calculators()) < 13 {
		t.Fatalf("%d calculators", len(Calculators()))
	}
	for _, c := range Calculators() {
		fields := Form(c.New())
		seen := map[string]bool{}
		for _, f := range fields {
			if f.Label == "" || f.Help == "" || strings.Contains(f.Help, "--") || strings.Contains(f.Help, "${") || seen[f.Name] {
				t.Errorf("%s: field %+v", c.Code, f)
			}
			seen[f.Name] = true
		}
		if len(fields) == 0 || c.Title == "" || c.What == "" {
			t.Errorf("%s is bare", c.Code)
		}
		q := c.New()
		_, err := Read(q, func(string) string { return "" })
		if err == nil && c.Code != "published" {
			if _, err = q.Answer(); err == nil {
				t.Errorf("%s answers an empty form", c.Code)
			}
		}
		if err != nil && fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", c.Code, err)
		}
	}
}

// TestRead checks that what is written in a form is what a flag would hold.
func TestRead(t *testing.T) {
	q := new(Bubble)
	written := map[string]string{
		"gas": "c3f8", "percent": "14", "axial-length": "24,5", "lens": "phakic", "glaucoma": "on", "seen": "3:60\r\n7:40\n", "seed": "7", "paths": "300", "hole-um": "",
	}
	fields, err := Read(q, func(name string) string { return written[name] })
	if err != nil {
		t.Fatal(err)
	}
	if q.Gas != "c3f8" || *q.Percent != "14" || q.AxialLength != 24.5 || q.Lens != "phakic" || !q.Glaucoma || len(q.Seen) != 2 || q.Seen[1] != "7:40" || q.Seed != 7 || q.Paths != 300 || q.Fill != "85" || q.HoleUM != 0 {
		t.Errorf("%+v", q)
	}
	if len(fields) != len(Form(q)) {
		t.Errorf("%d fields", len(fields))
	}
	for text, why := range map[string]string{"24,500": "may be 24500", "24.5 mm": "no number", "": "missing", strings.Repeat("1", 3000): "too long"} {
		written["axial-length"] = text
		fields, err := Read(new(Bubble), func(name string) string { return written[name] })
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q (%s) is taken: %v", text, why, err)
		}
		found := false
		for _, f := range fields {
			found = found || f.Name == "axial-length" && f.Trouble != ""
		}
		if !found {
			t.Errorf("%q: the trouble does not stand at its field", text)
		}
	}
	written["axial-length"], written["gas"] = "24.5", "radon"
	if _, err := Read(new(Bubble), func(name string) string { return written[name] }); err == nil {
		t.Error("a gas that is none of the choices is taken")
	}
}

// TestBlame finds the fields that a fault of a calculator is about.
func TestBlame(t *testing.T) {
	q := new(Bubble)
	written := map[string]string{"gas": "c3f8", "axial-length": "24.5"}
	fields, err := Read(q, func(name string) string { return written[name] })
	if err != nil {
		t.Fatal(err)
	}
	_, err = q.Answer()
	if err == nil || !Blame(fields, err) {
		t.Fatalf("a missing share blames no field: %v", err)
	}
	for _, f := range fields {
		if (f.Name == "percent") != (f.Trouble != "") {
			t.Errorf("%s: %q", f.Name, f.Trouble)
		}
	}
}

// TestSheetIsThere wants of every answer a method, cautions and a document.
func TestSheetIsThere(t *testing.T) {
	for code, written := range map[string]map[string]string{
		"bubble":   {"gas": "sf6", "percent": "20", "axial-length": "24", "paths": "200"},
		"mix":      {"gas": "c3f8", "percent": "14", "syringe-ml": "50", "axial-length": "24"},
		"altitude": {"gas": "c3f8", "fill": "50", "living-m": "100", "to-m": "1500"},
		"infusion": {"gauge": "25", "pressure-mmhg": "30"},
		"light":    {"power-mw": "10", "distance-mm": "10", "lamp": "xenon", "gauge": "25"},
		"dye":      {"dye": "bbg", "strength": "0.25 mg/mL", "vehicle": "bbg-label"},
		"ports":    {"axial-length": "24", "age-years": "70", "lens": "pseudophakic", "gauge": "25"},
		"acuity":   {"text": "6/9-2\nCF 1 m"},
	} {
		c, is := CalculatorOf(code)
		if !is {
			t.Fatal(code)
		}
		q := c.New()
		if _, err := Read(q, func(name string) string { return written[name] }); err != nil {
			t.Fatalf("%s: %v", code, err)
		}
		a, err := q.Answer()
		if err != nil || a.Document == nil || a.Stopped != "" {
			t.Fatalf("%s: %v %v", code, err, a.Stopped)
		}
		titles := ""
		for _, p := range a.Sheet.Parts {
			titles += p.Title + ";"
		}
		if !strings.Contains(titles, "Method;") || !strings.Contains(titles, "Cautions;") {
			t.Errorf("%s: %s", code, titles)
		}
		if code == "bubble" {
			if sheet, err := a.Draw(); err != nil || sheet == nil {
				t.Errorf("no drawing: %v", err)
			}
		}
	}
	if _, is := CalculatorOf("horoscope"); is {
		t.Error("a calculator that is none")
	}
}
