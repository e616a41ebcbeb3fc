package figure

import (
	"os"
	"testing"

	"limitans/internal/exchange/scan"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

func realSubject(t testing.TB) Subject {
	t.Helper()
	d, l, s := 3.87, 5.77, 31.0
	v, err := scan.Open(t.Context(), "../../testdata/macular-hole-volume/macular-hole-volume.tif",
		scan.Options{Scale: scan.GivenScale{DepthUM: &d, LateralUM: &l, SliceUM: &s}})
	if err != nil {
		t.Fatal(err)
	}
	traced, err := surface.Trace(t.Context(), v, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := hole.Measure(v, traced, hole.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return Subject{Volume: v, Surfaces: traced, Hole: h}
}

func TestWriteAllReal(t *testing.T) {
	folder := t.TempDir()
	if out := os.Getenv("FIGURES"); out != "" {
		folder = out
	}
	names, err := WriteAll(t.Context(), folder, realSubject(t), nil)
	if err != nil || len(names) != 52 {
		t.Fatal(len(names), err)
	}
}
