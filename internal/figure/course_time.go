package figure

import (
	"cmp"
	"math"
	"slices"

	"limitans/internal/figure/scene"
)

// operationLabels writes what was done over each rule, in rows where labels would
// touch, and makes each the mark of its operation.
func (d *courseDrawing) operationLabels(g *scene.Group, y float64) float64 {
	const row, rows = 19.0, 4
	d.names[1], d.stop = "operation", true
	size := courseText
	if d.narrow {
		size = courseSmall
	}
	used := 0
	for _, o := range d.chart.Operations {
		if !d.axis.within(o.Day) {
			continue
		}
		x := d.axis.x(o.Day)
		var spots []courseSpot
		for i := range rows {
			at := y + 14 + row*float64(i)
			spots = append(spots, courseSpot{scene.Point{X: x + 7, Y: at}, scene.Start}, courseSpot{scene.Point{X: x - 7, Y: at}, scene.End})
		}
		label := o.Label
		s, ok := d.labels.place(label, size, o.Opened, anyCost, spots...)
		for room := d.Width / 3; !ok && room > 20; room -= 20 { // a narrow sheet: shorter words
			label = fitText(o.Label, room, size, o.Opened)
			s, ok = d.labels.place(label, size, o.Opened, anyCost, spots...)
		}
		if !ok {
			label, s = "", courseSpot{scene.Point{X: x, Y: y + 14}, scene.Start}
		}
		box := labelBox(label, size, o.Opened, s)
		used = max(used, int(math.Round((s.at.Y-y-14)/row))+1)
		text := &scene.Text{At: s.at, Anchor: s.anchor, Value: label, Size: size, Bold: o.Opened, Colour: d.act, Halo: d.paper}
		d.whisker(d.over, o.CourseMark, y+3, d.act)
		d.over.Add(d.mark(o.CourseMark, box, text))
	}
	if used == 0 {
		return y + 8
	}
	return y + row*float64(used) + 10
}

// timeAxis writes the two rows of words under the lanes: the time from the last
// operation, and the calendar.
func (d *courseDrawing) timeAxis(g, back *scene.Group, from, y float64) float64 {
	axis := &scene.Group{Name: "time"}
	g.Add(axis)
	axis.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1}, scene.Point{X: d.left, Y: y}, scene.Point{X: d.right, Y: y}))
	if t := d.chart.Today; d.axis.within(t) {
		x := d.axis.x(t)
		if s, ok := d.labels.place("today", courseSmall, true, anyCost, courseSpot{scene.Point{X: x, Y: y + 17}, scene.Middle}, courseSpot{scene.Point{X: x + 2, Y: y + 17}, scene.End}); ok {
			d.over.Add(&scene.Text{At: s.at, Anchor: s.anchor, Value: "today", Size: courseSmall, Bold: true, Colour: d.soft})
		}
	}
	row := y + 17
	ticks := sinceTicks(d.chart.Operations, d.axis)
	if len(ticks) > 0 {
		d.ticks(axis, back, ticks, from, y, row)
		row += 18
	}
	d.ticks(axis, back, calendarTicks(d.chart, d.axis), from, y, row)
	return row + 6
}

// ticks writes the ticks that have room, important ones first.
func (d *courseDrawing) ticks(g, back *scene.Group, ticks []courseTick, from, y, row float64) {
	slices.SortStableFunc(ticks, func(a, b courseTick) int { return cmp.Compare(a.rank, b.rank) })
	for _, t := range ticks {
		x := d.axis.x(t.day)
		spots := []courseSpot{{scene.Point{X: x, Y: row}, scene.Middle}}
		if t.rank == 1 { // an operation at the end of the sheet
			spots = append(spots, courseSpot{scene.Point{X: x + 4, Y: row}, scene.End}, courseSpot{scene.Point{X: x - 4, Y: row}, scene.Start})
		}
		// A little air between neighbours, so that two do not read as one.
		s, ok := d.labels.place(" "+t.words+" ", courseSmall, false, anyCost, spots...)
		if !ok {
			continue
		}
		d.over.Add(&scene.Text{At: s.at, Anchor: s.anchor, Value: t.words, Size: courseSmall, Colour: d.soft})
		g.Add(scene.Line(scene.Stroke{Colour: d.soft, Width: 1}, scene.Point{X: x, Y: y}, scene.Point{X: x, Y: y + 4}))
		if t.line {
			back.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1}, scene.Point{X: x, Y: from}, scene.Point{X: x, Y: y}))
		}
	}
}

// clipped cuts a line through points to the plot, so that a window shows what
// leads into it and out of it.
func (d *courseDrawing) clipped(a, b scene.Point) (p, q scene.Point, ok bool) {
	left, right := d.axis.left, d.axis.left+d.axis.width
	if a.X > b.X {
		a, b = b, a
	}
	if b.X < left || a.X > right {
		return p, q, false
	}
	at := func(x float64) scene.Point {
		if b.X == a.X {
			return a
		}
		return scene.Point{X: x, Y: a.Y + (x-a.X)/(b.X-a.X)*(b.Y-a.Y)}
	}
	p, q = a, b
	if a.X < left {
		p = at(left)
	}
	if b.X > right {
		q = at(right)
	}
	return p, q, true
}

// roundSides are the corners of a round mark: enough for one of a few units.
var roundSides = func() (out [14]scene.Point) {
	for i := range out {
		out[i].Y, out[i].X = math.Sincos(2 * math.Pi * float64(i) / float64(len(out)))
	}
	return out
}()

// roundMark is a small disc.
func roundMark(at scene.Point, radius float64, fill scene.Colour, stroke scene.Stroke) *scene.Path {
	points := make([]scene.Point, len(roundSides))
	for i, p := range roundSides {
		points[i] = scene.Point{X: at.X + radius*p.X, Y: at.Y + radius*p.Y}
	}
	return scene.Polygon(fill, stroke, points...)
}

// square is a square mark.
func square(at scene.Point, half float64, fill scene.Colour, stroke scene.Stroke) *scene.Path {
	return scene.Box(scene.Rect{X: at.X - half, Y: at.Y - half, Width: 2 * half, Height: 2 * half}, fill, stroke)
}

// boxAt is the box of a mark.
func boxAt(at scene.Point, half float64) scene.Rect {
	return scene.Rect{X: at.X - half, Y: at.Y - half, Width: 2 * half, Height: 2 * half}
}
