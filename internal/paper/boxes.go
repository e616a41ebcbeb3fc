package paper

import (
	"math"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

// role says how urgent a notice is; each has its shape and its word.
type role string

const (
	roleNote    role = "note"
	roleCaution role = "caution"
	roleStop    role = "stop"
)

// notice is a text with a shape before it: a circle for a note, a triangle for a
// caution, an octagon for a stop.
type notice struct {
	role  role
	lead  string
	text  string
	size  float64
	above float64
}

func (b notice) space() float64 { return b.above }

func (b notice) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	pad := 0.55 * size
	indent := 2.1*size + pad
	spans := strong(b.lead + " ")
	if b.text != "" {
		spans = append(spans, typeset.Span{Text: b.text})
	}
	inner := width - indent - pad
	lines := c.lines(spans, size, inner)
	tall := math.Max(linesHeight(lines, size), 1.5*size) + 2*pad
	if tall > height+1e-6 {
		return nothing(), b
	}
	weight := map[role]float64{roleNote: 0.7, roleCaution: 1.3, roleStop: 2.6}[b.role]
	return piece{tall, func(p *pdf.Page, x, y float64) {
		box(p, x+weight/2, y+weight/2, width-weight, tall-weight, white, scene.Stroke{Colour: black, Width: weight})
		textX, shapeX := x+indent, x+pad
		if c.style.RightToLeft {
			textX, shapeX = x+pad, x+width-pad-1.5*size
		}
		c.drawShape(p, b.role, shapeX+0.75*size, y+pad+0.72*size, 0.75*size)
		c.drawLines(p, lines, size, textX, y+pad, inner, black)
	}}, nil
}

// drawShape draws the sign of a role around a centre.
func (c *composer) drawShape(p *pdf.Page, r role, x, y, radius float64) {
	sides, turn, sign := 36, 0.0, "i"
	switch r {
	case roleCaution:
		sides, turn, sign = 3, -math.Pi/2, "!"
	case roleStop:
		sides, turn, sign = 8, math.Pi/8, "!"
	}
	if sides == 3 {
		radius, y = radius*1.16, y+radius*0.16
	}
	var points []scene.Point
	for i := range sides {
		sin, cos := math.Sincos(turn + 2*math.Pi*float64(i)/float64(sides))
		points = append(points, point(x+radius*cos, y+radius*sin))
	}
	p.Path(scene.Polygon(black, scene.Stroke{Colour: black, Width: radius * 0.12}, points...))
	line, err := c.oneLine(sign, true)
	if err != nil {
		c.err = err
		return
	}
	size := radius * 1.5
	if sides == 3 {
		size = radius * 1.15
	}
	p.Text(x-line.Width*size/2000, y+size*0.35, line, size, white)
}

// big is a row of large numbers.
type big struct {
	cells []bigCell
	size  float64
	above float64
}

// bigCell is a number with what it is, and its band.
type bigCell struct{ label, value, band string }

func (b big) space() float64 { return b.above }

func (b big) lay(c *composer, width, height float64) (piece, block) {
	size, small, pad := c.pt(b.size), c.pt(9.5), c.pt(7)
	cell := width / float64(len(b.cells))
	type set struct{ label, value, band []typeset.Line }
	var all []set
	tall := 0.0
	for _, n := range b.cells {
		s := set{c.lines(plain(n.label), small, cell-2*pad), c.lines(strong(n.value), size, cell-2*pad), c.lines(plain(n.band), small, cell-2*pad)}
		all = append(all, s)
		tall = math.Max(tall, linesHeight(s.label, small)+linesHeight(s.value, size)+linesHeight(s.band, small)+2*pad)
	}
	if tall > height+1e-6 {
		return nothing(), b
	}
	return piece{tall, func(p *pdf.Page, x, y float64) {
		line := scene.Stroke{Colour: black, Width: 1}
		for i, s := range all {
			left := x + float64(i)*cell
			box(p, left, y, cell, tall, white, line)
			c.drawLines(p, s.label, small, left+pad, y+pad, cell-2*pad, soft)
			c.drawLines(p, s.value, size, left+pad, y+pad+linesHeight(s.label, small), cell-2*pad, black)
			c.drawLines(p, s.band, small, left+pad, y+pad+linesHeight(s.label, small)+linesHeight(s.value, size), cell-2*pad, black)
		}
	}}, nil
}

