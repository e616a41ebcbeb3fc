package typeset

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"github.com/go-text/typesetting/di"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"

	"limitans/fault"
)

// em is the size at which text is shaped, so that all measures come in
// thousandths of it.
const em = 1000

// NoWrap is a width that no line reaches.
const NoWrap = math.MaxInt32 / 128

const (
	isolateBegin = '\u2068'
	isolateEnd   = '\u2069'
)

// Isolate marks a text whose direction must not turn what stands beside it, such
// as a name in a sentence: without it the figures after an Arabic name would
// stand before it. The marks are those of UAX #9, so a browser reads them too.
func Isolate(text string) string {
	if text == "" {
		return ""
	}
	return string(isolateBegin) + text + string(isolateEnd)
}

// Span is a stretch of text in one weight; each has its own directions.
type Span struct {
	Text string
	Bold bool
}

// piece is a part of a span that was isolated or not.
type piece struct {
	Span
	isolated bool
}

// Style is what holds for a whole paragraph. Language is a BCP 47 tag, "en"
// when empty; RightToLeft is the direction of the paragraph, not of its words.
type Style struct {
	Language    string
	RightToLeft bool
}

// Glyph is one glyph of a [Cluster]; measures in thousandths of the em.
// DX and DY move it from its place without moving what follows; DY is upward.
type Glyph struct {
	ID      uint16
	Advance float64
	DX, DY  float64
}

// Cluster is the least piece of text that has glyphs of its own: a letter with
// its marks, a ligature, a syllable.
type Cluster struct {
	Face *Face
	// Embolden asks for an outline, because the face has no bold weight.
	Embolden    bool
	Text        string
	RightToLeft bool
	Glyphs      []Glyph
}

// Line is one line of glyphs in the order in which they stand, from the left.
type Line struct {
	Clusters []Cluster
	Width    float64 // thousandths of the em, without spaces at the end
}

// Setter sets text. One must not be used by two goroutines at once.
type Setter struct {
	shaper    shaping.HarfbuzzShaper
	segmenter shaping.Segmenter
	wrapper   shaping.LineWrapper
	faces     map[*font.Face]setFace
	weights   [2][]*font.Face
}

// setFace is a face as the shaper knows it.
type setFace struct {
	*Face
	embolden bool
}

// New makes a Setter; fonts are read on first use.
func New() *Setter { return &Setter{faces: map[*font.Face]setFace{}} }

// weight returns the faces of a weight. Each Setter has its own, because the
// shaper keeps notes in them.
func (s *Setter) weight(isBold bool, upTo int) ([]*font.Face, error) {
	at, sources := 0, regular
	if isBold {
		at, sources = 1, bold
	}
	for len(s.weights[at]) < min(upTo, len(sources)) {
		source := sources[len(s.weights[at])]
		face, err := source.load()
		if err != nil {
			return nil, err
		}
		own := font.NewFace(face.font)
		s.faces[own] = setFace{face, isBold && source.file == chinese.file}
		s.weights[at] = append(s.weights[at], own)
	}
	return s.weights[at], nil
}

// faceMap looks up letters in the faces of one weight.
type faceMap []*font.Face

// ResolveFace is called by the segmenter. Letters without a face were refused
// before.
func (m faceMap) ResolveFace(r rune) *font.Face {
	for _, f := range m {
		if _, has := f.NominalGlyph(r); has {
			return f
		}
	}
	return m[0]
}

// facesFor loads as many faces as the text needs and refuses what none holds.
func (s *Setter) facesFor(text string, isBold bool) (faceMap, error) {
	need := 1
	for _, r := range text {
		if unicode.Is(unicode.Bidi_Control, r) && r != '\u200e' && r != '\u200f' && r != '\u061c' {
			return nil, &fault.Error{
				Code: fault.Invalid, Where: "text", What: fmt.Sprintf("%q holds the unseen sign U+%04X, which turns the letters after it", text, r),
				Mend: "write the text without it",
			}
		}
		if unicode.IsControl(r) {
			return nil, &fault.Error{Code: fault.Invalid, Where: "text", What: fmt.Sprintf("%q holds the control character U+%04X", text, r), Mend: "write the text without it"}
		}
		if unicode.In(r, unicode.Cf, unicode.Variation_Selector) {
			continue
		}
		for at := 0; ; at++ {
			faces, err := s.weight(isBold, at+1)
			if err != nil {
				return nil, err
			}
			if at >= len(faces) {
				return nil, noGlyph(text, r)
			}
			if s.faces[faces[at]].holds(r) {
				need = max(need, at+1)
				break
			}
		}
	}
	return s.weights[weightIndex(isBold)][:need], nil
}

func weightIndex(isBold bool) int {
	if isBold {
		return 1
	}
	return 0
}

func noGlyph(text string, r rune) error {
	return &fault.Error{
		Code: fault.Unsupported, Where: "text", What: fmt.Sprintf("%q cannot be printed: %q (U+%04X) is in no font of this program", text, r, r),
		Expected: "Latin, Greek, Cyrillic, Arabic, Devanagari, Chinese, Japanese or Korean letters",
		Mend:     "write the name in one of these scripts as well, as it stands on the wristband",
	}
}

