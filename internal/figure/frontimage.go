package figure

import (
	"image"
	"image/color"
	"math"
	"slices"

	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// retinaBrightness is, for every slice and column, the mean grey value from
// the inner limiting membrane to the pigment epithelium. Where there is no
// membrane, as in the hole, it starts as high above the epithelium as the
// scan's retina is on average; where there is no epithelium it is NaN.
func retinaBrightness(v *oct.Volume, s *surface.Surfaces) []float64 {
	usual := usualThickness(s)
	out := make([]float64, v.Slices*v.Columns)
	for slice := range v.Slices {
		samples := v.Slice(slice)
		for c := range v.Columns {
			bottom := s.PigmentEpithelium.At(slice, c)
			top := s.InnerLimitingMembrane.At(slice, c)
			if math.IsNaN(top) || top > bottom {
				top = bottom - usual
			}
			out[slice*v.Columns+c] = meanOfColumn(samples, v, c, top, bottom)
		}
	}
	return out
}

func meanOfColumn(samples []uint16, v *oct.Volume, c int, top, bottom float64) float64 {
	if math.IsNaN(top) || math.IsNaN(bottom) {
		return math.NaN()
	}
	sum, n := 0.0, 0
	for row := max(0, int(math.Round(top))); row <= min(v.Rows-1, int(math.Round(bottom))); row++ {
		sum += float64(samples[row*v.Columns+c])
		n++
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

// usualThickness is the median distance of the two boundaries, in rows; NaN
// when they are nowhere traced together.
func usualThickness(s *surface.Surfaces) float64 {
	var all []float64
	for i, row := range s.PigmentEpithelium.Row {
		if t := float64(row - s.InnerLimitingMembrane.Row[i]); t > 0 {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return math.NaN()
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// frontWindow shows all but the darkest and brightest hundredth, at least from
// half to five quarters of the median, so that an even retina does not show its
// noise; it leaves the brightest fifth of the greys to the lines drawn over the
// picture.
func frontWindow(values []float64) grey.Window {
	var seen []float64
	for _, x := range values {
		if !math.IsNaN(x) {
			seen = append(seen, x)
		}
	}
	if len(seen) == 0 {
		return grey.Window{Low: 0, High: 1}
	}
	slices.Sort(seen)
	middle := seen[len(seen)/2]
	w := grey.Window{Low: math.Min(seen[len(seen)/100], middle/2), High: math.Max(seen[len(seen)-1-len(seen)/100], 1.25*middle)}
	if w.High <= w.Low {
		w.High = w.Low + 1
	}
	w.High += (w.High - w.Low) / 4
	return w
}

// frontImage is the view from the front, a pixel a sample for a raster and a
// square of pixels for a radial set; clear where nothing is known.
func frontImage(v *oct.Volume, values []float64) *image.NRGBA {
	w := frontWindow(values)
	paint := func(m *image.NRGBA, x, y int, value float64) {
		if !math.IsNaN(value) {
			g := w.Grey(value)
			m.SetNRGBA(x, y, color.NRGBA{g, g, g, 255})
		}
	}
	if v.Pattern != oct.PatternRadial {
		m := image.NewNRGBA(image.Rect(0, 0, v.Columns, v.Slices))
		for i, x := range values {
			paint(m, i%v.Columns, i/v.Columns, x)
		}
		return m
	}
	side := min(v.Columns, 512)
	m := image.NewNRGBA(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			k := float64(v.Columns) / float64(side)
			paint(m, x, y, radialValue(v, values, (float64(x)+0.5-float64(side)/2)*k, (float64(side)/2-float64(y)-0.5)*k))
		}
	}
	return m
}

// radialValue interpolates by angle between the two neighbouring slices at
// (x, y) columns from the centre, y upward; NaN beyond the ends of the slices.
func radialValue(v *oct.Volume, values []float64, x, y float64) float64 {
	r := math.Hypot(x, y)
	angle := math.Atan2(y, x) * 180 / math.Pi
	type side struct{ gap, value float64 }
	before, after := side{math.Inf(1), math.NaN()}, side{math.Inf(1), math.NaN()}
	for slice, deg := range v.SliceAnglesDeg {
		for _, half := range []float64{0, 180} {
			turn := math.Mod(math.Mod(angle-deg-half, 360)+360, 360)
			column := float64(v.Columns-1)/2 + r*math.Cos(half*math.Pi/180)
			c := int(math.Round(column))
			if c < 0 || c >= v.Columns {
				continue
			}
			if turn < before.gap {
				before = side{turn, values[slice*v.Columns+c]}
			}
			if back := math.Mod(360-turn, 360); back < after.gap {
				after = side{back, values[slice*v.Columns+c]}
			}
		}
	}
	if math.IsInf(before.gap, 1) || before.gap+after.gap == 0 {
		return before.value
	}
	t := before.gap / (before.gap + after.gap)
	return before.value*(1-t) + after.value*t
}

// sectionStep is the height step of the smallest section, clamped to the steps
// that the lumen has; ok is false when there is none.
func sectionStep(h *hole.Hole) (k int, ok bool) {
	l := h.Lumen
	if len(l.ContourUM) == 0 || !(l.HeightStepUM > 0) || math.IsNaN(float64(h.MinSection.HeightUM)) {
		return 0, false
	}
	return min(max(int(math.Round(float64(h.MinSection.HeightUM)/l.HeightStepUM)), 0), l.Heights-1), true
}
