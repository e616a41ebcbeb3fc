package scan

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// TestDICOMScaleRules goes through the reading rule of PS3.3 attributes case by
// case; 0 µm with trust unknown means that nothing may be claimed.
func TestDICOMScaleRules(t *testing.T) {
	type expectation struct {
		depth, lateral, slice float64 // µm, 0 unknown
		sliceTrust            oct.Trust
		pattern               oct.Pattern
		first                 uint16 // value of slice 0
		note                  string
	}
	file, assumed, unknown := oct.TrustFileGiven, oct.TrustAssumed, oct.TrustUnknown
	top := func(tag dicom.Tag, vr dicom.VR, value any) func(*dicom.DataSet) {
		return func(s *dicom.DataSet) { s.Put(tag, vr, value) }
	}
	for name, c := range map[string]struct {
		scan dicomScan
		want expectation
	}{
		"pixel measures and even positions": {
			dicomScan{frames: 3, shared: putSpacing("0.004", "0.011"), own: atHeights(0, 0.06, 0.12)},
			expectation{4, 11, 60, file, oct.PatternRaster, 10, ""},
		},
		"positions that descend keep the file's order": {
			dicomScan{frames: 3, shared: putSpacing("0.004", "0.011"), own: atHeights(0.12, 0.06, 0)},
			expectation{4, 11, 60, file, oct.PatternRaster, 10, ""},
		},
		"positions out of order": {
			dicomScan{frames: 3, shared: putSpacing("0.004", "0.011"), own: atHeights(0.12, 0, 0.06)},
			expectation{4, 11, 60, file, oct.PatternRaster, 20, "put in order"},
		},
		"uneven positions": {
			dicomScan{frames: 4, shared: putSpacing("0.004", "0.011"), own: atHeights(0, 0.06, 0.18, 0.24)},
			expectation{4, 11, 80, assumed, oct.PatternRaster, 10, "unevenly spaced: 60 to 120 µm, widest between slices 2 and 3"},
		},
		"all at one place": {
			dicomScan{frames: 3, shared: putSpacing("0.004", "0.011"), own: atHeights(1, 1, 1)},
			expectation{4, 11, 0, unknown, oct.PatternUnknown, 10, "all slices lie at one place"},
		},
		"two at one place": {
			dicomScan{frames: 3, shared: putSpacing("0.004", "0.011"), own: atHeights(0, 0.06, 0.06)},
			expectation{4, 11, 0, unknown, oct.PatternUnknown, 10, "same place as others"},
		},
		"slices far apart": {
			dicomScan{frames: 2, shared: putSpacing("0.004", "0.011"), own: atHeights(0, 60)},
			expectation{4, 11, 0, unknown, oct.PatternRaster, 10, "60000 µm"},
		},
		"slices shifted sideways": {
			dicomScan{
				frames: 2, shared: putSpacing("0.004", "0.011"),
				own: func(k int, g *dicom.DataSet) {
					putPlane(g, []float64{0.2 * float64(k), 0, 0.06 * float64(k)}, straight)
				},
			},
			expectation{4, 11, 60, file, oct.PatternRaster, 10, "shifted within their planes by up to 200 µm"},
		},
		"spacing of the image": {
			dicomScan{frames: 1, top: top(dicom.TagPixelSpacing, "DS", []string{"0.0038", "0.0116"})},
			expectation{3.8, 11.6, 0, unknown, oct.PatternSingle, 10, ""},
		},
		"nominal and imager spacing are no scale": {dicomScan{frames: 1, top: func(s *dicom.DataSet) {
			s.Put(0x00182010, "DS", []string{"0.0038", "0.0116"})
			s.Put(0x00181164, "DS", []string{"0.0038", "0.0116"})
		}}, expectation{0, 0, 0, unknown, oct.PatternSingle, 10, "no Pixel Spacing"}},
		"resolutions are no scale": {dicomScan{frames: 2, top: func(s *dicom.DataSet) {
			s.Put(0x00220035, "FL", 7.0)
			s.Put(0x00220037, "FL", 14.0)
			s.Put(0x00220048, "FL", 120.0)
		}}, expectation{0, 0, 0, unknown, oct.PatternUnknown, 10, "does not say where the slices lie"}},
		"spacing along the slice alone": {
			dicomScan{frames: 1, shared: putSpacing("", "0.0116")},
			expectation{0, 11.6, 0, unknown, oct.PatternSingle, 10, "empty for the depth scale"},
		},
		"a spacing of one millimetre": {
			dicomScan{frames: 1, shared: putSpacing("1", "1")},
			expectation{0, 0, 0, unknown, oct.PatternSingle, 10, "1000 µm per sample for the depth scale"},
		},
		"spacing between slices": {
			dicomScan{frames: 2, top: top(dicom.TagSpacingBetweenSlices, "DS", "0.03")},
			expectation{0, 0, 30, file, oct.PatternRaster, 10, ""},
		},
		"slice thickness": {
			dicomScan{frames: 2, top: top(dicom.TagSliceThickness, "DS", "0.05")},
			expectation{0, 0, 50, assumed, oct.PatternRaster, 10, "is an assumption"},
		},
		"slice thickness zero": {
			dicomScan{frames: 2, top: top(dicom.TagSliceThickness, "DS", "0")},
			expectation{0, 0, 0, unknown, oct.PatternUnknown, 10, "unknown"},
		},
		"lines on a picture that is not there": {
			dicomScan{frames: 2, own: onFundus([]float64{10, 0, 10, 90}, []float64{20, 0, 20, 90})},
			expectation{0, 0, 0, unknown, oct.PatternUnknown, 10, "the picture is not among the files"},
		},
		"a circle": {
			dicomScan{frames: 2, own: onFundus([]float64{10, 0, 10, 90, 50, 50}, []float64{20, 0, 20, 90, 50, 50})},
			expectation{0, 0, 0, unknown, oct.PatternUnknown, 10, "no straight line"},
		},
		"planes that neither lie side by side nor cross": {dicomScan{frames: 2, shared: putSpacing("0.004", "0.011"), own: func(k int, g *dicom.DataSet) {
			putPlane(g, []float64{0, 0, 0}, [][]float64{straight, {0, 0, 1, 0, 1, 0}}[k])
		}}, expectation{4, 11, 0, unknown, oct.PatternUnknown, 10, "neither parallel"}},
	} {
		t.Run(name, func(t *testing.T) {
			v, err := fromDICOM("scan.dcm", c.scan.bytes(t), nil)
			if err != nil {
				t.Fatal(err)
			}
			w := c.want
			for _, s := range []struct {
				got   oct.AxisScale
				want  float64
				trust oct.Trust
			}{{v.Scale.Depth, w.depth, file}, {v.Scale.Lateral, w.lateral, file}, {v.Scale.Slice, w.slice, w.sliceTrust}} {
				if s.want == 0 && s.got.Known() || s.want != 0 && (!near(s.got.MicrometresPerSample, s.want) || s.got.Trust != s.trust || s.got.Source == "") {
					t.Errorf("scale %+v, want %g µm, %s", s.got, s.want, s.trust)
				}
			}
			if v.Pattern != w.pattern || v.Slice(0)[0] != w.first || !strings.Contains(strings.Join(v.Notes, "; "), w.note) {
				t.Errorf("%s, slice 0 is %d, notes %q", v.Pattern, v.Slice(0)[0], v.Notes)
			}
		})
	}
}

