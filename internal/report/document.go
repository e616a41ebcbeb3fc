package report

import (
	"limitans/internal/caution"
	"limitans/oct/measure"
)

// Measurement is the JSON document of one measured scan. Its keys are stable:
// a key may be added, none is renamed or removed.
type Measurement struct {
	Cautions  []string `json:"cautions"`
	Intervals string   `json:"intervals"`
	*measure.Result
}

// Document wraps a result for writing as JSON. Lists without members become
// [] there, never null; the result itself is not changed.
func Document(result *measure.Result) Measurement {
	r := *result
	list(&r.Surfaces)
	list(&r.Warnings)
	list(&r.LateralCorrection.SizeClass)
	if result.Hole != nil {
		h := *result.Hole
		list(&h.Seen)
		list(&h.Indices)
		list(&h.SizeClass)
		list(&h.Criteria)
		r.Hole = &h
	}
	if result.Thickness != nil {
		t := *result.Thickness
		list(&t.Fields)
		list(&t.Membrane)
		list(&t.Warnings)
		r.Thickness = &t
	}
	return Measurement{Cautions: caution.Full(), Intervals: caution.SyntheticIntervals, Result: &r}
}

// list gives a list that is not there an empty one.
func list[T any](s *[]T) {
	if *s == nil {
		*s = []T{}
	}
}
