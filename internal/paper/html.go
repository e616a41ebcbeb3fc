package paper

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/paper/typeset"
)

// Stylesheet is the style of the print page, sheet.css. The page links to it and
// holds no style and no script of its own, so that it can be served with a strict
// content security policy; pictures in it are data.
//
//go:embed sheet.css
var Stylesheet []byte

// FontFiles are the fonts that [Stylesheet] names, by file name; they are served in
// the folder sheet-fonts beside it. Chinese, Japanese and Korean letters come from
// [LetterFont].
func FontFiles() (map[string][]byte, error) { return typeset.WebFonts() }

// LetterFont is a font of the Chinese, Japanese and Korean letters U+BB00 to U+BBFF
// for a print page, where block is BB; see [LetterStyle]. Fault: NotFound where no
// font of the program holds any of them.
func LetterFont(block uint8) ([]byte, error) { return typeset.WebBlock(block) }

// LetterStyle is the style that loads such fonts by the letters of a page, as the
// family "Sheet letters" of [Stylesheet]; address is the folder in which they are
// served as BB.ttf, in lower-case hexadecimal digits. A page that does without shows
// such letters in the fonts of whoever reads it.
func LetterStyle(address string) []byte {
	var b bytes.Buffer
	// The blocks of these scripts in the first plane of Unicode.
	for _, blocks := range [][2]int{{0x2e, 0x9f}, {0xac, 0xd7}, {0xf9, 0xfa}, {0xfe, 0xff}} {
		for n := blocks[0]; n <= blocks[1]; n++ {
			fmt.Fprintf(&b, "@font-face { font-family: \"Sheet letters\"; src: url(\"%s/%02x.ttf\") format(\"truetype\"); unicode-range: U+%02X00-%02XFF; }\n", address, n, n, n)
		}
	}
	return b.Bytes()
}

//go:embed sheet.html
var pageFile string

var pageTemplate = template.Must(template.New("sheet").Parse(pageFile))

// view is a block as the template of the page sees it; Kind says which fields
// are used.
type view struct {
	Kind  string
	Class string
	Sign  string // of a notice: note, caution or stop
	Title string
	Level string // size of a heading
	Spans []typeset.Span
	Rows  []viewRow
	Items []viewItem
	Cells []bigCellView
	Lines []string
	First int // number of the first item
	Lead  string
	Text  string
	Body  []view
	Other []view // right column, back of a card
	Image template.HTML
}

type viewRow struct{ Label, Value, Band, Note string }

type viewItem struct {
	Lead, Text, Answer, Note, Quantity, Sign string
	Tick, Traced, Spare                      bool
}

type bigCellView struct{ Label, Value, Band string }

// pageView is the whole page.
type pageView struct {
	Language, Direction, Title, DayLine, Signed, Banner, Stylesheet, Paper string
	Scale                                                                  string // class of what is to take one page, in print
	Name, OtherName, Whole                                                 string
	Write                                                                  []view   // lines for who it is, where that is written by hand
	Sides                                                                  []string // to tick
	Facts                                                                  []typeset.Span
	Side, Facing                                                           string
	Right                                                                  bool
	Body                                                                   []view
	Foot                                                                   []string
	Stamp                                                                  string
}

// HTML writes the sheet as a page. stylesheet is the address under which
// [Stylesheet] is served; size is the paper it prints on.
func (d *Document) HTML(size Size, stylesheet string) ([]byte, error) {
	return d.execute("page", size, stylesheet)
}

// Fragment writes the sheet without the document around it, for a page that has
// its own head and links to the stylesheet.
func (d *Document) Fragment(size Size) ([]byte, error) { return d.execute("fragment", size, "") }

func (d *Document) execute(name string, size Size, stylesheet string) ([]byte, error) {
	v := pageView{
		Language: d.words.Language, Direction: d.words.Direction, Title: d.title, DayLine: d.dayLine, Signed: d.signed, Banner: d.banner,
		Stylesheet: stylesheet, Paper: strings.ToLower(size.String()), Name: d.common.Patient.Name, OtherName: d.common.Patient.OtherName,
		Whole: d.Title(), Facts: d.facts(), Side: d.sideWord(), Facing: d.words.say("facing"), Right: d.common.Side.String() == "Right",
		Foot:  d.footLines(),
		Stamp: d.stamp(),
	}
	if d.byHand {
		v.Write, v.Sides = views(byHandBlanks(d.words)), d.sidesToTick()
	}
	if len(d.scales) > 0 && d.pages <= 1 {
		c, _, err := d.fit(size)
		if err != nil {
			return nil, err
		}
		v.Scale = fmt.Sprintf(" scale-%.0f", 100*c.scale)
	}
	v.Body = views(d.body)
	var out bytes.Buffer
	if err := pageTemplate.ExecuteTemplate(&out, name, v); err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "sheet", What: "the page cannot be written: " + err.Error(), Cause: err}
	}
	return out.Bytes(), nil
}

