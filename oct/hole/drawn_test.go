package hole_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// drawing is a plain scan whose geometry is known: flat or tilted layers with an
// hourglass of elliptic sections through them. It is drawn by formulas of its
// own, not by package phantom, so that it is a second opinion on it. Heights v
// are perpendicular to the epithelium, u runs along it.
//
//	            lid ______      ______  rim at rimUM
//	                      \    /
//	        waist at waistUM )(
//	                      /    \
//	epithelium ____________________________ v = 0
type drawing struct {
	pattern                     oct.Pattern
	slices, rows, columns       int
	depthUM, lateralUM, sliceUM float64
	tiltDeg                     float64 // about the slow axis: row falls along the columns
	epitheliumRow               float64 // at the middle column

	waistUM, ovality, axisDeg float64 // diameters of the waist waistUM and waistUM·ovality, the larger at axisDeg
	baseUM                    float64 // diameter at v = 0, smaller axis
	xUM, yUM                  float64 // centre of the hole, y up as the fundus is seen
	rimUM                     float64 // height of the retina
	roofUM                    float64 // thickness of a roof that closes the hole; 0 for none
	floorUM                   float64 // thickness of tissue left under the hole; 0 for none

	cysts     []box // dark closed spaces in the retina
	fragments []box // bright tissue in the lumen
}

// box is a part of one slice range, in µm along the retina and above the
// epithelium.
type box struct {
	x0, x1, v0, v1 float64
	slice0, slice1 int
}

const waistHeight = 150.0 // µm above the epithelium

// plain is a hole of 400 µm in a raster, well sampled; its walls lean less than
// 45° at the base, the most that the method assumes.
func plain() drawing {
	return drawing{
		pattern: oct.PatternRaster, slices: 29, rows: 150, columns: 220, depthUM: 3.87, lateralUM: 6, sliceUM: 31, epitheliumRow: 115,
		waistUM: 400, ovality: 1, baseUM: 540, rimUM: 350,
	}
}

// radius is the smaller half diameter at a height: a parabola from the base to
// the waist and another up to the rim.
func (d drawing) radius(v float64) float64 {
	t := (v - waistHeight) / waistHeight
	if v > waistHeight {
		t = (v - waistHeight) / (d.rimUM - waistHeight) * 0.4
	}
	return d.waistUM/2 + (d.baseUM-d.waistUM)/2*t*t
}

// tissueAt is the brightness, 0 vitreous to 1 retina, at a place of the retina.
func (d drawing) tissueAt(x, y, u, v float64, slice int) float64 {
	if v > d.rimUM {
		return 0
	}
	in := func(boxes []box) bool {
		for _, b := range boxes {
			if slice >= b.slice0 && slice <= b.slice1 && u >= b.x0 && u <= b.x1 && v >= b.v0 && v <= b.v1 {
				return true
			}
		}
		return false
	}
	if d.waistUM > 0 && v < d.rimUM-d.roofUM && v > d.floorUM && !in(d.fragments) {
		sin, cos := math.Sincos(d.axisDeg * math.Pi / 180)
		along, across := (x-d.xUM)*cos+(y-d.yUM)*sin, -(x-d.xUM)*sin+(y-d.yUM)*cos
		if math.Hypot(along/d.ovality, across) < d.radius(v) {
			return 0
		}
	}
	if in(d.cysts) {
		return 0
	}
	return 1
}

// place is the position of a sample on the retina: u along its slice, and x, y as
// the fundus is seen from the middle of the scan.
func (d drawing) place(slice int, column float64) (x, y float64) {
	u := (column - float64(d.columns-1)/2) * d.lateralUM
	if d.pattern == oct.PatternRadial {
		sin, cos := math.Sincos(math.Pi * float64(slice) / float64(d.slices))
		return u * cos, u * sin
	}
	return u, (float64(d.slices-1)/2 - float64(slice)) * d.sliceUM
}

