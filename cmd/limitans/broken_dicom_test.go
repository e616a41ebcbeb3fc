package main

import (
	"bytes"
	"encoding/binary"
	"testing"
	"time"

	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// inventedVolume is a small scan of layers, one slice as the other.
func inventedVolume(slices, rows, columns int) *oct.Volume {
	axis := func(um float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustFileGiven}
	}
	v := &oct.Volume{
		Slices: slices, Rows: rows, Columns: columns, BitDepth: 8, Pattern: oct.PatternRaster, Laterality: eye.Left,
		Samples: make([]uint16, slices*rows*columns),
		Scale:   oct.Scale{Depth: axis(4), Lateral: axis(10), Slice: axis(30)},
	}
	for i := range v.Samples {
		row := i / columns % rows
		switch {
		case row < rows/3:
			v.Samples[i] = uint16(10 + i%7)
		case row < rows/2:
			v.Samples[i] = uint16(120 + i%11)
		case row < rows/2+4:
			v.Samples[i] = 240
		default:
			v.Samples[i] = uint16(60 + i%5)
		}
	}
	return v
}

func objectBytes(t *testing.T, v *oct.Volume) []byte {
	t.Helper()
	var out bytes.Buffer
	at := time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)
	if err := dicom.WriteOphthalmicTomography(&out, v, dicom.OphthalmicMeta{Seed: "broken", At: at}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// withObject parses an object, changes it and writes it again.
func withObject(t *testing.T, data []byte, change func(*dicom.File)) []byte {
	t.Helper()
	f, err := dicom.Parse(bytes.Clone(data))
	if err != nil {
		t.Fatal(err)
	}
	change(f)
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// withSpacing replaces the shared functional groups by one with a pixel spacing.
func withSpacing(t *testing.T, data []byte, values ...string) []byte {
	t.Helper()
	return withObject(t, data, func(f *dicom.File) {
		groups := f.NewItem()
		measures := groups.NewItem()
		measures.Put(dicom.TagPixelSpacing, "DS", values)
		groups.Put(dicom.TagPixelMeasures, "SQ", []*dicom.DataSet{measures})
		f.Put(dicom.TagSharedGroups, "SQ", []*dicom.DataSet{groups})
	})
}

// element finds the bytes of an explicit little-endian element.
func element(t *testing.T, data []byte, tag dicom.Tag) int {
	t.Helper()
	key := binary.LittleEndian.AppendUint16(nil, tag.Group())
	key = binary.LittleEndian.AppendUint16(key, tag.Element())
	i := bytes.LastIndex(data, key)
	if i < 0 {
		t.Fatalf("no element %08x", uint32(tag))
	}
	return i
}

func brokenDICOM(t *testing.T) []brokenInput {
	good := objectBytes(t, inventedVolume(3, 64, 48))
	put := func(tag dicom.Tag, vr dicom.VR, value any) []byte {
		return withObject(t, good, func(f *dicom.File) { f.Put(tag, vr, value) })
	}
	edited := func(tag dicom.Tag, offset int, with ...byte) []byte {
		out := bytes.Clone(good)
		copy(out[element(t, out, tag)+offset:], with)
		return out
	}
	syntax := func(uid string) []byte {
		return bytes.Replace(bytes.Clone(good), []byte("1.2.840.10008.1.2.1\x00"), []byte(uid)[:20], 1)
	}
	spacing := func(values ...string) []byte { return withSpacing(t, good, values...) }
	in := func(name string, data []byte, says string) brokenInput {
		return brokenInput{name: "DICOM " + name, make: brokenFile("a.dcm", data), code: exitCannotMeasure, says: says}
	}
	pixels := element(t, good, dicom.TagPixelData)
	return []brokenInput{
		in("cut in its pixel data", good[:len(good)-1000], "8216 are left"),
		in("cut in an element", good[:pixels-3], "629 are left"),
		in("cut after its preamble", good[:132], "does not say its transfer syntax"),
		in("cut in its preamble", good[:100], "of no kind"),
		in("with a pixel length too long", edited(dicom.TagPixelData, 8, 0xff, 0xff, 0xff, 0x7f), "its length is 2147483647"),
		in("with a pixel length of undefined", edited(dicom.TagPixelData, 8, 0xff, 0xff, 0xff, 0xff), "PixelData"),
		in("with rows of a wrong length", edited(dicom.TagRows, 6, 1, 0), "not a value representation"),
		in("with a value representation that is none", edited(dicom.TagRows, 4, 'Q', 'Q'), "Rows"),
		in("announcing 65535 × 65535", withObject(t, good, func(f *dicom.File) {
			f.Put(dicom.TagRows, "US", 65535)
			f.Put(dicom.TagColumns, "US", 65535)
		}), "larger than this program takes"),
		in("announcing 2 billion frames", put(dicom.TagNumberOfFrames, "IS", 2000000000), "larger than this program takes"),
		in("of minus one frame", put(dicom.TagNumberOfFrames, "IS", -1), "-1 is impossible"),
		in("of no rows", put(dicom.TagRows, "US", 0), "Rows at byte"),
		in("in colour", put(dicom.TagPhotometric, "CS", "RGB"), "SamplesPerPixel"),
		in("of three samples a pixel", put(dicom.TagSamplesPerPixel, "US", 3), "3 samples a pixel"),
		in("of 32 bits", put(dicom.TagBitsAllocated, "US", 32), "expected 8 or 16"),
		in("storing more bits than there are", put(dicom.TagBitsStored, "US", 12), "12 bits stored of 8"),
		in("in a syntax nobody knows", syntax("1.2.840.10008.1.2.9\x00"), "export the scan again"),
		in("said implicit but explicit", syntax("1.2.840.10008.1.2\x00\x00\x00"), "SpecificCharacterSet"),
		in("said deflated but not", withObject(t, good, func(f *dicom.File) {
			for i := range f.Meta.Elements {
				if f.Meta.Elements[i].Tag == dicom.TagTransferSyntax {
					f.Meta.Elements[i].Value = []byte("1.2.840.10008.1.2.1.99")
				}
			}
		}), "deflate"),
		in("said compressed but native", syntax("1.2.840.10008.1.2.5\x00"), "RLE Lossless"),
		in("with zero spacing", spacing("0", "0.01"), "a spacing of 0 mm"),
		in("with negative spacing", spacing("0.004", "-0.01"), "a spacing of -0.01 mm"),
		in("with spacing in words", spacing("small", "0.01"), "not a decimal string"),
		in("with one spacing of two", spacing("0.004"), "expected two"),
		in("without pixel data", good[:pixels], "no pixel data"),
		in("with garbage after it", append(bytes.Clone(good), "garbage, not an element"...), "private"),
		in("of an eye on no side", put(dicom.TagImageLaterality, "CS", "X"), "does not name a side"),
		in("all black", objectBytes(t, black(inventedVolume(3, 64, 48))), "tissue cannot be told from vitreous"),
	}
}

// oddDICOM are readable objects that need a word of warning.
func oddDICOM(t *testing.T) []brokenInput {
	good := objectBytes(t, inventedVolume(3, 64, 48))
	in := func(name string, data []byte, says string) brokenInput {
		return brokenInput{name: "DICOM " + name, make: brokenFile("a.dcm", data), code: exitDone, says: says}
	}
	return []brokenInput{
		in("of signed samples", withObject(t, good, func(f *dicom.File) { f.Put(dicom.TagPixelRepresentation, "US", 1) }), "the samples are signed"),
		in("with spacing of metres", withSpacing(t, good, "4000", "10000"), "it was not used"),
		in("of one slice", objectBytes(t, single(inventedVolume(1, 64, 48))), "single slice"),
	}
}

func single(v *oct.Volume) *oct.Volume {
	v.Pattern, v.Scale.Slice = oct.PatternSingle, oct.AxisScale{}
	return v
}

func black(v *oct.Volume) *oct.Volume {
	clear(v.Samples)
	return v
}
