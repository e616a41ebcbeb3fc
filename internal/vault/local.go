package vault

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"limitans/fault"
)

const (
	folderMode  = 0o700 // nobody but the owner
	fileMode    = 0o600
	contentMode = 0o400 // content never changes
)

// local is a backend in a folder. What it writes goes to a file below uploads/
// first, is flushed to the disk, then renamed, then the folder is flushed.
type local struct {
	root string
	// write puts bytes into a file and flush brings a file or a folder to the
	// disk; tests put a full disk in the place of the first, count the second, or
	// do without it, for it is slow.
	write func(f *os.File, p []byte, offset int64) (int, error)
	flush func(f *os.File) error
}

func newLocal(root string) *local {
	return &local{
		root:  root,
		write: func(f *os.File, p []byte, offset int64) (int, error) { return f.WriteAt(p, offset) },
		flush: (*os.File).Sync,
	}
}

// newFile ends the name of a file that is being written.
const newFile = ".new"

// newID returns 32 random hexadecimal digits.
func newID() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails; it ends the program where there is no randomness
	return hex.EncodeToString(b[:])
}

func (l *local) where(name string) string { return filepath.Join(l.root, filepath.FromSlash(name)) }

// uploadFolder, uploadData: an unfinished upload.
func uploadFolder(id string) string { return "uploads/" + id }
func uploadData(id string) string   { return "uploads/" + id + "/data" }

func (l *local) get(ctx context.Context, name string, limit int64) ([]byte, error) {
	b, err := l.open(ctx, name)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	if b.Size() > limit {
		return nil, &fault.Error{Code: fault.TooLarge, Where: l.where(name), What: "it is longer than any of its kind"}
	}
	data := make([]byte, b.Size())
	if err := b.ReadAt(ctx, data, 0); err != nil {
		return nil, err
	}
	return data, nil
}

func (l *local) put(ctx context.Context, name string, data []byte) error {
	return l.publish(ctx, name, data, fileMode)
}

func (l *local) store(ctx context.Context, _, name string, data []byte) (string, error) {
	location := contentPath(name)
	return location, l.publish(ctx, location, data, contentMode)
}

// contentPath and manifestPath spread the names over 256 folders.
func contentPath(name string) string  { return "content/" + name[:2] + "/" + name }
func manifestPath(name string) string { return "manifest/" + name[:2] + "/" + name }

// publish makes a whole file appear under its name, durably.
func (l *local) publish(ctx context.Context, name string, data []byte, mode fs.FileMode) error {
	if err := ctx.Err(); err != nil {
		return stopped(l.where(name), err)
	}
	if err := l.makeFolder("uploads"); err != nil {
		return err
	}
	temporary := l.where("uploads/" + newID() + newFile)
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, fileMode)
	if err != nil {
		return writeFault(l.where(name), err)
	}
	_, err = l.write(f, data, 0)
	if err == nil {
		err = f.Chmod(mode)
	}
	if err == nil {
		err = l.flush(f)
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = l.rename(temporary, name)
	}
	if err != nil {
		_ = os.Remove(temporary)
		return writeFault(l.where(name), err)
	}
	return nil
}

// rename moves a flushed file to its name. The folder of the name is made and
// flushed, so that the name survives a power cut.
func (l *local) rename(temporary, name string) error {
	if err := l.makeFolder(name[:strings.LastIndexByte(name, '/')+1]); err != nil {
		return err
	}
	target := l.where(name)
	if runtime.GOOS == "windows" {
		_ = os.Chmod(target, fileMode) // a read-only file cannot be replaced there
	}
	if err := os.Rename(temporary, target); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(target), l.flush)
}

