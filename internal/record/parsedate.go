package record

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"

	"limitans/fault"
)

// DateKind says how far a text was understood as a date.
type DateKind string

// The kinds of a parsed date.
const (
	DateKnown   DateKind = "known"   // a day
	DatePartly  DateKind = "partly"  // a month or a year
	DateAsk     DateKind = "ask"     // a person must choose or tell more
	DateUnknown DateKind = "unknown" // written, but no date: impossible or a placeholder
	DateMissing DateKind = "missing" // the text says that there is none
)

// DayOrder is the order of day and month in a file.
type DayOrder int

// The orders of day and month.
const (
	OrderUndecided DayOrder = iota
	DayFirst
	MonthFirst
)

// SerialSystem is the first day of a spreadsheet's day numbers.
type SerialSystem int

// The systems of day numbers. In the 1900 system day 1 is 1900-01-01 and the
// non-existent 1900-02-29 has the number 60; in the 1904 system day 0 is
// 1904-01-01, so that its numbers are smaller by 1,462.
const (
	SerialUndecided SerialSystem = iota
	Serial1900
	Serial1904
)

// Calendar is the calendar a file counts its years in.
type Calendar int

// The calendars. Only the Buddhist one of Thailand is a plain shift (543
// years, the same months and days, from 1941 on); all other calendars need
// their own tables and are never converted here.
const (
	CalendarUndecided Calendar = iota
	CalendarGregorian
	CalendarBuddhist
	CalendarOther
)

// DateOptions tell what a file, or a person, has settled. Today is needed;
// everything else may stay undecided.
type DateOptions struct {
	Today    Date // years are accepted from FirstYear to the year after this
	Order    DayOrder
	Serial   SerialSystem
	Calendar Calendar
}

// FirstYear is the first year accepted without asking for the calendar: nobody
// alive was born before it. Source: the hard cases of the trade, no publication.
const FirstYear = 1900

// buddhistYears lies between the years of the Buddhist and the Gregorian
// calendar. From memory. Before 1941 the Thai year began in April.
const (
	buddhistYears   = 543
	buddhistJanuary = 1941
)

// ParsedDate is a date as written beside what was understood.
type ParsedDate struct {
	Kind DateKind
	// Date is what is known; its Raw is always the text as given. For the kinds
	// ask, unknown and missing nothing else in it is set.
	Date Date
	// Readings are the dates the text may mean, for the kind ask; for unknown, what
	// a person might want to enter instead.
	Readings []Date
	Note     string
}

// longestDateText in bytes; a longer text is no date.
const longestDateText = 100

// ParseDate reads a date as people and spreadsheets write it: ISO 8601, DICOM,
// day or month first, month names, a month or a year alone, day numbers of a
// spreadsheet, digits of any script. It never guesses: two possible orders, a year
// of two digits, an undecided day number and a year that belongs to another
// calendar are questions; days that do not exist and placeholders are unknown.
// The text is kept.
//
// A year of another calendar that lies between FirstYear and the next year
// (Ethiopian, Indian national, Bikram Sambat of older people) cannot be told from
// the text: give the calendar when the file has one.
//
// An error is returned only for options that make no sense.
func ParseDate(text string, opt DateOptions) (ParsedDate, error) {
	if opt.Today.Year < FirstYear || opt.Today.Relative || opt.Today.Check() != nil {
		return ParsedDate{}, &fault.Error{Code: fault.Invalid, Where: "today", What: "not told", Expected: "today's date, to know which years can be"}
	}
	if opt.Order < OrderUndecided || opt.Order > MonthFirst || opt.Serial < SerialUndecided || opt.Serial > Serial1904 ||
		opt.Calendar < CalendarUndecided || opt.Calendar > CalendarOther {
		return ParsedDate{}, &fault.Error{Code: fault.Invalid, Where: "date options", What: "an order, day number system or calendar that is not known"}
	}
	p := dateParser{raw: text, opt: opt}
	out := p.parse()
	out.Date.Raw = text
	return out, nil
}

type dateParser struct {
	raw string
	opt DateOptions
}

