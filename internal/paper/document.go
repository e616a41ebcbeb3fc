package paper

import (
	"fmt"
	"strings"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/caution"
	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
	"limitans/internal/record"
)

// Size is a size of paper.
type Size int

// The sizes: ISO 216 A4, 210 × 297 mm, and US Letter, 8.5 × 11 inches
// (ANSI/ASME Y14.1; both from memory).
const (
	A4 Size = iota
	Letter
)

// ParseSize reads "a4" or "letter" in any case.
func ParseSize(text string) (Size, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "a4":
		return A4, nil
	case "letter":
		return Letter, nil
	}
	return A4, &fault.Error{Code: fault.Invalid, Where: "paper", What: fmt.Sprintf("%q is no size", text), Expected: "A4 or Letter"}
}

// String is "A4" or "Letter".
func (s Size) String() string {
	if s == Letter {
		return "Letter"
	}
	return "A4"
}

// points returns width and height.
func (s Size) points() (width, height float64) {
	if s == Letter {
		return 612, 792
	}
	return 210 * 72 / 25.4, 297 * 72 / 25.4
}

// Patient is who a sheet is about, as on the wristband. OtherName is the name in
// a second script where the unit keeps one.
type Patient struct {
	Name       string
	OtherName  string
	Born       record.Date
	Identifier string
}

// name is the name for the middle of a sentence in any direction.
func (p Patient) name() string { return typeset.Isolate(p.Name) }

// Version is where a signed plan stands in the order of its versions. Number 0
// is a plan that nobody has signed.
type Version struct {
	Number     int
	SignedBy   string
	SignedOn   record.Date
	ReplacedBy int // number of the later version; 0 while this one holds
	ReplacedOn record.Date
}

// Common is what every sheet needs.
type Common struct {
	Patient Patient
	Side    eye.Laterality
	Surgery record.Date // day of the operation
	Unit    string      // hospital or clinic
	Made    time.Time   // printed in the foot as it is; sheets take time as an input
}

// check refuses what would make a sheet dangerous.
func (c Common) check() error {
	switch {
	case strings.TrimSpace(c.Patient.Name) == "":
		return missing("patient's name", "the name as on the wristband")
	case c.Side != eye.Right && c.Side != eye.Left:
		return missing("side", "right or left")
	}
	return c.checkDays()
}

// checkByHand refuses a sheet to be filled in by hand that is half filled in.
func (c Common) checkByHand() error {
	if c.Patient != (Patient{}) || c.Side != eye.SideUnknown {
		return &fault.Error{Code: fault.Invalid, Where: "sheet", What: "is to be filled in by hand and tells something of a patient", Expected: "either the whole patient or nothing"}
	}
	return c.checkDays()
}

func (c Common) checkDays() error {
	if c.Made.IsZero() {
		return missing("time of printing", "a date")
	}
	for _, d := range []record.Date{c.Patient.Born, c.Surgery} {
		if err := d.Check(); err != nil {
			return err
		}
		if d.Relative {
			return &fault.Error{Code: fault.Invalid, Where: "sheet", What: "a date is told as days from surgery", Expected: "a day of the calendar", Mend: "print sheets from the record, not from a de-identified view"}
		}
	}
	return nil
}

func missing(what, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: "sheet", What: what + " is missing", Expected: expected}
}

// Document is a sheet ready to be printed, either as PDF or as a page; both show
// the same blocks. Make one with the Document method of an input.
type Document struct {
	common Common
	words  *Words
	// title names the kind of sheet, dayLine stands at the right of it.
	title, dayLine string
	// byHand leaves the box of the patient to be filled in; common names nobody.
	byHand bool
	// banner is drawn over everything where the sheet no longer holds.
	banner string
	signed string // who stands for it
	body   []block
	foot   []string
	// scales are tried in turn until the sheet takes that many pages, one if none
	// are told; the last may take more. Empty for scale 1 alone.
	scales []float64
	pages  int
}

