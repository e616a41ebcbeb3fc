package paper

import (
	"strings"

	"limitans/internal/paper/typeset"
)

// Telephone is what a patient calls, as the unit writes it. An empty number is not
// known: the sheet then has a line to write it on, and no other number stands there.
type Telephone struct {
	Day   string // in opening hours
	Night string // outside them; the same as Day where one number serves always
}

// Always is one number by day and by night.
func Always(number string) Telephone { return Telephone{number, number} }

// call is one thing to call: words with a number, or without one where it is written
// by hand.
type call struct{ words, number string }

// calls are one or two lines: one where day and night are the same or both unknown.
// The words are those of key, key_day and key_night.
func (t Telephone) calls(w *Words, key string) []call {
	day, night := strings.TrimSpace(t.Day), strings.TrimSpace(t.Night)
	if day == night {
		return []call{{w.say(key), day}}
	}
	return []call{{w.say(key + "_day"), day}, {w.say(key + "_night"), night}}
}

// callBlocks are the calls of a leaflet.
func (t Telephone) callBlocks(w *Words) []block {
	var out []block
	for _, c := range t.calls(w, "help_call") {
		if c.number == "" {
			out = append(out, blanks{labels: []string{c.words}, size: leafletText, single: true, above: 2})
			continue
		}
		out = append(out, paragraph{spans: []typeset.Span{{Text: c.words + " "}, {Text: unbroken(c.number), Bold: true}}, size: leafletLead, above: 6})
	}
	return out
}

// callLines are the calls at the foot of a card.
func (t Telephone) callLines(w *Words) []cardLine {
	if strings.TrimSpace(t.Day+t.Night) == "" {
		return []cardLine{{spans: plain(w.say("card_call")), size: 10}, {size: 10, write: true}}
	}
	spans := plain(w.say("card_call") + " ")
	var out []cardLine
	for i, c := range t.calls(w, "card_call") {
		if i > 0 {
			spans = append(spans, typeset.Span{Text: "; "})
		}
		if c.words != w.say("card_call") {
			spans = append(spans, typeset.Span{Text: c.words + " "})
		}
		if c.number == "" {
			out = append(out, cardLine{spans: spans, size: 10}, cardLine{size: 10, write: true})
			spans = nil
			continue
		}
		spans = append(spans, typeset.Span{Text: unbroken(c.number), Bold: true})
	}
	if len(spans) > 0 {
		out = append(out, cardLine{spans: spans, size: 10})
	}
	return out
}

// longestUnbroken is the longest number that is kept in one line, in bytes: half a
// line of a card.
const longestUnbroken = 24

// unbroken is a number in its own direction and, where it is no longer than numbers
// are, in one line, so that nobody dials half of it.
func unbroken(number string) string {
	if len(number) <= longestUnbroken {
		number = strings.ReplaceAll(number, " ", "\u00a0")
	}
	return typeset.Isolate(number)
}
