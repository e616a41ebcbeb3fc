package figure

import (
	"cmp"
	"math"
	"slices"

	"limitans/internal/figure/scene"
)

// pen is how one kind of line is drawn over a picture. Pattern and width tell
// the kinds apart without colour.
type pen struct {
	name   string
	colour scene.Colour
	width  float64
	dash   []float64
	round  bool
	light  bool // a light edge instead of a dark one: for the line that matters most
}

var (
	membranePen   = pen{"inner-limiting-membrane", skyBlue, 1.4, nil, false, false}
	epitheliumPen = pen{"pigment-epithelium", orange, 1.4, []float64{9, 4}, false, false}
	wallPen       = pen{"lumen-walls", yellow, 1.5, []float64{0.1, 3.6}, true, false}
	lidPen        = pen{"lumen-lid", yellow, 1.4, []float64{7, 3, 0.1, 3}, true, false}
	caliperPen    = pen{"minimum-linear-diameter", vermillion, 2.2, nil, false, true}
	basePen       = pen{"base", orange, 1.8, []float64{9, 4}, false, false}
	openingPen    = pen{"opening", skyBlue, 1.8, []float64{0.1, 4}, true, false}
	sectionPen    = pen{"smallest-section", yellow, 2.2, nil, false, false}
	smallPen      = pen{"smallest-diameter", white, 1.6, []float64{4, 2.5}, false, false}
	largePen      = pen{"largest-diameter", white, 1.6, []float64{10, 3, 2, 3}, false, false}
)

// draw returns the line over an edge that sets it off from the picture.
func (p pen) draw(subpaths []scene.Subpath) *scene.Group {
	edge := scene.Stroke{Colour: black.Opacity(0.5), Width: p.width + 1.6, Dash: p.dash, Round: p.round}
	if p.light {
		edge.Colour, edge.Width = white.Opacity(0.9), 1.9*p.width
	}
	line := scene.Stroke{Colour: p.colour, Width: p.width, Dash: p.dash, Round: p.round}
	return &scene.Group{Name: p.name, Nodes: []scene.Node{
		&scene.Path{Subpaths: subpaths, Stroke: edge}, &scene.Path{Subpaths: subpaths, Stroke: line},
	}}
}

// through draws one run.
func (p pen) through(points ...scene.Point) *scene.Group {
	return p.draw([]scene.Subpath{{Points: points}})
}

// caliper draws a measuring line from a to b with a bar across each end.
func (p pen) caliper(a, b scene.Point) *scene.Group {
	const bar = 6
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	solid := p
	solid.dash, solid.round = nil, false
	if length == 0 {
		return solid.through(a, b)
	}
	nx, ny := -(b.Y-a.Y)/length*bar, (b.X-a.X)/length*bar
	group := p.through(a, b)
	group.Add(solid.draw([]scene.Subpath{
		{Points: []scene.Point{{X: a.X - nx, Y: a.Y - ny}, {X: a.X + nx, Y: a.Y + ny}}},
		{Points: []scene.Point{{X: b.X - nx, Y: b.Y - ny}, {X: b.X + nx, Y: b.Y + ny}}},
	}).Nodes...)
	return group
}

// label is some lines of text beside a picture with a leader to a place in it.
type label struct {
	anchor scene.Point
	lines  []string // the first names, the others tell
	strong bool     // the figure of the sheet: lines after the first are bold
	free   bool     // belongs to no place: no leader
	plain  bool     // the place lies on paper, not on a picture: a dark leader
	bare   bool     // the place is marked already: no dot
}

const lineHeight = 17.0

func (l label) height() float64 { return lineHeight*float64(len(l.lines)) + 8 }