// Layout of the page, in points.
const (
	marginX = 42.0
	marginY = 34.0
)

// head is the part above the body, the same on every page.
func (d *Document) head(c *composer, width float64) piece {
	const boxWidth, boxHeight = 178.0, 53.0
	small := 9.0
	line := func(text string, bold bool) typeset.Line {
		set, err := c.oneLine(text, bold)
		if err != nil && c.err == nil {
			c.err = err
		}
		return set
	}
	title, day := line(d.title, true), line(d.dayLine, false)
	inner := width - boxWidth - 16
	who := d.who(c, inner)
	tall := 20 + max(who.height, boxHeight) + 8
	signed := c.lines(plain(d.signed), small, width)
	bannerSize := 13.0
	banner := c.lines(strong(d.banner), bannerSize, width-24)
	whole := tall + linesHeight(signed, small)
	if len(banner) > 0 {
		whole += linesHeight(banner, bannerSize) + 16
	}
	return piece{whole + 10, func(p *pdf.Page, x, y float64) {
		titleX, dayX := x, x+width-day.Width*0.01
		if c.style.RightToLeft {
			titleX, dayX = x+width-title.Width*0.01, x
		}
		p.Text(titleX, y+9, title, 10, black)
		p.Text(dayX, y+9, day, 10, black)
		rule(p, x, y+14.5, x+width, y+14.5, 1.6, black)
		top := y + 20
		nameX, sideX := x, x+width-boxWidth
		if c.style.RightToLeft {
			nameX, sideX = x+boxWidth+16, x
		}
		who.draw(p, nameX, top)
		if d.byHand {
			d.drawSides(c, p, sideX, top+2, boxWidth, boxHeight)
		} else {
			d.drawSide(c, p, sideX, top+2, boxWidth, boxHeight)
		}
		at := y + tall
		c.drawLines(p, signed, small, x, at, width, black)
		at += linesHeight(signed, small)
		if len(banner) > 0 {
			box(p, x, at+2, width, linesHeight(banner, bannerSize)+12, black, scene.Stroke{})
			c.drawLines(p, banner, bannerSize, x+12, at+7, width-24, white)
			at += linesHeight(banner, bannerSize) + 16
		}
		rule(p, x, at+3, x+width, at+3, 0.6, black)
	}}
}

// who is the patient, or the lines on which somebody writes who it is.
func (d *Document) who(c *composer, width float64) piece {
	const nameSize, otherSize, factSize = 21.0, 13.0, 11.0
	if d.byHand {
		lines, _ := c.flow(byHandBlanks(d.words), width, c.pt(200))
		return lines
	}
	name := c.lines(strong(d.common.Patient.Name), nameSize, width)
	other := c.lines(plain(d.common.Patient.OtherName), otherSize, width)
	facts := c.lines(d.facts(), factSize, width)
	return piece{linesHeight(name, nameSize) + linesHeight(other, otherSize) + linesHeight(facts, factSize), func(p *pdf.Page, x, y float64) {
		c.drawLines(p, name, nameSize, x, y, width, black)
		c.drawLines(p, other, otherSize, x, y+linesHeight(name, nameSize), width, black)
		c.drawLines(p, facts, factSize, x, y+linesHeight(name, nameSize)+linesHeight(other, otherSize), width, black)
	}}
}

// byHandBlanks are the lines for who the patient is.
func byHandBlanks(w *Words) []block {
	return []block{
		blanks{labels: []string{w.say("name")}, size: 12, single: true},
		blanks{labels: []string{w.say("born"), w.say("number")}, size: 11},
	}
}

// facts are date of birth and number, in one line.
func (d *Document) facts() []typeset.Span {
	born := d.words.date(d.common.Patient.Born)
	if born == "" {
		born = d.words.say("not_told")
	}
	number := d.common.Patient.Identifier
	if strings.TrimSpace(number) == "" {
		number = d.words.say("not_told")
	}
	return []typeset.Span{
		{Text: d.words.say("born") + " "},
		{Text: strings.ReplaceAll(born, " ", "\u00a0"), Bold: true},
		{Text: "  ·  " + d.words.say("number") + " "},
		{Text: typeset.Isolate(number), Bold: true},
	}
}

