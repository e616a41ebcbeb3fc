package paper

import (
	"math"
	"strconv"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

// paragraph is running text.
type paragraph struct {
	spans []typeset.Span
	size  float64
	quiet bool    // in lighter ink
	above float64 // gap
}

func (b paragraph) space() float64 { return b.above }

func (b paragraph) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	lines := c.lines(b.spans, size, width)
	if linesHeight(lines, size) > height+1e-6 {
		return nothing(), b // short texts: a paragraph is not broken over pages
	}
	ink := black
	if b.quiet {
		ink = soft
	}
	return piece{linesHeight(lines, size), func(p *pdf.Page, x, y float64) { c.drawLines(p, lines, size, x, y, width, ink) }}, nil
}

// section is a heading with what stands under it; they stay together.
type section struct {
	title string
	size  float64 // of the heading
	body  []block
	above float64
	again bool // continued from the page before
	more  string
}

func (b section) space() float64 { return b.above }

func (b section) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	title := b.title
	if b.again {
		title += " " + b.more
	}
	lines := c.lines(strong(title), size, width)
	head := linesHeight(lines, size) + c.pt(4)
	body, rest := c.flow(b.body, width, height-head)
	if body.height == 0 && len(b.body) > 0 {
		return nothing(), b
	}
	drawn := piece{head + body.height, func(p *pdf.Page, x, y float64) {
		c.drawLines(p, lines, size, x, y, width, black)
		rule(p, x, y+head-c.pt(2), x+width, y+head-c.pt(2), 0.8, black)
		body.draw(p, x, y+head)
	}}
	if len(rest) == 0 {
		return drawn, nil
	}
	left := b
	left.body, left.again = rest, true
	return drawn, left
}

// columns are two columns side by side.
type columns struct {
	left, right []block
	share       float64 // of the left column
	above       float64
}

func (b columns) space() float64 { return b.above }

func (b columns) lay(c *composer, width, height float64) (piece, block) {
	gutter := c.pt(18)
	leftWidth := (width - gutter) * b.share
	rightWidth := width - gutter - leftWidth
	left, leftRest := c.flow(b.left, leftWidth, height)
	right, rightRest := c.flow(b.right, rightWidth, height)
	tall := math.Max(left.height, right.height)
	if tall == 0 && len(leftRest)+len(rightRest) > 0 {
		return nothing(), b
	}
	drawn := piece{tall, func(p *pdf.Page, x, y float64) {
		leftX, rightX := x, x+leftWidth+gutter
		if c.style.RightToLeft {
			leftX, rightX = x+rightWidth+gutter, x
		}
		left.draw(p, leftX, y)
		right.draw(p, rightX, y)
	}}
	if len(leftRest)+len(rightRest) == 0 {
		return drawn, nil
	}
	switch {
	case len(rightRest) == 0: // what is left of one column takes the whole width
		return drawn, together{body: leftRest, above: b.above}
	case len(leftRest) == 0:
		return drawn, together{body: rightRest, above: b.above}
	}
	rest := b
	rest.left, rest.right = leftRest, rightRest
	return drawn, rest
}

// together is a band that goes to the next page whole when it would be broken.
type together struct {
	body  []block
	above float64
}

func (b together) space() float64 { return b.above }

func (b together) lay(c *composer, width, height float64) (piece, block) {
	set, rest := c.flow(b.body, width, height)
	if len(rest) == 0 {
		return set, nil
	}
	if height < c.page-1e-6 { // another page has more room
		return nothing(), b
	}
	return set, together{body: rest, above: b.above}
}

// row is one line of a table of figures.
type row struct {
	label, value, band, note string
	big                      bool
}

// table is some rows with hairlines.
type table struct {
	rows  []row
	size  float64
	share float64 // of the labels
	above float64
}

func (b table) space() float64 { return b.above }

func (b table) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	gap := c.pt(6)
	labelWidth := (width - gap) * b.share
	valueWidth := width - gap - labelWidth
	var draws []func(p *pdf.Page, x, y float64)
	y := 0.0
	for i, r := range b.rows {
		valueSize := size
		if r.big {
			valueSize = 1.5 * size
		}
		spans := strong(r.value)
		if r.band != "" {
			spans = append(spans, typeset.Span{Text: " " + r.band})
		}
		label, value := c.lines(plain(r.label), size, labelWidth), c.lines(spans, valueSize, valueWidth)
		var note []typeset.Line
		noteSize := 0.84 * size
		if r.note != "" {
			note = c.lines(plain(r.note), noteSize, width)
		}
		tall := math.Max(linesHeight(label, size), linesHeight(value, valueSize))
		whole := tall + linesHeight(note, noteSize) + c.pt(2.4)
		if y+whole > height+1e-6 {
			rest := b
			rest.rows = b.rows[i:]
			if i == 0 {
				return nothing(), rest
			}
			return stacked(draws, y), rest
		}
		top := y
		draws = append(draws, func(p *pdf.Page, x, y float64) {
			labelX, valueX := x, x+labelWidth+gap
			if c.style.RightToLeft {
				labelX, valueX = x+valueWidth+gap, x
			}
			c.drawLines(p, label, size, labelX, y+top, labelWidth, soft)
			c.drawLines(p, value, valueSize, valueX, y+top, valueWidth, black)
			c.drawLines(p, note, noteSize, x, y+top+tall, width, soft)
			rule(p, x, y+top+whole-c.pt(0.8), x+width, y+top+whole-c.pt(0.8), 0.35, hair)
		})
		y += whole
	}
	return stacked(draws, y), nil
}

