package dicom

import (
	"bytes"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"limitans/fault"
)

func worst(a, b []uint16) int {
	if len(a) != len(b) {
		return math.MaxInt
	}
	most := 0
	for i := range a {
		most = max(most, int(math.Abs(float64(a[i])-float64(b[i]))))
	}
	return most
}

// TestLossyVectors compares baseline frames with what dcmtk decodes. Two
// decoders may round the inverse transform differently by one step each
// (ISO/IEC 10918-2 bounds a decoder's error by one step of the coefficients).
func TestLossyVectors(t *testing.T) {
	all := vectors(t)
	reference, err := mustParse(t, all["ot8-baseline-decoded.dcm"]).Pixels(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"ot8-baseline.dcm", "ot8-fragments.dcm", "ot8-no-table.dcm"} {
		f := mustParse(t, all[name])
		p, err := f.Pixels(nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if n := worst(p.Samples, reference.Samples); n > 1 {
			t.Errorf("%s: %d grey values from dcmtk's", name, n)
		}
		if !f.Syntax.Lossy {
			t.Errorf("%s: %s is lossy", name, f.Syntax)
		}
	}
	// The vectors differ from the original: the comparison is not of two copies.
	if firstDifference(reference.Samples, formulaSamples(8)) < 0 {
		t.Error("the lossy reference equals the original")
	}
}

// TestExtendedVector: 12-bit JPEG goes to the converter; its result is dcmtk's.
func TestExtendedVector(t *testing.T) {
	all := vectors(t)
	f := mustParse(t, all["ot12-extended.dcm"])
	if _, err := f.Pixels(nil); fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "1.2.840.10008.1.2.4.51") {
		t.Errorf("without a converter: %v", err)
	}
	needTool(t, "gdcmconv")
	p, err := f.Pixels(InstalledConverter())
	if err != nil {
		t.Fatal(err)
	}
	reference, err := mustParse(t, all["ot12-extended-decoded.dcm"]).Pixels(nil)
	if err != nil {
		t.Fatal(err)
	}
	if n := worst(p.Samples, reference.Samples); n > 1 || p.BitsStored != 12 {
		t.Errorf("%d grey values from dcmtk's, %d bits", n, p.BitsStored)
	}
}

// TestConverters takes the converter away, lets it fail and lets it lie.
func TestConverters(t *testing.T) {
	data := vectors(t)["ot16-j2k.dcm"]
	other := vectors(t)["series-1.dcm"]
	for _, c := range []struct {
		name    string
		convert Converter
		code    fault.Code
		says    string
	}{
		{"none", nil, fault.Unsupported, "libgdcm-tools"},
		{"fails", func([]byte, Syntax, int64) ([]byte, string, error) { return nil, "", errors.New("it\nbroke") }, fault.Malformed, "it broke"},
		{"gives nonsense", func([]byte, Syntax, int64) ([]byte, string, error) { return []byte("x"), "tool", nil }, fault.Malformed, "tool gave"},
		{"gives it back", func(b []byte, _ Syntax, _ int64) ([]byte, string, error) { return b, "tool", nil }, fault.Malformed, "still compressed"},
		{"gives another image", func([]byte, Syntax, int64) ([]byte, string, error) { return other, "tool", nil }, fault.Malformed, "1 frames of 24 × 20"},
	} {
		_, err := mustParse(t, data).Pixels(c.convert)
		if fault.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "(7FE0,0010)") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	var passed []byte
	_, _ = mustParse(t, data).Pixels(func(b []byte, _ Syntax, _ int64) ([]byte, string, error) { passed = b; return nil, "", ErrNoConverter })
	if len(passed) == 0 || bytes.Contains(passed, []byte("Phantom")) || bytes.Contains(passed, []byte("2.25.91")) {
		t.Error("a name or study went to the converter")
	}
}

// TestNoConverterOnPath empties the path.
func TestNoConverterOnPath(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := mustParse(t, vectors(t)["ot16-j2k.dcm"]).Pixels(InstalledConverter())
	if fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "JPEG 2000 Lossless (1.2.840.10008.1.2.4.90)") {
		t.Errorf("%v", err)
	}
}

// TestEveryConverter runs each installed program for each codec it takes, on
// whole and on damaged frames.
func TestEveryConverter(t *testing.T) {
	all := vectors(t)
	for _, c := range conversions {
		path := needTool(t, c.program)
		for kind, name := range map[codec]string{codecJPEG: "ot16-lossless.dcm", codecJPEGLS: "ot16-jpegls.dcm", codecJPEG2000: "ot16-j2k.dcm"} {
			if !c.takes(kind) {
				continue
			}
			only := func(file []byte, _ Syntax, size int64) ([]byte, string, error) {
				out, err := c.run(path, file, size)
				return out, c.program, err
			}
			f := mustParse(t, all[name])
			p, err := f.Pixels(only)
			if err != nil {
				t.Errorf("%s, %s: %v", c.program, name, err)
				continue
			}
			if i := firstDifference(p.Samples, formulaSamples(16)); i >= 0 || p.ConvertedBy != c.program {
				t.Errorf("%s, %s: sample %d differs", c.program, name, i)
			}
			if _, err := c.run(path, []byte("not DICOM"), 100); err == nil {
				t.Errorf("%s takes what is not DICOM", c.program)
			}
			if _, err := c.run(path, all[name], -slackBytes); err == nil || !strings.Contains(err.Error(), "instead of about") {
				t.Errorf("%s: size not checked: %v", c.program, err)
			}
		}
	}
}

