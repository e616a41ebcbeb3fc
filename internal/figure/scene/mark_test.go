package scene

import (
	"bytes"
	"strings"
	"testing"
)

// markedScene has a mark that leads somewhere and one that only tells.
func markedScene() *Scene {
	s := &Scene{Name: "x", Width: 100, Height: 50, Paper: Opaque(0xfbf9f4).As("paper"), Title: "t"}
	s.Add(&Group{Name: "lane", Nodes: []Node{
		&Mark{
			Name: "visit", Text: `6/9 & "more"`, Href: "/eyes/1?a=1&b=2", Stop: true, Data: []Datum{{"day", "7"}}, Reach: Rect{1, 2, 24, 24},
			Nodes: []Node{Disc(Point{5, 5}, 3, Opaque(0x1e1c1a).As("ink"), Stroke{Colour: Opaque(0xa83f18).As("act").Opacity(0.5), Width: 1})},
		},
		&Mark{Name: "scan", Text: "49 slices"},
		&Text{Value: "label", Size: 12, Colour: Opaque(0), Halo: Opaque(0xffffff).As("paper")},
	}})
	return s
}

func TestMarksCanBeReached(t *testing.T) {
	for _, write := range []func(*Scene, *bytes.Buffer) error{
		func(s *Scene, b *bytes.Buffer) error { return s.WriteInline(b) },
		func(s *Scene, b *bytes.Buffer) error { return s.WriteSVG(b) },
	} {
		var b bytes.Buffer
		if err := write(markedScene(), &b); err != nil {
			t.Fatal(err)
		}
		texts(t, b.Bytes()) // well-formed
		for _, part := range []string{
			`role="group"`, // an image hides what stands in it
			`<a class="mark visit" href="/eyes/1?a=1&amp;b=2" aria-label="6/9 &amp; &quot;more&quot;" tabindex="0" data-text="6/9 &amp; &quot;more&quot;" data-day="7"><title>6/9 &amp; &quot;more&quot;</title>`,
			`<rect x="1" y="2" width="24" height="24" fill="none" pointer-events="all"/>`,
			`<g class="mark scan" role="img" tabindex="-1" data-text="49 slices"><title>49 slices</title>`, `</a>`,
		} {
			if !strings.Contains(b.String(), part) {
				t.Errorf("missing %s in\n%s", part, &b)
			}
		}
	}
}

// TestInlineFollowsThePage: no style that a strict policy would refuse, no size,
// face or background of its own, colours by role with themselves behind.
func TestInlineFollowsThePage(t *testing.T) {
	var b bytes.Buffer
	if err := markedScene().WriteInline(&b); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"style=", "font-family", ` width="100"`, "xlink", "#fbf9f4"} {
		if strings.Contains(b.String(), part) {
			t.Errorf("%s in\n%s", part, &b)
		}
	}
	for _, part := range []string{`fill="var(--ink,#1e1c1a)"`, `stroke="var(--act,#a83f18)" stroke-opacity="0.502"`, `stroke="var(--paper,#ffffff)"`, `fill="#000000"`, `class="figure x"`} {
		if !strings.Contains(b.String(), part) {
			t.Errorf("missing %s in\n%s", part, &b)
		}
	}
	if file := string(written(t, markedScene())); strings.Contains(file, "var(") || !strings.Contains(file, `fill="#fbf9f4"`) {
		t.Errorf("a file names properties of a page, or has no paper:\n%s", file)
	}
}
