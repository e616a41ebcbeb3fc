package figure

import (
	"fmt"
	"math"
	"strings"

	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

// The lens of a hole: as wide as the hole is large, half as high.
const (
	lensPerUM     = 0.13  // most units for a micrometre
	lensMost      = 116.0 // most units for the widest lens
	lensHeight    = 0.56  // of the width
	lensBarUM     = 500.0
	closedHalf    = 15.0 // half the width of the mark of a closed hole
	sameVisitDays = 0.8  // a scan and a visit of one day are one finding
)

// holeLane draws the size of the hole as lenses and how it stood as marks.
func (d *courseDrawing) holeLane(g *scene.Group, y float64) float64 {
	c := d.chart
	if len(c.Holes)+len(c.Closures) == 0 {
		return y
	}
	scale := d.lensScale()
	most := 2 * closedHalf
	for _, h := range c.Holes {
		if h.SizeUM > 0 {
			most = math.Max(most, scale*h.HighUM)
		}
	}
	height := math.Max(26, lensHeight*most) + 26
	below := "smallest width, µm"
	if len(c.Holes) == 0 {
		below = ""
	}
	plot := d.lane(g, "hole", "Macular hole", below, y, height)
	middle := plot + (height-22)/2
	g.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1}, scene.Point{X: d.left, Y: middle}, scene.Point{X: d.right, Y: middle}))
	if len(c.Holes) > 0 {
		d.lensBar(g, scale, middle)
	}
	for _, h := range c.Holes {
		if d.axis.within(h.Day) {
			d.lens(g, h, scale, middle)
		}
	}
	for _, x := range c.Closures {
		if d.axis.within(x.Day) {
			d.closure(g, x, middle)
		}
	}
	d.holeLabels(scale, middle, plot+height)
	return plot + height
}

// lensScale is how many units a micrometre is: as many as leave room for the
// widest lens, and let neighbours cover each other by a quarter at most unless
// they would become too small to compare.
func (d *courseDrawing) lensScale() float64 {
	scale := lensPerUM
	if d.narrow {
		scale *= 0.62
	}
	var before *CourseHole
	for i := range d.chart.Holes {
		h := &d.chart.Holes[i]
		if !(h.HighUM > 0) || !d.axis.within(h.Day) {
			continue
		}
		scale = math.Min(scale, lensMost/h.HighUM)
		if before != nil {
			if apart := d.axis.x(h.Day) - d.axis.x(before.Day); apart > 1 {
				scale = math.Min(scale, math.Max(0.6*lensPerUM, 2.6*apart/(h.HighUM+before.HighUM)))
			}
		}
		before = h
	}
	return scale
}

// lensBar draws how wide a lens of 500 µm is.
func (d *courseDrawing) lensBar(g *scene.Group, scale, y float64) {
	half := scale * lensBarUM / 2
	if d.narrow {
		return // the sizes are written; there is no room for a scale beside them
	}
	s := scene.Stroke{Colour: d.soft, Width: 1.2}
	x := d.right + 10 + half
	g.Add(scene.Line(s, scene.Point{X: x - half, Y: y}, scene.Point{X: x + half, Y: y}),
		scene.Line(s, scene.Point{X: x - half, Y: y - 4}, scene.Point{X: x - half, Y: y + 4}),
		scene.Line(s, scene.Point{X: x + half, Y: y - 4}, scene.Point{X: x + half, Y: y + 4}))
	d.say("500 µm", courseSpot{scene.Point{X: d.right + 10, Y: y + 18}, scene.Start}, courseSmall, false, d.soft)
}

// lensPath is the outline of two arcs that meet in points at both ends.
func lensPath(at scene.Point, width, height float64, fill scene.Colour, stroke scene.Stroke) *scene.Path {
	const steps = 16
	points := make([]scene.Point, 0, 2*steps)
	for i := range 2 * steps {
		u := -1 + 2*float64(i%steps)/steps
		rise := height / 2 * (1 - u*u)
		if i >= steps {
			u, rise = -u, -rise
		}
		points = append(points, scene.Point{X: at.X + u*width/2, Y: at.Y - rise})
	}
	return scene.Polygon(fill, stroke, points...)
}