// volume draws the scan as the method assumes scans to be: signal of 1 in the
// vitreous, 100 in the retina (20 dB), 1000 in the epithelium and 30 fading in
// the choroid, 2 × 2 points a sample, blurred by a Gaussian of 6 µm along the
// slice and 3.5 µm in depth, shown as its logarithm (grey 30 in the vitreous, 130
// in the retina), with noise of standard deviation 7 on the display, the same
// for the same drawing. A true edge is at half of the tissue's signal.
func (d drawing) volume() *oct.Volume {
	given := func(um float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "drawn"}
	}
	v := &oct.Volume{
		Slices: d.slices, Rows: d.rows, Columns: d.columns, BitDepth: 8, Pattern: d.pattern,
		Samples: make([]uint16, d.slices*d.rows*d.columns),
		Scale:   oct.Scale{Depth: given(d.depthUM), Lateral: given(d.lateralUM), Slice: given(d.sliceUM)},
	}
	if d.pattern != oct.PatternRaster {
		v.Scale.Slice = oct.AxisScale{}
	}
	if d.pattern == oct.PatternRadial {
		for s := range d.slices {
			v.SliceAnglesDeg = append(v.SliceAnglesDeg, 180*float64(s)/float64(d.slices))
		}
	}
	rng := rand.New(rand.NewPCG(uint64(d.slices), uint64(d.waistUM)))
	signal := make([]float64, d.rows*d.columns)
	for s := range d.slices {
		for i := range signal {
			c, r := float64(i%d.columns), float64(i/d.columns)
			signal[i] = (d.signal(s, c-0.25, r-0.25) + d.signal(s, c+0.25, r-0.25) + d.signal(s, c-0.25, r+0.25) + d.signal(s, c+0.25, r+0.25)) / 4
		}
		blurred := blur(blur(signal, d.columns, 1, 6/d.lateralUM), 1, d.columns, 3.5/d.depthUM)
		for i, x := range blurred {
			v.Slice(s)[i] = uint16(math.Round(min(max(30+50*math.Log10(x)+7*rng.NormFloat64(), 0), 255)))
		}
	}
	return v
}

// blur convolves with a Gaussian along lines of length values stride apart, or,
// for a length of 1, across the whole image; values repeat beyond the frame.
func blur(in []float64, length, stride int, sigma float64) []float64 {
	reach := int(math.Ceil(3 * sigma))
	weights, sum := make([]float64, 2*reach+1), 0.0
	for k := range weights {
		weights[k] = math.Exp(-0.5 * math.Pow(float64(k-reach)/sigma, 2))
		sum += weights[k]
	}
	if length == 1 {
		length = len(in) / stride
	}
	out := make([]float64, len(in))
	for i := range in {
		at := i / stride % length
		for k, w := range weights {
			j := min(max(at+k-reach, 0), length-1)
			out[i] += w / sum * in[i+(j-at)*stride]
		}
	}
	return out
}

// signal is what comes back from a place of the image, with fractions of samples.
func (d drawing) signal(slice int, column, row float64) float64 {
	imageX := (column - float64(d.columns-1)/2) * d.lateralUM
	imageW := (d.epitheliumRow - row) * d.depthUM
	// The retina turned by the tilt: u along it, v perpendicular.
	sin, cos := math.Sincos(d.tiltDeg * math.Pi / 180)
	u, v := imageX*cos+imageW*sin, imageW*cos-imageX*sin
	switch {
	case v < -24:
		return 5 + 25*math.Exp((v+24)/60)
	case v < 0:
		return 1000
	case v > d.rimUM:
		return 1
	}
	x, y := d.place(slice, u/d.lateralUM+float64(d.columns-1)/2)
	return 1 + 99*d.tissueAt(x, y, u, v, slice)
}

// measured traces and measures a scan.
func measured(t testing.TB, v *oct.Volume) *hole.Hole {
	t.Helper()
	mask := oct.NoData(v)
	noData := func(slice int) []bool { return mask.Slice(slice) }
	s, err := surface.Trace(t.Context(), v, surface.Options{NoData: noData})
	if err != nil {
		t.Fatal(err)
	}
	h, err := hole.Measure(v, s, hole.Options{NoData: noData})
	if err != nil {
		t.Fatal(err)
	}
	return h
}
