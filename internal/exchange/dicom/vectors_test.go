package dicom

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"limitans/fault"
)

// vectors reads the golden vectors; none is a failure.
func vectors(t testing.TB) map[string][]byte {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("testdata", "*.dcm"))
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) < 25 {
		t.Fatalf("%d golden vectors in testdata, want at least 25", len(paths))
	}
	out := map[string][]byte{}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(path)] = data
	}
	return out
}

func mustParse(t testing.TB, data []byte) *File {
	t.Helper()
	f, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// needTool finds an oracle; where oracles are required, its absence fails.
func needTool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("LIMITANS_ORACLES") == "required" {
		t.Fatalf("%s is not installed and LIMITANS_ORACLES=required", name)
	}
	t.Skipf("%s is not installed", name)
	return ""
}

// needPydicom finds a Python that has pydicom.
func needPydicom(t testing.TB) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import pydicom").Run() == nil {
			return python
		}
	}
	if os.Getenv("LIMITANS_ORACLES") == "required" {
		t.Fatal("pydicom is not installed and LIMITANS_ORACLES=required")
	}
	t.Skip("pydicom is not installed")
	return ""
}

const vectorFrames, vectorRows, vectorColumns = 3, 24, 20

// formulaSamples repeats the formula of testdata/make.py.
func formulaSamples(bits int) []uint16 {
	step := 37
	if bits == 8 {
		step = 1
	}
	var out []uint16
	for f := range vectorFrames {
		for r := range vectorRows {
			for c := range vectorColumns {
				out = append(out, uint16((7*f+3*r+5*c+r*c)*step%(1<<bits)))
			}
		}
	}
	return out
}

func firstDifference(got, want []uint16) int {
	if len(got) != len(want) {
		return min(len(got), len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			return i
		}
	}
	return -1
}

// TestLosslessVectors reads one image in every lossless syntax, written by
// dcmtk, pydicom and gdcm, and compares every sample with the formula.
func TestLosslessVectors(t *testing.T) {
	all := vectors(t)
	for _, c := range []struct {
		suffix, uid string
		converted   bool
	}{
		{"", ExplicitLittleEndian, false},
		{"-implicit", ImplicitLittleEndian, false},
		{"-undefined", ExplicitLittleEndian, false},
		{"-big", ExplicitBigEndian, false},
		{"-deflated", DeflatedLittleEndian, false},
		{"-words", ExplicitLittleEndian, false},
		{"-words-big", ExplicitBigEndian, false},
		{"-rle", "1.2.840.10008.1.2.5", false},
		{"-rle-other", "1.2.840.10008.1.2.5", false},
		{"-lossless", "1.2.840.10008.1.2.4.70", true},
		{"-jpegls", "1.2.840.10008.1.2.4.80", true},
		{"-j2k", "1.2.840.10008.1.2.4.90", true},
	} {
		for _, bits := range []int{8, 16} {
			if bits == 16 && strings.HasPrefix(c.suffix, "-words") {
				continue // samples of 16 bits are words everywhere
			}
			name := map[int]string{8: "ot8", 16: "ot16"}[bits] + c.suffix + ".dcm"
			t.Run(name, func(t *testing.T) {
				data, ok := all[name]
				if !ok {
					t.Fatal("no such vector")
				}
				f := mustParse(t, data)
				if f.Syntax.UID != c.uid {
					t.Errorf("syntax %s, want %s", f.Syntax, c.uid)
				}
				p, err := f.Pixels(nil)
				if c.converted {
					if fault.CodeOf(err) != fault.Unsupported || !errors.Is(err, ErrNoConverter) ||
						!strings.Contains(err.Error(), c.uid) || !strings.Contains(err.Error(), "libgdcm-tools") {
						t.Errorf("without a converter: %v", err)
					}
					needTool(t, "gdcmconv")
					p, err = f.Pixels(InstalledConverter())
				}
				if err != nil {
					t.Fatal(err)
				}
				if p.Frames != vectorFrames || p.Rows != vectorRows || p.Columns != vectorColumns || p.BitsStored != bits || (p.ConvertedBy != "") != c.converted {
					t.Errorf("description %+v", p.PixelDescription)
				}
				if i := firstDifference(p.Samples, formulaSamples(bits)); i >= 0 {
					t.Errorf("sample %d differs", i)
				}
			})
		}
	}
}

// TestWriteBack: what was read is written back byte for byte; of a deflated
// file, the inflated bytes.
func TestWriteBack(t *testing.T) {
	for name, data := range vectors(t) {
		f := mustParse(t, data)
		var out bytes.Buffer
		if err := f.Write(&out); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got, want := out.Bytes(), data
		if f.Syntax.Deflated {
			got, want = inflated(t, got), inflated(t, want)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not written back as it was: %d bytes, want %d", name, len(got), len(want))
		}
	}
}

func inflated(t *testing.T, data []byte) []byte {
	t.Helper()
	f := &File{}
	start, err := (&reader{data: data}).meta(f)
	if err != nil {
		t.Fatal(err)
	}
	out, err := inflate(data[start:])
	if err != nil {
		t.Fatal(err)
	}
	return append(append([]byte{}, data[:start]...), out...)
}
