package vault

import (
	"context"
	"errors"
	"io/fs"
	"os"

	"limitans/fault"
)

func (l *local) begin(_ context.Context, id string) (string, func(), error) {
	if err := l.makeFolder(uploadFolder(id)); err != nil {
		return "", nil, err
	}
	release, err := l.hold(id)
	if err != nil {
		return "", nil, err
	}
	f, err := os.OpenFile(l.where(uploadData(id)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, fileMode)
	if err == nil {
		err = errors.Join(f.Close(), syncFolder(l.where(uploadFolder(id)), l.flush))
	}
	if err != nil {
		release()
		return "", nil, writeFault(l.where(uploadData(id)), err)
	}
	return "", release, nil
}

func (l *local) resume(_ context.Context, id string) (func(), error) {
	if _, err := os.Stat(l.where(uploadFolder(id))); err != nil {
		return nil, readFault(l.where(uploadFolder(id)), err)
	}
	return l.hold(id)
}

// hold takes the lock of an upload; the system gives it back when the process
// ends, however it ends.
func (l *local) hold(id string) (func(), error) {
	where := l.where(uploadFolder(id) + "/lock")
	release, err := lockFile(where)
	if errors.Is(err, errLocked) {
		return nil, &fault.Error{
			Code: fault.Conflict, Where: l.where(uploadFolder(id)), What: "this upload is going on somewhere else",
			Mend: "wait for it, or stop it there", Cause: err,
		}
	}
	if err != nil {
		return nil, writeFault(where, err)
	}
	return release, nil
}

func (l *local) putPart(ctx context.Context, id, _ string, p part, data []byte) (string, error) {
	where := l.where(uploadData(id))
	if err := ctx.Err(); err != nil {
		return "", stopped(where, err)
	}
	f, err := os.OpenFile(where, os.O_WRONLY, 0) // not created: it was begun
	if err != nil {
		return "", writeFault(where, err)
	}
	// What an earlier, broken try left behind this part's beginning goes.
	err = f.Truncate(p.offset)
	if err == nil {
		_, err = l.write(f, data, p.offset)
	}
	if err == nil {
		err = l.flush(f)
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return "", writeFault(where, err)
	}
	return "", nil
}

func (l *local) checkParts(_ context.Context, id, _ string, parts []part) error {
	info, err := os.Stat(l.where(uploadData(id)))
	if err != nil {
		return readFault(l.where(uploadData(id)), err)
	}
	if info.Size() < endOf(parts) {
		return malformed(l.where(uploadData(id)), "the unfinished upload is shorter than its state says")
	}
	return nil
}

// endOf is where the next part begins.
func endOf(parts []part) int64 {
	if len(parts) == 0 {
		return 0
	}
	last := parts[len(parts)-1]
	return last.offset + last.length
}

func (l *local) openParts(ctx context.Context, id string) (blob, error) {
	return l.open(ctx, uploadData(id))
}

func (l *local) commit(ctx context.Context, id, _, name string, parts []part) (string, error) {
	location := contentPath(name)
	where := l.where(uploadData(id))
	if err := ctx.Err(); err != nil {
		return "", stopped(where, err)
	}
	f, err := os.OpenFile(where, os.O_WRONLY, 0)
	if errors.Is(err, fs.ErrNotExist) {
		// It was moved before a crash; then it lies there whole.
		if info, err := os.Stat(l.where(location)); err == nil && info.Size() == endOf(parts) {
			return location, nil
		}
	}
	if err != nil {
		return "", writeFault(where, err)
	}
	err = f.Truncate(endOf(parts))
	if err == nil {
		err = f.Chmod(contentMode)
	}
	if err == nil {
		err = l.flush(f)
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = l.rename(where, location)
	}
	if err != nil {
		return "", writeFault(l.where(location), err)
	}
	return location, nil
}

func (l *local) discard(_ context.Context, id string) error {
	where := l.where(uploadFolder(id))
	if err := os.RemoveAll(where); err != nil {
		return &fault.Error{Code: fault.Internal, Where: where, What: "an unfinished upload cannot be removed", Cause: err}
	}
	return nil
}
