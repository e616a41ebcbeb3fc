package scan

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"limitans/fault"
)

// tiffEntry is one directory entry of a test TIFF: LONG values.
type tiffEntry struct {
	tag    uint16
	typ    uint16
	values []uint32
}

// tiffBytes writes a little-endian TIFF of one page: entries, then data, whose
// offset replaces the value 0xdada of any entry. next is the offset of the
// following page.
func tiffBytes(entries []tiffEntry, data []byte, next uint32) []byte {
	le := binary.LittleEndian
	out := []byte("II*\x00\x08\x00\x00\x00")
	out = le.AppendUint16(out, uint16(len(entries)))
	extra := uint32(8 + 2 + 12*len(entries) + 4)
	var tail []byte
	room := uint32(0)
	for _, e := range entries {
		if len(e.values) > 1 {
			room += uint32(4 * len(e.values))
		}
	}
	for _, e := range entries {
		typ := e.typ
		if typ == 0 {
			typ = 4
		}
		out = le.AppendUint16(out, e.tag)
		out = le.AppendUint16(out, typ)
		out = le.AppendUint32(out, uint32(len(e.values)))
		if len(e.values) == 1 {
			v := e.values[0]
			if v == 0xdada {
				v = extra + room
			}
			out = le.AppendUint32(out, v)
			continue
		}
		out = le.AppendUint32(out, extra+uint32(len(tail)))
		for _, v := range e.values {
			tail = le.AppendUint32(tail, v)
		}
	}
	out = le.AppendUint32(out, next)
	return append(append(out, tail...), data...)
}

// greyTIFF is a valid page with some fields replaced or, with no values, left out.
func greyTIFF(columns, rows uint32, data []byte, next uint32, changed ...tiffEntry) []byte {
	entries := []tiffEntry{
		{tagImageWidth, 4, []uint32{columns}},
		{tagImageLength, 4, []uint32{rows}},
		{tagBitsPerSample, 4, []uint32{8}},
		{tagCompression, 4, []uint32{1}},
		{tagPhotometric, 4, []uint32{1}},
		{tagStripOffsets, 4, []uint32{0xdada}},
		{tagSamplesPerPixel, 4, []uint32{1}},
		{tagRowsPerStrip, 4, []uint32{rows}},
		{tagStripByteCounts, 4, []uint32{uint32(len(data))}},
	}
	for _, c := range changed {
		found := false
		for i := range entries {
			if entries[i].tag == c.tag {
				entries[i], found = c, true
			}
		}
		if !found {
			entries = append(entries, c)
		}
	}
	kept := entries[:0]
	for _, e := range entries {
		if e.values != nil {
			kept = append(kept, e)
		}
	}
	return tiffBytes(kept, data, next)
}

func pngBytes(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func jpegBytes(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// greyPicture is a gradient with some structure.
func greyPicture(columns, rows int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, columns, rows))
	for i := range m.Pix {
		m.Pix[i] = uint8(i*7 + i/columns)
	}
	return m
}

// pngHead is a PNG that announces a size and holds nearly nothing.
func pngHead(columns, rows uint32) []byte {
	out := []byte("\x89PNG\r\n\x1a\n")
	chunk := func(name string, body []byte) {
		out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
		whole := append([]byte(name), body...)
		out = append(out, whole...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(whole))
	}
	head := binary.BigEndian.AppendUint32(nil, columns)
	head = binary.BigEndian.AppendUint32(head, rows)
	chunk("IHDR", append(head, 8, 0, 0, 0, 0))
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, _ = z.Write(make([]byte, 500))
	_ = z.Close()
	chunk("IDAT", packed.Bytes())
	chunk("IEND", nil)
	return out
}

