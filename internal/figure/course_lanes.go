package figure

import (
	"fmt"
	"math"

	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

// bubbleLane draws bubbles of gas and air: what was predicted as an area with its
// band, what was seen as dots with their error, and how long somebody must take
// it to be there as a bar below.
func (d *courseDrawing) bubbleLane(g *scene.Group, y float64) float64 {
	c := d.chart
	if len(c.Bubbles)+len(c.Readings) == 0 {
		return y
	}
	const height, bar = 74.0, 6.0
	plot := d.lane(g, "bubble", "Bubble", "% of the cavity", y, height) + 2
	bottom := plot + height
	at := func(day, fill float64) scene.Point {
		return scene.Point{X: d.axis.x(day), Y: bottom - height*math.Max(0, math.Min(1, fill))}
	}
	for _, tick := range []float64{0, 0.5, 1} {
		p := at(d.axis.from, tick)
		g.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1, Dash: []float64{1, 4}}, scene.Point{X: d.left, Y: p.Y}, scene.Point{X: d.right, Y: p.Y}))
		d.say(fmt.Sprintf("%.0f", 100*tick), courseSpot{scene.Point{X: d.right + 8, Y: p.Y + 4}, scene.Start}, courseSmall, false, d.soft)
	}
	for i, b := range c.Bubbles {
		d.bubble(g, i, b, at, bottom+bar)
	}
	for _, r := range c.Readings {
		if !d.axis.within(r.Day) {
			continue
		}
		stroke := scene.Stroke{Colour: d.gasInk, Width: 1.8}
		p, fill := at(r.Day, r.Fill), d.gasInk
		if r.Unlike {
			fill = d.paper
		}
		d.labels.block(boxAt(p, 6))
		d.whisker(g, r.CourseMark, p.Y, d.gasInk)
		g.Add(d.mark(r.CourseMark, boxAt(p, 6), scene.Line(stroke, at(r.Day, r.Low), at(r.Day, r.High)), roundMark(p, 4.4, fill, stroke)))
		if r.Unlike {
			d.want(rankHelp, courseSmall, false, d.gasInk, markCost, around(p, 8, courseSmall)[2:], "unlike the prediction")
		}
	}
	return bottom + bar + 6
}

// bubble draws one bubble.
func (d *courseDrawing) bubble(g *scene.Group, number int, b CourseBubble, at func(day, fill float64) scene.Point, bar float64) {
	until := d.bubbleEnd(number)
	from, to := d.axis.clip(b.Day), d.axis.clip(until)
	if until < d.axis.from || b.Day > d.axis.to {
		return
	}
	area := d.bubbleArea(b, until, at)
	end := scene.Point{X: d.axis.x(to), Y: bar}
	line := scene.Stroke{Colour: d.gasInk, Width: 3}
	if b.Doubt {
		line.Dash = []float64{2, 4}
	}
	area = append(area, scene.Line(line, scene.Point{X: d.axis.x(from), Y: bar}, end))
	seen := !math.IsNaN(b.Until) && d.axis.within(b.Until)
	if seen {
		area = append(area, scene.Line(line, scene.Point{X: end.X, Y: bar - 5}, scene.Point{X: end.X, Y: bar + 5}))
	}
	top := at(b.Day, 1)
	reach := scene.Rect{X: d.axis.x(from), Y: top.Y, Width: math.Max(1, end.X-d.axis.x(from)), Height: bar - top.Y}
	g.Add(d.mark(b.CourseMark, reach, area...))
	start := d.axis.x(from)
	if d.axis.within(b.Day) {
		spots := []courseSpot{
			{scene.Point{X: start - 7, Y: top.Y + 14}, scene.End},
			{scene.Point{X: start + 7, Y: top.Y - 4}, scene.Start},
			{scene.Point{X: start + 7, Y: top.Y + 14}, scene.Start},
			{scene.Point{X: start - 7, Y: top.Y + 32}, scene.End},
			{scene.Point{X: start + 7, Y: top.Y + 32}, scene.Start},
		}
		d.want(rankMust, courseText, true, d.gasInk, anyCost, spots, b.Label)
		if b.Why != "" {
			d.want(rankHelp, courseSmall, false, d.soft, anyCost, spots[1:], "not predicted")
		}
	}
	ends := []courseSpot{{scene.Point{X: end.X + 6, Y: bar + 3}, scene.Start}, {scene.Point{X: end.X, Y: bar - 9}, scene.Middle}, {scene.Point{X: end.X - 6, Y: bar - 6}, scene.End}, {scene.Point{X: end.X + 4, Y: bar - 9}, scene.Start}, {scene.Point{X: end.X, Y: bar + 15}, scene.End}}
	switch {
	case seen && d.replaced(number):
	case seen:
		d.want(rankHelp, courseSmall, false, d.gasInk, 2*markCost, ends, "seen empty")
	case b.Doubt:
		d.want(rankHelp, courseSmall, false, d.gasInk, 2*markCost, ends, "unclear how long")
	case math.IsNaN(b.Until):
		d.want(rankStory, courseSmall, true, d.gasInk, anyCost, ends, "not seen empty")
	}
	d.level(g, b, until, at, number == d.firstLevel())
}

