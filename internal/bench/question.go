package bench

import (
	"limitans/fault"
	"limitans/internal/figure/scene"
)

// Question is one calculator with what was asked.
type Question interface {
	// Answer computes. Faults of code Invalid name the flag that they are about.
	Answer() (Answer, error)
}

// Answer is what a calculator says.
type Answer struct {
	Sheet *Sheet
	// Document is the same for programs, with stable keys, ready for JSON.
	Document any
	// Stopped says in one line what stands against acting on the answer; empty
	// where nothing does.
	Stopped string
	// Draw makes the picture; nil where there is none.
	Draw func() (*scene.Scene, error)
}

// atFlag makes a flag the place of a fault.
func atFlag(err error, flag string) error {
	if f, ok := err.(*fault.Error); ok {
		named := *f
		named.Where = flag
		return &named
	}
	return err
}

// wrongAt makes a flag the place of a fault, and what has two readings a wrong
// use of it.
func wrongAt(err error, flag string) error {
	if f, ok := err.(*fault.Error); ok {
		named := *f
		named.Code, named.Where = fault.Invalid, flag
		return &named
	}
	return err
}

// atFlagOf names the flag behind a fault of the sciences by its place there.
func atFlagOf(err error, flags map[string]string) error {
	if f, ok := err.(*fault.Error); ok {
		if flag, is := flags[f.Where]; is {
			return atFlag(err, flag)
		}
	}
	return err
}
