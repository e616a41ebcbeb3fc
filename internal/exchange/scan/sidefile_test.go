package scan

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

func TestSideFile(t *testing.T) {
	full := "# beside the scan\ndepth_um: 3.87\nlateral_um: 5.77\nslice_um: 31\neye: OD\naxial_length_mm: 24.1\npattern: raster\nacquired: 2024-03-31 14:05\n"
	for _, c := range []struct {
		name, text string
		fault      string // part of the message, empty for none
	}{
		{"all keys", full, ""},
		{"empty", "", ""},
		{"comment only", "# nothing\n", ""},
		{"radial", "pattern: radial\nslice_angles_deg: [0, 60.5, 120]\n", ""},
		{"unknown key", "depth_mu: 3.87\n", "was depth_um meant?"},
		{"other unknown key", "patient: x\n", "expected depth_um, lateral_um"},
		{"twice", "depth_um: 1\ndepth_um: 2\n", "depth_um"},
		{"zero", "depth_um: 0\n", "0 µm per sample cannot be"},
		{"negative", "lateral_um: -5\n", "cannot be"},
		{"not a number", "lateral_um: .nan\n", "is not a number"},
		{"infinite", "slice_um: .inf\n", "cannot be"},
		{"huge", "slice_um: 1e9\n", "cannot be"},
		{"millimetres", "depth_um: 0.00387\n", "was 3.87 µm meant"},
		{"unit", "depth_um: 3.87 µm\n", "no unit"},
		{"comma", "depth_um: 3,87\n", "decimal point"},
		{"no value", "depth_um:\n", "no plain value"},
		{"list for number", "depth_um: [1]\n", "no plain value"},
		{"bad side", "eye: both\n", "does not name a side"},
		{"bad length", "axial_length_mm: 241\n", "was 24.1 mm meant?"},
		{"bad date", "acquired: 2024-02-31\n", "is not a date"},
		{"bad pattern", "pattern: star\n", "raster or radial"},
		{"radial without angles", "pattern: radial\n", "needs slice_angles_deg"},
		{"angles without radial", "slice_angles_deg: [0]\n", "pattern is not radial"},
		{"angle out of range", "pattern: radial\nslice_angles_deg: [0, 1e6]\n", "cannot be"},
		{"list", "- 1\n- 2\n", "keys and values"},
		{"anchor", "depth_um: &a 3.87\nlateral_um: *a\n", "no plain value"},
		{"tabs", "\tdepth_um: 1\n\t\tx: [", "YAML"},
		{"nested", "depth_um:\n  value: 3\n", "no plain value"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := parseSideFile("scan.yaml", []byte(c.text))
			if c.fault == "" {
				if err != nil {
					t.Fatal(err)
				}
				if c.text == full && (*s.scale.DepthUM != 3.87 || *s.scale.SliceUM != 31 || s.eye != eye.Right ||
					s.axialLengthMM != 24.1 || s.pattern != oct.PatternRaster || s.acquired.Hour() != 14) {
					t.Errorf("%+v", s)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), c.fault) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v", err)
			}
		})
	}
}

// copyTo copies a file of the test data into a folder under another name.
func copyTo(t *testing.T, from, folder, name string) string {
	t.Helper()
	data, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	return writeFile(t, folder, name, data)
}

