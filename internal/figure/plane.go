package figure

import (
	"cmp"
	"math"
	"slices"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/hole"
)

// place is a place on the retina seen from the front, centre of the scan at
// (0,0), y upward, in µm when the plane has a scale.
type place struct{ x, y float64 }

// plane is the retina as the scan samples it: how far apart columns and slices
// are. Without a known scale the unit is one column, and a raster is taken to
// be as high as wide.
type plane struct {
	volume               *oct.Volume
	perColumn, perSlice  float64
	halfWidth, halfHight float64
	scaled               bool
}

func planeOf(v *oct.Volume) plane {
	p := plane{volume: v, perColumn: 1, scaled: inPlane(v)}
	p.perSlice = float64(v.Columns) / float64(v.Slices)
	if p.scaled {
		p.perColumn = v.Scale.Lateral.MicrometresPerSample
		p.perSlice = v.Scale.Slice.MicrometresPerSample
	}
	p.halfWidth = p.perColumn * float64(v.Columns) / 2
	p.halfHight = p.perSlice * float64(v.Slices) / 2
	if v.Pattern == oct.PatternRadial {
		p.halfHight = p.halfWidth
	}
	return p
}

// at is where a column of a slice lies.
func (p plane) at(slice int, column float64) place {
	x := (column - float64(p.volume.Columns-1)/2) * p.perColumn
	if p.volume.Pattern == oct.PatternRadial {
		sin, cos := math.Sincos(p.volume.SliceAnglesDeg[slice] * math.Pi / 180)
		return place{x * cos, x * sin}
	}
	return place{x, -(float64(slice) - float64(p.volume.Slices-1)/2) * p.perSlice}
}

// canBeSeenFromFront reports whether the slices cover an area.
func canBeSeenFromFront(v *oct.Volume) bool {
	return v.Slices > 1 && (v.Pattern == oct.PatternRaster || v.Pattern == oct.PatternRadial)
}

// region is an upright rectangle of the plane.
type region struct{ low, high place }

func (r region) width() float64  { return r.high.x - r.low.x }
func (r region) height() float64 { return r.high.y - r.low.y }

// whole is all that the scan covers.
func (p plane) whole() region {
	return region{place{-p.halfWidth, -p.halfHight}, place{p.halfWidth, p.halfHight}}
}

// planeFrame puts a region of the plane on the sheet.
type planeFrame struct {
	scene.Rect
	plane  plane
	region region
	k      float64 // units of the sheet per unit of the plane
}

func fitPlane(p plane, r region, x, y, width, height float64) planeFrame {
	k := math.Min(width/r.width(), height/r.height())
	return planeFrame{scene.Rect{X: x, Y: y, Width: r.width() * k, Height: r.height() * k}, p, r, k}
}

func (f planeFrame) at(p place) scene.Point {
	return scene.Point{X: f.X + (p.x-f.region.low.x)*f.k, Y: f.Y + (f.region.high.y-p.y)*f.k}
}

func (f planeFrame) points(places []place) []scene.Point {
	out := make([]scene.Point, len(places))
	for i, p := range places {
		out[i] = f.at(p)
	}
	return out
}

// outlineAt is the closed outline of the lumen at a height step, nil where it
// is closed. A raster joins the walls of neighbouring slices and ends half a
// slice distance beyond its first and last open slice, because the end lies
// between that slice and the next; a radial set joins the wall points around
// their centre.
func outlineAt(p plane, l *hole.Lumen, k int) []place {
	var left, right []place
	for slice := max(0, l.FirstSlice); slice <= l.LastSlice; slice++ {
		if a, b, open := l.Wall(slice, k); open {
			left, right = append(left, p.at(slice, a)), append(right, p.at(slice, b))
		}
	}
	if len(left) == 0 {
		return nil
	}
	if p.volume.Pattern == oct.PatternRadial {
		return aroundCentre(append(left, right...))
	}
	n := len(left) - 1
	out := cap7(left[0], right[0], p.perSlice/2)
	out = append(out, right...)
	out = append(out, cap7(right[n], left[n], -p.perSlice/2)...)
	slices.Reverse(left)
	return append(out, left...)
}

// cap7 is half an ellipse from a to b, of a given height, seven points.
func cap7(a, b place, height float64) []place {
	var out []place
	for i := 1; i <= 7; i++ {
		sin, cos := math.Sincos(math.Pi * float64(i) / 8)
		out = append(out, place{(a.x+b.x)/2 + (a.x-b.x)/2*cos, (a.y+b.y)/2 + height*sin})
	}
	return out
}

// aroundCentre sorts places by their direction from their middle.
func aroundCentre(places []place) []place {
	c := middleOf(places)
	angle := func(p place) float64 { return math.Atan2(p.y-c.y, p.x-c.x) }
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(angle(a), angle(b)) })
	return places
}

func middleOf(places []place) place {
	var c place
	for _, p := range places {
		c.x += p.x / float64(len(places))
		c.y += p.y / float64(len(places))
	}
	return c
}

// areaMiddle is the centre of gravity of a polygon.
func areaMiddle(p []place) place {
	var area float64
	var c place
	for i := range p {
		j := (i + 1) % len(p)
		cross := p[i].x*p[j].y - p[j].x*p[i].y
		area += cross / 2
		c.x += (p[i].x + p[j].x) * cross
		c.y += (p[i].y + p[j].y) * cross
	}
	if area == 0 {
		return middleOf(p)
	}
	return place{c.x / (6 * area), c.y / (6 * area)}
}

// sectionContour is the smallest section as it was measured.
func sectionContour(l *hole.Lumen) []place {
	out := make([]place, len(l.ContourUM))
	for i, p := range l.ContourUM {
		out[i] = place{p[0], p[1]}
	}
	return out
}

// spanAlong is how far a contour reaches along a direction in degrees.
func spanAlong(contour []place, deg float64) (low, high float64) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range contour {
		d := p.x*cos + p.y*sin
		low, high = math.Min(low, d), math.Max(high, d)
	}
	return low, high
}

// longestDirection is the direction in whole degrees, 0 to 179, in which a
// contour reaches farthest.
func longestDirection(contour []place) float64 {
	best, at := -1.0, 0
	for deg := range 180 {
		if low, high := spanAlong(contour, float64(deg)); high-low > best {
			best, at = high-low, deg
		}
	}
	return float64(at)
}

// diameterAlong places a measured diameter along a direction: through the
// contour's centre of gravity across it, in the middle of its reach along it.
func diameterAlong(contour []place, deg, length float64) (a, b place) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	low, high := spanAlong(contour, deg)
	c := areaMiddle(contour)
	across := -c.x*sin + c.y*cos
	end := func(along float64) place { return place{along*cos - across*sin, along*sin + across*cos} }
	return end((low+high)/2 - length/2), end((low+high)/2 + length/2)
}
