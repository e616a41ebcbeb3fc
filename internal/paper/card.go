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
	Phone   string
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
		{strong(eyeWord), 21, true},
		{strong(agent), 11.5, true},
		{plain(what), 10.5, false},
		{strong(k.Patient.Name), 15, false},
	}
	if k.Patient.OtherName != "" {
		f.front = append(f.front, cardLine{plain(k.Patient.OtherName), 11, false})
	}
	born := w.date(k.Patient.Born)
	if born != "" {
		born = w.say("born") + " " + born
	}
	number := ""
	if k.Patient.Identifier != "" {
		number = w.say("number") + " " + typeset.Isolate(k.Patient.Identifier)
	}
	f.front = append(f.front, cardLine{plain(strings.Join(nonEmpty(born, number), "  ·  ")), 10, false})
	if k.Unit != "" {
		f.front = append(f.front, cardLine{plain(k.Unit), 9.5, false})
	}
	if k.Filling.Oil {
		f.back = []cardLine{
			{strong(w.say("card_oil_scan")), 14, true},
			{plain(w.say("card_oil_ultrasound")), 11, false},
			{plain(w.say("card_oil_out")), 11, false},
		}
	} else {
		f.back = []cardLine{
			{strong(w.say("card_no_nitrous")), 19, true},
			{plain("(" + w.say("card_no_nitrous_more") + ")"), 9.5, false},
			{strong(w.say("card_no_heights")), 13, false},
			{strong(w.say("card_until")), 11.5, false},
			{plain(w.say("card_danger")), 10, false},
		}
	}
	phone := k.Phone
	if strings.TrimSpace(phone) == "" {
		phone = "________________"
	}
	f.back = append(f.back, cardLine{[]typeset.Span{{Text: w.say("card_call") + " "}, {Text: typeset.Isolate(phone), Bold: true}}, 10, false})
	return f
}

// The size of a card, ISO/IEC 7810 ID-1, 85.60 × 53.98 mm (from memory).
const (
	cardWidth  = 85.60 * 72 / 25.4
	cardHeight = 53.98 * 72 / 25.4
)

// cardLine is one text of a card; inverse texts are white on black.
type cardLine struct {
	spans   []typeset.Span
	size    float64
	inverse bool
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
			tall += linesHeight(lines, t.size*shrink)
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
				high := linesHeight(set[i], t.size*shrink)
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
