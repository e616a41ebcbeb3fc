package grey

import (
	"image"
	"math"
	"slices"

	"limitans/oct"
)

// Window is the range of samples that is shown from black to white.
type Window struct{ Low, High float64 }

// WindowOf is the whole range for scans of 8 bits, and for deeper ones the
// range from the darkest to the brightest thousandth of the samples, because a
// 16-bit file rarely uses its range. It looks at up to a million samples.
func WindowOf(v *oct.Volume) Window {
	if v.BitDepth <= 8 {
		return Window{0, float64(v.MaxSample())}
	}
	step := 1 + len(v.Samples)/1_000_000
	some := make([]uint16, 0, len(v.Samples)/step+1)
	for i := 0; i < len(v.Samples); i += step {
		some = append(some, v.Samples[i])
	}
	slices.Sort(some)
	w := Window{float64(some[len(some)/1000]), float64(some[len(some)-1-len(some)/1000])}
	if w.High <= w.Low {
		w = Window{0, float64(v.MaxSample())}
	}
	return w
}

// Grey is the grey value of a sample, 0 to 255; a sample that is no number is black.
func (w Window) Grey(x float64) uint8 {
	if math.IsNaN(x) {
		return 0
	}
	return uint8(math.Round(255 * min(max((x-w.Low)/(w.High-w.Low), 0), 1)))
}

// Slice is one slice, counted from 0, as a grey picture, a pixel a sample.
func Slice(v *oct.Volume, slice int, w Window) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, v.Columns, v.Rows))
	for i, x := range v.Slice(slice) {
		m.Pix[i] = w.Grey(float64(x))
	}
	return m
}
