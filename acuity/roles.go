package acuity

import (
	"fmt"
	"math"
	"strings"

	"limitans/eye"
)

// finish gives roles and sides to the values and collects the notes.
func (p *parser) finish() []Entry {
	if p.broken != "" {
		return []Entry{unusable("cannot be read: " + p.broken)}
	}
	assignRoles(p.items)
	assignSides(p.items)
	p.looseNumbers()
	var out []Entry
	for i, it := range p.items {
		switch it.kind {
		case valueItem:
			if n := len(out); n > 0 && it.entry.Kind == NoLightPerception && out[n-1].Kind == NoLightPerception && strings.Contains(it.entry.Note, notSurgery) {
				addNote(&out[n-1], notSurgery) // "NLP (enucleated)" is one finding
				continue
			}
			out = append(out, it.entry)
		case noGainItem:
			if len(out) == 0 {
				out = append(out, p.noGainFirst(i)...)
				continue
			}
			addNote(&out[len(out)-1], "pinhole: no improvement")
		}
	}
	if len(out) == 0 {
		return []Entry{unusable("not understood")}
	}
	for i := range out {
		p.notes(&out[i], i, len(out))
	}
	return out
}

// looseNumbers looks again at numbers without a unit. Beside a value that is
// written out they may be anything, a lens power or a day: whole numbers
// without a role go to the words that were not read, others become questions.
// Beside unknown words only, a number is a question too, unless the file has
// settled what plain numbers mean.
func (p *parser) looseNumbers() {
	others := false
	for _, it := range p.items {
		others = others || it.kind == valueItem && !it.entry.plain && it.entry.Kind != Unusable
	}
	words := len(p.leftovers) > 0
	kept := p.items[:0]
	for _, it := range p.items {
		e := &it.entry
		switch {
		case it.kind != valueItem || !e.plain || !others && !words:
		case others && words && e.plainNum == math.Trunc(e.plainNum) && e.Role == RoleUnknown:
			p.leftovers = append(p.leftovers, fmt.Sprintf("%g", e.plainNum))
			continue
		case e.Kind == Measured && (others || p.opt.Plain == PlainUndecided || e.plainNum < 0):
			understood, role, side := e.Understood, e.Role, e.Side
			*e = question("a number without a unit beside other writing: acuity or something else?", *e)
			e.Understood, e.Role, e.Side = understood, role, side
		}
		kept = append(kept, it)
	}
	p.items = kept
}

// noGainFirst is for "no improvement with pinhole" in front of any value.
func (p *parser) noGainFirst(i int) []Entry {
	for _, it := range p.items[i:] {
		if it.kind == valueItem {
			return nil
		}
	}
	return []Entry{{Kind: Unusable, Role: Pinhole, Note: "pinhole: no improvement, no value written"}}
}

func (p *parser) notes(e *Entry, i, n int) {
	if p.nearWord && e.Kind == Measured {
		e.Kind = Near
		addNote(e, "near value, as the text says; not for means of distance acuity")
	}
	if len(p.leftovers) > 0 {
		text := strings.Join(p.leftovers, " ")
		for _, w := range p.leftovers {
			if negations[fold(w)] && (e.Kind != Ask && e.Kind != Unusable) {
				understood, role, side := e.Understood, e.Role, e.Side
				*e = question("a negation stands in the text", *e)
				e.Understood, e.Role, e.Side = understood, role, side
			}
		}
		addNote(e, "also written: "+text)
	}
	if p.distance != nil {
		addNote(e, fmt.Sprintf("a distance of %.3g m stands in the text", *p.distance))
	}
	if p.doubt {
		addNote(e, "marked as uncertain in the text")
	}
	if p.both {
		addNote(e, "both eyes together: not the acuity of one eye")
	}
	if e.Side != eye.SideUnknown {
		addNote(e, "the text names the "+strings.ToLower(e.Side.String())+" eye")
	}
	if n > 1 {
		e.Note = strings.TrimSuffix(fmt.Sprintf("value %d of %d, %s; %s", i+1, n, e.Understood, e.Note), "; ")
	}
}

