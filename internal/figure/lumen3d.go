package figure

import (
	"math"
	"strconv"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/hole"
)

// box is the space that the axes enclose, µm.
type box struct{ low, high solid }

// Lumen3D draws the lumen as a body in space: from the pigment epithelium to
// its lid, shaded, with level lines, the smallest section drawn strong and axes
// in micrometres. Without a hole, or without the scale of all three axes, it is
// a sheet that says so. h may be nil.
func Lumen3D(v *oct.Volume, h *hole.Hole) *scene.Scene {
	const name, title = "hole-3d", "The hole as a body"
	l := lumenOf(h)
	side := sideWords(v.Laterality)
	switch {
	case h == nil:
		return empty(name, title, side, "A hole was not looked for.", "Nothing is drawn in space.")
	case l == nil:
		return empty(name, title, side, sentence(judgementWords(h))+".", "Nothing is drawn in space; look at the slices.")
	case !canBeSeenFromFront(v):
		return empty(name, title, side, "There is no body to draw: the scan is not a raster or radial set of slices.", "The slices are drawn one by one.")
	case !inPlane(v) || !v.Scale.Depth.Known():
		return empty(name, title, side, "There is no body to draw: the scale of an axis is not known.", "Give the scale of all axes to see the hole in space.")
	}
	p := planeOf(v)
	rings := ringsOf(p, l)
	if len(rings) < 2 {
		return empty(name, title, side, "There is no body to draw: the hole is open at fewer than two heights.", "Look at the slices.")
	}
	page := newSheet(name, title, side+" · lumen from the pigment epithelium to its lid, all axes to one scale")
	space := boxAround(rings)
	w := newView()
	frame := w.fit(space.shown(rings), margin+76, headHeight+4, sheetWidth-2*margin-76-labelColumn-gutter-24, 520)
	drawAxes(page.Scene, w, space)
	page.Add(&scene.Group{Name: "body", Nodes: farToNear(bodyPieces(w, p, l, h, rings))})
	drawLid(page.Scene, w, rings[len(rings)-1])
	group, bottom := placeLabels(frame, bodyLabels(w, p, h, rings))
	page.Add(group)
	page.note(intervalNote + " Level lines every " + lengthWords(lineStepUM, "µm") + ".")
	page.note(scaleWords(v))
	page.Description = bodyDescription(h)
	return page.finish(max(bottom, frame.Bottom()+56))
}

// boxAround encloses the rings, its sides whole hundreds of micrometres long.
func boxAround(rings []ring) box {
	b := box{solid{math.Inf(1), math.Inf(1), 0}, solid{math.Inf(-1), math.Inf(-1), 0}}
	for _, r := range rings {
		for _, p := range r.points {
			b.low.x, b.low.y = math.Min(b.low.x, p.x), math.Min(b.low.y, p.y)
			b.high.x, b.high.y = math.Max(b.high.x, p.x), math.Max(b.high.y, p.y)
			b.high.z = math.Max(b.high.z, p.z)
		}
	}
	widen := func(low, high *float64) {
		length := 100 * math.Ceil((*high-*low+80)/100)
		middle := (*high + *low) / 2
		*low, *high = middle-length/2, middle+length/2
	}
	widen(&b.low.x, &b.high.x)
	widen(&b.low.y, &b.high.y)
	b.high.z = 100 * math.Ceil(b.high.z/100)
	return b
}

// shown is all that has to find room: the floor, the upright axis, the body.
func (b box) shown(rings []ring) []solid {
	out := []solid{{b.low.x, b.low.y, 0}, {b.high.x, b.low.y, 0}, {b.high.x, b.high.y, 0}, {b.low.x, b.high.y, 0}, {b.low.x, b.high.y, b.high.z}}
	for _, r := range rings {
		out = append(out, r.points...)
	}
	return out
}

// drawAxes draws the floor, which is the pigment epithelium, with a grid, and
// the three axes; lengths count from the corner nearest to each axis.
func drawAxes(page *scene.Scene, w view, b box) {
	group := &scene.Group{Name: "axes"}
	thin, strong := scene.Stroke{Colour: hair, Width: 0.8}, scene.Stroke{Colour: ink, Width: 1.2}
	step := roundLength(math.Max(b.high.x-b.low.x, b.high.y-b.low.y) / 3)
	group.Add(scene.Polygon(scene.Opaque(0xefeae0), thin, w.at(solid{b.low.x, b.low.y, 0}), w.at(solid{b.high.x, b.low.y, 0}),
		w.at(solid{b.high.x, b.high.y, 0}), w.at(solid{b.low.x, b.high.y, 0})))
	for d := step; d < b.high.x-b.low.x; d += step {
		group.Add(scene.Line(thin, w.at(solid{b.low.x + d, b.low.y, 0}), w.at(solid{b.low.x + d, b.high.y, 0})))
	}
	for d := step; d < b.high.y-b.low.y; d += step {
		group.Add(scene.Line(thin, w.at(solid{b.low.x, b.low.y + d, 0}), w.at(solid{b.high.x, b.low.y + d, 0})))
	}
	axis := func(from, to solid, first, length, step, dx, dy float64, anchor scene.Anchor) {
		group.Add(scene.Line(strong, w.at(from), w.at(to)))
		for d := first; d <= length; d += step {
			t := d / length
			at := w.at(solid{from.x + t*(to.x-from.x), from.y + t*(to.y-from.y), from.z + t*(to.z-from.z)})
			group.Add(scene.Line(strong, at, scene.Point{X: at.X + dx, Y: at.Y + dy}),
				&scene.Text{At: scene.Point{X: at.X + 1.8*dx, Y: at.Y + 1.8*dy + 8*sign(dy) + 4}, Value: strconv.FormatFloat(d, 'f', -1, 64), Size: smallSize, Anchor: anchor, Colour: ink})
		}
	}
	near, right := solid{b.low.x, b.low.y, 0}, solid{b.high.x, b.low.y, 0}
	left, leftTop := solid{b.low.x, b.high.y, 0}, solid{b.low.x, b.high.y, b.high.z}
	axis(near, right, 0, b.high.x-b.low.x, step, 2, 5, scene.Middle)
	axis(near, left, step, b.high.y-b.low.y, step, -5, 3, scene.End)
	axis(left, leftTop, 0, b.high.z, 100, -6, 0, scene.End)
	name := func(a, c solid, dx, dy float64, words string, anchor scene.Anchor, angle float64) {
		p, q := w.at(a), w.at(c)
		group.Add(&scene.Text{At: scene.Point{X: (p.X+q.X)/2 + dx, Y: (p.Y+q.Y)/2 + dy}, Value: words, Size: smallSize, Anchor: anchor, Colour: soft, AngleDeg: angle})
	}
	name(near, right, 12, 44, "along the scan lines, µm", scene.Middle, angleOf(w.at(near), w.at(right)))
	name(left, near, -30, 34, "across slices, µm", scene.Middle, angleOf(w.at(left), w.at(near)))
	name(left, leftTop, -44, 0, "height, µm", scene.Middle, -90)
	page.Add(group)
}

