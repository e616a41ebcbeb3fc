package calendar

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"limitans/fault"
)

// Calendar is a file of events.
type Calendar struct {
	Product string    // PRODID: who made it, never empty
	Stamp   time.Time // DTSTAMP of every event: when this file was made
	Events  []Event   // at least one
}

// Event is one VEVENT: a day, or a time with an end.
type Event struct {
	UID      string // never empty, the same for every version of the event
	Sequence int    // 0 for the first version, then counting; to 2147483647
	// Day says that the event is of the day on which Begin falls, in Begin's own
	// zone, and has no time; End then says nothing.
	Day        bool
	Begin, End time.Time // End is not before Begin; zero where it is not told
	Status     Status
	// Summary is what a calendar shows; never empty. The others may be.
	Summary, Description, Location string
	Alarms                         []Alarm
}

// Status says whether an event takes place.
type Status string

// The states of an event.
const (
	Confirmed Status = "CONFIRMED"
	Tentative Status = "TENTATIVE"
	Cancelled Status = "CANCELLED"
)

// Alarm displays words before an event begins.
type Alarm struct {
	Before time.Duration // 0 or more, whole seconds
	Words  string        // never empty
}

// lineOctets is how long a line may be, without its CR LF (RFC 5545, 3.1).
const lineOctets = 75

// Write writes the calendar. On a fault (Invalid) it has written nothing; other
// errors are those of w.
func Write(w io.Writer, c Calendar) error {
	var b bytes.Buffer
	if err := c.append(&b); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (c Calendar) append(b *bytes.Buffer) error {
	if len(c.Events) == 0 {
		return invalid("calendar", "holds no event", "at least one")
	}
	if err := yearFault("DTSTAMP", c.Stamp); err != nil {
		return err
	}
	out := writer{b: b, stamp: c.Stamp}
	out.line("BEGIN", "VCALENDAR")
	out.line("VERSION", "2.0")
	out.text("PRODID", c.Product)
	seen := map[string]bool{}
	for _, e := range c.Events {
		if seen[e.UID] {
			return invalid("UID", fmt.Sprintf("%q stands for two events", e.UID), "one of its own each")
		}
		seen[e.UID] = true
		out.event(e)
	}
	out.line("END", "VCALENDAR")
	return out.err
}

// writer keeps the first fault.
type writer struct {
	b     *bytes.Buffer
	stamp time.Time
	err   error
}

func (w *writer) fail(err error) {
	if w.err == nil {
		w.err = err
	}
}

// line folds one content line: a continuation begins with a space, which counts,
// and no character is cut.
func (w *writer) line(name, value string) {
	rest, room := name+":"+value, lineOctets
	for len(rest) > room {
		cut := room
		for !utf8.RuneStart(rest[cut]) {
			cut--
		}
		w.b.WriteString(rest[:cut] + "\r\n ")
		rest, room = rest[cut:], lineOctets-1
	}
	w.b.WriteString(rest + "\r\n")
}

// text writes a property of type TEXT that must not be empty.
func (w *writer) text(name, value string) {
	if value == "" {
		w.fail(invalid(name, "is empty", "words"))
	}
	escaped, err := escape(name, value)
	if err != nil {
		w.fail(err)
	}
	w.line(name, escaped)
}

// optional writes nothing for no words.
func (w *writer) optional(name, value string) {
	if value != "" {
		w.text(name, value)
	}
}

// escape is that of TEXT (RFC 5545, 3.3.11). Line ends of other systems become
// the standard's one.
func escape(name, value string) (string, error) {
	if !utf8.ValidString(value) {
		return "", invalid(name, "is not UTF-8", "UTF-8")
	}
	value = strings.ReplaceAll(strings.ReplaceAll(value, "\r\n", "\n"), "\r", "\n")
	for _, r := range value {
		if (r < ' ' && r != '\n' && r != '\t') || r == 0x7f {
			return "", invalid(name, fmt.Sprintf("holds the control character %U", r), "text")
		}
	}
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).Replace(value), nil
}