// bubbleEnd is how far a bubble is drawn: until it was seen gone, else to today
// or to the end of what was predicted, whichever is later.
func (d *courseDrawing) bubbleEnd(number int) float64 {
	b := d.chart.Bubbles[number]
	if !math.IsNaN(b.Until) {
		return math.Max(b.Until, b.Day)
	}
	end := cmpNumber(d.chart.Today, b.Day)
	if n := len(b.Days); n > 0 {
		end = math.Max(end, b.Day+b.Days[n-1])
	} else if math.IsNaN(d.chart.Today) {
		end = d.axis.to
	}
	return math.Max(end, b.Day)
}

// replaced reports a bubble that ended because another was put in.
func (d *courseDrawing) replaced(number int) bool {
	b := d.chart.Bubbles[number]
	return number+1 < len(d.chart.Bubbles) && math.Floor(d.chart.Bubbles[number+1].Day) == math.Floor(b.Until)
}

// bubbleArea draws what was predicted, from the start to an end.
func (d *courseDrawing) bubbleArea(b CourseBubble, until float64, at func(day, fill float64) scene.Point) []scene.Node {
	var middle, low, high []scene.Point
	for i := range b.Days {
		day := b.Day + b.Days[i]
		if day > until || !d.axis.within(day) {
			continue
		}
		middle = append(middle, at(day, b.Value[i]))
		low = append(low, at(day, b.Low[i]))
		high = append(high, at(day, b.High[i]))
	}
	if len(middle) < 2 {
		return nil
	}
	floor := at(b.Day, 0).Y
	under := append([]scene.Point{{X: middle[0].X, Y: floor}}, middle...)
	under = append(under, scene.Point{X: middle[len(middle)-1].X, Y: floor})
	band := append([]scene.Point{}, high...)
	for i := len(low) - 1; i >= 0; i-- {
		band = append(band, low[i])
	}
	d.labels.strike(middle...)
	d.labels.strike(high...)
	edge := scene.Stroke{Colour: d.gasInk.Opacity(0.6), Width: 0.8}
	if d.form.Print {
		edge.Dash = []float64{3, 2}
	}
	return []scene.Node{
		scene.Polygon(d.gas.Opacity(d.gasOpacity), scene.Stroke{}, under...),
		scene.Polygon(d.gasInk.Opacity(d.bandOpacity), scene.Stroke{}, band...),
		scene.Line(edge, high...), scene.Line(edge, low...),
		scene.Line(scene.Stroke{Colour: d.gasInk, Width: 2}, middle...),
	}
}

// firstLevel is the first bubble in the window whose level is known: it is told
// once what the dashed line means.
func (d *courseDrawing) firstLevel() int {
	for i, b := range d.chart.Bubbles {
		if b.Level > 0 && d.axis.within(b.Day) {
			return i
		}
	}
	return -1
}