// placeLabels sets labels right of a picture, each at the height of its place
// as far as the others leave room, and draws their leaders. It returns the
// lowest y used.
func placeLabels(picture scene.Rect, labels []label) (*scene.Group, float64) {
	group := &scene.Group{Name: "labels"}
	slices.SortStableFunc(labels, func(a, b label) int { return cmp.Compare(a.anchor.Y, b.anchor.Y) })
	tops := make([]float64, len(labels))
	next := picture.Y
	for i, l := range labels {
		tops[i] = max(next, l.anchor.Y-lineHeight/2)
		next = tops[i] + l.height()
	}
	limit := picture.Bottom()
	for i := len(labels) - 1; i >= 0; i-- { // push up what hangs below the picture
		if room := limit - labels[i].height(); tops[i] > room {
			tops[i] = room
		}
		limit = tops[i]
	}
	next = picture.Y
	bottom := picture.Y
	for i, l := range labels { // a low picture: labels go on below it
		tops[i] = max(tops[i], next)
		next = tops[i] + l.height()
		bottom = next
		leader(group, picture, l, scene.Point{X: picture.Right() + gutter - 6, Y: tops[i] + lineHeight/2})
		for k, text := range l.lines {
			colour := ink
			if k > 0 && !l.strong {
				colour = soft
			}
			group.Add(&scene.Text{
				At:    scene.Point{X: picture.Right() + gutter, Y: tops[i] + lineHeight*(float64(k)+0.78)},
				Value: text, Size: labelSize, Bold: l.strong && k == 1, Colour: colour,
			})
		}
	}
	return group, bottom
}

// leader runs level from its place to the side of the picture, then to the label.
func leader(group *scene.Group, picture scene.Rect, l label, end scene.Point) {
	if l.free {
		return
	}
	edge := scene.Point{X: picture.Right(), Y: l.anchor.Y}
	switch thin := (scene.Stroke{Colour: soft, Width: 0.8}); {
	case l.plain:
		group.Add(scene.Line(thin, l.anchor, edge), scene.Disc(l.anchor, 2.4, ink, scene.Stroke{}))
	case l.anchor.X < edge.X-0.5:
		group.Add(scene.Line(scene.Stroke{Colour: black.Opacity(0.55), Width: 2.2}, l.anchor, edge),
			scene.Line(scene.Stroke{Colour: white, Width: 0.8}, l.anchor, edge))
		if !l.bare {
			group.Add(scene.Disc(l.anchor, 2.4, white, scene.Stroke{Colour: black, Width: 0.8}))
		}
	}
	group.Add(scene.Line(scene.Stroke{Colour: soft, Width: 0.8}, edge, scene.Point{X: edge.X + 4, Y: edge.Y}, scene.Point{X: end.X - 4, Y: end.Y}, end))
}

// barLevel draws a level scale bar whose left end is at the place given, with
// its length below.
func barLevel(at scene.Point, length float64, words string) *scene.Group {
	s := scene.Stroke{Colour: ink, Width: 1.5}
	return &scene.Group{Name: "scale-bar-level", Nodes: []scene.Node{
		scene.Line(s, at, scene.Point{X: at.X + length, Y: at.Y}),
		scene.Line(s, scene.Point{X: at.X, Y: at.Y - 4}, scene.Point{X: at.X, Y: at.Y + 4}),
		scene.Line(s, scene.Point{X: at.X + length, Y: at.Y - 4}, scene.Point{X: at.X + length, Y: at.Y + 4}),
		&scene.Text{At: scene.Point{X: at.X + length + 8, Y: at.Y + 4}, Value: words, Size: smallSize, Colour: ink},
	}}
}

// barUpright draws an upright scale bar whose lower end is at the place given,
// with its length along it on the left.
func barUpright(at scene.Point, length float64, words string) *scene.Group {
	s := scene.Stroke{Colour: ink, Width: 1.5}
	return &scene.Group{Name: "scale-bar-upright", Nodes: []scene.Node{
		scene.Line(s, at, scene.Point{X: at.X, Y: at.Y - length}),
		scene.Line(s, scene.Point{X: at.X - 4, Y: at.Y}, scene.Point{X: at.X + 4, Y: at.Y}),
		scene.Line(s, scene.Point{X: at.X - 4, Y: at.Y - length}, scene.Point{X: at.X + 4, Y: at.Y - length}),
		&scene.Text{At: scene.Point{X: at.X - 8, Y: at.Y}, Value: words, Size: smallSize, Colour: ink, AngleDeg: -90},
	}}
}