var (
	timeBehind   = regexp.MustCompile(`^(.*\d)(?:t| +)\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[ap]\.?m\.?)?(?:z| ?[+-]\d{2}:?\d{2})?$`)
	yearMonthDay = regexp.MustCompile(`^(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})$`)
	twoAndYear   = regexp.MustCompile(`^(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})$`)
	yearMonth    = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})$`)
	monthYear    = regexp.MustCompile(`^(\d{1,2})[-/. ](\d{4})$`)
	dayName      = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[-/. ]*(?:de |of )?(\p{L}[\p{L}\p{M}]*)\.?[-/., ]*(?:de |del |of )?(\d{4}|\d{2})$`)
	nameDay      = regexp.MustCompile(`^(\p{L}[\p{L}\p{M}]*)\.?[-/ ]*(\d{1,2})(?:st|nd|rd|th)?[-/, ]+(\d{4}|\d{2})$`)
	nameYear     = regexp.MustCompile(`^(\p{L}[\p{L}\p{M}]*)\.?[-/, ]*(?:de |of )?(\d{4}|\d{2})$`)
	yearNameDay  = regexp.MustCompile(`^(\d{4})[-/. ]*(\p{L}[\p{L}\p{M}]*)\.?[-/. ]*(\d{1,2})$`)
	dayNameOnly  = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[-/. ]*(\p{L}[\p{L}\p{M}]*)\.?$`)
	twoNumbers   = regexp.MustCompile(`^\d{1,2}[-/.]\d{1,2}\.?$`)
	digitsAlone  = regexp.MustCompile(`^\d+$`)
	serialTime   = regexp.MustCompile(`^(\d{4,5})[.,]\d+$`)
	eastAsian    = regexp.MustCompile(`^(\d{1,4})[年년] ?(?:(\d{1,2})[月월] ?(?:(\d{1,2})[日일])?)?$`)
	weekday      = regexp.MustCompile(`^(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\.?,? +`)
)

// noDate are the texts that say there is none.
var noDate = map[string]bool{
	"": true, "-": true, "--": true, ".": true, "?": true, "n/a": true, "na": true, "nil": true, "none": true, "null": true,
	"unknown": true, "not known": true, "unbekannt": true, "inconnu": true, "desconocido": true, "nan": true,
	"99": true, "999": true, "9999": true, "0": true, "00": true, "0000": true, "00000000": true, "99999999": true,
}

func (p *dateParser) parse() ParsedDate {
	if len(p.raw) > longestDateText {
		return unknownDate("too long for a date")
	}
	s := normaliseDateText(p.raw)
	if noDate[s] {
		return ParsedDate{Kind: DateMissing, Note: "the text says that there is no date"}
	}
	s = weekday.ReplaceAllString(s, "")
	if m := timeBehind.FindStringSubmatch(s); m != nil {
		s = strings.TrimSpace(m[1])
	}
	if out, ok := p.numbers(s); ok {
		return out
	}
	if out, ok := p.names(s); ok {
		return out
	}
	if digitsAlone.MatchString(s) {
		return p.digits(s)
	}
	if m := serialTime.FindStringSubmatch(s); m != nil {
		return p.serial(number(m[1]))
	}
	if twoNumbers.MatchString(s) {
		return unknownDate("no year; a day and a month, or a month and a year")
	}
	return unknownDate("not understood as a date")
}

// numbers reads dates of numbers with marks between them.
func (p *dateParser) numbers(s string) (ParsedDate, bool) {
	if m := yearMonthDay.FindStringSubmatch(s); m != nil {
		return p.one(number(m[1]), number(m[2]), number(m[3])), true
	}
	if m := eastAsian.FindStringSubmatch(s); m != nil {
		if len(m[1]) < 4 {
			return unknownDate("a year of fewer than four digits: of an era? enter the year of the common calendar"), true
		}
		return p.one(number(m[1]), numberOr(m[2]), numberOr(m[3])), true
	}
	if m := twoAndYear.FindStringSubmatch(s); m != nil {
		return p.twoOrders(number(m[1]), number(m[2]), m[3]), true
	}
	if m := yearMonth.FindStringSubmatch(s); m != nil {
		return p.one(number(m[1]), number(m[2]), absent), true
	}
	if m := monthYear.FindStringSubmatch(s); m != nil {
		return p.one(number(m[2]), number(m[1]), absent), true
	}
	return ParsedDate{}, false
}

// names reads dates with the name of a month.
func (p *dateParser) names(s string) (ParsedDate, bool) {
	if m := dayName.FindStringSubmatch(s); m != nil && monthByName(m[2]) > 0 {
		return p.years(m[3], monthByName(m[2]), number(m[1])), true
	}
	if m := yearNameDay.FindStringSubmatch(s); m != nil && monthByName(m[2]) > 0 {
		return p.one(number(m[1]), monthByName(m[2]), number(m[3])), true
	}
	if m := nameDay.FindStringSubmatch(s); m != nil && monthByName(m[1]) > 0 {
		return p.years(m[3], monthByName(m[1]), number(m[2])), true
	}
	if m := nameYear.FindStringSubmatch(s); m != nil && monthByName(m[1]) > 0 {
		out := p.years(m[2], monthByName(m[1]), absent)
		if len(m[2]) == 2 {
			out.Note = "a day without a year, or a year of two digits"
		}
		return out, true
	}
	if m := dayNameOnly.FindStringSubmatch(s); m != nil && monthByName(m[2]) > 0 {
		return unknownDate("no year"), true
	}
	return ParsedDate{}, false
}

// digits reads a text of digits alone.
func (p *dateParser) digits(s string) ParsedDate {
	n := number(s)
	switch len(s) {
	case 8:
		if out := p.one(n/10000, n/100%100, n%100); out.Kind != DateUnknown && out.Kind != DateAsk || placeholder(n/10000, n/100%100, n%100) {
			return out
		}
		return p.twoOrders(n/1000000, n/10000%100, s[4:])
	case 6:
		out := p.one(n/100, n%100, absent)
		if out.Kind != DatePartly {
			return unknownDate("six digits without marks: write the date with its year in full")
		}
		out.Readings, out.Kind, out.Note = []Date{out.Date}, DateAsk, "a year and a month, or a day with a year of two digits?"
		out.Date = Date{}
		return out
	case 5:
		return p.serial(n)
	case 4:
		out := p.one(n, absent, absent)
		if p.opt.Serial == SerialUndecided { // day numbers of four digits lie before 1928
			return out
		}
		return merge("a year, or the day number of a spreadsheet?", out, p.serial(n))
	}
	return unknownDate("not understood as a date")
}

// absent marks a part that is not written; a written 0 is something else.
const absent = -1

// one reads a date whose parts are told apart.
func (p *dateParser) one(year, month, day int) ParsedDate {
	if placeholder(year, month, day) {
		return unknownDate("a placeholder that programs write when there is no date")
	}
	if month == 0 || day == 0 || year == 0 {
		out := unknownDate("zeros stand for parts that are not known; if the rest is right, enter it without them")
		if d := (Date{Year: year, Month: max(month, 0)}); month != 0 && d.Check() == nil && p.plausible(d) {
			out.Readings = []Date{d}
		} else if d := (Date{Year: year}); d.Check() == nil && p.plausible(d) {
			out.Readings = []Date{d}
		}
		return out
	}
	d := Date{Year: year, Month: max(month, 0), Day: max(day, 0)}
	if p.opt.Calendar == CalendarOther {
		return ParsedDate{Kind: DateAsk, Note: "the file counts in another calendar: convert with its tables and enter the result"}
	}
	if p.opt.Calendar == CalendarBuddhist {
		return p.buddhist(d)
	}
	if year < FirstYear || year > p.opt.Today.Year+1 {
		return p.otherCalendar(d)
	}
	if err := d.Check(); err != nil {
		return unknownDate(whyImpossible(d))
	}
	return known(d)
}

func known(d Date) ParsedDate {
	kind := DateKnown
	if d.Day == 0 {
		kind = DatePartly
	}
	return ParsedDate{Kind: kind, Date: d}
}

func unknownDate(why string) ParsedDate { return ParsedDate{Kind: DateUnknown, Note: why} }

func whyImpossible(d Date) string {
	if d.Month > 12 {
		return fmt.Sprintf("there is no month %d", d.Month)
	}
	return fmt.Sprintf("%04d-%02d has no day %d", d.Year, d.Month, d.Day)
}

func (p *dateParser) plausible(d Date) bool {
	return d.Year >= FirstYear && d.Year <= p.opt.Today.Year+1
}

// buddhist shifts a year of the Thai calendar, where that is a plain shift.
func (p *dateParser) buddhist(d Date) ParsedDate {
	d.Year -= buddhistYears
	if !p.plausible(d) {
		return unknownDate(fmt.Sprintf("the Buddhist year is %d in the common calendar, outside %d to %d", d.Year, FirstYear, p.opt.Today.Year+1))
	}
	if d.Check() != nil {
		return unknownDate(whyImpossible(d))
	}
	d.How = fmt.Sprintf("Buddhist year %d less %d", d.Year+buddhistYears, buddhistYears)
	if d.Year < buddhistJanuary && d.Month <= 3 {
		later := d
		later.Year++
		return ask("before 1941 the Thai year began in April: January to March belong to the year after", d, later)
	}
	return known(d)
}

// otherCalendar asks about a year that cannot be one of the common calendar.
func (p *dateParser) otherCalendar(d Date) ParsedDate {
	year := d.Year
	var could []string
	within := func(low, high int) bool { return year+low <= p.opt.Today.Year+1 && year+high >= FirstYear }
	var readings []Date
	if within(-buddhistYears, -buddhistYears) {
		could = append(could, "Buddhist")
		if b := p.buddhist(d); b.Kind == DateKnown || b.Kind == DatePartly {
			readings = append(readings, b.Date)
		} else {
			readings = append(readings, b.Readings...)
		}
	}
	// Distances of the years to the common calendar, from memory; only to name the
	// calendars that come into question.
	for _, c := range []struct {
		name      string
		low, high int
	}{{"Bikram Sambat", -57, -56}, {"Hijri, solar", 621, 622}, {"Indian national", 78, 79}, {"Ethiopian", 7, 8}} {
		if within(c.low, c.high) {
			could = append(could, c.name)
		}
	}
	if year >= 1317 && year <= 1318+(p.opt.Today.Year-1900)*34/33+2 { // 1317 AH began in 1899; 34 lunar years are about 33 solar ones
		could = append(could, "Hijri, lunar")
	}
	note := fmt.Sprintf("the year %d is outside %d to %d", year, FirstYear, p.opt.Today.Year+1)
	if len(could) == 0 {
		return unknownDate(note)
	}
	note += "; which calendar? it could be " + strings.Join(could, ", ") + "; calendars other than the Buddhist need their own tables"
	return ParsedDate{Kind: DateAsk, Readings: readings, Note: note}
}

// years reads a date whose year has four or two digits.
func (p *dateParser) years(year string, month, day int) ParsedDate {
	if len(year) == 4 {
		return p.one(number(year), month, day)
	}
	return merge("the year has two digits", p.one(1900+number(year), month, day), p.one(2000+number(year), month, day))
}

// twoOrders reads two small numbers and a year.
func (p *dateParser) twoOrders(first, second int, year string) ParsedDate {
	dayFirst, monthFirst := p.years(year, second, first), p.years(year, first, second)
	switch {
	case first == second || first == 0 || second == 0:
		return dayFirst
	case p.opt.Order == DayFirst && dayFirst.Kind == DateUnknown && usable(monthFirst),
		p.opt.Order == MonthFirst && monthFirst.Kind == DateUnknown && usable(dayFirst):
		return merge("the file's order of day and month does not fit this date", dayFirst, monthFirst).asQuestion()
	case p.opt.Order == DayFirst:
		return dayFirst
	case p.opt.Order == MonthFirst:
		return monthFirst
	case !usable(monthFirst):
		return dayFirst
	case !usable(dayFirst):
		return monthFirst
	}
	return merge("day or month first?", dayFirst, monthFirst)
}

func usable(p ParsedDate) bool { return p.Kind != DateUnknown && p.Kind != DateMissing }

// asQuestion turns a date into a question with that one reading.
func (p ParsedDate) asQuestion() ParsedDate {
	if p.Kind == DateKnown || p.Kind == DatePartly {
		p.Kind, p.Readings, p.Date = DateAsk, []Date{p.Date}, Date{}
	}
	return p
}

func ask(why string, readings ...Date) ParsedDate {
	return ParsedDate{Kind: DateAsk, Readings: readings, Note: why}
}

// merge makes a question of two possibilities; one that is no date drops out.
func merge(why string, a, b ParsedDate) ParsedDate {
	switch {
	case !usable(a) && !usable(b):
		return a
	case !usable(a):
		b.Note = joinNotes(why, b.Note)
		return b.asQuestion()
	case !usable(b):
		a.Note = joinNotes(why, a.Note)
		return a.asQuestion()
	}
	out := ask(joinNotes(why, joinNotes(a.Note, b.Note)))
	for _, d := range append(a.asQuestion().Readings, b.asQuestion().Readings...) {
		known := false
		for _, have := range out.Readings {
			known = known || have.ISO() == d.ISO()
		}
		if !known {
			out.Readings = append(out.Readings, d)
		}
	}
	return out
}

func joinNotes(a, b string) string {
	switch {
	case a == "":
		return b
	case b == "" || strings.Contains(a, b):
		return a
	}
	return a + "; " + b
}

// number reads up to nine digits, which the patterns guarantee; longer texts give 0.
func number(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

func numberOr(s string) int {
	if s == "" {
		return absent
	}
	return number(s)
}

// normaliseDateText maps digits of all scripts, full-width forms, dashes and
// spaces to plain ones and letters to lower case.
func normaliseDateText(s string) string {
	s = strings.Map(func(r rune) rune {
		if v, ok := digitValue(r); ok {
			return '0' + rune(v)
		}
		switch r {
		case '‐', '‑', '‒', '–', '—', '−', '﹣':
			return '-'
		case '⁄', '∕':
			return '/'
		case '।', '۔', '。':
			return '.'
		case '\u200e', '\u200f', '\u202a', '\u202b', '\u202c', '\u2066', '\u2067', '\u2069', '\ufeff':
			return -1
		}
		return r
	}, norm.NFKC.String(s))
	return strings.ToLower(strings.Join(strings.Fields(s), " "))
}