func views(blocks []block) []view {
	var out []view
	for _, b := range blocks {
		out = append(out, b.view())
	}
	return out
}

func (b paragraph) view() view {
	v := view{Kind: "text", Spans: b.spans, Class: sizeClass(b.size)}
	if b.quiet {
		v.Class += " quiet"
	}
	return v
}

// sizeClass names the rule of the stylesheet for letters of a size.
func sizeClass(points float64) string {
	return "pt" + strings.ReplaceAll(strconv.FormatFloat(points, 'f', -1, 64), ".", "-")
}

func (b section) view() view {
	v := view{Kind: "section", Title: b.title, Body: views(b.body)}
	if b.size >= leafletHead {
		v.Class = "large"
	}
	return v
}

func (b columns) view() view {
	return view{Kind: "columns", Body: views(b.left), Other: views(b.right)}
}

func (b together) view() view { return view{Kind: "together", Body: views(b.body)} }

func (b table) view() view {
	v := view{Kind: "table"}
	if b.size >= leafletText {
		v.Class = "large"
	}
	for _, r := range b.rows {
		v.Rows = append(v.Rows, viewRow{r.label, r.value, r.band, r.note})
	}
	return v
}

func (b list) view() view {
	v := view{Kind: "list", First: b.from + 1, Class: map[mark]string{
		markNumber: "numbers", markTick: "ticks", markNumberTick: "numbers ticks", markDot: "dots", markNo: "forbidden",
	}[b.mark]}
	switch {
	case b.size >= 12:
		v.Class += " large"
	case b.size < 9:
		v.Class += " fine"
	default:
		v.Class += " " + sizeClass(b.size)
	}
	for _, i := range b.items {
		item := viewItem{Lead: i.lead, Text: i.text, Answer: i.answer, Note: i.note, Tick: b.mark == markTick || b.mark == markNumberTick}
		if b.mark == markNo {
			item.Sign = "forbidden"
		}
		v.Items = append(v.Items, item)
	}
	return v
}

func (b notice) view() view {
	v := view{Kind: "notice", Class: string(b.role), Sign: string(b.role), Lead: b.lead, Text: b.text}
	if b.size >= leafletText {
		v.Class += " large"
	}
	return v
}

func (b big) view() view {
	v := view{Kind: "big"}
	for _, c := range b.cells {
		v.Cells = append(v.Cells, bigCellView{c.label, c.value, c.band})
	}
	return v
}

func (b blanks) view() view {
	v := view{Kind: "blanks", Lines: b.labels, Class: sizeClass(b.size)}
	if b.single {
		v.Class += " single"
	}
	return v
}

func (b label) view() view {
	v := view{Kind: "label", Lines: b.lines, Class: sizeClass(b.size)}
	if b.wide {
		v.Class += " wide"
	}
	return v
}

func (b picture) view() view {
	v := view{Kind: "picture", Image: inlineSVG(b.scene), Text: b.caption}
	if b.caption != "" {
		v.Class = "slice"
	}
	return v
}

func (b kitTable) view() view {
	v := view{Kind: "kit"}
	for _, i := range b.items {
		v.Items = append(v.Items, viewItem{Text: i.Name, Note: i.Note, Quantity: i.Quantity, Traced: i.Traced, Spare: i.Spare})
	}
	return v
}

func (b folded) view() view {
	side := func(texts []cardLine) []view {
		var out []view
		for _, t := range texts {
			v := view{Kind: "text", Spans: t.spans, Class: sizeClass(t.size)}
			switch {
			case t.inverse:
				v.Class += " inverse"
			case t.write:
				v.Class = "write"
			}
			out = append(out, v)
		}
		return out
	}
	return view{Kind: "card", Body: side(b.front), Other: side(b.back), Text: b.language.Direction}
}

// inlineSVG writes a scene into a page. Its two style attributes, which a strict
// policy forbids, become an attribute of SVG 2 and a rule of the stylesheet. A
// scene that cannot be written leaves its description.
func inlineSVG(s *scene.Scene) template.HTML {
	var out bytes.Buffer
	if err := s.WriteSVG(&out); err != nil {
		return template.HTML("<p>" + template.HTMLEscapeString(s.Description) + "</p>")
	}
	text := strings.ReplaceAll(out.String(), ` style="paint-order:stroke"`, ` paint-order="stroke"`)
	text = strings.ReplaceAll(text, ` style="font-variant-numeric:tabular-nums"`, ``)
	return template.HTML(text) // written by WriteSVG, which escapes every text
}