func angleOf(a, b scene.Point) float64 { return math.Atan2(b.Y-a.Y, b.X-a.X) * 180 / math.Pi }

func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// bodyPieces are the faces of the body and the lines on it.
func bodyPieces(w view, p plane, l *hole.Lumen, h *hole.Hole, rings []ring) []piece {
	pieces := wallPieces(w, rings)
	top := rings[len(rings)-1].z
	for z := lineStepUM; z < top; z += lineStepUM {
		if r, ok := ringNear(p, l, z); ok {
			pieces = append(pieces, linePieces(w, r, 8, scene.Stroke{Colour: ink.Opacity(0.55), Width: 0.7})...)
		}
	}
	pieces = append(pieces, linePieces(w, rings[0], 8, scene.Stroke{Colour: ink, Width: 1.3})...)
	if k, ok := sectionStep(h); ok {
		if r, ok := ringNear(p, l, float64(k)*l.HeightStepUM); ok {
			pieces = append(pieces, strongPieces(w, r, vermillion)...)
		}
	}
	return pieces
}

// ringNear is the ring of the height step nearest to z.
func ringNear(p plane, l *hole.Lumen, z float64) (ring, bool) {
	k := min(max(int(math.Round(z/l.HeightStepUM)), 0), l.Heights-1)
	outline := outlineAt(p, l, k)
	if len(outline) < 3 {
		return ring{}, false
	}
	return ringAt(outline, float64(k)*l.HeightStepUM), true
}

// drawLid closes the body. It lies over everything below it, because the
// viewer looks from above.
func drawLid(page *scene.Scene, w view, r ring) {
	points := make([]scene.Point, len(r.points))
	for i, p := range r.points {
		points[i] = w.at(p)
	}
	page.Add(&scene.Group{Name: "lid", Nodes: []scene.Node{
		scene.Polygon(scene.Opaque(0xf6f2e9), scene.Stroke{Colour: ink, Width: 1.3, Dash: lidPen.dash, Round: true}, points...),
	}})
}

// bodyLabels name the parts at the right side of the body.
func bodyLabels(w view, p plane, h *hole.Hole, rings []ring) []label {
	l := h.Lumen
	rightFront := func(r ring) scene.Point {
		points := make([]scene.Point, len(r.points))
		for i, q := range r.points {
			points[i] = w.at(q)
		}
		return farthest(points, -32)
	}
	labels := []label{
		{anchor: rightFront(rings[len(rings)-1]), lines: withLine("Opening, at the lid", h.OpeningUM, 0, "µm"), plain: true},
		{anchor: rightFront(rings[0]), lines: withLine("Base, at the epithelium", h.BaseUM, 0, "µm"), plain: true},
	}
	if k, ok := sectionStep(h); ok {
		if r, ok := ringNear(p, l, float64(k)*l.HeightStepUM); ok {
			lines := withLine("Smallest section", h.MinSection.AreaMM2, 3, "mm²")
			small, okSmall := withBand(h.MinSection.SmallUM, 0, "µm")
			large, okLarge := withBand(h.MinSection.LargeUM, 0, "µm")
			if okSmall && okLarge {
				lines = append(lines, "smallest "+small, "largest "+large)
			}
			labels = append(labels, label{anchor: rightFront(r), lines: lines, strong: h.MinSection.AreaMM2.Known(), plain: true})
		}
	}
	volume := label{anchor: scene.Point{X: 0, Y: 1e6}, lines: withLine("Volume", h.VolumeMM3, 3, "mm³"), free: true}
	return append(labels, volume)
}

func bodyDescription(h *hole.Hole) string {
	text := "The lumen of the hole as a shaded body standing on the pigment epithelium, seen from a little above."
	for _, part := range []struct {
		name  string
		lines []string
	}{
		{"Base", withLine("", h.BaseUM, 0, "µm")},
		{"Opening", withLine("", h.OpeningUM, 0, "µm")},
		{"Smallest section", withLine("", h.MinSection.AreaMM2, 3, "mm²")},
		{"Volume", withLine("", h.VolumeMM3, 3, "mm³")},
	} {
		for _, line := range part.lines[1:] {
			text += " " + part.name + ": " + line + "."
			break
		}
	}
	return text
}
