package backup

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"filippo.io/age"

	"limitans/fault"
	"limitans/internal/store"
	"limitans/internal/vault"
)

// Options are how a backup is written.
type Options struct {
	Program    string    // version of this program
	Now        time.Time // the time that the backup bears
	Recipients []string  // age public keys, "age1…"; none: not encrypted
	// Progress hears of rows and bytes that were written; may be nil.
	Progress func(what string, done int64)
}

// Write writes the record and, unless v is nil, the whole vault into a new file.
//
// Errors: Conflict when the file exists; Invalid for a public key that cannot
// be read or a folder that cannot be written, a full disk among them; what the
// record and the vault return. After an error there is no file.
func Write(ctx context.Context, path string, s *store.Store, v *vault.Vault, o Options) (summary *Summary, err error) {
	recipients, err := parseRecipients(o.Recipients)
	if err != nil {
		return nil, err
	}
	if _, err := os.Lstat(path); err == nil {
		return nil, &fault.Error{Code: fault.Conflict, Where: path, What: "there is a file already", Mend: "give a new name; a backup never replaces another file"}
	}
	file, err := os.CreateTemp(filepath.Dir(path), ".limitans-backup-*")
	if err != nil {
		return nil, cannotWrite(path, err)
	}
	defer func() {
		file.Close()
		if err != nil {
			os.Remove(file.Name())
		}
	}()
	out := &hashed{w: file, sum: sha256.New()}
	if summary, err = writeAll(ctx, out, s, v, recipients, o); err != nil {
		return nil, writeFault(path, err)
	}
	if err := file.Sync(); err != nil {
		return nil, cannotWrite(path, err)
	}
	if err := sameOnDisk(ctx, file, out); err != nil {
		return nil, err
	}
	if err := os.Link(file.Name(), path); err != nil { // unlike a rename, never replaces
		if errors.Is(err, os.ErrExist) {
			return nil, &fault.Error{Code: fault.Conflict, Where: path, What: "another backup was written there meanwhile", Mend: "give a new name"}
		}
		if err := os.Rename(file.Name(), path); err != nil {
			return nil, cannotWrite(path, err)
		}
		return summary, syncFolder(filepath.Dir(path))
	}
	if err := os.Remove(file.Name()); err != nil {
		return nil, cannotWrite(path, err)
	}
	return summary, syncFolder(filepath.Dir(path))
}

func parseRecipients(texts []string) ([]age.Recipient, error) {
	var out []age.Recipient
	for _, text := range texts {
		r, err := age.ParseX25519Recipient(text)
		if err != nil {
			return nil, &fault.Error{
				Code: fault.Invalid, Where: "public key", What: fmt.Sprintf("%q cannot be read", text),
				Expected: "an age public key, which begins with age1", Mend: "give the public key, never the secret one",
			}
		}
		out = append(out, r)
	}
	return out, nil
}

// hashed sums what goes through.
type hashed struct {
	w   io.Writer
	sum interface {
		io.Writer
		Sum([]byte) []byte
	}
	n int64
}

func (h *hashed) Write(p []byte) (int, error) {
	n, err := h.w.Write(p)
	h.sum.Write(p[:n])
	h.n += int64(n)
	return n, err
}

// sameOnDisk reads back what was written.
func sameOnDisk(ctx context.Context, file *os.File, out *hashed) error {
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return cannotWrite(file.Name(), err)
	}
	again := sha256.New()
	n, err := io.Copy(again, stoppable{ctx, file})
	if err != nil {
		return cannotWrite(file.Name(), err)
	}
	if n != out.n || !bytes.Equal(again.Sum(nil), out.sum.Sum(nil)) {
		return &fault.Error{Code: fault.Internal, Where: file.Name(), What: "the disk does not give back what was written", Mend: "use another disk"}
	}
	return nil
}

// stoppable reads until the context ends.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}

func writeAll(ctx context.Context, out io.Writer, s *store.Store, v *vault.Vault, recipients []age.Recipient, o Options) (*Summary, error) {
	if len(recipients) == 0 {
		return writeArchive(ctx, out, s, v, o)
	}
	sealed, err := age.Encrypt(out, recipients...)
	if err != nil {
		return nil, err
	}
	summary, err := writeArchive(ctx, sealed, s, v, o)
	if err != nil {
		return nil, err
	}
	summary.Encrypted = true
	return summary, sealed.Close()
}

// archive is a tar file that keeps the list of its members.
type archive struct {
	tar  *tar.Writer
	made time.Time
	sums sums
	tell func(what string, done int64)
}