func (w *writer) event(e Event) {
	if e.Sequence < 0 || e.Sequence > math.MaxInt32 {
		w.fail(invalid("SEQUENCE", fmt.Sprintf("%d cannot be one", e.Sequence), "0 to 2147483647"))
	}
	w.line("BEGIN", "VEVENT")
	w.text("UID", e.UID)
	w.line("DTSTAMP", utc(w.stamp))
	w.line("SEQUENCE", strconv.Itoa(e.Sequence))
	w.times(e)
	switch e.Status {
	case Confirmed, Tentative, Cancelled:
		w.line("STATUS", string(e.Status))
	default:
		w.fail(invalid("STATUS", fmt.Sprintf("%q is none", string(e.Status)), "CONFIRMED, TENTATIVE or CANCELLED"))
	}
	w.line("CLASS", "PRIVATE")
	w.text("SUMMARY", e.Summary)
	w.optional("DESCRIPTION", e.Description)
	w.optional("LOCATION", e.Location)
	for _, a := range e.Alarms {
		w.alarm(a)
	}
	w.line("END", "VEVENT")
}

func (w *writer) times(e Event) {
	if err := yearFault("DTSTART", e.Begin); err != nil {
		w.fail(err)
		return
	}
	if e.Day {
		w.line("DTSTART;VALUE=DATE", e.Begin.Format("20060102"))
		w.line("TRANSP", "TRANSPARENT")
		return
	}
	w.line("DTSTART", utc(e.Begin))
	if e.End.IsZero() {
		return
	}
	if err := yearFault("DTEND", e.End); err != nil {
		w.fail(err)
	}
	if e.End.Before(e.Begin) {
		w.fail(invalid("DTEND", "is before the beginning", "not before it"))
	}
	w.line("DTEND", utc(e.End))
}

func (w *writer) alarm(a Alarm) {
	trigger, err := before(a.Before)
	if err != nil {
		w.fail(err)
	}
	w.line("BEGIN", "VALARM")
	w.line("ACTION", "DISPLAY")
	w.text("DESCRIPTION", a.Words)
	w.line("TRIGGER", trigger)
	w.line("END", "VALARM")
}

// before is a DURATION (RFC 5545, 3.3.6) to the start: days, then hours, minutes
// and seconds, where a unit between two others is written though it is zero.
func before(d time.Duration) (string, error) {
	if d < 0 || d%time.Second != 0 {
		return "", invalid("TRIGGER", fmt.Sprintf("%v before the start is no alarm", d), "0 or more, in whole seconds")
	}
	days, rest := d/(24*time.Hour), d%(24*time.Hour)
	h, m, s := rest/time.Hour, rest%time.Hour/time.Minute, rest%time.Minute/time.Second
	var b strings.Builder
	b.WriteString("-P")
	if d == 0 {
		return "PT0S", nil
	}
	if days > 0 {
		fmt.Fprintf(&b, "%dD", days)
	}
	if rest == 0 {
		return b.String(), nil
	}
	b.WriteString("T")
	if h > 0 {
		fmt.Fprintf(&b, "%dH", h)
	}
	if m > 0 || (h > 0 && s > 0) {
		fmt.Fprintf(&b, "%dM", m)
	}
	if s > 0 {
		fmt.Fprintf(&b, "%dS", s)
	}
	return b.String(), nil
}

// utc is the form of DATE-TIME in UTC, to whole seconds.
func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

func yearFault(name string, t time.Time) error {
	for _, y := range []int{t.Year(), t.UTC().Year()} {
		if t.IsZero() || y < 1 || y > 9999 {
			return invalid(name, "is no time of a calendar", "the years 1 to 9999")
		}
	}
	return nil
}

func invalid(where, what, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: where, What: what, Expected: expected}
}
