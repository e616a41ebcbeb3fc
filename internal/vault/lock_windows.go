package vault

import (
	"errors"
	"syscall"
)

// errLocked: somebody else holds the lock.
var errLocked = errors.New("locked")

// sharingViolation is ERROR_SHARING_VIOLATION.
const sharingViolation = syscall.Errno(32)

// lockFile opens the file so that nobody else can, until release is called or
// the process ends.
func lockFile(path string) (release func(), err error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, err
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil,
		syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if errors.Is(err, sharingViolation) {
		return nil, errLocked
	}
	if err != nil {
		return nil, err
	}
	return func() { _ = syscall.CloseHandle(h) }, nil
}
