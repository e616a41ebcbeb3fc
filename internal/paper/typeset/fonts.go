package typeset

import (
	"bytes"
	"compress/gzip"
	"embed"
	"io"
	"strings"
	"sync"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"

	"limitans/fault"
)

//go:embed fonts/*.woff fonts/*.gz
var files embed.FS

// Face is one font file. Glyph numbers are those of the file.
type Face struct {
	// Name is the font's own name with its weight, for the PDF.
	Name string
	// Measures in thousandths of the em: the box around all glyphs and how far
	// lines reach up and down.
	Box                 [4]float64 // left, low, right, high
	Ascender, Descender float64    // Descender is negative

	font   *font.Font
	tables map[string][]byte
	upem   float64
}

// source is a font file; load reads it once, on first use.
type source struct {
	file string
	load func() (*Face, error)
}

func newSource(file string) source {
	return source{file, sync.OnceValues(func() (*Face, error) { return loadFace(file) })}
}

// The font files in the order in which a letter is looked up, by weight.
var (
	chinese = newSource("fonts/WenQuanYiMicroHei.ttc.gz")
	regular = []source{
		newSource("fonts/IBMPlexSans-Regular.woff"), newSource("fonts/IBMPlexSansArabic-Regular.woff"),
		newSource("fonts/IBMPlexSansDevanagari-Regular.woff"), chinese,
	}
	bold = []source{
		newSource("fonts/IBMPlexSans-Bold.woff"), newSource("fonts/IBMPlexSansArabic-Bold.woff"),
		newSource("fonts/IBMPlexSansDevanagari-Bold.woff"), chinese,
	}
)

// glyphTables are what the PDF needs of a font.
var glyphTables = []string{"cvt ", "fpgm", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "prep"}

// metricsTable holds what browsers ask of a font besides.
const metricsTable = "OS/2"

// readSource is the font file, unpacked.
func readSource(file string) ([]byte, error) {
	data, err := files.ReadFile(file)
	if err != nil || !strings.HasSuffix(file, ".gz") {
		return data, err
	}
	packed, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(packed)
}

func loadFace(file string) (*Face, error) {
	broken := func(err error) error {
		return &fault.Error{Code: fault.Internal, Where: file, What: "the font cannot be read: " + err.Error(), Cause: err}
	}
	data, err := readSource(file)
	if err != nil {
		return nil, broken(err)
	}
	loaders, err := opentype.NewLoaders(bytes.NewReader(data)) // the first of a collection
	if err != nil {
		return nil, broken(err)
	}
	loader := loaders[0]
	parsed, err := font.NewFont(loader)
	if err != nil {
		return nil, broken(err)
	}
	f := &Face{Name: faceName(file), font: parsed, tables: map[string][]byte{}, upem: float64(parsed.Upem())}
	for _, tag := range glyphTables {
		f.tables[tag], err = loader.RawTable(opentype.MustNewTag(tag))
		if optional := tag == "cvt " || tag == "fpgm" || tag == "prep"; err != nil && !optional {
			return nil, broken(err)
		}
	}
	// A browser wants it, a PDF does not.
	if f.tables[metricsTable], err = loader.RawTable(opentype.MustNewTag(metricsTable)); err != nil {
		return nil, broken(err)
	}
	head, hhea := f.tables["head"], f.tables["hhea"]
	for i := range f.Box {
		f.Box[i] = f.milliEm(int16At(head, 36+2*i))
	}
	f.Ascender, f.Descender = f.milliEm(int16At(hhea, 4)), f.milliEm(int16At(hhea, 6))
	return f, nil
}

// WebFonts are the fonts that a browser can load as they are, by file name; the
// bytes must not be changed.
func WebFonts() (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, sources := range [][]source{regular, bold} {
		for _, s := range sources {
			if !strings.HasSuffix(s.file, ".woff") {
				continue
			}
			data, err := readSource(s.file)
			if err != nil {
				return nil, &fault.Error{Code: fault.Internal, Where: s.file, What: "the font cannot be read: " + err.Error(), Cause: err}
			}
			out[strings.TrimPrefix(s.file, "fonts/")] = data
		}
	}
	return out, nil
}

// faceName is the file's name without folder and endings.
func faceName(file string) string {
	name := file[strings.LastIndex(file, "/")+1:]
	return name[:strings.Index(name, ".")]
}

// milliEm turns units of the font into thousandths of the em.
func (f *Face) milliEm(units int16) float64 { return float64(units) * 1000 / f.upem }

// Width is the advance of a glyph, in thousandths of the em.
func (f *Face) Width(glyph uint16) float64 {
	metrics := int(uint16At(f.tables["hhea"], 34))
	return float64(uint16At(f.tables["hmtx"], 4*min(int(glyph), metrics-1))) * 1000 / f.upem
}

// holds reports whether the font has a glyph for a letter.
func (f *Face) holds(r rune) bool {
	_, has := f.font.NominalGlyph(r)
	return has
}

// uint16At reads a number of a font table; 0 beyond its end.
func uint16At(table []byte, at int) uint16 {
	if at < 0 || at+2 > len(table) {
		return 0
	}
	return uint16(table[at])<<8 | uint16(table[at+1])
}

func int16At(table []byte, at int) int16 { return int16(uint16At(table, at)) }
