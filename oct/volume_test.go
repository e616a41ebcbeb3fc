package oct_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// Sizes around every limit, and products that overflow 32 and 64 bits.
func TestCheckSize(t *testing.T) {
	for _, test := range []struct {
		name                  string
		slices, rows, columns int
		want                  fault.Code
	}{
		{"one sample", 1, 1, 1, ""},
		{"a usual volume", 49, 496, 768, ""},
		{"the longest sides", 1, oct.MaxSide, oct.MaxSide, ""},
		{"exactly the most samples", 15, oct.MaxSide, 2000, ""},
		{"no slice", 0, 10, 10, fault.Malformed},
		{"no row", 10, 0, 10, fault.Malformed},
		{"no column", 10, 10, 0, fault.Malformed},
		{"negative", -1, 10, 10, fault.Malformed},
		{"two negatives make no size", -2, -2, 4, fault.Malformed},
		{"a side too long", 1, oct.MaxSide + 1, 1, fault.TooLarge},
		{"columns too long", 1, 1, oct.MaxSide + 1, fault.TooLarge},
		{"slices too many", oct.MaxSide + 1, 1, 1, fault.TooLarge},
		{"a few samples too many", 15, oct.MaxSide, 2001, fault.TooLarge},
		{"all sides longest", oct.MaxSide, oct.MaxSide, oct.MaxSide, fault.TooLarge},
		{"product is 0 in 32 bits", 1 << 14, 1 << 14, 1 << 14, fault.TooLarge},
		{"product overflows 64 bits", math.MaxInt, math.MaxInt, math.MaxInt, fault.TooLarge},
		{"product is 0 in 64 bits", 1 << 32, 1 << 31, 2, fault.TooLarge},
	} {
		err := oct.CheckSize(test.slices, test.rows, test.columns)
		if fault.CodeOf(err) != test.want {
			t.Errorf("%s: %v, want code %q", test.name, err, test.want)
		}
	}
}

// Accepted sizes are those whose true product is within the limit; the second
// route multiplies in float64, exact up to 2⁵³.
func TestCheckSizeProduct(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.OneOf(rapid.IntRange(1, 3000), rapid.IntRange(1, oct.MaxSide))
		s, r, c := side.Draw(t, "slices"), side.Draw(t, "rows"), side.Draw(t, "columns")
		ok := oct.CheckSize(s, r, c) == nil
		if want := float64(s)*float64(r)*float64(c) <= oct.MaxSamples; ok != want {
			t.Fatalf("%d × %d × %d: accepted is %v", s, r, c, ok)
		}
	})
}

func valid() *oct.Volume {
	known := oct.AxisScale{MicrometresPerSample: 3.87, Trust: oct.TrustFileGiven, Source: "test"}
	return &oct.Volume{
		Slices: 2, Rows: 3, Columns: 4, BitDepth: 8, Samples: make([]uint16, 24),
		Scale: oct.Scale{Depth: known, Lateral: known, Slice: known}, Pattern: oct.PatternRaster,
	}
}

