package paper

import (
	"math"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

// The greys of a sheet. It is made for a black-and-white printer: nothing is
// told by colour.
var (
	black = scene.Opaque(0x000000)
	soft  = scene.Opaque(0x4a4a4a)
	hair  = scene.Opaque(0x9a9a9a)
	white = scene.Opaque(0xffffff)
)

// lineHeight is the distance of lines as a share of the size of the letters.
const lineHeight = 1.36

// composer sets the blocks of one sheet. Sizes are in points.
type composer struct {
	set   *typeset.Setter
	style typeset.Style
	scale float64 // of all letters and gaps; 1 is as designed
	page  float64 // height of the body of a whole page
	err   error
}

// pt is a designed size as it is printed.
func (c *composer) pt(size float64) float64 { return size * c.scale }

// lines sets a paragraph; the first error is kept.
func (c *composer) lines(spans []typeset.Span, size, width float64) []typeset.Line {
	lines, err := c.set.Lines(spans, c.style, math.Max(width, size)*1000/size)
	if err != nil && c.err == nil {
		c.err = err
	}
	return lines
}

// oneLine sets a text in one line, whatever its width.
func (c *composer) oneLine(text string, bold bool) (typeset.Line, error) {
	lines, err := c.set.Lines([]typeset.Span{{Text: text, Bold: bold}}, c.style, typeset.NoWrap)
	if err != nil || len(lines) == 0 {
		return typeset.Line{}, err
	}
	return lines[0], nil
}

// piece is a part of a sheet that was set, as tall as it is.
type piece struct {
	height float64
	draw   func(p *pdf.Page, x, y float64)
}

// nothing is a piece of no height.
func nothing() piece { return piece{draw: func(*pdf.Page, float64, float64) {}} }

// block is a part of the body of a sheet.
type block interface {
	// lay sets as much as goes into a box and returns what is left, nil when all
	// went in. A piece of no height means that nothing went in.
	lay(c *composer, width, height float64) (piece, block)
	// space is the gap above, when something stands above.
	space() float64
	// view is the same for the print page.
	view() view
}

// flow sets blocks below each other.
func (c *composer) flow(blocks []block, width, height float64) (piece, []block) {
	var pieces []piece
	var tops []float64
	y := 0.0
	rest := blocks
	for len(rest) > 0 {
		top := y
		if y > 0 {
			top += c.pt(rest[0].space())
		}
		set, left := rest[0].lay(c, width, height-top)
		if set.height == 0 && left != nil {
			break
		}
		pieces, tops = append(pieces, set), append(tops, top)
		y = top + set.height
		if rest = rest[1:]; left != nil {
			rest = append([]block{left}, rest...)
			break
		}
	}
	return piece{y, func(p *pdf.Page, x, y float64) {
		for i, set := range pieces {
			set.draw(p, x, y+tops[i])
		}
	}}, rest
}

// drawLines draws lines below each other from the upper left corner of their
// box. Right-to-left paragraphs stand at the right.
func (c *composer) drawLines(p *pdf.Page, lines []typeset.Line, size, x, y, width float64, ink scene.Colour) {
	for i, line := range lines {
		at := x
		if c.style.RightToLeft {
			at = x + width - line.Width*size/1000
		}
		p.Text(at, y+size*(lineHeight*float64(i)+1.04), line, size, ink)
	}
}

// linesHeight is the height of lines.
func linesHeight(lines []typeset.Line, size float64) float64 {
	return float64(len(lines)) * size * lineHeight
}

// plain is a text in one weight.
func plain(text string) []typeset.Span { return []typeset.Span{{Text: text}} }

// strong is a bold text.
func strong(text string) []typeset.Span { return []typeset.Span{{Text: text, Bold: true}} }

func point(x, y float64) scene.Point { return scene.Point{X: x, Y: y} }

func rule(p *pdf.Page, x1, y1, x2, y2, width float64, ink scene.Colour) {
	p.Path(scene.Line(scene.Stroke{Colour: ink, Width: width}, point(x1, y1), point(x2, y2)))
}

func box(p *pdf.Page, x, y, width, height float64, fill scene.Colour, line scene.Stroke) {
	p.Path(scene.Box(scene.Rect{X: x, Y: y, Width: width, Height: height}, fill, line))
}
