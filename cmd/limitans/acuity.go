package main

import (
	"strings"

	"limitans/fault"
	"limitans/internal/bench"
)

// acuityCommand reads acuity texts, each by itself: a number without a unit
// stays a question unless the caller says what such numbers mean.
//
// Texts pass through the flag parser untouched once the first is reached. A
// first text such as "-0.1" would still be taken for a flag and refused;
// acuityArguments puts a "--" in front of it.
type acuityCommand struct {
	jsonFlag
	bench.Acuity
	Text []string `arg:"" passthrough:"partial" help:"Acuity as written, one argument each, flags before them."`
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
	texts := c.Text
	if len(texts) > 1 && texts[0] == "--" {
		texts = texts[1:]
	}
	q := c.Acuity
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
		q.Texts = append(q.Texts, text)
	}
	return out.answer(q, c.JSON, figureFlag{})
}
