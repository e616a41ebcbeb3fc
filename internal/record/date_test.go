package record

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"
)

func mustDate(t testing.TB, text string) Date {
	t.Helper()
	d, err := parseISO(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func dateSettings(t *testing.T, line string) DateOptions {
	t.Helper()
	var opt DateOptions
	for _, setting := range strings.Fields(strings.TrimPrefix(line, "@")) {
		switch key, value, _ := strings.Cut(setting, "="); key + "=" + value {
		case "order=day":
			opt.Order = DayFirst
		case "order=month":
			opt.Order = MonthFirst
		case "serial=1900":
			opt.Serial = Serial1900
		case "serial=1904":
			opt.Serial = Serial1904
		case "calendar=buddhist":
			opt.Calendar = CalendarBuddhist
		case "calendar=gregorian":
			opt.Calendar = CalendarGregorian
		case "calendar=other":
			opt.Calendar = CalendarOther
		default:
			if key != "today" {
				t.Fatalf("dates.txt: unknown setting %q", setting)
			}
			opt.Today = mustDate(t, value)
		}
	}
	return opt
}

// Source: testdata/dates.txt, see the README there.
func TestParseDateCases(t *testing.T) {
	data, err := os.ReadFile("testdata/dates.txt")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	var opt DateOptions
	for i, line := range strings.Split(string(data), "\n") {
		switch {
		case strings.HasPrefix(line, "@"):
			opt = dateSettings(t, line)
			continue
		case line == "" || strings.HasPrefix(line, "#"):
			continue
		}
		parts := strings.Split(line, " |")
		if len(parts) != 4 {
			t.Fatalf("dates.txt:%d: %d parts", i+1, len(parts))
		}
		for j := range parts {
			parts[j] = strings.TrimSpace(parts[j])
		}
		if parts[0] == "(blank)" {
			parts[0] = ""
		}
		n++
		got, err := ParseDate(parts[0], opt)
		if err != nil {
			t.Fatal(err)
		}
		var readings []string
		if got.Date.Known() {
			readings = []string{got.Date.ISO()}
		}
		for _, r := range got.Readings {
			readings = append(readings, r.ISO())
		}
		wanted := map[string]bool{}
		for _, w := range strings.Split(parts[2], ";") {
			if w = strings.TrimSpace(w); w != "" {
				wanted[w] = true
			}
		}
		same := len(wanted) == len(readings)
		for _, r := range readings {
			same = same && wanted[r]
		}
		if string(got.Kind) != parts[1] || !same || !strings.Contains(got.Note, parts[3]) {
			t.Errorf("dates.txt:%d: %q is %s %v (%s), want %s %s (%s)", i+1, parts[0], got.Kind, readings, got.Note, parts[1], parts[2], parts[3])
		}
		if got.Date.Raw != parts[0] {
			t.Errorf("dates.txt:%d: the text was not kept: %q", i+1, got.Date.Raw)
		}
	}
	if n < 80 {
		t.Fatalf("%d cases", n)
	}
}

func TestParseDateNeedsToday(t *testing.T) {
	for _, today := range []Date{{}, {Year: 1899}, RelativeDay(3), {Year: 2026, Day: 3}} {
		if _, err := ParseDate("2024-04-01", DateOptions{Today: today}); err == nil {
			t.Errorf("today %v was accepted", today)
		}
	}
}

// Every converted date states how.
func TestConvertedDatesSayHow(t *testing.T) {
	today := Date{Year: 2026, Month: 6, Day: 15}
	for text, opt := range map[string]DateOptions{
		"45383":      {Today: today, Serial: Serial1900},
		"43921":      {Today: today, Serial: Serial1904},
		"2567-04-01": {Today: today, Calendar: CalendarBuddhist},
	} {
		got, err := ParseDate(text, opt)
		if err != nil || got.Date.ISO() != "2024-04-01" || got.Date.How == "" {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
}

// Second route to the day numbers: counting with the time package, and the sum of
// hard case 26 (1904 adds 1,462).
func TestSerialNumbers(t *testing.T) {
	for n := 61; n < 60000; n += 7 {
		want := time.Date(1900, 1, n-1, 0, 0, 0, 0, time.UTC) // one less for the day that never was
		got, ok := DateOfSerial(n, Serial1900)
		if !ok || got.ISO() != want.Format(time.DateOnly) {
			t.Fatalf("%d: %v, want %v", n, got, want)
		}
		if n > 1462 {
			if other, _ := DateOfSerial(n-1462, Serial1904); other.ISO() != got.ISO() {
				t.Fatalf("%d: %v and %v", n, got, other)
			}
		}
	}
	for n, want := range map[int]string{1: "1900-01-01", 59: "1900-02-28", 60: "", 61: "1900-03-01", 0: "", -1: "", 1 << 30: ""} {
		got, _ := DateOfSerial(n, Serial1900)
		if got.ISO() != want {
			t.Errorf("%d: %v, want %q", n, got, want)
		}
	}
}

// The digits of a script stand in runs of ten in the Unicode tables, on which
// digitValue rests.
func TestDigitRuns(t *testing.T) {
	n := 0
	for _, run := range unicode.Nd.R16 {
		if (run.Hi-run.Lo+1)%10 != 0 || run.Stride != 1 {
			t.Errorf("run %U to %U", run.Lo, run.Hi)
		}
		n++
	}
	for _, run := range unicode.Nd.R32 {
		if (run.Hi-run.Lo+1)%10 != 0 || run.Stride != 1 {
			t.Errorf("run %U to %U", run.Lo, run.Hi)
		}
		n++
	}
	if n < 40 {
		t.Fatalf("%d runs", n)
	}
	for r, want := range map[rune]int{'7': 7, '٧': 7, '७': 7, '๗': 7, '７': 7, '𝟟': 7} {
		if got, ok := digitValue(r); !ok || got != want {
			t.Errorf("%c is %d", r, got)
		}
	}
}

// anyDate draws dates of every kind: whole, in part, unknown, relative.
func anyDate(t *rapid.T) Date {
	d := Date{Year: rapid.IntRange(1900, 2027).Draw(t, "year"), Month: rapid.IntRange(1, 12).Draw(t, "month")}
	d.Day = rapid.IntRange(1, DaysIn(d.Year, d.Month)).Draw(t, "day")
	switch rapid.IntRange(0, 9).Draw(t, "kind") {
	case 0:
		return Date{Raw: "Easter"}
	case 1:
		d.Month, d.Day = 0, 0
	case 2:
		d.Day = 0
	case 3:
		return RelativeDay(rapid.IntRange(-9999, 9999).Draw(t, "offset"))
	case 4:
		d.Raw, d.How = "45383", "day number"
	}
	return d
}

func TestDateProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := anyDate(t), anyDate(t), anyDate(t)
		if err := a.Check(); err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		var back Date
		if err := json.Unmarshal(data, &back); err != nil || back != a {
			t.Fatalf("%s came back as %#v, %v", data, back, err)
		}
		if a.Compare(b) != -b.Compare(a) {
			t.Fatalf("order of %v and %v", a, b)
		}
		if a.Compare(b) <= 0 && b.Compare(c) <= 0 && a.Compare(c) > 0 {
			t.Fatalf("no order: %v, %v, %v", a, b, c)
		}
		if a.CertainlyBefore(b) && (b.CertainlyBefore(a) || a.Compare(b) >= 0) {
			t.Fatalf("%v before %v and not", a, b)
		}
		days := rapid.IntRange(-30000, 30000).Draw(t, "days")
		if moved, ok := a.AddDays(days); ok {
			if n, known := a.DaysUntil(moved); !known || n != days {
				t.Fatalf("%v plus %d days is %v, which is %d days away", a, days, moved, n)
			}
		}
		if !a.Relative && !b.Relative && a.Full() && b.Full() && (a.ISO() < b.ISO()) != a.CertainlyBefore(b) {
			t.Fatalf("texts %s and %s sort otherwise than days", a.ISO(), b.ISO())
		}
	})
}

func TestDatesThatAreNone(t *testing.T) {
	for _, d := range []Date{
		{Year: 2023, Month: 2, Day: 29},
		{Month: 4},
		{Year: 2024, Day: 3},
		{Year: -1},
		{Year: 10000},
		{Year: 2024, Month: 13},
		{Year: 2024, Relative: true},
		{Offset: 3},
	} {
		if d.Check() == nil {
			t.Errorf("%#v passed", d)
		}
	}
	for _, text := range []string{`"2024-4-1"`, `"31/02/2024"`, `"2024-02-30"`, `"2024-00"`, `{"date":"2024","days_from_first_operation":3}`, `3`, `{"date":3}`} {
		var d Date
		if json.Unmarshal([]byte(text), &d) == nil {
			t.Errorf("%s was read as %v", text, d)
		}
	}
	if _, err := On(2024, time.February, 30); err == nil {
		t.Error("30 February")
	}
	if d, err := On(2024, time.February, 29); err != nil || d != DayOf(time.Date(2024, 2, 29, 23, 0, 0, 0, time.FixedZone("", 3600))) {
		t.Error(d, err)
	}
	for want, d := range map[string]Date{"2024-04": {Year: 2024, Month: 4}, "not told": {}, `unknown (written "Easter")`: {Raw: "Easter"}, "day -3": RelativeDay(-3)} {
		if d.String() != want {
			t.Errorf("%q, want %q", d, want)
		}
	}
}

func TestClock(t *testing.T) {
	for c, want := range map[Clock]int{"00:00": 0, "23:59:59": 86399, "07:30": 27000} {
		if got, ok := c.Seconds(); !ok || got != want {
			t.Errorf("%s: %d", c, got)
		}
	}
	for _, c := range []Clock{"", "7:30", "24:00", "12:60", "12.30", "12:30 pm"} {
		if _, ok := c.Seconds(); ok {
			t.Errorf("%q is no time of day", c)
		}
	}
}

func FuzzParseDate(f *testing.F) {
	data, err := os.ReadFile("testdata/dates.txt")
	if err != nil {
		f.Fatal(err)
	}
	for _, line := range strings.Split(string(data), "\n") {
		if text, _, found := strings.Cut(line, " |"); found {
			f.Add(text, 0, 0, 0)
			f.Add(text, 1, 1, 1)
			f.Add(text, 2, 2, 2)
		}
	}
	f.Fuzz(func(t *testing.T, text string, order, serial, calendar int) {
		opt := DateOptions{Today: Date{Year: 2026, Month: 6, Day: 15}, Order: DayOrder(order), Serial: SerialSystem(serial), Calendar: Calendar(calendar)}
		got, err := ParseDate(text, opt)
		if max(order, serial) > 2 || calendar > 3 || min(order, serial, calendar) < 0 {
			if err == nil {
				t.Fatal("options that are none were accepted")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if got.Date.Raw != text {
			t.Fatal("the text was not kept")
		}
		all := append([]Date{got.Date}, got.Readings...)
		for _, d := range all {
			if err := d.Check(); err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			if d.Known() && (d.Year < FirstYear || d.Year > 2027) {
				t.Fatalf("%q gave the year %d", text, d.Year)
			}
		}
		switch got.Kind {
		case DateKnown:
			again, err := ParseDate(got.Date.ISO(), DateOptions{Today: opt.Today})
			if !got.Date.Full() || err != nil || again.Kind != DateKnown || again.Date.ISO() != got.Date.ISO() {
				t.Fatalf("%q: %v, again %v %v", text, got.Date, again, err)
			}
		case DatePartly:
			if got.Date.Full() || !got.Date.Known() {
				t.Fatalf("%q: %v", text, got.Date)
			}
		case DateAsk, DateUnknown, DateMissing:
			if got.Date.Known() || got.Note == "" {
				t.Fatalf("%q: %v", text, got)
			}
		default:
			t.Fatalf("%q: kind %q", text, got.Kind)
		}
	})
}
