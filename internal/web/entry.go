package web

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"limitans/eye"
	"limitans/internal/record"
)

// What is typed into a form about an eye is read, held to the rules of package
// record and shown back until the person has seen what the rules found:
//
//	form ──read──▶ noun ──record.Check──▶ findings
//	  ▲                                      │ stops without a reason, questions
//	  └───────── shown beside the fields ◀───┘ that were not seen yet
//	                                         │ else
//	                                         ▼
//	                                     store.Write
//
// A question that was shown comes back with the form as "seen", so that the same
// form sent again is stored: questions forbid nothing, they are only never passed
// over. This needs no script.

// option is one answer of a list.
type option struct{ Value, Words string }

// optionsOf lists the words of a coded type for a form, after "not told".
func optionsOf[T ~string](none string) []option {
	out := []option{{"", none}}
	for _, w := range record.Words[T]() {
		out = append(out, option{string(w), codeWords(string(w))})
	}
	return out
}

// spelled are the codes whose words are not the code with spaces.
var spelled = map[string]string{
	"goldmann_applanation": "Goldmann applanation", "handheld_applanation": "hand-held applanation", "vitrectomy_machine": "vitrectomy machine",
	"oct": "OCT", "oct_through_gas": "OCT through gas", "slit_lamp": "slit lamp", "anti_vegf": "anti-VEGF",
	"phakic_clear": "own lens, clear", "phakic_cataract": "own lens, cataract", "pseudophakic": "artificial lens",
	"aphakic": "no lens", "anterior_chamber_lens": "artificial lens in the anterior chamber", "seen_empty": "looked for, gone",
	"oil_in_anterior_chamber": "oil in the anterior chamber", "unknown": "not told",
	"gas_check": "look whether the gas has gone", "fellow_eye_scan": "scan of the fellow eye", "pressure": "pressure check",
	"not_written_down": "done, but not written down", "refused": "patient refused", "did": "did the operation", "part": "did a part",
	"brilliant_blue_g": "brilliant blue G", "proliferative_vitreoretinopathy": "proliferative vitreoretinopathy (PVR)",
	"placed": "put in and left", "used": "used and taken out again", "removed": "taken out",
	"partly_removed": "partly taken out", "start": "start of the operation",
}

// codeWords writes a code of the record for people.
func codeWords(code string) string {
	if words, is := spelled[code]; is {
		return words
	}
	return strings.ReplaceAll(code, "_", " ")
}

// entryValues are the fields of a form as they stand in it.
type entryValues struct{ url.Values }

// Is reports whether a field has a value, for the mark of what is chosen.
func (v entryValues) Is(name, value string) bool { return v.Get(name) == value }

// Has reports whether one of the values of a field is this one.
func (v entryValues) Has(name, value string) bool { return slices.Contains(v.Values[name], value) }

// put sets a field unless there is nothing to set.
func (v entryValues) put(name, value string) {
	if value != "" {
		v.Set(name, value)
	}
}

// number sets a field to a number as it is typed.
func (v entryValues) number(name string, value *float64) {
	if value != nil {
		v.Set(name, strconv.FormatFloat(*value, 'f', -1, 64))
	}
}

// date sets a field to a day; what is known only as text stays so.
func (v entryValues) date(name string, d record.Date) {
	if d.Known() {
		v.put(name, d.ISO())
	} else {
		v.put(name, d.Raw)
	}
}

// mostRows is how many rows of one sort a form may have.
const mostRows = 12

// rows are the rows of a sort, by the field that each of them has.
func (v entryValues) rows(sort, field string, least int) []int {
	n := least
	for i := range mostRows {
		if v.Values.Has(fmt.Sprintf("%s-%d-%s", sort, i, field)) {
			n = max(n, i+1)
		}
	}
	out := make([]int, min(n, mostRows))
	for i := range out {
		out[i] = i
	}
	return out
}

// entryReader reads fields and keeps what could not be read.
type entryReader struct {
	values entryValues
	today  record.Date
	found  []record.Finding
}

func (e *entryReader) stop(where, what, mend string) {
	e.found = append(e.found, record.Finding{Severity: record.Stop, Code: record.CodeMalformed, Where: where, What: what, Mend: mend})
}

func (e *entryReader) text(name string) string { return strings.TrimSpace(e.values.Get(name)) }

// number reads a number with a point or a comma; nothing typed is nil.
func (e *entryReader) number(name, where string) *float64 {
	typed := e.text(name)
	if typed == "" {
		return nil
	}
	x, err := strconv.ParseFloat(strings.Replace(typed, ",", ".", 1), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		e.stop(where, fmt.Sprintf("%q is no number", typed), "write digits, with a point or a comma for the fraction")
		return nil
	}
	return &x
}

// date reads a day as written. A text with two readings is asked about, one that
// is no day is kept as text.
func (e *entryReader) date(name, where string, order record.DayOrder) record.Date {
	typed := e.text(name)
	if typed == "" {
		return record.Date{}
	}
	parsed, err := record.ParseDate(typed, record.DateOptions{Today: e.today, Order: order})
	if err != nil {
		e.stop(where, err.Error(), "")
		return record.Date{}
	}
	switch parsed.Kind {
	case record.DateAsk:
		var all []string
		for _, d := range parsed.Readings {
			all = append(all, dayWords(d))
		}
		what := fmt.Sprintf("%q can be read in more than one way", typed)
		if len(all) > 0 {
			what += ": " + strings.Join(all, "; or ")
		}
		e.stop(where, what, "write the month by its name, or 2026-11-24")
	case record.DateUnknown:
		e.stop(where, fmt.Sprintf("%q is no day: %s", typed, parsed.Note), "write 24 Nov 2026 or 2026-11-24; a month or a year alone will do")
	}
	d := parsed.Date
	if d.Known() && d.Raw == d.ISO() {
		d.Raw = "" // the text says no more than the date
	}
	return d
}

// yearsAhead is how far ahead a day can be that has not come yet: the expiry of an
// agent, a day agreed (ours, no source).
const yearsAhead = 20

// dateAhead reads a day that may lie ahead.
func (e *entryReader) dateAhead(name, where string) record.Date {
	later := entryReader{values: e.values, today: record.Date{Year: e.today.Year + yearsAhead, Month: e.today.Month, Day: 1}}
	d := later.date(name, where, record.OrderUndecided)
	e.found = append(e.found, later.found...)
	return d
}

// clock reads a time of day.
func (e *entryReader) clock(name, where string) record.Clock {
	c := record.Clock(e.text(name))
	if _, ok := c.Seconds(); c != "" && !ok {
		e.stop(where, fmt.Sprintf("%q is no time of day", string(c)), "write 09:30")
	}
	return c
}

// side reads a typed side.
func (e *entryReader) side(name, where string) eye.Laterality {
	typed := e.text(name)
	if typed == "" {
		return eye.SideUnknown
	}
	side, err := eye.ParseLaterality(typed)
	if err != nil {
		e.stop(where, fmt.Sprintf("%q is no side", typed), "type right or left")
	}
	return side
}

// list reads words between commas or on lines.
func (e *entryReader) list(name string) []record.FreeText {
	var out []record.FreeText
	for word := range strings.FieldsFuncSeq(e.values.Get(name), func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if word = strings.TrimSpace(word); word != "" {
			out = append(out, record.FreeText(word))
		}
	}
	return out
}