// sideWord is "RIGHT EYE" or "LEFT EYE" in the language of the sheet.
func (d *Document) sideWord() string {
	if d.common.Side == eye.Right {
		return d.words.say("right_eye_large")
	}
	return d.words.say("left_eye_large")
}

// drawSide draws the side, white on black, with the two eyes as the patient
// faces the reader.
func (d *Document) drawSide(c *composer, p *pdf.Page, x, y, width, height float64) {
	box(p, x, y, width, height, black, scene.Stroke{})
	word, err := c.oneLine(d.sideWord(), true)
	if err != nil {
		c.err = err
		return
	}
	size := min(25, (width-20)*1000/word.Width)
	p.Text(x+(width-word.Width*size/1000)/2, y+0.48*height, word, size, white)
	small, err := c.oneLine(d.words.say("facing"), false)
	if err != nil {
		c.err = err
		return
	}
	const eyeSize = 15.0
	textSize := 7.5
	row := 2*eyeSize + 10 + small.Width*textSize/1000 + 7
	left := x + (width-row)/2
	for i, side := range []eye.Laterality{eye.Right, eye.Left} {
		p.Path(eyeShape(left+float64(i)*(eyeSize+8), y+height-13, eyeSize, side == d.common.Side, white))
	}
	p.Text(left+2*eyeSize+8+7, y+height-10.5, small, textSize, white)
}

// drawSides draws both sides with a box to tick, black on white.
func (d *Document) drawSides(c *composer, p *pdf.Page, x, y, width, height float64) {
	box(p, x+0.8, y+0.8, width-1.6, height-1.6, white, scene.Stroke{Colour: black, Width: 1.6})
	const size, tick = 16.0, 14.0
	for i, word := range d.sidesToTick() {
		line, err := c.oneLine(word, true)
		if err != nil {
			c.err = err
			return
		}
		middle := y + height*(0.28+0.44*float64(i))
		box(p, x+14, middle-tick/2, tick, tick, white, scene.Stroke{Colour: black, Width: 1.2})
		p.Text(x+38, middle+0.36*size, line, size, black)
	}
}

// sidesToTick are the two sides, the right one first.
func (d *Document) sidesToTick() []string {
	return []string{d.words.say("right_eye_large"), d.words.say("left_eye_large")}
}

// about is the patient and the side, empty while they are to be filled in by hand.
func (d *Document) about() string {
	if d.byHand {
		return ""
	}
	return d.common.Patient.name() + ", " + d.sideWord()
}

// stamp is who, which eye, where and when, in one line of the foot.
func (d *Document) stamp() string {
	return strings.Join(nonEmpty(
		d.about(), typeset.Isolate(d.common.Unit), d.words.say("printed")+" "+d.words.moment(d.common.Made),
	), "  ·  ")
}

// footSize is the size of the cautions in the foot.
const footSize = 7.4

// footLines are the cautions, with who and which eye once more.
func (d *Document) footLines() []string {
	return append(append([]string{}, d.foot...), typeset.Isolate(caution.Short()))
}

