package acuity

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Spreadsheets turn 6/9 into a date: shown as 09-Jun, 2024-06-09, or as a day
// number. The writing cannot be told for sure, so it is a question.

var (
	yearFirst  = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+[\d:.]+(?: ?[AaPp][Mm])?Z?)?$`)
	yearLast   = regexp.MustCompile(`^(\d{1,2})([-/.])(\d{1,2})([-/.])(\d{2}|\d{4})(?:[T ]+[\d:.]+(?: ?[AaPp][Mm])?)?$`)
	dayMonth   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[-/. ]*([a-z]{3,9})\.?(?:[-/. ,]*(\d{2}|\d{4}))?$`)
	monthFirst = regexp.MustCompile(`^([a-z]{3,9})\.?[-/. ]*(\d{1,4})(?:[, -/.]+(\d{2}|\d{4}))?$`)
	dayNumber  = regexp.MustCompile(`^\d{5}(?:\.0+)?$`)
)

// monthNames by their first letters; English, German, French, Spanish,
// Italian, Portuguese. From memory.
var monthNames = map[string]int{
	"jan": 1, "janv": 1, "januar": 1, "january": 1, "janvier": 1, "ene": 1, "enero": 1, "gen": 1,
	"feb": 2, "fev": 2, "fevr": 2, "february": 2, "februar": 2, "mar": 3, "mrz": 3, "mars": 3, "march": 3, "marz": 3,
	"apr": 4, "avr": 4, "abr": 4, "april": 4, "avril": 4, "may": 5, "mai": 5, "mag": 5, "jun": 6, "june": 6, "juni": 6, "juin": 6, "giu": 6,
	"jul": 7, "july": 7, "juli": 7, "juil": 7, "lug": 7, "aug": 8, "august": 8, "aou": 8, "aout": 8, "ago": 8,
	"sep": 9, "sept": 9, "september": 9, "set": 9, "oct": 10, "okt": 10, "october": 10, "ott": 10, "out": 10,
	"nov": 11, "november": 11, "dec": 12, "dez": 12, "dic": 12, "december": 12,
}

// First and last day numbers taken for a date: 2000-01-01 to 2049-12-31 in the
// 1900 system.
const (
	firstDayNumber = 36526
	lastDayNumber  = 54788
)

// readDate returns a question when the whole text is a date.
func readDate(s string, opt Options) (Entry, bool) {
	low := fold(s)
	if strings.HasSuffix(low, " dec") || strings.HasPrefix(low, "dec ") {
		return Entry{}, false // decimal, not December
	}
	number := func(t string) int { n, _ := strconv.Atoi(t); return n } // digits by the pattern
	if m := yearFirst.FindStringSubmatch(s); m != nil {
		return dateQuestion(number(m[1]), number(m[2]), number(m[3]), opt)
	}
	if m := yearLast.FindStringSubmatch(s); m != nil && m[2] == m[4] {
		first, second := number(m[1]), number(m[3])
		if second > 12 { // month first
			first, second = second, first
		}
		return dateQuestion(number(m[5]), second, first, opt)
	}
	if m := dayMonth.FindStringSubmatch(low); m != nil && monthNames[m[2]] > 0 {
		return dateQuestion(number(m[3]), monthNames[m[2]], number(m[1]), opt)
	}
	if m := monthFirst.FindStringSubmatch(low); m != nil && monthNames[m[1]] > 0 {
		day := number(m[2])
		if m[3] == "" && day > 31 { // Jun-36, Jun 1936
			return dateQuestion(day, monthNames[m[1]], 1, opt)
		}
		return dateQuestion(number(m[3]), monthNames[m[1]], day, opt)
	}
	if dayNumber.MatchString(s) {
		whole, _, _ := strings.Cut(s, ".")
		if n := number(whole); n >= firstDayNumber && n <= lastDayNumber {
			day := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n)
			e, ok := dateQuestion(day.Year(), int(day.Month()), day.Day(), opt)
			addNote(&e, fmt.Sprintf("%d is the day number of %s in the 1900 system", n, day.Format(time.DateOnly)))
			return e, ok
		}
	}
	return Entry{}, false
}

// dateQuestion lists the fractions a date may have been. year is 0 when not
// written.
func dateQuestion(year, month, day int, opt Options) (Entry, bool) {
	if month < 1 || month > 12 || day < 1 || day > 31 {
		return Entry{}, false
	}
	pairs := [][2]int{{month, day}, {day, month}}
	if day == 1 && year > 0 { // 6/36 becomes June 1936
		pairs = append([][2]int{{month, year % 100}}, pairs...)
	}
	var c []Entry
	seen := map[string]bool{}
	for _, p := range pairs {
		text := fmt.Sprintf("%d/%d", p[0], p[1])
		toks := lex(text)
		if len(toks) != 3 || seen[text] {
			continue
		}
		seen[text] = true
		c = append(c, readFraction(toks[0], toks[2], opt))
	}
	e := question("a date: a spreadsheet may have changed a fraction; ask for the original", c...)
	return e, true
}