// TestStoredBits reads samples that do not fill their words, as pydicom's
// pixel_array leaves them: unmasked there, so the expectation is PS3.5 section
// 8.1.1's.
func TestStoredBits(t *testing.T) {
	for _, c := range []struct {
		name                    string
		allocated, stored, high int
		representation          int
		value                   []byte
		want                    []uint16
		surplus                 bool
	}{
		{"12 of 16", 16, 12, 11, 0, []byte{0xFF, 0x0F, 1, 0}, []uint16{4095, 1}, false},
		{"12 of 16 with more", 16, 12, 11, 0, []byte{0xFF, 0x1F, 1, 0}, []uint16{4095, 1}, true},
		{"12 of 16 at the top", 16, 12, 15, 0, []byte{0xF0, 0xFF, 0x10, 0}, []uint16{4095, 1}, false},
		{"signed 12 of 16", 16, 12, 11, 1, []byte{0xFF, 0xFF, 0, 0xF8}, []uint16{2047, 0}, false},
		{"signed 8", 8, 8, 7, 1, []byte{0x80, 0x7F}, []uint16{0, 255}, false},
		{"7 of 8", 8, 7, 6, 0, []byte{0x7F, 0x80}, []uint16{127, 0}, true},
	} {
		f := mustParse(t, small(ExplicitLittleEndian, 1, 2, func(f *File) {
			f.Put(TagBitsAllocated, "US", c.allocated)
			f.Put(TagBitsStored, "US", c.stored)
			f.Put(TagHighBit, "US", c.high)
			f.Put(TagPixelRepresentation, "US", c.representation)
			f.Put(TagPixelData, "OW", c.value)
		}))
		p, err := f.Pixels(nil)
		if err != nil || firstDifference(p.Samples, c.want) >= 0 || p.SurplusBits != c.surplus {
			t.Errorf("%s: %v, %+v", c.name, err, p)
		}
	}
}

// TestBigEndianBytes: 8-bit samples in 16-bit words are swapped with their words
// in big endian, bytes are not (PS3.5 section 7.3 and annex A.3).
func TestBigEndianBytes(t *testing.T) {
	for vr, want := range map[VR][]uint16{"OW": {2, 1, 4, 3}, "OB": {1, 2, 3, 4}} {
		p, err := mustParse(t, small(ExplicitBigEndian, 2, 2, put(TagPixelData, vr, []byte{1, 2, 3, 4}))).Pixels(nil)
		if err != nil || firstDifference(p.Samples, want) >= 0 {
			t.Errorf("%s: %v, %v, want %v", vr, err, p, want)
		}
	}
}

// TestColourPlanes: the same picture by pixel, by plane and in RLE.
func TestColourPlanes(t *testing.T) {
	colour := func(planar int, value []byte) func(*File) {
		return func(f *File) {
			f.Put(TagSamplesPerPixel, "US", 3)
			f.Put(TagPhotometric, "CS", "RGB")
			f.Put(TagPlanarConfiguration, "US", planar)
			f.Put(TagPixelData, "OB", value)
		}
	}
	rle := func(f *File) {
		colour(1, nil)(f)
		fragments(nil, rleFrame(3, []uint32{64, 68, 72}, 1, 1, 2, 128, 1, 3, 4, 128, 1, 5, 6))(f)
	}
	want := []uint16{1, 3, 5, 2, 4, 6}
	for name, data := range map[string][]byte{
		"by pixel": small(ExplicitLittleEndian, 1, 2, colour(0, []byte{1, 3, 5, 2, 4, 6})),
		"by plane": small(ExplicitLittleEndian, 1, 2, colour(1, []byte{1, 2, 3, 4, 5, 6})),
		"RLE":      small(rleUID, 1, 2, rle),
	} {
		p, err := mustParse(t, data).Pixels(nil)
		if err != nil || firstDifference(p.Samples, want) >= 0 {
			t.Errorf("%s: %v, %+v", name, err, p)
		}
	}
}

// TestPydicomReadsOurs lets pydicom read a written object and print figures.
func TestPydicomReadsOurs(t *testing.T) {
	python := needPydicom(t)
	path := filepath.Join(t.TempDir(), "object.dcm")
	var out bytes.Buffer
	if err := WriteOphthalmicTomography(&out, invented(3, 16), inventedMeta); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	const script = `
import sys, pydicom
d = pydicom.dcmread(sys.argv[1])
a = d.pixel_array
print(a.shape, int(a.astype("u8").sum()), a[2, 8, 6], d.ImageLaterality, d.PatientName, d.AcquisitionDateTime)
print(d.SharedFunctionalGroupsSequence[0].PixelMeasuresSequence[0].PixelSpacing)
print(d.PerFrameFunctionalGroupsSequence[2].PlanePositionSequence[0].ImagePositionPatient)`
	got, err := exec.Command(python, "-c", script, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, got)
	}
	sum, v := 0, invented(3, 16)
	for _, s := range v.Samples {
		sum += int(s)
	}
	// 3 slices × 9 × 7 samples of 31·i: 31 · 189 · 188 / 2 = 550746.
	if sum != 550746 {
		t.Fatalf("the sum of the samples is %d", sum)
	}
	want := "(3, 9, 7) 550746 5828 L Phantom^Invented 20240229083000.000000+0100\n[0.00387, 0.01428571428571]\n[-0.0428571428571, 0, 0.1226]\n"
	if string(got) != want {
		t.Errorf("pydicom reads\n%swant\n%s", got, want)
	}
}
