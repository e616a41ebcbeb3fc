package scan

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"limitans/fault"
)

// entry is one file of a folder or zip, not yet in memory.
type entry struct {
	name string // path inside the folder or zip, with slashes; for words only
	size int64
	open func() (io.ReadCloser, error)
	kind kind
	head []byte
}

// bundle is what a path holds: one file, or the files of a folder or zip.
type bundle struct {
	name    string // the path's last part
	wrapper string // "", "folder of" or "zip of"
	entries []entry
	notes   []string
	close   func() error
}

// read takes the file into memory, no more than the limit.
func (e *entry) read(limit int64) ([]byte, error) {
	if e.size > limit {
		return nil, tooManyBytes(e.name, limit)
	}
	r, err := e.open()
	if err != nil {
		return nil, openFault(e.name, err)
	}
	defer r.Close()
	data, err := readPieces(io.LimitReader(r, limit+1), e.size)
	if err != nil {
		return nil, openFault(e.name, err)
	}
	if int64(len(data)) > limit {
		return nil, tooManyBytes(e.name, limit)
	}
	return data, nil
}

// look reads the head of the file and decides its kind.
func (e *entry) look() error {
	r, err := e.open()
	if err != nil {
		return openFault(e.name, err)
	}
	defer r.Close()
	head := make([]byte, headBytes)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return openFault(e.name, err)
	}
	// An archive that breaks off inside an entry reports the same error as a
	// short file; the sizes tell them apart.
	if int64(n) < min(e.size, headBytes) {
		return &fault.Error{Code: fault.Malformed, Where: clean(e.name), What: "the file ends too early", Expected: "a complete file"}
	}
	e.head = head[:n]
	e.kind = kindOf(e.head)
	return nil
}

func tooManyBytes(name string, limit int64) error {
	return &fault.Error{
		Code: fault.TooLarge, Where: clean(name), What: "the file is larger than this program takes",
		Expected: fmt.Sprintf("at most %d MiB", limit>>20),
	}
}

func openFault(name string, err error) error {
	switch {
	case errors.Is(err, zip.ErrAlgorithm):
		return &fault.Error{
			Code: fault.Unsupported, Where: clean(name), What: "is packed with a method this program does not unpack",
			Mend: "pack it again with the usual Deflate", Cause: err,
		}
	case errors.Is(err, zip.ErrChecksum), errors.Is(err, zip.ErrFormat), strings.HasPrefix(err.Error(), "flate:"):
		return &fault.Error{Code: fault.Malformed, Where: clean(name), What: "is damaged inside the zip", Expected: "a complete zip", Cause: err}
	}
	return readFault(name, err)
}

// gather lists what a path holds.
func gather(ctx context.Context, p string, limits Limits) (*bundle, error) {
	info, err := os.Stat(p)
	if err != nil {
		return nil, readFault(p, err)
	}
	switch {
	case info.IsDir():
		return gatherFolder(ctx, p, limits)
	case !info.Mode().IsRegular():
		// Opening a pipe could wait for ever.
		return nil, &fault.Error{Code: fault.Unsupported, Where: clean(p), What: "is neither a file nor a folder"}
	}
	one := fileEntry(p, filepath.Base(p), info.Size())
	if one.size > limits.FileBytes {
		return nil, tooManyBytes(p, limits.FileBytes)
	}
	if err := one.look(); err != nil {
		return nil, err
	}
	if one.kind == kindZip {
		return gatherZip(p, info.Size(), limits)
	}
	return &bundle{name: filepath.Base(p), entries: []entry{one}}, nil
}

func fileEntry(p, name string, size int64) entry {
	return entry{name: name, size: size, open: func() (io.ReadCloser, error) { return os.Open(p) }}
}

// gatherFolder lists a folder and the folders in it. Links to folders are not
// followed, so a link that leads back up cannot trap the walk.
func gatherFolder(ctx context.Context, root string, limits Limits) (*bundle, error) {
	b := &bundle{name: filepath.Base(filepath.Clean(root)), wrapper: "folder of "}
	seen, total := 0, int64(0)
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			return readFault(p, err)
		}
		if p == root {
			return nil
		}
		if seen++; seen > limits.Entries {
			return tooManyEntries(root, limits)
		}
		relative, err := filepath.Rel(root, p)
		if err != nil {
			return readFault(p, err)
		}
		name := filepath.ToSlash(relative)
		if hidden(name) {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			return nil
		}
		info, err := os.Stat(p)
		if err != nil {
			b.notes = append(b.notes, fmt.Sprintf("%s was passed over: it is a link that leads nowhere", clean(name)))
			return nil
		}
		if !info.Mode().IsRegular() {
			b.notes = append(b.notes, fmt.Sprintf("%s was passed over: it is a link to a folder or not a file", clean(name)))
			return nil
		}
		if total += info.Size(); total > limits.TotalBytes {
			return tooManyBytes(root, limits.TotalBytes)
		}
		e := fileEntry(p, name, info.Size())
		if err := e.look(); err != nil {
			return err
		}
		b.entries = append(b.entries, e)
		return nil
	})
	if err != nil {
		return nil, err
	}
	b.sort()
	return b, nil
}

func (b *bundle) sort() {
	sort.Slice(b.entries, func(i, j int) bool { return naturalLess(b.entries[i].name, b.entries[j].name) })
}

func tooManyEntries(name string, limits Limits) error {
	return &fault.Error{
		Code: fault.TooLarge, Where: clean(name), What: "holds more files than this program takes",
		Expected: fmt.Sprintf("at most %d", limits.Entries),
	}
}

// hidden reports names that operating systems leave behind.
func hidden(name string) bool {
	for _, part := range strings.Split(name, "/") {
		if (strings.HasPrefix(part, ".") && part != "..") || part == "__MACOSX" {
			return true
		}
	}
	switch strings.ToLower(path.Base(name)) {
	case "thumbs.db", "desktop.ini":
		return true
	}
	return false
}

func gatherZip(p string, size int64, limits Limits) (*bundle, error) {
	file, err := os.Open(p)
	if err != nil {
		return nil, readFault(p, err)
	}
	b, err := listZip(filepath.Base(p), file, size, limits)
	if err != nil {
		_ = file.Close()
		return nil, err
	}
	b.close = file.Close
	return b, nil
}

// readPieces reads to the end in pieces and joins them once: the announced size
// may lie, and not much more than twice the real bytes are taken.
func readPieces(r io.Reader, announced int64) ([]byte, error) {
	pieceBytes := min(max(announced, 0)+1, 1<<20)
	var pieces [][]byte
	for {
		piece := make([]byte, pieceBytes)
		n, err := io.ReadFull(r, piece)
		pieces = append(pieces, piece[:n])
		switch {
		case err == io.EOF || err == io.ErrUnexpectedEOF:
			return slices.Concat(pieces...), nil
		case err != nil:
			return nil, err
		}
	}
}
