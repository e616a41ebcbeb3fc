package pdf

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"

	"limitans/internal/paper/typeset"
)

// usedFont is a face with the glyphs that a file uses. They are numbered anew
// in the order of their first use.
type usedFont struct {
	index  int
	face   *typeset.Face
	glyphs []uint16
	place  map[uint16]int
	text   map[uint16]string // what a glyph alone stands for
}

// font finds or adds a face.
func (f *File) font(face *typeset.Face) *usedFont {
	for _, u := range f.fonts {
		if u.face == face {
			return u
		}
	}
	u := &usedFont{index: len(f.fonts), face: face, glyphs: []uint16{0}, place: map[uint16]int{0: 0}, text: map[uint16]string{}}
	f.fonts = append(f.fonts, u)
	return u
}

// maps reports whether the glyphs of a cluster alone tell its text, and enters
// that where it is new.
func (u *usedFont) maps(c typeset.Cluster) bool {
	texts := glyphTexts(c)
	for i, t := range texts {
		if known, has := u.text[c.Glyphs[i].ID]; has && known != t {
			return false
		}
	}
	for i, t := range texts {
		u.text[c.Glyphs[i].ID] = t
	}
	return texts != nil
}

// glyphTexts is what each glyph of a cluster stands for; nil where that cannot be
// told.
func glyphTexts(c typeset.Cluster) []string {
	letters := []rune(c.Text)
	switch {
	case len(c.Glyphs) == 1 && c.RightToLeft && lamAlef[c.Text] != "":
		return []string{lamAlef[c.Text]}
	case len(c.Glyphs) == 1:
		return []string{c.Text}
	case c.RightToLeft && len(c.Glyphs) == len(letters): // a letter with its marks, drawn from the left
		texts := make([]string, len(letters))
		for i, r := range letters {
			texts[len(letters)-1-i] = string(r)
		}
		return texts
	}
	return nil
}

// lamAlef are the joined letters lam and alef as the one letter that Unicode has
// for each (block Arabic Presentation Forms-B), which is compatible with the two:
// programs that turn right-to-left lines around would turn the two as well.
var lamAlef = map[string]string{"لا": "\ufefb", "لأ": "\ufef7", "لإ": "\ufef9", "لآ": "\ufef5"}

// show is the string that shows a glyph.
func (u *usedFont) show(glyph uint16) string {
	at, known := u.place[glyph]
	if !known {
		at = len(u.glyphs)
		u.glyphs = append(u.glyphs, glyph)
		u.place[glyph] = at
	}
	return fmt.Sprintf("<%04X>", at)
}

// write adds the font's objects and returns the number of the first.
func (u *usedFont) write(w *writer) (int, error) {
	data, err := u.face.Subset(u.glyphs)
	if err != nil {
		return 0, err
	}
	font, descendant, descriptor, file, unicodes := w.reserve(), w.reserve(), w.reserve(), w.reserve(), w.reserve()
	name := subsetTag(u.index) + "+" + u.face.Name
	w.object(font, "<</Type/Font/Subtype/Type0/BaseFont/%s/Encoding/Identity-H/DescendantFonts[%d 0 R]/ToUnicode %d 0 R>>", name, descendant, unicodes)
	var widths strings.Builder
	for _, g := range u.glyphs {
		widths.WriteString(number(u.face.Width(g)) + " ")
	}
	w.object(descendant, "<</Type/Font/Subtype/CIDFontType2/BaseFont/%s/CIDSystemInfo<</Registry(Adobe)/Ordering(Identity)/Supplement 0>>"+
		"/FontDescriptor %d 0 R/CIDToGIDMap/Identity/DW 1000/W[0[%s]]>>", name, descriptor, widths.String())
	box := u.face.Box
	w.object(descriptor, "<</Type/FontDescriptor/FontName/%s/Flags 4/FontBBox[%s %s %s %s]/ItalicAngle 0/Ascent %s/Descent %s/CapHeight 700/StemV 80/FontFile2 %d 0 R>>",
		name, number(box[0]), number(box[1]), number(box[2]), number(box[3]), number(u.face.Ascender), number(u.face.Descender), file)
	if err := w.stream(file, fmt.Sprintf("/Length1 %d", len(data)), data); err != nil {
		return 0, err
	}
	return font, w.stream(unicodes, "", u.toUnicode())
}

// subsetTag is the six letters that mark a subset (section 9.6.4).
func subsetTag(index int) string {
	return "LIMIT" + string(rune('A'+index%26))
}

// toUnicode is the table from glyphs to text (section 9.10.3).
func (u *usedFont) toUnicode() []byte {
	var lines []string
	for i, g := range u.glyphs {
		if t, has := u.text[g]; has {
			var hex strings.Builder
			for _, unit := range utf16.Encode([]rune(t)) {
				fmt.Fprintf(&hex, "%04X", unit)
			}
			lines = append(lines, fmt.Sprintf("<%04X><%s>", i, hex.String()))
		}
	}
	var b strings.Builder
	b.WriteString("/CIDInit/ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo<</Registry(Adobe)/Ordering(UCS)/Supplement 0>>def\n/CMapName/Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000><FFFF>\nendcodespacerange\n")
	for len(lines) > 0 {
		n := min(100, len(lines))
		fmt.Fprintf(&b, "%d beginbfchar\n%s\nendbfchar\n", n, strings.Join(lines[:n], "\n"))
		lines = lines[n:]
	}
	b.WriteString("endcmap\nCMapName currentdict/CMap defineresource pop\nend\nend\n")
	return []byte(b.String())
}

func number6(x float64) string { return strconv.FormatFloat(x, 'f', 6, 64) }
