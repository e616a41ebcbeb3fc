package figure

import (
	"math"

	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

// closureShape is a cut through the fovea: across from −1 to 1, heights above
// the pigment epithelium from 0 to 1, vitreous up.
//
//	       inner
//	──────╮     ╭──────      inner: the side of the vitreous
//	tissue │ gap │           outer: the side of the epithelium; above it fluid
//	━━━━━━━━━━━━━━━━━━━      the epithelium, height 0
type closureShape struct {
	gap          float64 // half width of the place without tissue; negative: none
	inner, outer func(x float64) float64
	ghost        func(x float64) float64 // a line that stood there before, or a blurred one
	question     bool
}

// bell is a smooth hump of height 1 at 0.
func bell(x, width float64) float64 { return math.Exp(-(x / width) * (x / width)) }

// rises goes from 0 at an edge to 1 away from it.
func rises(beyond, length float64) float64 { return 1 - math.Exp(-max(beyond, 0)/length) }

// closureShapes are drawings of what a class says, not of any eye. Two classes
// that say the same in two schemes have the same drawing.
func closureShapeOf(class record.ClosureClass) closureShape {
	const thick = 0.62
	flat := func(float64) float64 { return 0 }
	normal := closureShape{gap: -1, outer: flat, inner: func(x float64) float64 { return thick + 0.08*bell(math.Abs(x)-0.5, 0.3) - 0.4*bell(x, 0.24) }}
	raised := func(gap float64) closureShape {
		edge := func(x float64) float64 { return math.Abs(x) - gap }
		return closureShape{
			gap:   gap,
			inner: func(x float64) float64 { return 0.5 + 0.34*rises(edge(x), 0.05) - 0.2*rises(edge(x)-0.1, 0.3) },
			outer: func(x float64) float64 { return 0.5 - 0.24*rises(edge(x), 0.05) - 0.26*rises(edge(x), 0.3) },
		}
	}
	switch class {
	case record.KangType1, record.ClosedNoDefect:
		return normal
	case record.KangType2, record.ClosedWithDefect:
		const gap = 0.12
		return closureShape{gap: gap, outer: flat, inner: func(x float64) float64 { return thick * (1 - bell(math.Abs(x)-gap, 0.3)) }}
	case record.FlatClosed:
		return closureShape{gap: -1, outer: flat, inner: func(x float64) float64 { return thick - 0.42*bell(x, 0.5) }}
	case record.FlatOpen:
		const gap = 0.3
		return closureShape{gap: gap, outer: flat, inner: func(x float64) float64 { return 0.52 * rises(math.Abs(x)-gap, 0.05) }}
	case record.ElevatedClosed:
		return closureShape{
			gap:   -1,
			inner: func(x float64) float64 { return thick + 0.22*bell(x, 0.5) - 0.18*bell(x, 0.14) },
			outer: func(x float64) float64 { return 0.34 * bell(x, 0.42) },
		}
	case record.ElevatedOpen:
		return raised(0.22)
	case record.Reopened:
		s := raised(0.22)
		s.ghost = normal.inner
		return s
	}
	return closureShape{gap: 2, inner: flat, outer: flat, ghost: normal.inner, question: true}
}

// The sheet of a class of closure.
const (
	closureWidth, closureHeight = 144.0, 80.0
	closureFloor                = 66.0 // the epithelium
	closureScale                = 54.0
	closureSteps                = 96
)

// DrawClosureClass draws what a class of closure means, as a cut through the
// fovea with the vitreous up. It is a sign beside the words and shows no eye;
// where tissue is missing, the epithelium is drawn double.
func DrawClosureClass(class record.ClosureClass, words string) *scene.Scene {
	shape := closureShapeOf(class)
	s := &scene.Scene{
		Name: "closure-" + string(class), Width: closureWidth, Height: closureHeight, Paper: paper,
		Title: "Sign of a class of closure", Description: words,
	}
	place := func(x, height float64) scene.Point {
		return scene.Point{X: closureWidth / 2 * (1 + x), Y: closureFloor - closureScale*height}
	}
	line := scene.Stroke{Colour: ink, Width: 1.75}
	sides := [][2]float64{{-1, 1}}
	if shape.gap >= 0 {
		sides = [][2]float64{{-1, -shape.gap}, {shape.gap, 1}}
	}
	for _, side := range sides {
		if side[0] >= side[1] {
			continue
		}
		var inner, outer []scene.Point
		for i := range closureSteps + 1 {
			x := side[0] + (side[1]-side[0])*float64(i)/closureSteps
			inner, outer = append(inner, place(x, shape.inner(x))), append(outer, place(x, shape.outer(x)))
		}
		around := append([]scene.Point{}, inner...)
		for i := len(outer) - 1; i >= 0; i-- {
			around = append(around, outer[i])
		}
		s.Add(scene.Polygon(closureTissue, scene.Stroke{}, around...), scene.Line(line, inner...), scene.Line(line, outer...))
		if edge := len(inner) - 1; side[1] == -shape.gap {
			s.Add(scene.Line(line, inner[edge], outer[edge]))
		} else if side[0] == shape.gap {
			s.Add(scene.Line(line, inner[0], outer[0]))
		}
	}
	closureFloorLines(s, shape, place)
	return s
}

// closureTissue is the retina; the page's band where there is one.
var closureTissue = scene.Opaque(0xe4dccd).As("hair")

// closureFloorLines draws the epithelium, bare where tissue is missing, and what
// is only remembered or not seen.
func closureFloorLines(s *scene.Scene, shape closureShape, place func(x, height float64) scene.Point) {
	s.Add(scene.Line(scene.Stroke{Colour: ink, Width: 3.5}, place(-1, -0.03), place(1, -0.03)))
	if shape.gap >= 0 && shape.gap < 1 {
		s.Add(scene.Line(scene.Stroke{Colour: scene.Opaque(0xb9532c).As("hole"), Width: 3}, place(-shape.gap, -0.14), place(shape.gap, -0.14)))
	}
	if shape.ghost != nil {
		var line []scene.Point
		for i := range closureSteps + 1 {
			x := 2*float64(i)/closureSteps - 1
			line = append(line, place(x, shape.ghost(x)))
		}
		s.Add(scene.Line(scene.Stroke{Colour: soft, Width: 1.5, Dash: []float64{4, 4}}, line...))
	}
	if shape.question {
		s.Add(&scene.Text{At: scene.Point{X: closureWidth / 2, Y: 30}, Value: "?", Size: 28, Bold: true, Anchor: scene.Middle, Colour: ink})
	}
}
