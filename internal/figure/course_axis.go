package figure

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"time"

	"limitans/internal/record"
)

// courseAxis is the axis of time of a course. Days near a day on which the eye
// was opened get room, so that the first week can be read beside the tenth year:
//
//	s(t) = b·t + Σₖ g(t − tₖ),   x = left + width·(s(t) − s(from)) / (s(to) − s(from))
//
//	g(u) =  1 − 1/√(1 + u/6)             after the operation (u in days)
//	g(u) = −0.45·(1 − 1/√(1 − u/14))     before it
//
// one term for every operation that opened the eye. The slope of g is highest on
// the day itself and falls with the time from it to the power of 1.5; of the room
// that an operation gets after it, the first week takes three tenths and the
// first six weeks two thirds. b is chosen so that the straight part takes linearShare
// of the width, which keeps room for years without an operation. Every term
// rises, so x rises strictly. Without an operation the axis is straight.
type courseAxis struct {
	from, to    float64
	left, width float64
	slope       float64   // b
	centres     []float64 // tₖ
	start, span float64   // s(from), s(to) − s(from)
}

const (
	afterDays   = 6.0
	beforeDays  = 14.0
	beforeShare = 0.45
	linearShare = 0.38
)

// newCourseAxis lays the days from..to over left..left+width.
func newCourseAxis(from, to, left, width float64, centres []float64) courseAxis {
	if !(to > from) {
		from, to = from-1, from+1
	}
	a := courseAxis{from: from, to: to, left: left, width: width, centres: slices.Compact(slices.Sorted(slices.Values(centres)))}
	bent := a.stretched(to) - a.stretched(from)
	a.slope = linearShare / (1 - linearShare) * bent / (to - from)
	if len(a.centres) == 0 {
		a.slope = 1
	}
	a.start = a.stretched(from)
	a.span = a.stretched(to) - a.start
	return a
}

// stretched is s(t).
func (a courseAxis) stretched(day float64) float64 {
	s := a.slope * day
	for _, c := range a.centres {
		if u := day - c; u >= 0 {
			s += 1 - 1/math.Sqrt(1+u/afterDays)
		} else {
			s -= beforeShare * (1 - 1/math.Sqrt(1-u/beforeDays))
		}
	}
	return s
}

// x is where a day lies.
func (a courseAxis) x(day float64) float64 {
	return a.left + a.width*(a.stretched(day)-a.start)/a.span
}

// within reports whether a day lies in the window.
func (a courseAxis) within(day float64) bool { return day >= a.from && day <= a.to }

// clip moves a day into the window.
func (a courseAxis) clip(day float64) float64 { return math.Max(a.from, math.Min(a.to, day)) }

// courseTick is a label under the axis; a smaller rank goes first.
type courseTick struct {
	day   float64
	words string
	rank  int
	line  bool // an upright hairline through the lanes
}

// afterTicks and beforeTicks are the times that people reckon with, with rank.
var (
	afterTicks = []courseTick{
		{1, "1 day", 5, false},
		{3, "3 days", 7, false},
		{7, "1 week", 2, true},
		{14, "2 weeks", 4, true},
		{28, "4 weeks", 6, false},
		{42, "6 weeks", 3, true},
		{91, "3 months", 2, true},
		{183, "6 months", 3, true},
		{365, "12 months", 2, true},
		{731, "2 years", 3, true},
		{1096, "3 years", 4, true},
		{1826, "5 years", 3, true},
		{3653, "10 years", 3, true},
	}
	beforeTicks = []courseTick{
		{7, "1 week before", 6, false},
		{28, "4 weeks before", 4, true},
		{91, "3 months before", 3, true},
		{183, "6 months before", 5, true},
		{365, "1 year before", 3, true},
		{1096, "3 years before", 4, true},
	}
)

// sinceTicks count time from the operation before; the stretch before the first
// is counted backwards from it.
func sinceTicks(operations []CourseOperation, a courseAxis) []courseTick {
	var opened []float64
	for _, o := range operations {
		if o.Opened {
			opened = append(opened, o.Day)
		}
	}
	sort.Float64s(opened)
	opened = slices.Compact(opened)
	var out []courseTick
	for i, day := range opened {
		words := "surgery"
		if i > 0 {
			words = ordinal(i+1) + " surgery"
		}
		out = append(out, courseTick{day, words, 1, false})
		end := math.Inf(1)
		if i+1 < len(opened) {
			end = opened[i+1]
		}
		for _, t := range afterTicks {
			if day+t.day < end {
				out = append(out, courseTick{day + t.day, t.words, t.rank, t.line})
			}
		}
	}
	if len(opened) > 0 {
		for _, t := range beforeTicks {
			out = append(out, courseTick{opened[0] - t.day, t.words, t.rank, t.line})
		}
	}
	return slices.DeleteFunc(out, func(t courseTick) bool { return !a.within(t.day) })
}

