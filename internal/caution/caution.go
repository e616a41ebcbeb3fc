package caution

import (
	"slices"
	"strings"
)

// Key names one caution for programs; it does not change when its wording does.
type Key string

// The keys, in the order in which the cautions are printed.
const (
	// Judgement: who decides.
	Judgement Key = "judgement"
	// Precedence: which documents stand above the tool.
	Precedence Key = "precedence"
	// NotADevice: the tool's regulatory standing.
	NotADevice Key = "not_a_device"
	// Purpose: what the tool is for.
	Purpose Key = "purpose"
)

// Caution is one standing caution in its two forms.
type Caution struct {
	Key   Key
	Short string // a few words for a foot line, no full stop
	Full  string // one sentence or two, with full stop
}

// SyntheticIntervals is printed beside every interval whose width was found on
// made scans with known truth instead of on patients' scans.
const SyntheticIntervals = "Intervals marked synthetic were found on made scans with known truth. " +
	"They tell how well the method finds its own kind of hole again; " +
	"on a patient's scan the error can be larger, and no interval covers a wrong scale or a wrongly drawn line."

// standing is the one list; All hands out copies.
var standing = []Caution{
	{
		Key:   Judgement,
		Short: "supports a licensed surgeon's judgement and does not replace it",
		Full: "limitans supports the judgement of a licensed surgeon and does not replace it. " +
			"Whoever uses a figure checks it against the scan and the patient.",
	},
	{
		Key:   Precedence,
		Short: "local protocols, drug labels and device instructions stand above it",
		Full: "Local protocols, drug labels and device instructions stand above anything limitans prints; " +
			"where they differ, follow them.",
	},
	{
		Key:   NotADevice,
		Short: "not a certified medical device",
		Full:  "limitans is not a certified medical device, and no authority has examined or cleared it.",
	},
	{
		Key:   Purpose,
		Short: "for research and decision support",
		Full: "It is meant for research and for supporting a decision; " +
			"no result of it is by itself a diagnosis, a prescription or a permission.",
	},
}

// All returns the standing cautions in printing order. The list is the
// caller's own copy.
func All() []Caution { return slices.Clone(standing) }

// Full returns the full sentence of every standing caution in printing order,
// one an element, for help texts, reports and pages.
func Full() []string {
	texts := make([]string, len(standing))
	for i, c := range standing {
		texts[i] = c.Full
	}
	return texts
}

// Short returns all standing cautions as one line without a line break, for
// the foot of a sheet or the last line of a printed result.
func Short() string {
	parts := make([]string, len(standing))
	for i, c := range standing {
		parts[i] = c.Short
	}
	return "limitans: " + strings.Join(parts, "; ") + "."
}
