package figure

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

// The colours of gas: water-blue area, its ink for lines and letters.
var (
	gasArea = scene.Opaque(0x9cc4d8).As("gas")
	gasInk  = scene.Opaque(0x2c6580).As("gas-ink")
)

// BubbleChart is what the drawing of a bubble's course shows. Fills are shares
// of the cavity.
type BubbleChart struct {
	Title, Below string
	Days         []float64
	Fill         []estimate.Estimate // one per day
	// Levels are fills that mean something, drawn as dashed lines.
	Levels []BubbleLevel
	// Dates are drawn under the axis with their interval.
	Dates []BubbleDate
	// Seen are the readings at visits.
	Seen []BubbleSeen
	// Answer is said in ink under the dates, Notes in the foot.
	Answer string
	Notes  []string
}

// BubbleLevel is a fill with its meaning in a few words.
type BubbleLevel struct {
	Fill  float64
	Label string
}

// BubbleDate is a date with its interval and its meaning in a few words.
type BubbleDate struct {
	Day   estimate.Estimate
	Label string
}

// BubbleSeen is a reading with its standard error; Unused ones are hollow.
type BubbleSeen struct {
	Day, Fill, SD float64
	Unused        bool
}

// bubbleFrame places days and fills on the sheet.
type bubbleFrame struct {
	scene.Rect
	lastDay float64
}

func (f bubbleFrame) at(day, fill float64) scene.Point {
	return scene.Point{X: f.X + f.Width*day/f.lastDay, Y: f.Bottom() - f.Height*math.Max(0, math.Min(1, fill))}
}

// DrawBubble draws the fill over the days as an area with its 95 % band, the
// levels that matter, the dates with their intervals and the visits' readings.
func DrawBubble(c BubbleChart) *scene.Scene {
	page := newSheet("bubble", c.Title, c.Below)
	if len(c.Days) < 2 || len(c.Days) != len(c.Fill) || !c.Fill[0].Known() {
		why := "A bubble's course needs days and fills."
		if len(c.Fill) > 0 && !c.Fill[0].Known() {
			why = sentence(c.Fill[0].Basis) + "."
		}
		return empty("bubble", c.Title, c.Below, "There is no course to draw.", why+" "+sentence(c.Answer))
	}
	f := bubbleFrame{scene.Rect{X: margin + 52, Y: headHeight + 24, Width: sheetWidth - 2*margin - 52 - labelColumn - gutter, Height: 300}, c.Days[len(c.Days)-1]}
	page.Add(bubbleAxes(f))
	page.Add(bubbleArea(f, c))
	page.Add(bubbleLevels(f, c.Levels))
	page.Add(bubbleSeen(f, c.Seen))
	bottom := f.Bottom() + 52
	dates := &scene.Group{Name: "dates"}
	for _, d := range c.Dates {
		bottom = bubbleDate(dates, f, d, bottom)
	}
	page.Add(dates)
	bottom += 12
	for _, line := range scene.Wrap(c.Answer, sheetWidth-2*margin, labelSize) {
		page.Add(&scene.Text{At: scene.Point{X: margin, Y: bottom}, Value: line, Size: labelSize, Bold: true, Colour: ink})
		bottom += 20
	}
	for _, n := range c.Notes {
		page.note(n)
	}
	page.Description = bubbleDescription(c)
	return page.finish(bottom - 12)
}

// bubbleAxes draws the frame's hairlines and their numbers.
func bubbleAxes(f bubbleFrame) *scene.Group {
	g := &scene.Group{Name: "axes"}
	hairline := scene.Stroke{Colour: hair, Width: 1}
	for percent := 0; percent <= 100; percent += 25 {
		left := f.at(0, float64(percent)/100)
		g.Add(scene.Line(hairline, left, scene.Point{X: f.Right(), Y: left.Y}))
		g.Add(&scene.Text{At: scene.Point{X: f.X - 10, Y: left.Y + 4}, Value: fmt.Sprintf("%d %%", percent), Size: smallSize, Anchor: scene.End, Colour: soft})
	}
	step := dayStep(f.lastDay)
	for day := 0.0; day <= f.lastDay+1e-9; day += step {
		foot := f.at(day, 0)
		g.Add(scene.Line(hairline, foot, scene.Point{X: foot.X, Y: foot.Y + 5}))
		label := fmt.Sprintf("%g", day)
		if day == 0 {
			label = "surgery"
		}
		g.Add(&scene.Text{At: scene.Point{X: foot.X, Y: foot.Y + 20}, Value: label, Size: smallSize, Anchor: scene.Middle, Colour: soft})
	}
	g.Add(&scene.Text{At: scene.Point{X: f.Right() + 10, Y: f.Bottom() + 20}, Value: "days", Size: smallSize, Colour: soft})
	g.Add(&scene.Text{At: scene.Point{X: f.X - 52, Y: f.Y - 12}, Value: "Share of the cavity", Size: labelSize, Bold: true, Colour: ink})
	return g
}

// dayStep makes at most ten steps of 1, 2, 5, 7, 14 or 28 days.
func dayStep(last float64) float64 {
	for _, step := range []float64{1, 2, 5, 7, 14} {
		if last/step <= 10 {
			return step
		}
	}
	return 28
}