// stacked is some drawings that know their place below the top.
func stacked(draws []func(p *pdf.Page, x, y float64), height float64) piece {
	return piece{height, func(p *pdf.Page, x, y float64) {
		for _, draw := range draws {
			draw(p, x, y)
		}
	}}
}

// mark is what stands before an item of a list.
type mark int

const (
	markNumber mark = iota
	markTick        // a box to tick
	markNumberTick
	markDot
	markNo // a crossed circle: this must not be done
)

// item is one entry of a list.
type item struct {
	lead, text string // lead is bold
	answer     string // bold, on a line of its own
	note       string
}

// list is some items with marks.
type list struct {
	items []item
	size  float64
	mark  mark
	from  int // number of the first item, minus one
	gap   float64
	above float64
}

func (b list) space() float64 { return b.above }

func (b list) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	indent := size * map[mark]float64{markNumber: 1.7, markTick: 1.7, markNumberTick: 3.1, markDot: 1.1, markNo: 2.1}[b.mark]
	noteSize := 0.84 * size
	var draws []func(p *pdf.Page, x, y float64)
	y := 0.0
	for i, entry := range b.items {
		spans := []typeset.Span{{Text: entry.text}}
		if entry.lead != "" {
			spans = []typeset.Span{{Text: entry.lead + " ", Bold: true}, {Text: entry.text}}
		}
		lines := c.lines(spans, size, width-indent)
		if entry.answer != "" {
			lines = append(lines, c.lines(strong(entry.answer), size, width-indent)...)
		}
		var note []typeset.Line
		if entry.note != "" {
			note = c.lines(plain(entry.note), noteSize, width-indent)
		}
		tall := linesHeight(lines, size) + linesHeight(note, noteSize)
		gap := 0.0
		if y > 0 {
			gap = c.pt(b.gap)
		}
		if y+gap+tall > height+1e-6 {
			rest := b
			rest.items, rest.from = b.items[i:], b.from+i
			if i == 0 {
				return nothing(), rest
			}
			return stacked(draws, y), rest
		}
		top, number := y+gap, b.from+i+1
		draws = append(draws, func(p *pdf.Page, x, y float64) {
			textX, markX := x+indent, x
			if c.style.RightToLeft {
				textX, markX = x, x+width-indent+0.35*size
			}
			c.drawMark(p, b.mark, number, size, markX, y+top)
			c.drawLines(p, lines, size, textX, y+top, width-indent, black)
			c.drawLines(p, note, noteSize, textX, y+top+linesHeight(lines, size), width-indent, soft)
		})
		y = top + tall
	}
	return stacked(draws, y), nil
}

// drawMark draws what stands before an item whose first line begins at y.
func (c *composer) drawMark(p *pdf.Page, m mark, number int, size, x, y float64) {
	line := scene.Stroke{Colour: black, Width: math.Max(0.7, size*0.07)}
	middle := y + 0.68*size
	switch m {
	case markNumber, markNumberTick:
		digits, err := c.oneLine(strconv.Itoa(number)+".", true)
		if err != nil {
			c.err = err
			return
		}
		at := x
		if m == markNumberTick {
			at = x + 1.45*size
		}
		p.Text(at, y+1.04*size, digits, size, black)
	case markDot:
		p.Path(scene.Disc(point(x+0.32*size, middle), 0.13*size, black, scene.Stroke{}))
	case markNo:
		centre, r := point(x+0.72*size, middle), 0.62*size
		heavy := scene.Stroke{Colour: black, Width: 0.17 * size}
		p.Path(scene.Ring(centre, r, heavy))
		d := r * math.Sqrt2 / 2
		p.Path(scene.Line(heavy, point(centre.X-d, centre.Y-d), point(centre.X+d, centre.Y+d)))
	}
	if m == markTick || m == markNumberTick {
		box(p, x, middle-0.48*size, 0.96*size, 0.96*size, white, line)
	}
}
