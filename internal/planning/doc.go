// Package planning turns what the record knows of an eye into the findings that
// package decide takes, counts the unit's own results for it, and turns a choice
// into a plan of the record.
//
// # Findings
//
// [FindingsOf] reads the course of an eye as it stands on a day. Every finding
// it fills says from which entry it was taken ([Told]), so that the page can show
// it beside the value. What no entry tells stays not told; nothing is guessed.
// A person's answers on the page come after and win.
//
// # Own results
//
// [OwnSeries] counts operations by what was done for what: whether a hole was
// closed at the last reading of an OCT from [OwnFromDays] to [OwnToDays] days
// after, and for holes, membranes and traction the acuity nearest to day
// [SightTargetDays] from day [SightFromDays] to [SightToDays], against the last one
// that counts before ([Series.Sight]). Eyes without such a reading are counted as
// missing and shown, not left out silently. These windows are ours (no source).
//
// # Validity
//
// An operation is assigned to an option of the table by what was recorded of
// peel and flap ([OptionOf]); operations that fit none are not counted. A unit
// that records other words for the same act sees fewer own results than it has.
package planning
