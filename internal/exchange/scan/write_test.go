package scan

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"limitans/eye"
	"limitans/oct"
)

// What WriteTIFF and SideFile write, Open reads back: samples, scale and side.
func TestWriteTIFFRoundTrip(t *testing.T) {
	for _, bits := range []int{8, 16} {
		v := &oct.Volume{Slices: 3, Rows: 17, Columns: 19, BitDepth: bits, Pattern: oct.PatternRaster, Laterality: eye.Left}
		for i := range v.Slices * v.Rows * v.Columns {
			v.Samples = append(v.Samples, uint16(i*97)&v.MaxSample())
		}
		axis := func(um float64) oct.AxisScale {
			return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustFileGiven}
		}
		v.Scale = oct.Scale{Depth: axis(3.87), Lateral: axis(5.77), Slice: axis(31)}
		var tiff bytes.Buffer
		if err := WriteTIFF(&tiff, v); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(t.TempDir(), "made.tif")
		for file, data := range map[string][]byte{name: tiff.Bytes(), name[:len(name)-4] + ".yaml": SideFile(v)} {
			if err := os.WriteFile(file, data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := Open(context.Background(), name, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.Samples, v.Samples) || got.BitDepth != bits || got.Laterality != eye.Left {
			t.Errorf("%d bits: samples, depth or side changed (%d bits, %v)", bits, got.BitDepth, got.Laterality)
		}
		for i, pair := range [][2]oct.AxisScale{{got.Scale.Depth, v.Scale.Depth}, {got.Scale.Lateral, v.Scale.Lateral}, {got.Scale.Slice, v.Scale.Slice}} {
			if pair[0].MicrometresPerSample != pair[1].MicrometresPerSample {
				t.Errorf("axis %d: %v, want %v", i, pair[0], pair[1])
			}
		}
	}
}