func writeFile(t *testing.T, folder, name string, data []byte) string {
	t.Helper()
	p := filepath.Join(folder, name)
	if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

// The user's word is laid over the side file's, and the difference is told.
func TestScalePrecedence(t *testing.T) {
	folder := t.TempDir()
	p := copyTo(t, realVolume, folder, "hole.tif")
	writeFile(t, folder, "hole.yaml", []byte("depth_um: 3.87\nlateral_um: 5.77\nslice_um: 31\n"))
	v, err := Open(context.Background(), p, Options{Scale: GivenScale{DepthUM: new(3.5), LateralUM: new(5.8)}})
	if err != nil {
		t.Fatal(err)
	}
	if v.Scale.Depth.MicrometresPerSample != 3.5 || v.Scale.Depth.Source != "given by the user" {
		t.Errorf("depth %+v", v.Scale.Depth)
	}
	if v.Scale.Slice.Source != "side file hole.yaml" || v.Scale.Slice.Trust != oct.TrustUserGiven {
		t.Errorf("slice %+v", v.Scale.Slice)
	}
	notes := strings.Join(v.Notes, "\n")
	if !strings.Contains(notes, "3.87") || strings.Contains(notes, "5.77") { // 5.8 is within 1 % of 5.77
		t.Errorf("notes %s", notes)
	}
}

// A person's scale wins over the file's own; a difference beyond 1 % is told
// with both values, one within it is not.
func TestScaleOverFileAttribute(t *testing.T) {
	v := &oct.Volume{}
	v.Scale.Depth = oct.AxisScale{MicrometresPerSample: 3.87, Trust: oct.TrustFileGiven, Source: "Pixel Spacing"}
	v.Scale.Lateral = oct.AxisScale{MicrometresPerSample: 11.5, Trust: oct.TrustFileGiven, Source: "Pixel Spacing"}
	GivenScale{DepthUM: new(3.9), LateralUM: new(11.65)}.apply(v, "given by the user")
	if v.Scale.Depth.MicrometresPerSample != 3.9 || v.Scale.Lateral.MicrometresPerSample != 11.65 || v.Scale.Depth.Trust != oct.TrustUserGiven {
		t.Errorf("%+v", v.Scale)
	}
	want := "lateral scale: 11.65 µm per sample (given by the user) is used; Pixel Spacing says 11.5 µm"
	if len(v.Notes) != 1 || v.Notes[0] != want {
		t.Errorf("%q", v.Notes)
	}
}

func TestTwoSideFiles(t *testing.T) {
	folder := t.TempDir()
	p := copyTo(t, realVolume, folder, "hole.tif")
	writeFile(t, folder, "hole.yaml", nil)
	writeFile(t, folder, "hole.tif.yaml", nil)
	if _, err := Open(context.Background(), p, Options{}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("got %v", err)
	}
}

// Hard case 23 of the list of difficult inputs: form, header and file name
// disagree. Here form, side file and file name do.
func TestSideConflict(t *testing.T) {
	folder := t.TempDir()
	p := copyTo(t, filepath.Join(kermany, "NORMAL-1384-3.jpeg"), folder, "scan-OD_3.jpeg")
	open := func(o Options) (*oct.Volume, error) { return Open(context.Background(), p, o) }
	v, err := open(Options{})
	if err != nil || v.Laterality != eye.SideUnknown || !strings.Contains(strings.Join(v.Notes, "\n"), "only file name") {
		t.Errorf("a name alone set the side: %v, %v, %v", v.Laterality, v.Notes, err)
	}
	if v, err := open(Options{Laterality: eye.Right}); err != nil || v.Laterality != eye.Right {
		t.Errorf("agreeing sources: %v", err)
	}
	writeFile(t, folder, "scan-OD_3.yaml", []byte("eye: left\n"))
	_, err = open(Options{Laterality: eye.Right})
	if fault.CodeOf(err) != fault.Conflict {
		t.Fatalf("got %v", err)
	}
	for _, part := range []string{"the user says Right", "side file scan-OD_3.yaml says Left", "file name scan-OD_3.jpeg says Right"} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("%q lacks %q", err, part)
		}
	}
	v, err = open(Options{Laterality: eye.Right, AcceptSide: true})
	if err != nil || v.Laterality != eye.Right || !strings.Contains(strings.Join(v.Notes, "\n"), "confirmed by the user") {
		t.Errorf("confirmed: %v", err)
	}
	if _, err = open(Options{AcceptSide: true}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a confirmation without a side was taken: %v", err)
	}
}

func TestSideInName(t *testing.T) {
	for name, want := range map[string]eye.Laterality{
		"x_OD.tif": eye.Right, "os3.png": eye.Left, "12-od-07.dcm": eye.Right, "LEFT eye.jpg": eye.Left,
		"todos.tif": eye.SideUnknown, "OD_OS.png": eye.SideUnknown, "r.png": eye.SideUnknown, "Rod.png": eye.SideUnknown,
	} {
		if got := sideInName(name); got != want {
			t.Errorf("%s: %s", name, got)
		}
	}
}
