package scan

import (
	"context"
	"errors"
	"fmt"
	"path"
	"strings"

	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// Open turns a path into one scan; see the package comment for what is read.
// Every fault is one line that says what is wrong and where. When ctx ends, its
// error is the cause.
func Open(ctx context.Context, p string, options Options) (v *oct.Volume, err error) {
	defer func() {
		// Decoders of other people's formats stand below; a defect in one of
		// them must not take the program down with an unsaved record.
		if r := recover(); r != nil {
			v, err = nil, &fault.Error{Code: fault.Internal, Where: clean(p), What: fmt.Sprintf("reading failed inside this program (%v)", r)}
		}
	}()
	options.Limits = options.Limits.withDefaults()
	if err := options.Scale.check(); err != nil {
		return nil, err
	}
	b, err := gather(ctx, p, options.Limits)
	if err != nil {
		return nil, stopped(err)
	}
	if b.close != nil {
		defer func() { _ = b.close() }()
	}
	v, err = b.volume(ctx, p, options)
	if err != nil {
		return nil, stopped(err)
	}
	v.Notes = append(v.Notes, b.notes...)
	return finish(v, p, b, options)
}

// stopped turns the end of a context into a fault.
func stopped(err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return &fault.Error{Code: fault.Invalid, What: "opening the scan was stopped", Cause: err}
	}
	return err
}

// volume decides what the bundle is and reads it.
func (b *bundle) volume(ctx context.Context, p string, o Options) (*oct.Volume, error) {
	if b.wrapper == "" {
		e := b.entries[0]
		switch {
		case e.kind == kindDICOM:
			return b.dicom(b.entries, o)
		case e.kind.isSlice():
			return openSingle(ctx, p, b, o)
		}
		return nil, notAScan(e)
	}
	slices, err := b.slices()
	if err != nil {
		return nil, err
	}
	if slices[0].kind == kindDICOM {
		return b.dicom(slices, o)
	}
	return openPictures(ctx, b, slices, o)
}

// slices picks the files that carry slices and refuses a mixture.
func (b *bundle) slices() ([]entry, error) {
	var out []entry
	for _, e := range b.entries {
		switch {
		case strings.EqualFold(path.Base(e.name), "DICOMDIR"):
			b.notes = append(b.notes, fmt.Sprintf("%s was passed over: it is a table of contents", clean(e.name)))
		case e.kind.isSlice(), e.kind == kindForeign:
			out = append(out, e)
		case extensionKind(e.name) != kindUnknown:
			return nil, notAScan(e)
		case e.kind != kindText:
			b.notes = append(b.notes, fmt.Sprintf("%s was passed over: it is neither a picture nor DICOM", clean(e.name)))
		}
	}
	if len(out) == 0 {
		return nil, &fault.Error{
			Code: fault.Malformed, Where: clean(b.name), What: strings.TrimSuffix("the "+b.wrapper, " of ") + " holds no slices",
			Expected: "TIFF, PNG, JPEG or DICOM files",
		}
	}
	for _, e := range out {
		if e.kind != out[0].kind {
			return nil, &fault.Error{
				Code: fault.Conflict, Where: clean(b.name),
				What:     fmt.Sprintf("holds files of several kinds: %s is %s, %s is %s", clean(out[0].name), kindName(out[0]), clean(e.name), kindName(e)),
				Expected: "slices of one kind", Mend: "open the file or folder of one scan",
			}
		}
	}
	if out[0].kind == kindForeign {
		return nil, notAScan(out[0])
	}
	return out, nil
}

func kindName(e entry) string {
	if e.kind == kindForeign {
		return foreignName(e.head)
	}
	return e.kind.String()
}

// notAScan says what a file is that should have been a slice.
func notAScan(e entry) error {
	f := &fault.Error{Code: fault.Malformed, Where: clean(e.name), Expected: "TIFF, PNG, JPEG, DICOM or zip"}
	switch e.kind {
	case kindEmpty:
		f.What = "the file is empty"
	case kindText:
		f.What = "the file holds text, not a picture"
	case kindForeign:
		f.Code, f.What = fault.Unsupported, "the file is "+foreignName(e.head)
	default:
		f.What = "the file is of no kind that this program knows"
	}
	return f
}

// dicom reads all files and hands them on; DICOM is decided by its attributes,
// not by the order of names.
func (b *bundle) dicom(entries []entry, o Options) (*oct.Volume, error) {
	var files []namedBytes
	// All files are in memory at once, so the bound of one file holds for all.
	left := min(o.Limits.FileBytes, o.Limits.TotalBytes)
	for _, e := range entries {
		data, err := e.read(left)
		if err != nil {
			return nil, err
		}
		left -= int64(len(data))
		files = append(files, namedBytes{Name: e.name, Data: data})
	}
	v, err := readDICOMWith(files, o.Converter)
	if err != nil {
		return nil, err
	}
	if n := int64(len(v.Samples)); n > o.Limits.Samples {
		return nil, tooManySamples(n, o.Limits)
	}
	o.progress(v.Slices, v.Slices)
	return v, nil
}

// readDICOM makes one scan of DICOM files with the converters that are
// installed; the DICOM readers set it.
var readDICOM func(files []namedBytes) (*oct.Volume, error)

func readDICOMWith(files []namedBytes, convert dicom.Converter) (*oct.Volume, error) {
	switch {
	case convert == nil:
		return readDICOM(files)
	case len(files) == 1:
		return fromDICOM(files[0].Name, files[0].Data, convert)
	}
	return fromDICOMSeries(files, convert)
}

func tooManySamples(n int64, limits Limits) error {
	return &fault.Error{
		Code: fault.TooLarge, Where: "size", What: fmt.Sprintf("the scan has %d samples", n),
		Expected: fmt.Sprintf("at most %d", limits.Samples),
	}
}
