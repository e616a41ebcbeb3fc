package scene

import (
	"image"
	"math"
	"strings"
)

// Scene is one sheet with its nodes in painting order.
type Scene struct {
	// Name is a short word of letters, digits and hyphens; it makes the
	// identifiers in the SVG unique among scenes on one page.
	Name          string
	Width, Height float64
	Paper         Colour // background; the zero colour leaves it out
	Title         string // one line, for screen readers and tabs
	Description   string // what the picture shows, for who cannot see it
	Nodes         []Node
}

// Add appends nodes on top of what is there.
func (s *Scene) Add(nodes ...Node) { s.Nodes = append(s.Nodes, nodes...) }

// Node is an [Image], a [Path], a [Text], a [Group] or a [Mark].
type Node interface{ node() }

// Point is a place on the sheet.
type Point struct{ X, Y float64 }

// Rect is a rectangle on the sheet.
type Rect struct{ X, Y, Width, Height float64 }

// Right is the X of the right side.
func (r Rect) Right() float64 { return r.X + r.Width }

// Bottom is the Y of the lower side.
func (r Rect) Bottom() float64 { return r.Y + r.Height }

// Contains reports whether p lies in the rectangle or on its border.
func (r Rect) Contains(p Point) bool {
	return p.X >= r.X && p.X <= r.Right() && p.Y >= r.Y && p.Y <= r.Bottom()
}

// Colour is an sRGB colour with opacity A, 255 for opaque. The zero value is
// no colour at all.
type Colour struct {
	R, G, B, A uint8
	// Role names the part the colour plays, such as "ink". A scene inside a page
	// takes the page's custom property of that name, if it has one, so that the
	// page's themes reach the drawing; a file has the colour as it stands.
	Role string
}

// Opaque returns the colour 0xRRGGBB.
func Opaque(rgb uint32) Colour {
	return Colour{R: uint8(rgb >> 16), G: uint8(rgb >> 8), B: uint8(rgb), A: 255}
}

// As returns the colour with a role.
func (c Colour) As(role string) Colour {
	c.Role = role
	return c
}

// Opacity returns the colour with another opacity, 0 to 1.
func (c Colour) Opacity(share float64) Colour {
	c.A = uint8(math.Round(255 * min(max(share, 0), 1)))
	return c
}

// Stroke is how a line is drawn; no line without colour or width.
type Stroke struct {
	Colour Colour
	Width  float64
	Dash   []float64 // lengths on, off, on, …; nil for a solid line
	Round  bool      // round ends, for dots
}

// Subpath is one run of straight lines. One point alone is a dot.
type Subpath struct {
	Points []Point
	Closed bool
}

// Path is some runs of lines with one fill and one stroke. Overlapping runs
// fill by the even-odd rule.
type Path struct {
	Subpaths []Subpath
	Fill     Colour
	Stroke   Stroke
}

// Image is a picture of samples stretched over a rectangle.
type Image struct {
	Rect        Rect
	Pixels      image.Image
	Description string
}

// Anchor says which part of a text stands at its place.
type Anchor int

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Text is one line of text on its baseline.
type Text struct {
	At       Point
	Value    string
	Size     float64 // height of the em
	Bold     bool
	Anchor   Anchor
	Colour   Colour
	Halo     Colour  // drawn around the letters, for text over a picture
	AngleDeg float64 // turned clockwise around At
}

// Group is some nodes that belong together, with a name for programs that
// style or hide them.
type Group struct {
	Name  string
	Nodes []Node
}

// Add appends nodes on top of what is there.
func (g *Group) Add(nodes ...Node) { g.Nodes = append(g.Nodes, nodes...) }

// Mark is something in the drawing that a person can point at or come to by
// keyboard, and that says what it is.
type Mark struct {
	Name string // class, besides "mark"
	// Text says all that the mark stands for; Data are further facts for a
	// program, written as data attributes in the order given.
	Text string
	Data []Datum
	// Href is where the mark leads; empty for a mark that only tells.
	Href string
	// Stop puts the mark into the order of the tab key. The others are reached
	// by a program, so that a drawing of a hundred marks is not a hundred stops.
	Stop bool
	// Reach is the area that can be pointed at, beyond what is drawn.
	Reach Rect
	Nodes []Node
}

// Datum is one data attribute: name without "data-", and its value.
type Datum struct{ Name, Value string }

func (*Image) node() {}
func (*Mark) node()  {}
func (*Path) node()  {}
func (*Text) node()  {}
func (*Group) node() {}

// Line returns a path through points.
func Line(stroke Stroke, points ...Point) *Path {
	return &Path{Subpaths: []Subpath{{Points: points}}, Stroke: stroke}
}

// Polygon returns a closed, filled path.
func Polygon(fill Colour, stroke Stroke, points ...Point) *Path {
	return &Path{Subpaths: []Subpath{{Points: points, Closed: true}}, Fill: fill, Stroke: stroke}
}

// Box returns a rectangle as a path.
func Box(r Rect, fill Colour, stroke Stroke) *Path {
	return Polygon(fill, stroke, Point{r.X, r.Y}, Point{r.Right(), r.Y}, Point{r.Right(), r.Bottom()}, Point{r.X, r.Bottom()})
}

// Disc returns a circle as a polygon of 24 sides.
func Disc(centre Point, radius float64, fill Colour, stroke Stroke) *Path {
	return Polygon(fill, stroke, circle(centre, radius, 24)...)
}

// Ring returns a circle line of 96 sides.
func Ring(centre Point, radius float64, stroke Stroke) *Path {
	return Polygon(Colour{}, stroke, circle(centre, radius, 96)...)
}

func circle(centre Point, radius float64, sides int) []Point {
	points := make([]Point, sides)
	for i := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(sides))
		points[i] = Point{centre.X + radius*cos, centre.Y + radius*sin}
	}
	return points
}

// TextWidth is a rough upper value for the width of a line of text: 0.58 of
// the em a letter, which suits the wider sans-serif faces.
func TextWidth(text string, size float64) float64 {
	return 0.58 * size * float64(len([]rune(text)))
}

// Wrap breaks text into lines that are at most width wide by [TextWidth]. A
// word longer than that stays whole.
func Wrap(text string, width, size float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case TextWidth(line+" "+word, size) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
