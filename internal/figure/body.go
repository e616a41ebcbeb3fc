package figure

import (
	"cmp"
	"math"
	"slices"

	"limitans/internal/figure/scene"
	"limitans/oct/hole"
)

// The view of the body: turned about the upright axis, seen from a little
// above, without perspective. From this low the waist is not hidden by the
// opening.
//
//	      z height            screen x = x·cos T − y·sin T
//	      │   y               away     = x·sin T + y·cos T
//	      │  ╱ (first slice)  screen y = −(z·cos E + away·sin E)
//	      │ ╱                 nearness = z·sin E − away·cos E
//	──────┴────▶ x columns
const (
	turnDeg      = 28.0 // T
	elevationDeg = 20.0 // E
	ringPoints   = 96   // points of a ring
	ringStepUM   = 8.0  // distance of the rings
	lineStepUM   = 50.0 // distance of the level lines drawn on the body
)

// solid is a place in space, µm; z is the height above the epithelium.
type solid struct{ x, y, z float64 }

// view turns places in space into the sheet.
type view struct {
	sinT, cosT, sinE, cosE float64
	k, x, y                float64
}

func newView() view {
	v := view{k: 1}
	v.sinT, v.cosT = math.Sincos(turnDeg * math.Pi / 180)
	v.sinE, v.cosE = math.Sincos(elevationDeg * math.Pi / 180)
	return v
}

func (v view) at(p solid) scene.Point {
	away := p.x*v.sinT + p.y*v.cosT
	return scene.Point{X: v.x + v.k*(p.x*v.cosT-p.y*v.sinT), Y: v.y - v.k*(p.z*v.cosE+away*v.sinE)}
}

func (v view) nearness(p solid) float64 {
	return p.z*v.sinE - (p.x*v.sinT+p.y*v.cosT)*v.cosE
}

// fit sets scale and place so that all points fill a box, and returns the
// rectangle they take.
func (v *view) fit(points []solid, x, y, width, height float64) scene.Rect {
	low, high := scene.Point{X: math.Inf(1), Y: math.Inf(1)}, scene.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range points {
		q := v.at(p)
		low.X, low.Y = math.Min(low.X, q.X), math.Min(low.Y, q.Y)
		high.X, high.Y = math.Max(high.X, q.X), math.Max(high.Y, q.Y)
	}
	v.k = math.Min(width/(high.X-low.X), height/(high.Y-low.Y))
	v.x, v.y = x-low.X*v.k, y-low.Y*v.k
	return scene.Rect{X: x, Y: y, Width: (high.X - low.X) * v.k, Height: (high.Y - low.Y) * v.k}
}

// ring is the outline of the lumen at a height, the same number of points on
// every ring, evenly spaced by direction from the ring's own centre.
type ring struct {
	z      float64
	points []solid
}

// ringAt makes a ring of an outline; where a ray crosses it more than once the
// outer crossing counts.
func ringAt(outline []place, z float64) ring {
	r := ring{z: z, points: make([]solid, ringPoints)}
	c := areaMiddle(outline)
	for i := range r.points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / ringPoints)
		radius := 0.0
		for j := range outline {
			a, b := outline[j], outline[(j+1)%len(outline)]
			ax, ay, bx, by := a.x-c.x, a.y-c.y, b.x-c.x, b.y-c.y
			da, db := ay*cos-ax*sin, by*cos-bx*sin
			if da == db || (da > 0) == (db > 0) {
				continue
			}
			t := da / (da - db)
			radius = math.Max(radius, (ax+t*(bx-ax))*cos+(ay+t*(by-ay))*sin)
		}
		r.points[i] = solid{c.x + radius*cos, c.y + radius*sin, z}
	}
	return r
}

// ringsOf is the lumen from the epithelium to the lid as rings, about
// ringStepUM apart.
func ringsOf(p plane, l *hole.Lumen) []ring {
	var rings []ring
	top := lidStep(l)
	step := max(1, int(math.Round(ringStepUM/l.HeightStepUM)))
	for k := 0; ; k += step {
		k = min(k, top)
		if outline := outlineAt(p, l, k); len(outline) > 2 {
			rings = append(rings, ringAt(outline, float64(k)*l.HeightStepUM))
		}
		if k == top {
			return rings
		}
	}
}

