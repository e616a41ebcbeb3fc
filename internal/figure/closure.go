package figure

import (
	"fmt"
	"math"
	"slices"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

// ClosureChart is closure over hole size, and, where strata were predicted
// without having been seen, what was observed beside that. Shares are from 0
// to 1.
type ClosureChart struct {
	Title, Below string
	SizesUM      []float64
	Curves       []ClosureCurve // the first with its band
	Strata       []ClosureStratum
	Asked        *ClosureAsked
	Notes        []string
}

// ClosureCurve is one way to operate: at each size the middle unit's median as
// value, and the range of a new unit.
type ClosureCurve struct {
	Label  string
	Shares []estimate.Estimate
	Dash   []float64
}

// ClosureStratum is a published group: its mean size and range, what was
// observed, and what was predicted without it, which may be missing.
type ClosureStratum struct {
	Label                 string
	SizeUM, LowUM, HighUM float64
	Observed              float64
	Eyes                  int
	Predicted             estimate.Estimate
	Air, Flap             bool
}

// ClosureAsked is the size and answer that was asked for.
type ClosureAsked struct {
	SizeUM float64
	Share  estimate.Estimate
	Label  string
}

// closureFrame is a panel with a linear scale each way.
type closureFrame struct {
	scene.Rect
	left, right float64 // values at the sides
}

func (f closureFrame) at(x, share float64) scene.Point {
	return scene.Point{X: f.X + f.Width*(x-f.left)/(f.right-f.left), Y: f.Bottom() - f.Height*share}
}

// DrawClosure draws the curve over sizes with the published strata, and, beside
// it, prediction against observation where there are predictions.
func DrawClosure(c ClosureChart) *scene.Scene {
	if len(c.SizesUM) < 2 || len(c.Curves) == 0 {
		return empty("closure", c.Title, c.Below, "There is no curve to draw.", "A curve needs sizes and shares.")
	}
	page := newSheet("closure", c.Title, c.Below)
	checked := slices.ContainsFunc(c.Strata, func(s ClosureStratum) bool { return s.Predicted.Known() })
	width := 700.0
	if checked {
		width = 360
	}
	f := closureFrame{scene.Rect{X: margin + 44, Y: headHeight + 28, Width: width, Height: 330}, c.SizesUM[0], c.SizesUM[len(c.SizesUM)-1]}
	page.Add(closureAxes(f, "Closed, by hole size", "µm", sizeTicks(f)))
	page.Add(closureCurves(f, c))
	page.Add(closureStrata(f, c.Strata))
	if c.Asked != nil {
		page.Add(closureAsked(f, *c.Asked))
	}
	if checked {
		f := closureFrame{scene.Rect{X: 586, Y: headHeight + 28, Width: 330, Height: 330}, leastPredicted(c.Strata), 1}
		page.Add(closureAxes(f, "Observed, by what was predicted without it", "predicted", shareTicks(f.left)))
		page.Add(closureCheck(f, c.Strata))
	}
	for _, n := range c.Notes {
		page.note(n)
	}
	page.Description = closureDescription(c)
	return page.finish(f.Bottom() + 44)
}

// tick is a place on the lower axis with its words.
type tick struct {
	at    float64
	label string
}

func sizeTicks(f closureFrame) []tick {
	var ticks []tick
	for um := math.Ceil(f.left/200) * 200; um <= f.right; um += 200 {
		ticks = append(ticks, tick{um, fmt.Sprintf("%g", um)})
	}
	return ticks
}

// leastPredicted is where the lower axis begins: a multiple of 20 %.
func leastPredicted(strata []ClosureStratum) float64 {
	least := 0.8
	for _, s := range strata {
		if s.Predicted.Known() {
			least = math.Min(least, math.Floor(s.Predicted.Value*5)/5)
		}
	}
	return least
}

func shareTicks(from float64) []tick {
	var ticks []tick
	for percent := int(math.Round(100 * from)); percent <= 100; percent += 20 {
		ticks = append(ticks, tick{float64(percent) / 100, fmt.Sprintf("%d %%", percent)})
	}
	return ticks
}

// closureAxes draws hairlines with numbers, the title over them, and the word
// for the lower axis under its right end.
func closureAxes(f closureFrame, title, word string, ticks []tick) *scene.Group {
	g := &scene.Group{Name: "axes"}
	hairline := scene.Stroke{Colour: hair, Width: 0.8}
	for percent := 0; percent <= 100; percent += 20 {
		left := f.at(f.left, float64(percent)/100)
		g.Add(scene.Line(hairline, left, scene.Point{X: f.Right(), Y: left.Y}))
		g.Add(&scene.Text{At: scene.Point{X: f.X - 8, Y: left.Y + 4}, Value: fmt.Sprintf("%d %%", percent), Size: smallSize, Anchor: scene.End, Colour: soft})
	}
	for _, k := range ticks {
		foot := f.at(k.at, 0)
		g.Add(scene.Line(hairline, foot, scene.Point{X: foot.X, Y: foot.Y + 5}))
		g.Add(&scene.Text{At: scene.Point{X: foot.X, Y: foot.Y + 19}, Value: k.label, Size: smallSize, Anchor: scene.Middle, Colour: soft})
	}
	g.Add(&scene.Text{At: scene.Point{X: f.Right(), Y: f.Bottom() + 36}, Value: word, Size: smallSize, Anchor: scene.End, Colour: soft})
	g.Add(&scene.Text{At: scene.Point{X: f.X - 44, Y: f.Y - 16}, Value: title, Size: labelSize, Bold: true, Colour: ink})
	return g
}

// closureCurves draws the first curve with the range of a new unit, and all
// curves with their words at the right end, moved apart where they touch.
func closureCurves(f closureFrame, c ClosureChart) *scene.Group {
	g := &scene.Group{Name: "curves"}
	var band []scene.Point
	for i, um := range c.SizesUM {
		band = append(band, f.at(um, c.Curves[0].Shares[i].High))
	}
	for i := len(c.SizesUM) - 1; i >= 0; i-- {
		band = append(band, f.at(c.SizesUM[i], c.Curves[0].Shares[i].Low))
	}
	g.Add(scene.Polygon(poolArea, scene.Stroke{}, band...))
	type word struct {
		y    float64
		text string
	}
	var words []word
	for _, curve := range c.Curves {
		var line []scene.Point
		for i, um := range c.SizesUM {
			line = append(line, f.at(um, curve.Shares[i].Value))
		}
		g.Add(scene.Line(scene.Stroke{Colour: poolInk, Width: 2, Dash: curve.Dash}, line...))
		words = append(words, word{line[len(line)-1].Y, curve.Label})
	}
	slices.SortFunc(words, func(a, b word) int { return int(math.Copysign(1, a.y-b.y)) })
	last := math.Inf(-1)
	for _, w := range words {
		y := math.Max(w.y+4, last+16)
		g.Add(&scene.Text{At: scene.Point{X: f.Right() + 6, Y: y}, Value: w.text, Size: smallSize, Colour: poolInk})
		last = y
	}
	return g
}

// closureMark is a stratum's mark: a dot for peel with gas, hollow with air, a
// square for a flap.
func closureMark(at scene.Point, s ClosureStratum) *scene.Path {
	radius := math.Max(2.4, math.Min(6.5, 0.38*math.Sqrt(float64(s.Eyes))))
	stroke := scene.Stroke{Colour: ink, Width: 1.3}
	switch {
	case s.Flap:
		return scene.Box(scene.Rect{X: at.X - radius, Y: at.Y - radius, Width: 2 * radius, Height: 2 * radius}, orange, scene.Stroke{Colour: ink, Width: 1})
	case s.Air:
		return scene.Disc(at, radius, paper, stroke)
	}
	return scene.Disc(at, radius, ink, stroke)
}

// closureStrata draws each published group at its mean size with its range.
func closureStrata(f closureFrame, strata []ClosureStratum) *scene.Group {
	g := &scene.Group{Name: "strata"}
	inside := func(um float64) float64 { return math.Max(f.left, math.Min(f.right, um)) }
	for _, s := range strata {
		g.Add(scene.Line(scene.Stroke{Colour: soft.Opacity(0.55), Width: 1}, f.at(inside(s.LowUM), s.Observed), f.at(inside(s.HighUM), s.Observed)))
	}
	for _, s := range strata {
		g.Add(closureMark(f.at(inside(s.SizeUM), s.Observed), s))
	}
	return g
}

func closureAsked(f closureFrame, a ClosureAsked) *scene.Group {
	g := &scene.Group{Name: "asked"}
	stroke := scene.Stroke{Colour: vermillion, Width: 2.4}
	low, high, at := f.at(a.SizeUM, a.Share.Low), f.at(a.SizeUM, a.Share.High), f.at(a.SizeUM, a.Share.Value)
	g.Add(scene.Line(stroke, low, high))
	for _, end := range []scene.Point{low, high} {
		g.Add(scene.Line(stroke, scene.Point{X: end.X - 5, Y: end.Y}, scene.Point{X: end.X + 5, Y: end.Y}))
	}
	g.Add(scene.Disc(at, 5.5, vermillion, scene.Stroke{Colour: paper, Width: 1.4}))
	anchor, x := scene.Start, at.X+12
	if at.X > f.X+0.6*f.Width {
		anchor, x = scene.End, at.X-12
	}
	y := f.Bottom() - 14
	g.Add(&scene.Text{At: scene.Point{X: x, Y: y}, Value: a.Label, Size: labelSize, Bold: true, Anchor: anchor, Colour: ink, Halo: paper})
	return g
}

// closureCheck draws each stratum at what was predicted for it without it: the
// bar is where 95 % of such groups would lie, the mark what was observed.
func closureCheck(f closureFrame, strata []ClosureStratum) *scene.Group {
	g := &scene.Group{Name: "check"}
	g.Add(scene.Line(scene.Stroke{Colour: soft, Width: 1, Dash: []float64{5, 4}}, f.at(f.left, f.left), f.at(1, 1)))
	for _, s := range strata {
		if s.Predicted.Known() {
			g.Add(scene.Line(scene.Stroke{Colour: poolInk.Opacity(0.32), Width: 3.2}, f.at(s.Predicted.Value, s.Predicted.Low), f.at(s.Predicted.Value, s.Predicted.High)))
		}
	}
	for _, s := range strata {
		if s.Predicted.Known() {
			g.Add(closureMark(f.at(s.Predicted.Value, s.Observed), s))
		}
	}
	g.Add(&scene.Text{At: scene.Point{X: f.at(f.left, 0).X + 14, Y: f.at(0, f.left).Y + 10}, Value: "as predicted", Size: smallSize, Colour: soft})
	return g
}

func closureDescription(c ClosureChart) string {
	text := "Closure over the minimum linear diameter of the hole, with the range of a unit not yet seen."
	covered, checked := 0, 0
	for _, s := range c.Strata {
		if s.Predicted.Known() {
			checked++
			if s.Observed >= s.Predicted.Low-1e-12 && s.Observed <= s.Predicted.High+1e-12 {
				covered++
			}
		}
	}
	if checked > 0 {
		text += fmt.Sprintf(" %d of %d published groups lie in the interval predicted without them.", covered, checked)
	}
	if c.Asked != nil {
		text += " " + c.Asked.Label + "."
	}
	return text
}
