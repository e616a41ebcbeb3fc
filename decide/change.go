package decide

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// changes asks the table again with one finding changed, for every finding that
// a row about places names and that was not told, can be other than told or can
// change with time, and keeps what brings another option first.
func (a *asked) changes() []Change {
	first := a.worlds[a.chosen].First
	var out []Change
	for _, f := range a.tables.findings {
		if !a.places(f.key) {
			continue
		}
		told := a.known[f.key].known()
		if told && !f.changeable {
			continue
		}
		last := ""
		for _, v := range a.otherValues(f) {
			w := a.place(world{known: a.worlds[a.chosen].known.with(f.key, v.fact)})
			if w.First == first || w.First == "" {
				last = ""
				continue
			}
			if w.First == last { // the neighbouring range says the same
				out[len(out)-1].Finding = f.words + " " + rangeWords(v.start(out[len(out)-1]), v.to, f.unit)
				out[len(out)-1].from = v.start(out[len(out)-1])
				out[len(out)-1].Probability += a.chance(f.key, v)
				continue
			}
			c := Change{Finding: f.words + v.text(f.unit), First: w.First, Name: a.nameOf(w.First), Row: w.places[w.First].row.ID, Open: !told, from: v.from, Probability: a.chance(f.key, v)}
			out = append(out, c)
			last = ""
			if v.isRange {
				last = w.First
			}
		}
	}
	return out
}

// chance is the probability that a known size lies in a range; 0 for every other
// finding.
func (a *asked) chance(key string, v value) float64 {
	sum := 0.0
	for _, w := range a.worlds {
		if key == sizeKey && w.AboveUM >= v.from && w.UpToUM <= v.to {
			sum += w.Probability
		}
	}
	return sum
}

// places reports whether a row about places names a finding.
func (a *asked) places(key string) bool {
	return slices.ContainsFunc(a.rules, func(r Rule) bool {
		return r.Kind == KindPlace && slices.ContainsFunc(r.when, func(at atom) bool { return at.key == key })
	})
}

func (a *asked) nameOf(code string) string {
	i := slices.IndexFunc(a.options, func(e entry) bool { return e.code == code })
	return a.options[i].name
}

// value is another value of a finding: a word, or a range of numbers.
type value struct {
	fact     fact
	isRange  bool
	from, to float64
}

// start is where a run of ranges that say the same begins.
func (v value) start(before Change) float64 { return math.Min(v.from, before.from) }

func (v value) text(unit string) string {
	if v.isRange {
		return " " + rangeWords(v.from, v.to, unit)
	}
	return ": " + v.fact.words[0]
}

// rangeWords words a range of numbers.
func rangeWords(from, to float64, unit string) string {
	switch {
	case from <= 0:
		return fmt.Sprintf("up to %g %s", to, unit)
	case math.IsInf(to, 1):
		return fmt.Sprintf("from %g %s on", from, unit)
	}
	return fmt.Sprintf("from %g to %g %s", from, to, unit)
}

// otherValues are the values that rows about places tell apart, apart from the
// one that was told.
func (a *asked) otherValues(f findingWords) []value {
	var out []value
	known := a.worlds[a.chosen].known[f.key]
	if len(known.words) > 0 {
		for _, w := range wordsOf(f.key) {
			if w != unknown && !known.is(w) {
				out = append(out, value{fact: word(w)})
			}
		}
		return out
	}
	from := 0.0
	for _, to := range append(a.cuts(f.key, KindPlace), math.Inf(1)) {
		if !(known.number > from && known.number <= to) {
			out = append(out, value{numberFact(inside(from, to)), true, from, to})
		}
		from = to
	}
	return out
}

// open lists findings that were not told and on which a row hangs that is not
// ruled out by what was told.
func (a *asked) open() []Question {
	var out []Question
	for _, f := range a.tables.findings {
		if f.words == "" || a.known[f.key].known() || strings.HasPrefix(f.key, "allergy") {
			continue
		}
		if slices.ContainsFunc(a.rules, func(r Rule) bool { return a.hangsOn(r, f.key) }) {
			out = append(out, Question{f.key, f.words})
		}
	}
	return out
}

// hangsOn reports whether a row would hold, as far as is known, for some value
// of a finding, and speaks of an option that is offered.
func (a *asked) hangsOn(r Rule, key string) bool {
	names := false
	for _, at := range r.when {
		switch {
		case at.key == key:
			names = true
		case a.known[at.key].known() && !condition{at}.holds(a.worlds[a.chosen].known, a.limits):
			return false
		}
	}
	if !names || r.Kind == KindWarning || r.Kind == KindPlace {
		return names
	}
	return slices.ContainsFunc(a.codes(), func(code string) bool { return inScope(r.Options, code) })
}
