// Package caution holds, in one place, the sentences that limitans carries
// wherever a person reads its results: the command line's help, every report,
// every printed sheet.
//
// # Method
//
// Each caution has a stable key, a short form for a foot line and a full form
// for a help text or a page. Callers never write such a sentence themselves;
// they print [Full] or [Short], so that a change of wording reaches every door
// at once and a missing caution is one missing call.
//
// [SyntheticIntervals] stands apart: it belongs only beside figures whose
// interval was found on made scans, and is printed with them.
//
// # Assumptions and validity
//
// The texts are the project's own statement of what the tool is and is not.
// They quote no regulation and claim conformity with none. English only.
package caution
