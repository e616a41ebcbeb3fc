package scan

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

const dicomVectors = "../dicom/testdata"

func dicomVector(t testing.TB, name string) namedBytes {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dicomVectors, name))
	if err != nil {
		t.Fatal(err)
	}
	return namedBytes{Name: name, Data: data}
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

// TestFromDICOM reads the Ophthalmic Tomography vectors of pydicom and dcmtk;
// the figures are those of make.py there.
func TestFromDICOM(t *testing.T) {
	for _, name := range []string{"ot8.dcm", "ot16.dcm", "ot16-implicit.dcm", "ot16-big.dcm", "ot8-deflated.dcm", "ot16-rle.dcm", "ot8-undefined.dcm", "rgb.dcm"} {
		t.Run(name, func(t *testing.T) {
			v, err := fromDICOM(name, dicomVector(t, name).Data, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.Slices != 3 || v.Rows != 24 || v.Columns != 20 || v.Pattern != oct.PatternRaster || v.Laterality != eye.Right {
				t.Errorf("%d slices of %d × %d, %s, %s", v.Slices, v.Rows, v.Columns, v.Pattern, v.Laterality)
			}
			for _, s := range []struct {
				got  oct.AxisScale
				want float64
			}{{v.Scale.Depth, 3.9}, {v.Scale.Lateral, 11.7}, {v.Scale.Slice, 31.25}} {
				if s.got.Trust != oct.TrustFileGiven || !near(s.got.MicrometresPerSample, s.want) {
					t.Errorf("scale %+v, want %g", s.got, s.want)
				}
			}
			a := v.Acquisition
			if a.Manufacturer != "Invented Müller" || a.AxialLengthMM != 24.46 || a.Lossy || a.AcquiredAt.Format("2006-01-02T15:04:05.00-0700") != "2024-02-29T10:15:30.25+0100" {
				t.Errorf("acquisition %+v", a)
			}
			if v.Samples[0] != 0 || len(v.Notes) != 0 {
				t.Errorf("first sample %d, notes %q", v.Samples[0], v.Notes)
			}
		})
	}
}

func TestFromDICOMSeries(t *testing.T) {
	var files []namedBytes
	for k := range 4 {
		files = append(files, dicomVector(t, fmt.Sprintf("series-%d.dcm", k+1)))
	}
	v, err := fromDICOMSeries(files, nil)
	if err != nil {
		t.Fatal(err)
	}
	if v.Slices != 4 || v.Laterality != eye.Left || v.Pattern != oct.PatternRaster || !near(v.Scale.Slice.MicrometresPerSample, 31) {
		t.Errorf("%d slices, %s, %s, %+v, notes %q", v.Slices, v.Laterality, v.Pattern, v.Scale, v.Notes)
	}
	// Instance numbers run against the positions: 4, 3, 2, 1.
	for k := range 4 {
		if got := v.Slice(k)[0]; got != uint16(3-k) {
			t.Errorf("slice %d starts with %d", k, got)
		}
	}
}

// TestDICOMLossyUnsaid: a near-lossless file that does not say whether it lost
// anything counts as lossy, with a note. The converter is a stand-in that hands
// out the uncompressed vector.
func TestDICOMLossyUnsaid(t *testing.T) {
	data := bytes.Replace(dicomVector(t, "ot8-jpegls.dcm").Data, []byte("1.2.840.10008.1.2.4.80"), []byte("1.2.840.10008.1.2.4.81"), 1)
	f, err := dicom.Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	f.Elements = slices.DeleteFunc(f.Elements, func(e dicom.Element) bool { return e.Tag == dicom.TagLossyCompression })
	var unsaid bytes.Buffer
	if err := f.Write(&unsaid); err != nil {
		t.Fatal(err)
	}
	native := dicomVector(t, "ot8.dcm").Data
	v, err := fromDICOM("near.dcm", unsaid.Bytes(), func([]byte, dicom.Syntax, int64) ([]byte, string, error) { return native, "stand-in", nil })
	if err != nil {
		t.Fatal(err)
	}
	notes := strings.Join(v.Notes, "; ")
	if !v.Acquisition.Lossy || !strings.Contains(notes, "JPEG-LS Near-Lossless (1.2.840.10008.1.2.4.81), lost anything") || !strings.Contains(notes, "decompressed by stand-in") {
		t.Errorf("lossy %v, notes %q", v.Acquisition.Lossy, v.Notes)
	}
}

// TestDICOMThroughOpen: the one door of the package leads here, for a file, a
// folder and a compressed file.
func TestDICOMThroughOpen(t *testing.T) {
	folder := t.TempDir()
	for k := range 4 {
		file := dicomVector(t, fmt.Sprintf("series-%d.dcm", k+1))
		if err := os.WriteFile(filepath.Join(folder, file.Name), file.Data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for path, slices := range map[string]int{folder: 4, filepath.Join(dicomVectors, "ot16-rle.dcm"): 3, filepath.Join(folder, "series-2.dcm"): 1} {
		v, err := Open(context.Background(), path, Options{})
		if err != nil || v.Slices != slices {
			t.Errorf("%s: %v", filepath.Base(path), err)
		}
	}
}
