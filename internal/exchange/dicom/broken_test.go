package dicom

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"limitans/fault"
)

// small returns a file with one 8-bit frame of rows × columns, to be broken.
func small(syntax string, rows, columns int, change func(f *File)) []byte {
	s, ok := LookupSyntax(syntax)
	if !ok {
		panic(syntax)
	}
	f := NewFile(s, "1.2.840.10008.5.1.4.1.1.7", "2.25.1")
	f.Put(TagSamplesPerPixel, "US", 1)
	f.Put(TagPhotometric, "CS", "MONOCHROME2")
	f.Put(TagRows, "US", rows)
	f.Put(TagColumns, "US", columns)
	f.Put(TagBitsAllocated, "US", 8)
	f.Put(TagBitsStored, "US", 8)
	f.Put(TagHighBit, "US", 7)
	f.Put(TagPixelRepresentation, "US", 0)
	f.Put(TagPixelData, "OB", make([]byte, 16))
	if change != nil {
		change(f)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		panic(err)
	}
	return out.Bytes()
}

const (
	rleUID      = "1.2.840.10008.1.2.5"
	baselineUID = "1.2.840.10008.1.2.4.50"
	j2kUID      = "1.2.840.10008.1.2.4.90"
)

// fragments puts encapsulated pixel data.
func fragments(parts ...[]byte) func(*File) {
	return func(f *File) {
		f.Put(TagPixelData, "OB", nil)
		e := f.Find(TagPixelData)
		e.Undefined, e.Fragments = true, parts
	}
}

// rleFrame returns a frame of run-length segments of the given offsets.
func rleFrame(count uint32, offsets []uint32, body ...byte) []byte {
	b := make([]byte, 64)
	binary.LittleEndian.PutUint32(b, count)
	for i, o := range offsets {
		binary.LittleEndian.PutUint32(b[4+4*i:], o)
	}
	return append(b, body...)
}

func put(tag Tag, vr VR, value any) func(*File) { return func(f *File) { f.Put(tag, vr, value) } }

func without(tag Tag) func(*File) {
	return func(f *File) {
		var kept []Element
		for _, e := range f.Elements {
			if e.Tag != tag {
				kept = append(kept, e)
			}
		}
		f.Elements = kept
	}
}

// edit replaces bytes; the old ones must be there once.
func edit(data []byte, old, replacement string) []byte {
	if bytes.Count(data, []byte(old)) != 1 {
		panic(fmt.Sprintf("%q is there %d times", old, bytes.Count(data, []byte(old))))
	}
	return bytes.Replace(data, []byte(old), []byte(replacement), 1)
}

// nested returns sequences in sequences, each of undefined length.
func nested(depth int) []byte {
	data := small(ExplicitLittleEndian, 4, 4, without(TagPixelData))
	for range depth {
		data = append(data, "\x00\x52\x29\x92SQ\x00\x00\xff\xff\xff\xff\xfe\xff\x00\xe0\xff\xff\xff\xff"...)
	}
	return data
}

// manyElements returns a sequence of so many empty items.
func manyElements(n int) []byte {
	data := small(ExplicitLittleEndian, 4, 4, without(TagPixelData))
	data = append(data, "\x00\x52\x29\x92SQ\x00\x00\xff\xff\xff\xff"...)
	return append(data, bytes.Repeat([]byte("\xfe\xff\x00\xe0\x00\x00\x00\x00"), n)...)
}

// deflateBomb returns a deflated file of n zero bytes.
func deflateBomb(n int) []byte {
	data := small(DeflatedLittleEndian, 4, 4, nil)
	start, err := (&reader{data: data}).meta(&File{})
	if err != nil {
		panic(err)
	}
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestCompression)
	if err != nil {
		panic(err)
	}
	zeros := make([]byte, 1<<16)
	for i := 0; i < n; i += len(zeros) {
		_, _ = w.Write(zeros)
	}
	_ = w.Close()
	return append(data[:start:start], b.Bytes()...)
}

// brokenFile is one kind of broken input with what must be said of it.
type brokenFile struct {
	name string
	data []byte
	code fault.Code
	says []string
}

