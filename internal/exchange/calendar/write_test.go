package calendar

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/arran4/golang-ical"
	"pgregory.net/rapid"

	"limitans/fault"
)

var stamp = time.Date(2026, 11, 25, 8, 30, 15, 999, time.UTC)

func write(t interface {
	Fatal(...any)
	Helper()
}, c Calendar,
) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, c); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The form as RFC 5545 has it (from memory): a day, and a time in UTC with an
// alarm, written out by hand.
func TestWrittenOut(t *testing.T) {
	got := write(t, Calendar{Product: "-//limitans//visits//EN", Stamp: stamp, Events: []Event{
		{UID: "a", Day: true, Begin: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC), Status: Confirmed, Summary: "right eye, review"},
		{
			UID: "b", Sequence: 2, Status: Cancelled, Begin: time.Date(2026, 12, 1, 9, 30, 0, 0, time.FixedZone("", 3600)),
			End: time.Date(2026, 12, 1, 9, 50, 0, 0, time.FixedZone("", 3600)), Summary: `one, two; three \ four`, Description: "first line\r\nsecond line",
			Location: "Room 2", Alarms: []Alarm{{26 * time.Hour, "right eye"}},
		},
	}})
	want := strings.Join([]string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//limitans//visits//EN",
		"BEGIN:VEVENT", "UID:a", "DTSTAMP:20261125T083015Z", "SEQUENCE:0", "DTSTART;VALUE=DATE:20261201", "TRANSP:TRANSPARENT",
		"STATUS:CONFIRMED", "CLASS:PRIVATE", `SUMMARY:right eye\, review`, "END:VEVENT",
		"BEGIN:VEVENT", "UID:b", "DTSTAMP:20261125T083015Z", "SEQUENCE:2", "DTSTART:20261201T083000Z", "DTEND:20261201T085000Z",
		"STATUS:CANCELLED", "CLASS:PRIVATE", `SUMMARY:one\, two\; three \\ four`, `DESCRIPTION:first line\nsecond line`, "LOCATION:Room 2",
		"BEGIN:VALARM", "ACTION:DISPLAY", "DESCRIPTION:right eye", "TRIGGER:-P1DT2H", "END:VALARM", "END:VEVENT",
		"END:VCALENDAR", "",
	}, "\r\n")
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Lines are folded at 75 octets between characters: 75 octets of value and name
// stay whole, one more is folded, and a character of four octets is not cut.
func TestFoldedBetweenCharacters(t *testing.T) {
	for _, row := range []struct {
		summary string
		want    []string
	}{
		{strings.Repeat("a", 67), []string{"SUMMARY:" + strings.Repeat("a", 67)}},
		{strings.Repeat("a", 68), []string{"SUMMARY:" + strings.Repeat("a", 67), " a"}},
		{strings.Repeat("a", 66) + "é", []string{"SUMMARY:" + strings.Repeat("a", 66), " é"}},
		{strings.Repeat("a", 64) + "𝒳b", []string{"SUMMARY:" + strings.Repeat("a", 64), " 𝒳b"}},
		{strings.Repeat("a", 67+74+1), []string{"SUMMARY:" + strings.Repeat("a", 67), " " + strings.Repeat("a", 74), " a"}},
	} {
		text := write(t, Calendar{"p", stamp, []Event{{UID: "u", Day: true, Begin: stamp, Status: Tentative, Summary: row.summary}}})
		if !strings.Contains(text, "CLASS:PRIVATE\r\n"+strings.Join(row.want, "\r\n")+"\r\nEND:VEVENT") {
			t.Errorf("%q:\n%s", row.summary, text)
		}
	}
}

func TestDurations(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "PT0S", time.Second: "-PT1S", 90 * time.Minute: "-PT1H30M", time.Hour + 5*time.Second: "-PT1H0M5S", 48 * time.Hour: "-P2D",
		24*time.Hour + time.Minute: "-P1DT1M", 7 * 24 * time.Hour: "-P7D",
	} {
		if got, err := before(d); err != nil || got != want {
			t.Errorf("%v: %s, %v", d, got, err)
		}
	}
	for _, d := range []time.Duration{-time.Second, time.Millisecond} {
		if _, err := before(d); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", d, err)
		}
	}
}

// What is wrong is refused, and nothing has been written then.
func TestRefused(t *testing.T) {
	good := Event{UID: "u", Day: true, Begin: stamp, Status: Confirmed, Summary: "s"}
	change := func(f func(*Event)) Calendar {
		e := good
		f(&e)
		return Calendar{"p", stamp, []Event{e}}
	}
	for name, c := range map[string]Calendar{
		"no event":       {"p", stamp, nil},
		"no product":     {"", stamp, []Event{good}},
		"no stamp":       {"p", time.Time{}, []Event{good}},
		"twice":          {"p", stamp, []Event{good, good}},
		"late":           {"p", time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), []Event{good}},
		"no UID":         change(func(e *Event) { e.UID = "" }),
		"no summary":     change(func(e *Event) { e.Summary = "" }),
		"not UTF-8":      change(func(e *Event) { e.Description = "\xff" }),
		"control":        change(func(e *Event) { e.Location = "a\x00b" }),
		"sequence":       change(func(e *Event) { e.Sequence = -1 }),
		"large sequence": change(func(e *Event) { e.Sequence = math.MaxInt32 + 1 }),
		"status":         change(func(e *Event) { e.Status = "" }),
		"no begin":       change(func(e *Event) { e.Begin = time.Time{} }),
		"end first":      change(func(e *Event) { e.Day, e.End = false, stamp.Add(-time.Hour) }),
		"late end":       change(func(e *Event) { e.Day, e.End = false, time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }),
		"alarm":          change(func(e *Event) { e.Alarms = []Alarm{{-time.Hour, "w"}} }),
		"silent alarm":   change(func(e *Event) { e.Alarms = []Alarm{{time.Hour, ""}} }),
	} {
		var b bytes.Buffer
		if err := Write(&b, c); fault.CodeOf(err) != fault.Invalid || b.Len() != 0 {
			t.Errorf("%s: %v, %d octets", name, err, b.Len())
		}
	}
	full := errors.New("the disk is full")
	if err := Write(brokenWriter{full}, Calendar{"p", stamp, []Event{good}}); !errors.Is(err, full) {
		t.Error(err)
	}
}

