package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// The stable keys of bubble --json, each figure with value, interval and basis;
// a key may be added, none may go.
func TestBubbleJSON(t *testing.T) {
	for name, arguments := range map[string][]string{
		"plain":  {"--gas", "c3f8", "--percent", "14", "--axial-length", "24", "--fill", "85", "--lens", "phakic"},
		"air":    {"--gas", "air", "--axial-length", "30", "--lens", "aphakic"},
		"seen":   {"--gas", "sf6", "--percent", "20", "--axial-length", "22", "--seen", "1:80", "--seen", "4:20", "--break", "6:18", "--lens", "pseudophakic"},
		"leak":   {"--gas", "c3f8", "--percent", "14", "--axial-length", "24", "--fill", "90", "--seen", "1:50"},
		"pure":   {"--gas", "sf6", "--percent", "100%", "--axial-length", "24", "--fill", "10"},
		"C2F6":   {"--gas", "c2f6", "--percent", "16", "--axial-length", "24", "--pressure-mmhg", "24", "--glaucoma"},
		"more":   {"--gas", "sf6", "--percent", "20", "--axial-length", "24", "--seen", "25:60", "--break", "6:18"},
		"thirty": {"--gas", "c3f8", "--percent", "30", "--axial-length", "24", "--fill", "100"},
	} {
		code, stdout, stderr := runCommand(append([]string{"bubble", "--json"}, arguments...)...)
		if code != exitDone {
			t.Errorf("%s: %s", name, stderr)
			continue
		}
		var document map[string]any
		if err := json.Unmarshal([]byte(stdout), &document); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		found := map[string]bool{}
		keyPaths(document, "", found)
		for _, key := range strings.Fields(`cavity_ml.value half_life_days.value days_to_fill_50.low days_to_fill_10.high days_to_gone.basis
			macula_covered_until_day.upright.value macula_covered_until_day.face_down_45.low macula_covered_until_day.prone.basis
			macula_covered_until_day.supine.value peak_pressure_mmhg.value course[].day course[].fill course[].pressure
			course[].fill_low support_hours.measured[].hours.value gas percent.raw fill.percent lens axial_length_mm answer warnings method seed paths cautions`) {
			if !found[key] && !(name == "more" && strings.HasPrefix(key, "course")) {
				t.Errorf("%s: the key %s is missing", name, key)
			}
		}
		figures := 0
		checkJSON(document, "", func(at, what string) { t.Errorf("%s: %s: %s", name, at, what) }, &figures)
		if figures < 20 {
			t.Errorf("%s: %d figures", name, figures)
		}
		supine := document["macula_covered_until_day"].(map[string]any)["supine"].(map[string]any)
		if name != "more" && (supine["value"] != 0.0 || supine["high"] != 0.0) {
			t.Errorf("%s: supine %v", name, supine)
		}
		course := document["course"].([]any)
		if name == "more" {
			if half := document["days_to_fill_50"].(map[string]any); len(course) != 0 || half["value"] != nil || len(document["surprises"].([]any)) != 1 {
				t.Errorf("a course that a visit contradicts is told: %v", half)
			}
			continue
		}
		if len(course) < 10 || len(course) > 80 {
			t.Errorf("%s: %d points", name, len(course))
		}
		if !strings.Contains(document["answer"].(string), "not until an eye doctor has seen the eye empty") {
			t.Errorf("%s: %v", name, document["answer"])
		}
	}
}

// A reading that exchange does not explain is in the document as a leak.
func TestBubbleLeakInJSON(t *testing.T) {
	code, stdout, stderr := runCommand("bubble", "--json", "--gas", "c3f8", "--percent", "14", "--axial-length", "24", "--fill", "90", "--lens", "phakic", "--seen", "1:55")
	if code != exitDone {
		t.Fatal(stderr)
	}
	var document struct {
		Surprises []struct {
			Leak bool
			Text string
		}
	}
	if err := json.Unmarshal([]byte(stdout), &document); err != nil || len(document.Surprises) != 1 || !document.Surprises[0].Leak {
		t.Errorf("%+v, %v", document, err)
	}
}
