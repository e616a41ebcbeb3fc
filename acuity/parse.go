package acuity

import (
	"fmt"
	"slices"
	"strings"

	"limitans/eye"
)

// MaxTextBytes bounds the text that is read; a longer one is no acuity.
const MaxTextBytes = 4096

// Parse reads one text and returns the acuities in it, at least one, in the
// order written. It never fails: what cannot be read comes back as [Unusable]
// with the reason, what has several readings as [Ask]. Each entry carries the
// whole text. An option that [Options.Check] refuses counts as not set.
//
// A role word stands before its value ("PH 6/9") or behind it ("6/9 PH"); in a
// run of value, role, value the role belongs to the later value (common
// practice, no source).
func Parse(text string, opt Options) []Entry {
	if !opt.LowVision.valid() {
		opt.LowVision = Lange2009
	}
	entries := parse(text, opt)
	for i := range entries {
		entries[i].Raw = text
		if entries[i].Readings == nil {
			entries[i].Readings = []Reading{}
		}
	}
	return entries
}

func parse(text string, opt Options) []Entry {
	if len(text) > MaxTextBytes {
		return []Entry{unusable(fmt.Sprintf("longer than %d bytes", MaxTextBytes))}
	}
	s := normalise(text)
	if e, ok := wholeText(s); ok {
		return []Entry{e}
	}
	if e, ok := readDate(s, opt); ok {
		return []Entry{e}
	}
	p := &parser{toks: lex(s), opt: opt}
	p.run()
	return p.finish()
}

// wholeText answers for texts that are no acuity as a whole.
func wholeText(s string) (Entry, bool) {
	if strings.Trim(s, "-.,;:_*#? /!'\"()[]→^~") == "" {
		if s == "" {
			return missing("blank"), true
		}
		return missing(fmt.Sprintf("%q is no value", s)), true
	}
	phrase := strings.Join(strings.Fields(fold(strings.Trim(s, "-.,;:_*#?!()[] "))), " ")
	dotless := strings.ReplaceAll(phrase, ".", "")
	switch {
	case missingWords[phrase] || missingWords[dotless], strings.HasPrefix(s, "#") && missingWords[strings.Trim(dotless, "/0")]:
		return missing("the text says so"), true
	case fixationWords[phrase]:
		return unusable("fixation behaviour, no acuity"), true
	case blindWords[phrase]:
		e := question(fmt.Sprintf("%q may say no light perception or that nothing was recorded; ask", s),
			category(NoLightPerception, nil, Options{}), missing("nothing recorded"))
		return e, true
	}
	return Entry{}, false
}

type itemKind int

const (
	valueItem itemKind = iota
	roleItem
	arrowItem
	separatorItem
	sideItem
	noGainItem
)

type item struct {
	kind  itemKind
	entry Entry
	role  Role
	side  eye.Laterality
}

// unit is what a word in front of a number says about it.
type unit int

const (
	noUnit unit = iota
	decimalUnit
	logMARUnit
	lettersUnit
	chartUnit // names the chart but not the unit
	nearPoints
	nearM
	nearJaeger
)

type parser struct {
	toks      []token
	i         int
	opt       Options
	items     []item
	leftovers []string
	pending   unit
	limit     bool // "<", "worse than" in front of the value
	doubt     bool
	nearWord  bool
	both      bool
	broken    string
	distance  *float64 // a distance in front of its value
}

func (p *parser) at(k int) token {
	if p.i+k < 0 || p.i+k >= len(p.toks) {
		return token{kind: symbolToken}
	}
	return p.toks[p.i+k]
}

func (p *parser) add(e Entry) {
	if p.limit {
		e = asLimit(e)
		p.limit = false
	}
	p.pending = noUnit
	p.items = append(p.items, item{kind: valueItem, entry: e})
}

func asLimit(e Entry) Entry {
	q := question("a limit (better or worse than), not a value", e)
	q.Understood = "limit " + e.Understood
	if q.Kind == Unusable {
		addNote(&q, e.Note)
	}
	return q
}

