package main

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
)

// The keys that programs rely on, by task: a key may be added, none may go.
func TestFlowKeysStay(t *testing.T) {
	common := []string{"task", "inputs", "method", "sources", "warnings", "cautions", "regime", "reynolds_number", "entrance_length_mm", "mean_speed_m_per_s", "kinetic_share"}
	for _, row := range []struct {
		arguments       []string
		estimates, keys []string
		inputs          []string
	}{
		{
			[]string{"infusion", "--gauge", "25", "--pressure-mmhg", "30"},
			[]string{"flow_ml_per_min"},
			nil,
			[]string{"gauge", "bore_mm", "length_mm", "tubing_bore_mm", "tubing_length_mm", "pressure_mmhg", "liquid", "viscosity_mpa_s", "density_g_per_ml"},
		},
		{
			[]string{"oil", "--gauge", "23", "--viscosity-cst", "1000", "--axial-length", "24", "--vacuum-mmhg", "500"},
			[]string{"time_s", "flow_ml_per_min", "cavity_ml"},
			nil,
			[]string{"viscosity_cst", "axial_length_mm", "eye_mmhg", "pressure_mmhg"},
		},
		{
			[]string{"subretinal", "--gauge", "38", "--droplet-mm", "1", "--eye-mmhg", "20"},
			[]string{"time_s", "flow_ul_per_s", "hold_up_mmhg"},
			[]string{"enters"},
			[]string{"droplet_mm", "droplet_ul", "eye_mmhg", "vacuum_mmhg"},
		},
		{
			[]string{"injection", "--gauge", "38", "--pressure-psi", "12"},
			[]string{"flow_ul_per_s"},
			nil,
			[]string{"pressure_mmhg"},
		},
	} {
		code, stdout, stderr := runCommand(append(append([]string{"flow"}, row.arguments...), "--json")...)
		if code != exitDone || stderr != "" {
			t.Fatalf("%v: %d, %s", row.arguments, code, stderr)
		}
		var document map[string]any
		if err := json.Unmarshal([]byte(stdout), &document); err != nil {
			t.Fatal(err)
		}
		for _, key := range slices.Concat(common, row.estimates, row.keys) {
			if _, is := document[key]; !is {
				t.Errorf("%v: no key %q", row.arguments, key)
			}
		}
		inputs, _ := document["inputs"].(map[string]any)
		for _, key := range row.inputs {
			if _, is := inputs[key]; !is {
				t.Errorf("%v: no input %q", row.arguments, key)
			}
		}
		for _, key := range row.estimates {
			figure, _ := document[key].(map[string]any)
			value, is := figure["value"].(float64)
			low, bounded := figure["low"].(float64)
			if basis, _ := figure["basis"].(string); !is || !bounded || low > value || basis == "" || len(figure) != 4 {
				t.Errorf("%v: %s is %v", row.arguments, key, figure)
			}
		}
	}
}

// The text rounds what the document holds, and says it with the same words.
func TestFlowTextIsTheDocumentRounded(t *testing.T) {
	arguments := []string{"flow", "oil", "--gauge", "23", "--viscosity-cst", "1000", "--volume-ml", "5", "--pressure-bar", "6"}
	_, text, _ := runCommand(arguments...)
	_, document, _ := runCommand(append(arguments, "--json")...)
	var got struct {
		Time     struct{ Value, Low, High float64 } `json:"time_s"`
		Warnings []string
		Sources  []string
	}
	if err := json.Unmarshal([]byte(document), &got); err != nil {
		t.Fatal(err)
	}
	// Worked example 11 of the fluidics reference: 32.1 s, 0.2 (exact).
	if math.Abs(got.Time.Value-32.1) > 0.2 || !strings.Contains(text, "32.2 s") {
		t.Errorf("%+v", got.Time)
	}
	joined := strings.Join(strings.Fields(text), " ")
	if len(got.Sources) < 2 || len(got.Warnings) < 2 {
		t.Fatalf("%+v", got)
	}
	for _, sentence := range append(got.Warnings, got.Sources...) {
		if !strings.Contains(joined, strings.Join(strings.Fields(sentence), " ")) {
			t.Errorf("the text lacks %q", sentence)
		}
	}
}

func TestWrappedKeepsEveryWord(t *testing.T) {
	for _, text := range []string{"", "a", "ab cd", strings.Repeat("µ", 100), strings.Repeat("word ", 50)} {
		lines := wrapped(text, 20)
		if strings.Join(strings.Fields(strings.Join(lines, " ")), " ") != strings.Join(strings.Fields(text), " ") {
			t.Errorf("%q became %q", text, lines)
		}
		for _, line := range lines {
			if n := len([]rune(line)); n > 20 && strings.Contains(line, " ") {
				t.Errorf("%q has %d runes", line, n)
			}
		}
	}
}
