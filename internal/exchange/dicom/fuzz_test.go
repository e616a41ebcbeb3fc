package dicom

import (
	"bytes"
	"reflect"
	"testing"

	"limitans/fault"
)

// clear removes the places in the file, which writing may not keep (a deflated
// set is counted after inflating).
func clearOffsets(elements []Element) {
	for i := range elements {
		elements[i].Offset = 0
		for _, item := range elements[i].Items {
			clearOffsets(item.Elements)
		}
	}
}

// FuzzParse: no panic; what is read is written, read again as the same and
// written again as the same bytes; pixels come whole or with a fault.
func FuzzParse(f *testing.F) {
	for _, data := range vectors(f) {
		f.Add(data)
	}
	for _, c := range brokenFiles(f) {
		if len(c.data) < 1<<14 {
			f.Add(c.data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		first, err := Parse(data)
		if err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		var written, again bytes.Buffer
		if err := first.Write(&written); err != nil {
			t.Fatalf("read but not written: %v", err)
		}
		if !first.Syntax.Deflated && !bytes.Equal(written.Bytes(), data) {
			t.Fatal("not written back as it came")
		}
		second, err := Parse(written.Bytes())
		if err != nil {
			t.Fatalf("written but not read: %v", err)
		}
		if err := second.Write(&again); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(written.Bytes(), again.Bytes()) {
			t.Fatal("the second writing differs")
		}
		clearOffsets(first.Elements)
		clearOffsets(second.Elements)
		if !reflect.DeepEqual(first.Elements, second.Elements) {
			t.Fatal("the second reading differs")
		}
		d, err := first.Describe()
		if err != nil || d.Frames*d.frameSamples() > 1<<20 {
			return
		}
		p, err := first.Pixels(nil)
		if err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		if len(p.Samples) != p.Frames*p.frameSamples() {
			t.Fatalf("%d samples for %+v", len(p.Samples), p.PixelDescription)
		}
		for _, s := range p.Samples {
			if int(s) >= 1<<p.BitsStored {
				t.Fatalf("sample %d with %d bits", s, p.BitsStored)
			}
		}
	})
}

// FuzzRLE: a segment decodes to exactly its plane or not at all; and what an
// encoder of literal runs makes of any plane decodes to it.
func FuzzRLE(f *testing.F) {
	for name, data := range vectors(f) {
		file, err := Parse(data)
		if err != nil {
			f.Fatalf("%s: %v", name, err)
		}
		if e := file.Find(TagPixelData); file.Syntax.codec == codecRLE {
			for _, fragment := range e.Fragments[1:] {
				f.Add(fragment[rleHeaderLength:], uint16(480))
			}
		}
	}
	f.Add([]byte{128, 0x81, 7, 0xFF, 3, 0, 9, 0}, uint16(131))
	f.Fuzz(func(t *testing.T, segment []byte, size uint16) {
		plane := bytes.Repeat([]byte{0xA5}, int(size)+8)
		if err := decodeRLE(plane[:size:size], segment); err != nil && fault.CodeOf(err) != fault.Malformed {
			t.Fatalf("not a fault: %v", err)
		}
		if !bytes.Equal(plane[size:], bytes.Repeat([]byte{0xA5}, 8)) {
			t.Fatal("written beyond the plane")
		}
		var coded []byte
		for rest := segment; len(rest) > 0; {
			n := min(len(rest), 128)
			coded = append(append(coded, byte(n-1)), rest[:n]...)
			rest = rest[n:]
		}
		back := make([]byte, len(segment))
		if err := decodeRLE(back, coded); err != nil || !bytes.Equal(back, segment) {
			t.Fatalf("literal runs do not come back: %v", err)
		}
	})
}