// makeFolder makes a folder below the root, each new level flushed into its
// parent.
func (l *local) makeFolder(name string) error {
	var missing []string
	at := l.where(strings.TrimSuffix(name, "/"))
	for {
		info, err := os.Stat(at)
		if err == nil && info.IsDir() {
			break
		}
		if err == nil {
			return &fault.Error{Code: fault.Conflict, Where: at, What: "a file is where the vault needs a folder", Mend: "move it away"}
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return writeFault(at, err)
		}
		missing = append(missing, at)
		if filepath.Dir(at) == at {
			break
		}
		at = filepath.Dir(at)
	}
	for i := len(missing) - 1; i >= 0; i-- {
		if err := os.Mkdir(missing[i], folderMode); err != nil && !errors.Is(err, fs.ErrExist) {
			return writeFault(missing[i], err)
		}
		if err := syncFolder(filepath.Dir(missing[i]), l.flush); err != nil {
			return writeFault(missing[i], err)
		}
	}
	return nil
}

// syncFolder flushes a folder's names. Windows has no such call: there the file
// system's own journal orders them.
func syncFolder(path string, flush func(*os.File) error) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(flush(d), d.Close())
}

// localBlob is an open file.
type localBlob struct {
	f    *os.File
	size int64
}

func (l *local) open(ctx context.Context, name string) (blob, error) {
	where := l.where(name)
	if err := ctx.Err(); err != nil {
		return nil, stopped(where, err)
	}
	f, err := os.Open(where)
	if err != nil {
		return nil, readFault(where, err)
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("not a regular file")
	}
	if err != nil {
		_ = f.Close()
		return nil, readFault(where, err)
	}
	return &localBlob{f, info.Size()}, nil
}

func (b *localBlob) Size() int64  { return b.size }
func (b *localBlob) Close() error { return b.f.Close() }

func (b *localBlob) ReadAt(ctx context.Context, p []byte, offset int64) error {
	if err := ctx.Err(); err != nil {
		return stopped(b.f.Name(), err)
	}
	n, err := b.f.ReadAt(p, offset)
	if n == len(p) {
		return nil
	}
	if err == io.EOF {
		return &fault.Error{Code: fault.Malformed, Where: b.f.Name(), What: "it is cut short", Expected: "it as it was written", Cause: io.ErrUnexpectedEOF}
	}
	if errors.Is(err, syscall.EIO) {
		return &fault.Error{
			Code: fault.Malformed, Where: b.f.Name(), What: "the disk cannot read it any more (" + plainCause(err) + ")",
			Expected: "it as it was written", Mend: "bring it back from a backup and replace the disk", Cause: err,
		}
	}
	return readFault(b.f.Name(), err)
}

func (l *local) list(ctx context.Context, prefix string, each func(name string, size int64) error) error {
	err := filepath.WalkDir(l.root, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // nothing yet, or an upload that ended meanwhile
			}
			return readFault(path, err)
		}
		if err := ctx.Err(); err != nil {
			return stopped(path, err)
		}
		relative, err := filepath.Rel(l.root, path)
		if err != nil {
			return readFault(path, err)
		}
		name := filepath.ToSlash(relative)
		if entry.IsDir() {
			if name != "." && !strings.HasPrefix(name+"/", prefix) && !strings.HasPrefix(prefix, name+"/") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasPrefix(name, prefix) {
			return nil
		}
		info, err := entry.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return readFault(path, err)
		}
		return each(name, info.Size())
	})
	return err
}

// unfinished: a folder below uploads/ is an upload in parts, a file there is a
// publish that was cut off.
func (l *local) unfinished(ctx context.Context, each func(id string, changed time.Time) error) error {
	entries, err := os.ReadDir(l.where("uploads"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return readFault(l.where("uploads"), err)
	}
	for _, entry := range entries {
		if err := ctx.Err(); err != nil {
			return stopped(l.where("uploads"), err)
		}
		changed, err := lastChange(l.where(uploadFolder(entry.Name())))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return readFault(l.where(uploadFolder(entry.Name())), err)
		}
		if err := each(entry.Name(), changed); err != nil {
			return err
		}
	}
	return nil
}

// lastChange is the newest time of a file, or of a folder and its files.
func lastChange(path string) (time.Time, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return time.Time{}, err
	}
	newest := info.ModTime()
	if info.IsDir() {
		entries, err := os.ReadDir(path)
		if err != nil {
			return time.Time{}, err
		}
		for _, entry := range entries {
			if info, err := entry.Info(); err == nil && info.ModTime().After(newest) {
				newest = info.ModTime()
			}
		}
	}
	return newest, nil
}
