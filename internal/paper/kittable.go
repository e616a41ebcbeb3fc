package paper

import (
	"math"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

// kitTable is a list with boxes to tick, quantities and lines for lots.
type kitTable struct {
	items []KitItem
	size  float64
	above float64
}

func (b kitTable) space() float64 { return b.above }

func (b kitTable) lay(c *composer, width, height float64) (piece, block) {
	size := c.pt(b.size)
	small := 0.8 * size
	tick, amount, lot := 1.7*size, 0.14*width, 0.30*width
	nameWidth := width - tick - amount - lot
	word := func(text string) typeset.Line {
		line, err := c.oneLine(text, false)
		if err != nil && c.err == nil {
			c.err = err
		}
		return line
	}
	lotWord, expiryWord := word("lot"), word("expires")
	var draws []func(p *pdf.Page, x, y float64)
	y := 0.0
	for i, entry := range b.items {
		spans := []typeset.Span{{Text: entry.Name}}
		if entry.Spare {
			spans = append(spans, typeset.Span{Text: "  spare, unopened", Bold: true})
		}
		name, note := c.lines(spans, size, nameWidth-6), c.lines(plain(entry.Note), small, nameWidth-6)
		quantity := c.lines(strong(entry.Quantity), size, amount-6)
		tall := math.Max(linesHeight(name, size)+linesHeight(note, small), linesHeight(quantity, size)) + c.pt(5)
		if y+tall > height+1e-6 {
			rest := b
			rest.items = b.items[i:]
			if i == 0 {
				return nothing(), rest
			}
			return stacked(draws, y), rest
		}
		top := y
		draws = append(draws, func(p *pdf.Page, x, y float64) {
			at := y + top + c.pt(2)
			box(p, x, at+0.2*size, 0.96*size, 0.96*size, white, scene.Stroke{Colour: black, Width: 0.8})
			c.drawLines(p, name, size, x+tick, at, nameWidth-6, black)
			c.drawLines(p, note, small, x+tick, at+linesHeight(name, size), nameWidth-6, soft)
			c.drawLines(p, quantity, size, x+tick+nameWidth, at, amount-6, black)
			if entry.Traced {
				base := at + 1.04*size
				left := x + tick + nameWidth + amount
				half := lot / 2
				for k, label := range []typeset.Line{lotWord, expiryWord} {
					from := left + float64(k)*half
					p.Text(from, base, label, small, soft)
					rule(p, from+label.Width*small/1000+3, base+1.5, from+half-5, base+1.5, 0.6, black)
				}
			}
			rule(p, x, y+top+tall-0.5, x+width, y+top+tall-0.5, 0.35, hair)
		})
		y += tall
	}
	return stacked(draws, y), nil
}
