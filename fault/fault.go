package fault

import (
	"errors"
	"strings"
)

// Code tells programs what kind of fault happened.
type Code string

// The codes. Adding one means deciding what the command line and the pages do
// with it.
const (
	// Invalid: the caller asked for something impossible (wrong flag, value out of range).
	Invalid Code = "invalid"
	// Malformed: the input breaks the rules of its own format.
	Malformed Code = "malformed"
	// Unsupported: the input is valid, but this program does not handle it.
	Unsupported Code = "unsupported"
	// NotFound: a thing that was named does not exist.
	NotFound Code = "not_found"
	// TooLarge: the input announces more than this program will take into memory.
	TooLarge Code = "too_large"
	// NotMeasurable: the input was read, but the asked figure cannot be measured from it.
	NotMeasurable Code = "not_measurable"
	// Conflict: two sources disagree and a person must decide.
	Conflict Code = "conflict"
	// NoSpace: the disk or store that is written to is full; what stood before stands.
	NoSpace Code = "no_space"
	// Internal: everything else; a defect of this program or its machine.
	Internal Code = "internal"
)

// Error is a fault. What is required; the other parts are added to the
// sentence when they are not empty.
type Error struct {
	Code     Code
	Where    string // file, attribute, flag or place in them
	What     string // what is wrong
	Expected string // what would have been right
	Mend     string // what the reader can do
	Cause    error  // the error underneath, if any
}

// Error returns one line: "where: what; expected …; mend".
func (e *Error) Error() string {
	var b strings.Builder
	if e.Where != "" {
		b.WriteString(e.Where)
		b.WriteString(": ")
	}
	b.WriteString(e.What)
	if e.Expected != "" {
		b.WriteString("; expected ")
		b.WriteString(e.Expected)
	}
	if e.Mend != "" {
		b.WriteString("; ")
		b.WriteString(e.Mend)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// Unwrap returns the error underneath.
func (e *Error) Unwrap() error { return e.Cause }

// CodeOf returns the code of the outermost fault in err's chain, Internal for
// any other error and the empty code for nil.
func CodeOf(err error) Code {
	if err == nil {
		return ""
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return Internal
}