func brokenFiles(t testing.TB) []brokenFile {
	all := vectors(t)
	ok := small(ExplicitLittleEndian, 4, 4, nil)
	deflated := small(DeflatedLittleEndian, 4, 4, nil)
	const rows = "\x28\x00\x10\x00US\x02\x00\x04\x00"
	le, m := ExplicitLittleEndian, fault.Malformed
	return []brokenFile{
		{"empty", nil, m, []string{"DICM", "not a DICOM file"}},
		{"text named .dcm", []byte(strings.Repeat("slice,thickness\n", 40)), m, []string{"DICM"}},
		{"preamble alone", ok[:132], m, []string{"(0002,0010) TransferSyntaxUID", "does not say"}},
		{"cut in the meta group", ok[:150], m, []string{"(0002,0001) FileMetaInformationVersion at byte 144"}},
		{"cut after the meta group's length", ok[:144], m, []string{"(0002,0000)", "meta group"}},
		{"false meta length", edit(ok, "UL\x04\x00", "UL\x04\x00\x10\x00\x00\x00"), m, []string{"(0002,"}},
		{"unknown syntax", edit(ok, le+"\x00", "1.2.840.10008.1.2.7\x00"), fault.Unsupported, []string{"(0002,0010) TransferSyntaxUID", `"1.2.840.10008.1.2.7"`}},
		{"no syntax", edit(ok, le+"\x00", strings.Repeat("\x00", 20)), m, []string{"(0002,0010)"}},
		{"cut in a header", ok[:len(ok)-16-4], m, []string{"(7FE0,0010) PixelData at byte", "cut off"}},
		{"cut in a value", ok[:len(ok)-1], m, []string{"(7FE0,0010) PixelData", "16 bytes and 15 are left"}},
		{"cut in a tag", ok[:len(ok)-16-9], m, []string{"too few for an element"}},
		{"length beyond the file", edit(ok, rows, "\x28\x00\x10\x00US\xf0\xff\x04\x00"), m, []string{"(0028,0010) Rows", "65520 bytes"}},
		{"length 4 GB", edit(ok, "OB\x00\x00\x10\x00\x00\x00", "OB\x00\x00\xfe\xff\xff\xff"), m, []string{"(7FE0,0010)", "4294967294"}},
		{"implicit called explicit", edit(small(ImplicitLittleEndian, 4, 4, nil), ImplicitLittleEndian+"\x00\x02\x00", ImplicitLittleEndian+".1\x02\x00"), m, nil},
		{"explicit called big endian", edit(ok, le+"\x00", "1.2.840.10008.1.2.2\x00"), m, []string{"at byte"}},
		{"no representation", edit(ok, rows, "\x28\x00\x10\x00u!\x02\x00\x04\x00"), m, []string{"(0028,0010) Rows", "75 21", "not in the transfer syntax"}},
		{"reserved bytes", edit(ok, "OB\x00\x00\x10\x00", "OB\x01\x00\x10\x00"), m, []string{"reserved bytes"}},
		{"descending tags", edit(ok, rows, "\x10\x00\x10\x00US\x02\x00\x04\x00"), m, []string{"(0010,0010) PatientName", "ascending tags"}},
		{"tag twice", edit(ok, rows, "\x28\x00\x11\x00US\x02\x00\x04\x00"), m, []string{"(0028,0011) Columns", "twice"}},
		{"delimiter outside", edit(ok, rows, "\xfe\xff\x0d\xe0US\x02\x00\x04\x00"), m, []string{"(FFFE,E00D)", "outside a sequence"}},
		{"nesting bomb", nested(100_000), fault.TooLarge, []string{"(5200,9229) SharedFunctionalGroupsSequence", "nested"}},
		{"item bomb", manyElements(MaxElements + 1), fault.TooLarge, []string{"(5200,9229)", "1000000 elements"}},
		{"sequence without end", manyElements(3), m, []string{"(5200,9229)", "(FFFE,E0DD)"}},
		{"item without end", nested(1), m, []string{"(FFFE,E00D)"}},
		{"value with undefined length", edit(ok, "OB\x00\x00\x10\x00\x00\x00", "UT\x00\x00\xff\xff\xff\xff"), m, []string{"(7FE0,0010)", "undefined length"}},
		{"deflate bomb", deflateBomb(64 << 20), fault.TooLarge, []string{"deflated data set", "inflate to more than"}},
		{"deflated, cut", deflated[:len(deflated)-20], m, []string{"deflated data set"}},
		{"deflated, broken", append(deflated[:len(deflated)-30:len(deflated)-30], bytes.Repeat([]byte{0xFF}, 30)...), m, []string{"deflated data set"}},
		{"deflated, followed by more", append(bytes.Clone(deflated), "more after it"...), m, []string{"follow the compressed data set"}},
		{"no rows", small(le, 4, 4, without(TagRows)), m, []string{"(0028,0010) Rows", "missing"}},
		{"zero rows", small(le, 0, 4, nil), m, []string{"(0028,0010) Rows at byte", "0 is impossible"}},
		{"rows as text", small(le, 4, 4, put(TagRows, "LO", "four")), m, []string{"(0028,0010) Rows", `"LO"`}},
		{"two rows", small(le, 4, 4, put(TagRows, "US", []int{4, 4})), m, []string{"(0028,0010) Rows", "2 values"}},
		{"rows of three bytes", small(le, 4, 4, func(f *File) { f.Find(TagRows).Value = []byte{1, 2, 3} }), m, []string{"(0028,0010) Rows", "3 bytes"}},
		{"giant size", small(le, 65535, 65535, nil), fault.TooLarge, []string{"(0028,0010) Rows"}},
		{"giant frames", small(le, 4, 4, put(TagNumberOfFrames, "IS", 2147483647)), fault.TooLarge, []string{"(0028,0008) NumberOfFrames"}},
		{"frames in words", small(le, 4, 4, put(TagNumberOfFrames, "IS", "many")), m, []string{"(0028,0008) NumberOfFrames", `"many"`}},
		{"negative frames", small(le, 4, 4, put(TagNumberOfFrames, "IS", -3)), m, []string{"(0028,0008) NumberOfFrames", "-3"}},
		{"no pixel data", small(le, 4, 4, without(TagPixelData)), m, []string{"(7FE0,0010) PixelData", "no pixel data"}},
		{"short pixel data", small(le, 4, 5, nil), m, []string{"(7FE0,0010) PixelData", "16 bytes", "expected 20"}},
		{"long pixel data", small(le, 3, 4, nil), m, []string{"16 bytes", "expected 12"}},
		{"32 bits", small(le, 4, 4, put(TagBitsAllocated, "US", 32)), fault.Unsupported, []string{"(0028,0100) BitsAllocated", "32"}},
		{"stored above allocated", small(le, 4, 4, put(TagBitsStored, "US", 9)), m, []string{"(0028,0102) HighBit", "9 bits stored"}},
		{"high bit too high", small(le, 4, 4, put(TagHighBit, "US", 8)), m, []string{"(0028,0102) HighBit"}},
		{"representation 2", small(le, 4, 4, put(TagPixelRepresentation, "US", 2)), m, []string{"(0028,0103) PixelRepresentation"}},
		{"palette", small(le, 4, 4, put(TagPhotometric, "CS", "PALETTE COLOR")), fault.Unsupported, []string{"(0028,0004) PhotometricInterpretation", "PALETTE COLOR"}},
		{"grey of three samples", small(le, 4, 4, put(TagSamplesPerPixel, "US", 3)), m, []string{"(0028,0002) SamplesPerPixel"}},
		{"float pixels", small(le, 4, 4, func(f *File) { without(TagPixelData)(f); f.Put(0x7FE00008, "OF", make([]byte, 64)) }), fault.Unsupported, []string{"(7FE0,0008)"}},
		{"native in a compressed syntax", small(baselineUID, 4, 4, nil), m, []string{"JPEG Baseline", "fragments"}},
		{"fragments in a native syntax", small(le, 4, 4, fragments(nil, make([]byte, 16))), m, []string{"Explicit VR Little Endian"}},
		{"no fragments", small(rleUID, 4, 4, fragments([]byte{})), m, []string{"0 fragments for 1 frames"}},
		{"offset table too long", small(rleUID, 4, 4, fragments(make([]byte, 8), make([]byte, 80))), m, []string{"basic offset table has 8 bytes"}},
		{"offset table to nowhere", small(rleUID, 4, 4, func(f *File) {
			fragments([]byte{0, 0, 0, 0, 9, 0, 0, 0}, make([]byte, 80), make([]byte, 80))(f)
			f.Put(TagNumberOfFrames, "IS", 2)
		}), m, []string{"offset 2 of the basic offset table"}},
		{"run-length header cut", small(rleUID, 4, 4, fragments(nil, make([]byte, 10))), m, []string{"frame 1", "header is cut off"}},
		{"run-length segments", small(rleUID, 4, 4, fragments(nil, rleFrame(2, []uint32{64, 66}, 0xF1, 7))), m, []string{"frame 1", "2 run-length segments"}},
		{"run-length offset outside", small(rleUID, 4, 4, fragments(nil, rleFrame(1, []uint32{900}, 0xF1, 7))), m, []string{"frame 1", "starts at 900"}},
		{"run-length offset in the header", small(rleUID, 4, 4, fragments(nil, rleFrame(1, []uint32{8}, 0xF1, 7))), m, []string{"starts at 8"}},
		{"run-length short", small(rleUID, 4, 4, fragments(nil, rleFrame(1, []uint32{64}, 0xFE, 7))), m, []string{"frame 1", "after 3 of 16"}},
		{"run-length long", small(rleUID, 4, 4, fragments(nil, rleFrame(1, []uint32{64}, 0xF0, 7))), m, []string{"more than 16"}},
		{"run-length with more behind", small(rleUID, 4, 4, fragments(nil, rleFrame(1, []uint32{64}, 0xF1, 7, 0, 0))), m, []string{"2 bytes follow the end"}},
		{"run-length far too large", small(rleUID, 8000, 8000, fragments(nil, rleFrame(1, []uint32{64}, 0xF1, 7))), m, []string{"66 bytes cannot hold"}},
		{"no JPEG", small(baselineUID, 4, 4, fragments(nil, []byte("not a picture at all"))), m, []string{"frame 1", "JPEG"}},
		{"JPEG cut", small(baselineUID, 4, 4, fragments(nil, []byte{0xFF, 0xD8, 0xFF, 0xC0, 0, 40, 8})), m, []string{"frame 1", "cut off"}},
		{"JPEG of another size", edit(all["ot8-baseline.dcm"], "\x28\x00\x10\x00US\x02\x00\x18\x00", "\x28\x00\x10\x00US\x02\x00\x19\x00"), m, []string{"frame 1", "24 rows × 20 columns", "25 × 20"}},
		{"JPEG-LS of another size", edit(all["ot8-jpegls.dcm"], "\x28\x00\x11\x00US\x02\x00\x14\x00", "\x28\x00\x11\x00US\x02\x00\x13\x00"), m, []string{"frame 1", "24 × 19"}},
		{"JPEG 2000 of another size", edit(all["ot8-j2k.dcm"], "\x28\x00\x11\x00US\x02\x00\x14\x00", "\x28\x00\x11\x00US\x02\x00\x13\x00"), m, []string{"frame 1", "24 × 19"}},
		{"no JPEG 2000", small(j2kUID, 4, 4, fragments(nil, []byte("not a picture, and long enough for a header"))), m, []string{"frame 1", "codestream"}},
		{"compressed giant", small(j2kUID, 20000, 20000, fragments(nil, make([]byte, 60))), fault.TooLarge, []string{"60 compressed bytes"}},
		{"more frames than fragments", small(baselineUID, 4, 4, func(f *File) { fragments(nil, make([]byte, 60))(f); f.Put(TagNumberOfFrames, "IS", 3) }), m, []string{"1 fragments for 3 frames"}},
		{"video", small("1.2.840.10008.1.2.4.102", 4, 4, fragments(nil, make([]byte, 60))), fault.Unsupported, []string{"MPEG", "1.2.840.10008.1.2.4.102"}},
		{"newest JPEG 2000", small("1.2.840.10008.1.2.4.201", 4, 4, fragments(nil, make([]byte, 60))), fault.Unsupported, []string{"High-Throughput", "1.2.840.10008.1.2.4.201"}},
	}
}

