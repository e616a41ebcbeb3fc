package figure

import (
	"image"
	"math"
	"slices"

	"limitans/oct"
)

// greyWindow is the range of grey values that is shown from black to white.
type greyWindow struct{ low, high float64 }

// windowOf is the whole range for scans of 8 bits, and for deeper ones the
// range from the darkest to the brightest thousandth of the samples, because a
// 16-bit file rarely uses its range. It looks at up to a million samples.
func windowOf(v *oct.Volume) greyWindow {
	if v.BitDepth <= 8 {
		return greyWindow{0, float64(v.MaxSample())}
	}
	step := 1 + len(v.Samples)/1_000_000
	some := make([]uint16, 0, len(v.Samples)/step+1)
	for i := 0; i < len(v.Samples); i += step {
		some = append(some, v.Samples[i])
	}
	slices.Sort(some)
	w := greyWindow{float64(some[len(some)/1000]), float64(some[len(some)-1-len(some)/1000])}
	if w.high <= w.low {
		w = greyWindow{0, float64(v.MaxSample())}
	}
	return w
}

func (w greyWindow) grey(x float64) uint8 {
	if math.IsNaN(x) {
		return 0
	}
	return uint8(math.Round(255 * min(max((x-w.low)/(w.high-w.low), 0), 1)))
}

// sliceImage is one slice as a grey picture, a pixel a sample.
func sliceImage(v *oct.Volume, slice int, w greyWindow) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, v.Columns, v.Rows))
	for i, x := range v.Slice(slice) {
		m.Pix[i] = w.grey(float64(x))
	}
	return m
}
