package figure

import (
	"fmt"
	"math"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/hole"
)

// Body is the lumen as rings one above the other, for programs that turn it:
// Rings[k][j] is {x, y, z} in µm, x along the slices, y across them, z above the
// pigment epithelium, all rings with the same number of points, lowest first.
type Body struct {
	Rings [][][3]float64 `json:"rings"`
	// Section is the ring of the smallest section, nil where there is none.
	Section [][3]float64 `json:"section"`
}

// BodyOf works out the body of a lumen; why says why there is none. h may be nil.
func BodyOf(v *oct.Volume, h *hole.Hole) (b Body, why string) {
	p, rings, why := bodyRings(v, h)
	if why != "" {
		return b, why
	}
	// A tenth of a micrometre is far below the error of the lumen.
	plain := func(r ring) [][3]float64 {
		out := make([][3]float64, len(r.points))
		for i, q := range r.points {
			out[i] = [3]float64{math.Round(10*q.x) / 10, math.Round(10*q.y) / 10, math.Round(10*q.z) / 10}
		}
		return out
	}
	for _, r := range rings {
		b.Rings = append(b.Rings, plain(r))
	}
	if k, ok := sectionStep(h); ok {
		if r, ok := ringNear(p, h.Lumen, float64(k)*h.Lumen.HeightStepUM); ok {
			b.Section = plain(r)
		}
	}
	return b, ""
}

// bodyRings are the rings of a lumen, or why there are none.
func bodyRings(v *oct.Volume, h *hole.Hole) (p plane, rings []ring, why string) {
	l := lumenOf(h)
	switch {
	case h == nil:
		return p, nil, "A hole was not looked for."
	case l == nil:
		return p, nil, sentence(judgementWords(h)) + "."
	case !canBeSeenFromFront(v):
		return p, nil, "There is no body to draw: the scan is not a raster or radial set of slices."
	case !inPlane(v) || !v.Scale.Depth.Known():
		return p, nil, "There is no body to draw: the scale of an axis is not known."
	}
	p = planeOf(v)
	if rings = ringsOf(p, l); len(rings) < 2 {
		return p, nil, "There is no body to draw: the hole is open at fewer than two heights."
	}
	return p, rings, ""
}

// LumenTurned draws the lumen as a body turned about its upright axis by whole
// degrees, without a head or foot, for a page. The arrow on the floor points
// along the slices, to higher columns. why says why there is nothing to draw.
func LumenTurned(v *oct.Volume, h *hole.Hole, deg int) (s *scene.Scene, why string) {
	p, rings, why := bodyRings(v, h)
	if why != "" {
		return nil, why
	}
	middle := middleOfRings(rings)
	sin, cos := math.Sincos(float64(deg) * math.Pi / 180)
	turn := func(q solid) solid {
		x, y := q.x-middle.x, q.y-middle.y
		return solid{x*cos - y*sin, x*sin + y*cos, q.z}
	}
	radius := 0.0
	for i := range rings {
		points := make([]solid, len(rings[i].points))
		for j, q := range rings[i].points {
			points[j] = turn(q)
			radius = math.Max(radius, math.Hypot(points[j].x, points[j].y))
		}
		rings[i].points = points
	}
	radius = 50 * math.Ceil((radius+40)/50)
	s = &scene.Scene{Name: fmt.Sprintf("body-%d", deg), Width: 720, Height: 480, Title: fmt.Sprintf("The hole as a body, turned by %d degrees", deg), Description: bodyDescription(h)}
	w := view{k: 1}
	w.sinT, w.cosT = 0, 1
	w.sinE, w.cosE = math.Sincos(elevationDeg * math.Pi / 180)
	top := rings[len(rings)-1].z
	room := []solid{{-radius, -radius, 0}, {radius, -radius, 0}, {-radius, radius, 0}, {radius, radius, 0}, {-radius, 0, top}}
	w.fit(room, 24, 16, s.Width-48, s.Height-64)
	drawFloor(s, w, radius, turn, middle)
	pieces := wallPieces(w, rings)
	pieces = append(pieces, linePieces(w, rings[0], 8, scene.Stroke{Colour: ink, Width: 1.2})...)
	if k, ok := sectionStep(h); ok {
		if r, ok := ringNear(p, h.Lumen, float64(k)*h.Lumen.HeightStepUM); ok {
			for j, q := range r.points {
				r.points[j] = turn(q)
			}
			pieces = append(pieces, strongPieces(w, r, vermillion)...)
		}
	}
	s.Add(&scene.Group{Name: "body", Nodes: farToNear(pieces)})
	drawLid(s, w, rings[len(rings)-1])
	return s, ""
}

func middleOfRings(rings []ring) solid {
	var m solid
	n := 0.0
	for _, r := range rings {
		for _, q := range r.points {
			m.x, m.y, n = m.x+q.x, m.y+q.y, n+1
		}
	}
	return solid{m.x / n, m.y / n, 0}
}

// drawFloor draws the pigment epithelium as a disc with a bar of known length
// along the slices.
func drawFloor(s *scene.Scene, w view, radius float64, turn func(solid) solid, middle solid) {
	disc := make([]scene.Point, 72)
	for i := range disc {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(disc)))
		disc[i] = w.at(solid{radius * cos, radius * sin, 0})
	}
	s.Add(scene.Polygon(hair.Opacity(0.35), scene.Stroke{Colour: hair, Width: 1}, disc...))
	length := roundLength(radius)
	along := func(d, across float64) scene.Point {
		return w.at(turn(solid{middle.x + d, middle.y + across, 0}))
	}
	strong := scene.Stroke{Colour: ink, Width: 1.4}
	at := -0.8 * radius
	s.Add(scene.Line(strong, along(-length/2, at), along(length/2, at)),
		scene.Line(strong, along(length/2-0.07*radius, at-0.05*radius), along(length/2, at), along(length/2-0.07*radius, at+0.05*radius)))
	s.Add(&scene.Text{At: scene.Point{X: 24, Y: s.Height - 14}, Value: "arrow on the floor: " + lengthWords(length, "µm") + " along the slices · orange: smallest section", Size: smallSize, Colour: soft})
}
