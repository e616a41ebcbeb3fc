package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"limitans/fault"
)

// runAcuity runs the verb as the command line does.
func runAcuity(t *testing.T, arguments ...string) (string, error) {
	t.Helper()
	var v struct {
		Acuity acuityCommand `cmd:""`
	}
	parser, err := kong.New(&v)
	if err != nil {
		t.Fatal(err)
	}
	command, err := parser.Parse(acuityArguments(append([]string{"acuity"}, arguments...)))
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	err = command.Run(&console{Stdout: &b, Stderr: &b})
	return b.String(), err
}

func TestAcuityJSON(t *testing.T) {
	for _, arguments := range [][]string{
		{"--json", "6/9-2", "-0.1", "−0.10", "0,3", "", "12 → 6/9 PH"},
		{"--json", "--", "6/9-2", "-0.1", "−0.10", "0,3", "", "12 → 6/9 PH"},
		{"--json", "--scheme", "Lange", "6/9-2", "-0.1", "−0.10", "0,3", "", "12 → 6/9 PH"},
		{"6/9-2", "-0.1", "−0.10", "0,3", "", "12 → 6/9 PH", "--json"},
	} {
		text, err := runAcuity(t, arguments...)
		if err != nil {
			t.Fatalf("%q: %v", arguments, err)
		}
		var got []map[string]any
		if err := json.Unmarshal([]byte(text), &got); err != nil {
			t.Fatalf("%q: %v in %s", arguments, err, text)
		}
		want := []string{"measured", "measured", "measured", "ask", "unusable", "ask", "measured"}
		if len(got) != len(want) {
			t.Fatalf("%q: %d objects", arguments, len(got))
		}
		for i, kind := range want {
			if got[i]["kind"] != kind {
				t.Errorf("%q: object %d is %v, want %s", arguments, i, got[i]["kind"], kind)
			}
		}
		if got[4]["raw"] != "" || got[4]["logmar"] != nil {
			t.Errorf("blank: %v", got[4])
		}
	}
}

func TestAcuityText(t *testing.T) {
	text, err := runAcuity(t, "-0.1", "HM 30cm", "cc 0.3")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"logMAR         -0.100 (logMAR)", "2.280 (Lange 2009)", "may be", "corrected", "0.3 m", "surgeon"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q missing in\n%s", want, text)
		}
	}
	text, err = runAcuity(t, "--numbers", "decimal", "--scheme", "schulze-bonsel", "--language", "es", "MM", "0.3")
	if err != nil || !strings.Contains(text, "2.300 (Schulze-Bonsel 2006)") || !strings.Contains(text, "0.523 (decimal acuity)") {
		t.Errorf("%v\n%s", err, text)
	}
}

func TestAcuityWrongUse(t *testing.T) {
	for _, arguments := range [][]string{
		{"--numbers", "feet", "0.3"},
		{"--scheme", "nobody", "HM"},
		{"--language", "xx", "HM"},
		{"6/9", "--jsn"},
	} {
		if _, err := runAcuity(t, arguments...); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q: %v", arguments, err)
		}
	}
	if _, err := runAcuity(t); err == nil {
		t.Error("no text is wrong use")
	}
}

// TestNegativeFirst: a negative number in front is a value; without the help of
// acuityArguments it is refused, never read as another number.
func TestNegativeFirst(t *testing.T) {
	var v struct {
		Acuity acuityCommand `cmd:""`
	}
	parser, err := kong.New(&v)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parser.Parse([]string{"acuity", "-0.1"}); err == nil {
		t.Errorf("taken as %q", v.Acuity.Text)
	}
	for _, arguments := range [][]string{{"acuity", "-0.1"}, {"acuity", "--json", "-.1"}, {"acuity", "--numbers=logmar", "-0,1", "--"}} {
		text, err := runAcuity(t, arguments[1:]...)
		if err != nil || !strings.Contains(text, "-0.1") && !strings.Contains(text, "-0,1") {
			t.Errorf("%q: %v\n%s", arguments, err, text)
		}
	}
	other := []string{"measure", "-1"}
	if got := acuityArguments(other); len(got) != 2 {
		t.Errorf("another verb: %q", got)
	}
}
