package scan

import (
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"strconv"

	"limitans/fault"
	"limitans/oct"
)

// Tags of TIFF revision 6.0 that this reader looks at.
const (
	tagNewSubfileType  = 254
	tagImageWidth      = 256
	tagImageLength     = 257
	tagBitsPerSample   = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagFillOrder       = 266
	tagDescription     = 270
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamplesPerPixel = 277
	tagRowsPerStrip    = 278
	tagStripByteCounts = 279
	tagXResolution     = 282
	tagPlanar          = 284
	tagPredictor       = 317
	tagTileWidth       = 322
	tagTileLength      = 323
	tagTileOffsets     = 324
	tagTileByteCounts  = 325
	tagExtraSamples    = 338
	tagSampleFormat    = 339
)

// maxTIFFEntries bounds the directory entries read from one file: 50 entries
// on each of the most pages a scan may have.
const maxTIFFEntries = 50 * oct.MaxSide

// tiffField is one entry of a directory, its value not yet fetched.
type tiffField struct {
	typ   uint16
	count uint32
	value [4]byte
}

// tiffDirectory is one page: the fields by tag, those in wantedTags only.
type tiffDirectory map[uint16]tiffField

var wantedTags = map[uint16]bool{
	tagNewSubfileType: true, tagImageWidth: true, tagImageLength: true, tagBitsPerSample: true, tagCompression: true,
	tagPhotometric: true, tagFillOrder: true, tagDescription: true, tagStripOffsets: true, tagOrientation: true,
	tagSamplesPerPixel: true, tagRowsPerStrip: true, tagStripByteCounts: true, tagXResolution: true, tagPlanar: true,
	tagPredictor: true, tagTileWidth: true, tagTileLength: true, tagTileOffsets: true, tagTileByteCounts: true,
	tagExtraSamples: true, tagSampleFormat: true,
}

// tiffFile reads one TIFF through a ReaderAt, so that no more of it than one
// strip is in memory.
type tiffFile struct {
	name  string
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
}

func (t *tiffFile) malformed(where, what, expected string) error {
	return &fault.Error{Code: fault.Malformed, Where: place(t.name, where), What: what, Expected: expected}
}

func (t *tiffFile) unsupported(where, what, mend string) error {
	return &fault.Error{Code: fault.Unsupported, Where: place(t.name, where), What: what, Mend: mend}
}

// read returns n bytes at an offset, after holding both against the file size.
func (t *tiffFile) read(offset, n int64, where, what string) ([]byte, error) {
	if offset < 0 || n < 0 || offset > t.size || n > t.size-offset {
		return nil, t.malformed(where, fmt.Sprintf("%s at byte %d (%d bytes) lies outside the file of %d bytes", what, offset, n, t.size),
			"a complete file, not one cut short")
	}
	data := make([]byte, n)
	if _, err := t.r.ReadAt(data, offset); err != nil {
		return nil, readFault(t.name, err)
	}
	return data, nil
}

// openTIFF reads the head and returns the file and the offset of its first page.
func openTIFF(name string, r io.ReaderAt, size int64) (*tiffFile, int64, error) {
	t := &tiffFile{name: name, r: r, size: size}
	head, err := t.read(0, 8, "", "the head")
	if err != nil {
		return nil, 0, err
	}
	switch string(head[:2]) {
	case "II":
		t.order = binary.LittleEndian
	case "MM":
		t.order = binary.BigEndian
	}
	if t.order == nil {
		return nil, 0, t.malformed("", "the file does not begin like a TIFF", "II or MM")
	}
	switch magic := t.order.Uint16(head[2:]); magic {
	case 42:
	case 43:
		return nil, 0, t.unsupported("", "this is a BigTIFF with 64-bit offsets", "export as ordinary TIFF, PNG or DICOM")
	default:
		return nil, 0, t.malformed("", fmt.Sprintf("the number %d follows the byte order", magic), "42")
	}
	return t, int64(t.order.Uint32(head[4:])), nil
}

