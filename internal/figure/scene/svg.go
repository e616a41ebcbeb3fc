package scene

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/png"
	"io"
	"math"
	"slices"
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
	return s.write(w, &svgWriter{})
}

// WriteInline writes the scene as an element for an HTML page: without
// background, size and face, which are the page's, without any inline style, and
// with colours that follow the page's custom properties by their roles.
func (s *Scene) WriteInline(w io.Writer) error {
	return s.write(w, &svgWriter{inline: true})
}

func (s *Scene) write(w io.Writer, b *svgWriter) error {
	if !(s.Width > 0 && s.Height > 0) {
		return &fault.Error{Code: fault.Internal, Where: "figure " + s.Name, What: "the sheet has no size"}
	}
	name := escape(s.Name)
	role := "img"
	if hasMarks(s.Nodes) {
		role = "group" // what stands inside an image cannot be reached
	}
	b.printf(`<svg xmlns="http://www.w3.org/2000/svg"`)
	if b.inline {
		b.printf(` class="figure %s"`, name)
	} else {
		b.printf(` xmlns:xlink="http://www.w3.org/1999/xlink" width="%s" height="%s"`, b.n(s.Width), b.n(s.Height))
	}
	b.printf(` viewBox="0 0 %s %s" role="%s" aria-labelledby="%s-title" aria-describedby="%s-desc"`, b.n(s.Width), b.n(s.Height), role, name, name)
	if !b.inline {
		b.printf(` font-family="%s" style="font-variant-numeric:tabular-nums"`, fontFamily)
	}
	b.printf(">\n<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", name, escape(s.Title), name, escape(s.Description))
	if s.Paper.A > 0 && !b.inline {
		b.printf(`<rect width="%s" height="%s"%s/>`+"\n", b.n(s.Width), b.n(s.Height), b.paint("fill", s.Paper))
	}
	b.nodes(s.Nodes)
	b.printf("</svg>\n")
	if b.err != nil {
		return &fault.Error{Code: fault.Internal, Where: "figure " + s.Name, What: b.err.Error(), Cause: b.err}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// hasMarks reports a mark among the nodes or in their groups.
func hasMarks(nodes []Node) bool {
	return slices.ContainsFunc(nodes, func(n Node) bool {
		if g, is := n.(*Group); is {
			return hasMarks(g.Nodes)
		}
		_, is := n.(*Mark)
		return is
	})
}

// svgWriter collects the document and the first thing that went wrong.
type svgWriter struct {
	bytes.Buffer
	inline bool
	err    error
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
		case *Mark:
			b.mark(n)
		}
	}
}

// mark writes a link or a group with its text as title, which is its accessible
// name and shown to who points at it, and as data for programs.
func (b *svgWriter) mark(m *Mark) {
	element, role := "g", ` role="img"`
	if m.Href != "" {
		element, role = "a", fmt.Sprintf(` href="%s" aria-label="%s"`, escape(m.Href), escape(m.Text))
	}
	stop := -1
	if m.Stop {
		stop = 0
	}
	b.printf(`<%s class="mark %s"%s tabindex="%d" data-text="%s"`, element, escape(m.Name), role, stop, escape(m.Text))
	for _, d := range m.Data {
		b.printf(` data-%s="%s"`, escape(d.Name), escape(d.Value))
	}
	b.printf("><title>%s</title>\n", escape(m.Text))
	if m.Reach.Width > 0 && m.Reach.Height > 0 {
		b.printf(`<rect x="%s" y="%s" width="%s" height="%s" fill="none" pointer-events="all"/>`+"\n",
			b.n(m.Reach.X), b.n(m.Reach.Y), b.n(m.Reach.Width), b.n(m.Reach.Height))
	}
	b.nodes(m.Nodes)
	b.printf("</%s>\n", element)
}

func (b *svgWriter) path(p *Path) {
	if len(p.Subpaths) == 0 {
		return
	}
	b.WriteString(`<path d="`)
	for _, sub := range p.Subpaths {
		for i, at := range sub.Points {
			letter := byte('L')
			if i == 0 {
				letter = 'M'
			}
			b.WriteByte(letter)
			b.number(at.X)
			b.WriteByte(' ')
			b.number(at.Y)
		}
		if sub.Closed {
			b.WriteByte('Z')
		} else if len(sub.Points) == 1 {
			b.WriteString("h0")
		}
	}
	b.printf(`"%s`, b.paint("fill", p.Fill))
	if p.Fill.A > 0 {
		b.printf(` fill-rule="evenodd"`)
	}
	if p.Stroke.Colour.A > 0 && p.Stroke.Width > 0 {
		b.stroke(p.Stroke)
	}
	b.printf("/>\n")
}

func (b *svgWriter) stroke(s Stroke) {
	b.printf(`%s stroke-width="%s" stroke-linejoin="round"`, b.paint("stroke", s.Colour), b.n(s.Width))
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
	b.printf(`<text x="%s" y="%s" font-size="%s"%s`, b.n(t.At.X), b.n(t.At.Y), b.n(t.Size), b.paint("fill", t.Colour))
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
		b.printf(`%s stroke-width="3" stroke-linejoin="round" paint-order="stroke"`, b.paint("stroke", t.Halo))
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

// n returns a number with at most two decimals as text.
func (b *svgWriter) n(x float64) string { return string(b.appended(nil, x)) }

// number writes a number with at most two decimals.
func (b *svgWriter) number(x float64) { b.Write(b.appended(b.AvailableBuffer(), x)) }

func (b *svgWriter) appended(to []byte, x float64) []byte {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		b.fail(fmt.Errorf("a place in the drawing is not a number"))
		return append(to, '0')
	}
	rounded := math.Round(x*100) / 100
	if rounded == 0 {
		return append(to, '0') // never -0
	}
	return strconv.AppendFloat(to, rounded, 'f', -1, 64)
}

// paint writes a fill or stroke attribute; none for no colour. A presentation
// attribute is a CSS value, so inside a page it may name a custom property, with
// the colour itself for a page that has none.
func (b *svgWriter) paint(attribute string, c Colour) string {
	if c.A == 0 {
		return fmt.Sprintf(` %s="none"`, attribute)
	}
	value := fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
	if b.inline && c.Role != "" {
		value = fmt.Sprintf("var(--%s,%s)", escape(c.Role), value)
	}
	out := fmt.Sprintf(` %s="%s"`, attribute, value)
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
