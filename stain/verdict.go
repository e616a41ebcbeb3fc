package stain

import (
	"fmt"

	"limitans/fault"
)

// Verdict grades one property of a preparation.
type Verdict string

// The verdicts, from mild to severe; the severest of all is that of a sheet.
const (
	Good    Verdict = "good"
	Caution Verdict = "caution"
	Halt    Verdict = "stop"
	Unknown Verdict = "unknown" // an input is missing; counts as caution
)

// worse returns the severer of two verdicts.
func worse(a, b Verdict) Verdict {
	rank := map[Verdict]int{Good: 0, Unknown: 1, Caution: 1, Halt: 2}
	if rank[b] > rank[a] {
		return b
	}
	return a
}

// StopCode names a stop for programs; it does not change when its wording does.
type StopCode string

// The stops. While one stands nothing is to be injected. None is lifted by a
// reason: a unit's own limit, the strength with its unit or another mixture is
// what answers them.
const (
	StopDenied         StopCode = "dye_denied"
	StopUnlisted       StopCode = "dye_not_listed"
	StopDyeUnclear     StopCode = "dye_unclear"
	StopStrength       StopCode = "strength_unclear"
	StopAboveLimit     StopCode = "above_unit_limit"
	StopTooThin        StopCode = "osmolarity_too_low"
	StopTooThick       StopCode = "osmolarity_too_high"
	StopGlucose        StopCode = "glucose_too_high"
	StopContact        StopCode = "contact_too_long"
	StopContactSum     StopCode = "contact_sum_too_long"
	StopDryHydrophilic StopCode = "dry_hydrophilic_lens"
)

// Stop is one reason not to inject.
type Stop struct {
	Code   StopCode `json:"code"`
	Text   string   `json:"text"`
	Source string   `json:"source"`
}

// Warning is what must be known although nothing stops.
type Warning struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Osmolarity bands, mOsm/L.
const (
	lowestSafeMOsm   = 257 // least of nine dyes in saline or glucose; below it stops
	lowMOsm          = 270 // physiological 270 to 320
	highMOsm         = 320
	highestDyeMOsm   = 385 // most of the nine dyes
	acceptedGlucose  = 5.0 // % in the mixture
	avoidedGlucose   = 10.0
	sourceOsmolarity = "270 to 320 mOsm: Maia 2011 (abstract); nine dyes in saline or glucose 257 to 385: Costa 2009, IOVS 50:385 (abstract); indocyanine green at 248 harmed cells: Stalmans 2002 (from memory)"
	sourceGlucose    = "isolated retina, brilliant blue G with glucose 40 %: Graefes 2010, doi 10.1007/s00417-010-1508-5 (abstract): about 5 % accepted, avoid from 10 %"
	sourceProposal   = "limit of this program for a dye that light excites, after its reference; no published limit"
	roundingSlack    = 1e-9
)

// OsmolarityVerdict grades an osmolarity in mOsm/L (0 to 20,000): below 257 a
// stop, 257 to 270 and above 320 caution, else good. For a dye that light excites
// more than 385 is a stop.
func OsmolarityVerdict(mOsmPerL float64, sensitiser bool) (Verdict, error) {
	if !(mOsmPerL >= 0 && mOsmPerL <= 20000) {
		return "", &fault.Error{Code: fault.Invalid, Where: "osmolarity", What: fmt.Sprintf("%g mOsm/L cannot be", mOsmPerL), Expected: "0 to 20,000 mOsm/L"}
	}
	switch {
	case mOsmPerL < lowestSafeMOsm-roundingSlack, sensitiser && mOsmPerL > highestDyeMOsm+roundingSlack:
		return Halt, nil
	case mOsmPerL < lowMOsm-roundingSlack, mOsmPerL > highMOsm+roundingSlack:
		return Caution, nil
	}
	return Good, nil
}

// GlucoseVerdict grades glucose in a mixture in per cent (0 to 100): up to 5 good,
// from 10 a stop, caution between; for a dye that light excites a stop above 5.
func GlucoseVerdict(percent float64, sensitiser bool) (Verdict, error) {
	if !(percent >= 0 && percent <= 100) {
		return "", &fault.Error{Code: fault.Invalid, Where: "glucose", What: fmt.Sprintf("%g %% cannot be", percent), Expected: "0 to 100 %"}
	}
	switch {
	case percent <= acceptedGlucose+roundingSlack:
		return Good, nil
	case sensitiser || percent >= avoidedGlucose-roundingSlack:
		return Halt, nil
	}
	return Caution, nil
}
