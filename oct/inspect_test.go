package oct_test

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/draw"

	"limitans/oct"
)

// one returns a slice of a volume as a volume.
func one(v *oct.Volume, slice int) *oct.Volume {
	out := *v
	out.Slices, out.Samples, out.Pattern = 1, v.Slice(slice), oct.PatternSingle
	return &out
}

// Every open scan is upright, tilted or not, whole or slice by slice, and
// mirrored once it is flipped.
func TestUpright(t *testing.T) {
	scans := map[string]*oct.Volume{"hole volume": loadHole(t)}
	for _, name := range pictures {
		scans[name] = loadPicture(t, name)
	}
	for name, v := range scans {
		up, down := oct.Upright(v), oct.Upright(oct.FlipDepth(v))
		t.Logf("%s: %s %.2f (%s)", name, up.Direction, up.Confidence, up.Reason)
		if up.Direction != oct.DirectionUpright || up.Confidence < 0.85 {
			t.Errorf("%s: %+v", name, up)
		}
		if down.Direction != oct.DirectionMirrored || down.Confidence < 0.85 {
			t.Errorf("%s flipped: %+v", name, down)
		}
	}
	hole := scans["hole volume"]
	for s := range hole.Slices {
		if o := oct.Upright(one(hole, s)); o.Direction != oct.DirectionUpright {
			t.Errorf("slice %d: %+v", s, o)
		}
		if o := oct.Upright(oct.FlipDepth(one(hole, s))); o.Direction != oct.DirectionMirrored {
			t.Errorf("slice %d flipped: %+v", s, o)
		}
	}
}

// sheared moves each column down by slope·column, filling with noise-like dark
// values taken from the first rows.
func sheared(v *oct.Volume, slope float64) *oct.Volume {
	out := *v
	out.Samples = make([]uint16, len(v.Samples))
	for s := range v.Slices {
		from, to := v.Slice(s), out.Slice(s)
		for r := range v.Rows {
			for c := range v.Columns {
				shift := int(math.Round(slope * (float64(c) - float64(v.Columns)/2)))
				y := r - shift
				if y < 0 {
					y = (-y) % 40
				}
				y = min(y, v.Rows-1)
				to[r*v.Columns+c] = from[y*v.Columns+c]
			}
		}
	}
	return &out
}

func TestUprightTilted(t *testing.T) {
	hole := loadHole(t)
	for _, slope := range []float64{-0.3, -0.15, 0.15, 0.3} {
		if o := oct.Upright(sheared(hole, slope)); o.Direction != oct.DirectionUpright {
			t.Errorf("slope %g: %+v", slope, o)
		}
		if o := oct.Upright(oct.FlipDepth(sheared(hole, slope))); o.Direction != oct.DirectionMirrored {
			t.Errorf("slope %g flipped: %+v", slope, o)
		}
	}
}

// Scans that show no inner border get no answer.
func TestUprightUndecided(t *testing.T) {
	hole := loadHole(t)
	black := &oct.Volume{Slices: 2, Rows: 60, Columns: 60, BitDepth: 8, Samples: make([]uint16, 2*60*60)}
	tiny := &oct.Volume{Slices: 1, Rows: 1, Columns: 1, BitDepth: 8, Samples: []uint16{7}}
	checker := &oct.Volume{Slices: 1, Rows: 80, Columns: 80, BitDepth: 8, Samples: make([]uint16, 6400)}
	for i := range checker.Samples {
		checker.Samples[i] = uint16(255 * ((i/80/10 + i%80/10) % 2))
	}
	for name, v := range map[string]*oct.Volume{"black": black, "one sample": tiny, "noise": drawnNoise()} {
		if o := oct.Upright(v); o.Direction != oct.DirectionUnknown || o.Confidence != 0 || o.Reason == "" {
			t.Errorf("%s: %+v", name, o)
		}
	}
	_ = oct.Upright(checker) // any answer, no panic
	for _, row := range []int{85, 100, 120, 140} {
		cut := &oct.Volume{Slices: hole.Slices, Rows: hole.Rows - row, Columns: hole.Columns, BitDepth: 8}
		for s := range hole.Slices {
			cut.Samples = append(cut.Samples, hole.Slice(s)[row*hole.Columns:]...)
		}
		// The outer retina above a cut may stand in for the vitreous; the answer
		// is then right, and never the wrong one.
		if o := oct.Upright(cut); o.Direction == oct.DirectionMirrored {
			t.Errorf("cut at row %d: %+v", row, o)
		}
	}
}

func drawnNoise() *oct.Volume {
	v := drawn(60, 200, noise) // rows 0 to 59 are vitreous
	return v
}

func TestFlipDepth(t *testing.T) {
	v := loadHole(t)
	before := slices.Clone(v.Samples)
	flipped := oct.FlipDepth(v)
	if v.Samples[0] != flipped.Samples[199*200] || len(flipped.Notes) != len(v.Notes)+1 || !slices.Equal(before, v.Samples) {
		t.Error("not a flipped copy")
	}
	if !slices.Equal(oct.FlipDepth(flipped).Samples, v.Samples) {
		t.Error("flipping twice does not give the scan back")
	}
}

