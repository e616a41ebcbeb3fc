package pdf

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"fmt"
	"strings"
	"time"
	"unicode/utf16"

	"limitans/fault"
)

// Info is what a file says about itself.
type Info struct {
	Title    string
	Language string    // BCP 47
	Made     time.Time // printed as it is; the zero time is left out
}

// File is a PDF file while it is made.
type File struct {
	info   Info
	pages  []*Page
	fonts  []*usedFont
	images []*usedImage
	alphas []float64
	err    error
}

// New begins a file.
func New(info Info) *File { return &File{info: info} }

// fail keeps the first error, which [File.Bytes] returns.
func (f *File) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

// writer numbers the objects of a file and knows where they begin.
type writer struct {
	bytes.Buffer
	offsets []int // of object i+1
}

// reserve gives out an object number.
func (w *writer) reserve() int {
	w.offsets = append(w.offsets, -1)
	return len(w.offsets)
}

func (w *writer) object(number int, format string, values ...any) {
	w.offsets[number-1] = w.Len()
	fmt.Fprintf(w, "%d 0 obj\n", number)
	fmt.Fprintf(w, format, values...)
	w.WriteString("\nendobj\n")
}

// stream writes a packed stream; dictionary holds its entries but for length
// and filter.
func (w *writer) stream(number int, dictionary string, data []byte) error {
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(data); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	w.offsets[number-1] = w.Len()
	fmt.Fprintf(w, "%d 0 obj\n<<%s/Filter/FlateDecode/Length %d>>\nstream\n", number, dictionary, packed.Len())
	w.Write(packed.Bytes())
	w.WriteString("\nendstream\nendobj\n")
	return nil
}

// Bytes writes the file. A text, picture or number that could not be drawn is
// the error.
func (f *File) Bytes() ([]byte, error) {
	if f.err == nil && len(f.pages) == 0 {
		f.fail(&fault.Error{Code: fault.Internal, Where: "PDF", What: "there is no page"})
	}
	if f.err != nil {
		return nil, f.err
	}
	w := &writer{}
	w.WriteString("%PDF-1.7\n%\xc2\xb5\xc2\xb1\n")
	catalogue, tree, info, resources := w.reserve(), w.reserve(), w.reserve(), w.reserve()
	w.object(catalogue, "<</Type/Catalog/Pages %d 0 R/Lang%s/ViewerPreferences<</DisplayDocTitle true>>>>", tree, text(f.info.Language))
	made := ""
	if !f.info.Made.IsZero() {
		made = "/CreationDate(" + f.info.Made.UTC().Format("D:20060102150405Z") + ")"
	}
	w.object(info, "<</Title%s/Producer(limitans)%s>>", text(f.info.Title), made)
	if err := f.writeResources(w, resources); err != nil {
		return nil, err
	}
	var kids []string
	for _, p := range f.pages {
		page, content := w.reserve(), w.reserve()
		kids = append(kids, fmt.Sprintf("%d 0 R", page))
		w.object(page, "<</Type/Page/Parent %d 0 R/MediaBox[0 0 %s %s]/Resources %d 0 R/Contents %d 0 R>>", tree, number(p.width), number(p.height), resources, content)
		if err := w.stream(content, "", p.content.Bytes()); err != nil {
			return nil, err
		}
	}
	w.object(tree, "<</Type/Pages/Kids[%s]/Count %d>>", strings.Join(kids, " "), len(kids))
	identifier := fmt.Sprintf("%x", sha256.Sum256(w.Bytes()))[:32]
	start := w.Len()
	fmt.Fprintf(w, "xref\n0 %d\n0000000000 65535 f \n", len(w.offsets)+1)
	for _, o := range w.offsets {
		fmt.Fprintf(w, "%010d 00000 n \n", o)
	}
	fmt.Fprintf(w, "trailer\n<</Size %d/Root %d 0 R/Info %d 0 R/ID[<%s><%s>]>>\nstartxref\n%d\n%%%%EOF\n", len(w.offsets)+1, catalogue, info, identifier, identifier, start)
	return w.Bytes(), nil
}

// writeResources writes fonts, pictures and opacities, which all pages share.
func (f *File) writeResources(w *writer, object int) error {
	var fonts, images, alphas strings.Builder
	for i, font := range f.fonts {
		at, err := font.write(w)
		if err != nil {
			return err
		}
		fmt.Fprintf(&fonts, "/F%d %d 0 R", i, at)
	}
	for i, image := range f.images {
		at, err := image.write(w)
		if err != nil {
			return err
		}
		fmt.Fprintf(&images, "/I%d %d 0 R", i, at)
	}
	for i, a := range f.alphas {
		fmt.Fprintf(&alphas, "/A%d<</ca %s/CA %s>>", i, number(a), number(a))
	}
	w.object(object, "<</Font<<%s>>/XObject<<%s>>/ExtGState<<%s>>>>", fonts.String(), images.String(), alphas.String())
	return nil
}

// text writes a text string: UTF-16 with its mark, in hexadecimal.
func text(s string) string {
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	b.WriteString(">")
	return b.String()
}
