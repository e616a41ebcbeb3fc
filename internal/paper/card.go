package paper

import (
	"strings"

	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

// Card is the card for the wallet: which eye holds what since when, and what
// must not be done. In another language than English a second card in English
// follows, because whoever gives an anaesthetic must be able to read it.
type Card struct {
	Common
	Filling Filling
	Phone   Telephone
	Words   *Words // nil for English
}

// Document makes a page with the card.
func (k Card) Document() (*Document, error) {
	d, err := k.Common.patientDocument(k.Words)
	if err != nil {
		return nil, err
	}
	if err := k.Filling.check(); err != nil {
		return nil, err
	}
	d.title = d.words.say("card_title")
	how := "card_how_gas"
	if k.Filling.Oil {
		how = "card_how_oil"
	}
	second := d.words
	if d.words.Language != "en" {
		if second, err = English(); err != nil {
			return nil, err
		}
	}
	d.body = append(d.body, paragraph{spans: plain(d.words.say(how)), size: 12.5}, k.fold(d.words), k.fold(second))
	if !k.Filling.Oil {
		d.body = append(d.body, section{title: d.words.say("band_title"), size: 12, above: 20, body: []block{label{
			wide: true, size: 12.5,
			lines: nonEmpty(d.words.say("band_gas"), strings.Join(nonEmpty(d.sideWord(), k.Filling.agent(d.words), d.words.date(k.Surgery)), "  ·  "), strings.Join(nonEmpty(k.Patient.name(), d.words.date(k.Patient.Born), typeset.Isolate(k.Patient.Identifier)), "  ·  ")),
		}}})
	}
	return d, nil
}

// fold is the card with its front and its back.
func (k Card) fold(w *Words) folded {
	f := folded{language: w, above: 16}
	eyeWord := w.say("left_eye_large")
	if k.Side.String() == "Right" {
		eyeWord = w.say("right_eye_large")
	}
	agent := w.say("card_agent_gas")
	switch {
	case k.Filling.Oil:
		agent = w.say("card_agent_oil")
	case k.Filling.agent(w) == w.say("agent_air"):
		agent = w.say("card_agent_air")
	}
	what := k.Filling.agent(w)
	if on := w.date(k.Surgery); on != "" {
		what += ", " + w.fill("card_since", map[string]string{"date": on})
	}
	f.front = []cardLine{
		{spans: strong(eyeWord), size: 21, inverse: true},
		{spans: strong(agent), size: 11.5, inverse: true},
		{spans: plain(what), size: 10.5},
		{spans: strong(k.Patient.Name), size: 15},
	}
	if k.Patient.OtherName != "" {
		f.front = append(f.front, cardLine{spans: plain(k.Patient.OtherName), size: 11})
	}
	born := w.date(k.Patient.Born)
	if born != "" {
		born = w.say("born") + " " + born
	}
	number := ""
	if k.Patient.Identifier != "" {
		number = w.say("number") + " " + typeset.Isolate(k.Patient.Identifier)
	}
	f.front = append(f.front, cardLine{spans: plain(strings.Join(nonEmpty(born, number), "  ·  ")), size: 10})
	if k.Unit != "" {
		f.front = append(f.front, cardLine{spans: plain(k.Unit), size: 9.5})
	}
	if k.Filling.Oil {
		f.back = []cardLine{
			{spans: strong(w.say("card_oil_scan")), size: 14, inverse: true},
			{spans: plain(w.say("card_oil_ultrasound")), size: 11},
			{spans: plain(w.say("card_oil_out")), size: 11},
		}
	} else {
		f.back = []cardLine{
			{spans: strong(w.say("card_no_nitrous")), size: 19, inverse: true},
			{spans: plain("(" + w.say("card_no_nitrous_more") + ")"), size: 9.5},
			{spans: strong(w.say("card_no_heights")), size: 13},
			{spans: strong(w.say("card_until")), size: 11.5},
			{spans: plain(w.say("card_danger")), size: 10},
		}
	}
	f.back = append(f.back, k.Phone.callLines(w)...)
	return f
}

// The size of a card, ISO/IEC 7810 ID-1, 85.60 × 53.98 mm (from memory).
const (
	cardWidth  = 85.60 * 72 / 25.4
	cardHeight = 53.98 * 72 / 25.4
)

// cardLine is one text of a card; inverse texts are white on black. One to write on
// is a rule and no text.
type cardLine struct {
	spans   []typeset.Span
	size    float64
	inverse bool
	write   bool
}

// tall is the height of the line as set.
func (t cardLine) tall(lines []typeset.Line, size float64) float64 {
	if t.write {
		return 1.9 * t.size // for a hand, whatever the letters shrink to
	}
	return linesHeight(lines, size)
}

// folded is a card with its front beside its back.
type folded struct {
	language    *Words
	front, back []cardLine
	above       float64
}

func (b folded) space() float64 { return b.above }

func (b folded) lay(c *composer, width, height float64) (piece, block) {
	own := *c
	own.style = typeset.Style{Language: b.language.Language, RightToLeft: b.language.rightToLeft()}
	if cardHeight+4 > height || 2*cardWidth > width {
		return nothing(), b
	}
	front, err := own.cardFace(b.front)
	if err == nil {
		var back piece
		if back, err = own.cardFace(b.back); err == nil {
			return piece{cardHeight + 4, func(p *pdf.Page, x, y float64) {
				left := x + (width-2*cardWidth)/2
				front.draw(p, left, y)
				back.draw(p, left+cardWidth, y)
				dash := scene.Stroke{Colour: black, Width: 0.7, Dash: []float64{4, 3}}
				box(p, left, y, 2*cardWidth, cardHeight, scene.Colour{}, dash)
				p.Path(scene.Line(scene.Stroke{Colour: hair, Width: 0.7, Dash: []float64{1, 2}}, point(left+cardWidth, y), point(left+cardWidth, y+cardHeight)))
			}}, nil
		}
	}
	if c.err == nil {
		c.err = err
	}
	return piece{height: cardHeight, draw: nothing().draw}, nil
}

// cardFace sets one face, with letters as large as go, down to two thirds.
func (c *composer) cardFace(texts []cardLine) (piece, error) {
	const pad = 9.0
	width := cardWidth - 2*pad
	for shrink := 1.0; shrink >= 0.66; shrink -= 0.03 {
		var set [][]typeset.Line
		tall := 0.0
		for _, t := range texts {
			lines := c.lines(t.spans, t.size*shrink, width)
			set = append(set, lines)
			tall += t.tall(lines, t.size*shrink)
			tall += 2
			if t.inverse {
				tall += 4
			}
		}
		if c.err != nil {
			return piece{}, c.err
		}
		if tall > cardHeight-2*pad+4 {
			continue
		}
		slack := min((cardHeight-2*pad-tall)/float64(max(1, len(texts)-1)), 7)
		return piece{cardHeight, func(p *pdf.Page, x, y float64) {
			at := y + pad - 2
			tops := make([]float64, len(texts))
			for i, t := range texts {
				tops[i] = at
				high := t.tall(set[i], t.size*shrink)
				if t.inverse { // from the edge of the card or the line before; letters come after, over all of it
					box(p, x, at-pad+2, cardWidth, high+pad+3, black, scene.Stroke{})
				}
				at += high
				switch {
				case t.inverse && i+1 < len(texts) && texts[i+1].inverse:
				case t.inverse:
					at += 8 + max(0, slack)
				default:
					at += 2 + max(0, slack)
				}
			}
			for i, t := range texts {
				if t.write {
					base := tops[i] + t.tall(nil, 0) - 3
					rule(p, x+pad, base, x+cardWidth-pad, base, 0.7, black)
				}
				ink := black
				if t.inverse {
					ink = white
				}
				c.drawLines(p, set[i], t.size*shrink, x+pad, tops[i], width, ink)
			}
		}}, nil
	}
	return piece{}, &fault.Error{Code: fault.Unsupported, Where: "card", What: "the texts do not fit on a card", Mend: "shorten the name of the patient or the unit"}
}
