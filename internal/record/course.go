package record

import (
	"reflect"
	"slices"
)

// Course is everything recorded about one eye. Entries that were struck out may be
// in it; they count for nothing.
type Course struct {
	Eye        *Eye
	Scans      []*Scan
	Figures    []*HoleFigures
	Plans      []*Plan
	Operations []*Operation
	Visits     []*Visit
	Films      []*Film
	Documents  []*Document
}

// standing returns the entries that were not struck out, in order of their day; the
// caller's slice is not changed.
func standing[T Entity](all []T) []T {
	var out []T
	for _, e := range all {
		if !isNil(e) && !e.Identity().Struck() {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b T) int {
		if order := a.Links().Day.Compare(b.Links().Day); order != 0 {
			return order
		}
		return compareClock(clockOf(a), clockOf(b))
	})
	return out
}

// isNil reports a nil pointer in the interface, which a caller may hand in.
func isNil[T Entity](e T) bool {
	return reflect.ValueOf(e).IsNil()
}

// clockOf returns the time of day of a noun, where it has one.
func clockOf(e Entity) Clock {
	switch n := e.(type) {
	case *Operation:
		return n.StartedAt
	case *Visit:
		return n.At
	case *Scan:
		return n.TakenAt
	}
	return ""
}

// compareClock orders times of day; where one is not told they are equal.
func compareClock(a, b Clock) int {
	x, okX := a.Seconds()
	y, okY := b.Seconds()
	if !okX || !okY {
		return 0
	}
	return x - y
}

// FirstOperation returns the first operation that opened the eye and was not
// struck out: the unit of primary closure. Later ones are further events of the
// same eye. Nil when there is none.
func FirstOperation(operations []*Operation) *Operation {
	for _, o := range standing(operations) {
		if opensTheEye(o.Procedure) {
			return o
		}
	}
	return nil
}
