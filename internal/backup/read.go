package backup

import (
	"archive/tar"
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"strings"

	"filippo.io/age"

	"limitans/fault"
)

// reader goes through a backup once and keeps account of what it saw.
type reader struct {
	path      string
	file      *os.File
	tar       *tar.Reader
	encrypted bool
	seen      []member
}

// ageMagic begins every encrypted file (age-encryption.org/v1).
const ageMagic = "age-encryption.org/v1"

// open opens a backup; keys are the texts of age secret keys or of whole key files.
func open(path string, keys []string) (*reader, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &fault.Error{Code: fault.NotFound, Where: path, What: "cannot be opened", Expected: "a backup", Cause: err}
	}
	buffered := bufio.NewReaderSize(file, 1<<16)
	r := &reader{path: path, file: file}
	begin, _ := buffered.Peek(len(ageMagic)) // a shorter file is no backup; the tar reader says so
	if string(begin) != ageMagic {
		r.tar = tar.NewReader(buffered)
		return r, nil
	}
	r.encrypted = true
	plain, err := decrypt(path, buffered, keys)
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	r.tar = tar.NewReader(plain)
	return r, nil
}

func decrypt(path string, in io.Reader, keys []string) (io.Reader, error) {
	var identities []age.Identity
	for _, text := range keys {
		found, err := age.ParseIdentities(strings.NewReader(text))
		if err != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: "secret key", What: "cannot be read", Expected: "an age key file, whose line begins with AGE-SECRET-KEY-1"}
		}
		identities = append(identities, found...)
	}
	if len(identities) == 0 {
		return nil, &fault.Error{Code: fault.Invalid, Where: path, What: "the backup is encrypted", Mend: "give the secret key that belongs to its public key"}
	}
	plain, err := age.Decrypt(in, identities...)
	var none *age.NoIdentityMatchError
	switch {
	case errors.As(err, &none):
		return nil, &fault.Error{Code: fault.Invalid, Where: path, What: "the key does not open this backup", Mend: "give the secret key that belongs to the public key it was written for"}
	case err != nil:
		return nil, damaged(path, "its encryption cannot be read (%v)", err)
	}
	return plain, nil
}

// next gives the next member and its content. The content must be read to its
// end before the next call; its sum is kept then.
func (r *reader) next() (name string, size int64, content io.Reader, err error) {
	header, err := r.tar.Next()
	if err != nil {
		if err == io.EOF {
			return "", 0, nil, damaged(r.path, "it ends before its list of sums")
		}
		return "", 0, nil, damaged(r.path, "%v", err)
	}
	if header.Typeflag != tar.TypeReg {
		return "", 0, nil, damaged(r.path, "%q is no plain file", header.Name)
	}
	return header.Name, header.Size, &summed{r: r, from: r.tar, name: header.Name, size: header.Size, sum: sha256.New()}, nil
}

// summed notes the sum of a member when its end is reached.
type summed struct {
	r    *reader
	from io.Reader
	name string
	size int64
	sum  interface {
		io.Writer
		Sum([]byte) []byte
	}
	done bool
}

func (s *summed) Read(p []byte) (int, error) {
	n, err := s.from.Read(p)
	s.sum.Write(p[:n])
	if err == io.EOF && !s.done {
		s.done = true
		s.r.seen = append(s.r.seen, member{s.name, s.size, hex.EncodeToString(s.sum.Sum(nil))})
	}
	if err != nil && err != io.EOF {
		err = damaged(s.r.path, "%s: %v", s.name, err)
	}
	return n, err
}

// readJSON reads a small member whole.
func (r *reader) readJSON(size int64, content io.Reader, into any) error {
	if size > maxJSONBytes {
		return damaged(r.path, "a list is larger than %d bytes", maxJSONBytes)
	}
	text, err := io.ReadAll(content)
	if err != nil {
		return err
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	if err := decoder.Decode(into); err != nil {
		return damaged(r.path, "a list cannot be read (%v)", err)
	}
	return nil
}

// head reads the first member.
func (r *reader) head() (Head, error) {
	var h Head
	name, size, content, err := r.next()
	if err != nil || name != headName {
		return h, &fault.Error{Code: fault.Malformed, Where: r.path, What: "this is no backup of limitans", Expected: "a file written by limitans backup"}
	}
	if err := r.readJSON(size, content, &h); err != nil {
		return h, err
	}
	return h, nil
}

// handler takes what is in a backup.
type handler struct {
	rows func(table string, columns []column, lines *bufio.Scanner) (int64, error)
	file func(hash string, size int64, content io.Reader) error
}

// all goes through everything after the head and compares it with the sums.
func (r *reader) all(ctx context.Context, h handler) (*sums, error) {
	rows := map[string]int64{}
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		name, size, content, err := r.next()
		if err != nil {
			return nil, err
		}
		switch {
		case name == sumsName:
			var s sums
			if err := r.readJSON(size, content, &s); err != nil {
				return nil, err
			}
			return &s, r.compare(&s, rows)
		case strings.HasPrefix(name, tableFolder):
			table, _, _ := strings.Cut(strings.TrimPrefix(name, tableFolder), "/")
			n, err := r.part(name, table, content, h.rows)
			if err != nil {
				return nil, err
			}
			rows[table] += n
		case strings.HasPrefix(name, fileFolder):
			if err := h.file(strings.TrimPrefix(name, fileFolder), size, content); err != nil {
				return nil, err
			}
		default:
			return nil, damaged(r.path, "%q does not belong in it", name)
		}
		if _, err := io.Copy(io.Discard, content); err != nil {
			return nil, err
		}
	}
}

// part reads one part of a table.
func (r *reader) part(name, table string, content io.Reader, take func(string, []column, *bufio.Scanner) (int64, error)) (int64, error) {
	z, err := gzip.NewReader(content)
	if err != nil {
		return 0, damaged(r.path, "%s: %v", name, err)
	}
	lines := bufio.NewScanner(z)
	lines.Buffer(nil, maxPartBytes)
	var columns []column
	if !lines.Scan() || json.Unmarshal(lines.Bytes(), &columns) != nil || len(columns) == 0 {
		return 0, damaged(r.path, "%s does not begin with its columns", name)
	}
	n, err := take(table, columns, lines)
	if err != nil {
		return 0, err
	}
	if err := lines.Err(); err != nil {
		return 0, damaged(r.path, "%s: %v", name, err)
	}
	return n, nil
}

// compare holds what was read against the list.
func (r *reader) compare(s *sums, rows map[string]int64) error {
	seen := r.seen[:len(r.seen)-1] // the list itself is not in the list
	if len(seen) != len(s.Members) {
		return damaged(r.path, "%d parts were read, %d are listed", len(seen), len(s.Members))
	}
	for i, m := range seen {
		if m != s.Members[i] {
			return damaged(r.path, "%s is not what was written", m.Name)
		}
	}
	for table, n := range s.Rows {
		if rows[table] != n {
			return damaged(r.path, "table %s has %d rows, %d are listed", table, rows[table], n)
		}
	}
	if len(rows) != len(s.Rows) {
		return damaged(r.path, "it has tables that are not listed")
	}
	return nil
}