type brokenWriter struct{ err error }

func (b brokenWriter) Write([]byte) (int, error) { return 0, b.err }

// readBack holds what was written against another program's reading of it, and
// every line against the standard.
func readBack(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
	Helper()
}, c Calendar,
) {
	t.Helper()
	text := write(t, c)
	if strings.Count(text, "\n") != strings.Count(text, "\r\n") || strings.Count(text, "\r") != strings.Count(text, "\r\n") || !strings.HasSuffix(text, "\r\n") {
		t.Fatalf("lines end otherwise: %q", text)
	}
	for _, line := range strings.Split(text, "\r\n") {
		if len(line) > lineOctets || !utf8.ValidString(line) {
			t.Fatalf("line of %d octets: %q", len(line), line)
		}
	}
	got, err := ical.ParseCalendar(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v:\n%s", err, text)
	}
	events := got.Events()
	if len(events) != len(c.Events) {
		t.Fatalf("%d events, want %d", len(events), len(c.Events))
	}
	for i, e := range c.Events {
		for property, want := range map[ical.ComponentProperty]string{
			ical.ComponentPropertyUniqueId: e.UID, ical.ComponentPropertySummary: e.Summary, ical.ComponentPropertyDescription: e.Description,
			ical.ComponentPropertyLocation: e.Location, ical.ComponentPropertyStatus: string(e.Status),
		} {
			p := events[i].GetProperty(property)
			if want == "" {
				if p != nil {
					t.Fatalf("%s is %q, want none", property, p.Value)
				}
				continue
			}
			if p == nil || p.Value != oneLineEnd(want) {
				t.Fatalf("%s: %+v, want %q in\n%s", property, p, want, text)
			}
		}
		begin, err := events[i].GetStartAt()
		if e.Day {
			begin, err = events[i].GetAllDayStartAt()
			if y, m, d := begin.Date(); err != nil || y != e.Begin.Year() || m != e.Begin.Month() || d != e.Begin.Day() {
				t.Fatalf("day %v, want %v, %v", begin, e.Begin, err)
			}
		} else if err != nil || !begin.Equal(e.Begin.Truncate(time.Second)) {
			t.Fatalf("begins %v, want %v, %v", begin, e.Begin, err)
		}
		if len(events[i].Alarms()) != len(e.Alarms) {
			t.Fatalf("%d alarms, want %d", len(events[i].Alarms()), len(e.Alarms))
		}
	}
}

// oneLineEnd is what a text with foreign line ends becomes.
func oneLineEnd(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}

func TestReadBackByAnotherProgram(t *testing.T) {
	words := rapid.StringOfN(rapid.RuneFrom([]rune("abc ,;:\\\"\n\r\té𝒳日本العربية")), 1, 200, -1)
	rapid.Check(t, func(t *rapid.T) {
		var c Calendar
		c.Product, c.Stamp = "-//limitans//visits//EN", stamp
		for i := range rapid.IntRange(1, 4).Draw(t, "events") {
			e := Event{
				UID: strings.Repeat("u", i+1), Sequence: rapid.IntRange(0, math.MaxInt32).Draw(t, "sequence"), Day: rapid.Bool().Draw(t, "day"),
				Begin:  stamp.Add(time.Duration(rapid.Int64Range(-1e9, 1e9).Draw(t, "begin")) * time.Second),
				Status: rapid.SampledFrom([]Status{Confirmed, Tentative, Cancelled}).Draw(t, "status"), Summary: words.Draw(t, "summary"),
			}
			if rapid.Bool().Draw(t, "more") {
				e.Description, e.Location = words.Draw(t, "description"), words.Draw(t, "location")
				e.Alarms = []Alarm{{time.Duration(rapid.IntRange(0, 1e6).Draw(t, "before")) * time.Second, words.Draw(t, "alarm")}}
			}
			c.Events = append(c.Events, e)
		}
		readBack(t, c)
	})
}

// Any text either comes back as it was or is refused with nothing written.
func FuzzRoundTrip(f *testing.F) {
	for _, seed := range []string{"right eye, review", "a\r\nb;c\\n,d", strings.Repeat("日", 60), "\xff", "a\x0bb", " ", "\n", "END:VEVENT", "\u2028"} {
		f.Add(seed, seed, int64(0), 90, true)
		f.Add("u", seed, int64(1e9), 0, false)
	}
	f.Fuzz(func(t *testing.T, uid, words string, seconds int64, before int, day bool) {
		e := Event{
			UID: uid, Day: day, Begin: stamp.Add(time.Duration(seconds%1e10) * time.Second), Status: Confirmed, Summary: words, Description: words,
			Alarms: []Alarm{{time.Duration(before) * time.Second, words}},
		}
		c := Calendar{"p", stamp, []Event{e}}
		var b bytes.Buffer
		if err := Write(&b, c); err != nil {
			if fault.CodeOf(err) != fault.Invalid || b.Len() != 0 {
				t.Fatalf("%v, %d octets", err, b.Len())
			}
			return
		}
		readBack(t, c)
	})
}