func (p *parser) run() {
	for p.i < len(p.toks) && p.broken == "" {
		start := p.i
		switch t := p.at(0); t.kind {
		case numberToken:
			p.number(false)
		case wordToken:
			p.word()
		default:
			p.symbol(t)
		}
		if p.i == start { // cannot happen; a loop must end
			p.i++
		}
	}
}

func (p *parser) symbol(t token) {
	next := p.at(1)
	switch {
	case t.text == "→":
		p.items = append(p.items, item{kind: arrowItem})
	case t.text == "-" && next.kind == numberToken && !next.space && p.at(2).is("/"):
		p.separator() // "- 6/9" or "-6/9": a dash in front of a fraction is no minus
	case t.text == "-" && next.kind == numberToken && !next.space:
		p.i++
		p.number(true)
		return
	case t.text == "-" && p.i == 0 && next.kind == numberToken && !next.bad && !p.at(2).is("/"):
		p.i++
		p.looseMinus(next)
		return
	case t.text == "+" && next.kind == numberToken && !next.space:
	case t.text == ",", t.text == ";", t.text == "|", t.text == "-":
		p.separator()
	case t.text == "/" && (t.space && next.space || next.kind == wordToken):
		p.separator()
	case t.text == "/":
		p.broken = "a slash that belongs to no fraction"
	case t.text == "<", t.text == ">":
		p.limit = true
	case t.text == "?", t.text == "~":
		p.doubt = true
	case t.text == "^":
		p.broken = "a raised digit without a sign"
	case t.text == "%":
		p.broken = "a percentage is no notation of acuity read here"
	case !strings.Contains(harmless, t.text):
		if next.kind == numberToken && !next.space || p.at(-1).kind == numberToken && !t.space {
			p.broken = fmt.Sprintf("%q beside a number is not known", t.text)
		}
		p.leftovers = append(p.leftovers, t.text)
	}
	p.i++
}

// harmless are signs that change nothing.
const harmless = "()[]{}:=.*'\"@&_!#+"

func (p *parser) separator() { p.items = append(p.items, item{kind: separatorItem}) }

// unitWords are units and charts written beside a number.
var unitWords = map[string]unit{
	"logmar": logMARUnit, "lm": logMARUnit, "log": logMARUnit, "log mar": logMARUnit, "mar": logMARUnit,
	"dec": decimalUnit, "decimal": decimalUnit, "dezimal": decimalUnit, "decimale": decimalUnit,
	"letters": lettersUnit, "letter": lettersUnit, "ltrs": lettersUnit, "lett": lettersUnit, "let": lettersUnit, "lets": lettersUnit,
	"letter score": lettersUnit, "etdrs letters": lettersUnit, "etdrs letter score": lettersUnit, "buchstaben": lettersUnit,
	"lettres": lettersUnit, "letras": lettersUnit, "lettere": lettersUnit, "harf": lettersUnit,
	"etdrs":  chartUnit,
	"jaeger": nearJaeger, "j": nearJaeger, "jg": nearJaeger, "n": nearPoints,
}

var limitWords = words("worse than, better than, less than, more than, at least, at best, below, above, at most, under, over")

func (p *parser) word() {
	t := p.at(0)
	if (t.fold == "plus" || t.fold == "minus") && p.at(1).kind == numberToken && p.at(2).is("/") {
		p.i++
		return
	}
	if t.text == "M" && p.at(1).kind == numberToken && !p.at(1).space && !p.at(2).is("/") {
		p.pending = nearM
		p.i++
		return
	}
	if digitLike[t.text] && (!t.space && p.at(-1).kind == numberToken || p.at(1).kind == numberToken && !p.at(1).space) {
		p.broken = fmt.Sprintf("the letter %q where a digit belongs", t.text)
		return
	}
	start, size := p.i, 0
	var act func()
	for _, v := range vocabularies {
		if phrase, n := phraseAt(p.toks, start, v.longest, v.has); n > size {
			size = n
			act = func() { v.do(p, phrase, start) }
		}
	}
	if act == nil {
		p.leftovers = append(p.leftovers, t.text)
		p.i++
		return
	}
	p.i += size
	act()
}

