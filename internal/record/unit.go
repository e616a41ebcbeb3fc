package record

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Unit is the hospital or clinic that keeps the record, as its sheets print it.
// There is one in a record; its history tells who changed it and when.
type Unit struct {
	Base
	Name string `json:"name,omitempty"`
	// DayPhone and NightPhone are what a patient calls, as the unit writes them:
	// in opening hours, and outside them. An empty one is not told, and nothing
	// stands in for it.
	DayPhone   string    `json:"day_phone,omitempty"`
	NightPhone string    `json:"night_phone,omitempty"`
	Paper      PaperSize `json:"paper,omitempty"` // empty: A4
}

// UnitID is the identifier of the one [Unit] of a record.
const UnitID ID = "00000000-0000-7000-8000-000000000001"

// Kind is [KindUnit].
func (*Unit) Kind() Kind { return KindUnit }

// Links are none: it belongs to no patient.
func (*Unit) Links() Links { return Links{} }

// PaperSize is what the unit's printers hold.
type PaperSize string

// The sizes of paper.
const (
	PaperA4     PaperSize = "A4"
	PaperLetter PaperSize = "Letter"
)

// The longest texts that a card for the wallet takes beside a name, in letters, and
// the shortest number that somebody can call, in digits (some emergency numbers
// have three; common practice, no source).
const (
	MostUnitName  = 80
	MostUnitPhone = 60
	leastDigits   = 3
)

func (c *checker) unit(n *Unit) {
	if n.ID != UnitID {
		c.add(CodeMalformed, "id", "is not that of the unit, of which a record has one", "change the one there is")
	}
	c.unitText(n.Name, "name", MostUnitName)
	for _, phone := range []struct{ where, text string }{{"day_phone", n.DayPhone}, {"night_phone", n.NightPhone}} {
		c.unitText(phone.text, phone.where, MostUnitPhone)
		digits := strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return r
			}
			return -1
		}, phone.text)
		if phone.text != "" && utf8.RuneCountInString(digits) < leastDigits {
			c.add(CodeMalformed, phone.where, fmt.Sprintf("%q is no number that a patient can call", phone.text), "the number in full, or leave it empty: the sheets then have a line to write it on")
		}
	}
}

// unitText holds a text to one line that a card can take.
func (c *checker) unitText(text, where string, most int) {
	switch {
	case text == "":
	case strings.ContainsFunc(text, unicode.IsControl) || strings.TrimSpace(text) != text:
		c.add(CodeMalformed, where, "is not one line of text", "no line ends, and no space before or after")
	case utf8.RuneCountInString(text) > most:
		c.add(CodeMalformed, where, fmt.Sprintf("has %d letters and does not fit on a card", utf8.RuneCountInString(text)), fmt.Sprintf("at most %d", most))
	}
}