// level draws the share that covers the macula of an upright head.
func (d *courseDrawing) level(g *scene.Group, b CourseBubble, until float64, at func(day, fill float64) scene.Point, told bool) {
	if !(b.Level > 0) || len(b.Days) == 0 || d.narrow {
		return
	}
	last := -1
	for i := range b.Days {
		if b.Value[i] >= b.Level && b.Day+b.Days[i] <= until {
			last = i
		}
	}
	if last < 0 {
		return
	}
	p, q := at(d.axis.clip(b.Day), b.Level), at(d.axis.clip(b.Day+b.Days[last]), b.Level)
	if q.X-p.X < 8 {
		return
	}
	g.Add(scene.Line(scene.Stroke{Colour: d.soft, Width: 1.1, Dash: []float64{4, 3}}, p, scene.Point{X: q.X + 14, Y: q.Y}))
	if !told {
		return
	}
	words := fmt.Sprintf("%.0f %%: covers the macula upright", 100*b.Level)
	d.want(rankHelp, courseSmall, false, d.soft, markCost+2*lineCost, []courseSpot{{scene.Point{X: q.X + 20, Y: q.Y + 4}, scene.Start}, {scene.Point{X: q.X + 20, Y: q.Y - 6}, scene.Start}, {scene.Point{X: q.X + 20, Y: q.Y - 18}, scene.Start}, {scene.Point{X: q.X + 20, Y: q.Y - 30}, scene.Start}}, words, fmt.Sprintf("%.0f %%: macula upright", 100*b.Level))
}

// fillingLanes draws oil and heavy liquid as bars, one row for each medium.
func (d *courseDrawing) fillingLanes(g *scene.Group, y float64) float64 {
	names := []struct {
		medium record.Medium
		name   string
	}{{record.MediumOil, "Silicone oil"}, {record.MediumHeavyOil, "Heavy oil"}, {record.MediumHeavyLiquid, "Heavy liquid"}}
	first := true
	for _, n := range names {
		var rows []float64 // where each row is free from
		row := &scene.Group{}
		top := y
		for _, f := range d.chart.Fillings {
			if f.Medium != n.medium || !d.shown(f) {
				continue
			}
			if len(rows) == 0 {
				if !first {
					top += 6
				}
				first = false
				top = d.lane(row, "filling", n.name, "", top, fillHeight)
				g.Add(row)
			}
			at := 0
			start := d.axis.x(d.axis.clip(f.Day))
			for at < len(rows) && rows[at] > start {
				at++
			}
			if at == len(rows) {
				rows = append(rows, 0)
			}
			rows[at] = d.filling(row, f, top+fillHeight*float64(at))
		}
		if len(rows) > 0 {
			y = top + fillHeight*float64(len(rows))
		}
	}
	return y
}

// fillingEnd is how far a filling is drawn.
func (d *courseDrawing) fillingEnd(f CourseFilling) float64 {
	if !math.IsNaN(f.Until) && !f.Rest {
		return math.Max(f.Until, f.Day)
	}
	if t := d.chart.Today; !math.IsNaN(t) {
		return math.Max(t, f.Day)
	}
	return d.axis.to
}

func (d *courseDrawing) shown(f CourseFilling) bool {
	return d.fillingEnd(f) >= d.axis.from && f.Day <= d.axis.to
}

