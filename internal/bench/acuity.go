package bench

import (
	"fmt"
	"strings"

	"limitans/acuity"
	"limitans/fault"
)

// Acuity reads acuity texts, each by itself: a number without a unit stays a
// question unless the caller says what such numbers mean.
type Acuity struct {
	Numbers       string `placeholder:"KIND" offer:"decimal,logmar,letters" label:"Numbers without a unit" help:"What numbers without a unit mean: decimal, logmar or letters. Default: ask."`
	Language      string `placeholder:"CODE" label:"Language of abbreviations" help:"Language of the abbreviations, for example de, es, fr."`
	Scheme        string `placeholder:"NAME" offer:"Lange,Schulze-Bonsel,Holladay,UK" label:"Values below the chart" help:"Values for counting fingers and hand movements: Lange, Schulze-Bonsel, Holladay or UK. Default: Lange."`
	IgnoreLetters bool   `help:"Leave letters missed or gained behind a line out of logMAR."`
	// Texts are acuity as written.
	Texts []string `kong:"-" name:"text" required:"" label:"Acuity as written" help:"Each on a line of its own, for example 6/9-2, 20/40, 0.5, CF 1 m."`
}

// Answer reads the texts.
func (c Acuity) Answer() (Answer, error) {
	options, err := c.options()
	if err != nil {
		return Answer{}, err
	}
	entries := []acuity.Entry{}
	for _, text := range c.Texts {
		entries = append(entries, acuity.Parse(text, options)...)
	}
	s := newSheet("Acuity as written, and as understood")
	s.label = 14
	for _, e := range entries {
		acuityPart(s, e)
	}
	s.list("Method", []string{"each text by itself; equivalents in logMAR by the scheme named beside them; what has more than one reading stays a question"})
	s.cautions()
	return Answer{Sheet: s, Document: entries}, nil
}

func (c Acuity) options() (acuity.Options, error) {
	options := acuity.Options{Language: c.Language, IgnoreLetters: c.IgnoreLetters}
	switch strings.ToLower(c.Numbers) {
	case "":
	case "decimal":
		options.Plain = acuity.PlainDecimal
	case "logmar":
		options.Plain = acuity.PlainLogMAR
	case "letters":
		options.Plain = acuity.PlainLetters
	default:
		return options, &fault.Error{Code: fault.Invalid, Where: "--numbers", What: fmt.Sprintf("%q is no notation", c.Numbers), Expected: "decimal, logmar or letters"}
	}
	if c.Scheme != "" {
		scheme, err := acuity.ParseScheme(c.Scheme)
		if err != nil {
			return options, &fault.Error{Code: fault.Invalid, Where: "--scheme", What: fmt.Sprintf("%q is not known", c.Scheme), Expected: "Lange, Schulze-Bonsel, Holladay or UK", Cause: err}
		}
		options.LowVision = scheme
	}
	return options, options.Check()
}

// acuityPart adds one value in a few lines, empty ones left out.
func acuityPart(s *Sheet, e acuity.Entry) {
	line := func(name, value string) {
		if value != "" {
			s.line(name, value)
		}
	}
	s.part(fmt.Sprintf("%q", e.Raw))
	kind := strings.ReplaceAll(string(e.Kind), "_", " ")
	if e.Understood != "" && e.Understood != kind {
		kind += ": " + e.Understood
	}
	line("understood as", kind)
	line("logMAR", acuityNumber(e.LogMAR, "%.3f", e.Scheme))
	line("letters", acuityNumber(e.Letters, "%.1f", "85 - 50 x logMAR"))
	if e.Role != acuity.RoleUnknown {
		line("role", string(e.Role))
	}
	line("distance", acuityNumber(e.DistanceM, "%.3g m", ""))
	for i, r := range e.Readings {
		reading := r.As
		if r.LogMAR != nil {
			reading += fmt.Sprintf(", logMAR %.3f (%s)", *r.LogMAR, r.Scheme)
		}
		if i == 0 {
			line("may be", reading)
		} else {
			s.line("", reading)
		}
	}
	line("note", e.Note)
}

func acuityNumber(x *float64, format, how string) string {
	if x == nil {
		return ""
	}
	s := fmt.Sprintf(format, *x)
	if how != "" {
		s += " (" + how + ")"
	}
	return s
}