// withJPEGSize replaces the size in the frame header.
func withJPEGSize(data []byte, columns, rows uint16) []byte {
	out := bytes.Clone(data)
	i := bytes.Index(out, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(out[i+5:], rows)
	binary.BigEndian.PutUint16(out[i+7:], columns)
	return out
}

type zipped struct {
	name string
	data []byte
}

func zipBytes(t testing.TB, files ...zipped) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		e, err := w.Create(f.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := e.Write(f.data); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// encryptedZip sets the encryption flag of every entry.
func encryptedZip(data []byte) []byte {
	out := bytes.Clone(data)
	for _, m := range []struct {
		magic string
		at    int
	}{{"PK\x03\x04", 6}, {"PK\x01\x02", 8}} {
		for i := 0; ; {
			j := bytes.Index(out[i:], []byte(m.magic))
			if j < 0 {
				break
			}
			out[i+j+m.at] |= 1
			i += j + 4
		}
	}
	return out
}

// lyingZip announces another unpacked size for its entries.
func lyingZip(data []byte, size uint32) []byte {
	out := bytes.Clone(data)
	i := bytes.Index(out, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(out[i+24:], size)
	return out
}

// broken is one bad input: make writes it into a folder and returns the path.
type broken struct {
	name string
	make func(t *testing.T, folder string) string
	o    Options
	code fault.Code
	says string
}

func file(name string, data []byte) func(*testing.T, string) string {
	return func(t *testing.T, folder string) string { return writeFile(t, folder, name, data) }
}

func files(all ...zipped) func(*testing.T, string) string {
	return func(t *testing.T, folder string) string {
		for _, f := range all {
			writeFile(t, folder, f.name, f.data)
		}
		return folder
	}
}

func brokenTIFFs() []broken {
	block := bytes.Repeat([]byte{9, 200, 30, 77}, 256) // 32 × 32
	good := greyTIFF(32, 32, block, 0)
	tag := func(tag uint16, values ...uint32) tiffEntry { return tiffEntry{tag, 4, values} }
	page := func(changed ...tiffEntry) func(*testing.T, string) string {
		return file("a.tif", greyTIFF(32, 32, block, 0, changed...))
	}
	return []broken{
		{name: "TIFF cut in its samples", make: file("a.tif", good[:len(good)-100]), code: fault.Malformed, says: "cut short"},
		{name: "TIFF cut in its directory", make: file("a.tif", good[:40]), code: fault.Malformed, says: "outside the file"},
		{name: "TIFF of eight bytes", make: file("a.tif", good[:8]), code: fault.Malformed, says: "outside the file"},
		{name: "TIFF of five bytes", make: file("a.tif", good[:5]), code: fault.Malformed, says: "outside the file"},
		{name: "TIFF without pages", make: file("a.tif", []byte("II*\x00\x00\x00\x00\x00")), code: fault.Malformed, says: "no page"},
		{name: "TIFF whose pages loop", make: file("a.tif", greyTIFF(32, 32, block, 8)), code: fault.Malformed, says: "loop"},
		{name: "TIFF with a page beyond the end", make: file("a.tif", greyTIFF(32, 32, block, 1<<30)), code: fault.Malformed, says: "page 1"},
		{name: "TIFF announcing 20000 × 20000", make: page(tag(tagImageWidth, 20000), tag(tagImageLength, 20000), tag(tagRowsPerStrip, 20000)), code: fault.Malformed, says: "cannot hold"},
		{name: "TIFF announcing 4 billion", make: page(tag(tagImageWidth, math.MaxUint32), tag(tagImageLength, math.MaxUint32)), code: fault.TooLarge, says: "more than"},
		{name: "TIFF of deflated 20000 × 20000", make: page(tag(tagImageWidth, 20000), tag(tagImageLength, 20000), tag(tagRowsPerStrip, 20000), tag(tagCompression, 8)), code: fault.Malformed, says: "cannot hold"},
		{name: "TIFF with giant tiles", make: page(tag(tagStripOffsets), tag(tagStripByteCounts), tag(tagRowsPerStrip), tag(tagTileWidth, 16000), tag(tagTileLength, 16000), tag(tagTileOffsets, 8), tag(tagTileByteCounts, 1000)), code: fault.Malformed, says: "tiles"},
		{name: "TIFF of no rows", make: page(tag(tagImageLength, 0)), code: fault.Malformed, says: "empty"},
		{name: "TIFF without a width", make: page(tag(tagImageWidth)), code: fault.Malformed, says: "empty"},
		{name: "TIFF strips of no rows", make: page(tag(tagRowsPerStrip, 0)), code: fault.Malformed, says: "no rows"},
		{name: "TIFF with too few strips", make: page(tag(tagRowsPerStrip, 8)), code: fault.Malformed, says: "expected 4"},
		{name: "TIFF without strips", make: page(tag(tagStripOffsets)), code: fault.Malformed, says: "where its samples are"},
		{name: "TIFF without strip sizes", make: page(tag(tagStripByteCounts)), code: fault.Malformed, says: "sizes of strips"},
		{name: "TIFF of 12 bits", make: page(tag(tagBitsPerSample, 12)), code: fault.Unsupported, says: "12 bits"},
		{name: "TIFF of 1 bit", make: page(tag(tagBitsPerSample)), code: fault.Unsupported, says: "1 bits"},
		{name: "TIFF of floats", make: page(tag(tagSampleFormat, 3)), code: fault.Unsupported, says: "floating point"},
		{name: "TIFF with a palette", make: page(tag(tagPhotometric, 3)), code: fault.Unsupported, says: "colour scheme"},
		{name: "TIFF of unknown colours", make: page(tag(tagPhotometric)), code: fault.Malformed, says: "coloured"},
		{name: "TIFF of fax", make: page(tag(tagCompression, 4)), code: fault.Unsupported, says: "compression 4"},
		{name: "TIFF deflated with garbage", make: page(tag(tagCompression, 8)), code: fault.Malformed, says: "unpacks"},
		{name: "TIFF of LZW with garbage", make: page(tag(tagCompression, 5)), code: fault.Malformed, says: "unpacks"},
		{name: "TIFF of PackBits cut short", make: page(tag(tagCompression, 32773)), code: fault.Malformed, says: "unpacks"},
		{name: "TIFF stored mirrored", make: page(tag(tagOrientation, 4)), code: fault.Unsupported, says: "mirrored"},
		{name: "TIFF with 64-bit offsets", make: file("a.tif", []byte("II+\x00\x08\x00\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00")), code: fault.Unsupported, says: "BigTIFF"},
		{name: "TIFF whose pages share their bytes", make: file("a.tif", func() []byte {
			// 400 directories, each with the samples of the first.
			out := greyTIFF(32, 32, block, 0)
			end, directory := 8+2+12*int(out[8]), out[8:8+2+12*int(out[8])]
			for range 400 {
				next := len(out)
				binary.LittleEndian.PutUint32(out[end:], uint32(next))
				out = append(append(out, directory...), 0, 0, 0, 0)
				end = len(out) - 4
			}
			return out
		}()), code: fault.Malformed, says: "bytes of their own"},
		{name: "TIFF hiding 49 pictures behind one page", make: file("a.tif", func() []byte {
			text := "ImageJ=1\nimages=49\nslices=49\n\x00"
			data := append(bytes.Clone(block), text...)
			out := greyTIFF(32, 32, data, 0, tiffEntry{tagStripByteCounts, 4, []uint32{1024}}, tiffEntry{tagDescription, 2, []uint32{0xdead}})
			// The entry was written as one value: make it text at its place.
			i := bytes.Index(out, []byte{0xad, 0xde, 0, 0})
			binary.LittleEndian.PutUint32(out[i-4:], uint32(len(text)))
			binary.LittleEndian.PutUint32(out[i:], uint32(bytes.Index(out, []byte("ImageJ"))))
			return out
		}()), code: fault.Unsupported, says: "announces 49"},
	}
}

func brokenPictures(t *testing.T) []broken {
	grey := pngBytes(t, greyPicture(64, 48))
	lossy := jpegBytes(t, greyPicture(64, 48))
	colour := image.NewRGBA(image.Rect(0, 0, 64, 48))
	clear := image.NewNRGBA(image.Rect(0, 0, 64, 48))
	for i := range 64 * 48 {
		colour.Set(i%64, i/64, color.RGBA{200, uint8(i), 30, 255})
		clear.Set(i%64, i/64, color.NRGBA{uint8(i), uint8(i), uint8(i), 128})
	}
	exif := append(append(bytes.Clone(lossy[:2]), "\xff\xe1\x00\x22Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x04\x00\x00\x00\x00\x00\x00"...), lossy[2:]...)
	return []broken{
		{name: "PNG cut short", make: file("a.png", grey[:len(grey)/2]), code: fault.Malformed, says: "damaged"},
		{name: "PNG of its signature", make: file("a.png", grey[:8]), code: fault.Malformed, says: "damaged"},
		{name: "PNG with a flipped byte", make: file("a.png", func() []byte { b := bytes.Clone(grey); b[60] ^= 1; return b }()), code: fault.Malformed, says: "damaged"},
		{name: "PNG announcing 19000 × 19000", make: file("a.png", pngHead(19000, 19000)), code: fault.Malformed, says: "cannot hold"},
		{name: "PNG announcing 2 billion", make: file("a.png", pngHead(math.MaxInt32, math.MaxInt32)), code: fault.Unsupported, says: "not read"},
		{name: "PNG of no rows", make: file("a.png", pngHead(10, 0)), code: fault.Malformed},
		{name: "PNG in colour", make: file("a.png", pngBytes(t, colour)), code: fault.Unsupported, says: "crop and export the B-scan in grey"},
		{name: "JPEG in colour", make: file("a.jpg", jpegBytes(t, colour)), code: fault.Unsupported, says: "crop and export the B-scan in grey"},
		{name: "PNG half transparent", make: file("a.png", pngBytes(t, clear)), code: fault.Unsupported, says: "transparent"},
		{name: "JPEG cut in its samples", make: file("a.jpg", lossy[:len(lossy)-60]), code: fault.Malformed, says: "damaged"},
		{name: "JPEG cut in its head", make: file("a.jpg", lossy[:30]), code: fault.Malformed, says: "damaged"},
		{name: "JPEG announcing 19000 × 19000", make: file("a.jpg", withJPEGSize(lossy, 19000, 19000)), code: fault.Malformed, says: "cannot hold"},
		{name: "JPEG announcing 65535 × 65535", make: file("a.jpg", withJPEGSize(lossy, 65535, 65535)), code: fault.TooLarge},
		{name: "JPEG of no rows", make: file("a.jpg", withJPEGSize(lossy, 64, 0)), code: fault.Malformed},
		{name: "JPEG stored turned", make: file("a.jpg", exif), code: fault.Unsupported, says: "mirrored"},
		{name: "GIF", make: file("a.gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00")), code: fault.Unsupported, says: "GIF"},
		{name: "PDF named png", make: file("a.png", []byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3")), code: fault.Unsupported, says: "PDF"},
		{name: "text named tif", make: file("a.tif", []byte("no picture\n")), code: fault.Malformed, says: "text"},
		{name: "empty file", make: file("a.tif", nil), code: fault.Malformed, says: "empty"},
		{name: "unknown bytes", make: file("a.bin", []byte{0, 1, 2, 3, 255, 254}), code: fault.Malformed, says: "no kind"},
	}
}

func brokenFolders(t *testing.T) []broken {
	grey, small := pngBytes(t, greyPicture(64, 48)), pngBytes(t, greyPicture(32, 48))
	deep := image.NewGray16(image.Rect(0, 0, 64, 48))
	stack := greyTIFF(32, 32, bytes.Repeat([]byte{1, 2}, 512), 0)
	lossy := jpegBytes(t, greyPicture(64, 48))
	return []broken{
		{name: "missing path", make: func(_ *testing.T, f string) string { return filepath.Join(f, "none.tif") }, code: fault.NotFound, says: "no such"},
		{name: "path through a file", make: func(t *testing.T, f string) string { return filepath.Join(writeFile(t, f, "a.tif", stack), "b") }, code: fault.NotFound},
		{name: "name with a zero byte", make: func(_ *testing.T, f string) string { return f + "\x00x" }, code: fault.Invalid},
		{name: "name too long", make: func(_ *testing.T, f string) string { return filepath.Join(f, strings.Repeat("x", 5000)) }, code: fault.Invalid, says: "too long"},
		{name: "empty folder", make: files(), code: fault.Malformed, says: "no slices"},
		{name: "folder of text", make: files(zipped{"a.txt", []byte("x")}, zipped{"b.md", []byte("y")}), code: fault.Malformed, says: "no slices"},
		{name: "folder of hidden files", make: files(zipped{".a.png", grey}, zipped{"__MACOSX/b.png", grey}), code: fault.Malformed, says: "no slices"},
		{name: "folder of two sizes", make: files(zipped{"a.png", grey}, zipped{"b.png", small}, zipped{"c.png", grey}), code: fault.Conflict, says: "32 × 48 samples of 8 bits (b.png)"},
		{name: "folder of two depths", make: files(zipped{"a.png", grey}, zipped{"b.png", pngBytes(t, deep)}), code: fault.Conflict, says: "16 bits"},
		{name: "folder of two kinds", make: files(zipped{"a.png", grey}, zipped{"b.jpg", lossy}), code: fault.Conflict, says: "several kinds"},
		{name: "folder with a broken slice", make: files(zipped{"a.png", grey}, zipped{"b.png", grey[:200]}), code: fault.Malformed, says: "b.png"},
		{name: "folder with an empty slice", make: files(zipped{"a.png", grey}, zipped{"b.png", nil}), code: fault.Malformed, says: "b.png: the file is empty"},
		{name: "folder with text for a slice", make: files(zipped{"a.png", grey}, zipped{"b.png", []byte("gone")}), code: fault.Malformed, says: "b.png: the file holds text"},
		{name: "folder of folders of slices", make: files(zipped{"x/a.png", grey}, zipped{"y/b.png", grey}), code: fault.Conflict, says: "several folders"},
		{name: "both eyes in a folder", make: files(zipped{"OD_1.png", grey}, zipped{"OS_1.png", grey}), code: fault.Conflict, says: "sources of the side disagree"},
		{name: "folder beyond the number of files", make: files(zipped{"a.png", grey}, zipped{"b.png", grey}), o: Options{Limits: Limits{Entries: 1}}, code: fault.TooLarge, says: "at most 1"},
		{name: "file beyond the number of bytes", make: file("a.tif", stack), o: Options{Limits: Limits{FileBytes: 100}}, code: fault.TooLarge},
		{name: "scan beyond the number of samples", make: file("a.tif", stack), o: Options{Limits: Limits{Samples: 100}}, code: fault.TooLarge, says: "1024 samples"},
		{name: "links in a circle", make: func(t *testing.T, f string) string {
			a, b := filepath.Join(f, "a.tif"), filepath.Join(f, "b.tif")
			symlink(t, b, a)
			symlink(t, a, b)
			return a
		}, code: fault.Invalid, says: "circle"},
		{name: "folder linked into itself, nothing else", make: func(t *testing.T, f string) string {
			symlink(t, f, filepath.Join(f, "again"))
			return f
		}, code: fault.Malformed, says: "no slices"},
		{name: "side file too long", make: files(zipped{"a.png", grey}, zipped{"scan.yaml", bytes.Repeat([]byte("# long\n"), 20000)}), code: fault.TooLarge, says: "scan.yaml"},
		{name: "scale of nothing", make: file("a.tif", stack), o: Options{Scale: GivenScale{DepthUM: new(0.0)}}, code: fault.Invalid, says: "0 µm"},
		{name: "negative scale", make: file("a.tif", stack), o: Options{Scale: GivenScale{LateralUM: new(-1.0)}}, code: fault.Invalid, says: "-1 µm"},
		{name: "scale that is no number", make: file("a.tif", stack), o: Options{Scale: GivenScale{SliceUM: new(math.NaN())}}, code: fault.Invalid, says: "not a number"},
		{name: "scale of 1e9", make: file("a.tif", stack), o: Options{Scale: GivenScale{SliceUM: new(1e9)}}, code: fault.Invalid, says: "1e+09"},
	}
}

func brokenZips(t *testing.T) []broken {
	grey := pngBytes(t, greyPicture(64, 48))
	good := zipBytes(t, zipped{"a.png", grey})
	zeros := make([]byte, 8<<20)
	copy(zeros, grey)
	return []broken{
		{name: "zip cut short", make: file("a.zip", good[:len(good)-30]), code: fault.Malformed, says: "cut short"},
		{name: "zip of four bytes", make: file("a.zip", good[:4]), code: fault.Malformed},
		{name: "empty zip", make: file("a.zip", zipBytes(t)), code: fault.Malformed, says: "no slices"},
		{name: "zip of text", make: file("a.zip", zipBytes(t, zipped{"a.txt", []byte("x")})), code: fault.Malformed, says: "no slices"},
		{name: "encrypted zip", make: file("a.zip", encryptedZip(good)), code: fault.Unsupported, says: "encrypted"},
		{name: "zip in a zip", make: file("a.zip", zipBytes(t, zipped{"b.zip", good})), code: fault.Unsupported, says: "zip inside a zip"},
		{name: "zip announcing 1.9 GB", make: file("a.zip", lyingZip(good, 1900<<20)), code: fault.Malformed, says: "announces"},
		{name: "zip with control characters in a name", make: file("a.zip", lyingZip(zipBytes(t, zipped{"\x00\n\xe0.png", grey}), 1900<<20)), code: fault.Malformed, says: "···.png: announces"},
		{name: "zip announcing too little", make: file("a.zip", lyingZip(good, 100)), code: fault.Malformed},
		{name: "zip with a damaged entry", make: file("a.zip", func() []byte { b := bytes.Clone(good); b[60] ^= 0xff; return b }()), code: fault.Malformed},
		{name: "zip that grows beyond the limit", make: file("a.zip", zipBytes(t, zipped{"a.png", zeros})), o: Options{Limits: Limits{FileBytes: 1 << 20}}, code: fault.TooLarge},
		{name: "zip of many growing files", make: file("a.zip", zipBytes(t, zipped{"a.png", zeros}, zipped{"b.png", zeros}, zipped{"c.png", zeros})), o: Options{Limits: Limits{TotalBytes: 20 << 20}}, code: fault.TooLarge},
		{name: "zip with too many files", make: file("a.zip", zipBytes(t, zipped{"a.png", grey}, zipped{"b.png", grey})), o: Options{Limits: Limits{Entries: 1}}, code: fault.TooLarge},
		{name: "zip of a picture announcing 19000 × 19000", make: file("a.zip", zipBytes(t, zipped{"a.png", pngHead(19000, 19000)})), code: fault.Malformed, says: "cannot hold"},
		{name: "zip with a name twice", make: file("a.zip", zipBytes(t, zipped{"a.png", grey}, zipped{"a.png", grey})), code: fault.Malformed, says: "stands twice"},
		{name: "zip of two kinds", make: file("a.zip", zipBytes(t, zipped{"a.png", grey}, zipped{"b.tif", greyTIFF(32, 32, make([]byte, 1024), 0)})), code: fault.Conflict, says: "several kinds"},
	}
}

func symlink(t *testing.T, to, at string) {
	t.Helper()
	if err := os.Symlink(to, at); err != nil {
		t.Fatal(err)
	}
}

// Every broken input gives one line with the right code, no panic, and takes
// less than 64 MiB in all, whatever sizes it announces.
func TestBrokenInputs(t *testing.T) {
	var all []broken
	all = append(all, brokenTIFFs()...)
	all = append(all, brokenPictures(t)...)
	all = append(all, brokenFolders(t)...)
	all = append(all, brokenZips(t)...)
	if len(all) < 80 {
		t.Fatalf("only %d broken inputs", len(all))
	}
	for _, c := range all {
		t.Run(c.name, func(t *testing.T) {
			p := c.make(t, t.TempDir())
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			v, err := Open(context.Background(), p, c.o)
			runtime.ReadMemStats(&after)
			if err == nil || v != nil {
				t.Fatalf("opened: %v", v)
			}
			if fault.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
				t.Errorf("code %s, line %q; want %s, %q", fault.CodeOf(err), err, c.code, c.says)
			}
			if line := err.Error(); strings.ContainsAny(line, "\n\x00") || len(line) > 600 {
				t.Errorf("not one clear line: %q", line)
			}
			if taken := after.TotalAlloc - before.TotalAlloc; taken > 64<<20 {
				t.Errorf("%d MiB were allocated", taken>>20)
			}
		})
	}
}
