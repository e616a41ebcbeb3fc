package main

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// document runs a command and reads its JSON.
func document(t *testing.T, wantCode int, arguments ...string) map[string]any {
	t.Helper()
	code, stdout, stderr := runCommand(arguments...)
	if code != wantCode {
		t.Fatalf("%q ends with %d: %s", arguments, code, stderr)
	}
	var d map[string]any
	if err := json.Unmarshal([]byte(stdout), &d); err != nil {
		t.Fatalf("%q: %v in %s", arguments, err, stdout)
	}
	return d
}

// mixKeys are what programs rely on; a key may be added, none may go.
var mixKeys = []string{
	"gas", "percent", "accepted", "gas_ml", "air_ml", "total_ml", "flush_ml", "flush", "percent_in_syringe", "percent_in_eye", "cavity_ml",
	"end_volume_ml", "syringe", "stops", "warnings", "steps", "overpressure", "wrong_mixtures", "method", "cautions",
}

var altitudeKeys = []string{
	"gas", "fill", "cavity_ml", "pressure_before_mmhg", "route", "pressure_rise_mmhg", "peak_pressure_mmhg", "peak_at_minutes", "sealed_rise_mmhg",
	"lowest_pressure_mmhg", "rule_rise_mmhg", "free_expansion", "course", "verdict", "reasons", "nitrous_oxide", "assumed", "method", "cautions",
}

// TestBenchKeysStay: all keys are there with and without a stop, and every
// figure carries its interval or says why it has none.
func TestBenchKeysStay(t *testing.T) {
	for _, c := range []struct {
		code      int
		keys      []string
		null      []string
		arguments string
	}{
		{0, mixKeys, nil, "mix --json --gas c3f8 --percent 14 --syringe-ml 50 --axial-length 24"},
		{0, mixKeys, []string{"flush_ml"}, "mix --json --gas sf6 --percent 20 --syringe-ml 50"},
		{0, mixKeys, []string{"flush_ml"}, "mix --json --gas sf6 --pneumatic-ml 0.3 --syringe-ml 1 --axial-length 24"},
		{0, mixKeys, nil, "mix --json --gas air --syringe-ml 50 --axial-length 24"},
		{3, mixKeys, []string{"gas_ml", "air_ml", "total_ml", "flush_ml"}, "mix --json --gas c3f8 --percent 20 --syringe-ml 50 --axial-length 24"},
		{3, mixKeys, []string{"gas_ml", "air_ml", "total_ml", "flush_ml"}, "mix --json --gas sf6/c3f8 --percent 20 --syringe-ml 50 --axial-length 24"},
		{0, altitudeKeys, nil, "altitude --json --gas sf6 --fill 50 --living-m 0 --to-m 800"},
		{0, altitudeKeys, nil, "altitude --json --gas air --fill 0 --living-m 800 --to-m 100 --axial-length 24"},
	} {
		d := document(t, c.code, strings.Fields(c.arguments)...)
		for _, key := range c.keys {
			value, has := d[key]
			if !has || (value == nil) != slices.Contains(c.null, key) {
				t.Errorf("%s: %s is %v", c.arguments, key, value)
			}
		}
		for _, key := range []string{"stops", "warnings", "course", "reasons", "steps", "assumed"} {
			if value, has := d[key]; has {
				if _, list := value.([]any); !list {
					t.Errorf("%s: %s is no list", c.arguments, key)
				}
			}
		}
		for _, key := range c.null {
			delete(d, key)
		}
		figures := 0
		checkJSON(d, "", func(at, what string) { t.Errorf("%s: %s: %s", c.arguments, at, what) }, &figures)
		if figures < 4 {
			t.Errorf("%s: only %d figures", c.arguments, figures)
		}
	}
}

// TestStopsAndWarningsSaySource: each has a code, a text and a source.
func TestStopsAndWarningsSaySource(t *testing.T) {
	seen := 0
	for _, arguments := range []string{
		"mix --json --gas c3f8 --percent 35 --syringe-ml 50 --axial-length 31 --minutes 70 --limit-minutes 30",
		"mix --json --gas sf6 --percent 14 --syringe-ml 10",
		"mix --json --gas sf6 --percent 1 --syringe-ml 10",
		"mix --json --gas sf6 --percent 15 --pneumatic-ml 4 --syringe-ml 10",
	} {
		d := document(t, exitStopped, strings.Fields(arguments)...)
		for _, list := range []string{"stops", "warnings"} {
			for _, item := range d[list].([]any) {
				m := item.(map[string]any)
				for _, key := range []string{"code", "text", "source"} {
					if s, _ := m[key].(string); strings.TrimSpace(s) == "" {
						t.Errorf("%s: %s without %s: %v", arguments, list, key, m)
					}
				}
				seen++
			}
		}
	}
	if seen < 10 {
		t.Errorf("only %d", seen)
	}
}

// TestTextNamesEveryStop: what the JSON says stops, the text says too.
func TestTextNamesEveryStop(t *testing.T) {
	arguments := strings.Fields("mix --gas c3f8 --percent 35 --syringe-ml 50 --axial-length 24")
	code, stdout, stderr := runCommand(arguments...)
	if code != exitStopped {
		t.Fatal(code)
	}
	for _, item := range document(t, exitStopped, append(arguments, "--json")...)["stops"].([]any) {
		name := item.(map[string]any)["code"].(string)
		if !strings.Contains(stdout, "STOP") || !strings.Contains(stdout, name) || !strings.Contains(stderr, name) {
			t.Errorf("%s is not said", name)
		}
	}
}
