package figure

import (
	"image"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// Overlay is what is drawn over the picture of one slice, for pages that show
// the picture and the lines apart. Lengths are in µm, and in samples along both
// axes where one of the two scales is not known:
//
//	(0,0) ───▶ x, along the slice         a sample lies at its middle:
//	  │                                   column c at (c + ½)·UnitX,
//	  ▼ y, deeper                         row r at (r + ½)·UnitY
type Overlay struct {
	Width, Height float64
	UnitX, UnitY  float64 // one sample
	InMicrometres bool
	// Runs of lines, one for each stretch that was traced.
	Membrane, Epithelium, Walls, Lid []scene.Subpath
	// Caliper is the minimum linear diameter on its slice, else nil.
	Caliper []scene.Point
}

// OverlayOf works out what is drawn over a slice, which counts from 0. s and h
// may be nil.
func OverlayOf(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int) Overlay {
	o := Overlay{UnitX: 1, UnitY: 1, InMicrometres: inMicrometres(v)}
	if o.InMicrometres {
		o.UnitX, o.UnitY = v.Scale.Lateral.MicrometresPerSample, v.Scale.Depth.MicrometresPerSample
	}
	o.Width, o.Height = float64(v.Columns)*o.UnitX, float64(v.Rows)*o.UnitY
	f := sliceFrame{scene.Rect{Width: o.Width, Height: o.Height}, wholeSlice(v)}
	if s != nil {
		o.Membrane, o.Epithelium = surfaceRuns(f, drawnMembrane(s), slice), surfaceRuns(f, s.PigmentEpithelium, slice)
	}
	if l := lumenOf(h); l != nil && slice >= l.FirstSlice && slice <= l.LastSlice {
		o.Walls, o.Lid = lumenRuns(f, l, slice)
		if slice == l.MLDSlice {
			o.Caliper = []scene.Point{
				f.at(l.MLDLeft, l.Row(slice, l.MLDLeft, l.MLDHeightSteps)), f.at(l.MLDRight, l.Row(slice, l.MLDRight, l.MLDHeightSteps)),
			}
		}
	}
	return o
}

// Front is the view from the front, for pages that show the picture and the
// lines apart: picture and outlines in the plane of the retina.
type Front struct {
	Width, Height float64 // µm, or columns where the plane has no scale
	InMicrometres bool
	// Slices are the lines along which the slices lie, first slice first.
	Slices [][2]scene.Point
	// Base, Opening and Section are closed outlines of the lumen, nil where there is none.
	Base, Opening, Section []scene.Point
}

// FrontOf works out the view from the front; ok is false for scans that cover
// no area. h may be nil.
func FrontOf(v *oct.Volume, h *hole.Hole) (front Front, ok bool) {
	if !canBeSeenFromFront(v) {
		return front, false
	}
	p := planeOf(v)
	whole := p.whole()
	f := planeFrame{scene.Rect{Width: whole.width(), Height: whole.height()}, p, whole, 1}
	front = Front{Width: f.Width, Height: f.Height, InMicrometres: p.scaled}
	for slice := range v.Slices {
		front.Slices = append(front.Slices, [2]scene.Point{f.at(p.at(slice, -0.5)), f.at(p.at(slice, float64(v.Columns)-0.5))})
	}
	if l := lumenOf(h); l != nil {
		front.Base, front.Opening = f.points(outlineAt(p, l, 0)), f.points(outlineAt(p, l, lidStep(l)))
		if p.scaled {
			front.Section = f.points(sectionContour(l))
		}
	}
	return front, true
}

// FrontPicture is the brightness of the retina as seen from the front, a pixel
// a sample for a raster; clear where nothing is known.
func FrontPicture(v *oct.Volume, s *surface.Surfaces) *image.NRGBA {
	return frontImage(v, retinaBrightness(v, s))
}