// assignRoles gives each role to a value. Between separators, roles that stand
// first belong to the next value; a segment "value role [value role]" has its
// roles behind; "value role value" gives the role to the later value. A
// pinhole that stands last before an arrow belongs to the value the arrow
// leads to.
func assignRoles(items []item) {
	set := func(i int, r Role) {
		if items[i].entry.Role == RoleUnknown || items[i].entry.Role == "" {
			items[i].entry.Role = r
		} else if items[i].entry.Role != r {
			addNote(&items[i].entry, "also marked "+string(r))
			if r == Pinhole { // "cc with PH": the pinhole is the condition that matters
				items[i].entry.Role = r
			}
		}
	}
	for i := range items {
		if items[i].kind == valueItem && items[i].entry.Role == "" {
			items[i].entry.Role = RoleUnknown
		}
	}
	start := 0
	for end := 0; end <= len(items); end++ {
		if end < len(items) && items[end].kind != separatorItem && items[end].kind != arrowItem {
			continue
		}
		segmentRoles(items, start, end, set)
		start = end + 1
	}
}

func segmentRoles(items []item, start, end int, set func(int, Role)) {
	var order []int // values and roles of the segment
	for i := start; i < end; i++ {
		if items[i].kind == valueItem || items[i].kind == roleItem {
			order = append(order, i)
		}
	}
	if len(order) == 0 {
		return
	}
	last := order[len(order)-1]
	behind := items[order[0]].kind == valueItem && items[last].kind == roleItem
	if behind && items[last].role == Pinhole && end < len(items) && items[end].kind == arrowItem && end+1 < len(items) && items[end+1].kind == valueItem {
		set(end+1, Pinhole)
		addNote(&items[end+1].entry, "pinhole taken to belong to the value after the arrow")
		order = order[:len(order)-1]
		behind = items[order[len(order)-1]].kind == roleItem
	}
	value := -1 // behind: the value before; else: the role waiting
	var waiting []Role
	for _, i := range order {
		switch {
		case items[i].kind == roleItem && behind && value >= 0:
			set(value, items[i].role)
		case items[i].kind == roleItem:
			waiting = append(waiting, items[i].role)
		default:
			for _, r := range waiting {
				set(i, r)
			}
			waiting = nil
			value = i
		}
	}
	if len(waiting) == 0 {
		return
	}
	// roles alone in front of a separator: "PH: → 6/9", "cc; 6/9"
	for i := end; i < len(items); i++ {
		if items[i].kind == roleItem {
			return
		}
		if items[i].kind == valueItem {
			for _, r := range waiting {
				set(i, r)
			}
			return
		}
	}
}

// assignSides gives a side to the values behind it; when the text ends with its
// only side, to all values; when each value is followed by its side ("6/9 OD,
// 6/12 OS"), to the value in front. Anything else stays without a side.
func assignSides(items []item) {
	var order []int // values and sides
	sides := 0
	for i := range items {
		if items[i].kind == sideItem {
			sides++
			order = append(order, i)
		} else if items[i].kind == valueItem {
			order = append(order, i)
		}
	}
	if sides == 0 {
		return
	}
	leading := items[order[0]].kind == sideItem
	pairs := len(order) == 2*sides
	for k, i := range order {
		pairs = pairs && (items[i].kind == sideItem) == (k%2 == 1)
	}
	side := eye.SideUnknown
	for k, i := range order {
		switch {
		case items[i].kind == sideItem:
			side = items[i].side
		case leading:
			items[i].entry.Side = side
		case pairs:
			items[i].entry.Side = items[order[k+1]].side
		case sides == 1 && items[order[len(order)-1]].kind == sideItem:
			items[i].entry.Side = items[order[len(order)-1]].side
		default:
			addNote(&items[i].entry, "a side is named, but it is not clear for which value")
		}
	}
}
