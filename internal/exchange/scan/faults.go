package scan

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"syscall"
	"unicode"

	"limitans/fault"
)

// clean makes a name that came from a file safe to print in one line.
func clean(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '·'
	}, strings.ToValidUTF8(name, "·"))
	if r := []rune(name); len(r) > 200 {
		name = string(r[:80]) + "…" + string(r[len(r)-80:])
	}
	return name
}

// place joins a file and a place in it.
func place(name, where string) string {
	name, where = clean(name), clean(where)
	switch {
	case where == "":
		return name
	case name == "":
		return where
	}
	return name + ", " + where
}

// readFault says in words why a path or file could not be read.
func readFault(name string, err error) error {
	e := &fault.Error{Code: fault.Invalid, Where: clean(name), What: "cannot be read", Cause: err}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e.Code, e.What = fault.NotFound, "there is no such file or folder"
	case errors.Is(err, fs.ErrPermission):
		e.What, e.Mend = "this program has no permission to read it", "check the permissions"
	case errors.Is(err, syscall.ELOOP):
		e.What = "the links lead round in a circle"
	case errors.Is(err, syscall.ENOTDIR):
		e.Code, e.What = fault.NotFound, "a part of the path is a file, not a folder"
	case errors.Is(err, syscall.ENAMETOOLONG):
		e.What = "the name is too long"
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		e.Code, e.What, e.Expected = fault.Malformed, "the file ends too early", "a complete file"
	default:
		e.What = fmt.Sprintf("cannot be read (%s)", clean(err.Error()))
	}
	return e
}

// colourTolerance is the largest difference between two colour channels, in
// steps of 8 bits, at which a picture still counts as grey. A grey picture
// that went through the colour coding of JPEG differs by rounding alone: one
// step in each chroma, times at most 1.772 (ITU-T T.871), and once more when it
// was decoded and coded again. Derived, with a small reserve.
const colourTolerance = 6

const noteNearlyGrey = "the colour channels differ by rounding only; the picture was read as grey"

func colourFault(where string) error {
	return &fault.Error{
		Code: fault.Unsupported, Where: where,
		What: "looks like a colour screenshot", Expected: "a picture in grey", Mend: "crop and export the B-scan in grey",
	}
}
