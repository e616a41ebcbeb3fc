package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"limitans/acuity"
	"limitans/fault"
	"limitans/internal/caution"
)

// acuityCommand reads acuity texts, each by itself: a number without a unit
// stays a question unless the caller says what such numbers mean.
//
// Texts pass through the flag parser untouched once the first is reached. A
// first text such as "-0.1" would still be taken for a flag and refused;
// acuityArguments puts a "--" in front of it.
type acuityCommand struct {
	JSON          bool     `name:"json" help:"Print an array of objects instead of text."`
	Numbers       string   `placeholder:"KIND" help:"What numbers without a unit mean: decimal, logmar or letters. Default: ask."`
	Language      string   `placeholder:"CODE" help:"Language of the abbreviations, for example de, es, fr."`
	Scheme        string   `placeholder:"NAME" help:"Values for counting fingers and hand movements: Lange, Schulze-Bonsel, Holladay or UK. Default: Lange."`
	IgnoreLetters bool     `help:"Leave letters missed or gained behind a line out of logMAR."`
	Text          []string `arg:"" passthrough:"partial" help:"Acuity as written, one argument each, flags before them."`
}

// acuityArguments returns the arguments with "--" between the flags and the
// texts of the verb acuity; arguments of other verbs come back as they are.
func acuityArguments(arguments []string) []string {
	if len(arguments) == 0 || arguments[0] != "acuity" {
		return arguments
	}
	i := 1
	for i < len(arguments) && strings.HasPrefix(arguments[i], "-") && !isNegative(arguments[i]) {
		switch arguments[i] {
		case "-", "--":
			return arguments
		case "--numbers", "--language", "--scheme":
			i++ // its value
		}
		i++
	}
	if i >= len(arguments) {
		return arguments
	}
	out := append([]string{}, arguments[:i]...)
	return append(append(out, "--"), arguments[i:]...)
}

// isNegative tells "-0.1" and "-.1" from a flag.
func isNegative(argument string) bool {
	return len(argument) > 1 && argument[0] == '-' && strings.ContainsRune("0123456789.,", rune(argument[1]))
}

// Run prints what each text means.
func (c acuityCommand) Run(out *console) error {
	options, err := c.options()
	if err != nil {
		return err
	}
	texts := c.Text
	if len(texts) > 1 && texts[0] == "--" {
		texts = texts[1:]
	}
	entries := []acuity.Entry{}
	for _, text := range texts {
		if text == "--json" {
			c.JSON = true
			continue
		}
		if len(text) > 2 && strings.HasPrefix(text, "--") && (text[2]|0x20) >= 'a' && (text[2]|0x20) <= 'z' {
			return &fault.Error{
				Code: fault.Invalid, Where: text, What: "is no flag, or stands behind a text",
				Expected: "flags before the texts", Mend: "see limitans acuity --help",
			}
		}
		entries = append(entries, acuity.Parse(text, options)...)
	}
	if c.JSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetEscapeHTML(false)
		encoder.SetIndent("", "  ")
		return encoder.Encode(entries)
	}
	for _, e := range entries {
		printAcuity(out.Stdout, e)
	}
	_, err = fmt.Fprintln(out.Stdout, caution.Short())
	return err
}

func (c acuityCommand) options() (acuity.Options, error) {
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

// printAcuity writes one value in a few lines, empty ones left out.
func printAcuity(w io.Writer, e acuity.Entry) {
	line := func(name, value string) {
		if value != "" {
			fmt.Fprintf(w, "  %-14s %s\n", name, value)
		}
	}
	fmt.Fprintf(w, "%q\n", e.Raw)
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
		name := ""
		if i == 0 {
			name = "may be"
		}
		reading := r.As
		if r.LogMAR != nil {
			reading += fmt.Sprintf(", logMAR %.3f (%s)", *r.LogMAR, r.Scheme)
		}
		line(name, reading)
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
