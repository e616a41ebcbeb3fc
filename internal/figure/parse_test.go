package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"
	"testing"

	"limitans/internal/figure/scene"
)

// element is one element of a drawing as a reader of SVG sees it.
type element struct {
	name, group string // group: the innermost named one
	attributes  map[string]string
	text        string
}

func (e element) number(t testing.TB, name string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(e.attributes[name], 64)
	if err != nil {
		t.Fatalf("%s of %s: %v", name, e.name, err)
	}
	return x
}

// runs reads the path data that this program writes.
func (e element) runs(t testing.TB) [][]scene.Point {
	t.Helper()
	var out [][]scene.Point
	data := strings.NewReplacer("M", " M ", "L", " L ", "Z", " ", "h0", " ").Replace(e.attributes["d"])
	fields := strings.Fields(data)
	for i := 0; i+2 < len(fields); i += 3 {
		x, errX := strconv.ParseFloat(fields[i+1], 64)
		y, errY := strconv.ParseFloat(fields[i+2], 64)
		if errX != nil || errY != nil {
			t.Fatalf("path data %q", e.attributes["d"])
		}
		if fields[i] == "M" {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], scene.Point{X: x, Y: y})
	}
	return out
}

// drawn writes a scene and reads it back as XML; a document that is not
// well-formed fails.
func drawn(t testing.TB, s *scene.Scene) []element {
	t.Helper()
	var document bytes.Buffer
	if err := s.WriteSVG(&document); err != nil {
		t.Fatal(err)
	}
	var out []element
	var open []int
	groups := []string{""}
	decoder := xml.NewDecoder(&document)
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("%s is not well-formed: %v", s.Name, err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attributes: map[string]string{}}
			for _, a := range token.Attr {
				e.attributes[a.Name.Local] = a.Value
			}
			if e.name == "g" {
				groups = append(groups, e.attributes["class"])
			}
			e.group = groups[len(groups)-1]
			open, out = append(open, len(out)), append(out, e)
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]].text += string(token)
			}
		case xml.EndElement:
			if token.Name.Local == "g" {
				groups = groups[:len(groups)-1]
			}
			open = open[:len(open)-1]
		}
	}
}

// named returns the elements of a kind in a group; an empty group means any.
func named(elements []element, name, group string) []element {
	var out []element
	for _, e := range elements {
		if e.name == name && (group == "" || e.group == group) {
			out = append(out, e)
		}
	}
	return out
}

// words is all text of a drawing, title and description included.
func words(elements []element) string {
	var out []string
	for _, e := range elements {
		if e.name == "text" || e.name == "title" || e.name == "desc" {
			out = append(out, strings.TrimSpace(e.text))
		}
	}
	return strings.Join(out, "\n")
}

// checkSheet holds for every drawing: it has title and description, its caution,
// and nothing lies outside the sheet, text by its estimated width.
func checkSheet(t *testing.T, s *scene.Scene) []element {
	t.Helper()
	elements := drawn(t, s)
	if elements[0].attributes["role"] != "img" || elements[0].attributes["aria-labelledby"] != s.Name+"-title" || s.Title == "" || s.Description == "" {
		t.Errorf("%s: no title or description for screen readers", s.Name)
	}
	if all := strings.ReplaceAll(words(elements), "\n", " "); !strings.Contains(all, "not a certified medical device") {
		t.Errorf("%s: no caution", s.Name)
	}
	sheet := scene.Rect{X: 0, Y: 0, Width: s.Width, Height: s.Height}
	for _, e := range elements {
		switch e.name {
		case "path":
			for _, run := range e.runs(t) {
				for _, p := range run {
					if !sheet.Contains(p) {
						t.Errorf("%s: a line of %q leaves the sheet at %v", s.Name, e.group, p)
					}
				}
			}
		case "text":
			x, y, width := e.number(t, "x"), e.number(t, "y"), scene.TextWidth(e.text, e.number(t, "font-size"))
			if e.attributes["transform"] != "" {
				width = 0
			}
			switch e.attributes["text-anchor"] {
			case "middle":
				x -= width / 2
			case "end":
				x -= width
			}
			if x < 0 || x+width > s.Width || y < 10 || y > s.Height {
				t.Errorf("%s: %q leaves the sheet: x %g to %g, y %g", s.Name, e.text, x, x+width, y)
			}
		}
	}
	return elements
}
