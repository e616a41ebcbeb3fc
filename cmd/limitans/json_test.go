package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// measuredDocuments are JSON documents of the cases in which keys differ.
func measuredDocuments(t *testing.T) map[string]any {
	t.Helper()
	data := filepath.Join("..", "..", "testdata")
	volume := filepath.Join(data, "macular-hole-volume", "macular-hole-volume.tif")
	phantom := filepath.Join(t.TempDir(), "intact.dcm")
	if code, _, stderr := runCommand("phantom", phantom, "--kind", "intact", "--seed", "2"); code != exitDone {
		t.Fatal(stderr)
	}
	out := map[string]any{}
	for name, arguments := range map[string][]string{
		"scaled":    {volume, "--scale", "3.87,5.77,31"},
		"corrected": {volume, "--scale", "3.87,5.77,31", "--axial-length", "26.5", "--eye", "right"},
		"samples":   {volume},
		"picture":   {filepath.Join(data, "kermany-oct", "DRUSEN-95633-4.jpeg")},
		"intact":    {phantom},
	} {
		code, stdout, stderr := runCommand(append([]string{"measure", "--json"}, arguments...)...)
		if code != exitDone {
			t.Fatalf("%s: %s", name, stderr)
		}
		decoder := json.NewDecoder(strings.NewReader(stdout))
		var document any
		if err := decoder.Decode(&document); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if decoder.More() {
			t.Errorf("%s: more than one document", name)
		}
		out[name] = document
	}
	return out
}

// keyPaths collects the paths of all keys; members of lists share theirs.
func keyPaths(value any, at string, found map[string]bool) {
	switch v := value.(type) {
	case map[string]any:
		for key, inner := range v {
			path := strings.TrimPrefix(at+"."+key, ".")
			found[path] = true
			keyPaths(inner, path, found)
		}
	case []any:
		found[at+"[]"] = true
		for _, inner := range v {
			keyPaths(inner, at+"[]", found)
		}
	}
}

func TestJSON(t *testing.T) {
	documents := measuredDocuments(t)
	t.Run("keys", func(t *testing.T) { keysStay(t, documents) })
	t.Run("figures", func(t *testing.T) { figuresCarryIntervals(t, documents) })
}

// keysStay compares with testdata/measure-keys.txt: a line is a path
// and the cases that must have it, or "all". A new key may be entered there;
// a line may only go with the key's own programs warned.
func keysStay(t *testing.T, documents map[string]any) {
	found := map[string]map[string]bool{}
	for name, document := range documents {
		found[name] = map[string]bool{}
		keyPaths(document, "", found[name])
	}
	text, err := os.ReadFile(filepath.Join("testdata", "measure-keys.txt"))
	if err != nil {
		t.Fatal(err)
	}
	listed := 0
	for _, line := range strings.Split(string(text), "\n") {
		fields := strings.Fields(line)
		if len(fields) == 0 || fields[0] == "#" {
			continue
		}
		listed++
		cases := fields[1:]
		if slices.Equal(cases, []string{"all"}) {
			cases = nil
			for name := range documents {
				cases = append(cases, name)
			}
		}
		if len(cases) == 0 {
			t.Errorf("%s: no case", line)
		}
		for _, name := range cases {
			if found[name] == nil {
				t.Errorf("%s: no case %q", fields[0], name)
			} else if !found[name][fields[0]] {
				t.Errorf("the key %s is gone from the case %s", fields[0], name)
			}
		}
	}
	if listed < 150 {
		t.Errorf("only %d keys are listed", listed)
	}
}

// mayBeNull are keys other than the numbers of a missing figure.
var mayBeNull = map[string]string{
	"thickness.centre":                     "an object, left out where the grid has no place",
	"hole.mld_above_epithelium_um":         "a place, not a figure: none without a hole or a depth scale",
	"hole.min_section.above_epithelium_um": "a place, not a figure: none without a hole or a depth scale",
}

// figuresCarryIntervals: whatever has a value has its interval around it and a
// basis, or no number and a basis that says why; nothing else is null.
func figuresCarryIntervals(t *testing.T, documents map[string]any) {
	figures := 0
	for name, document := range documents {
		checkJSON(document, "", func(at, what string) { t.Errorf("%s: %s: %s", name, at, what) }, &figures)
	}
	if figures < 150 {
		t.Errorf("only %d figures", figures)
	}
}

func checkJSON(value any, at string, fail func(at, what string), figures *int) {
	switch v := value.(type) {
	case nil:
		if mayBeNull[at] == "" {
			fail(at, "is null")
		}
	case []any:
		for _, inner := range v {
			checkJSON(inner, at+"[]", fail, figures)
		}
	case map[string]any:
		inside, has := v["value"]
		if _, nested := inside.(map[string]any); has && !nested {
			*figures++
			if why := wrongFigure(v); why != "" {
				fail(at, why)
			}
			return
		}
		for key, inner := range v {
			checkJSON(inner, strings.TrimPrefix(at+"."+key, "."), fail, figures)
		}
	}
}

func wrongFigure(f map[string]any) string {
	if basis, _ := f["basis"].(string); strings.TrimSpace(basis) == "" {
		return "no basis"
	}
	if len(f) != 4 {
		return fmt.Sprintf("%d keys", len(f))
	}
	value, known := f["value"].(float64)
	low, hasLow := f["low"].(float64)
	high, hasHigh := f["high"].(float64)
	switch {
	case known != hasLow || known != hasHigh:
		return fmt.Sprintf("half a figure: %v", f)
	case !known && (f["value"] != nil || f["low"] != nil || f["high"] != nil):
		return fmt.Sprintf("no numbers: %v", f)
	case known && (low > value || value > high):
		return fmt.Sprintf("%v lies outside %v to %v", value, low, high)
	}
	return ""
}

func TestFigureRuleCanFail(t *testing.T) {
	for _, text := range []string{
		`{"value": 1, "low": 0, "high": 2}`,
		`{"value": 1, "low": 0, "high": 2, "basis": " "}`,
		`{"value": 1, "low": 2, "high": 3, "basis": "x"}`,
		`{"value": 1, "low": null, "high": 3, "basis": "x"}`,
		`{"value": "NaN", "low": null, "high": null, "basis": "x"}`,
		`{"list": null}`,
	} {
		var document any
		if err := json.Unmarshal([]byte(text), &document); err != nil {
			t.Fatal(err)
		}
		failed, figures := false, 0
		checkJSON(document, "", func(string, string) { failed = true }, &figures)
		if !failed {
			t.Errorf("%s passed", text)
		}
	}
}
