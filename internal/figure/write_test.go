package figure

import (
	"os"
	"path/filepath"
	"testing"

	"limitans/eye"
)

// TestWriteAllReal writes the drawings of the open volume; with
// LIMITANS_FIGURES set it leaves them there to be looked at.
func TestWriteAllReal(t *testing.T) {
	folder := t.TempDir()
	if kept := os.Getenv("LIMITANS_FIGURES"); kept != "" {
		folder = kept
		v, s := madeEye(61, 200, 120, 6400)
		v.Laterality = eye.Right
		if _, err := WriteAll(t.Context(), filepath.Join(kept, "made"), measured(t, v, s), nil); err != nil {
			t.Fatal(err)
		}
		if _, err := WriteAll(t.Context(), filepath.Join(kept, "unscaled"), realSubject(t, false, eye.Left), nil); err != nil {
			t.Fatal(err)
		}
	}
	names, err := WriteAll(t.Context(), folder, realSubject(t, true, eye.Right), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(names) != 4+49 || names[0] != "overview.svg" {
		t.Errorf("%d files, first %q", len(names), names[0])
	}
}
