package figure

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

// The blue of Okabe and Ito, for what is pooled or fitted, and its tint.
var (
	poolInk  = scene.Opaque(0x0072b2)
	poolArea = scene.Opaque(0x0072b2).Opacity(0.16)
)

// ForestChart is published shares one below the other, in groups with what
// each group says together. Shares are from 0 to 1.
type ForestChart struct {
	Title, Below string
	Axis         string // what the shares are of
	Groups       []ForestGroup
	Notes        []string
}

// ForestGroup is rows that belong together; Pooled is nil where they are not
// pooled, and Why then says why.
type ForestGroup struct {
	Title  string
	Rows   []ForestRow
	Pooled *ForestPool
	Why    string
}

// ForestRow is one study. Mark is said beside its name in soft ink; the dot of
// a Derived count is hollow.
type ForestRow struct {
	Label, Mark  string
	Events, Eyes int
	Share        estimate.Estimate
	Derived      bool
}

// ForestPool is a group's middle unit and the range of a unit not yet seen,
// which may be missing.
type ForestPool struct {
	Events, Eyes    int
	Middle, NewUnit estimate.Estimate
}

// The columns of the forest, from the left.
const (
	forestMark     = 206.0 // "derived, recalled"
	forestCountEnd = 388.0 // right end of "64 of 65"
	forestLeft     = 414.0
	forestRight    = 752.0
	forestRow      = 21.0
)

func forestX(share float64) float64 { return forestLeft + (forestRight-forestLeft)*share }

// DrawForest draws a dot with its exact interval for each study, a diamond with
// the interval of the middle unit for each pool, and a pale bar behind it for
// the range of a unit not yet seen.
func DrawForest(c ForestChart) *scene.Scene {
	if len(c.Groups) == 0 {
		return empty("forest", c.Title, c.Below, "No published counts are chosen.", "Choose another question or technique, or admit more rows.")
	}
	page := newSheet("forest", c.Title, c.Below)
	y := headHeight + 12
	top := y
	body := &scene.Group{Name: "studies"}
	for _, g := range c.Groups {
		y += 10
		body.Add(&scene.Text{At: scene.Point{X: margin, Y: y + 4}, Value: g.Title, Size: labelSize, Bold: true, Colour: ink})
		y += forestRow
		for _, r := range g.Rows {
			forestStudy(body, r, y)
			y += forestRow
		}
		y = forestPooled(body, g, y) + 6
	}
	page.Add(forestAxis(top, y, c.Axis))
	page.Add(body)
	for _, n := range c.Notes {
		page.note(n)
	}
	page.Description = forestDescription(c)
	return page.finish(y + 32)
}

// forestAxis draws hairlines through all rows and numbers at both ends.
func forestAxis(top, bottom float64, axis string) *scene.Group {
	g := &scene.Group{Name: "axes"}
	for percent := 0; percent <= 100; percent += 20 {
		x := forestX(float64(percent) / 100)
		g.Add(scene.Line(scene.Stroke{Colour: hair, Width: 0.8}, scene.Point{X: x, Y: top}, scene.Point{X: x, Y: bottom}))
		for _, y := range []float64{top - 7, bottom + 16} {
			g.Add(&scene.Text{At: scene.Point{X: x, Y: y}, Value: fmt.Sprintf("%d %%", percent), Size: smallSize, Anchor: scene.Middle, Colour: soft})
		}
	}
	g.Add(&scene.Text{At: scene.Point{X: sheetWidth - margin, Y: top - 7}, Value: axis, Size: smallSize, Anchor: scene.End, Colour: soft})
	return g
}

