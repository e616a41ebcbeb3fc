package figure

import (
	"fmt"
	"math"

	"limitans/internal/figure/scene"
)

// pressureLane draws the pressure as a thin line with the levels that matter.
func (d *courseDrawing) pressureLane(g *scene.Group, y float64) float64 {
	values := d.chart.Pressures
	if len(values) == 0 {
		return y
	}
	const height = 50.0
	low, high := values[0].MmHg, 24.0
	for _, p := range values {
		low, high = math.Min(low, p.MmHg), math.Max(high, p.MmHg+1)
	}
	bottom := math.Min(low, 10) - 3
	plot := d.lane(g, "pressure", "Pressure", "mmHg", y, height)
	at := func(mmHg float64) float64 { return plot + height*(high-mmHg)/(high-bottom) }
	for _, l := range d.chart.PressureLevels {
		if l.MmHg < softMmHg+1 && low > softMmHg { // a soft eye is a matter only where it was seen
			continue
		}
		p, q := scene.Point{X: d.left, Y: at(l.MmHg)}, scene.Point{X: d.right, Y: at(l.MmHg)}
		g.Add(scene.Line(scene.Stroke{Colour: d.caution, Width: 1, Dash: []float64{4, 4}}, p, q))
		d.labels.strike(p, q)
		d.say(l.Label, courseSpot{scene.Point{X: d.right + 8, Y: q.Y + 4}, scene.Start}, courseSmall, false, d.soft)
	}
	thin := scene.Stroke{Colour: d.ink, Width: 1.3}
	for i := 1; i < len(values); i++ {
		a := scene.Point{X: d.axis.x(values[i-1].Day), Y: at(values[i-1].MmHg)}
		b := scene.Point{X: d.axis.x(values[i].Day), Y: at(values[i].MmHg)}
		if p, q, ok := d.clipped(a, b); ok {
			g.Add(scene.Line(thin, p, q))
			d.labels.strike(p, q)
		}
	}
	for _, v := range values {
		if !d.axis.within(v.Day) {
			continue
		}
		p := scene.Point{X: d.axis.x(v.Day), Y: at(v.MmHg)}
		dot := roundMark(p, 2.6, d.ink, scene.Stroke{})
		if v.MmHg > highMmHg || v.MmHg < softMmHg {
			dot = pointed(p, 5, v.MmHg > highMmHg, d.ink)
		}
		d.labels.block(boxAt(p, 3))
		d.whisker(g, v.CourseMark, p.Y, d.ink)
		g.Add(d.mark(v.CourseMark, boxAt(p, 4), dot))
	}
	d.pressureLabels(at)
	return plot + height
}

// pressureLabels writes the highest and the lowest out of range, what was treated,
// and the last.
func (d *courseDrawing) pressureLabels(at func(mmHg float64) float64) {
	values := d.chart.Pressures
	highest, lowest := 0, 0
	for i, v := range values {
		if v.MmHg > values[highest].MmHg {
			highest = i
		}
		if v.MmHg < values[lowest].MmHg {
			lowest = i
		}
	}
	for i, v := range values {
		number := fmt.Sprintf("%g", v.MmHg)
		out := v.MmHg > highMmHg && i == highest || v.MmHg < softMmHg && i == lowest
		last := i == len(values)-1
		if !(out || v.Treated || last) || !d.axis.within(v.Day) {
			continue
		}
		texts, rank := []string{number}, rankMore
		if v.Treated {
			texts = []string{number + ", drops", number}
		}
		if out || v.Treated {
			rank = rankHelp
		}
		p := scene.Point{X: d.axis.x(v.Day), Y: at(v.MmHg)}
		d.want(rank, courseSmall, false, d.ink, markCost-0.5, around(p, 6, courseSmall), texts...)
	}
}

// pointed is a triangle that points up or down.
func pointed(at scene.Point, half float64, up bool, fill scene.Colour) *scene.Path {
	tip := -half
	if !up {
		tip = half
	}
	return scene.Polygon(fill, scene.Stroke{}, scene.Point{X: at.X, Y: at.Y + tip}, scene.Point{X: at.X + half, Y: at.Y - 0.7*tip}, scene.Point{X: at.X - half, Y: at.Y - 0.7*tip})
}

