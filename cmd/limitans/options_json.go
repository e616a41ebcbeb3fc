package main

import (
	"math"

	"limitans/decide"
	"limitans/internal/caution"
)

// optionsJSON holds the stable keys.
func optionsJSON(d decide.Decision) map[string]any {
	options := []map[string]any{}
	for _, o := range d.Options {
		options = append(options, optionJSON(o))
	}
	sizes := []map[string]any{}
	for _, s := range d.Sizes {
		sizes = append(sizes, map[string]any{"above_um": s.AboveUM, "up_to_um": numberOrNull(s.UpToUM), "probability": s.Probability, "first": s.First})
	}
	return map[string]any{
		"task": "options", "condition": d.Findings.Condition, "inputs": d.Findings, "options": options, "size_ranges": sizes, "size_classes": emptyIfNil(d.Classes),
		"warnings": sourcedAll(d.Warnings), "warning_rows": emptyIfNil(d.Warnings), "changes": emptyIfNil(d.Changes), "open": emptyIfNil(d.Open), "limits": emptyIfNil(d.Limits),
		"order": decide.OrderRule, "method": optionsMethod, "cautions": caution.Full(),
	}
}

// emptyIfNil writes a list without members as such and not as null.
func emptyIfNil[T any](all []T) []T {
	if all == nil {
		return []T{}
	}
	return all
}

// numberOrNull is null for what is not a number or has no end.
func numberOrNull(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

func optionJSON(o decide.Option) map[string]any {
	places := []map[string]any{}
	for _, p := range o.Places {
		places = append(places, map[string]any{"place": p.Place, "probability": p.Probability})
	}
	return map[string]any{
		"technique": o.Code, "name": o.Name, "place": o.Place, "place_row": o.Why.Row, "places": places,
		"closure": o.Closure, "outcome": o.Outcome, "published_n": o.PublishedN, "own_n": o.OwnN, "weighing": o.Weighing,
		"published": map[string]any{
			"expected": o.Published.Expected, "groups": o.Published.Groups, "rows": emptyIfNil(o.Published.Rows),
			"warnings": emptyIfNil(o.Published.Warnings), "sources": emptyIfNil(o.Published.Sources),
		},
		"own":     map[string]any{"events": o.Own.Events, "eyes": o.Own.Eyes, "share": o.Own.Share},
		"acuity":  map[string]any{"after_logmar": o.Acuity.After, "change_logmar": o.Acuity.Change, "groups": o.Acuity.Groups, "eyes": o.Acuity.Eyes, "rows": emptyIfNil(o.Acuity.Rows)},
		"reasons": sourcedAll(o.Reasons), "against": sourcedAll(o.Against), "steps": sourcedAll(o.Steps),
		"reason_rows": emptyIfNil(o.Reasons), "against_rows": emptyIfNil(o.Against),
		"needs": map[string]any{
			"gauge": sourcedAll(o.Needs.Gauge), "stain": sourcedAll(o.Needs.Stain), "agents": sourcedAll(o.Needs.Agents), "instruments": sourcedAll(o.Needs.Instruments),
		},
		"costs": costsJSON(o.Costs),
	}
}

func costsJSON(c decide.Costs) map[string]any {
	risks := []map[string]any{}
	for _, r := range c.Risks {
		risks = append(risks, map[string]any{"what": r.What, "events": r.Events, "eyes": r.Eyes, "share": r.Share, "setting": r.Setting, "source": r.Source, "how_known": r.HowKnown, "row": r.Row})
	}
	fills := []map[string]any{}
	for _, f := range c.Tamponades {
		fills = append(fills, map[string]any{
			"code": f.Code, "name": f.Name, "percent": numberOrNull(f.Percent), "place": f.Place, "why": sourcedAll(f.Why), "closure": f.Closure,
			"stay_days_low": numberOrNull(f.StayLow), "stay_days_high": numberOrNull(f.StayHigh), "longest_days": numberOrNull(f.Longest), "gone_day": f.Gone, "until": f.Until,
		})
	}
	var posture any
	if p := c.Posture; p != nil {
		posture = map[string]any{"text": p.Text, "days_low": numberOrNull(p.DaysLow), "days_high": numberOrNull(p.DaysHigh), "basis": p.Basis}
	}
	return map[string]any{"time": sourcedAll(c.Time), "risks": risks, "posture": posture, "tamponades": fills, "other": sourcedAll(c.Other)}
}
