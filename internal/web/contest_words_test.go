package web

import (
	"encoding/json"
	"testing"
)

// TestFieldsAreToldInWords: a field that two people changed stands with its unit, not
// as the record calls it.
func TestFieldsAreToldInWords(t *testing.T) {
	for _, c := range []struct{ value, says string }{
		{`[{"mmhg":14,"method":"goldmann_applanation"}]`, "method: Goldmann applanation\n14 mmHg"},
		{`[{"mmhg":14},{"mmhg":15}]`, "1: 14 mmHg\n2: 15 mmHg"},
		{`{"strength_mg_per_ml":0.25,"elapsed_s":40,"gauge_g":27}`, "elapsed: 40 s\ngauge: 27 G\nstrength: 0.25 mg/mL"},
		{`{"port":{"limbus_mm":3.5,"sutured":true}}`, "port, limbus: 3.5 mm\nport, sutured: yes"},
		{`"Second look"`, "Second look"},
		{`null`, ""},
		{``, "nothing"},
	} {
		if got := plainJSON(json.RawMessage(c.value)); got != c.says {
			t.Errorf("%s: %q, want %q", c.value, got, c.says)
		}
	}
}