// entryLanes draw visits, scans and films as marks that open, a row each.
func (d *courseDrawing) entryLanes(g *scene.Group, y float64) float64 {
	rows := []struct {
		key, name string
		all       []CourseEntry
		shape     func(at scene.Point, e CourseEntry) []scene.Node
	}{
		{"visit", "Visits", d.chart.Visits, d.visitShape},
		{"scan", "Scans", d.chart.Scans, func(at scene.Point, _ CourseEntry) []scene.Node {
			return []scene.Node{square(at, 4.5, d.paper, scene.Stroke{Colour: d.ink, Width: 1.5}), scene.Line(scene.Stroke{Colour: d.ink, Width: 1.2}, scene.Point{X: at.X - 4.5, Y: at.Y + 0.5}, scene.Point{X: at.X - 1.5, Y: at.Y + 0.5}, scene.Point{X: at.X, Y: at.Y + 2.5}, scene.Point{X: at.X + 1.5, Y: at.Y + 0.5}, scene.Point{X: at.X + 4.5, Y: at.Y + 0.5})}
		}},
		{"film", "Films", d.chart.Films, func(at scene.Point, _ CourseEntry) []scene.Node {
			return []scene.Node{scene.Polygon(d.ink, scene.Stroke{}, scene.Point{X: at.X - 4, Y: at.Y - 5.5}, scene.Point{X: at.X + 6, Y: at.Y}, scene.Point{X: at.X - 4, Y: at.Y + 5.5})}
		}},
	}
	for _, r := range rows {
		if len(r.all) == 0 {
			continue
		}
		row := &scene.Group{}
		g.Add(row)
		plot := d.lane(row, r.key, r.name, "", y, entryHeight)
		middle := plot + entryHeight/2
		row.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1}, scene.Point{X: d.left, Y: middle}, scene.Point{X: d.right, Y: middle}))
		for _, e := range r.all {
			if !d.axis.within(e.Day) {
				continue
			}
			at := scene.Point{X: d.axis.x(e.Day), Y: middle}
			d.whisker(row, e.CourseMark, middle, d.ink)
			d.labels.block(boxAt(at, 7))
			row.Add(d.mark(e.CourseMark, boxAt(at, 6), r.shape(at, e)...))
		}
		d.troubles(r.all, middle)
		y = plot + entryHeight
	}
	return y
}

// visitShape is a disc, with a pointed sign where something had gone wrong.
func (d *courseDrawing) visitShape(at scene.Point, e CourseEntry) []scene.Node {
	if e.Trouble == "" {
		return []scene.Node{roundMark(at, 4.5, d.paper, scene.Stroke{Colour: d.ink, Width: 1.5})}
	}
	sign := pointed(scene.Point{X: at.X, Y: at.Y + 0.5}, 8, true, d.paper)
	sign.Stroke = scene.Stroke{Colour: d.caution, Width: 1.6}
	return []scene.Node{sign, &scene.Text{At: scene.Point{X: at.X, Y: at.Y + 5}, Value: "!", Size: 10.5, Bold: true, Anchor: scene.Middle, Colour: d.caution}}
}

// troubles names complications where there is room, each once.
func (d *courseDrawing) troubles(all []CourseEntry, y float64) {
	named := map[string]bool{}
	for _, e := range all {
		if e.Trouble == "" || named[e.Trouble] || !d.axis.within(e.Day) {
			continue
		}
		at := scene.Point{X: d.axis.x(e.Day), Y: y}
		spots := []courseSpot{{scene.Point{X: at.X + 11, Y: y + 4}, scene.Start}, {scene.Point{X: at.X - 11, Y: y + 4}, scene.End}, {scene.Point{X: at.X, Y: y - 10}, scene.Middle}}
		d.want(rankHelp, courseSmall, false, d.caution, markCost-0.5, spots, fitText(e.Trouble, 180, courseSmall, false))
		named[e.Trouble] = true
	}
}