// pages walks the chain of directories. A chain that comes back to a page it
// has been at is a fault, as is one longer than the most slices of a scan.
func (t *tiffFile) pages(first int64) ([]tiffDirectory, error) {
	var pages []tiffDirectory
	seen := map[int64]bool{}
	entries := 0
	for offset := first; offset != 0; {
		where := fmt.Sprintf("page %d", len(pages))
		if seen[offset] {
			return nil, t.malformed(where, "the chain of pages runs in a loop", "a chain that ends")
		}
		seen[offset] = true
		if len(pages) == oct.MaxSide {
			return nil, &fault.Error{
				Code: fault.TooLarge, Where: place(t.name, where),
				What: "more pages than this program takes", Expected: fmt.Sprintf("at most %d", oct.MaxSide),
			}
		}
		head, err := t.read(offset, 2, where, "the directory")
		if err != nil {
			return nil, err
		}
		n := int(t.order.Uint16(head))
		if entries += n; n == 0 || entries > maxTIFFEntries {
			return nil, t.malformed(where, fmt.Sprintf("a directory of %d entries", n), "a usual number of entries")
		}
		body, err := t.read(offset+2, int64(n)*12+4, where, "the directory")
		if err != nil {
			return nil, err
		}
		page := tiffDirectory{}
		for i := range n {
			entry := body[i*12:]
			tag := t.order.Uint16(entry)
			if !wantedTags[tag] {
				continue
			}
			page[tag] = tiffField{
				typ:   t.order.Uint16(entry[2:]),
				count: t.order.Uint32(entry[4:]), value: [4]byte(entry[8:12]),
			}
		}
		pages = append(pages, page)
		offset = int64(t.order.Uint32(body[n*12:]))
	}
	if len(pages) == 0 {
		return nil, t.malformed("", "the file holds no page", "at least one")
	}
	return pages, nil
}

// numbers returns the values of an integer field; want is the count it must
// have, −1 for 1 to 16 of them. A missing field gives nil.
func (t *tiffFile) numbers(page tiffDirectory, tag uint16, want int64, where string) ([]uint32, error) {
	f, ok := page[tag]
	if !ok {
		return nil, nil
	}
	width := map[uint16]int64{1: 1, 3: 2, 4: 4}[f.typ]
	if width == 0 {
		return nil, t.malformed(where, fmt.Sprintf("tag %d has type %d", tag, f.typ), "a whole number")
	}
	if n := int64(f.count); n < 1 || (want >= 0 && n != want) || (want < 0 && n > 16) {
		expected := fmt.Sprintf("%d", want)
		if want < 0 {
			expected = "1 to 16"
		}
		return nil, t.malformed(where, fmt.Sprintf("tag %d holds %d values", tag, n), expected)
	}
	data := f.value[:]
	if n := int64(f.count) * width; n > 4 {
		var err error
		if data, err = t.read(int64(t.order.Uint32(f.value[:])), n, where, fmt.Sprintf("the value of tag %d", tag)); err != nil {
			return nil, err
		}
	}
	out := make([]uint32, f.count)
	for i := range out {
		switch width {
		case 1:
			out[i] = uint32(data[i])
		case 2:
			out[i] = uint32(t.order.Uint16(data[2*i:]))
		case 4:
			out[i] = t.order.Uint32(data[4*i:])
		}
	}
	return out, nil
}

// number returns the single value of a field, or the default when it is missing.
func (t *tiffFile) number(page tiffDirectory, tag uint16, missing uint32, where string) (uint32, error) {
	v, err := t.numbers(page, tag, 1, where)
	if err != nil || v == nil {
		return missing, err
	}
	return v[0], nil
}

// imagesInDescription finds the note of writers that put many pictures behind
// one directory.
var imagesInDescription = regexp.MustCompile(`(?m)^images=(\d{1,9})\s*$`)

// announcedImages returns how many pictures the description of the first page
// announces, 0 when it announces none.
func (t *tiffFile) announcedImages(page tiffDirectory) int {
	f, ok := page[tagDescription]
	if !ok || f.typ != 2 || f.count < 8 || f.count > 1<<20 {
		return 0
	}
	text, err := t.read(int64(t.order.Uint32(f.value[:])), int64(f.count), "", "the description")
	if err != nil {
		return 0
	}
	m := imagesInDescription.FindSubmatch(text)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(string(m[1]))
	return n
}
