package pdf

import (
	"math"
	"strings"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/typeset"
)

// TextSetter sets one line of text; [Page.Scene] asks it for the letters of a
// scene.
type TextSetter func(text string, bold bool) (typeset.Line, error)

// Place is the left end of a baseline, turned clockwise.
type Place struct{ X, Y, AngleDeg float64 }

// emboldenShare is the width of the outline that stands for a bold weight, as a
// share of the em (ours).
const emboldenShare = 0.03

// Text draws a line with its left end at x and its baseline at y.
func (p *Page) Text(x, y float64, line typeset.Line, sizePt float64, c scene.Colour) {
	p.text(Place{X: x, Y: y}, line, sizePt, c, 0)
}

// text draws a line; an outline of some width instead of the letters where
// outline is not 0.
func (p *Page) text(at Place, line typeset.Line, size float64, c scene.Colour, outline float64) {
	if len(line.Clusters) == 0 || c.A == 0 {
		return
	}
	p.printf("q\n")
	p.opacity(c)
	p.colour(c, "rg")
	p.colour(c, "RG")
	p.printf("1 j BT\n")
	w := textWriter{page: p, at: at, size: size, outline: outline}
	for _, cluster := range line.Clusters {
		w.cluster(cluster)
	}
	w.flush()
	p.printf("ET\nQ\n")
}

// textWriter collects glyphs into as few operators as possible.
type textWriter struct {
	page    *Page
	at      Place
	size    float64
	outline float64

	font    *usedFont
	bold    bool
	pen     float64 // thousandths of the em from the begin of the line
	shown   strings.Builder
	begun   bool    // a matrix was set for what is shown
	drift   float64 // where the reader's pen stands, thousandths of the em
	current float64 // rise of what is shown
}

// cluster adds one cluster, with its text around it where the glyphs do not
// tell it.
func (w *textWriter) cluster(c typeset.Cluster) {
	font := w.page.file.font(c.Face)
	if font != w.font || c.Embolden != w.bold {
		w.flush()
		w.font, w.bold = font, c.Embolden
		w.page.printf("/F%d %s Tf\n", font.index, number(w.size))
		switch {
		case w.outline > 0:
			w.page.printf("1 Tr %s w\n", number(w.outline))
		case c.Embolden:
			w.page.printf("2 Tr %s w\n", number(w.size*emboldenShare))
		default:
			w.page.printf("0 Tr\n")
		}
	}
	mapped := font.maps(c)
	if !mapped {
		w.flush()
		w.page.printf("/Span<</ActualText%s>>BDC\n", text(c.Text))
	}
	for _, g := range c.Glyphs {
		w.glyph(c.Face, g)
	}
	if !mapped {
		w.flush()
		w.page.printf("EMC\n")
	}
}

func (w *textWriter) glyph(face *typeset.Face, g typeset.Glyph) {
	if g.DY != w.current {
		w.flush()
		w.current = g.DY
	}
	want := w.pen + g.DX
	if !w.begun {
		sin, cos := math.Sincos(w.at.AngleDeg * math.Pi / 180)
		k := w.size / 1000
		x := w.at.X + k*(want*cos+g.DY*sin)
		y := w.at.Y + k*(want*sin-g.DY*cos)
		w.page.printf("%s %s %s %s %s %s Tm[", fine(cos), fine(sin), fine(sin), fine(-cos), w.page.n(x), w.page.n(y))
		w.begun, w.drift = true, want
	}
	if gap := w.drift - want; math.Abs(gap) >= 0.5 {
		w.shown.WriteString(number(gap))
		w.drift = want
	}
	w.shown.WriteString(w.font.show(g.ID))
	w.drift += face.Width(g.ID)
	w.pen += g.Advance
}

// flush writes what was collected.
func (w *textWriter) flush() {
	if w.begun {
		w.page.printf("%s]TJ\n", strings.ReplaceAll(w.shown.String(), "><", ""))
		w.shown.Reset()
		w.begun = false
	}
}

// fine writes a share of a matrix.
func fine(x float64) string {
	if math.Abs(x) < 1e-9 {
		return "0"
	}
	return number6(x)
}
