package scan

import (
	"archive/zip"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

const (
	realVolume = "../../../testdata/macular-hole-volume/macular-hole-volume.tif"
	kermany    = "../../../testdata/kermany-oct"
)

// The sums of samples of the first and the last page and of the whole volume
// were taken by a second reader, tifffile 2023.2.3:
//
//	python3 -c "import tifffile; a = tifffile.imread('testdata/macular-hole-volume/macular-hole-volume.tif'); print(a.shape, a[0].sum(), a[48].sum(), a.sum())"
//	(49, 200, 200) 3074945 3366901 141762847
func TestOpenRealVolume(t *testing.T) {
	var steps int
	v, err := Open(context.Background(), realVolume, Options{
		Scale:    GivenScale{DepthUM: new(3.87), LateralUM: new(5.77), SliceUM: new(31.0)},
		Progress: func(done, total int) { steps++ },
	})
	if err != nil {
		t.Fatal(err)
	}
	if v.Slices != 49 || v.Rows != 200 || v.Columns != 200 || v.BitDepth != 8 || steps != 49 {
		t.Fatalf("%d slices of %d × %d, %d bits, %d steps", v.Slices, v.Rows, v.Columns, v.BitDepth, steps)
	}
	for _, want := range []struct {
		name    string
		samples []uint16
		sum     int
	}{{"first", v.Slice(0), 3074945}, {"last", v.Slice(48), 3366901}, {"all", v.Samples, 141762847}} {
		if got := sum(want.samples); got != want.sum {
			t.Errorf("%s: sum %d, want %d", want.name, got, want.sum)
		}
	}
	if v.Pattern != oct.PatternRaster || v.Scale.Depth.Trust != oct.TrustUserGiven || v.Acquisition.Format != "multi-page TIFF" {
		t.Errorf("pattern %s, scale %+v, format %s", v.Pattern, v.Scale, v.Acquisition.Format)
	}
}

func sum(samples []uint16) (n int) {
	for _, x := range samples {
		n += int(x)
	}
	return n
}

func TestOpenNoScaleIsGuessed(t *testing.T) {
	v, err := Open(context.Background(), filepath.Join(kermany, "NORMAL-1384-3.jpeg"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if v.Rows != 496 || v.Columns != 512 || v.Slices != 1 || !v.Acquisition.Lossy || v.Pattern != oct.PatternSingle {
		t.Errorf("%d × %d × %d, %+v", v.Slices, v.Rows, v.Columns, v.Acquisition)
	}
	if v.Scale.Depth.Known() || v.Scale.Lateral.Known() || v.Scale.Slice.Known() {
		t.Errorf("scale %+v", v.Scale)
	}
}

// Two pictures of one size, in a folder and in a zip, come in natural order.
func TestOpenFolderAndZip(t *testing.T) {
	first, err := os.ReadFile(filepath.Join(kermany, "NORMAL-1384-3.jpeg"))
	if err != nil {
		t.Fatal(err)
	}
	second, err := os.ReadFile(filepath.Join(kermany, "CNV-81630-43.jpeg"))
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	packed := filepath.Join(t.TempDir(), "slices.zip")
	file, err := os.Create(packed)
	if err != nil {
		t.Fatal(err)
	}
	archive := zip.NewWriter(file)
	for name, data := range map[string][]byte{"a10.jpeg": second, "a2.jpeg": first, "readme.txt": []byte("text"), ".hidden": {0}} {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
		w, err := archive.Create("scan/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := archive.Close(); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{folder, packed} {
		v, err := Open(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		one, err := Open(context.Background(), filepath.Join(kermany, "NORMAL-1384-3.jpeg"), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if v.Slices != 2 || sum(v.Slice(0)) != sum(one.Samples) {
			t.Errorf("%s: %d slices in the wrong order", p, v.Slices)
		}
	}
}

// DICOM is found by content, whatever its name, in a folder and in a zip; the
// user's scale wins over its attribute, and its side counts as a source.
func TestOpenDICOM(t *testing.T) {
	folder := t.TempDir()
	var packed []zipped
	for i := range 4 {
		data := dicomVector(t, fmt.Sprintf("series-%d.dcm", i+1)).Data
		name := fmt.Sprintf("IM%d", i)
		writeFile(t, folder, name, data)
		packed = append(packed, zipped{"x/" + name, data})
	}
	for _, p := range []string{folder, writeFile(t, t.TempDir(), "series.zip", zipBytes(t, packed...))} {
		v, err := Open(context.Background(), p, Options{Scale: GivenScale{DepthUM: new(2.0)}})
		if err != nil {
			t.Fatal(err)
		}
		if v.Slices < 3 || v.Scale.Depth.MicrometresPerSample != 2 || v.Scale.Lateral.Trust != oct.TrustFileGiven {
			t.Errorf("%d slices, %+v", v.Slices, v.Scale)
		}
		if notes := strings.Join(v.Notes, "\n"); !strings.Contains(notes, "depth scale: 2 µm per sample (given by the user) is used; ") {
			t.Errorf("notes %s", notes)
		}
	}
	p := writeFile(t, t.TempDir(), "scan OD.dcm", dicomVector(t, "ot8.dcm").Data)
	_, err := Open(context.Background(), p, Options{Laterality: eye.Left})
	if fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "the file's own attribute says Right") {
		t.Errorf("%v", err)
	}
	writeFile(t, folder, "preview.png", pngBytes(t, greyPicture(64, 48)))
	if _, err := Open(context.Background(), folder, Options{}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("DICOM beside a picture: %v", err)
	}
}