// ordinal writes 2nd, 3rd, 4th.
func ordinal(n int) string {
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return strconv.Itoa(n) + suffix
}

// calendarTicks are days of the calendar: those of the operations and the ends
// first, then years, then months. In a de-identified course there is no
// calendar; days are counted instead.
func calendarTicks(c CourseChart, a courseAxis) []courseTick {
	var out []courseTick
	at := func(day float64, rank int) {
		out = append(out, courseTick{day: day, words: dayWordsOf(c.Zero, day), rank: rank})
	}
	for _, o := range c.Operations {
		if o.Opened && o.Early == o.Late {
			at(math.Floor(o.Day), 1)
		}
	}
	first, last := math.Inf(1), math.Inf(-1)
	c.eachMark(func(_ string, m *CourseMark) {
		if m.Early == m.Late { // a day that is not known is no date to write
			first, last = math.Min(first, m.Day), math.Max(last, m.Day)
		}
	})
	if first <= last {
		at(math.Floor(first), 2)
		at(math.Floor(last), 2)
	}
	zero, ok := dayNumber(c.Zero)
	if ok && !c.Zero.Relative {
		begin := calendarDay(zero + int(math.Floor(a.from)))
		end := calendarDay(zero + int(math.Ceil(a.to)))
		for year := begin.Year(); year <= end.Year()+1; year++ {
			for month := 1; month <= 12; month++ {
				day := float64(daysOf(year, month, 1) - zero)
				rank, words := 5, time.Month(month).String()[:3]+" "+strconv.Itoa(year)
				switch {
				case month == 1:
					rank, words = 3, strconv.Itoa(year)
				case month == 7:
					rank = 4
				}
				out = append(out, courseTick{day: day, words: words, rank: rank})
				for _, in := range weekDays {
					if a.to-a.from < weeksBelow {
						out = append(out, courseTick{day: day + in - 1, words: fmt.Sprintf("%.0f %s", in, time.Month(month).String()[:3]), rank: 6})
					}
				}
			}
		}
	}
	return slices.DeleteFunc(out, func(t courseTick) bool { return !a.within(t.day) })
}

// In a window of less than weeksBelow days these days of a month are told too.
const weeksBelow = 200.0

var weekDays = []float64{8, 15, 22}

// dayNumber is the number of a full day, counted from 1970-01-01, or the offset of
// a relative one.
func dayNumber(d record.Date) (int, bool) {
	first, last, ok := dateSpan(d)
	return first, ok && first == last
}

// dateSpan returns the first and the last day that a date may be.
func dateSpan(d record.Date) (first, last int, ok bool) {
	switch {
	case d.Relative:
		return d.Offset, d.Offset, true
	case d.Year == 0:
		return 0, 0, false
	case d.Month == 0:
		return daysOf(d.Year, 1, 1), daysOf(d.Year, 12, 31), true
	case d.Day == 0:
		return daysOf(d.Year, d.Month, 1), daysOf(d.Year, d.Month, record.DaysIn(d.Year, d.Month)), true
	}
	n := daysOf(d.Year, d.Month, d.Day)
	return n, n, true
}

const secondsPerDay = 24 * 60 * 60

func daysOf(year, month, day int) int {
	return int(time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay)
}

func calendarDay(number int) time.Time { return time.Unix(int64(number)*secondsPerDay, 0).UTC() }

// dateWords writes a date for people: "24 Nov 2026", "Nov 2026", "2026".
func dateWords(d record.Date) string {
	switch {
	case d.Relative || d.Year == 0:
		return d.String()
	case d.Month == 0:
		return strconv.Itoa(d.Year)
	case d.Day == 0:
		return time.Month(d.Month).String()[:3] + " " + strconv.Itoa(d.Year)
	}
	return strconv.Itoa(d.Day) + " " + time.Month(d.Month).String()[:3] + " " + strconv.Itoa(d.Year)
}

// dayWordsOf writes the date that lies days after zero.
func dayWordsOf(zero record.Date, days float64) string {
	d, ok := zero.AddDays(int(math.Floor(days)))
	if !ok {
		return ""
	}
	return dateWords(d)
}