func TestVolumeCheck(t *testing.T) {
	if err := valid().Check(); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name  string
		spoil func(v *oct.Volume)
		where string
		code  fault.Code
	}{
		{"sample missing", func(v *oct.Volume) { v.Samples = v.Samples[:23] }, "samples", fault.Malformed},
		{"sample too many", func(v *oct.Volume) { v.Samples = append(v.Samples, 0) }, "samples", fault.Malformed},
		{"nil samples", func(v *oct.Volume) { v.Samples = nil }, "samples", fault.Malformed},
		{"no rows", func(v *oct.Volume) { v.Rows = 0 }, "size", fault.Malformed},
		{"huge", func(v *oct.Volume) { v.Rows = math.MaxInt }, "size", fault.TooLarge},
		{"no bits", func(v *oct.Volume) { v.BitDepth = 0 }, "bit depth", fault.Malformed},
		{"17 bits", func(v *oct.Volume) { v.BitDepth = 17 }, "bit depth", fault.Malformed},
		{"negative bits", func(v *oct.Volume) { v.BitDepth = -8 }, "bit depth", fault.Malformed},
		{"radial without angles", func(v *oct.Volume) { v.Pattern = oct.PatternRadial }, "slice angles", fault.Malformed},
		{"radial with too many", func(v *oct.Volume) { v.Pattern = oct.PatternRadial; v.SliceAnglesDeg = make([]float64, 3) }, "slice angles", fault.Malformed},
		{"depth is not a number", func(v *oct.Volume) { v.Scale.Depth.MicrometresPerSample = math.NaN() }, "depth scale", fault.Malformed},
		{"lateral is infinite", func(v *oct.Volume) { v.Scale.Lateral.MicrometresPerSample = math.Inf(1) }, "lateral scale", fault.Malformed},
		{"slice is negative", func(v *oct.Volume) { v.Scale.Slice.MicrometresPerSample = -31 }, "slice scale", fault.Malformed},
		{"trusted zero", func(v *oct.Volume) { v.Scale.Lateral.MicrometresPerSample = 0 }, "lateral scale", fault.Malformed},
		{"not a number, though unknown", func(v *oct.Volume) { v.Scale.Depth = oct.AxisScale{MicrometresPerSample: math.NaN()} }, "depth scale", fault.Malformed},
	} {
		v := valid()
		test.spoil(v)
		err := v.Check()
		if fault.CodeOf(err) != test.code || err == nil || !strings.HasPrefix(err.Error(), test.where) {
			t.Errorf("%s: %v; want %s at %s", test.name, err, test.code, test.where)
		}
	}
	v := valid()
	v.Scale = oct.Scale{} // unknown along all axes is allowed
	v.Pattern, v.SliceAnglesDeg = oct.PatternRadial, []float64{0, 90}
	if err := v.Check(); err != nil {
		t.Errorf("unknown scale: %v", err)
	}
}

func TestAxisScaleKnown(t *testing.T) {
	for _, test := range []struct {
		scale oct.AxisScale
		want  bool
	}{
		{oct.AxisScale{}, false},
		{oct.AxisScale{MicrometresPerSample: 4}, false}, // a number nobody stands for
		{oct.AxisScale{Trust: oct.TrustFileGiven}, false},
		{oct.AxisScale{MicrometresPerSample: math.NaN(), Trust: oct.TrustFileGiven}, false},
		{oct.AxisScale{MicrometresPerSample: 4, Trust: oct.TrustAssumed}, true},
		{oct.AxisScale{MicrometresPerSample: 4, Trust: oct.TrustUserGiven}, true},
		{oct.AxisScale{MicrometresPerSample: 4, Trust: oct.TrustFileGiven}, true},
	} {
		if got := test.scale.Known(); got != test.want {
			t.Errorf("%+v: known is %v", test.scale, got)
		}
	}
}

func TestMaxSample(t *testing.T) {
	for bits, want := range map[int]uint16{1: 1, 8: 255, 10: 1023, 12: 4095, 16: 65535} {
		if got := (&oct.Volume{BitDepth: bits}).MaxSample(); got != want {
			t.Errorf("%d bits: %d, want %d", bits, got, want)
		}
	}
}

// Slices tile the samples in order, and one cannot grow into the next.
func TestSlice(t *testing.T) {
	v := valid()
	for i := range v.Samples {
		v.Samples[i] = uint16(i)
	}
	var all []uint16
	for s := range v.Slices {
		all = append(all, v.Slice(s)...)
	}
	if !slices.Equal(all, v.Samples) {
		t.Errorf("slices hold %v", all)
	}
	first := v.Slice(0)
	_ = append(first, 999)
	if v.Samples[12] != 12 {
		t.Error("appending to a slice wrote into the next one")
	}
}

// The words stand in files that other programs read.
func TestWords(t *testing.T) {
	for value, want := range map[interface{ String() string }]string{
		oct.TrustUnknown: "unknown", oct.TrustAssumed: "assumed", oct.TrustUserGiven: "given by the user", oct.TrustFileGiven: "given by the file", oct.Trust(99): "unknown",
		oct.PatternUnknown: "unknown", oct.PatternRaster: "raster", oct.PatternRadial: "radial", oct.PatternSingle: "single slice", oct.Pattern(-1): "unknown",
	} {
		data, err := json.Marshal(value)
		if err != nil || string(data) != `"`+want+`"` || value.String() != want {
			t.Errorf("%#v is %s and %q, %v; want %q", value, data, value.String(), err, want)
		}
	}
	var v oct.Volume
	if v.Laterality != eye.SideUnknown || v.Pattern != oct.PatternUnknown || v.Scale.Depth.Known() {
		t.Error("the zero volume claims to know something")
	}
}