// piece is something to paint, with its nearness to the viewer.
type piece struct {
	near float64
	node scene.Node
}

// wallPieces are the faces between neighbouring rings that look to the viewer,
// shaded by the light from the upper left.
func wallPieces(v view, rings []ring) []piece {
	var out []piece
	for i := 1; i < len(rings); i++ {
		lower, upper := rings[i-1].points, rings[i].points
		for j := range ringPoints {
			n := (j + 1) % ringPoints
			a, b, c, d := lower[j], lower[n], upper[n], upper[j]
			normal := crossOf(minus(c, a), minus(d, b))
			length := math.Sqrt(dot(normal, normal))
			if length == 0 || v.nearness(normal) <= 0 {
				continue
			}
			tone := shade(v, solid{normal.x / length, normal.y / length, normal.z / length})
			face := scene.Polygon(tone, scene.Stroke{Colour: tone, Width: 0.7}, v.at(a), v.at(b), v.at(c), v.at(d))
			out = append(out, piece{(v.nearness(a) + v.nearness(b) + v.nearness(c) + v.nearness(d)) / 4, face})
		}
	}
	return out
}

// linePieces are the parts of a level line around the body, painted with the
// faces so that the near faces hide its far side; beforeUM is how far it stands
// before its own face.
func linePieces(v view, r ring, beforeUM float64, stroke scene.Stroke) []piece {
	out := make([]piece, ringPoints)
	for j := range r.points {
		a, b := r.points[j], r.points[(j+1)%ringPoints]
		out[j] = piece{(v.nearness(a)+v.nearness(b))/2 + beforeUM, scene.Line(stroke, v.at(a), v.at(b))}
	}
	return out
}

// strongPieces are a level line with a light edge. Each part stands before its
// face by its own length, so that neighbouring faces do not cover it.
func strongPieces(v view, r ring, colour scene.Colour) []piece {
	out := make([]piece, ringPoints)
	for j := range r.points {
		a, b := r.points[j], r.points[(j+1)%ringPoints]
		along := minus(b, a)
		p, q := v.at(a), v.at(b)
		out[j] = piece{(v.nearness(a)+v.nearness(b))/2 + 20 + math.Sqrt(dot(along, along)), &scene.Group{Name: "smallest-section", Nodes: []scene.Node{
			scene.Line(scene.Stroke{Colour: white, Width: 5.5}, p, q), scene.Line(scene.Stroke{Colour: colour, Width: 3, Round: true}, p, q),
		}}}
	}
	return out
}

// farToNear orders pieces for painting.
func farToNear(pieces []piece) []scene.Node {
	slices.SortStableFunc(pieces, func(a, b piece) int { return cmp.Compare(a.near, b.near) })
	nodes := make([]scene.Node, len(pieces))
	for i, p := range pieces {
		nodes[i] = p.node
	}
	return nodes
}

// shade is the grey of a face with an outward unit normal: Lambert's cosine
// law with some light from everywhere, so that no face is black.
func shade(v view, n solid) scene.Colour {
	// The light, in the frame of the viewer: from the left, above, in front.
	right := n.x*v.cosT - n.y*v.sinT
	away := n.x*v.sinT + n.y*v.cosT
	lit := math.Max(0, -0.62*right-0.62*away+0.48*n.z)
	t := 0.36 + 0.60*lit
	grey := func(of float64) uint8 { return uint8(math.Round(255 * math.Min(1, t*of))) }
	return scene.Colour{R: grey(0.98), G: grey(0.95), B: grey(0.90), A: 255}
}

func minus(a, b solid) solid { return solid{a.x - b.x, a.y - b.y, a.z - b.z} }

func dot(a, b solid) float64 { return a.x*b.x + a.y*b.y + a.z*b.z }

func crossOf(a, b solid) solid {
	return solid{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}
