package figure

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// EnFace draws the scan as seen from the front: the mean brightness of the
// retina with the outline of the lumen at its base, its smallest section and
// its opening, the minimum linear diameter and the diameters of the smallest
// section. Scans that cover no area give a sheet that says so. h may be nil.
func EnFace(v *oct.Volume, s *surface.Surfaces, h *hole.Hole) *scene.Scene {
	const title = "Seen from the front"
	below := sideWords(v.Laterality) + " · retina, mean brightness from inner limiting membrane to pigment epithelium"
	if !canBeSeenFromFront(v) {
		return empty("front", title, sideWords(v.Laterality), "There is no view from the front: the scan is not a raster or radial set of slices.",
			"The slices are drawn one by one.")
	}
	page := newSheet("front", title, below)
	left := margin + 28
	plane := planeOf(v)
	picture := frontImage(v, retinaBrightness(v, s))
	window, near := closeWindow(plane, picture.Rect, lumenOf(h))
	f := fitPlane(plane, plane.regionOf(picture.Rect, window), left, headHeight-8, sheetWidth-margin-labelColumn-24-gutter-left, 620)
	page.Add(&scene.Image{Rect: f.Rect, Pixels: picture.SubImage(window), Description: "mean brightness of the retina, first slice on top"})
	labels := drawFront(page, f, h)
	group, bottom := placeLabels(f.Rect, labels)
	page.Add(group)
	planeBars(page, f)
	if near {
		bottom = locator(page, f, picture, bottom+16)
	}
	bottom = compass(page, v, scene.Point{X: f.Right() + gutter + 84, Y: max(bottom+60, f.Bottom()-52)}, bottom)
	page.note(scaleWords(v))
	if !f.plane.scaled {
		page.note("Not drawn to scale: the lateral scale or the distance between slices is not known.")
	}
	page.Description = frontDescription(v, h)
	return page.finish(max(bottom, f.Bottom()+24))
}

// drawFront draws what is known of the hole and returns the labels.
func drawFront(page *sheet, f planeFrame, h *hole.Hole) []label {
	l := lumenOf(h)
	if l == nil {
		words := "Hole not looked for"
		if h != nil {
			words = sentence(judgementWords(h))
		}
		return []label{{anchor: scene.Point{X: f.Right(), Y: f.Y}, lines: []string{words}, free: true}}
	}
	var labels []label
	outline := func(p pen, places []place, deg float64, lines ...string) {
		if len(places) == 0 {
			return
		}
		points := f.points(places)
		page.Add(p.draw([]scene.Subpath{{Points: points, Closed: true}}))
		labels = append(labels, label{anchor: farthest(points, deg), lines: lines})
	}
	outline(basePen, outlineAt(f.plane, l, 0), 55, withLine("Base", h.BaseUM, 0, "µm")...)
	outline(openingPen, outlineAt(f.plane, l, lidStep(l)), -62, withLine("Opening", h.OpeningUM, 0, "µm")...)
	if f.plane.scaled {
		contour := sectionContour(l)
		outline(sectionPen, contour, -30, withLine("Smallest section", h.MinSection.AreaMM2, 3, "mm²")...)
		labels = append(labels, drawDiameters(page, f, h, contour)...)
	}
	a, b := f.at(f.plane.at(l.MLDSlice, l.MLDLeft)), f.at(f.plane.at(l.MLDSlice, l.MLDRight))
	page.Add(caliperPen.caliper(a, b))
	mld := withLine("Minimum linear diameter", h.MLDUM, 0, "µm")
	mld = append(mld, "on slice "+fmt.Sprint(l.MLDSlice+1))
	labels = append(labels, label{anchor: b, lines: mld, strong: h.MLDUM.Known(), bare: true})
	if h.MLDUM.Known() {
		page.note(intervalNote + " " + fittedNote)
		page.note("Base and opening are the widest gaps along the scan lines at that height.")
	}
	return labels
}

