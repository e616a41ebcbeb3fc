package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// The stable keys of evidence --json; a key may be added, none may go.
func TestEvidenceJSON(t *testing.T) {
	for name, c := range map[string]struct {
		arguments []string
		keys      string
	}{
		"pool": {[]string{"evidence", "--question", "persistent-hole", "--json"}, `question inputs.technique groups[].technique groups[].name groups[].outcome
			groups[].units[].study groups[].units[].rows groups[].units[].events groups[].units[].eyes groups[].units[].share.low groups[].units[].derived groups[].units[].year
			groups[].middle.value groups[].new_unit.high groups[].logit_sd.basis groups[].heterogeneity_p groups[].events left_out[].row left_out[].why
			rows[].id rows[].source rows[].doi_or_pmid rows[].how_known rows[].recalled method warnings cautions`},
		"closure": {[]string{"evidence", "closure", "--mld", "640", "--json"}, `closure.value closure.low closure.high closure.basis middle_unit.value parameters[].name
			parameters[].estimate.low strata[].row strata[].source strata[].fitted inputs.mld_um valid_um seed warnings sources method cautions`},
	} {
		code, stdout, stderr := runCommand(c.arguments...)
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
		for _, key := range strings.Fields(c.keys) {
			if !found[key] {
				t.Errorf("%s: the key %s is missing", name, key)
			}
		}
		// What may be null: a year that was not seen, a p value of one study, a
		// duration that was not told.
		figures := 0
		checkJSON(document, "", func(at, what string) {
			if !strings.HasSuffix(at, "year") && !strings.HasSuffix(at, "heterogeneity_p") && !strings.HasSuffix(at, "duration_months") {
				t.Errorf("%s: %s: %s", name, at, what)
			}
		}, &figures)
		if figures < 5 {
			t.Errorf("%s: only %d figures", name, figures)
		}
	}
}
