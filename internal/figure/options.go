package figure

import (
	"fmt"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

// OptionsChart is ways to treat an eye, one below the other in the order in which
// they are offered, with what can be expected of each on one scale. Shares are
// from 0 to 1.
type OptionsChart struct {
	Title, Below string
	Axis         string // what the shares are of
	Rows         []OptionRow
	Notes        []string
}

// OptionRow is one option. Expected is what published and own results say
// together; where it is missing, its basis is written into the row. Published is
// what is published alone, drawn behind it when there is an own series; Own is
// that series. Both may be missing.
type OptionRow struct {
	Name, Place              string
	Expected, Published, Own estimate.Estimate
	PublishedN, OwnN         int
	First                    bool // offered first: its name is bold
	Against                  bool // advised against: its name and marks are soft
}

// The columns of the options, from the left.
const (
	optionNameWidth = 296.0
	optionCountEnd  = 424.0 // right end of the two numbers of eyes
	optionLeft      = 448.0
	optionRight     = 748.0
	optionLine      = 16.0
	optionGap       = 12.0
)

func optionX(share float64) float64 { return optionLeft + (optionRight-optionLeft)*share }

// DrawOptions draws, for each option, its name with its place, the numbers of
// eyes behind it, and its expected share as a dot with its interval: the pale
// bar behind is what is published alone, the square below the own series. An
// option without a number says why.
func DrawOptions(c OptionsChart) *scene.Scene {
	if len(c.Rows) == 0 {
		return empty("options", c.Title, c.Below, "There is no option to draw.", "Tell the condition of the eye.")
	}
	page := newSheet("options", c.Title, c.Below)
	top := headHeight + 24
	y := top + 8
	body := &scene.Group{Name: "options"}
	for i, r := range c.Rows {
		if i > 0 {
			body.Add(scene.Line(scene.Stroke{Colour: hair, Width: 0.6}, scene.Point{X: margin, Y: y}, scene.Point{X: sheetWidth - margin, Y: y}))
		}
		y = optionRow(body, r, y+optionGap) + optionGap
	}
	page.Add(optionAxes(top, y, c.Axis))
	page.Add(body)
	for _, n := range c.Notes {
		page.note(n)
	}
	page.Description = optionsDescription(c)
	return page.finish(y + 24)
}

// optionAxes draws hairlines through all rows and numbers at both ends.
func optionAxes(top, bottom float64, axis string) *scene.Group {
	g := &scene.Group{Name: "axes"}
	for percent := 0; percent <= 100; percent += 20 {
		x := optionX(float64(percent) / 100)
		g.Add(scene.Line(scene.Stroke{Colour: hair, Width: 0.8}, scene.Point{X: x, Y: top}, scene.Point{X: x, Y: bottom}))
		for _, y := range []float64{top - 7, bottom + 16} {
			g.Add(&scene.Text{At: scene.Point{X: x, Y: y}, Value: fmt.Sprintf("%d %%", percent), Size: smallSize, Anchor: scene.Middle, Colour: soft})
		}
	}
	g.Add(&scene.Text{At: scene.Point{X: margin, Y: top - 7}, Value: axis, Size: smallSize, Colour: soft})
	g.Add(&scene.Text{At: scene.Point{X: optionCountEnd, Y: top - 7}, Value: "eyes", Size: smallSize, Anchor: scene.End, Colour: soft})
	return g
}

// optionRow draws one row and returns where it ends.
func optionRow(g *scene.Group, r OptionRow, y float64) float64 {
	colour := ink
	if r.Against {
		colour = soft
	}
	bottom := y
	for _, line := range scene.Wrap(r.Name, optionNameWidth, labelSize) {
		bottom += optionLine
		g.Add(&scene.Text{At: scene.Point{X: margin, Y: bottom}, Value: line, Size: labelSize, Bold: r.First, Colour: colour})
	}
	for _, line := range scene.Wrap(r.Place, optionNameWidth, smallSize) {
		bottom += optionLine
		g.Add(&scene.Text{At: scene.Point{X: margin, Y: bottom}, Value: line, Size: smallSize, Colour: soft})
	}
	counts := []string{fmt.Sprintf("%d published", r.PublishedN)}
	if r.PublishedN == 0 {
		counts[0] = "none published"
	}
	if r.OwnN > 0 {
		counts = append(counts, fmt.Sprintf("%d own", r.OwnN))
	}
	for i, text := range counts {
		g.Add(&scene.Text{At: scene.Point{X: optionCountEnd, Y: y + optionLine*float64(i+1)}, Value: text, Size: smallSize, Anchor: scene.End, Colour: soft})
	}
	if r.Expected.Known() {
		optionMarks(g, r, y+optionLine-4, colour)
		return max(bottom, y+2*optionLine)
	}
	at := y
	for _, line := range scene.Wrap("No number: "+r.Expected.Basis, sheetWidth-margin-optionLeft-8, smallSize) {
		at += optionLine
		g.Add(&scene.Text{At: scene.Point{X: optionLeft + 8, Y: at}, Value: line, Size: smallSize, Colour: soft, Halo: paper})
	}
	return max(bottom, at)
}

// optionMarks draws the expected share with its interval and, with an own series,
// what is published alone behind it and the series below it.
func optionMarks(g *scene.Group, r OptionRow, y float64, colour scene.Colour) {
	if r.OwnN > 0 && r.Published.Known() {
		low, high := optionX(r.Published.Low), optionX(r.Published.High)
		g.Add(scene.Box(scene.Rect{X: low, Y: y - 7, Width: high - low, Height: 14}, poolArea, scene.Stroke{}))
	}
	g.Add(scene.Line(scene.Stroke{Colour: colour, Width: 2}, scene.Point{X: optionX(r.Expected.Low), Y: y}, scene.Point{X: optionX(r.Expected.High), Y: y}))
	g.Add(scene.Disc(scene.Point{X: optionX(r.Expected.Value), Y: y}, 5, colour, scene.Stroke{Colour: paper, Width: 1}))
	g.Add(&scene.Text{At: scene.Point{X: sheetWidth - margin, Y: y + 4}, Value: shareWords(r.Expected), Size: smallSize, Anchor: scene.End, Colour: ink})
	if r.OwnN == 0 || !r.Own.Known() {
		return
	}
	y += optionLine + 2
	stroke := scene.Stroke{Colour: vermillion, Width: 1.6}
	g.Add(scene.Line(stroke, scene.Point{X: optionX(r.Own.Low), Y: y}, scene.Point{X: optionX(r.Own.High), Y: y}))
	x := optionX(r.Own.Value)
	g.Add(scene.Box(scene.Rect{X: x - 4, Y: y - 4, Width: 8, Height: 8}, paper, stroke))
	g.Add(&scene.Text{At: scene.Point{X: sheetWidth - margin, Y: y + 4}, Value: "own " + shareWords(r.Own), Size: smallSize, Anchor: scene.End, Colour: soft})
}

func optionsDescription(c OptionsChart) string {
	text := "Options in the order in which they are offered, with what can be expected."
	for _, r := range c.Rows {
		text += fmt.Sprintf(" %s, %s: %s.", r.Name, r.Place, shareWords(r.Expected))
	}
	return text
}
