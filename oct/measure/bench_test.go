package measure_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"limitans/internal/exchange/scan"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/phantom"
)

// A raster of the usual size: 49 B-scans of 496 samples in depth and 768
// A-scans.
const benchSlices, benchRows, benchColumns = 49, 496, 768

// benchPhantom is a hole of middle size with everything that makes work: noise,
// cysts, fragments, strands, frayed walls and a tilted retina.
func benchPhantom() phantom.Parameters {
	return phantom.Parameters{
		Slices: benchSlices, Rows: benchRows, Columns: benchColumns, BitDepth: 8,
		DepthUM: 3.87, LateralUM: 5.8, SliceUM: 30, TiltLateralDeg: 2, TiltSliceDeg: 1, CurvatureRadiusMM: 15,
		MotionDepthUM: 4, MotionLateralUM: 3, Seed: 49, ThicknessUM: 300,
		Looks: 6, NoiseFloor: 1, SignalLevel: 1, AxialSigmaUM: 3.5, LateralSigmaUM: 6,
		Display: phantom.Display{Curve: phantom.CurveLogarithm, BlackDB: -2, RangeDB: 36}, GrainLateral: 0.28, GrainDepth: 0.5,
		Hole: &phantom.Hole{
			MinimumUM: 400, OvalityRatio: 1.15, MeridianDeg: 30, BaseRatio: 1.8, WaistHeightFraction: 0.5,
			RimHeightUM: 400, RimRollUM: 240, RimDecayUM: 330, Overhang: 0.1, WallRoughnessUM: 5,
		},
		Cysts: 40, Fragments: 4, Strands: 1, Vessels: 4, Fraying: 0.7,
	}
}

// benchScan writes the phantom as a multi-page TIFF with its side file.
func benchScan(tb testing.TB) string {
	tb.Helper()
	v, _, err := phantom.Make(benchPhantom())
	if err != nil {
		tb.Fatal(err)
	}
	stem := filepath.Join(tb.TempDir(), "scan")
	file, err := os.Create(stem + ".tif")
	if err != nil {
		tb.Fatal(err)
	}
	if err := scan.WriteTIFF(file, v); err != nil {
		tb.Fatal(err)
	}
	if err := file.Close(); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(stem+".yaml", scan.SideFile(v), 0o600); err != nil {
		tb.Fatal(err)
	}
	return stem + ".tif"
}

// openScan reads the scan and makes sure that it is the one that was meant.
func openScan(tb testing.TB, name string) *oct.Volume {
	tb.Helper()
	v, err := scan.Open(context.Background(), name, scan.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	if v.Slices != benchSlices || v.Rows != benchRows || v.Columns != benchColumns || !v.Scale.Slice.Known() {
		tb.Fatalf("%d × %d × %d samples at %+v", v.Slices, v.Rows, v.Columns, v.Scale)
	}
	return v
}

// measureScan measures and makes sure that the whole path was gone: a scan in
// which nothing is found would be measured faster.
func measureScan(tb testing.TB, v *oct.Volume) {
	tb.Helper()
	r, err := measure.Volume(context.Background(), v, measure.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	if r.Hole.Judgement != hole.FullThickness || !r.Hole.MLDUM.Known() || !r.Hole.VolumeMM3.Known() || r.Thickness == nil {
		tb.Fatalf("the hole was not measured: %s", r.Hole.Judgement)
	}
}

// BenchmarkVolume49x496x768 times one scan from the file to all figures:
// reading alone, measuring alone, and both.
func BenchmarkVolume49x496x768(b *testing.B) {
	name := benchScan(b)
	v := openScan(b, name)
	run := func(part string, work func()) {
		b.Run(part, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(benchSlices * benchRows * benchColumns) // one byte a sample
			for b.Loop() {
				work()
			}
			b.ReportMetric(b.Elapsed().Seconds()*1e3/float64(b.N)/benchSlices, "ms/B-scan")
		})
	}
	run("reading", func() { openScan(b, name) })
	run("measuring", func() { measureScan(b, v) })
	run("both", func() { measureScan(b, openScan(b, name)) })
}