// TestBrokenFiles: each kind of broken file gives one clear line with the right
// code and place.
func TestBrokenFiles(t *testing.T) {
	cases := brokenFiles(t)
	if len(cases) < 50 {
		t.Fatalf("%d cases", len(cases))
	}
	for _, c := range cases {
		f, err := Parse(c.data)
		if err == nil {
			_, err = f.Pixels(nil)
		}
		if err == nil {
			t.Errorf("%s: no fault", c.name)
			continue
		}
		if code := fault.CodeOf(err); code != c.code {
			t.Errorf("%s: %s, want %s: %v", c.name, code, c.code, err)
		}
		for _, part := range c.says {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%s: %q does not say %q", c.name, err, part)
			}
		}
		if strings.ContainsAny(err.Error(), "\n\r\t") || len(err.Error()) > 400 {
			t.Errorf("%s: not one short line: %q", c.name, err)
		}
	}
}

// TestTruncated cuts every vector at many places: always a fault, never a
// panic, and never a whole image out of a part of the pixel data.
func TestTruncated(t *testing.T) {
	for name, data := range vectors(t) {
		step := max(1, len(data)/97)
		for n := 0; n < len(data); n += step {
			f, err := Parse(data[:n:n])
			if err == nil {
				_, err = f.Pixels(nil)
			}
			if err == nil {
				t.Errorf("%s cut at byte %d of %d is read as whole", name, n, len(data))
			} else if code := fault.CodeOf(err); code == fault.Internal {
				t.Errorf("%s cut at byte %d: %v", name, n, err)
			}
		}
	}
}

// TestBoundedMemory: broken files of at most some hundred kilobytes take no more
// than the stated bounds.
func TestBoundedMemory(t *testing.T) {
	for _, c := range brokenFiles(t) {
		if len(c.data) > 4<<20 {
			continue
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if f, err := Parse(c.data); err == nil {
			_, _ = f.Pixels(nil)
		}
		runtime.ReadMemStats(&after)
		// 4 MB and 128 bytes for every byte are plenty.
		if used := after.TotalAlloc - before.TotalAlloc; used > 4<<20+128*uint64(len(c.data)) {
			t.Errorf("%s: %d bytes of input took %d MB", c.name, len(c.data), used>>20)
		}
	}
}
