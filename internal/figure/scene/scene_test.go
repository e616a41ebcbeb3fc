package scene

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"limitans/fault"
)

func written(t testing.TB, s *Scene) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := s.WriteSVG(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// texts reads a document as XML and returns the character data of its text
// elements; a document that is not well-formed fails.
func texts(t testing.TB, document []byte) []string {
	t.Helper()
	var out []string
	decoder := xml.NewDecoder(bytes.NewReader(document))
	inside := false
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			if inside = token.Name.Local == "text"; inside {
				out = append(out, "")
			}
		case xml.CharData:
			if inside {
				out[len(out)-1] += string(token)
			}
		case xml.EndElement:
			inside = false
		}
	}
}

func TestSVGHoldsWhatTheSceneHolds(t *testing.T) {
	picture := image.NewGray(image.Rect(0, 0, 3, 2))
	picture.Pix = []uint8{0, 50, 100, 150, 200, 250}
	s := &Scene{Name: "x", Width: 100, Height: 50.126, Paper: Opaque(0xfbf9f4), Title: "A <b> & \"c\"", Description: "d"}
	s.Add(&Group{Name: "g", Nodes: []Node{
		&Image{Rect: Rect{1, 2, 3, 4}, Pixels: picture, Description: "p"},
		&Path{
			Subpaths: []Subpath{{Points: []Point{{0, 0}, {1.234, -0.001}}}, {Points: []Point{{5, 5}}}, {Points: []Point{{1, 1}, {2, 1}, {2, 2}}, Closed: true}},
			Stroke:   Stroke{Colour: Opaque(0x123456).Opacity(0.5), Width: 1.5, Dash: []float64{2, 1}, Round: true},
		},
		&Text{At: Point{3, 4}, Value: "5 < 6 µm", Size: 12, Bold: true, Anchor: End, Colour: Opaque(0), AngleDeg: -90},
	}})
	document := string(written(t, s))
	for _, part := range []string{
		`width="100" height="50.13"`, `<title id="x-title">A &lt;b&gt; &amp; &quot;c&quot;</title>`, `<desc id="x-desc">d</desc>`,
		`d="M0 0L1.23 0M5 5h0M1 1L2 1L2 2Z"`, `stroke="#123456" stroke-opacity="0.502"`, `stroke-dasharray="2 1"`,
		`text-anchor="end" transform="rotate(-90 3 4)">5 &lt; 6 µm<`,
	} {
		if !strings.Contains(document, part) {
			t.Errorf("missing %s in\n%s", part, document)
		}
	}
	if got := texts(t, []byte(document)); len(got) != 1 || got[0] != "5 < 6 µm" {
		t.Errorf("texts %q", got)
	}
	_, rest, _ := strings.Cut(document, "base64,")
	data, _, _ := strings.Cut(rest, `"`)
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		t.Fatal(err)
	}
	decoded, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range picture.Pix {
		if got := color.GrayModel.Convert(decoded.At(i%3, i/3)).(color.Gray).Y; got != want {
			t.Errorf("pixel %d: %d, want %d", i, got, want)
		}
	}
	if !bytes.Equal(written(t, s), []byte(document)) {
		t.Error("the same scene gave other bytes")
	}
}

func TestDefectsAreFaults(t *testing.T) {
	for name, s := range map[string]*Scene{
		"no size":  {Name: "x"},
		"NaN":      {Name: "x", Width: 1, Height: 1, Nodes: []Node{Line(Stroke{}, Point{math.NaN(), 0})}},
		"infinite": {Name: "x", Width: 1, Height: 1, Nodes: []Node{&Text{At: Point{0, math.Inf(1)}}}},
		"no picture": {Name: "x", Width: 1, Height: 1, Nodes: []Node{
			&Image{Rect: Rect{0, 0, 1, 1}, Pixels: image.NewGray(image.Rect(0, 0, 0, 0))},
		}},
	} {
		var out bytes.Buffer
		if err := s.WriteSVG(&out); fault.CodeOf(err) != fault.Internal || out.Len() > 0 {
			t.Errorf("%s: error %v, %d bytes written", name, err, out.Len())
		}
	}
}

func TestWrapKeepsEveryWordAndTheWidth(t *testing.T) {
	const text = "supports a licensed surgeon's judgement and does not replace it"
	lines := Wrap(text, 120, 11)
	if strings.Join(lines, " ") != text || len(lines) < 3 {
		t.Errorf("%q", lines)
	}
	for _, line := range lines {
		if TextWidth(line, 11) > 120 {
			t.Errorf("%q is too wide", line)
		}
	}
	if got := Wrap("  ", 10, 10); got != nil {
		t.Errorf("%q of nothing", got)
	}
	if got := Wrap("incomprehensibilities", 10, 10); len(got) != 1 {
		t.Errorf("long word gave %q", got)
	}
}

func TestShapes(t *testing.T) {
	for _, p := range Ring(Point{5, 6}, 2, Stroke{}).Subpaths[0].Points {
		if d := math.Hypot(p.X-5, p.Y-6); math.Abs(d-2) > 1e-12 {
			t.Errorf("ring point at %g", d)
		}
	}
	r := Rect{1, 2, 3, 4}
	for _, p := range Box(r, Colour{}, Stroke{}).Subpaths[0].Points {
		if !r.Contains(p) {
			t.Errorf("%v outside its box", p)
		}
	}
}

// FuzzText: whatever a text holds, the document stays well-formed and gives
// the text back, but for characters that XML 1.0 (section 2.2) does not allow.
func FuzzText(f *testing.F) {
	for _, seed := range []string{"", "5 ± 1 µm", "a<b>&\"'", "]]>", "\x00\x1f\ufffe\xff", "  tab\tline\r\n", "<!--", "🧿"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s := &Scene{Name: text, Width: 1, Height: 1, Title: text, Description: text, Nodes: []Node{&Group{Name: text, Nodes: []Node{&Text{Value: text, Size: 1}}}}}
		got := texts(t, written(t, s))
		want := strings.Map(func(r rune) rune {
			switch {
			case r == '\t' || r == '\n' || r == '\r':
				return ' '
			case r < 0x20 || r == 0xFFFE || r == 0xFFFF:
				return utf8.RuneError
			}
			return r
		}, strings.ToValidUTF8(text, "\x00"))
		// One replacement a broken byte or a run of them: compare without them.
		clean := func(x string) string { return strings.ReplaceAll(x, string(utf8.RuneError), "") }
		if len(got) != 1 || clean(got[0]) != clean(want) {
			t.Errorf("%q came back as %q", text, got)
		}
	})
}
