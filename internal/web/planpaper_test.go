package web

import (
	"testing"
	"time"

	"limitans/internal/record"
	"limitans/internal/store"
)

// TestSheetShowsTheScanOfItsPlan: the theatre sheet of a signed plan keeps the scan on
// which the plan rests, whatever is scanned after the operation.
func TestSheetShowsTheScanOfItsPlan(t *testing.T) {
	on := func(month, day int) record.Date { return record.Date{Year: 2026, Month: month, Day: day} }
	c := &store.Course{Course: record.Course{
		Scans: []*record.Scan{
			{Base: record.Base{ID: "before"}, Taken: on(3, 1)}, {Base: record.Base{ID: "between"}, Taken: on(3, 20)}, {Base: record.Base{ID: "after"}, Taken: on(5, 1)},
		},
		Figures: []*record.HoleFigures{{ScanID: "before"}, {ScanID: "between"}, {ScanID: "lost"}, {ScanID: "after"}},
	}}
	for _, one := range []struct {
		name   string
		made   record.Date
		signed *record.Signature
		want   record.ID
	}{
		{"not signed", on(3, 10), nil, "before"},
		{"signed later, after another scan", on(3, 10), &record.Signature{At: time.Date(2026, 3, 25, 9, 0, 0, 0, time.UTC)}, "between"},
		{"on the day of the scan", on(3, 1), nil, "before"},
		{"made anew after the operation", on(6, 1), nil, "after"},
		{"before every scan", on(2, 1), nil, ""},
	} {
		scan, figures := measuredFor(c, &record.Plan{MadeOn: one.made, Signed: one.signed})
		got := record.ID("")
		if scan != nil {
			got = scan.ID
		}
		if got != one.want || (scan != nil && figures.ScanID != got) {
			t.Errorf("%s: %q, want %q", one.name, got, one.want)
		}
	}
}