func forestStudy(g *scene.Group, r ForestRow, y float64) {
	g.Add(&scene.Text{At: scene.Point{X: margin + 12, Y: y + 4}, Value: r.Label, Size: smallSize, Colour: ink})
	if r.Mark != "" {
		g.Add(&scene.Text{At: scene.Point{X: forestMark, Y: y + 4}, Value: r.Mark, Size: 10.5, Colour: soft})
	}
	forestNumbers(g, r.Events, r.Eyes, r.Share, y, false)
	stroke := scene.Stroke{Colour: ink, Width: 1.2}
	g.Add(scene.Line(stroke, scene.Point{X: forestX(r.Share.Low), Y: y}, scene.Point{X: forestX(r.Share.High), Y: y}))
	fill := ink
	if r.Derived {
		fill = paper
	}
	// The area of a dot goes with the eyes, within what can be seen and what fits.
	radius := math.Max(2.2, math.Min(7, 0.42*math.Sqrt(float64(r.Eyes))))
	g.Add(scene.Disc(scene.Point{X: forestX(r.Share.Value), Y: y}, radius, fill, stroke))
}

// forestNumbers writes counts on the left and the share on the right.
func forestNumbers(g *scene.Group, events, eyes int, e estimate.Estimate, y float64, bold bool) {
	g.Add(&scene.Text{At: scene.Point{X: forestCountEnd, Y: y + 4}, Value: fmt.Sprintf("%d of %d", events, eyes), Size: smallSize, Anchor: scene.End, Colour: soft, Bold: bold})
	g.Add(&scene.Text{At: scene.Point{X: sheetWidth - margin, Y: y + 4}, Value: shareWords(e), Size: smallSize, Anchor: scene.End, Colour: ink, Bold: bold})
}

// shareWords writes a share as per cent with its interval.
func shareWords(e estimate.Estimate) string {
	if !e.Known() {
		return "not known"
	}
	return fmt.Sprintf("%s %% (%s to %s)", percentDigits(e.Value), percentDigits(e.Low), percentDigits(e.High))
}

// percentDigits rounds to a tenth of a per cent; 100 and 0 stand bare, and what
// is nearly one of them is not written as if it were.
func percentDigits(share float64) string {
	switch {
	case share == 0 || share == 1:
		return fmt.Sprintf("%.0f", 100*share)
	case share > 0.9995:
		return ">99.9"
	case share < 0.0005:
		return "<0.1"
	}
	return fmt.Sprintf("%.1f", 100*share)
}

// forestPooled draws what a group says together and returns the next free y.
func forestPooled(g *scene.Group, group ForestGroup, y float64) float64 {
	p := group.Pooled
	if p == nil {
		if group.Why != "" {
			g.Add(&scene.Text{At: scene.Point{X: margin + 12, Y: y + 4}, Value: group.Why, Size: smallSize, Colour: soft})
			y += forestRow
		}
		return y
	}
	if p.NewUnit.Known() {
		low, high := forestX(p.NewUnit.Low), forestX(p.NewUnit.High)
		g.Add(scene.Box(scene.Rect{X: low, Y: y - 7, Width: high - low, Height: 14}, poolArea, scene.Stroke{}))
	}
	low, middle, high := forestX(p.Middle.Low), forestX(p.Middle.Value), forestX(p.Middle.High)
	g.Add(scene.Polygon(poolInk, scene.Stroke{Colour: paper, Width: 0.8}, scene.Point{X: low, Y: y}, scene.Point{X: middle, Y: y - 6}, scene.Point{X: high, Y: y}, scene.Point{X: middle, Y: y + 6}))
	g.Add(&scene.Text{At: scene.Point{X: margin + 12, Y: y + 4}, Value: "Together, middle unit", Size: smallSize, Bold: true, Colour: poolInk})
	forestNumbers(g, p.Events, p.Eyes, p.Middle, y, true)
	y += forestRow
	words := "a new unit: not told"
	if p.NewUnit.Known() {
		words = fmt.Sprintf("a new unit: %s to %s %%", percentDigits(p.NewUnit.Low), percentDigits(p.NewUnit.High))
	}
	g.Add(&scene.Text{At: scene.Point{X: sheetWidth - margin, Y: y}, Value: words, Size: smallSize, Anchor: scene.End, Colour: poolInk})
	return y + 14
}

func forestDescription(c ForestChart) string {
	text := "Published shares with their intervals, study by study."
	for _, g := range c.Groups {
		if g.Pooled != nil {
			text += fmt.Sprintf(" %s, %d studies: %s.", g.Title, len(g.Rows), shareWords(g.Pooled.Middle))
		}
	}
	return text
}