// filling draws one bar: solid while the eye is full, thin and broken while only
// rests are known, with an open end while nothing tells that it is out.
func (d *courseDrawing) filling(g *scene.Group, f CourseFilling, y float64) float64 {
	area, line := d.oil, d.oilInk
	if f.Medium == record.MediumHeavyLiquid {
		area, line = d.liquid, d.liquidInk
	}
	middle := y + fillHeight/2
	x := func(day float64) float64 { return d.axis.x(d.axis.clip(day)) }
	start, end := x(f.Day), x(d.fillingEnd(f))
	full := end
	if f.Rest {
		full = start
		if !math.IsNaN(f.Until) {
			full = x(f.Until)
		}
	}
	s := scene.Stroke{Colour: line, Width: 1.4}
	var nodes []scene.Node
	if full > start {
		bar := scene.Rect{X: start, Y: middle - 7, Width: full - start, Height: 14}
		edge := s
		if f.Doubt || f.SinceUnknown {
			edge.Dash = []float64{3, 3}
		}
		nodes = append(nodes, scene.Box(bar, area, edge), d.hatch(bar, f, line))
	}
	if f.Rest {
		rest := scene.Stroke{Colour: line, Width: 4, Dash: []float64{0.1, 7}, Round: true}
		nodes = append(nodes, scene.Line(rest, scene.Point{X: full + 5, Y: middle}, scene.Point{X: math.Max(end, full+14), Y: middle}))
		end = math.Max(end, full+14)
	}
	open := f.Rest || math.IsNaN(f.Until)
	if open && d.fillingEnd(f) <= d.axis.to {
		nodes = append(nodes, scene.Line(s, scene.Point{X: end + 2, Y: middle - 6}, scene.Point{X: end + 9, Y: middle}, scene.Point{X: end + 2, Y: middle + 6}))
	}
	reach := scene.Rect{X: start, Y: middle - 8, Width: math.Max(1, end-start), Height: 16}
	g.Add(d.mark(f.CourseMark, reach, nodes...))
	inside := courseSpot{scene.Point{X: start + 8, Y: middle + 4.5}, scene.Start}
	before := courseSpot{scene.Point{X: start - 8, Y: middle + 4.5}, scene.End}
	behind := courseSpot{scene.Point{X: end + 14, Y: middle + 4.5}, scene.Start}
	if letterWidth(f.Label, courseSmall, false) < full-start-14 {
		d.want(rankMust, courseSmall, false, d.ink, anyCost, []courseSpot{inside}, f.Label)
		d.wanted[len(d.wanted)-1].halo = scene.Colour{}
	} else {
		d.want(rankMust, courseSmall, false, d.ink, anyCost, []courseSpot{before, behind}, f.Label, fitText(f.Label, 150, courseSmall, false))
	}
	if state := fillingState(f); state != "" {
		above := courseSpot{scene.Point{X: end, Y: middle - 9}, scene.End}
		d.want(rankStory, courseSmall, true, line, anyCost, []courseSpot{behind, above}, state)
	}
	return end + 10
}

// fillingState says what matters while a filling is not known to be out.
func fillingState(f CourseFilling) string {
	switch {
	case f.Doubt:
		return "unclear whether it is out"
	case f.Rest:
		return "some is left"
	case math.IsNaN(f.Until):
		return "in the eye"
	}
	return ""
}

// hatch tells media apart without colour: dots for oil, slanted lines for heavy
// liquid.
func (d *courseDrawing) hatch(bar scene.Rect, f CourseFilling, colour scene.Colour) *scene.Path {
	p := &scene.Path{}
	if width := letterWidth(f.Label, courseSmall, false) + 14; width < bar.Width { // the label stands before it
		bar.X, bar.Width = bar.X+width, bar.Width-width
	}
	if f.Medium == record.MediumHeavyLiquid {
		p.Stroke = scene.Stroke{Colour: colour.Opacity(0.5), Width: 0.8}
		for x := bar.X + 4; x+6 < bar.Right(); x += 9 {
			p.Subpaths = append(p.Subpaths, scene.Subpath{Points: []scene.Point{{X: x, Y: bar.Bottom()}, {X: x + 6, Y: bar.Y}}})
		}
		return p
	}
	p.Stroke = scene.Stroke{Colour: colour.Opacity(0.55), Width: 1.8, Round: true}
	for i, x := 0, bar.X+5; x < bar.Right()-2; i, x = i+1, x+8 {
		p.Subpaths = append(p.Subpaths, scene.Subpath{Points: []scene.Point{{X: x, Y: bar.Y + 3 + 8*float64(i%2)}}})
	}
	return p
}
