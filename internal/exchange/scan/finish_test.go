package scan

import (
	"context"
	"errors"
	"image"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/oct"
)

// flippedHole writes three slices of the real volume upside down, as 8-bit PNG.
func flippedHole(t *testing.T, folder string) string {
	t.Helper()
	v, err := Open(context.Background(), realVolume, Options{})
	if err != nil {
		t.Fatal(err)
	}
	v = oct.FlipDepth(v)
	for i, name := range []string{"slice 9.png", "slice 10.png", "slice 11.png"} {
		m := image.NewGray(image.Rect(0, 0, v.Columns, v.Rows))
		for j, x := range v.Slice(9 + i) {
			m.Pix[j] = uint8(x)
		}
		writeFile(t, folder, name, pngBytes(t, m))
	}
	return folder
}

// Hard case 44 of the list of difficult inputs: detect, ask, flip only on a
// yes, record the flip.
func TestAcceptFlip(t *testing.T) {
	folder := flippedHole(t, t.TempDir())
	left, err := Open(context.Background(), folder, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(left.Notes, "\n"); !strings.Contains(notes, "looks upside down") || !strings.Contains(notes, "--flip") {
		t.Errorf("notes %s", notes)
	}
	turned, err := Open(context.Background(), folder, Options{AcceptFlip: true})
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(turned.Notes, "\n"); !strings.Contains(notes, "accepted by the user") || strings.Contains(notes, "left as it is") {
		t.Errorf("notes %s", notes)
	}
	if left.Samples[0] != turned.Samples[199*200] || oct.Upright(turned).Direction != oct.DirectionUpright {
		t.Error("the scan was not turned")
	}
	upright, err := Open(context.Background(), realVolume, Options{AcceptFlip: true})
	if err != nil || !strings.Contains(strings.Join(upright.Notes, "\n"), "accepted but not made") || sum(upright.Slice(0)) != 3074945 {
		t.Errorf("an upright scan: %v", err)
	}
}

func TestRadialSideFile(t *testing.T) {
	folder := flippedHole(t, t.TempDir())
	writeFile(t, folder, "scan.yaml", []byte("pattern: radial\nslice_angles_deg: [0, 60, 120]\ndepth_um: 3.87\n"))
	v, err := Open(context.Background(), folder, Options{})
	if err != nil || v.Pattern != oct.PatternRadial || len(v.SliceAnglesDeg) != 3 || v.SliceAnglesDeg[1] != 60 {
		t.Fatalf("%+v, %v", v, err)
	}
	if _, err := Open(context.Background(), folder, Options{Scale: GivenScale{SliceUM: new(31.0)}}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("radial with a slice distance: %v", err)
	}
	writeFile(t, folder, "scan.yaml", []byte("pattern: radial\nslice_angles_deg: [0, 60]\n"))
	if _, err := Open(context.Background(), folder, Options{}); fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "2 angles for 3 slices") {
		t.Errorf("two angles for three slices: %v", err)
	}
}

// Inputs that are odd but valid open, and say what is odd.
func TestOddInputs(t *testing.T) {
	black := image.NewGray(image.Rect(0, 0, 64, 48))
	panels := image.NewGray(image.Rect(0, 0, 640, 200))
	screen := image.NewGray(image.Rect(0, 0, 200, 200))
	for i := range panels.Pix {
		panels.Pix[i] = uint8(i * i >> 3)
		if c := i % 640; c >= 300 && c < 310 {
			panels.Pix[i] = 200
		}
	}
	for i := range screen.Pix {
		if screen.Pix[i] = 222; i%200 < 100 && i/200 < 100 {
			screen.Pix[i] = uint8(i * 31)
		}
	}
	twelve := image.NewGray16(image.Rect(0, 0, 64, 48))
	for i := range 64 * 48 {
		twelve.Pix[2*i], twelve.Pix[2*i+1] = byte(i)&0x0f, byte(i)
	}
	for _, c := range []struct {
		name string
		data image.Image
		says string
	}{
		{"one slice", greyPicture(64, 48), "scale unknown: depth, lateral;"},
		{"all black", black, "1 of 1 slices are blank"},
		{"two panels", panels, "several panels (a uniform band at column 300)"},
		{"screen", screen, "has one grey"},
		{"twelve of sixteen bits", twelve, "uses 12 of its 16 bits"},
	} {
		v, err := Open(context.Background(), writeFile(t, t.TempDir(), "a.png", pngBytes(t, c.data)), Options{})
		if err != nil || !strings.Contains(strings.Join(v.Notes, "\n"), c.says) {
			t.Errorf("%s: %v, %v", c.name, v, err)
		}
	}
}

// The open scans are no screenshots.
func TestScreenshotQuiet(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(kermany, "*.jpeg"))
	if err != nil || len(paths) != 4 {
		t.Fatal(paths, err)
	}
	for _, p := range append(paths, realVolume) {
		v, err := Open(context.Background(), p, Options{})
		if err != nil || strings.Contains(strings.Join(v.Notes, "\n"), "screenshot") {
			t.Errorf("%s: %v, %v", p, v.Notes, err)
		}
	}
}

func TestOpenStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	v, err := Open(ctx, realVolume, Options{Progress: func(done, _ int) {
		if done == 3 {
			cancel()
		}
	}})
	if v != nil || !errors.Is(err, context.Canceled) || fault.CodeOf(err) != fault.Invalid {
		t.Errorf("%v, %v", v, err)
	}
}

// Names in a zip are words only: nothing is written under them.
func TestZipNamesAreHarmless(t *testing.T) {
	grey := pngBytes(t, greyPicture(64, 48))
	folder := t.TempDir()
	p := writeFile(t, filepath.Join(folder, "x"), "a.zip", zipBytes(t, zipped{"../../evil.png", grey}))
	v, err := Open(context.Background(), p, Options{})
	if err != nil || v.Slices != 1 {
		t.Fatalf("%v", err)
	}
	found, err := filepath.Glob(filepath.Join(folder, "*", "*"))
	if err != nil || len(found) != 1 {
		t.Errorf("files %v", found)
	}
}

func TestNaturalOrder(t *testing.T) {
	ordered := []string{"A1.png", "a2.png", "a02b.png", "a10.png", "a010b.png", "a99999999999999999999998", "a99999999999999999999999", "b", "b1", "b1a", "c 9", "c 10", "scan/2/9", "scan/10/1"}
	for i, a := range ordered {
		for j, b := range ordered {
			if got := naturalLess(a, b); got != (i < j) {
				t.Errorf("naturalLess(%q, %q) = %v", a, b, got)
			}
		}
	}
}

func TestReadFaultPermission(t *testing.T) {
	err := readFault("a.tif", &filepathError{})
	if !strings.Contains(err.Error(), "no permission") {
		t.Errorf("%v", err)
	}
}

type filepathError struct{}

func (*filepathError) Error() string        { return "permission denied" }
func (*filepathError) Is(target error) bool { return target == fs.ErrPermission }
