package figure

import (
	"fmt"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

// DiaryChart is for how many hours of each day a bubble covers its targets, as told
// to the patient and as done.
type DiaryChart struct {
	Title, Below string
	// ToldWords and DoneWords name the two ways to spend a day.
	ToldWords, DoneWords string
	Days                 []float64 // rising, from day 1 on
	Targets              []DiaryTarget
	Notes                []string
}

// DiaryTarget has one number of hours for each day, 0 to 24.
type DiaryTarget struct {
	Target     string
	Told, Done []estimate.Estimate
}

// Measures of one row of the chart.
const (
	diaryRow, diaryGap = 132.0, 64.0
	hoursOfDay         = 24.0
)

// diaryFrame places days and hours of one row.
type diaryFrame struct {
	scene.Rect
	first, end float64 // days
}

func (f diaryFrame) at(day, hours float64) scene.Point {
	return scene.Point{X: f.X + f.Width*(day-f.first)/(f.end-f.first), Y: f.Bottom() - f.Height*hours/hoursOfDay}
}

// DrawDiary draws one row for each target: the hours done as an area with its 95 %
// band, the hours told as a dashed line. A value holds until the next listed day.
func DrawDiary(c DiaryChart) *scene.Scene {
	page := newSheet("diary", c.Title, c.Below)
	sound := len(c.Days) > 0
	for _, t := range c.Targets {
		sound = sound && len(t.Told) == len(c.Days) && len(t.Done) == len(c.Days)
	}
	if !sound || len(c.Targets) == 0 {
		return empty("diary", c.Title, c.Below, "There is no diary to draw.", "A diary needs days and the hours of each.")
	}
	last, step := c.Days[len(c.Days)-1], 1.0
	if len(c.Days) > 1 {
		step = last - c.Days[len(c.Days)-2]
	}
	y := headHeight + 28
	for _, t := range c.Targets {
		f := diaryFrame{scene.Rect{X: margin + 52, Y: y, Width: sheetWidth - 2*margin - 52 - labelColumn - gutter, Height: diaryRow}, c.Days[0], last + step}
		page.Add(&scene.Group{Name: t.Target, Nodes: append(diaryAxes(f, t.Target), diaryArea(f, c, t)...)})
		page.Add(diaryWords(f, c))
		y += diaryRow + diaryGap
	}
	for _, n := range c.Notes {
		page.note(n)
	}
	page.Description = diaryDescription(c)
	return page.finish(y - diaryGap + 24)
}

func diaryAxes(f diaryFrame, target string) []scene.Node {
	var out []scene.Node
	hairline := scene.Stroke{Colour: hair, Width: 1}
	for hours := 0.0; hours <= hoursOfDay; hours += 8 {
		left := f.at(f.first, hours)
		out = append(out, scene.Line(hairline, left, scene.Point{X: f.Right(), Y: left.Y}),
			&scene.Text{At: scene.Point{X: f.X - 10, Y: left.Y + 4}, Value: fmt.Sprintf("%g h", hours), Size: smallSize, Anchor: scene.End, Colour: soft})
	}
	step := dayStep(f.end - f.first)
	for day := f.first; day < f.end-1e-9; day += step {
		foot := f.at(day, 0)
		out = append(out, scene.Line(hairline, foot, scene.Point{X: foot.X, Y: foot.Y + 5}),
			&scene.Text{At: scene.Point{X: foot.X, Y: foot.Y + 20}, Value: fmt.Sprintf("%g", day), Size: smallSize, Anchor: scene.Middle, Colour: soft})
	}
	return append(out,
		&scene.Text{At: scene.Point{X: f.Right() + 10, Y: f.Bottom() + 20}, Value: "days", Size: smallSize, Colour: soft},
		&scene.Text{At: scene.Point{X: f.X - 52, Y: f.Y - 12}, Value: "Hours a day in which the " + target + " is covered", Size: labelSize, Bold: true, Colour: ink})
}

// stairs runs along one value of each day, from its day to the next.
func (f diaryFrame) stairs(days []float64, hours []estimate.Estimate, of func(estimate.Estimate) float64) []scene.Point {
	var out []scene.Point
	for i, day := range days {
		until := f.end
		if i+1 < len(days) {
			until = days[i+1]
		}
		out = append(out, f.at(day, of(hours[i])), f.at(until, of(hours[i])))
	}
	return out
}

var (
	toldStroke = scene.Stroke{Colour: ink, Width: 2, Dash: []float64{6, 4}}
	doneStroke = scene.Stroke{Colour: gasInk, Width: 2.2}
)

func diaryArea(f diaryFrame, c DiaryChart, t DiaryTarget) []scene.Node {
	middle := f.stairs(c.Days, t.Done, func(e estimate.Estimate) float64 { return e.Value })
	low := f.stairs(c.Days, t.Done, func(e estimate.Estimate) float64 { return e.Low })
	band := f.stairs(c.Days, t.Done, func(e estimate.Estimate) float64 { return e.High })
	for i := len(low) - 1; i >= 0; i-- {
		band = append(band, low[i])
	}
	under := append([]scene.Point{f.at(f.first, 0)}, middle...)
	under = append(under, f.at(f.end, 0))
	return []scene.Node{
		scene.Polygon(gasArea.Opacity(0.55), scene.Stroke{}, under...),
		scene.Polygon(gasInk.Opacity(0.18), scene.Stroke{}, band...),
		scene.Line(doneStroke, middle...),
		scene.Line(toldStroke, f.stairs(c.Days, t.Told, func(e estimate.Estimate) float64 { return e.Value })...),
	}
}

// diaryWords name the lines beside the row, each with a piece of its line.
func diaryWords(f diaryFrame, c DiaryChart) *scene.Group {
	g := &scene.Group{Name: "words"}
	y := f.Y + 8
	for _, of := range []struct {
		stroke scene.Stroke
		words  string
	}{{toldStroke, "Told: " + c.ToldWords}, {doneStroke, "Done: " + c.DoneWords}} {
		x := f.Right() + gutter
		g.Add(scene.Line(of.stroke, scene.Point{X: x, Y: y - 4}, scene.Point{X: x + 24, Y: y - 4}))
		for _, line := range scene.Wrap(of.words, labelColumn-32, smallSize) {
			g.Add(&scene.Text{At: scene.Point{X: x + 32, Y: y}, Value: line, Size: smallSize, Colour: ink})
			y += 16
		}
		y += 8
	}
	return g
}

func diaryDescription(c DiaryChart) string {
	text := "Hours of each day in which the bubble covers its targets, as told and as done."
	for _, t := range c.Targets {
		at := 0
		text += fmt.Sprintf(" The %s on day %g: told %.3g hours (%.3g to %.3g), done %.3g (%.3g to %.3g).", t.Target, c.Days[at],
			t.Told[at].Value, t.Told[at].Low, t.Told[at].High, t.Done[at].Value, t.Done[at].Low, t.Done[at].High)
	}
	return text
}