// TestDICOMOnFundus: slices are placed by a picture of the fundus of another
// series that lies beside them. The picture has rows 0.02 mm and columns 0.01 mm
// apart.
func TestDICOMOnFundus(t *testing.T) {
	fundus := dicomScan{
		class: photographyClass, instance: fundusUID, series: "2.25.9", frames: 1, rows: 8, columns: 8,
		top: func(s *dicom.DataSet) { s.Put(dicom.TagPixelSpacing, "DS", []string{"0.02", "0.01"}) },
	}.named(t, "fundus.dcm")

	raster := dicomScan{frames: 3, own: onFundus([]float64{10, 0, 10, 90}, []float64{13, 0, 13, 90}, []float64{16, 0, 16, 90})}
	v, err := fromDICOMSeries([]namedBytes{fundus, raster.named(t, "scan.dcm")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s := v.Scale.Slice; v.Pattern != oct.PatternRaster || math.Abs(s.MicrometresPerSample-60) > 1e-6 || s.Trust != oct.TrustFileGiven || !strings.Contains(s.Source, "fundus.dcm") {
		t.Errorf("raster: %s, %+v, notes %q", v.Pattern, s, v.Notes)
	}

	// Through (row 50, column 50): to the right, straight up, and at 45° on the
	// retina: 10 rows up are 0.2 mm, 20 columns to the right are 0.2 mm.
	star := dicomScan{frames: 3, own: onFundus([]float64{50, 30, 50, 70}, []float64{60, 50, 40, 50}, []float64{60, 30, 40, 70})}
	v, err = fromDICOMSeries([]namedBytes{star.named(t, "scan.dcm"), fundus}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range []float64{0, 90, 45} {
		if v.Pattern != oct.PatternRadial || math.Abs(v.SliceAnglesDeg[k]-want) > 1e-6 {
			t.Fatalf("radial: %s, %v, notes %q", v.Pattern, v.SliceAnglesDeg, v.Notes)
		}
	}
}

// TestDICOMRoundTrip writes scans as Ophthalmic Tomography Images and reads them
// again: samples, scales, side, pattern, angles and eye length come back.
func TestDICOMRoundTrip(t *testing.T) {
	for _, c := range []struct {
		bits, slices, storedBits int
		pattern                  oct.Pattern
	}{{8, 5, 8, oct.PatternRaster}, {5, 1, 8, oct.PatternSingle}, {10, 3, 12, oct.PatternRaster}, {16, 12, 16, oct.PatternRadial}, {8, 7, 8, oct.PatternRadial}} {
		given := func(um float64) oct.AxisScale {
			return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "test"}
		}
		v := &oct.Volume{
			Slices: c.slices, Rows: 13, Columns: 9, BitDepth: c.bits, Pattern: c.pattern, Laterality: eye.Left,
			Samples: make([]uint16, c.slices*13*9), Scale: oct.Scale{Depth: given(3.8671875), Lateral: given(100.0 / 17)},
			Acquisition: oct.Acquisition{AxialLengthMM: 28.04, Manufacturer: "Müller", AcquiredAt: time.Date(2023, 5, 1, 9, 0, 0, 0, time.FixedZone("", -5*3600))},
		}
		for i := range v.Samples {
			v.Samples[i] = uint16(i*7919) & v.MaxSample()
		}
		switch c.pattern {
		case oct.PatternRaster:
			v.Scale.Slice = given(61.279)
		case oct.PatternRadial:
			for k := range c.slices {
				v.SliceAnglesDeg = append(v.SliceAnglesDeg, 360*float64(k)/float64(c.slices))
			}
		}
		var out bytes.Buffer
		if err := dicom.WriteOphthalmicTomography(&out, v, dicom.OphthalmicMeta{Seed: "round trip", At: time.Date(2024, 1, 2, 3, 4, 5, 0, time.UTC)}); err != nil {
			t.Fatal(err)
		}
		got, err := fromDICOM("object.dcm", out.Bytes(), nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Notes) != 0 || got.Pattern != v.Pattern || got.Laterality != v.Laterality || got.BitDepth != c.storedBits || got.Slices != v.Slices || got.Rows != v.Rows || got.Columns != v.Columns {
			t.Errorf("%+v: %d bits, %s, %s, notes %q", c, got.BitDepth, got.Pattern, got.Laterality, got.Notes)
		}
		for i := range v.Samples {
			if got.Samples[i] != v.Samples[i] {
				t.Fatalf("%+v: sample %d differs", c, i)
			}
		}
		// A DS has 16 characters, at least 10 significant digits here.
		for i, pair := range [][2]float64{{got.Scale.Depth.MicrometresPerSample, v.Scale.Depth.MicrometresPerSample}, {got.Scale.Lateral.MicrometresPerSample, v.Scale.Lateral.MicrometresPerSample}, {got.Scale.Slice.MicrometresPerSample, v.Scale.Slice.MicrometresPerSample}} {
			if math.Abs(pair[0]-pair[1]) > 1e-9*(1+pair[1]) {
				t.Errorf("%+v: scale %d: %g, want %g", c, i, pair[0], pair[1])
			}
		}
		for k, want := range v.SliceAnglesDeg {
			if d := math.Abs(got.SliceAnglesDeg[k] - want); math.Min(d, 360-d) > 1e-8 {
				t.Errorf("%+v: angle %d is %g, want %g", c, k, got.SliceAnglesDeg[k], want)
			}
		}
		if a := got.Acquisition; a.AxialLengthMM != 28.04 || a.Manufacturer != "Müller" || !a.AcquiredAt.Equal(v.Acquisition.AcquiredAt) || a.Format != "DICOM Ophthalmic Tomography Image" {
			t.Errorf("%+v: %+v", c, a)
		}
	}
}

// TestRadialAnglesFromTwoSides: the angles are those of the fundus as it is seen
// whatever axes the instrument uses, as long as they are right-handed.
func TestRadialAnglesFromTwoSides(t *testing.T) {
	// Depth along −z (the instrument's own axes): right is +x, up is +y.
	directions := [][]float64{{1, 0, 0}, {0, 1, 0}, {-math.Sqrt2 / 2, math.Sqrt2 / 2, 0}}
	scan := dicomScan{frames: 3, shared: putSpacing("0.004", "0.01"), own: func(k int, g *dicom.DataSet) {
		d := directions[k]
		putPlane(g, []float64{-0.05 * d[0], -0.05 * d[1], 0}, append(append([]float64{}, d...), 0, 0, -1))
	}}
	v, err := fromDICOM("star.dcm", scan.bytes(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range []float64{0, 90, 135} {
		if v.Pattern != oct.PatternRadial || math.Abs(v.SliceAnglesDeg[k]-want) > 1e-6 {
			t.Fatalf("%s, %v, notes %q", v.Pattern, v.SliceAnglesDeg, v.Notes)
		}
	}
}
