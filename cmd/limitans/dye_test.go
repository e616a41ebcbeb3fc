package main

import (
	"slices"
	"strings"
	"testing"
)

// dyeKeys and lightKeys are what programs rely on; a key may be added, none may go.
var dyeKeys = []string{
	"percent", "mg_per_ml", "verdict", "accepted", "stops", "warnings", "steps", "dyes", "parts", "vehicle",
	"glucose_percent", "glucose_verdict", "osmolarity_mosm_per_l", "osmolarity_verdict", "method", "cautions",
}

var lightKeys = []string{
	"dose_j_per_cm2", "basis", "minutes_left", "dose", "left", "limit_j_per_cm2", "state", "bases", "irradiance_mw_per_cm2", "disc_radius_mm",
	"thermal", "inputs", "warnings", "method", "cautions",
}

// TestDyeAndLightKeysStay: all keys are there with and without a stop, and every
// figure carries its interval or says why it has none.
func TestDyeAndLightKeysStay(t *testing.T) {
	for _, c := range []struct {
		code      int
		keys      []string
		null      []string
		arguments string
	}{
		{0, dyeKeys, nil, "dye --json --dye bbg --strength 0.025% --vehicle bbg-label --contact-s 30,30"},
		{0, dyeKeys, nil, "dye --json --dye ta --strength 40mg/ml --contact-s 30"},
		{0, dyeKeys, nil, "dye --json --dye icg --strength 5mg/ml --vehicle water --dye-ml 1 --add bss=9"},
		{3, dyeKeys, []string{"percent", "mg_per_ml"}, "dye --json --dye bbg --strength 0.25"},
		{3, dyeKeys, []string{"percent", "mg_per_ml"}, "dye --json --dye fluorescein --strength 0.25"},
		{3, dyeKeys, nil, "dye --json --dye bbg --strength 0.25%"},
		{0, lightKeys, nil, "light --json --lamp xenon --gauge 25 --power-mw 10 --distance-mm 10"},
		{0, lightKeys, nil, "light --json --mean-a 0.05 --fibre-mm 0.3 --power-mw 100 --distance-mm 3 --seconds 900"},
		{0, lightKeys, nil, "light --json --lamp halogen --filter-nm 475 --gauge 27 --segment 60s,10mW,8mm --basis iso15004"},
	} {
		d := document(t, c.code, strings.Fields(c.arguments)...)
		for _, key := range c.keys {
			value, has := d[key]
			if !has || (value == nil) != slices.Contains(c.null, key) {
				t.Errorf("%s: %s is %v", c.arguments, key, value)
			}
		}
		for _, key := range c.null {
			delete(d, key)
		}
		figures := 0
		checkJSON(d, "", func(at, what string) { t.Errorf("%s: %s: %s", c.arguments, at, what) }, &figures)
		if figures < 2 {
			t.Errorf("%s: only %d figures", c.arguments, figures)
		}
	}
}

// TestLightFirstFiguresAreOfTheNamedBasis: the figures at the top are those of
// the basis that is named beside them, and the other basis has its own.
func TestLightFirstFiguresAreOfTheNamedBasis(t *testing.T) {
	for basis, limit := range map[string]float64{"icnirp2013": 2.2, "iso15004": 10} {
		d := document(t, 0, strings.Fields("light --json --mean-a 0.05 --fibre-mm 0.3 --power-mw 10 --distance-mm 10 --seconds 60 --basis "+basis)...)
		if d["basis"] != basis || d["limit_j_per_cm2"] != limit {
			t.Errorf("%s: %v, %v", basis, d["basis"], d["limit_j_per_cm2"])
		}
		found := 0
		for _, item := range d["bases"].([]any) {
			b := item.(map[string]any)
			if b["basis"] == basis {
				found++
				if b["dose"].(map[string]any)["value"] != d["dose_j_per_cm2"] || b["left"].(map[string]any)["value"] != d["minutes_left"] {
					t.Errorf("%s: %v", basis, b)
				}
			} else if b["limit_j_per_cm2"] == limit {
				t.Errorf("%s: the other has its limit", basis)
			}
		}
		if found != 1 || len(d["bases"].([]any)) != 2 {
			t.Errorf("%s: %v", basis, d["bases"])
		}
	}
}

// TestDyeTextNamesEveryStop: what the JSON says stops, the text and the error say too.
func TestDyeTextNamesEveryStop(t *testing.T) {
	arguments := strings.Fields("dye --dye icg --strength 5mg/ml --vehicle glucose10 --contact-s 90")
	code, stdout, stderr := runCommand(arguments...)
	if code != exitStopped {
		t.Fatal(code)
	}
	stops := document(t, exitStopped, append(arguments, "--json")...)["stops"].([]any)
	if len(stops) < 4 {
		t.Fatalf("%v", stops)
	}
	for _, item := range stops {
		stop := item.(map[string]any)
		name := stop["code"].(string)
		if !strings.Contains(stdout, name) || !strings.Contains(stderr, name) || stop["source"] == "" || stop["text"] == "" {
			t.Errorf("%s is not said: %v", name, stop)
		}
	}
}
