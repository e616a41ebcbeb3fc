package scan

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"

	"limitans/fault"
)

// maxZipDirectoryBytes bounds the table of contents: a record of it takes 46
// bytes and a name, and some ten times that in memory.
const maxZipDirectoryBytes = 4 << 20

// listZip lists the files of a zip. Names in it are words for messages and for
// order only; nothing is ever written under them.
func listZip(name string, r io.ReaderAt, size int64, limits Limits) (*bundle, error) {
	if err := checkZipDirectory(name, r, size); err != nil {
		return nil, err
	}
	archive, err := zip.NewReader(r, size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return nil, &fault.Error{Code: fault.Malformed, Where: clean(name), What: "the zip is damaged or cut short", Expected: "a complete zip", Cause: err}
	}
	if len(archive.File) > limits.Entries {
		return nil, tooManyEntries(name, limits)
	}
	b := &bundle{name: name, wrapper: "zip of "}
	total := int64(0)
	for _, f := range archive.File {
		inside := strings.TrimLeft(strings.ReplaceAll(f.Name, `\`, "/"), "/")
		if strings.HasSuffix(inside, "/") || hidden(inside) {
			continue
		}
		if f.Flags&1 != 0 {
			return nil, &fault.Error{Code: fault.Unsupported, Where: place(name, clean(inside)), What: "the zip is encrypted", Mend: "unpack it first and open the folder"}
		}
		if f.UncompressedSize64 > uint64(limits.FileBytes) {
			return nil, tooManyBytes(place(name, inside), limits.FileBytes)
		}
		e := entry{name: inside, size: int64(f.UncompressedSize64), open: f.Open}
		if total += e.size; total > limits.TotalBytes {
			return nil, tooManyBytes(name, limits.TotalBytes)
		}
		// Deflate cannot do better than its bound, so such an entry lies or is
		// made to fill memory.
		if e.size/1033 > int64(f.CompressedSize64)+1 {
			return nil, &fault.Error{
				Code: fault.Malformed, Where: place(name, inside),
				What: fmt.Sprintf("announces %d bytes from %d packed ones", e.size, f.CompressedSize64), Expected: "an honest zip",
			}
		}
		if err := e.look(); err != nil {
			return nil, err
		}
		if e.kind == kindZip {
			return nil, &fault.Error{Code: fault.Unsupported, Where: place(name, inside), What: "is a zip inside a zip", Mend: "unpack the outer one first"}
		}
		b.entries = append(b.entries, e)
	}
	b.sort()
	for i := 1; i < len(b.entries); i++ {
		if b.entries[i].name == b.entries[i-1].name {
			return nil, &fault.Error{
				Code: fault.Malformed, Where: place(name, b.entries[i].name), What: "stands twice in the zip",
				Expected: "each name once",
			}
		}
	}
	return b, nil
}

// checkZipDirectory finds the end record (APPNOTE 4.3.16) and bounds the table
// of contents before the library reads it.
func checkZipDirectory(name string, r io.ReaderAt, size int64) error {
	const endBytes = 22
	tail := make([]byte, min(size, endBytes+1<<16))
	if _, err := r.ReadAt(tail, size-int64(len(tail))); err != nil && !errors.Is(err, io.EOF) {
		return readFault(name, err)
	}
	at := bytes.LastIndex(tail, []byte("PK\x05\x06"))
	if at < 0 || len(tail)-at < endBytes {
		return &fault.Error{Code: fault.Malformed, Where: clean(name), What: "the zip has no end record", Expected: "a complete zip, not one cut short"}
	}
	end := tail[at:]
	count, bytesLong := binary.LittleEndian.Uint16(end[10:]), binary.LittleEndian.Uint32(end[12:])
	start := binary.LittleEndian.Uint32(end[16:])
	room := size - int64(len(tail)) + int64(at) - int64(start)
	if count == 0xffff || bytesLong > maxZipDirectoryBytes || room > maxZipDirectoryBytes {
		return &fault.Error{
			Code: fault.TooLarge, Where: clean(name), What: "the table of contents of the zip is larger than this program takes",
			Mend: "unpack it and open the folder",
		}
	}
	return nil
}
