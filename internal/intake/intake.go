package intake

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/internal/exchange/scan"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/internal/work"
)

// Intake keeps files. It may be used from many goroutines.
type Intake struct {
	Store *store.Store
	Vault *vault.Vault
	Queue *work.Queue
	// Program is the version of this program: a scan that it has measured
	// already is not measured again.
	Program string
	Now     func() time.Time
}

// Request is a file and what a person says of it.
type Request struct {
	// Kind is record.KindScan, record.KindFilm or record.KindDocument.
	Kind record.Kind
	// Name of the file as it came, with its folder if that was told. It may
	// name a person and tells a side.
	Name    string
	Content io.Reader
	// EyeID is the eye that it belongs to.
	EyeID record.ID
	// FormSide is the side as the form tells it, FormText as it stood there.
	// Unknown where the eye itself was opened.
	FormSide eye.Laterality
	FormText string
	// TypedSide settles sources that disagree, together with Reason.
	TypedSide eye.Laterality
	// ConfirmPerson stands by the person although the header has another date
	// of birth, together with Reason.
	ConfirmPerson bool
	Reason        string
	// Taken is the day of the scan, film or document. Not told: that of the
	// header. A Raw text without a day says that nobody knows it.
	Taken record.Date
	// Scale of a scan as a person gave it.
	Scale scan.GivenScale
	// Flip says that a scan that is found upside down may be turned over.
	Flip bool
	// Sort of a document.
	Sort record.DocumentSort
	// CameFrom says which way it came, in words.
	CameFrom record.FreeText
}

// Kept says what became of a request.
type Kept struct {
	Kind record.Kind
	ID   record.ID
	File record.FileRef
	// Already: the same content of the same eye was kept before; ID is that one
	// and nothing was added to the record.
	Already bool
	Side    eye.Laterality // of the eye
	Taken   record.Date
	// JobID is the job that measures the scan, 0 for none; JobAlready when it
	// was asked for before; Measured when this program has measured the scan.
	JobID      int64
	JobAlready bool
	Measured   bool
	Notes      []string // what a person should know, one line each
}

// Keep brings a file into the record; the package comment says what is looked
// at before.
//
// Errors: Conflict when sides, persons or eyes disagree (nothing is kept);
// Invalid for a request that cannot be and for what the rules of package record
// stop; NotFound for an eye that is not there; those of reading a scan; those
// of the vault and the store.
func (in *Intake) Keep(ctx context.Context, actor record.Actor, r Request) (Kept, error) {
	course, err := in.Store.Course(ctx, r.EyeID, false)
	if err != nil {
		return Kept{}, err
	}
	if course.Eye.Struck() {
		return Kept{}, &fault.Error{Code: fault.Invalid, Where: "eye " + string(r.EyeID), What: "it is struck out", Mend: "choose another eye"}
	}
	k := &keeping{Intake: in, request: r, actor: actor, course: course}
	k.kept = Kept{Kind: r.Kind, Side: course.Eye.Side}
	switch r.Kind {
	case record.KindScan:
		err = k.scan(ctx)
	case record.KindFilm, record.KindDocument:
		err = k.other(ctx)
	default:
		err = &fault.Error{Code: fault.Invalid, Where: "kind", What: fmt.Sprintf("%q is no kind of file", r.Kind), Expected: "scan, film or document"}
	}
	if err != nil {
		return Kept{}, err
	}
	return k.kept, nil
}

// keeping is one request on its way.
type keeping struct {
	*Intake
	request Request
	actor   record.Actor
	course  *store.Course
	kept    Kept
}

func (k *keeping) note(format string, args ...any) {
	k.kept.Notes = append(k.kept.Notes, fmt.Sprintf(format, args...))
}

// OpenFile opens a file to be kept. Folders are refused, and scans with a side
// file beside them, because a side file would be lost.
//
// Errors: NotFound, Unsupported.
func OpenFile(path string, kind record.Kind) (io.ReadCloser, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &fault.Error{Code: fault.NotFound, Where: path, What: "cannot be opened", Mend: "check the name and who may read it", Cause: err}
	}
	info, err := file.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = &fault.Error{Code: fault.Unsupported, Where: path, What: "it is not a file", Expected: "one file", Mend: "pack the slices of a folder into one zip"}
	}
	if err == nil && kind == record.KindScan {
		err = noSideFile(path)
	}
	if err != nil {
		_ = file.Close() // it was only looked at
		return nil, err
	}
	return file, nil
}

// noSideFile refuses a scan with a side file beside it; the names are those
// that package exchange/scan reads.
func noSideFile(path string) error {
	folder, base := filepath.Split(path)
	for _, stem := range []string{base, strings.TrimSuffix(base, filepath.Ext(base)), "scan"} {
		for _, extension := range []string{".yaml", ".yml"} {
			if stem+extension == base {
				continue
			}
			if _, err := os.Stat(filepath.Join(folder, stem+extension)); err == nil {
				return &fault.Error{
					Code: fault.Unsupported, Where: path, What: "the side file " + stem + extension + " lies beside it and would not be kept",
					Mend: "pack both into one zip, the side file as scan.yaml, or give the scale by hand and move the side file away",
				}
			}
		}
	}
	return nil
}

// sniffBytes is how much of a content its media type is told from.
const sniffBytes = 512

// mediaType tells the media type of a content from its beginning: DICOM by its
// mark (PS3.10 section 7.1, type by RFC 3240), all else by the WHATWG rules.
func mediaType(head []byte) string {
	if dicom.IsDICOM(head) {
		return "application/dicom"
	}
	return http.DetectContentType(head)
}

// toVault streams a content into the vault.
func (k *keeping) toVault(ctx context.Context, content io.Reader) error {
	buffered := bufio.NewReaderSize(content, 64<<10)
	head, err := buffered.Peek(sniffBytes)
	if err != nil && err != io.EOF {
		return cannotRead(k.request.Name, err)
	}
	if len(head) == 0 {
		return &fault.Error{Code: fault.Malformed, Where: k.request.Name, What: "the file is empty"}
	}
	kind := mediaType(head) // before the next read moves the buffer
	stored, err := k.Vault.Put(ctx, buffered, nil)
	if err != nil {
		return err
	}
	k.kept.File = record.FileRef{SHA256: stored.Hash.String(), Bytes: stored.Size, MediaType: kind}
	return nil
}

func cannotRead(name string, err error) error {
	return &fault.Error{Code: fault.Internal, Where: name, What: "cannot be read: " + err.Error(), Cause: err}
}
