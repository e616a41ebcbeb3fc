package account

import (
	"errors"
	"fmt"
	"time"

	"limitans/fault"
)

// The reasons for which someone is not let in or may not do something. Every
// error of this package that has one of them carries it as its cause, so that
// callers ask with errors.Is.
var (
	// ErrRefused: name, passphrase or code is not right. Which of them is told to
	// nobody but the history.
	ErrRefused = errors.New("not let in")
	// ErrBlocked: too many attempts failed; see BlockedUntil.
	ErrBlocked = errors.New("too many failed attempts")
	// ErrSecondFactor: the passphrase is right and a code is needed too.
	ErrSecondFactor = errors.New("second factor needed")
	// ErrForbidden: the account's roles do not allow the act.
	ErrForbidden = errors.New("not allowed")
	// ErrMode: the store is a demonstration and the act belongs to a real one, or
	// the other way round.
	ErrMode = errors.New("wrong kind of store")
)

func refused() error {
	return &fault.Error{
		Code: fault.Invalid, Where: "log-in", What: "name, passphrase or code is not right",
		Mend: "try again, or ask an administrator for a one-time code", Cause: ErrRefused,
	}
}

func secondFactorNeeded() error {
	return &fault.Error{
		Code: fault.Invalid, Where: "log-in", What: "this account has a second factor", Expected: "its code too", Cause: ErrSecondFactor,
	}
}

func forbidden(act Act) error {
	return &fault.Error{
		Code: fault.Invalid, Where: string(act), What: "the roles of this account do not allow it",
		Mend: "ask an administrator", Cause: ErrForbidden,
	}
}

// blocked is the cause of a refusal for too many failures.
type blocked struct{ until time.Time }

func (b blocked) Error() string { return ErrBlocked.Error() }
func (b blocked) Unwrap() error { return ErrBlocked }

func blockedUntil(until, now time.Time) error {
	wait := until.Sub(now).Round(time.Second)
	return &fault.Error{
		Code: fault.Invalid, Where: "log-in", What: "too many attempts failed",
		Mend: fmt.Sprintf("try again in %s, or ask an administrator", wait), Cause: blocked{until},
	}
}

// BlockedUntil gives the moment from which the next attempt is looked at, if
// err is a refusal for too many failures.
func BlockedUntil(err error) (time.Time, bool) {
	var b blocked
	if errors.As(err, &b) {
		return b.until, true
	}
	return time.Time{}, false
}
