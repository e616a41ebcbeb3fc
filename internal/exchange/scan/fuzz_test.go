package scan

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"limitans/fault"
)

// fuzzLimits keep one run small; the checks are the same.
var fuzzLimits = Limits{Samples: 1 << 20, FileBytes: 1 << 20, TotalBytes: 4 << 20, Entries: 64}

// addFiles adds real files as seeds, whole and cut.
func addFiles(f *testing.F, pattern string, atLeast int) {
	f.Helper()
	paths, err := filepath.Glob(pattern)
	if err != nil || len(paths) < atLeast {
		f.Fatalf("%d seeds for %s, %v", len(paths), pattern, err)
	}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		if len(data) > 100_000 {
			continue
		}
		f.Add(data)
		f.Add(data[:len(data)*2/3])
	}
}

// isFault fails when an error is not one clear line of the reader's own.
func isFault(t *testing.T, err error) {
	t.Helper()
	if err != nil && (fault.CodeOf(err) == fault.Internal || bytes.ContainsAny([]byte(err.Error()), "\n\x00")) {
		t.Errorf("%q", err)
	}
}

// Any bytes give frames that decode to their size, or a fault.
func FuzzTIFF(f *testing.F) {
	addFiles(f, "testdata/tiff/*.tif", 20)
	// The head of the real volume holds its directories' offset and first strips.
	if data, err := os.ReadFile(realVolume); err != nil {
		f.Fatal(err)
	} else {
		f.Add(data[:50_000])
		f.Add(append(bytes.Clone(data[:8]), data[len(data)-9000:]...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		frames, _, err := tiffFrames("fuzz.tif", bytes.NewReader(data), int64(len(data)))
		isFault(t, err)
		if err != nil && frames != nil {
			t.Error("frames beside a fault")
		}
		for _, fr := range frames {
			if fr.info.rows*fr.info.columns > 1<<20 {
				continue
			}
			_, err := fr.decode(make([]uint16, fr.info.rows*fr.info.columns))
			isFault(t, err)
		}
	})
}

// Any bytes taken for a zip give a valid volume or a fault.
func FuzzZip(f *testing.F) {
	grey := pngBytes(f, greyPicture(24, 16))
	f.Add(zipBytes(f, zipped{"a2.png", grey}, zipped{"a10.png", grey}, zipped{"scan.yaml", []byte("depth_um: 3.87\n")}))
	f.Add(zipBytes(f, zipped{"x/a.tif", greyTIFF(32, 32, make([]byte, 1024), 0)}))
	f.Add(encryptedZip(zipBytes(f, zipped{"a.jpg", jpegBytes(f, greyPicture(24, 16))})))
	f.Add(lyingZip(zipBytes(f, zipped{"a.png", grey}), 1<<31))
	f.Fuzz(func(t *testing.T, data []byte) {
		o := Options{Limits: fuzzLimits}
		b, err := listZip("fuzz.zip", bytes.NewReader(data), int64(len(data)), o.Limits)
		isFault(t, err)
		if err != nil {
			return
		}
		v, err := b.volume(context.Background(), "fuzz.zip", o)
		isFault(t, err)
		if err == nil {
			if err := v.Check(); err != nil {
				t.Error(err)
			}
		}
	})
}

// Any bytes named as a picture give samples of the announced size or a fault.
func FuzzPicture(f *testing.F) {
	f.Add(pngBytes(f, greyPicture(24, 16)))
	f.Add(jpegBytes(f, greyPicture(24, 16)))
	f.Add(pngHead(100, 100))
	addFiles(f, filepath.Join(kermany, "*.jpeg"), 4)
	f.Fuzz(func(t *testing.T, data []byte) {
		k := kindOf(data[:min(len(data), headBytes)])
		if k != kindPNG && k != kindJPEG {
			return
		}
		info, err := inspectPicture("fuzz", k, data)
		isFault(t, err)
		if err != nil || info.rows*info.columns > 1<<20 {
			return
		}
		_, err = decodePicture("fuzz", k, data, info, make([]uint16, info.rows*info.columns))
		isFault(t, err)
	})
}

// Any text gives a side file without impossible scales or a fault.
func FuzzSideFile(f *testing.F) {
	f.Add([]byte("depth_um: 3.87\nlateral_um: 5.77\nslice_um: 31\neye: OD\naxial_length_mm: 24.1\npattern: raster\nacquired: 2024-03-31 14:05\n"))
	f.Add([]byte("pattern: radial\nslice_angles_deg: [0, 60.5, 120]\n"))
	f.Add([]byte("a: &a [*a]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := parseSideFile("scan.yaml", data)
		isFault(t, err)
		if err == nil {
			if err := s.scale.check(); err != nil {
				t.Error(err)
			}
		}
	})
}
