package vault

import (
	"context"
	"errors"
	"io/fs"
	"runtime"
	"syscall"

	"limitans/fault"
)

// diskIsFull says whether an error means that there is no room: the disk's,
// the quota's, or ERROR_DISK_FULL of Windows.
func diskIsFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) ||
		runtime.GOOS == "windows" && errors.Is(err, syscall.Errno(112))
}

// writeFault words an error of writing; a fault is passed on.
func writeFault(where string, err error) error {
	var f *fault.Error
	switch {
	case errors.As(err, &f):
		return err
	case diskIsFull(err):
		return &fault.Error{
			Code: fault.NoSpace, Where: where, What: "the disk is full; nothing that was stored is changed",
			Mend: "make room and try again", Cause: err,
		}
	case errors.Is(err, fs.ErrPermission):
		return &fault.Error{
			Code: fault.Invalid, Where: where, What: "it cannot be written: no permission",
			Mend: "give this program's account the right to write there", Cause: err,
		}
	}
	return &fault.Error{Code: fault.Internal, Where: where, What: "it cannot be written (" + plainCause(err) + ")", Cause: err}
}

// readFault words an error of reading; a fault is passed on.
func readFault(where string, err error) error {
	var f *fault.Error
	switch {
	case errors.As(err, &f):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return &fault.Error{Code: fault.NotFound, Where: where, What: "it is not there", Cause: err}
	case errors.Is(err, fs.ErrPermission):
		return &fault.Error{
			Code: fault.Invalid, Where: where, What: "it cannot be read: no permission",
			Mend: "give this program's account the right to read it", Cause: err,
		}
	}
	return &fault.Error{Code: fault.Internal, Where: where, What: "it cannot be read (" + plainCause(err) + ")", Cause: err}
}

// plainCause is the system's reason without the path that the fault names.
func plainCause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// stopped is the fault of a cancelled context; errors.Is finds the cause.
func stopped(where string, err error) error {
	what := "it was cancelled"
	if errors.Is(err, context.DeadlineExceeded) {
		what = "it took longer than it was given"
	}
	return &fault.Error{Code: fault.Internal, Where: where, What: what, Cause: err}
}

// isStopped says whether an error comes from a cancelled context.
func isStopped(err error) bool {
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// isCode says whether the outermost fault of err has the code.
func isCode(err error, code fault.Code) bool { return err != nil && fault.CodeOf(err) == code }
