package main

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/internal/exchange/scan"
)

func greyImage(columns, rows int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, columns, rows))
	v := inventedVolume(1, rows, columns)
	for i := range m.Pix {
		m.Pix[i] = uint8(v.Samples[i])
	}
	return m
}

func encodePNG(t *testing.T, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodeJPEG(t *testing.T, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// announcing replaces the size in the head of a PNG and mends nothing else.
func announcing(data []byte, columns, rows uint32) []byte {
	out := bytes.Clone(data)
	binary.BigEndian.PutUint32(out[16:], columns)
	binary.BigEndian.PutUint32(out[20:], rows)
	return out
}

// jpegOf replaces the size in the frame header of a JPEG.
func jpegOf(data []byte, columns, rows uint16) []byte {
	out := bytes.Clone(data)
	i := bytes.Index(out, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(out[i+5:], rows)
	binary.BigEndian.PutUint16(out[i+7:], columns)
	return out
}

func colourImage() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range 64 * 48 {
		m.Set(i%64, i/64, color.RGBA{200, uint8(i), 30, 255})
	}
	return m
}

func brokenPictures(t *testing.T) []brokenInput {
	grey, lossy := encodePNG(t, greyImage(96, 80)), encodeJPEG(t, greyImage(96, 80))
	in := func(name, file string, data []byte, says string) brokenInput {
		return brokenInput{name: name, make: brokenFile(file, data), code: exitCannotMeasure, says: says}
	}
	return []brokenInput{
		in("PNG cut short", "a.png", grey[:len(grey)/2], "the PNG is damaged"),
		in("PNG with a flipped bit", "a.png", func() []byte { b := bytes.Clone(grey); b[len(b)/2] ^= 4; return b }(), "checksum"),
		in("PNG announcing 2 billion", "a.png", announcing(grey, 1<<31-1, 1<<31-1), "is not read"),
		in("PNG in colour", "a.png", encodePNG(t, colourImage()), "in grey"),
		in("PNG all black", "a.png", encodePNG(t, image.NewGray(image.Rect(0, 0, 96, 80))), "tissue cannot be told from vitreous"),
		in("PNG of one sample", "a.png", encodePNG(t, greyImage(1, 1)), "too small to trace"),
		in("PNG of one row", "a.png", encodePNG(t, greyImage(96, 1)), "too small to trace"),
		in("PNG of one column", "a.png", encodePNG(t, greyImage(1, 80)), "too small to trace"),
		in("JPEG cut short", "a.jpg", lossy[:len(lossy)/2], "the JPEG is damaged"),
		in("JPEG announcing 65535 × 65535", "a.jpg", jpegOf(lossy, 65535, 65535), "more than this program takes"),
		in("JPEG of no rows", "a.jpg", jpegOf(lossy, 96, 0), "is empty"),
		in("JPEG of its first bytes", "a.jpg", lossy[:4], "the JPEG is damaged"),
		in("GIF", "a.gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), "a GIF picture"),
		in("PDF named dcm", "a.dcm", []byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3"), "a PDF document"),
		in("text named dcm", "a.dcm", []byte("no scan, only text\n"), "holds text"),
		in("empty file", "a.dcm", nil, "the file is empty"),
		in("one zero byte", "a.tif", []byte{0}, "of no kind"),
		in("HTML named png", "a.png", []byte("<!DOCTYPE html><html><body>log in</body></html>"), "holds text"),
		in("bytes of no kind", "a.bin", []byte{0, 1, 2, 3, 255, 254}, "of no kind"),
	}
}

// tiffPage is a little-endian TIFF of one page of 32 × 32 samples of 8 bits,
// with the values of some tags replaced (TIFF revision 6.0, Adobe 1992).
func tiffPage(changed map[uint16]uint32) []byte {
	le := binary.LittleEndian
	tags := []uint16{256, 257, 258, 259, 262, 273, 277, 278, 279}
	values := map[uint16]uint32{256: 32, 257: 32, 258: 8, 259: 1, 262: 1, 273: 8 + 2 + 12*9 + 4, 277: 1, 278: 32, 279: 1024}
	out := []byte("II*\x00\x08\x00\x00\x00\x09\x00")
	for _, tag := range tags {
		value := values[tag]
		if v, is := changed[tag]; is {
			value = v
		}
		out = le.AppendUint16(out, tag)
		out = le.AppendUint16(out, 4)
		out = le.AppendUint32(out, 1)
		out = le.AppendUint32(out, value)
	}
	out = le.AppendUint32(out, changed[0]) // the place of the next page
	return append(out, bytes.Repeat([]byte{9, 200, 30, 77}, 256)...)
}

func brokenTIFF() []brokenInput {
	in := func(name string, data []byte, says string) brokenInput {
		return brokenInput{name: "TIFF " + name, make: brokenFile("a.tif", data), code: exitCannotMeasure, says: says}
	}
	page := func(tag uint16, value uint32) []byte { return tiffPage(map[uint16]uint32{tag: value}) }
	good := tiffPage(nil)
	return []brokenInput{
		in("cut in its samples", good[:len(good)-100], "cut short"),
		in("cut in its directory", good[:40], "cut short"),
		in("of eight bytes", good[:8], "outside the file"),
		in("whose pages loop", page(0, 8), "runs in a loop"),
		in("with a page beyond its end", page(0, 1<<30), "outside the file"),
		in("announcing 4 billion columns", page(256, 1<<32-1), "more than this program takes"),
		in("announcing 20000 × 20000", tiffPage(map[uint16]uint32{256: 20000, 257: 20000, 278: 20000}), "cannot hold"),
		in("of no rows", page(257, 0), "is empty"),
		in("of 12 bits", page(258, 12), "12 bits"),
		in("with a palette", page(262, 3), "export in grey"),
		in("deflated with garbage", page(259, 8), "unpacks to 0 bytes"),
		in("of a compression of faxes", page(259, 4), "compression 4"),
		in("whose samples lie outside", page(273, 1<<30), "cut short"),
	}
}

func brokenFolders(t *testing.T) []brokenInput {
	grey, small := encodePNG(t, greyImage(96, 80)), encodePNG(t, greyImage(64, 80))
	in := func(name string, make func(*testing.T, string) string, says string) brokenInput {
		return brokenInput{name: name, make: make, code: exitCannotMeasure, says: says}
	}
	return []brokenInput{
		in("no such path", func(_ *testing.T, f string) string { return filepath.Join(f, "none.tif") }, "none.tif: there is no such"),
		in("path through a file", func(t *testing.T, f string) string { return filepath.Join(brokenFile("a", nil)(t, f), "b") }, "is a file, not a folder"),
		in("name too long", func(_ *testing.T, f string) string { return filepath.Join(f, strings.Repeat("x", 300)) }, "too long"),
		in("links in a circle", func(t *testing.T, f string) string {
			a, b := filepath.Join(f, "a.tif"), filepath.Join(f, "b.tif")
			for _, link := range [][2]string{{a, b}, {b, a}} {
				if err := os.Symlink(link[0], link[1]); err != nil {
					t.Fatal(err)
				}
			}
			return a
		}, "round in a circle"),
		in("empty folder", brokenFolder(), "holds no slices"),
		in("folder of text", brokenFolder(member{"a.txt", []byte("x")}, member{"b.md", []byte("y")}), "holds no slices"),
		in("folder of mixed sizes", brokenFolder(member{"a.png", grey}, member{"b.png", small}), "slices differ in size"),
		in("folder of mixed kinds", brokenFolder(member{"a.png", grey}, member{"b.jpg", encodeJPEG(t, greyImage(96, 80))}), "several kinds"),
		in("folder with a broken slice", brokenFolder(member{"a.png", grey}, member{"b.png", grey[:60]}), "b.png: the PNG is damaged"),
		in("folder of folders", brokenFolder(member{"x/a.png", grey}, member{"y/b.png", grey}), "several folders"),
		in("folder of both eyes", brokenFolder(member{"OD_1.png", grey}, member{"OS_1.png", grey}), "disagree"),
		in("side file that is no YAML", brokenFolder(member{"a.png", grey}, member{"scan.yaml", []byte("depth_um: [3\n")}), "YAML"),
		in("side file with an unknown key", brokenFolder(member{"a.png", grey}, member{"scan.yaml", []byte("depth: 3\n")}), "scan.yaml"),
		in("side file with a scale of NaN", brokenFolder(member{"a.png", grey}, member{"scan.yaml", []byte("depth_um: .nan\n")}), "is not a number"),
		in("side file with an eye of 310 mm", brokenFolder(member{"a.png", grey}, member{"scan.yaml", []byte("axial_length_mm: 310\n")}), "was 31 mm meant?"),
	}
}

func brokenZips(t *testing.T) []brokenInput {
	grey := encodePNG(t, greyImage(96, 80))
	zipped := func(members ...member) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for _, m := range members {
			e, err := w.Create(m.name)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := e.Write(m.data); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	// changed sets bytes behind the heads of all entries.
	changed := func(data []byte, local, central int, value byte) []byte {
		out := bytes.Clone(data)
		for i := range len(out) - 4 {
			switch string(out[i : i+4]) {
			case "PK\x03\x04":
				out[i+local] = value
			case "PK\x01\x02":
				out[i+central] = value
			}
		}
		return out
	}
	good := zipped(member{"a.png", grey})
	bomb := append(bytes.Clone(grey[:200]), make([]byte, 16<<20)...)
	in := func(name string, data []byte, says string) brokenInput {
		return brokenInput{name: "zip " + name, make: brokenFile("a.zip", data), code: exitCannotMeasure, says: says}
	}
	return []brokenInput{
		in("cut short", good[:len(good)-30], "not one cut short"),
		in("empty", zipped(), "holds no slices"),
		in("of text", zipped(member{"a.txt", []byte("x")}), "holds no slices"),
		in("encrypted", changed(good, 6, 8, 9), "encrypted"),
		in("in a zip", zipped(member{"b.zip", good}), "zip inside a zip"),
		in("with an unknown packing", changed(good, 8, 10, 99), "does not unpack"),
		in("that grows a thousandfold", zipped(member{"a.png", bomb}), "damaged"),
		in("announcing 4 GB", func() []byte {
			out := bytes.Clone(good)
			binary.LittleEndian.PutUint32(out[bytes.Index(out, []byte("PK\x01\x02"))+24:], 1<<32-2)
			return out
		}(), "2048 MiB"),
		in("with a name twice", zipped(member{"a.png", grey}, member{"a.png", grey}), "stands twice"),
		in("of mixed sizes", zipped(member{"a.png", grey}, member{"b.png", encodePNG(t, greyImage(64, 80))}), "slices differ in size"),
		in("with a line break in a name", zipped(member{"a\nb\x1b[31m.png", grey[:50]}), "a·b·[31m.png"),
	}
}

// brokenFlags are wrong uses on a good scan.
func brokenFlags(t *testing.T) []brokenInput {
	var b bytes.Buffer
	if err := scan.WriteTIFF(&b, inventedVolume(2, 64, 48)); err != nil {
		t.Fatal(err)
	}
	in := func(name, says string, flags ...string) brokenInput {
		return brokenInput{name: name, make: brokenFile("a.tif", b.Bytes()), flags: flags, code: exitWrongUse, says: says}
	}
	return []brokenInput{
		{name: "no name", make: func(*testing.T, string) string { return "" }, code: exitWrongUse, says: "names no scan"},
		in("scale of NaN", `"nan" is no number`, "--scale", "nan,5,30"),
		in("scale of nothing", "0 µm per sample cannot be", "--scale", "0,5,30"),
		in("scale beyond floats", "no number", "--scale", "1e999,5,30"),
		in("scale with a decimal comma", "4 numbers", "--scale", "3,87,5,31"),
		in("eye of 310 mm", "was 31 mm meant?", "--axial-length", "310"),
		in("side of neither", "does not name a side", "--eye", "both"),
	}
}
