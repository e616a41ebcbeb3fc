package figure

import (
	"image"
	"math"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// Widest draws the widest slice of a hole close up: the lumen with three
// quarters of its width beside it, from above its rims to below the pigment
// epithelium. Without a hole it is a sheet that says so. h may be nil.
func Widest(v *oct.Volume, s *surface.Surfaces, h *hole.Hole) *scene.Scene {
	return drawWidest(v, s, h, grey.WindowOf(v))
}

func drawWidest(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, w grey.Window) *scene.Scene {
	const name, title = "widest", "The widest slice of the hole"
	l := lumenOf(h)
	side := sideWords(v.Laterality)
	switch {
	case h == nil:
		return empty(name, title, side, "A hole was not looked for.", "The slices are drawn one by one.")
	case l == nil:
		return empty(name, title, side, sentence(judgementWords(h))+".", "The slices are drawn one by one.")
	}
	page := newSheet(name, title, side+" · "+sliceWords(v, l.MLDSlice)+", close up")
	return drawWindow(page, v, s, h, l.MLDSlice, aroundLumen(v, s, l), w)
}

// aroundLumen is the window of the widest slice around its lumen.
func aroundLumen(v *oct.Volume, s *surface.Surfaces, l *hole.Lumen) image.Rectangle {
	slice := l.MLDSlice
	left, right := l.MLDLeft, l.MLDRight
	for k := 0; k <= lidStep(l); k++ {
		if a, b, open := l.Wall(slice, k); open {
			left, right = math.Min(left, a), math.Max(right, b)
		}
	}
	beside := math.Max(0.75*(right-left), 4)
	columns := image.Rect(int(math.Floor(left-beside)), 0, int(math.Ceil(right+beside))+1, v.Rows).Intersect(wholeSlice(v))
	if columns.Empty() {
		return wholeSlice(v)
	}
	top := l.Row(slice, left, float64(lidStep(l)))
	bottom := l.Row(slice, left, 0)
	for c := columns.Min.X; c < columns.Max.X; c++ {
		if row := s.InnerLimitingMembrane.At(slice, c); !math.IsNaN(row) {
			top = math.Min(top, row)
		}
		if row := s.PigmentEpithelium.At(slice, c); !math.IsNaN(row) {
			bottom = math.Max(bottom, row)
		}
	}
	over := 0.25 * (bottom - top)
	window := columns.Intersect(image.Rect(0, int(math.Floor(top-over)), v.Columns, int(math.Ceil(bottom+over))+1))
	if math.IsNaN(over) || window.Empty() {
		return columns
	}
	return window
}
