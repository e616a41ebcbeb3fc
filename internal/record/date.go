package record

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"limitans/fault"
)

// Date is a day of the trade, known in full, in part or not at all. The zero
// value is "not told". Raw keeps the text it came from.
//
// In a de-identified view a date is relative: Relative is true and Offset counts
// days from the first operation; the calendar parts are then empty.
type Date struct {
	Year  int    // 0 when unknown
	Month int    // 1 to 12, 0 when unknown
	Day   int    // 1 to 31, 0 when unknown
	Raw   string // text it came from, where that is not the date itself
	How   string // how it was read, where that needs saying

	Relative bool
	Offset   int // days from the first operation
}

// On returns the date of a day of the Gregorian calendar, or a fault when there
// is no such day.
func On(year int, month time.Month, day int) (Date, error) {
	d := Date{Year: year, Month: int(month), Day: day}
	if err := d.Check(); err != nil {
		return Date{}, err
	}
	return d, nil
}

// DayOf returns the day of a time in the time's own zone.
func DayOf(t time.Time) Date {
	year, month, day := t.Date()
	return Date{Year: year, Month: int(month), Day: day}
}

// RelativeDay returns the date that lies days after the first operation.
func RelativeDay(days int) Date { return Date{Relative: true, Offset: days} }

// Full reports whether the day is known.
func (d Date) Full() bool { return d.Relative || d.Year > 0 && d.Month > 0 && d.Day > 0 }

// Known reports whether anything is known, at least the year.
func (d Date) Known() bool { return d.Relative || d.Year > 0 }

// Check returns a fault when the parts are no day of the Gregorian calendar or a
// part is known without the larger one. Range of years: 1 to 9999.
func (d Date) Check() error {
	bad := func(what string) error {
		return &fault.Error{Code: fault.Invalid, Where: "date", What: what, Expected: "a day of the calendar, a month or a year"}
	}
	switch {
	case d.Relative && (d.Year != 0 || d.Month != 0 || d.Day != 0):
		return bad("both a day of the calendar and a day after the first operation")
	case !d.Relative && d.Offset != 0:
		return bad("days after the first operation in a calendar date")
	case d.Year < 0 || d.Year > 9999 || d.Month < 0 || d.Month > 12 || d.Day < 0:
		return bad(fmt.Sprintf("year %d, month %d, day %d is no date", d.Year, d.Month, d.Day))
	case d.Year == 0 && d.Month != 0 || d.Month == 0 && d.Day != 0:
		return bad("a part is known without the larger one")
	case d.Day > 0 && d.Day > DaysIn(d.Year, d.Month):
		return bad(fmt.Sprintf("%04d-%02d has no day %d", d.Year, d.Month, d.Day))
	}
	return nil
}

// DaysIn returns the number of days of a month of the Gregorian calendar; 0 for
// a month that does not exist.
func DaysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	case 1, 3, 5, 7, 8, 10, 12:
		return 31
	}
	return 0
}

