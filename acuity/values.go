package acuity

import "fmt"

// number reads the value that begins at a number, with what stands behind it.
func (p *parser) number(negative bool) {
	t := p.at(0)
	if t.bad {
		p.broken = fmt.Sprintf("%q is not a number", t.text)
		return
	}
	if !negative && p.pending == noUnit && p.at(1).text != "M" {
		if _, ok := lengthUnit(p.at(1)); ok {
			p.looseDistance()
			return
		}
	}
	if p.at(1).is("/") && p.at(2).kind == numberToken && !negative && (p.pending == noUnit || p.pending == chartUnit) {
		p.fraction()
		return
	}
	if dash := p.at(1); !negative && p.pending == noUnit && dash.is("-") && !dash.space && p.at(2).kind != numberToken {
		p.looseMinus(t)
		p.i++
		return
	}
	p.i++
	e := p.withUnit(t, negative)
	if p.broken != "" {
		return
	}
	p.suffixes(&e, true)
	if e.Scheme == schemeLetters {
		if metres, _ := p.takeDistance(false); metres != nil {
			e.DistanceM = metres
			addNote(&e, fmt.Sprintf("letters at %.3g m: say whether this is the whole score", *metres))
		}
	}
	p.add(e)
}

// looseMinus asks about "- 0.1" and "0.1-": a minus typed loosely, or placed
// behind the number by right-to-left writing, or a dash.
func (p *parser) looseMinus(t token) {
	p.i++
	e := question("a dash apart from the number: a minus or a dash?", plainNumber(t, true, p.opt), plainNumber(t, false, p.opt))
	e.Understood = t.text
	p.add(e)
}

// looseDistance keeps a distance that stands in front of a value or behind a
// fraction.
func (p *parser) looseDistance() {
	metres, _ := p.takeDistance(false)
	if metres == nil {
		p.broken = "a length that is no test distance"
		return
	}
	p.distance = metres
}

func (p *parser) fraction() {
	n, d := p.at(0), p.at(2)
	if d.bad {
		p.broken = fmt.Sprintf("%q is not a number", d.text)
		return
	}
	p.i += 3
	if p.at(0).is("/") && p.at(1).kind != wordToken && !(p.at(0).space && p.at(1).space) {
		p.broken = "more than one slash"
		return
	}
	if p.at(0).text == "M" || p.pending == nearM {
		p.i++
		p.add(nearFromMUnits(d.num, d.text+" M", &n.num))
		return
	}
	e := readFraction(n, d, p.opt)
	p.suffixes(&e, false)
	e = p.otherDistance(e)
	p.add(e)
}

