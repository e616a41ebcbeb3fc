package pdf

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"limitans/fault"
	"limitans/internal/figure/scene"
)

// Page is one page of a file. Later calls paint over earlier ones.
type Page struct {
	file          *File
	width, height float64
	content       bytes.Buffer
}

// Page adds a page of a size in points.
func (f *File) Page(widthPt, heightPt float64) *Page {
	p := &Page{file: f, width: widthPt, height: heightPt}
	p.printf("1 0 0 -1 0 %s cm\n", number(heightPt)) // y runs down from here on
	f.pages = append(f.pages, p)
	if !(widthPt > 0 && heightPt > 0) {
		f.fail(&fault.Error{Code: fault.Internal, Where: "PDF", What: "a page has no size"})
	}
	return p
}

func (p *Page) printf(format string, values ...any) { fmt.Fprintf(&p.content, format, values...) }

// number writes a number with at most three decimals.
func number(x float64) string {
	x = math.Round(x*1000) / 1000
	if x == 0 {
		return "0" // never -0
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// n writes a place; one that is not finite is a defect.
func (p *Page) n(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		p.file.fail(&fault.Error{Code: fault.Internal, Where: "PDF", What: "a place on the page is not a number"})
		return "0"
	}
	return number(x)
}

// colour writes the operators of a colour; operator is rg for areas and RG for
// lines.
func (p *Page) colour(c scene.Colour, operator string) {
	share := func(x uint8) string { return number(float64(x) / 255) }
	p.printf("%s %s %s %s\n", share(c.R), share(c.G), share(c.B), operator)
}

// opacity sets the opacity of what follows, within a saved state.
func (p *Page) opacity(c scene.Colour) {
	if c.A == 255 {
		return
	}
	share := math.Round(float64(c.A)/255*1000) / 1000
	at := -1
	for i, a := range p.file.alphas {
		if a == share {
			at = i
		}
	}
	if at < 0 {
		at = len(p.file.alphas)
		p.file.alphas = append(p.file.alphas, share)
	}
	p.printf("/A%d gs\n", at)
}

// Path paints runs of straight lines: the area by the even-odd rule, then the
// line.
func (p *Page) Path(path *scene.Path) {
	if path.Fill.A > 0 {
		p.printf("q\n")
		p.opacity(path.Fill)
		p.colour(path.Fill, "rg")
		p.trace(path.Subpaths)
		p.printf("f*\nQ\n")
	}
	if path.Stroke.Colour.A > 0 && path.Stroke.Width > 0 {
		p.printf("q\n")
		p.opacity(path.Stroke.Colour)
		p.colour(path.Stroke.Colour, "RG")
		p.printf("%s w 1 j\n", p.n(path.Stroke.Width))
		if path.Stroke.Round {
			p.printf("1 J\n")
		}
		if len(path.Stroke.Dash) > 0 {
			p.printf("[")
			for _, d := range path.Stroke.Dash {
				p.printf("%s ", p.n(d))
			}
			p.printf("] 0 d\n")
		}
		p.trace(path.Subpaths)
		p.printf("S\nQ\n")
	}
}

func (p *Page) trace(subpaths []scene.Subpath) {
	for _, s := range subpaths {
		for i, at := range s.Points {
			operator := "l"
			if i == 0 {
				operator = "m"
			}
			p.printf("%s %s %s\n", p.n(at.X), p.n(at.Y), operator)
		}
		if s.Closed {
			p.printf("h\n")
		} else if len(s.Points) == 1 { // a dot
			p.printf("%s %s l\n", p.n(s.Points[0].X), p.n(s.Points[0].Y))
		}
	}
}

// Scene draws a scene with its upper left corner at a place; one unit of the
// scene is scale points. Its background is left out: paper has its own.
func (p *Page) Scene(s *scene.Scene, x, y, scale float64, set TextSetter) {
	p.printf("q %s 0 0 %s %s %s cm\n", p.n(scale), p.n(scale), p.n(x), p.n(y))
	p.nodes(s.Nodes, set)
	p.printf("Q\n")
}

func (p *Page) nodes(nodes []scene.Node, set TextSetter) {
	for _, node := range nodes {
		switch node := node.(type) {
		case *scene.Group:
			p.nodes(node.Nodes, set)
		case *scene.Path:
			p.Path(node)
		case *scene.Image:
			p.Image(node.Rect, node.Pixels)
		case *scene.Text:
			p.sceneText(node, set)
		}
	}
}

// sceneText draws a text of a scene, with its halo below it.
func (p *Page) sceneText(t *scene.Text, set TextSetter) {
	line, err := set(t.Value, t.Bold)
	if err != nil {
		p.file.fail(err)
		return
	}
	shift := 0.0
	switch t.Anchor {
	case scene.Middle:
		shift = -line.Width / 2 * t.Size / 1000
	case scene.End:
		shift = -line.Width * t.Size / 1000
	}
	sin, cos := math.Sincos(t.AngleDeg * math.Pi / 180)
	at := Place{X: t.At.X + shift*cos, Y: t.At.Y + shift*sin, AngleDeg: t.AngleDeg}
	if t.Halo.A > 0 {
		p.text(at, line, t.Size, t.Halo, 3)
	}
	p.text(at, line, t.Size, t.Colour, 0)
}