// digitLike are letters typed or recognised in place of 0 and 1.
var digitLike = words("O, o, l, I, i, Q")

// vocabularies are tried in this order; the longest phrase wins, the earlier
// list on a tie.
var vocabularies []struct {
	longest int
	has     func(string) bool
	do      func(p *parser, phrase string, start int)
}

func init() {
	type list = struct {
		longest int
		has     func(string) bool
		do      func(p *parser, phrase string, start int)
	}
	in := func(set map[string]bool) func(string) bool { return func(s string) bool { return set[s] } }
	vocabularies = []list{
		{longestPhrase, func(s string) bool { return lexicon[s] != nil }, (*parser).category},
		{5, in(pinholeWithoutGain), func(p *parser, _ string, _ int) { p.items = append(p.items, item{kind: noGainItem}) }},
		{4, func(s string) bool { return roleWords[s] != "" }, func(p *parser, s string, _ int) {
			p.items = append(p.items, item{kind: roleItem, role: roleWords[s]})
		}},
		{3, func(s string) bool { return unitWords[s] != noUnit }, func(p *parser, s string, _ int) { p.pending = unitWords[s] }},
		{2, func(s string) bool { return sideWords[s] != eye.SideUnknown }, func(p *parser, s string, _ int) {
			p.items = append(p.items, item{kind: sideItem, side: sideWords[s]})
		}},
		{2, in(limitWords), func(p *parser, _ string, _ int) { p.limit = true }},
		{2, in(bothEyes), func(p *parser, _ string, _ int) { p.both = true }},
		{1, in(words("near, nva, reading")), func(p *parser, _ string, _ int) { p.nearWord = true }},
		{3, func(s string) bool { return missingWords[s] && len(s) > 1 }, func(p *parser, _ string, _ int) { p.add(missing("the text says so")) }},
		{2, in(fillers), func(*parser, string, int) {}},
	}
}

// category reads a word for vision off the chart, with a distance.
// p.i stands behind the phrase that begins at start.
func (p *parser) category(phrase string, start int) {
	meanings, why := resolve(phrase, p.opt.Language)
	distance, distanceNote := p.takeDistance(true)
	if distance == nil && distanceNote == "" {
		distance = p.distance
	}
	p.distance = nil
	if why != "" && distance == nil && p.restHasNumber() {
		p.leftovers = append(p.leftovers, p.toks[start].text)
		return
	}
	var found []Entry
	for _, m := range meanings {
		kind := m.kind
		if kind == LightPerception && p.negated() {
			kind = NoLightPerception
		}
		e := category(kind, distance, p.opt)
		addNote(&e, m.note)
		addNote(&e, distanceNote)
		if m.language != "" {
			addNote(&e, "wording of language "+m.language+", list kept from memory")
		}
		found = append(found, e)
	}
	e := found[0]
	switch {
	case why != "":
		e = question(fmt.Sprintf("%q: %s", p.toks[start].text, why), found...)
	case e.Kind == LightPerception && p.at(0).is("-") && p.at(0).space && (p.i+1 >= len(p.toks)):
		e = question("a dash behind light perception: a mark or \"none\"?", e, category(NoLightPerception, nil, p.opt))
		p.i++
	case p.at(0).is("/") && p.at(1).kind == wordToken && lexicon[p.at(1).fold] != nil:
		found = []Entry{e}
		p.i++
		others, _ := resolve(p.at(0).fold, p.opt.Language)
		for _, m := range others {
			found = append(found, category(m.kind, nil, p.opt))
		}
		p.i++
		e = question("two categories: which holds?", found...)
	case e.Kind == CountingFingers && p.at(0).kind == numberToken && p.at(1).is("/") && p.at(2).kind == numberToken:
		chart := readFraction(p.at(0), p.at(2), p.opt)
		e = question("counting fingers and a fraction: which holds?", e, chart)
		p.i += 3
	}
	p.add(e)
}

