package scene

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"limitans/fault"
)

// fontFamily lets the reader's own sans-serif be used; a page that bundles a
// face overrides it by style.
const fontFamily = "sans-serif"

// WriteSVG writes the scene as a standalone SVG 1.1 document (W3C
// Recommendation, 2011) with images as PNG data. Numbers are rounded to
// hundredths of a unit. A place that is not a finite number is a defect and
// gives a fault of code Internal.
func (s *Scene) WriteSVG(w io.Writer) error {
	if !(s.Width > 0 && s.Height > 0) {
		return &fault.Error{Code: fault.Internal, Where: "figure " + s.Name, What: "the sheet has no size"}
	}
	b := &svgWriter{}
	b.printf(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="%s" height="%s" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-title" aria-describedby="%s-desc" font-family="%s" style="font-variant-numeric:tabular-nums">`+"\n",
		b.n(s.Width), b.n(s.Height), b.n(s.Width), b.n(s.Height), escape(s.Name), escape(s.Name), fontFamily)
	b.printf("<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", escape(s.Name), escape(s.Title), escape(s.Name), escape(s.Description))
	if s.Paper.A > 0 {
		b.printf(`<rect width="%s" height="%s"%s/>`+"\n", b.n(s.Width), b.n(s.Height), paint("fill", s.Paper))
	}
	b.nodes(s.Nodes)
	b.printf("</svg>\n")
	if b.err != nil {
		return &fault.Error{Code: fault.Internal, Where: "figure " + s.Name, What: b.err.Error(), Cause: b.err}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// svgWriter collects the document and the first thing that went wrong.
type svgWriter struct {
	bytes.Buffer
	err error
}

func (b *svgWriter) printf(format string, arguments ...any) {
	fmt.Fprintf(&b.Buffer, format, arguments...)
}

func (b *svgWriter) nodes(nodes []Node) {
	for _, n := range nodes {
		switch n := n.(type) {
		case *Group:
			b.printf(`<g class="%s">`+"\n", escape(n.Name))
			b.nodes(n.Nodes)
			b.printf("</g>\n")
		case *Path:
			b.path(n)
		case *Text:
			b.text(n)
		case *Image:
			b.image(n)
		}
	}
}

func (b *svgWriter) path(p *Path) {
	if len(p.Subpaths) == 0 {
		return
	}
	b.printf(`<path d="`)
	for _, sub := range p.Subpaths {
		for i, at := range sub.Points {
			letter := "L"
			if i == 0 {
				letter = "M"
			}
			b.printf("%s%s %s", letter, b.n(at.X), b.n(at.Y))
		}
		if sub.Closed {
			b.printf("Z")
		} else if len(sub.Points) == 1 {
			b.printf("h0")
		}
	}
	b.printf(`"%s`, paint("fill", p.Fill))
	if p.Fill.A > 0 {
		b.printf(` fill-rule="evenodd"`)
	}
	if p.Stroke.Colour.A > 0 && p.Stroke.Width > 0 {
		b.stroke(p.Stroke)
	}
	b.printf("/>\n")
}

func (b *svgWriter) stroke(s Stroke) {
	b.printf(`%s stroke-width="%s" stroke-linejoin="round"`, paint("stroke", s.Colour), b.n(s.Width))
	if len(s.Dash) > 0 {
		parts := make([]string, len(s.Dash))
		for i, d := range s.Dash {
			parts[i] = b.n(d)
		}
		b.printf(` stroke-dasharray="%s"`, strings.Join(parts, " "))
	}
	if s.Round {
		b.printf(` stroke-linecap="round"`)
	}
}

func (b *svgWriter) text(t *Text) {
	b.printf(`<text x="%s" y="%s" font-size="%s"%s`, b.n(t.At.X), b.n(t.At.Y), b.n(t.Size), paint("fill", t.Colour))
	if t.Bold {
		b.printf(` font-weight="600"`)
	}
	switch t.Anchor {
	case Middle:
		b.printf(` text-anchor="middle"`)
	case End:
		b.printf(` text-anchor="end"`)
	}
	if t.Halo.A > 0 {
		b.printf(`%s stroke-width="3" stroke-linejoin="round" style="paint-order:stroke"`, paint("stroke", t.Halo))
	}
	if t.AngleDeg != 0 {
		b.printf(` transform="rotate(%s %s %s)"`, b.n(t.AngleDeg), b.n(t.At.X), b.n(t.At.Y))
	}
	b.printf(">%s</text>\n", escape(t.Value))
}

func (b *svgWriter) image(m *Image) {
	var data bytes.Buffer
	if err := png.Encode(&data, m.Pixels); err != nil {
		b.fail(err)
		return
	}
	b.printf(`<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" xlink:href="data:image/png;base64,%s">`,
		b.n(m.Rect.X), b.n(m.Rect.Y), b.n(m.Rect.Width), b.n(m.Rect.Height), base64.StdEncoding.EncodeToString(data.Bytes()))
	b.printf("<title>%s</title></image>\n", escape(m.Description))
}

func (b *svgWriter) fail(err error) {
	if b.err == nil {
		b.err = err
	}
}

// n writes a number with at most two decimals.
func (b *svgWriter) n(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		b.fail(fmt.Errorf("a place in the drawing is not a number"))
		return "0"
	}
	rounded := math.Round(x*100) / 100
	if rounded == 0 {
		return "0" // never -0
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// paint writes a fill or stroke attribute; none for no colour.
func paint(attribute string, c Colour) string {
	if c.A == 0 {
		return fmt.Sprintf(` %s="none"`, attribute)
	}
	out := fmt.Sprintf(` %s="#%02x%02x%02x"`, attribute, c.R, c.G, c.B)
	if c.A < 255 {
		out += fmt.Sprintf(` %s-opacity="%s"`, attribute, strconv.FormatFloat(math.Round(float64(c.A)/255*1000)/1000, 'f', -1, 64))
	}
	return out
}

// escape makes text safe for XML 1.0 content and attributes: the five special
// characters are written as entities, characters that XML does not allow are
// replaced by the replacement character.
func escape(text string) string {
	var out strings.Builder
	for _, r := range text {
		switch {
		case r == '&':
			out.WriteString("&amp;")
		case r == '<':
			out.WriteString("&lt;")
		case r == '>':
			out.WriteString("&gt;")
		case r == '"':
			out.WriteString("&quot;")
		case r == '\'':
			out.WriteString("&#39;")
		case r == '\t' || r == '\n' || r == '\r':
			out.WriteByte(' ')
		case r < 0x20 || r == 0xFFFE || r == 0xFFFF || r == utf8.RuneError:
			out.WriteRune(utf8.RuneError)
		default:
			out.WriteRune(r)
		}
	}
	return out.String()
}
