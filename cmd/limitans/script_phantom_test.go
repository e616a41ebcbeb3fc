package main

import (
	"encoding/json"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// contradiction lists what dciodvfy 1.00 says of every object that is no
// concatenation: its Ophthalmic Tomography module wants the three attributes
// (Type 1, as DICOM PS3.3 C.8.17.7 does), its Multi-frame Functional Groups
// module does not (Type 1C). The tests of package dicom say more.
var contradiction = map[string]bool{
	"Error - Cannot be less than or equal to one since then not a Concatenation - attribute <InConcatenationTotalNumber>":                                                                              true,
	"Error - Attribute present when condition unsatisfied (which may not be present otherwise) Type 1C Conditional Element=<InConcatenationNumber> Module=<MultiFrameFunctionalGroupsCommon>":          true,
	"Error - Attribute present when condition unsatisfied (which may not be present otherwise) Type 1C Conditional Element=<ConcatenationFrameOffsetNumber> Module=<MultiFrameFunctionalGroupsCommon>": true,
}

// scriptObject runs dciodvfy (Debian dicom3tools) over a file; nothing but the
// known contradiction may be found.
func scriptObject(ts *testscript.TestScript, negated bool, arguments []string) {
	if negated || len(arguments) != 1 {
		ts.Fatalf("usage: objectsays FILE")
	}
	// The exit code counts the known contradiction too.
	_ = ts.Exec("dciodvfy", arguments[0])
	said := ts.ReadFile("stdout") + ts.ReadFile("stderr")
	if !strings.Contains(said, "OphthalmicTomographyImage") {
		ts.Fatalf("the object is not recognised: %s", said)
	}
	for _, line := range strings.Split(said, "\n") {
		if !contradiction[line] && (strings.Contains(line, "Error") || strings.Contains(line, "Warning")) {
			ts.Fatalf("%s", line)
		}
	}
}

// scriptInTruth compares the measurement on stdout with the truth of a phantom:
// what is said of the hole is true, and the interval of its minimum linear
// diameter, widened once by its own half width, holds the truth. A 95 % interval
// misses in one of twenty eyes; widened to twice its half width (3.9 standard
// deviations) it should not miss in the few eyes here.
func scriptInTruth(ts *testscript.TestScript, negated bool, arguments []string) {
	if negated || len(arguments) != 1 {
		ts.Fatalf("usage: intruth TRUTH.json")
	}
	var truth struct {
		FullThickness *bool    `json:"full_thickness"`
		MLDUM         *float64 `json:"mld_um"`
	}
	var measured struct {
		Hole struct {
			Present *bool `json:"present"`
			MLDUM   struct {
				Value, Low, High *float64
			} `json:"mld_um"`
		} `json:"hole"`
	}
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(arguments[0])), &truth))
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &measured))
	if truth.FullThickness == nil || truth.MLDUM == nil || measured.Hole.Present == nil {
		ts.Fatalf("keys are missing")
	}
	if *measured.Hole.Present != *truth.FullThickness {
		ts.Fatalf("hole found: %v, true: %v", *measured.Hole.Present, *truth.FullThickness)
	}
	m := measured.Hole.MLDUM
	if !*truth.FullThickness {
		if m.Value != nil || *truth.MLDUM != 0 {
			ts.Fatalf("a diameter without a hole")
		}
		return
	}
	if m.Value == nil || m.Low == nil || m.High == nil {
		ts.Fatalf("the minimum linear diameter is missing")
	}
	half := (*m.High - *m.Low) / 2
	if *truth.MLDUM < *m.Low-half || *truth.MLDUM > *m.High+half {
		ts.Fatalf("minimum linear diameter %.1f (%.1f to %.1f), true %.1f", *m.Value, *m.Low, *m.High, *truth.MLDUM)
	}
}