// lens draws one size: the full tint as wide as the hole surely is, a pale rim up
// to what it may be, and the outline at the value.
func (d *courseDrawing) lens(g *scene.Group, h CourseHole, scale, y float64) {
	at := scene.Point{X: d.axis.x(h.Day), Y: y}
	d.whisker(g, h.CourseMark, y, d.hole)
	if !(h.SizeUM > 0) {
		empty := lensPath(at, 36, 20, d.paper, scene.Stroke{Colour: d.hole, Width: 1.4, Dash: []float64{3, 3}})
		query := &scene.Text{At: scene.Point{X: at.X, Y: y + 4.5}, Value: "?", Size: 13, Bold: true, Anchor: scene.Middle, Colour: d.ink}
		d.labels.block(boxAt(at, 18))
		g.Add(d.mark(h.CourseMark, boxAt(at, 18), empty, query))
		return
	}
	low, high := scale*math.Max(0, h.LowUM), scale*math.Max(h.SizeUM, h.HighUM)
	width := scale * h.SizeUM
	box := scene.Rect{X: at.X - high/2, Y: y - lensHeight*high/2, Width: high, Height: lensHeight * high}
	d.labels.block(box)
	nodes := []scene.Node{
		lensPath(at, high, lensHeight*high, d.paper, scene.Stroke{Colour: d.paper, Width: 2}),
		lensPath(at, high, lensHeight*high, d.hole.Opacity(d.lensBandTint), scene.Stroke{}),
		lensPath(at, low, lensHeight*low, d.hole, scene.Stroke{}),
		lensPath(at, width, lensHeight*width, scene.Colour{}, scene.Stroke{Colour: d.ink, Width: 0.9}),
	}
	g.Add(d.mark(h.CourseMark, box, nodes...))
}

// closure draws how the hole stood: a shallow bowl for a closed hole, two edges
// with a gap for an open one, lifted where they are elevated.
func (d *courseDrawing) closure(g *scene.Group, c CourseClosure, y float64) {
	at := scene.Point{X: d.axis.x(c.Day), Y: y}
	for _, h := range d.chart.Holes { // both are shown: they contradict each other
		if math.Abs(h.Day-c.Day) < sameVisitDays && h.SizeUM > 0 {
			at.Y += lensHeight*d.lensScale()*h.HighUM/2 + 6
		}
	}
	s := scene.Stroke{Colour: d.hole, Width: 3, Round: true}
	var nodes []scene.Node
	edge := func(side, lift float64) *scene.Path {
		return scene.Line(s, scene.Point{X: at.X + side*closedHalf, Y: at.Y}, scene.Point{X: at.X + side*9, Y: at.Y - lift/3}, scene.Point{X: at.X + side*5.5, Y: at.Y - lift})
	}
	switch {
	case c.Closed == record.Yes:
		var bowl []scene.Point
		for i := range 13 {
			u := -1 + float64(i)/6
			bowl = append(bowl, scene.Point{X: at.X + u*closedHalf, Y: at.Y - 3 + 8*(1-u*u)})
		}
		nodes = []scene.Node{scene.Line(s, bowl...)}
	case c.Class == record.ClosureUnread || c.Closed != record.No:
		nodes = []scene.Node{
			roundMark(at, 7, d.paper, scene.Stroke{Colour: d.hole, Width: 1.4}),
			&scene.Text{At: scene.Point{X: at.X, Y: at.Y + 4}, Value: "?", Size: 11, Bold: true, Anchor: scene.Middle, Colour: d.ink},
		}
	case c.Class == record.ElevatedOpen || c.Class == record.Reopened:
		nodes = []scene.Node{edge(-1, 8), edge(1, 8)}
	default:
		nodes = []scene.Node{edge(-1, 0), edge(1, 0)}
	}
	d.whisker(g, c.CourseMark, at.Y+8, d.hole)
	box := scene.Rect{X: at.X - closedHalf, Y: at.Y - 9, Width: 2 * closedHalf, Height: 16}
	d.labels.block(box)
	g.Add(d.mark(c.CourseMark, box, nodes...))
}

