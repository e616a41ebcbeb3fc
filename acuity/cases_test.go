package acuity

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// caseTolerance: cases.txt gives logMAR to four decimals; distances to four digits.
const caseTolerance = 0.5e-4 + 1e-9

// caseText takes the words of the file back to the text.
func caseText(s string) string {
	if s = strings.TrimSpace(s); s == "(blank)" {
		return ""
	}
	return s
}

func caseOptions(t *testing.T, line string) Options {
	t.Helper()
	var opt Options
	key, value, _ := strings.Cut(strings.TrimSpace(strings.TrimPrefix(line, "@")), "=")
	switch key + "=" + value {
	case "=":
	case "letters=ignored":
		opt.IgnoreLetters = true
	case "numbers=decimal":
		opt.Plain = PlainDecimal
	case "numbers=logmar":
		opt.Plain = PlainLogMAR
	case "numbers=letters":
		opt.Plain = PlainLetters
	case "codes=categories":
		opt.Codes = CodesCategories
	case "codes=measured":
		opt.Codes = CodesMeasured
	default:
		switch key {
		case "language":
			opt.Language = value
		case "scheme":
			scheme, err := ParseScheme(value)
			if err != nil {
				t.Fatal(err)
			}
			opt.LowVision = scheme
		default:
			t.Fatalf("cases.txt: unknown setting %q", line)
		}
	}
	if err := opt.Check(); err != nil {
		t.Fatal(err)
	}
	return opt
}

// describe writes an entry in the words of cases.txt, with as many parts as wanted asks for.
func matches(e Entry, want string) bool {
	parts := strings.Fields(want)
	kind := parts[0]
	if kind == "missing" {
		if e.Kind != Unusable || !e.Missing || !strings.Contains(e.Note, "missing") {
			return false
		}
	} else if string(e.Kind) != kind || e.Missing {
		return false
	}
	role, distance := RoleUnknown, ""
	var numbers []string
	for _, p := range parts[1:] {
		switch {
		case p == string(Corrected) || p == string(Uncorrected) || p == string(Pinhole):
			role = Role(p)
		case strings.HasPrefix(p, "@"):
			distance = p[1:]
		default:
			numbers = append(numbers, p)
		}
	}
	if e.Role != role || e.Kind != Ask && !near(e.DistanceM, distance) {
		return false
	}
	if e.Kind != Ask {
		return len(e.Readings) == 0 && near(e.LogMAR, strings.Join(numbers, " "))
	}
	if e.LogMAR != nil || len(numbers) != len(e.Readings) {
		return false
	}
	for i, n := range numbers {
		if n == "-" {
			n = ""
		}
		if !near(e.Readings[i].LogMAR, n) {
			return false
		}
	}
	return true
}

func near(got *float64, want string) bool {
	if got == nil || want == "" {
		return got == nil && want == ""
	}
	var v float64
	if _, err := fmt.Sscan(want, &v); err != nil {
		return false
	}
	return math.Abs(*got-v) <= caseTolerance
}

func show(entries []Entry) string {
	var b strings.Builder
	for _, e := range entries {
		fmt.Fprintf(&b, "\n\t%s", e.Kind)
		if e.LogMAR != nil {
			fmt.Fprintf(&b, " %.4f", *e.LogMAR)
		}
		fmt.Fprintf(&b, " %s", e.Role)
		if e.DistanceM != nil {
			fmt.Fprintf(&b, " @%.4f", *e.DistanceM)
		}
		for _, r := range e.Readings {
			fmt.Fprintf(&b, " [%s %s", r.As, r.Kind)
			if r.LogMAR != nil {
				fmt.Fprintf(&b, " %.4f", *r.LogMAR)
			}
			b.WriteString("]")
		}
		fmt.Fprintf(&b, " (%s)", e.Note)
	}
	return b.String()
}

// caseInputs returns the texts of cases.txt, for fuzzing.
func caseLines(t testing.TB) []string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "cases.txt"))
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(string(data), "\n")
}

// TestCases runs the file a clinician can read.
func TestCases(t *testing.T) {
	count := 0
	var opt Options
	for i, line := range caseLines(t) {
		switch {
		case strings.TrimSpace(line) == "" || strings.HasPrefix(line, "# ") || line == "#":
			continue
		case strings.HasPrefix(line, "@"):
			opt = caseOptions(t, line)
			continue
		}
		parts := strings.SplitN(line, " | ", 3)
		if len(parts) < 2 {
			t.Fatalf("cases.txt:%d: no expectation: %q", i+1, line)
		}
		count++
		text := caseText(parts[0])
		want := strings.Split(strings.TrimSuffix(strings.TrimSpace(parts[1]), "|"), " & ")
		got := Parse(text, opt)
		ok := len(got) == len(want)
		for k := 0; ok && k < len(got); k++ {
			ok = matches(got[k], want[k]) && got[k].Raw == text
		}
		if !ok {
			t.Errorf("cases.txt:%d: %q: want %s, got%s", i+1, text, parts[1], show(got))
		}
	}
	if count == 0 {
		t.Fatal("cases.txt holds no case")
	}
	t.Logf("%d cases", count)
}
