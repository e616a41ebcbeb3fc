package thickness

import "math"

// Side is where a field lies round the centre, as the fundus is seen.
type Side string

// The sides; the centre has none.
const (
	Centre Side = "centre"
	Above  Side = "above"
	Right  Side = "right"
	Below  Side = "below"
	Left   Side = "left"
)

// directionDeg is the middle of a side, counter-clockwise from x.
func (s Side) directionDeg() float64 {
	switch s {
	case Above:
		return 90
	case Left:
		return 180
	case Below:
		return 270
	}
	return 0
}

// shape is a disc (side Centre), a whole ring (side empty) or a quarter of one.
type shape struct {
	side           Side
	innerUM, outUM float64
}

func (f shape) halfDeg() float64 {
	if f.side == Centre || f.side == "" {
		return 180
	}
	return 45
}

func (f shape) areaUM2() float64 {
	return f.halfDeg() * degree * (f.outUM*f.outUM - f.innerUM*f.innerUM)
}

// holds reports whether a place, counted from the centre, lies in the field.
func (f shape) holds(p place) bool {
	r := math.Hypot(p.x, p.y)
	if r < f.innerUM-edgeSlack || r > f.outUM+edgeSlack {
		return false
	}
	away := math.Abs(turn(math.Atan2(p.y, p.x)/degree-f.side.directionDeg()+180) - 180)
	return away <= f.halfDeg()+edgeSlack
}

// yRange returns the heights that the field spans, counted from the centre.
func (f shape) yRange() (low, high float64) {
	switch f.side {
	case Above:
		return f.innerUM * math.Sqrt2 / 2, f.outUM
	case Below:
		return -f.outUM, -f.innerUM * math.Sqrt2 / 2
	case Left, Right:
		return -f.outUM * math.Sqrt2 / 2, f.outUM * math.Sqrt2 / 2
	}
	return -f.outUM, f.outUM
}

// cells calls back for the middle of every cell of a polar grid of sides of at
// most sideUM, with the cell's area in µm². The areas add up to the field's:
// the midpoint rule is exact for r dr.
func (f shape) cells(sideUM float64, visit func(p place, areaUM2 float64)) {
	rings := int(math.Ceil((f.outUM - f.innerUM) / sideUM))
	dr := (f.outUM - f.innerUM) / float64(rings)
	for i := range rings {
		r := f.innerUM + (float64(i)+0.5)*dr
		span := 2 * f.halfDeg() * degree
		parts := 4 * max(2, int(math.Ceil(r*span/sideUM/4))) // whole quarters: a turned eye reads the same
		da := span / float64(parts)
		start := f.side.directionDeg()*degree - span/2
		for k := range parts {
			sin, cos := math.Sincos(start + (float64(k)+0.5)*da)
			visit(place{r * cos, r * sin}, r*dr*da)
		}
	}
}

// gridShapes are the nine fields: the centre, then both rings, each clockwise
// from above.
func gridShapes() []shape {
	out := []shape{{Centre, 0, CentreRadiusUM}}
	for _, ring := range [2][2]float64{{CentreRadiusUM, InnerRadiusUM}, {InnerRadiusUM, OuterRadiusUM}} {
		for _, side := range [4]Side{Above, Right, Below, Left} {
			out = append(out, shape{side, ring[0], ring[1]})
		}
	}
	return out
}
