package figure

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/surface"
)

// TestWriteAllReal writes the drawings of the open volume twice, from two
// measurements, and compares every byte. With LIMITANS_FIGURES set it leaves
// drawings there to be looked at.
func TestWriteAllReal(t *testing.T) {
	first, second := t.TempDir(), filepath.Join(t.TempDir(), "new", "folder")
	if kept := os.Getenv("LIMITANS_FIGURES"); kept != "" {
		first = kept
		v, s := madeEye(61, 200, 120, 6400)
		v.Laterality = eye.Right
		if _, err := WriteAll(t.Context(), filepath.Join(kept, "made"), measured(t, v, s), nil); err != nil {
			t.Fatal(err)
		}
		if _, err := WriteAll(t.Context(), filepath.Join(kept, "unscaled"), realSubject(t, false, eye.Left), nil); err != nil {
			t.Fatal(err)
		}
	}
	steps := 0
	names, err := WriteAll(t.Context(), first, realSubject(t, true, eye.Right), func(done, total int) {
		if steps++; done != steps || total != 54 {
			t.Errorf("progress %d of %d at step %d", done, total, steps)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(names) != 5+49 || names[0] != "overview.svg" || names[53] != "slice-049.svg" {
		t.Errorf("%d files, first %q, last %q", len(names), names[0], names[len(names)-1])
	}
	if _, err := WriteAll(t.Context(), second, freshSubject(t, true, eye.Right), nil); err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		a, errA := os.ReadFile(filepath.Join(first, name))
		b, errB := os.ReadFile(filepath.Join(second, name))
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs or is missing: %v %v", name, errA, errB)
		}
	}
}

// listing is what a folder holds, hidden things included.
func listing(t *testing.T, folder string) string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		return "not there"
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

func TestFailedRunLeavesNothing(t *testing.T) {
	v, s := madeEye(3, 40, 40, 4000)
	subject := Subject{Volume: v, Surfaces: s}
	base := t.TempDir()
	file := filepath.Join(base, "file")
	if err := os.WriteFile(file, []byte("kept"), 0o644); err != nil {
		t.Fatal(err)
	}
	ended, end := context.WithCancel(t.Context())
	if _, err := WriteAll(ended, filepath.Join(base, "a", "b"), subject, func(done, _ int) {
		if done == 2 {
			end()
		}
	}); !errors.Is(err, context.Canceled) || listing(t, filepath.Join(base, "a", "b")) != "not there" {
		t.Errorf("ended run: %v, leaves %s", err, listing(t, filepath.Join(base, "a", "b")))
	}
	for name, c := range map[string]struct {
		folder  string
		subject Subject
		code    fault.Code
	}{
		"a file":              {file, subject, fault.Invalid},
		"below a file":        {filepath.Join(file, "x"), subject, fault.Invalid},
		"no scan":             {filepath.Join(base, "c"), Subject{}, fault.Internal},
		"foreign surfaces":    {filepath.Join(base, "c"), Subject{Volume: v, Surfaces: foreign()}, fault.Internal},
		"impossible volume":   {filepath.Join(base, "c"), Subject{Volume: &oct.Volume{}, Surfaces: s}, fault.Malformed},
		"a line is not there": {filepath.Join(base, "c"), Subject{Volume: v, Surfaces: &surface.Surfaces{}}, fault.Internal},
	} {
		names, err := WriteAll(t.Context(), c.folder, c.subject, nil)
		if fault.CodeOf(err) != c.code || names != nil {
			t.Errorf("%s: %v, %v", name, names, err)
		}
	}
	if got := listing(t, base); got != "a file" {
		t.Errorf("left behind: %s", got)
	}
	if kept, err := os.ReadFile(file); err != nil || string(kept) != "kept" {
		t.Errorf("the file was touched: %q %v", kept, err)
	}
}

func foreign() *surface.Surfaces {
	_, s := madeEye(3, 40, 41, 4000)
	return s
}

func TestFoldersOfOtherScansAreRefused(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "notes.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	v, s := madeEye(4, 40, 40, 4000)
	if _, err := WriteAll(t.Context(), folder, Subject{Volume: v, Surfaces: s}, nil); err != nil {
		t.Fatal(err)
	}
	before := listing(t, folder)
	if _, err := WriteAll(t.Context(), folder, Subject{Volume: v, Surfaces: s}, nil); err != nil || listing(t, folder) != before {
		t.Errorf("the same scan again: %v, %s", err, listing(t, folder))
	}
	v, s = madeEye(3, 40, 40, 4000)
	if _, err := WriteAll(t.Context(), folder, Subject{Volume: v, Surfaces: s}, nil); fault.CodeOf(err) != fault.Conflict || listing(t, folder) != before {
		t.Errorf("a shorter scan over a longer one: %v, %s", err, listing(t, folder))
	}
}

// Scans of every small size, with nothing, something and everything traced, are
// drawn without a panic and stay on their sheets.
func TestTinyScans(t *testing.T) {
	for _, size := range [][3]int{{1, 1, 1}, {1, 40, 30}, {2, 1, 9}, {2, 9, 1}, {3, 2, 2}, {17, 3, 5}, {1, 3, 900}, {1, 900, 3}} {
		for _, traced := range []bool{true, false} {
			t.Run(fmt.Sprint(size, traced), func(t *testing.T) {
				v, s := madeEye(size[0], size[1], size[2], 1000)
				if !traced {
					s.InnerLimitingMembrane = surface.New("inner limiting membrane", size[0], size[2])
					s.PigmentEpithelium = surface.New("pigment epithelium", size[0], size[2])
				}
				h := madeHole(v, 0.2*float64(size[2])-0.5, 0.6*float64(size[2])-0.5)
				for _, d := range drawings(Subject{Volume: v, Surfaces: s, Hole: h}) {
					checkSheet(t, d.draw())
				}
				for _, d := range drawings(Subject{Volume: v, Surfaces: s}) {
					checkSheet(t, d.draw())
				}
			})
		}
	}
}

// Deep samples are shown from the darkest to the brightest thousandth; one
// value everywhere is no division by zero.
func TestGreyWindow(t *testing.T) {
	v := &oct.Volume{Slices: 1, Rows: 100, Columns: 100, BitDepth: 16, Samples: make([]uint16, 10_000)}
	if w := grey.WindowOf(v); w.Grey(0) != 0 {
		t.Errorf("flat scan: %v", w)
	}
	for i := range v.Samples {
		v.Samples[i] = uint16(1000 + i)
	}
	if w := grey.WindowOf(v); w.Low != 1010 || w.High != 10_989 || w.Grey(1000) != 0 || w.Grey(60_000) != 255 || w.Grey(6000) != 128 {
		t.Errorf("%v, middle %d", w, w.Grey(6000))
	}
	v.BitDepth = 8
	if w := grey.WindowOf(v); w.Low != 0 || w.High != 255 {
		t.Errorf("8 bits: %v", w)
	}
}