// holeLabels writes sizes, the last first, then the first and the rest; and of
// how the hole stood what changed.
func (d *courseDrawing) holeLabels(scale, y, bottom float64) {
	order := []int{len(d.chart.Holes) - 1} // the last one first
	for i := range len(d.chart.Holes) - 1 {
		order = append(order, i)
	}
	for _, i := range order {
		if i < 0 {
			break
		}
		h := d.chart.Holes[i]
		if !d.axis.within(h.Day) {
			continue
		}
		text := "not measured"
		if h.SizeUM > 0 {
			text = sizeWords(h)
		}
		x := d.axis.x(h.Day)
		d.want(rankStory, courseText, false, d.ink, markCost, []courseSpot{{scene.Point{X: x, Y: bottom - 4}, scene.Middle}}, text, strings.SplitN(text, " ", 2)[0])
	}
	last := ""
	for _, c := range d.chart.Closures {
		if c.Label == last || !d.axis.within(c.Day) {
			continue
		}
		x := d.axis.x(c.Day)
		spots := []courseSpot{
			{scene.Point{X: x, Y: bottom - 4}, scene.Middle},
			{scene.Point{X: x, Y: y - 16}, scene.Middle},
			{scene.Point{X: x - closedHalf, Y: bottom - 4}, scene.Start},
			{scene.Point{X: x + closedHalf, Y: bottom - 4}, scene.End},
		}
		d.want(rankStory, courseSmall, false, d.ink, markCost-1, spots, c.Label)
		last = c.Label
	}
}

// sizeWords writes a size with its interval, the unit being that of the lane.
func sizeWords(h CourseHole) string {
	below, above := math.Round(h.SizeUM-h.LowUM), math.Round(h.HighUM-h.SizeUM)
	if below == above {
		return fmt.Sprintf("%.0f ± %.0f", h.SizeUM, above)
	}
	return fmt.Sprintf("%.0f (%.0f to %.0f)", h.SizeUM, h.LowUM, h.HighUM)
}

// thicknessLane draws central thickness.
func (d *courseDrawing) thicknessLane(g *scene.Group, y float64) float64 {
	values := d.chart.Thickness
	if len(values) == 0 {
		return y
	}
	const height = 56.0
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range values {
		low, high = math.Min(low, t.LowUM), math.Max(high, t.HighUM)
	}
	low, high = math.Floor(low/100)*100, math.Ceil(high/100)*100
	plot := d.lane(g, "thickness", "Centre", "thickness, µm", y, height)
	at := func(um float64) float64 { return plot + height*(high-um)/(high-low) }
	for _, um := range []float64{low, high} {
		g.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1, Dash: []float64{1, 4}}, scene.Point{X: d.left, Y: at(um)}, scene.Point{X: d.right, Y: at(um)}))
		d.say(fmt.Sprintf("%.0f", um), courseSpot{scene.Point{X: d.right + 8, Y: at(um) + 4}, scene.Start}, courseSmall, false, d.soft)
	}
	thin := scene.Stroke{Colour: d.ink, Width: 1.3}
	for i, t := range values {
		p := scene.Point{X: d.axis.x(t.Day), Y: at(t.ThicknessUM)}
		if i > 0 {
			if a, b, ok := d.clipped(scene.Point{X: d.axis.x(values[i-1].Day), Y: at(values[i-1].ThicknessUM)}, p); ok {
				g.Add(scene.Line(thin, a, b))
				d.labels.strike(a, b)
			}
		}
		if !d.axis.within(t.Day) {
			continue
		}
		d.labels.block(boxAt(p, 4))
		g.Add(d.mark(t.CourseMark, boxAt(p, 4), scene.Line(thin, scene.Point{X: p.X, Y: at(t.LowUM)}, scene.Point{X: p.X, Y: at(t.HighUM)}), roundMark(p, 3, d.ink, scene.Stroke{})))
	}
	for i := len(values) - 1; i >= 0; i-- {
		if t := values[i]; d.axis.within(t.Day) {
			p := scene.Point{X: d.axis.x(t.Day), Y: at(t.ThicknessUM)}
			d.want(rankMore, courseSmall, false, d.ink, lineCost, around(p, 6, courseSmall), fmt.Sprintf("%.0f", t.ThicknessUM))
		}
	}
	return plot + height
}