func writeArchive(ctx context.Context, out io.Writer, s *store.Store, v *vault.Vault, o Options) (*Summary, error) {
	a := &archive{tar: tar.NewWriter(out), made: o.Now.UTC().Truncate(time.Second), sums: sums{Rows: map[string]int64{}}, tell: o.Progress}
	if a.tell == nil {
		a.tell = func(string, int64) {}
	}
	tx, err := snapshot(ctx, s)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	head := Head{Format: formatNumber, Program: o.Program, MadeAt: a.made, WithFiles: v != nil}
	if head.TableVersion, err = s.Version(ctx); err != nil {
		return nil, err
	}
	if err := tx.QueryRowContext(ctx, "select entries, hash from history_head").Scan(&head.HistoryEntries, &head.HistoryHash); err != nil {
		return nil, err
	}
	if err := a.addJSON(headName, head); err != nil {
		return nil, err
	}
	tables, err := tablesOf(ctx, tx, s.Dialect(), s.Where())
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		if err := a.addTable(ctx, tx, &t); err != nil {
			return nil, err
		}
	}
	summary := &Summary{Head: head, Rows: a.sums.Rows}
	if v != nil {
		if summary.Files, summary.FileBytes, err = a.addFiles(ctx, v); err != nil {
			return nil, err
		}
	}
	if err := a.addJSON(sumsName, a.sums); err != nil {
		return nil, err
	}
	return summary, a.tar.Close()
}

// snapshot is a transaction that shows one moment of all tables.
func snapshot(ctx context.Context, s *store.Store) (*sql.Tx, error) {
	options := &sql.TxOptions{ReadOnly: true}
	if s.Dialect() == store.PostgreSQL {
		options.Isolation = sql.LevelRepeatableRead
	}
	tx, err := s.Reader().Pool().BeginTx(ctx, options)
	if err != nil {
		return nil, err
	}
	// The embedded database fixes the moment at the first read.
	var one int
	if err := tx.QueryRowContext(ctx, "select 1 from history_head").Scan(&one); err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	return tx, nil
}

func (a *archive) addJSON(name string, value any) error {
	text, err := json.MarshalIndent(value, "", "  ")
	if err != nil {
		return err
	}
	return a.add(name, int64(len(text)), bytes.NewReader(text))
}

// add writes one member of a known length.
func (a *archive) add(name string, size int64, r io.Reader) error {
	header := &tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: a.made, Format: tar.FormatPAX}
	if err := a.tar.WriteHeader(header); err != nil {
		return err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(a.tar, sum), r)
	if err != nil {
		return err
	}
	if n != size {
		return fmt.Errorf("%s has %d bytes, not %d", name, n, size)
	}
	a.sums.Members = append(a.sums.Members, member{name, size, hex.EncodeToString(sum.Sum(nil))})
	return nil
}

// addTable writes the rows of a table in parts, so that memory stays small
// whatever its size.
func (a *archive) addTable(ctx context.Context, tx *sql.Tx, t *table) error {
	rows, err := tx.QueryContext(ctx, t.selection())
	if err != nil {
		return err
	}
	defer rows.Close()
	head, err := json.Marshal(t.columns)
	if err != nil {
		return err
	}
	row, count, parts := newScanner(t.columns), int64(0), 0
	var part bytes.Buffer
	flush := func() error {
		parts++
		var packed bytes.Buffer
		z, err := gzip.NewWriterLevel(&packed, gzip.BestSpeed)
		if err != nil {
			return err
		}
		z.Write(append(head, '\n')) // a buffer takes all
		z.Write(part.Bytes())
		if err := z.Close(); err != nil {
			return err
		}
		part.Reset()
		a.tell(t.name, count)
		return a.add(fmt.Sprintf("%s%s/%06d.json.gz", tableFolder, t.name, parts), int64(packed.Len()), &packed)
	}
	for rows.Next() {
		if err := rows.Scan(row.into...); err != nil {
			return err
		}
		if err := row.line(&part); err != nil {
			return &fault.Error{Code: fault.Malformed, Where: "table " + t.name, What: err.Error()}
		}
		count++
		if part.Len() >= partBytes {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	a.sums.Rows[t.name] = count
	return flush()
}

// addFiles writes the whole vault.
func (a *archive) addFiles(ctx context.Context, v *vault.Vault) (files, size int64, err error) {
	err = v.Walk(ctx, func(c vault.Content) error {
		r, err := v.Get(ctx, c.Hash)
		if err != nil {
			return err
		}
		defer r.Close()
		files++
		size += c.Size
		a.tell("files", size)
		return a.add(fileFolder+c.Hash.String(), c.Size, r)
	})
	return files, size, err
}

// writeFault names the file where an error does not say its place itself.
func writeFault(path string, err error) error {
	var f *fault.Error
	if errors.As(err, &f) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return cannotWrite(path, err)
}

func cannotWrite(path string, err error) error {
	var at *os.PathError
	why := err
	if errors.As(err, &at) {
		why = at.Err
	}
	code := fault.Invalid
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		code = fault.NoSpace
	}
	return &fault.Error{
		Code: code, Where: path, What: "cannot be written: " + why.Error(),
		Mend: "see that the folder exists and the disk has room", Cause: err,
	}
}

// syncFolder makes a new name last through a power cut, where the system can.
func syncFolder(folder string) error {
	f, err := os.Open(folder)
	if err != nil {
		return cannotWrite(folder, err)
	}
	defer f.Close()
	_ = f.Sync() // some systems cannot sync a folder
	return nil
}