// otherDistance asks when a fraction and a distance written beside it differ:
// the fraction may or may not have been reckoned for that distance.
func (p *parser) otherDistance(e Entry) Entry {
	distance := p.distance
	p.distance = nil
	if at := p.at(0); at.is("@") || at.fold == "at" || at.is("(") || at.kind == numberToken {
		if d, _ := p.takeDistance(false); d != nil {
			distance = d
		}
	}
	if distance == nil || e.Kind != Measured {
		return e
	}
	if e.DistanceM == nil || !p.nearWord && *distance > 0 && abs(*e.DistanceM-*distance) < 0.12 {
		e.DistanceM = distance
		return e
	}
	if p.nearWord {
		e.DistanceM = distance
		return e
	}
	shifted, err := LogMARAtDistance(*e.LogMAR, *e.DistanceM, *distance)
	if err != nil {
		return e
	}
	moved := chartValue(shifted, e.Scheme+"; moved to the test distance", e.Understood+fmt.Sprintf(" line read at %.3g m", *distance))
	return question(fmt.Sprintf("the fraction and the distance %.3g m differ", *distance), e, moved)
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// withUnit reads a number with the unit in front of or behind it.
func (p *parser) withUnit(t token, negative bool) Entry {
	u := p.pending
	v, text := t.num, t.text
	if negative {
		v, text = -v, "-"+text
	}
	next := p.at(0)
	switch {
	case next.kind == wordToken && next.text == "M":
		u = nearM
		p.i++
	case next.fold == "pt" || next.fold == "point" || next.fold == "points":
		u = nearPoints
		p.i++
	case next.text == "L" && t.integer() && !next.space && (u == noUnit || u == chartUnit):
		u = lettersUnit
		p.i++
	case next.text == "L" && t.integer() && u == noUnit && p.i+1 == len(p.toks):
		p.i++
		e := plainNumber(t, negative, p.opt)
		addNote(&e, "L may say letters or the left eye")
		return e
	default:
		s, n := phraseAt(p.toks, p.i, 3, func(s string) bool { return unitWords[s] != noUnit && unitWords[s] < nearPoints })
		if n > 0 && (u == noUnit || u == chartUnit || unitWords[s] == chartUnit) {
			if unitWords[s] != chartUnit || u == noUnit {
				u = unitWords[s]
			}
			p.i += n
		}
	}
	if p.at(0).is("%") {
		p.broken = "a percentage is no notation of acuity read here"
		return Entry{}
	}
	switch u {
	case decimalUnit:
		return readDecimal(v, text, p.opt)
	case logMARUnit:
		return readLogMAR(zeroSign(v), text, p.opt)
	case lettersUnit:
		return readLetters(v, text)
	case chartUnit:
		if t.integer() && !t.leadingZero() && v > 3 {
			return readLetters(v, text)
		}
		e := plainNumber(t, negative, p.opt)
		addNote(&e, "the chart is named, not the unit")
		return e
	case nearPoints, nearM, nearJaeger:
		return p.near(u, v, text)
	}
	return plainNumber(t, negative, p.opt)
}

// near reads print sizes. Jaeger numbers are not standardised and are never
// converted: sizes on 19 cards did not agree with their labels (abstract, as
// quoted in the reference).
func (p *parser) near(u unit, v float64, text string) Entry {
	for p.at(0).is("+") || p.at(0).is("-") && p.at(1).kind != numberToken {
		p.i++
		text += p.at(-1).text
	}
	distance, _ := p.takeDistance(false)
	switch {
	case v <= 0 || v > 200:
		return unusable(text + " is no print size")
	case u == nearJaeger:
		e := Entry{Kind: Near, Role: RoleUnknown, Understood: "J" + text, DistanceM: distance}
		addNote(&e, "Jaeger numbers are not standardised: kept as text, not converted")
		return e
	case u == nearPoints:
		return nearFromMUnits(MUnitsFromPoints(v), "N"+text, distance)
	}
	return nearFromMUnits(v, text+" M", distance)
}

func nearFromMUnits(mUnits float64, understood string, distance *float64) Entry {
	e := Entry{Kind: Near, Role: RoleUnknown, Understood: understood, DistanceM: distance}
	if distance == nil {
		addNote(&e, "near value; no logMAR without the reading distance")
		return e
	}
	logMAR, err := NearLogMAR(mUnits, *distance)
	if err != nil || !inRange(logMAR) || *distance > 1 {
		e = unusable(understood + ": print size and distance do not fit a near test")
		return e
	}
	e.LogMAR, e.Scheme = &logMAR, schemeNear
	addNote(&e, "near value; not for means of distance acuity")
	return e
}

// suffixes reads letters missed or gained, "p", "?" and ranges behind a value.
func (p *parser) suffixes(e *Entry, plain bool) {
	for {
		t, next := p.at(0), p.at(1)
		switch {
		case p.lettersInWords(e):
		case t.is("(") && (next.is("+") || next.is("-") || partialWords[next.fold]), t.is(")"):
			p.i++
		case t.is("?"):
			addNote(e, "written with a question mark")
			p.i++
		case (t.is("-") || t.fold == "to" || t.fold == "bis" || t.fold == "or") && next.kind == numberToken && p.rangeAhead(t, plain):
			p.i++
			*e = p.rangeTo(*e)
			return
		case (t.is("+") || t.is("-") || t.fold == "plus" || t.fold == "minus") && next.kind == numberToken && !p.at(2).is("/"):
			if !p.credit(e, t, next, plain) {
				return
			}
		case (t.is("+") || t.is("-")) && p.bareSign(t, next):
			e.Partial = true
			addNote(e, "a bare "+t.text+" behind the line: no number of letters, not counted")
			p.i++
		case t.kind == wordToken && partialWords[t.fold] && (t.text != "P" || !t.space) && p.partialHere(t):
			e.Partial = true
			addNote(e, "line read in part ("+t.text+"), no letters counted")
			p.i++
		case t.is("^"):
			p.broken = "a raised digit without a sign"
			return
		default:
			return
		}
	}
}

// partialHere keeps "ph" style words out and lets "pt" stand only behind a fraction.
func (p *parser) partialHere(t token) bool { return t.fold != "f" || !t.space }

// bareSign tells "6/9-" and "6/9 +" from a dash that separates.
func (p *parser) bareSign(t, next token) bool {
	if !t.space {
		return true
	}
	return p.i+1 >= len(p.toks) || next.is(")") || next.is(",") || next.is(";")
}

// rangeAhead tells "0.3-0.5", "6/9-6/12", "6/9 or 6/12" from letters.
func (p *parser) rangeAhead(t token, plain bool) bool {
	fractionNext := p.at(2).is("/") && p.at(3).kind == numberToken
	if t.is("-") {
		return fractionNext || plain && !p.at(1).integer() && (!t.space || p.at(1).space)
	}
	return fractionNext || plain
}

func (p *parser) rangeTo(first Entry) Entry {
	n := p.at(0)
	var second Entry
	if p.at(1).is("/") {
		second = readFraction(n, p.at(2), p.opt)
		p.i += 3
	} else {
		second = plainNumber(n, false, p.opt)
		p.i++
	}
	if n.bad {
		p.broken = fmt.Sprintf("%q is not a number", n.text)
	}
	e := question("two values for one eye, or a range", first, second)
	e.Understood = first.Understood + " to " + second.Understood
	return e
}

// credit applies "-2" or "+3"; it returns false when what follows is no count
// of letters.
func (p *parser) credit(e *Entry, sign, n token, plain bool) bool {
	if !n.integer() || n.bad || n.leadingZero() || plain && sign.space && !n.space && e.plain && n.num > maxCreditLetters {
		return false
	}
	count := int(n.num)
	p.i += 2
	if p.at(0).kind == wordToken && unitWords[p.at(0).fold] == lettersUnit || p.at(0).text == "L" {
		p.i++
	}
	if before := p.at(-3); n.num > maxCreditLetters && e.plain && before.integer() && sign.is("-") {
		base := *e
		*e = question("a dash where a slash may be meant", readFraction(before, n, p.opt), base)
		e.Understood = before.text + "-" + n.text
		return true
	}
	if n.num > maxCreditLetters {
		base := *e
		*e = question(fmt.Sprintf("%s%s behind the line is more than a line of letters", sign.text, n.text), base)
		e.Understood = base.Understood
		return true
	}
	if sign.is("-") || sign.fold == "minus" {
		applyLetters(e, count, 0, p.opt)
		if count > 0 {
			e.Understood += fmt.Sprintf(", %d missed", count)
		}
		return true
	}
	applyLetters(e, 0, count, p.opt)
	if count > 0 {
		e.Understood += fmt.Sprintf(", %d gained", count)
	}
	return true
}

var (
	missedWords = words("missed, missing, wrong, lost, short, less, out, error, errors, fehler")
	gainedWords = words("extra, gained, more, better")
)

// lettersInWords reads "(2 letters missed)" behind a fraction; what the letters
// did must be told, else it is a question.
func (p *parser) lettersInWords(e *Entry) bool {
	k := 0
	if p.at(0).is("(") || p.at(0).is(",") {
		k++
	}
	n := p.at(k)
	if e.plain || !n.integer() || n.bad || n.num > maxCreditLetters || unitWords[p.at(k+1).fold] != lettersUnit || e.Scheme == schemeLetters {
		return false
	}
	count, what := int(n.num), p.at(k+2).fold
	p.i += k + 2
	switch {
	case missedWords[what]:
		p.i++
		applyLetters(e, count, 0, p.opt)
		e.Understood += fmt.Sprintf(", %d missed", count)
	case gainedWords[what]:
		p.i++
		applyLetters(e, 0, count, p.opt)
		e.Understood += fmt.Sprintf(", %d gained", count)
	default:
		understood := e.Understood
		*e = question(fmt.Sprintf("%d letters behind the line: missed or gained?", count), *e)
		e.Understood = understood
	}
	return true
}
