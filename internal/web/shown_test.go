package web

import (
	"testing"

	"limitans/internal/record"
)

// TestDaysAreWordsOfTheTrade wants the month as a word, so that no day can be
// taken for a month.
func TestDaysAreWordsOfTheTrade(t *testing.T) {
	for _, c := range []struct {
		in   any
		want string
	}{
		{record.Date{Year: 2026, Month: 11, Day: 24}, "24 Nov 2026"},
		{record.Date{Year: 2026, Month: 5}, "May 2026"},
		{record.Date{Year: 1998}, "1998"},
		{record.RelativeDay(-3), "day -3"},
		{record.Date{}, "no day told"},
		{"2024-02-29", "29 Feb 2024"},
		{"2024-02", "Feb 2024"},
		{"", "no day told"},
	} {
		if got := dayWords(c.in); got != c.want {
			t.Errorf("%v is written %q, wanted %q", c.in, got, c.want)
		}
	}
}