// bubbleArea draws the middle course as an area and the band around it.
func bubbleArea(f bubbleFrame, c BubbleChart) *scene.Group {
	var middle, low, high []scene.Point
	for i, day := range c.Days {
		middle = append(middle, f.at(day, c.Fill[i].Value))
		low = append(low, f.at(day, c.Fill[i].Low))
		high = append(high, f.at(day, c.Fill[i].High))
	}
	under := append([]scene.Point{f.at(c.Days[0], 0)}, middle...)
	under = append(under, f.at(f.lastDay, 0))
	band := append([]scene.Point{}, high...)
	for i := len(low) - 1; i >= 0; i-- {
		band = append(band, low[i])
	}
	edge := scene.Stroke{Colour: gasInk.Opacity(0.55), Width: 0.8}
	return &scene.Group{Name: "bubble", Nodes: []scene.Node{
		scene.Polygon(gasArea.Opacity(0.55), scene.Stroke{}, under...),
		scene.Polygon(gasInk.Opacity(0.18), scene.Stroke{}, band...),
		scene.Line(edge, high...), scene.Line(edge, low...),
		scene.Line(scene.Stroke{Colour: gasInk, Width: 2.2}, middle...),
	}}
}

// bubbleLevels draws dashed lines with their words beside the frame, moved
// apart where they would touch.
func bubbleLevels(f bubbleFrame, levels []BubbleLevel) *scene.Group {
	g := &scene.Group{Name: "levels"}
	last := math.Inf(-1)
	for i := len(levels) - 1; i >= 0; i-- { // from the top down, as they are given upwards
		l := levels[i]
		left := f.at(0, l.Fill)
		end := scene.Point{X: f.Right(), Y: left.Y}
		g.Add(scene.Line(scene.Stroke{Colour: soft, Width: 1.1, Dash: []float64{5, 4}}, left, end))
		lines := scene.Wrap(l.Label, labelColumn, smallSize)
		y := math.Max(left.Y+4-8*float64(len(lines)-1), last+18)
		if y > left.Y+8 || y < left.Y {
			g.Add(scene.Line(scene.Stroke{Colour: hair, Width: 1}, end, scene.Point{X: f.Right() + gutter - 6, Y: y - 4}))
		}
		for _, line := range lines {
			g.Add(&scene.Text{At: scene.Point{X: f.Right() + gutter - 2, Y: y}, Value: line, Size: smallSize, Colour: ink})
			last = y
			y += 16
		}
	}
	return g
}

func bubbleSeen(f bubbleFrame, seen []BubbleSeen) *scene.Group {
	g := &scene.Group{Name: "seen"}
	for _, s := range seen {
		stroke := scene.Stroke{Colour: gasInk, Width: 1.6}
		half := estimate.Z95 * s.SD
		g.Add(scene.Line(stroke, f.at(s.Day, s.Fill-half), f.at(s.Day, s.Fill+half)))
		fill := gasInk
		if s.Unused {
			fill = paper
		}
		g.Add(scene.Disc(f.at(s.Day, s.Fill), 5, fill, stroke))
	}
	return g
}

// bubbleDate draws one interval under the axis with its words at the right.
func bubbleDate(g *scene.Group, f bubbleFrame, d BubbleDate, y float64) float64 {
	if !d.Day.Known() || d.Day.Value <= 0 {
		words := "not known"
		if d.Day.Known() {
			words = dayWords(d.Day)
		}
		g.Add(&scene.Text{At: scene.Point{X: f.Right() + gutter - 2, Y: y + 4}, Value: d.Label + ": " + words, Size: smallSize, Colour: ink})
		return y + 24
	}
	x := func(day float64) float64 { return f.X + f.Width*math.Max(0, math.Min(1, day/f.lastDay)) }
	low, high := scene.Point{X: x(d.Day.Low), Y: y}, scene.Point{X: x(d.Day.High), Y: y}
	g.Add(scene.Line(scene.Stroke{Colour: gasInk, Width: 2}, low, high))
	for _, end := range []scene.Point{low, high} {
		g.Add(scene.Line(scene.Stroke{Colour: gasInk, Width: 2}, scene.Point{X: end.X, Y: y - 4}, scene.Point{X: end.X, Y: y + 4}))
	}
	g.Add(scene.Disc(scene.Point{X: x(d.Day.Value), Y: y}, 4.5, gasInk, scene.Stroke{Colour: paper, Width: 1.2}))
	g.Add(&scene.Text{At: scene.Point{X: f.Right() + gutter - 2, Y: y + 4}, Value: d.Label + ": " + dayWords(d.Day), Size: smallSize, Colour: ink})
	return y + 24
}

// dayWords writes a date in days as sure as it is.
func dayWords(e estimate.Estimate) string {
	if e.Value <= 0 {
		return "no longer"
	}
	decimals := 0
	if e.Value < 5 {
		decimals = 1
	}
	return fmt.Sprintf("day %.*f (%.*f to %.*f)", decimals, e.Value, decimals, e.Low, decimals, e.High)
}

func bubbleDescription(c BubbleChart) string {
	text := "The share of the cavity that the bubble fills, day by day, with its 95 % band."
	for _, d := range c.Dates {
		if d.Day.Known() {
			text += " " + sentence(d.Label+": "+dayWords(d.Day)) + "."
		}
	}
	for _, s := range c.Seen {
		text += fmt.Sprintf(" Seen on day %g: %.0f %%.", s.Day, 100*s.Fill)
	}
	return text
}
