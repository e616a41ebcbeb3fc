package web

import (
	"errors"
	"fmt"
	"net/http"
	"reflect"
	"strconv"
	"strings"

	"limitans/acuity"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/bench"
)

// benchDescribed are the calculators of the bench that programs can ask, by their
// code, with the form of their documents.
var benchDescribed = []struct {
	code, about string
	gives       reflect.Type
}{
	{"acuity", "What acuities mean as they were written.", reflect.TypeFor[apiAcuityRead]()},
	{"bubble", "How long a gas bubble stays, what it covers in which position, and which pressure it makes.", reflect.TypeFor[apiBubble]()},
	{"mix", "The recipe for a gas mixture in the real syringe, with its stops.", reflect.TypeFor[apiMix]()},
	{"altitude", "What height does to an eye with gas in it. An estimate, never a permission.", reflect.TypeFor[apiAltitude]()},
}

// benchAnswer is the answer of a calculator.
type benchAnswer struct {
	Stopped  string `json:"stopped"`
	Document any    `json:"document"`
}

// apiAcuityRead is the answer about acuities.
type apiAcuityRead struct {
	Stopped  string         `json:"stopped"` // always empty here
	Document []acuity.Entry `json:"document"`
}

// apiBubble is the answer about a bubble.
type apiBubble struct {
	Stopped  string         `json:"stopped"` // always empty here
	Document bubbleDocument `json:"document"`
}

// apiMix is the answer about a mixture.
type apiMix struct {
	Stopped  string      `json:"stopped"` // what stands against acting on the answer; empty when nothing does
	Document mixDocument `json:"document"`
}

// apiAltitude is the answer about a journey.
type apiAltitude struct {
	Stopped  string           `json:"stopped"` // always empty here
	Document altitudeDocument `json:"document"`
}

func (s *Server) benchAPI() []endpoint {
	var out []endpoint
	for _, one := range benchDescribed {
		calculator, is := bench.CalculatorOf(one.code)
		if !is {
			continue // the test of descriptions misses it
		}
		e := takes(http.MethodPost, "Bench", "bench/"+one.code, needs(account.ReadClinical), one.about, http.StatusOK,
			func(_ *http.Request, _ *visitor, body map[string]any) (benchAnswer, error) {
				return askBench(calculator, body)
			})
		e.gives, e.takes, e.takesForm = one.gives, nil, bench.Form(calculator.New())
		out = append(out, e)
	}
	return out
}

// benchKey is a field of a calculator as a key.
func benchKey(name string) string { return strings.ReplaceAll(name, "-", "_") }

// askBench fills a calculator with what was sent, and asks it.
func askBench(c bench.Calculator, body map[string]any) (benchAnswer, error) {
	question := c.New()
	known := map[string]bool{}
	for _, f := range bench.Form(question) {
		known[benchKey(f.Name)] = true
	}
	written := map[string]string{}
	for key, value := range body {
		text, err := benchText(key, value)
		if err != nil {
			return benchAnswer{}, err
		}
		if !known[key] {
			return benchAnswer{}, &fault.Error{Code: fault.Malformed, Where: "body", What: fmt.Sprintf("unknown field %q", key), Expected: "the fields in the description of the API"}
		}
		written[key] = text
	}
	if _, err := bench.Read(question, func(name string) string { return written[benchKey(name)] }); err != nil {
		return benchAnswer{}, atKey(err)
	}
	a, err := question.Answer()
	if err != nil {
		return benchAnswer{}, atKey(err)
	}
	return benchAnswer{a.Stopped, a.Document}, nil
}

// benchText is a JSON value as it would be written into the form.
func benchText(key string, value any) (string, error) {
	switch v := value.(type) {
	case nil:
		return "", nil
	case string:
		return v, nil
	case bool:
		if v {
			return "on", nil
		}
		return "", nil
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64), nil
	case []any:
		lines := make([]string, len(v))
		for i, one := range v {
			text, err := benchText(key, one)
			if err != nil {
				return "", err
			}
			lines[i] = text
		}
		return strings.Join(lines, "\n"), nil
	}
	return "", &fault.Error{Code: fault.Malformed, Where: key, What: "is an object", Expected: "a text, a number, true or false, or a list of them"}
}

// atKey names the keys in the place of a fault, which the bench names as flags.
func atKey(err error) error {
	var f *fault.Error
	if !errors.As(err, &f) {
		return err
	}
	named := *f
	var places []string
	for place := range strings.SplitSeq(f.Where, ",") {
		if name, flag := strings.CutPrefix(strings.TrimSpace(place), "--"); flag {
			place = benchKey(name)
		}
		places = append(places, strings.TrimSpace(place))
	}
	named.Where = strings.Join(places, ", ")
	return &named
}

// formSchema describes the fields of a calculator.
func formSchema(fields []bench.Field) schema {
	properties, required := schema{}, []string{}
	for _, f := range fields {
		text := schema{"type": []string{"string", "number"}}
		switch f.Kind {
		case bench.Choice:
			text = schema{"type": "string", "enum": f.Choices}
		case bench.Yes:
			text = schema{"type": "boolean"}
		case bench.Lines:
			text = schema{"type": "array", "items": text}
		}
		text["description"] = f.Help
		if f.Value != "" {
			text["default"] = f.Value
		}
		if f.Unit != "" {
			text["description"] = strings.TrimSuffix(f.Help, ".") + " (" + f.Unit + ")."
		}
		properties[benchKey(f.Name)] = text
		if f.Required {
			required = append(required, benchKey(f.Name))
		}
	}
	s := schema{"type": "object", "properties": properties}
	if len(required) > 0 {
		s["required"] = required
	}
	return s
}
