//go:build unix

package vault

import (
	"errors"
	"os"
	"syscall"
)

// errLocked: somebody else holds the lock.
var errLocked = errors.New("locked")

// lockFile holds an advisory lock (flock) until release is called or the
// process ends.
func lockFile(path string) (release func(), err error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, fileMode)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, errLocked
		}
		return nil, err
	}
	return func() { _ = f.Close() }, nil
}