// blanks are lines to write on.
type blanks struct {
	labels []string
	single bool // in one column, not two
	size   float64
	above  float64
}

func (b blanks) space() float64 { return b.above }

func (b blanks) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	step := 2.5 * size
	gap := c.pt(16)
	across := 2
	if b.single {
		across, step = 1, 2.05*size
	}
	column := (width - gap*float64(across-1)) / float64(across)
	rows := (len(b.labels) + across - 1) / across
	tall := float64(rows) * step
	if tall > height+1e-6 {
		return nothing(), b
	}
	var lines []typeset.Line
	for _, label := range b.labels {
		line, err := c.oneLine(label, false)
		if err != nil && c.err == nil {
			c.err = err
		}
		lines = append(lines, line)
	}
	return piece{tall, func(p *pdf.Page, x, y float64) {
		for i, line := range lines {
			left, base := x+float64(i%across)*(column+gap), y+float64(i/across+1)*step-0.35*size
			wide := line.Width * size / 1000
			if c.style.RightToLeft {
				left = x + width - float64(i%across)*(column+gap) - column
				p.Text(left+column-wide, base, line, size, soft)
				rule(p, left, base+1.5, left+column-wide-c.pt(5), base+1.5, 0.6, black)
				continue
			}
			p.Text(left, base, line, size, soft)
			rule(p, left+wide+c.pt(5), base+1.5, left+column, base+1.5, 0.6, black)
		}
	}}, nil
}

// label is a text to cut out.
type label struct {
	lines []string
	wide  bool // as wide as the sheet
	size  float64
	above float64
}

func (b label) space() float64 { return b.above }

func (b label) lay(c *composer, width, height float64) (piece, block) {
	size, pad := c.pt(b.size), c.pt(8)
	inner := math.Min(width, c.pt(300)) - 2*pad
	if b.wide {
		inner = width - 2*pad
	}
	var lines []typeset.Line
	for i, text := range b.lines {
		spans := plain(text)
		if i == 0 {
			spans = strong(text)
		}
		lines = append(lines, c.lines(spans, size, inner)...)
	}
	tall := linesHeight(lines, size) + 2*pad
	if tall > height+1e-6 {
		return nothing(), b
	}
	return piece{tall, func(p *pdf.Page, x, y float64) {
		box(p, x, y, inner+2*pad, tall, white, scene.Stroke{Colour: black, Width: 0.8, Dash: []float64{4, 3}})
		c.drawLines(p, lines, size, x+pad, y+pad, inner, black)
	}}, nil
}

// picture is a scene, as wide as it goes and at most tall points high.
type picture struct {
	scene   *scene.Scene
	tall    float64
	caption string
	size    float64 // of the caption
	above   float64
}

func (b picture) space() float64 { return b.above }

func (b picture) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	var caption []typeset.Line
	if b.caption != "" {
		caption = c.lines(plain(b.caption), size, width)
	}
	scale := width / b.scene.Width
	if b.tall > 0 {
		scale = math.Min(scale, c.pt(b.tall)/b.scene.Height)
	}
	tall := b.scene.Height*scale + linesHeight(caption, size)
	if tall > height+1e-6 {
		return nothing(), b
	}
	return piece{tall, func(p *pdf.Page, x, y float64) {
		p.Scene(b.scene, x+(width-b.scene.Width*scale)/2, y, scale, c.oneLine)
		c.drawLines(p, caption, size, x, y+b.scene.Height*scale, width, soft)
	}}, nil
}