// negated reads "LP-", "PL neg", "PL -ve" behind light perception and consumes
// a plus sign.
func (p *parser) negated() bool {
	t, next := p.at(0), p.at(1)
	switch {
	case t.is("(") && p.at(2).is(")") && (next.is("-") || next.is("+") || next.fold == "neg" || next.fold == "negative"):
		p.i += 3
		return !next.is("+")
	case t.fold == "neg" || t.fold == "negative" || t.fold == "negativ" || t.fold == "absent" || t.fold == "nil":
		p.i++
		return true
	case t.is("-") && next.fold == "ve":
		p.i += 2
		return true
	case t.is("-") && !t.space && next.kind != numberToken:
		p.i++
		return true
	case t.is("+"):
		p.i++
		if next.fold == "ve" {
			p.i++
		}
	}
	return false
}

func (p *parser) restHasNumber() bool {
	has := func(t token) bool { return t.kind == numberToken }
	return slices.ContainsFunc(p.items, func(it item) bool { return it.kind == valueItem }) ||
		p.i < len(p.toks) && slices.ContainsFunc(p.toks[p.i:], has)
}

// lengthUnits are metres per unit.
var lengthUnits = map[string]float64{
	"m": 1, "mt": 1, "mtr": 1, "mtrs": 1, "mts": 1, "meter": 1, "meters": 1, "metre": 1, "metres": 1, "metri": 1, "metro": 1, "metros": 1, "metern": 1,
	"cm": 0.01, "cms": 0.01, "centimetre": 0.01, "centimetres": 0.01, "centimeter": 0.01, "centimeters": 0.01,
	"ft": metresPerFoot, "feet": metresPerFoot, "foot": metresPerFoot, "'": metresPerFoot,
	"in": metresPerFoot / 12, "inch": metresPerFoot / 12, "inches": metresPerFoot / 12, `"`: metresPerFoot / 12,
}

func lengthUnit(t token) (float64, bool) {
	name := t.fold
	if t.kind == symbolToken {
		name = t.text
	} else if t.kind == numberToken {
		return 0, false
	}
	metres, ok := lengthUnits[name]
	return metres, ok
}

// takeDistance reads "1m", "@ 3 ft", "at 1/2 m". With bare, a number without a
// unit is consumed too and reported.
func (p *parser) takeDistance(bare bool) (*float64, string) {
	k := 0
	if t := p.at(0); t.is("@") || t.is("~") || t.is("(") || t.fold == "at" || t.fold == "from" || t.fold == "aus" || t.fold == "in" || t.fold == "a" || t.fold == "bei" {
		k++
	}
	n := p.at(k)
	if n.kind != numberToken || n.bad || n.num <= 0 {
		return nil, ""
	}
	value, text := n.num, n.text
	k++
	if p.at(k).is("/") && p.at(k+1).kind == numberToken && p.at(k+1).num > 0 {
		if _, ok := lengthUnit(p.at(k + 2)); !ok {
			return nil, ""
		}
		value, text = value/p.at(k+1).num, text+"/"+p.at(k+1).text
		k += 2
	} else if p.at(k).is("-") && p.at(k+1).kind == numberToken {
		if _, ok := lengthUnit(p.at(k + 2)); ok {
			p.i += k + 3
			return nil, "distance " + text + " to " + p.at(-2).text + " " + p.at(-1).text + ", kept as text"
		}
	}
	metres, ok := lengthUnit(p.at(k))
	if !ok {
		if !bare || p.at(k).is("/") {
			return nil, ""
		}
		p.i += k
		return nil, "distance " + text + " without a unit"
	}
	value *= metres
	if value > 20 {
		return nil, ""
	}
	p.i += k + 1
	return &value, ""
}
