package decide

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/fault"
	"limitans/stats"
)

// vignette is one hand-checked eye of testdata/vignettes; its README describes
// the form.
type vignette struct {
	name     string
	findings Findings
	unit     Unit
	expect   [][2]string // key and value, in order
}

func readVignettes(t *testing.T) []vignette {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("testdata", "vignettes", "*.txt"))
	if err != nil || len(files) < 40 {
		t.Fatalf("%d vignettes, %v", len(files), err)
	}
	var out []vignette
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		v := vignette{name: strings.TrimSuffix(filepath.Base(file), ".txt")}
		if err := v.parse(string(text)); err != nil {
			t.Fatalf("%s: %v", v.name, err)
		}
		if len(v.expect) == 0 {
			t.Fatalf("%s: expects nothing", v.name)
		}
		out = append(out, v)
	}
	return out
}

func (v *vignette) parse(text string) error {
	section, fields := "", map[string]any{}
	for _, line := range strings.Split(text, "\n") {
		trimmed := strings.TrimSpace(line)
		switch {
		case trimmed == "" || strings.HasPrefix(line, "#"):
			continue
		case !strings.HasPrefix(line, " "):
			section = trimmed
			continue
		}
		key, value, found := strings.Cut(trimmed, ": ")
		if !found {
			return fmt.Errorf("%q is no entry", line)
		}
		switch section {
		case "expect":
			v.expect = append(v.expect, [2]string{key, value})
		case "eye":
			if err := v.enter(fields, key, value); err != nil {
				return err
			}
		default:
			return fmt.Errorf("section %q", section)
		}
	}
	data, err := json.Marshal(fields)
	if err != nil {
		return err
	}
	decoder := json.NewDecoder(strings.NewReader(string(data)))
	decoder.DisallowUnknownFields()
	return decoder.Decode(&v.findings)
}

var interval = regexp.MustCompile(`^([0-9.]+) \(([0-9.]+) to ([0-9.]+)\)$`)

func (v *vignette) enter(fields map[string]any, key, value string) error {
	number, err := strconv.ParseFloat(value, 64)
	isNumber := err == nil
	switch {
	case strings.HasPrefix(key, "own "):
		var k, n int
		if _, err := fmt.Sscanf(value, "%d of %d", &k, &n); err != nil {
			return err
		}
		v.unit.Own = append(v.unit.Own, OwnResult{Code: strings.TrimPrefix(key, "own "), Counts: stats.Counts{Events: k, Trials: n}})
	case strings.HasPrefix(key, "limit "):
		v.unit.Limits = map[string]float64{strings.TrimPrefix(key, "limit "): number}
	case key == "mld_um" || key == "base_um" || key == "largest_um":
		// A bare number is one reading by a person, 11 µm.
		e := estimate.Normal(number, readingSDUM, "typed")
		if m := interval.FindStringSubmatch(value); m != nil {
			e = estimate.Estimate{Basis: "measured"}
			for i, to := range []*float64{&e.Value, &e.Low, &e.High} {
				*to, _ = strconv.ParseFloat(m[i+1], 64)
			}
		} else if !isNumber {
			return fmt.Errorf("%s: %q", key, value)
		}
		fields[key] = e
	case key == "allergies":
		fields[key] = strings.Split(value, ", ")
	case isNumber:
		fields[key] = number
	default:
		fields[key] = value
	}
	return nil
}