// foot is the part below the body.
func (d *Document) footPiece(c *composer, width float64, page, pages int) piece {
	var lines []typeset.Line
	for _, text := range d.footLines() {
		lines = append(lines, c.lines(plain(text), footSize, width)...)
	}
	who := c.lines(plain(d.stamp()), footSize+0.6, width-120)
	count := d.words.fill("page_of", map[string]string{"page": fmt.Sprint(page), "pages": fmt.Sprint(pages)})
	if page < pages {
		count += ", " + d.words.say("continues")
	}
	pageLine, err := c.oneLine(count, page < pages)
	if err != nil && c.err == nil {
		c.err = err
	}
	tall := linesHeight(lines, footSize) + linesHeight(who, footSize+0.6) + 10
	return piece{tall, func(p *pdf.Page, x, y float64) {
		rule(p, x, y+3, x+width, y+3, 0.6, black)
		c.drawLines(p, lines, footSize, x, y+6, width, soft)
		at := y + 8 + linesHeight(lines, footSize)
		whoX, countX := x, x+width-pageLine.Width*(footSize+0.6)/1000
		if c.style.RightToLeft {
			whoX, countX = x+120, x
		}
		c.drawLines(p, who, footSize+0.6, whoX, at, width-120, black)
		p.Text(countX, at+(footSize+0.6)*1.04, pageLine, footSize+0.6, black)
	}}
}

// PDF writes the sheet as a PDF file. The same sheet gives the same bytes.
//
// Faults: Unsupported for a name with a letter that no font of the program
// holds, and for a text too long for a page.
func (d *Document) PDF(size Size) ([]byte, error) {
	c, pages, err := d.fit(size)
	if err != nil {
		return nil, err
	}
	return d.drawPages(c, size, pages)
}

// fit sets the sheet at the first of its scales at which it takes the pages that it
// should, else at the last.
func (d *Document) fit(size Size) (c *composer, pages []piece, err error) {
	scales := d.scales
	if len(scales) == 0 {
		scales = []float64{1}
	}
	set := typeset.New()
	for _, scale := range scales {
		c = &composer{set: set, style: typeset.Style{Language: d.words.Language, RightToLeft: d.words.rightToLeft()}, scale: scale}
		if pages, err = d.layPages(c, size); err != nil || len(pages) <= max(1, d.pages) {
			break
		}
	}
	return c, pages, err
}

// layPages sets the body, page by page.
func (d *Document) layPages(c *composer, size Size) ([]piece, error) {
	width, height := size.points()
	width -= 2 * marginX
	head, foot := d.head(c, width), d.footPiece(c, width, 1, 2)
	c.page = height - 2*marginY - head.height - foot.height - 8
	if c.err == nil && c.page < 200 {
		c.err = &fault.Error{Code: fault.Unsupported, Where: "sheet", What: "the head leaves no room for the sheet", Mend: "shorten the name or the reasons"}
	}
	var pages []piece
	for rest := d.body; len(rest) > 0 && c.err == nil; {
		set, left := c.flow(rest, width, c.page)
		if set.height == 0 && len(left) > 0 {
			return nil, &fault.Error{Code: fault.Unsupported, Where: "sheet", What: "one text is longer than a page of " + size.String(), Mend: "shorten it"}
		}
		pages, rest = append(pages, set), left
	}
	return pages, c.err
}

// drawPages draws what was set.
func (d *Document) drawPages(c *composer, size Size, pages []piece) ([]byte, error) {
	width, height := size.points()
	file := pdf.New(pdf.Info{Title: d.Title(), Language: d.words.Language, Made: d.common.Made})
	for i, body := range pages {
		page := file.Page(width, height)
		inner := width - 2*marginX
		head := d.head(c, inner)
		head.draw(page, marginX, marginY)
		body.draw(page, marginX, marginY+head.height)
		foot := d.footPiece(c, inner, i+1, len(pages))
		foot.draw(page, marginX, height-marginY-foot.height)
	}
	if c.err != nil {
		return nil, c.err
	}
	return file.Bytes()
}

// Title is the kind of sheet with who it is for.
func (d *Document) Title() string {
	if d.byHand {
		return d.title
	}
	return d.title + ": " + d.common.Patient.Name + ", " + d.sideWord()
}

// nonEmpty drops empty texts.
func nonEmpty(texts ...string) []string {
	var out []string
	for _, t := range texts {
		if strings.TrimSpace(t) != "" {
			out = append(out, t)
		}
	}
	return out
}