// Lines sets a paragraph in lines that are at most width wide, in thousandths
// of the em, or one line with [NoWrap]. Nothing is ever left out: a word longer
// than a line is broken. White space is one space each. An empty paragraph has
// no lines.
//
// Faults: Unsupported for a letter without a glyph, Invalid for a control
// character.
func (s *Setter) Lines(spans []Span, style Style, width float64) ([]Line, error) {
	if !(width > 0) {
		return nil, &fault.Error{Code: fault.Internal, Where: "text", What: fmt.Sprintf("a line cannot be %g wide", width)}
	}
	pieces, text := joined(spans)
	if len(text) == 0 {
		return nil, nil
	}
	direction := di.DirectionLTR
	if style.RightToLeft {
		direction = di.DirectionRTL
	}
	tag := style.Language
	if tag == "" {
		tag = "en"
	}
	var shaped []shaping.Output
	start := 0
	for _, span := range pieces {
		end := start + len([]rune(span.Text))
		faces, err := s.facesFor(span.Text, span.Bold)
		if err != nil {
			return nil, err
		}
		own := direction
		if span.isolated {
			own = firstStrong(span.Text)
		}
		whole := shaping.Input{
			Text: text, RunStart: start, RunEnd: end, Direction: own,
			Size: fixed.I(em), Language: language.NewLanguage(tag),
		}
		for _, part := range slices.Clone(s.segmenter.Split(whole, faces)) {
			shaped = append(shaped, s.shaper.Shape(part))
		}
		start = end
	}
	wrapped, _ := s.wrapper.WrapParagraphF(shaping.WrapConfig{Direction: direction}, fixed.Int26_6(min(width, NoWrap)*64), text, shaping.NewSliceIterator(shaped))
	lines := make([]Line, len(wrapped))
	for i, w := range wrapped {
		var err error
		if lines[i], err = s.line(w, text); err != nil {
			return nil, err
		}
	}
	return lines, nil
}

// isolated splits spans at the signs that isolate a stretch from the direction of
// its surroundings (U+2068 to U+2069): directions are found span by span. The
// signs themselves are not set.
func isolated(spans []Span) []piece {
	var out []piece
	for _, span := range spans {
		for i, part := range strings.Split(span.Text, string(isolateBegin)) {
			inner, after, closed := strings.Cut(part, string(isolateEnd))
			out = append(out, piece{Span{inner, span.Bold}, i > 0})
			if closed {
				out = append(out, piece{Span{strings.ReplaceAll(after, string(isolateEnd), ""), span.Bold}, false})
			}
		}
	}
	return out
}

// joined makes white space single and returns the letters of all spans.
func joined(spans []Span) (out []piece, text []rune) {
	space := true // none at the beginning
	for _, span := range isolated(spans) {
		var b strings.Builder
		for _, r := range span.Text {
			// A no-break space stays; other white space is one space.
			white := unicode.IsSpace(r) && r != '\u00a0' && r != '\u202f'
			if white && space {
				continue
			}
			if space = white; white {
				r = ' '
			}
			b.WriteRune(r)
		}
		if b.Len() > 0 {
			out = append(out, piece{Span{b.String(), span.Bold}, span.isolated})
			text = append(text, []rune(b.String())...)
		}
	}
	return out, text
}

// firstStrong is the direction of the first letter that has one, left to right
// without any (UAX #9, rules P2 and P3): that of an isolated stretch.
func firstStrong(text string) di.Direction {
	for _, r := range text {
		switch properties, _ := bidi.LookupRune(r); properties.Class() {
		case bidi.L:
			return di.DirectionLTR
		case bidi.R, bidi.AL:
			return di.DirectionRTL
		}
	}
	return di.DirectionLTR
}

// line turns a wrapped line into clusters, from the left.
func (s *Setter) line(wrapped shaping.Line, text []rune) (Line, error) {
	runs := slices.Clone(wrapped)
	slices.SortStableFunc(runs, func(a, b shaping.Output) int { return int(a.VisualIndex) - int(b.VisualIndex) })
	var out Line
	for _, run := range runs {
		out.Width += thousandths(run.Advance)
		face := s.faces[run.Face]
		for at := 0; at < len(run.Glyphs); {
			count := max(1, run.Glyphs[at].GlyphsCount())
			first := run.Glyphs[at].TextIndex()
			letters := string(text[first : first+max(1, run.Glyphs[at].RunesCount())])
			c := Cluster{Face: face.Face, Embolden: face.embolden, RightToLeft: run.Direction.Progression() == di.TowardTopLeft}
			c.Text = strings.ReplaceAll(letters, "\u00a0", " ") // the same to who reads the file
			for _, g := range run.Glyphs[at:min(at+count, len(run.Glyphs))] {
				if g.GlyphID == 0 || g.GlyphID > math.MaxUint16 {
					return Line{}, noGlyph(string(text), []rune(letters)[0])
				}
				c.Glyphs = append(c.Glyphs, Glyph{uint16(g.GlyphID), thousandths(g.Advance), thousandths(g.XOffset), thousandths(g.YOffset)})
			}
			out.Clusters = append(out.Clusters, c)
			at += count
		}
	}
	return out, nil
}

func thousandths(x fixed.Int26_6) float64 { return float64(x) / 64 }
