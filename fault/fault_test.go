package fault_test

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"limitans/fault"
)

// Every code with its word in machine-read output. Source: the package's own
// contract; a changed word breaks programs that read the output.
func TestCodesAreStable(t *testing.T) {
	for code, word := range map[fault.Code]string{
		fault.Invalid: "invalid", fault.Malformed: "malformed", fault.Unsupported: "unsupported",
		fault.NotFound: "not_found", fault.TooLarge: "too_large", fault.NotMeasurable: "not_measurable",
		fault.Conflict: "conflict", fault.Internal: "internal",
	} {
		if string(code) != word {
			t.Errorf("code %q, want %q", code, word)
		}
		if got := fault.CodeOf(&fault.Error{Code: code, What: "x"}); got != code {
			t.Errorf("CodeOf returns %q for %q", got, code)
		}
	}
}

func TestErrorIsOneSentence(t *testing.T) {
	for _, test := range []struct {
		name string
		in   fault.Error
		want string
	}{
		{"what only", fault.Error{What: "it is broken"}, "it is broken"},
		{"where", fault.Error{Where: "a.tif", What: "it is broken"}, "a.tif: it is broken"},
		{"expected", fault.Error{What: "3 bits", Expected: "8 bits"}, "3 bits; expected 8 bits"},
		{"mend", fault.Error{What: "no scale", Mend: "give the scale"}, "no scale; give the scale"},
		{"all", fault.Error{Where: "a", What: "b", Expected: "c", Mend: "d"}, "a: b; expected c; d"},
		{"line breaks of a hostile name", fault.Error{Where: "a\nb\tc", What: "x\r\n y"}, "a b c: x y"},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := test.in.Error()
			if got != test.want {
				t.Errorf("%q, want %q", got, test.want)
			}
			if strings.ContainsAny(got, "\r\n\t") {
				t.Errorf("%q is more than one line", got)
			}
		})
	}
}

func TestCodeOf(t *testing.T) {
	inner := &fault.Error{Code: fault.Malformed, What: "inner", Cause: io.ErrUnexpectedEOF}
	outer := &fault.Error{Code: fault.TooLarge, What: "outer", Cause: inner}
	for _, test := range []struct {
		name string
		err  error
		want fault.Code
	}{
		{"nil", nil, ""},
		{"not a fault", io.EOF, fault.Internal},
		{"fault", inner, fault.Malformed},
		{"the outermost wins", outer, fault.TooLarge},
		{"wrapped", fmt.Errorf("while reading: %w", inner), fault.Malformed},
		{"joined", errors.Join(io.EOF, inner), fault.Malformed},
	} {
		if got := fault.CodeOf(test.err); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
	if !errors.Is(outer, io.ErrUnexpectedEOF) {
		t.Error("the cause cannot be found through two faults")
	}
}