// kinds lists the kinds of findings.
func kinds(f []oct.Finding) []oct.FindingKind {
	var out []oct.FindingKind
	for _, x := range f {
		out = append(out, x.Kind)
	}
	return out
}

func scaled(v *oct.Volume, depth, lateral float64) *oct.Volume {
	out := *v
	given := func(um float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "test"}
	}
	out.Scale = oct.Scale{Depth: given(depth), Lateral: given(lateral)}
	return &out
}

func TestInspectQuietOnGoodScans(t *testing.T) {
	if f := oct.Inspect(scaled(loadHole(t), 3.87, 5.77)); len(f) != 0 {
		t.Errorf("hole volume: %+v", f)
	}
	for _, name := range pictures {
		got := kinds(oct.Inspect(scaled(loadPicture(t, name), 3.87, 11.5)))
		if !slices.Equal(got, []oct.FindingKind{oct.FindingNoData}) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func TestInspectSlices(t *testing.T) {
	v := loadHole(t)
	clear(v.Slice(7))
	copy(v.Slice(20), v.Slice(19))
	got := oct.Inspect(v)
	if !slices.Equal(kinds(got), []oct.FindingKind{oct.FindingBlankSlices, oct.FindingDuplicateSlices}) ||
		!slices.Equal(got[0].Slices, []int{7}) || !slices.Equal(got[1].Slices, []int{20}) || !strings.Contains(got[1].Text, "20 = 19") {
		t.Errorf("%+v", got)
	}
}

func TestInspectMirrored(t *testing.T) {
	if got := kinds(oct.Inspect(oct.FlipDepth(loadHole(t)))); !slices.Equal(got, []oct.FindingKind{oct.FindingMirrored}) {
		t.Errorf("%v", got)
	}
}

func TestInspectScale(t *testing.T) {
	hole := loadHole(t)
	for _, c := range []struct {
		name           string
		depth, lateral float64
		want           []oct.FindingKind
	}{
		{"as published", 3.87, 5.77, nil},
		{"equal", 3.87, 3.87, []oct.FindingKind{oct.FindingEqualScales}},
		{"ten times too small", 0.387, 5.77, []oct.FindingKind{oct.FindingScaleDoubtful}},
		{"three times too large", 11.6, 5.77, []oct.FindingKind{oct.FindingScaleDoubtful}},
		{"depth and lateral mixed up is not seen", 5.77, 3.87, nil},
	} {
		if got := kinds(oct.Inspect(scaled(hole, c.depth, c.lateral))); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// enlarged resamples every slice with a general-purpose library.
func enlarged(v *oct.Volume, rows, columns int, method draw.Interpolator) *oct.Volume {
	out := *v
	out.Slices, out.Rows, out.Columns = min(v.Slices, 8), rows, columns
	out.Samples = make([]uint16, out.Slices*rows*columns)
	for s := range out.Slices {
		from := image.NewGray(image.Rect(0, 0, v.Columns, v.Rows))
		for i, x := range v.Slice(s) {
			from.Pix[i] = uint8(x)
		}
		to := image.NewGray(image.Rect(0, 0, columns, rows))
		method.Scale(to, to.Rect, from, from.Rect, draw.Src, nil)
		for i := range rows * columns {
			out.Slice(s)[i] = uint16(to.At(i%columns, i/columns).(color.Gray).Y)
		}
	}
	return &out
}

// One-to-one exports of the real volume are recognised: depth and lateral scale
// equalised by enlarging the lateral axis by 5.77/3.87.
func TestInspectResampled(t *testing.T) {
	hole, picture := loadHole(t), loadPicture(t, "NORMAL-1384-3")
	for _, c := range []struct {
		name          string
		v             *oct.Volume
		rows, columns int
		method        draw.Interpolator
		axis          string
	}{
		{"hole to one-to-one, linear", hole, 200, 298, draw.BiLinear, "lateral"},
		{"hole to one-to-one, cubic", hole, 200, 298, draw.CatmullRom, "lateral"},
		{"hole to one-to-one, repeated", hole, 200, 298, draw.NearestNeighbor, "lateral"},
		{"hole three times wider", hole, 200, 600, draw.BiLinear, "lateral"},
		{"hole deeper", hole, 260, 200, draw.BiLinear, "depth"},
		{"picture to one-to-one", picture, 496, 1521, draw.CatmullRom, "lateral"},
		{"picture deeper", picture, 645, 512, draw.CatmullRom, "depth"},
	} {
		found := ""
		for _, f := range oct.Inspect(enlarged(c.v, c.rows, c.columns, c.method)) {
			if f.Kind == oct.FindingResampled {
				found += f.Text
			}
		}
		if !strings.Contains(found, "the "+c.axis) || strings.Contains(found, "the depth") && c.axis != "depth" {
			t.Errorf("%s: %q", c.name, found)
		}
	}
}
