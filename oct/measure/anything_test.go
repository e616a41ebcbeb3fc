package measure_test

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
)

// paint fills a volume by one of several hostile rules.
func paint(v *oct.Volume, rule string, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	most := int(v.MaxSample())
	for i := range v.Samples {
		slice, row, column := i/(v.Rows*v.Columns), i/v.Columns%v.Rows, i%v.Columns
		x := 0
		switch rule {
		case "noise":
			x = rng.IntN(most + 1)
		case "black":
		case "white":
			x = most
		case "grey":
			x = most / 3
		case "depth gradient":
			x = row * most / v.Rows
		case "inverse gradient":
			x = most - row*most/v.Rows
		case "lateral gradient":
			x = column * most / v.Columns
		case "slice gradient":
			x = slice * most / v.Slices
		case "one bright sample":
			if i == int(seed%uint64(len(v.Samples))) {
				x = most
			}
		case "checkerboard":
			x = (row + column) % 2 * most
		case "one bright row":
			if row == v.Rows/2 {
				x = most
			}
		case "bright last row":
			if row == v.Rows-1 {
				x = most
			}
		case "half and half":
			if column >= v.Columns/2 {
				x = most
			}
		case "layers with a gap":
			// Something like a retina with something like a hole.
			switch {
			case row > v.Rows*3/4 && row < v.Rows*3/4+4:
				x = most
			case row > v.Rows/3 && row <= v.Rows*3/4 && (column < v.Columns/3 || column > v.Columns*2/3):
				x = most / 2
			}
			x = min(max(x+rng.IntN(most/8+1), 0), most)
		}
		v.Samples[i] = uint16(x)
	}
}

var rules = []string{
	"noise", "black", "white", "grey", "depth gradient", "inverse gradient", "lateral gradient", "slice gradient", "one bright sample",
	"checkerboard", "one bright row", "bright last row", "half and half", "layers with a gap",
}

// Whatever the scan, measuring does not panic: it returns a result that can be
// written, whose numbers have intervals around them, or a fault with a code that
// fits.
func TestMeasuringAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.OneOf(rapid.SampledFrom([]int{1, 2, 15, 16, 17}), rapid.IntRange(16, 60))
		v := &oct.Volume{
			Slices: rapid.IntRange(1, 5).Draw(t, "slices"), Rows: side.Draw(t, "rows"), Columns: side.Draw(t, "columns"),
			BitDepth:   rapid.SampledFrom([]int{1, 8, 12, 16}).Draw(t, "bits"),
			Pattern:    rapid.SampledFrom([]oct.Pattern{oct.PatternUnknown, oct.PatternRaster, oct.PatternRadial, oct.PatternSingle}).Draw(t, "pattern"),
			Laterality: rapid.SampledFrom([]eye.Laterality{eye.SideUnknown, eye.Left, eye.Right}).Draw(t, "side"),
		}
		v.Samples = make([]uint16, v.Slices*v.Rows*v.Columns)
		paint(v, rapid.SampledFrom(rules).Draw(t, "rule"), rapid.Uint64().Draw(t, "seed"))
		axis := func(name string) oct.AxisScale {
			um := rapid.SampledFrom([]float64{0, 1e-3, 1, 4, 12, 60, 250, 1e5}).Draw(t, name)
			if um == 0 {
				return oct.AxisScale{}
			}
			return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "drawn"}
		}
		v.Scale = oct.Scale{Depth: axis("depth"), Lateral: axis("lateral"), Slice: axis("slice distance")}
		if v.Pattern == oct.PatternRadial {
			for range v.Slices {
				v.SliceAnglesDeg = append(v.SliceAnglesDeg, rapid.Float64Range(-360, 360).Draw(t, "angle"))
			}
		}
		before := hashOf(v)
		options := measure.Options{AxialLengthMM: rapid.SampledFrom([]float64{0, 24, 31}).Draw(t, "axial length")}
		r, err := measure.Volume(context.Background(), v, options)
		if hashOf(v) != before {
			t.Fatal("the caller's volume was changed")
		}
		if err != nil {
			if code := fault.CodeOf(err); code != fault.NotMeasurable || r != nil {
				t.Fatalf("%v (%s)", err, code)
			}
			return
		}
		checkResult(t, v, r)
	})
}

// checkResult holds for every result.
func checkResult(t *rapid.T, v *oct.Volume, r *measure.Result) {
	if _, err := json.Marshal(r); err != nil {
		t.Fatalf("the result cannot be written: %v", err)
	}
	h := r.Hole
	lateral, depth := v.Scale.Lateral.Known(), v.Scale.Depth.Known()
	for _, figure := range []struct {
		name  string
		e     estimate.Estimate
		ruler bool
	}{
		{"mld", h.MLDUM, lateral},
		{"visible", h.VisibleMLDUM, lateral},
		{"base", h.BaseUM, lateral},
		{"opening", h.OpeningUM, lateral},
		{"height", h.HeightUM, depth},
		{"left", h.HeightLeftUM, depth},
		{"right", h.HeightRightUM, depth},
		{"volume", h.VolumeMM3, lateral && depth},
		{"area", h.MinSection.AreaMM2, lateral},
		{"small", h.MinSection.SmallUM, lateral},
		{"corrected", r.LateralCorrection.MLDUM, lateral},
	} {
		switch {
		case figure.e.Basis == "":
			t.Fatalf("%s has no basis", figure.name)
		case !figure.e.Known():
		case !h.Present || !figure.ruler:
			t.Fatalf("%s of %s without hole or scale: %+v", figure.name, h.Judgement, figure.e)
		case math.IsInf(figure.e.Value, 0) || figure.e.Value < 0 || !(figure.e.Low <= figure.e.Value && figure.e.Value <= figure.e.High):
			t.Fatalf("%s is %+v", figure.name, figure.e)
		}
	}
	if h.Present != (h.Judgement == hole.FullThickness) || len(h.Seen) == 0 {
		t.Fatalf("present is %v, %s, seen %q", h.Present, h.Judgement, h.Seen)
	}
	for _, c := range h.SizeClass {
		sum := 0.0
		for _, p := range c.Probabilities {
			sum += p.Probability
		}
		if !(math.Abs(sum-1) < 1e-9) {
			t.Fatalf("probabilities of %s sum to %g: %+v", c.Scheme, sum, c)
		}
	}
}

// Every rule once at the smallest size, so that none is left to chance.
func TestEveryRuleAtTheSmallestSize(t *testing.T) {
	for _, rule := range rules {
		for _, slices := range []int{1, 3} {
			v := &oct.Volume{Slices: slices, Rows: 16, Columns: 16, BitDepth: 8, Samples: make([]uint16, slices*256), Pattern: oct.PatternRaster}
			paint(v, rule, 3)
			r, err := measure.Volume(t.Context(), v, measure.Options{})
			if err != nil && fault.CodeOf(err) != fault.NotMeasurable {
				t.Errorf("%s: %v", rule, err)
			}
			if err == nil && r.Hole.MLDUM.Known() {
				t.Errorf("%s: a diameter without a scale: %+v", rule, r.Hole.MLDUM)
			}
		}
	}
}