// drawDiameters draws the smallest and largest diameter of the smallest
// section. A round section has no smallest direction; then neither is drawn.
func drawDiameters(page *sheet, f planeFrame, h *hole.Hole, contour []place) []label {
	m := h.MinSection
	if len(contour) == 0 || !m.SmallUM.Known() || !m.LargeUM.Known() {
		return nil
	}
	small, large := withLine("Small diameter of section", m.SmallUM, 0, "µm"), withLine("Large diameter of section", m.LargeUM, 0, "µm")
	if !m.MeridianDeg.Known() {
		at := scene.Point{X: f.Right(), Y: f.Bottom()}
		return []label{{anchor: at, lines: append(small, "round within the error"), free: true}, {anchor: at, lines: large, free: true}}
	}
	if meridian, ok := withBand(m.MeridianDeg, 0, "°"); ok {
		small = append(small, "direction "+meridian)
	}
	var labels []label
	for _, d := range []struct {
		pen    pen
		deg    float64
		length float64
		lines  []string
	}{
		{smallPen, m.MeridianDeg.Value, m.SmallUM.Value, small},
		{largePen, longestDirection(contour), m.LargeUM.Value, large},
	} {
		a, b := diameterAlong(contour, d.deg, d.length)
		p, q := f.at(a), f.at(b)
		page.Add(d.pen.caliper(p, q))
		if p.X > q.X {
			p, q = q, p
		}
		labels = append(labels, label{anchor: q, lines: d.lines, bare: true})
	}
	page.note("Directions are counted counter-clockwise from the scan lines. The two diameters are those of the section with its roughness smoothed.")
	return labels
}

// farthest is the point that lies farthest in a direction, degrees
// counter-clockwise from the right.
func farthest(points []scene.Point, deg float64) scene.Point {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	best := points[0]
	for _, p := range points {
		if p.X*cos-p.Y*sin > best.X*cos-best.Y*sin {
			best = p
		}
	}
	return best
}

// planeBars draws the scale bars, one length for both directions.
func planeBars(page *sheet, f planeFrame) {
	p := f.plane
	length := roundLength(math.Min(f.region.width(), f.region.height()) / 3)
	if !p.scaled {
		columns := roundLength(f.region.width() / p.perColumn / 3)
		page.Add(barLevel(scene.Point{X: f.X, Y: f.Bottom() + 16}, columns*p.perColumn*f.k, lengthWords(columns, "columns")))
		return
	}
	page.Add(barLevel(scene.Point{X: f.X, Y: f.Bottom() + 16}, length*f.k, lengthWords(length, "µm")),
		barUpright(scene.Point{X: f.X - 12, Y: f.Bottom()}, length*f.k, lengthWords(length, "µm")))
}

// compass draws the directions on the retina when the side is known, and says
// what it takes for granted. It returns the lowest y used.
func compass(page *sheet, v *oct.Volume, centre scene.Point, bottom float64) float64 {
	if v.Laterality == eye.SideUnknown {
		page.note("No compass: the side of the eye is not known.")
		return bottom
	}
	const arm = 22
	right, left := "nasal", "temporal"
	if v.Laterality == eye.Left {
		right, left = left, right
	}
	group := &scene.Group{Name: "compass"}
	s := scene.Stroke{Colour: ink, Width: 1.2}
	group.Add(scene.Line(s, scene.Point{X: centre.X - arm, Y: centre.Y}, scene.Point{X: centre.X + arm, Y: centre.Y}),
		scene.Line(s, scene.Point{X: centre.X, Y: centre.Y - arm}, scene.Point{X: centre.X, Y: centre.Y + arm}))
	for _, d := range []struct {
		words  string
		dx, dy float64
		anchor scene.Anchor
	}{
		{"superior", 0, -arm - 6, scene.Middle},
		{"inferior", 0, arm + 14, scene.Middle},
		{right, arm + 5, 4, scene.Start},
		{left, -arm - 5, 4, scene.End},
	} {
		group.Add(&scene.Text{At: scene.Point{X: centre.X + d.dx, Y: centre.Y + d.dy}, Value: d.words, Size: smallSize, Anchor: d.anchor, Colour: ink})
	}
	page.Add(group)
	if v.Pattern == oct.PatternRadial {
		page.note("The compass takes the angles of the slices as given.")
	} else {
		page.note("The compass assumes that the first slice is superior and the first column on the left as the eye is seen from the front; the scan does not say so.")
	}
	return max(bottom, centre.Y+arm+20)
}

// withLine is a name with its estimate below it, or with the reason why there
// is none.
func withLine(name string, e estimate.Estimate, decimals int, unit string) []string {
	if text, ok := withBand(e, decimals, unit); ok {
		return []string{name, text}
	}
	return append([]string{name}, scene.Wrap(e.Basis, labelColumn, labelSize)...)
}

func frontDescription(v *oct.Volume, h *hole.Hole) string {
	text := fmt.Sprintf("The scan of %d slices seen from the front, first slice on top. %s.", v.Slices, sideWords(v.Laterality))
	if l := lumenOf(h); l != nil {
		text += fmt.Sprintf(" The lumen is on slices %d to %d.", l.FirstSlice+1, l.LastSlice+1)
		if mld, ok := withBand(h.MLDUM, 0, "µm"); ok {
			text += fmt.Sprintf(" Minimum linear diameter %s on slice %d.", mld, l.MLDSlice+1)
		}
	}
	return text
}
