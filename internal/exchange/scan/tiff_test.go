package scan

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Vectors written by libtiff and tifffile, see testdata/tiff/make.py, which
// also gives the rule of their samples.
func TestTIFFVectors(t *testing.T) {
	paths, err := filepath.Glob("testdata/tiff/*.tif")
	if err != nil || len(paths) < 20 {
		t.Fatalf("%d vectors, %v", len(paths), err)
	}
	want := make([]uint16, 37*41)
	for i := range want {
		r, c := i/41, i%41
		want[i] = uint16((7*r + 3*c + r*c) % 251)
	}
	for _, p := range paths {
		v, err := Open(context.Background(), p, Options{})
		if err != nil {
			t.Errorf("%s: %v", p, err)
			continue
		}
		factor, bits := uint16(1), 8
		if strings.Contains(p, "-16") {
			factor, bits = 257, 16
		}
		same := v.Rows == 37 && v.Columns == 41 && v.BitDepth == bits
		for i, x := range v.Slice(0) {
			same = same && x == factor*want[i]
		}
		if !same {
			t.Errorf("%s: %d × %d of %d bits, or other samples", p, v.Rows, v.Columns, v.BitDepth)
		}
		notes := strings.Join(v.Notes, "\n")
		if strings.Contains(p, "white-is-zero") != strings.Contains(notes, "inverted") {
			t.Errorf("%s: notes %q", p, notes)
		}
		if strings.Contains(p, "pages") && (v.Slices != 3 || !slices.Equal(v.Slice(0), v.Slice(2)) || slices.Equal(v.Slice(0), v.Slice(1))) {
			t.Errorf("%s: %d pages", p, v.Slices)
		}
	}
}

// Colour and transparency in a TIFF are told, not turned into grey.
func TestTIFFColour(t *testing.T) {
	tag := func(tag uint16, values ...uint32) tiffEntry { return tiffEntry{tag, 4, values} }
	rgb := func(pixel ...byte) []byte {
		return greyTIFF(16, 16, bytes.Repeat(pixel, 256), 0, tag(tagPhotometric, 2), tag(tagSamplesPerPixel, uint32(len(pixel))), tag(tagBitsPerSample, slices.Repeat([]uint32{8}, len(pixel))...))
	}
	for _, c := range []struct {
		name string
		data []byte
		says string
		note string
	}{
		{"grey", rgb(40, 40, 40), "", ""},
		{"nearly grey", rgb(40, 42, 39), "", "rounding only"},
		{"colour", rgb(40, 90, 10), "colour screenshot", ""},
		{"opaque", rgb(40, 40, 40, 255), "", ""},
		{"transparent", rgb(40, 40, 40, 254), "transparent", ""},
	} {
		v, err := Open(context.Background(), writeFile(t, t.TempDir(), "a.tif", c.data), Options{})
		if c.says != "" {
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err != nil || (c.note != "") != strings.Contains(strings.Join(v.Notes, "\n"), "rounding") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// A reduced copy of the first page is passed over and named.
func TestTIFFReducedCopy(t *testing.T) {
	first := greyTIFF(32, 32, make([]byte, 1024), 0)
	second := greyTIFF(32, 32, bytes.Repeat([]byte{1, 5}, 512), uint32(0))
	// Put the second page behind the first by moving its offsets.
	shift := uint32(len(first) - 8)
	moved := bytes.Clone(second[8:])
	for i := range int(moved[0]) {
		e := moved[2+12*i:]
		if tag := uint16(e[0]) | uint16(e[1])<<8; tag == tagStripOffsets {
			at := uint32(e[8]) | uint32(e[9])<<8 + shift
			e[8], e[9] = byte(at), byte(at>>8)
		}
		if tag := uint16(e[0]) | uint16(e[1])<<8; tag == tagSamplesPerPixel {
			// Its missing value is 1, so the field is free to carry the mark.
			e[0], e[1], e[8] = tagNewSubfileType, 0, 1
		}
	}
	next := uint32(len(first))
	end := 8 + 2 + 12*int(first[8])
	first[end], first[end+1] = byte(next), byte(next>>8)
	v, err := Open(context.Background(), writeFile(t, t.TempDir(), "a.tif", append(first, moved...)), Options{})
	if err != nil || v.Slices != 1 || !strings.Contains(strings.Join(v.Notes, "\n"), "page 1 of the TIFF was passed over") {
		t.Fatalf("%v, %v", v, err)
	}
}