// ISO returns "2024-04-01", "2024-04" or "2024" (ISO 8601), "day 14" for a
// relative date, and nothing when nothing is known. Calendar texts sort in the
// order of time.
func (d Date) ISO() string {
	switch {
	case d.Relative:
		return "day " + strconv.Itoa(d.Offset)
	case d.Year == 0:
		return ""
	case d.Month == 0:
		return fmt.Sprintf("%04d", d.Year)
	case d.Day == 0:
		return fmt.Sprintf("%04d-%02d", d.Year, d.Month)
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// String returns the date for people: what is known, else the raw text in
// quotes, else "not told".
func (d Date) String() string {
	if s := d.ISO(); s != "" {
		return s
	}
	if d.Raw != "" {
		return fmt.Sprintf("unknown (written %q)", d.Raw)
	}
	return "not told"
}

// span returns the first and last day the date may be, counted from
// 0001-01-01; ok is false when nothing is known.
func (d Date) span() (first, last int, ok bool) {
	switch {
	case d.Relative:
		return d.Offset, d.Offset, true
	case d.Year == 0:
		return 0, 0, false
	case d.Month == 0:
		return dayNumberOf(d.Year, 1, 1), dayNumberOf(d.Year, 12, 31), true
	case d.Day == 0:
		return dayNumberOf(d.Year, d.Month, 1), dayNumberOf(d.Year, d.Month, DaysIn(d.Year, d.Month)), true
	}
	n := dayNumberOf(d.Year, d.Month, d.Day)
	return n, n, true
}

// dayNumberOf counts days in the proleptic Gregorian calendar.
func dayNumberOf(year, month, day int) int {
	const secondsPerDay = 24 * 60 * 60
	return int(time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay)
}

// CertainlyBefore reports whether every day that d may be lies before every day
// that other may be. Partly known dates are before only when there is no doubt;
// unknown dates and a relative beside a calendar date never are.
func (d Date) CertainlyBefore(other Date) bool {
	if d.Relative != other.Relative {
		return false
	}
	_, last, known := d.span()
	first, _, otherKnown := other.span()
	return known && otherKnown && last < first
}

// DaysUntil returns how many days lie from d to other; ok is false unless both
// days are known and of the same sort.
func (d Date) DaysUntil(other Date) (days int, ok bool) {
	if !d.Full() || !other.Full() || d.Relative != other.Relative {
		return 0, false
	}
	from, _, _ := d.span()
	to, _, _ := other.span()
	return to - from, true
}

// AddDays returns the day that lies days later; ok is false unless the day is
// known and the result lies in the years 1 to 9999.
func (d Date) AddDays(days int) (Date, bool) {
	if d.Relative {
		return RelativeDay(d.Offset + days), true
	}
	if !d.Full() {
		return Date{}, false
	}
	moved := DayOf(time.Date(d.Year, time.Month(d.Month), d.Day+days, 0, 0, 0, 0, time.UTC))
	return moved, moved.Check() == nil && moved.Year > 0
}

// Compare orders dates by the first day they may be, then the less certain one
// first; unknown dates come last and a relative date after a calendar date.
// It is for sorting; whether one day came before another is
// [Date.CertainlyBefore].
func (d Date) Compare(other Date) int {
	rank := func(d Date) [4]int {
		first, last, known := d.span()
		switch {
		case !known:
			return [4]int{2, 0, 0, 0}
		case d.Relative:
			return [4]int{1, first, 0, 0}
		}
		return [4]int{0, first, first - last, 0}
	}
	a, b := rank(d), rank(other)
	for i := range a {
		if a[i] != b[i] {
			if a[i] < b[i] {
				return -1
			}
			return 1
		}
	}
	return 0
}

// storedDate is the JSON form of a date that is more than its ISO text.
type storedDate struct {
	Date   string `json:"date,omitempty"`
	Raw    string `json:"raw,omitempty"`
	How    string `json:"how,omitempty"`
	Offset *int   `json:"days_from_first_operation,omitempty"`
}

// MarshalJSON writes the ISO text when that is all, else an object with "date",
// "raw", "how" and "days_from_first_operation".
func (d Date) MarshalJSON() ([]byte, error) {
	if d.Relative {
		return json.Marshal(storedDate{Raw: d.Raw, How: d.How, Offset: &d.Offset})
	}
	if d.Raw == "" && d.How == "" {
		return json.Marshal(d.ISO())
	}
	return json.Marshal(storedDate{Date: d.ISO(), Raw: d.Raw, How: d.How})
}

// UnmarshalJSON reads what [Date.MarshalJSON] writes.
func (d *Date) UnmarshalJSON(data []byte) error {
	var in storedDate
	if len(data) > 0 && data[0] == '"' {
		if err := json.Unmarshal(data, &in.Date); err != nil {
			return err
		}
	} else if err := json.Unmarshal(data, &in); err != nil {
		return err
	}
	if in.Offset != nil {
		if in.Date != "" {
			return &fault.Error{Code: fault.Malformed, Where: "date", What: "both a day of the calendar and a day after the first operation"}
		}
		*d = Date{Relative: true, Offset: *in.Offset, Raw: in.Raw, How: in.How}
		return nil
	}
	read, err := parseISO(in.Date)
	if err != nil {
		return err
	}
	read.Raw, read.How = in.Raw, in.How
	*d = read
	return nil
}

// Words writes the day with its month as a word, as far as it is known, so that no
// day is taken for a month: "24 Nov 2026", "Nov 2026", "2026", "day 12" after the
// first operation, "no day told".
func (d Date) Words() string {
	switch {
	case d.Relative:
		return fmt.Sprintf("day %d", d.Offset)
	case !d.Known():
		return "no day told"
	case d.Month == 0:
		return strconv.Itoa(d.Year)
	}
	month := time.Month(d.Month).String()[:3]
	if d.Day == 0 {
		return fmt.Sprintf("%s %d", month, d.Year)
	}
	return fmt.Sprintf("%d %s %d", d.Day, month, d.Year)
}

// DateFromISO reads what [Date.ISO] writes for a calendar date, as lists of the
// store hold it; an empty text is the date that was not told. What people type
// goes through [ParseDate].
func DateFromISO(text string) (Date, error) { return parseISO(text) }

// parseISO reads the texts that [Date.ISO] writes for calendar dates.
func parseISO(text string) (Date, error) {
	bad := &fault.Error{Code: fault.Malformed, Where: "date", What: fmt.Sprintf("%q is not a stored date", text), Expected: "2024-04-01, 2024-04, 2024 or nothing"}
	var d Date
	if text == "" {
		return d, nil
	}
	parts := strings.Split(text, "-")
	into := []*int{&d.Year, &d.Month, &d.Day}
	if len(parts) > len(into) {
		return d, bad
	}
	for i, p := range parts {
		if want := [...]int{4, 2, 2}[i]; len(p) != want || strings.Trim(p, "0123456789") != "" {
			return d, bad
		}
		n, err := strconv.Atoi(p)
		if err != nil || n == 0 {
			return d, bad
		}
		*into[i] = n
	}
	if d.Check() != nil {
		return Date{}, bad
	}
	return d, nil
}

// Clock is a time of day as "15:04" or "15:04:05"; empty is not told.
type Clock string

// Seconds returns the seconds since midnight; ok is false when the text is no
// time of day.
func (c Clock) Seconds() (seconds int, ok bool) {
	for _, layout := range []string{"15:04", "15:04:05"} {
		if t, err := time.Parse(layout, string(c)); err == nil && len(c) == len(layout) {
			return t.Hour()*3600 + t.Minute()*60 + t.Second(), true
		}
	}
	return 0, false
}
