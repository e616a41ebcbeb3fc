package figure

import (
	"math"

	"limitans/internal/figure/scene"
)

// letterWidth is an upper value for the width of a line in the wider sans-serif
// faces, from the advances of DejaVu Sans rounded up (digits 0.64 em, capitals
// 0.7, small letters 0.6, thin ones and spaces 0.35), and a tenth more in bold.
func letterWidth(text string, size float64, bold bool) float64 {
	width := 0.0
	for _, r := range text {
		switch {
		case r == ' ' || r == '.' || r == ',' || r == ':' || r == 'i' || r == 'l' || r == 'j' || r == 'I' || r == '\'' || r == '·':
			width += 0.33
		case r == 'f' || r == 't' || r == 'r' || r == '(' || r == ')' || r == '/' || r == '-':
			width += 0.42
		case r == 'm' || r == 'w' || r == 'M' || r == 'W' || r == '%':
			width += 0.98
		case r >= '0' && r <= '9':
			width += 0.64
		case r >= 'A' && r <= 'Z':
			width += 0.72
		case r < 0x80:
			width += 0.62
		default:
			width += 0.84
		}
	}
	if bold {
		width *= 1.1
	}
	return width * size
}

// fitText shortens a text to a width, with an ellipsis for what is left out.
func fitText(text string, width, size float64, bold bool) string {
	if letterWidth(text, size, bold) <= width {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if short := string(runes[:n]) + "…"; letterWidth(short, size, bold) <= width {
			return short
		}
	}
	return ""
}

// courseSpot is a place for a label: where its baseline begins, stands in the
// middle or ends.
type courseSpot struct {
	at     scene.Point
	anchor scene.Anchor
}

// courseLabels keeps the labels of a drawing apart: no label lies on another,
// and a label goes where it hides the fewest marks and lines.
type courseLabels struct {
	bounds   scene.Rect
	plotLeft float64      // left of it the lanes have their names
	taken    []scene.Rect // labels; never to be touched
	marks    []scene.Rect // better not to be touched
	lines    [][2]scene.Point
}

// The cost of hiding something, and what a label may cost before it is left out.
const (
	markCost  = 3.0
	lineCost  = 1.0
	namesCost = 0.8 // for standing among the names
)

// labelBox is the room that a label takes, with a little air.
func labelBox(text string, size float64, bold bool, s courseSpot) scene.Rect {
	const air = 2
	width := letterWidth(text, size, bold)
	left := s.at.X
	switch s.anchor {
	case scene.Middle:
		left -= width / 2
	case scene.End:
		left -= width
	}
	return scene.Rect{X: left - air, Y: s.at.Y - 0.82*size - air/2, Width: width + 2*air, Height: 1.08*size + air}
}

func overlap(a, b scene.Rect) bool {
	return a.X < b.Right() && b.X < a.Right() && a.Y < b.Bottom() && b.Y < a.Bottom()
}

// place returns the best of the spots for a label; ok is false when each lies on
// another label, leaves the bounds or costs more than most.
func (l *courseLabels) place(text string, size float64, bold bool, most float64, spots ...courseSpot) (best courseSpot, ok bool) {
	if text == "" {
		return best, false
	}
	least := math.Inf(1)
	for i, s := range spots {
		box := labelBox(text, size, bold, s)
		if cost := l.cost(box) + 0.1*float64(i); cost < least {
			least, best = cost, s
		}
	}
	if !(least <= most) {
		return best, false
	}
	l.taken = append(l.taken, labelBox(text, size, bold, best))
	return best, true
}

// cost is what a box hides; infinite for one that must not be.
func (l *courseLabels) cost(box scene.Rect) float64 {
	b := l.bounds
	if box.X < b.X || box.Y < b.Y || box.Right() > b.Right() || box.Bottom() > b.Bottom() {
		return math.Inf(1)
	}
	for _, t := range l.taken {
		if overlap(box, t) {
			return math.Inf(1)
		}
	}
	cost := 0.0
	if box.X < l.plotLeft {
		cost += namesCost
	}
	for _, m := range l.marks {
		if overlap(box, m) {
			cost += markCost
		}
	}
	for _, s := range l.lines {
		if crosses(box, s[0], s[1]) {
			cost += lineCost
		}
	}
	return cost
}

// block says that something is drawn in a box.
func (l *courseLabels) block(r scene.Rect) { l.marks = append(l.marks, r) }

// strike says that a line is drawn.
func (l *courseLabels) strike(points ...scene.Point) {
	for i := 1; i < len(points); i++ {
		l.lines = append(l.lines, [2]scene.Point{points[i-1], points[i]})
	}
}

// crosses reports whether a stretch of line meets a box (clipping by Liang and
// Barsky 1984).
func crosses(box scene.Rect, a, b scene.Point) bool {
	if max(a.X, b.X) < box.X || min(a.X, b.X) > box.Right() || max(a.Y, b.Y) < box.Y || min(a.Y, b.Y) > box.Bottom() {
		return false // most are far away
	}
	first, last := 0.0, 1.0
	for _, edge := range [4][2]float64{
		{a.X - b.X, a.X - box.X}, {b.X - a.X, box.Right() - a.X}, {a.Y - b.Y, a.Y - box.Y}, {b.Y - a.Y, box.Bottom() - a.Y},
	} {
		p, q := edge[0], edge[1]
		switch {
		case p == 0 && q < 0:
			return false
		case p < 0:
			first = math.Max(first, q/p)
		case p > 0:
			last = math.Min(last, q/p)
		}
	}
	return first <= last
}

// around are the spots beside a mark: right, left, above, below.
func around(at scene.Point, away, size float64) []courseSpot {
	return []courseSpot{
		{scene.Point{X: at.X, Y: at.Y - away - 2}, scene.Middle},
		{scene.Point{X: at.X, Y: at.Y + away + 0.9*size}, scene.Middle},
		{scene.Point{X: at.X + away + 2, Y: at.Y + 0.35*size}, scene.Start},
		{scene.Point{X: at.X - away - 2, Y: at.Y + 0.35*size}, scene.End},
		{scene.Point{X: at.X + 2, Y: at.Y - away - 2}, scene.Start},
		{scene.Point{X: at.X - 2, Y: at.Y - away - 2}, scene.End},
		{scene.Point{X: at.X + 2, Y: at.Y + away + 0.9*size}, scene.Start},
		{scene.Point{X: at.X - 2, Y: at.Y + away + 0.9*size}, scene.End},
		{scene.Point{X: at.X, Y: at.Y - away - 0.6*size - 2}, scene.Middle},
		{scene.Point{X: at.X, Y: at.Y + away + 1.5*size}, scene.Middle},
	}
}