func TestVignettes(t *testing.T) {
	for _, v := range readVignettes(t) {
		t.Run(v.name, func(t *testing.T) {
			d, err := Decide(v.findings, v.unit)
			if v.expect[0][0] == "fault" {
				code, words, _ := strings.Cut(v.expect[0][1], ": ")
				if string(fault.CodeOf(err)) != code || !strings.Contains(err.Error(), words) {
					t.Errorf("want %s: %v", v.expect[0][1], err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range v.expect {
				if why := meets(d, e[0], e[1]); why != "" {
					t.Errorf("%s: %s\n     %s", e[0], e[1], why)
				}
			}
		})
	}
}

// meets says what an expectation finds instead, or nothing.
func meets(d Decision, key, value string) string {
	word, rest, _ := strings.Cut(key, " ")
	switch word {
	case "first":
		if d.First().Code != value || d.First().Place != FirstChoice {
			return fmt.Sprintf("first is %s, %s", d.First().Code, d.First().Place)
		}
		return ""
	case "absent":
		if _, offered := d.Option(value); offered {
			return "it is offered"
		}
		return ""
	case "warning":
		return among(d.Warnings, value)
	case "open":
		if !slices.ContainsFunc(d.Open, func(q Question) bool { return q.Key == value }) {
			return fmt.Sprint(d.Open)
		}
		return ""
	case "change":
		for _, c := range d.Changes {
			if c.Finding+" -> "+c.First == value || strings.HasPrefix(c.Finding+" -> "+c.First, value) {
				return ""
			}
		}
		return fmt.Sprint(d.Changes)
	case "no", "chance", "filling":
		kind, code, detail := word, rest, ""
		if word == "no" {
			kind, code, _ = strings.Cut(rest, " ")
			kind = "no " + kind
		} else {
			code, detail, _ = strings.Cut(rest, " ")
		}
		return ofOption(d, code, kind, detail, value)
	}
	return ofOption(d, rest, word, "", value)
}

func ofOption(d Decision, code, kind, detail, value string) string {
	o, offered := d.Option(code)
	if !offered {
		return "the option is not offered"
	}
	needs := slices.Concat(o.Needs.Gauge, o.Needs.Stain, o.Needs.Agents, o.Needs.Instruments)
	switch kind {
	case "place":
		return same(string(o.Place), value)
	case "reason":
		return among(o.Reasons, value)
	case "against":
		return among(o.Against, value)
	case "step":
		return among(o.Steps, value)
	case "need":
		return among(needs, value)
	case "no need":
		if among(needs, value) == "" {
			return "it is needed"
		}
		return ""
	case "time":
		return among(o.Costs.Time, value)
	case "risk":
		for _, r := range o.Costs.Risks {
			if strings.Contains(r.What, value) && r.Share.Known() {
				return ""
			}
		}
		return fmt.Sprint(o.Costs.Risks)
	case "posture":
		if o.Costs.Posture == nil || !strings.Contains(o.Costs.Posture.Text, value) {
			return fmt.Sprint(o.Costs.Posture)
		}
		return ""
	case "fill", "filling", "until", "gone":
		return filled(o, kind, detail, value)
	case "published":
		return same(strconv.Itoa(o.PublishedN), value)
	case "own":
		return same(strconv.Itoa(o.OwnN), value)
	case "weighing":
		if !strings.Contains(o.Weighing, value) {
			return o.Weighing
		}
		return ""
	case "no number":
		if o.Closure.Known() || !strings.Contains(o.Closure.Basis, value) {
			return fmt.Sprint(o.Closure)
		}
		return ""
	case "closure":
		return between(o.Closure.Value, value)
	case "acuity":
		return between(o.Acuity.After.Value, value)
	case "chance":
		for _, c := range o.Places {
			if string(c.Place) == detail {
				return between(c.Probability, value)
			}
		}
		return fmt.Sprint(o.Places)
	}
	return "no such expectation"
}

func filled(o Option, kind, detail, value string) string {
	var codes []string
	for _, c := range o.Costs.Tamponades {
		codes = append(codes, c.Code)
		if kind == "filling" && c.Code == detail {
			return same(string(c.Place), value)
		}
	}
	first := o.Costs.Tamponades[0]
	switch kind {
	case "until":
		return same(first.Until, value)
	case "gone":
		if first.Gone.Known() || !strings.Contains(first.Gone.Basis, value) {
			return fmt.Sprint(first.Gone)
		}
		return ""
	}
	if got := strings.Join(codes, " "); !strings.HasPrefix(got+" ", value+" ") {
		return got
	}
	return ""
}

func same(got, want string) string {
	if got != want {
		return got
	}
	return ""
}

// among looks for words in sentences.
func among(all []Sentence, words string) string {
	var texts []string
	for _, s := range all {
		if strings.Contains(s.Text, words) {
			return ""
		}
		texts = append(texts, s.Text)
	}
	return strings.Join(texts, "\n     ")
}

func between(got float64, span string) string {
	low, high, _ := strings.Cut(span, " to ")
	from, err1 := strconv.ParseFloat(low, 64)
	to, err2 := strconv.ParseFloat(high, 64)
	if err1 != nil || err2 != nil || !(got >= from && got <= to) || math.IsNaN(got) {
		return fmt.Sprintf("%.4f", got)
	}
	return ""
}
