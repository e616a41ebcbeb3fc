package acuity

import (
	"fmt"
	"slices"
	"strings"
)

// Lines printed on charts, for telling a slip of the finger from a line, and a
// lone denominator from a letter score. Common practice, no source.
var (
	metreLines = []float64{3, 3.8, 4, 4.5, 4.8, 5, 6, 7.5, 7.6, 9, 9.5, 10, 12, 15, 18, 19, 20, 21, 24, 30, 36, 38, 45, 48, 60, 72, 75, 90, 95, 96, 120, 150, 180, 190, 240, 300, 360}
	feetLines  = []float64{8, 10, 12, 12.5, 13, 15, 16, 16.7, 20, 25, 30, 32, 35, 40, 50, 60, 63, 64, 70, 80, 100, 120, 125, 150, 160, 200, 240, 250, 300, 320, 400, 500, 600, 630, 640, 800, 1000, 1200, 1600, 2000}
	// feetDistances are test distances in feet other than 20.
	feetDistances = []float64{10, 12, 13, 14, 15, 16}
)

const (
	maxDecimal       = 2.5 // 20/8
	maxMetres        = 6.0
	minMetres        = 0.1
	maxCreditLetters = 5
)

// missingNumbers are numbers that stand for "no value" in data sheets; common
// practice, no source.
var missingNumbers = []float64{999, 9999, 99999, 888, 8888}

// codedOrChart asks when a number beyond the usual chart equals the code of a
// low-vision category in some register.
func codedOrChart(logMAR float64, scheme, understood string, opt Options) Entry {
	codes := codesAt(logMAR)
	if opt.Codes == CodesMeasured || len(codes) == 0 {
		return chartValue(logMAR, scheme, understood)
	}
	var kinds []Kind
	for _, c := range codes {
		if !slices.Contains(kinds, c.Kind) {
			kinds = append(kinds, c.Kind)
		}
	}
	if opt.Codes == CodesCategories && len(kinds) == 1 {
		e := category(kinds[0], nil, opt)
		addNote(&e, fmt.Sprintf("stored as the number %s, read as a code (%s)", understood, codes[0].Scheme))
		return e
	}
	e := Entry{Kind: Ask, Role: RoleUnknown, Understood: understood, Note: fmt.Sprintf("%s is beyond the usual chart and equals a code for a category", understood)}
	if chart := chartValue(logMAR, scheme, understood); chart.Kind == Measured && opt.Codes != CodesCategories {
		e.Readings = append(e.Readings, asReading(chart))
	}
	e.Readings = append(e.Readings, codes...)
	return e
}

func readDecimal(v float64, text string, opt Options) Entry {
	understood := "decimal " + text
	if v <= 0 || v > maxDecimal {
		e := unusable(fmt.Sprintf("%s is no decimal acuity (above 0 to %g)", text, maxDecimal))
		e.Understood = understood
		return e
	}
	logMAR, err := LogMARFromDecimal(v)
	if err != nil {
		return unusable(err.Error())
	}
	return codedOrChart(logMAR, schemeDecimal, understood, opt)
}

func readLogMAR(v float64, text string, opt Options) Entry {
	return codedOrChart(v, schemeLogMAR, "logMAR "+text, opt)
}

func readLetters(v float64, text string) Entry {
	understood := text + " letters"
	logMAR, err := LogMARFromLetters(v)
	if err != nil {
		e := unusable(fmt.Sprintf("%s is no letter score (0 to 100)", text))
		e.Understood = understood
		return e
	}
	e := chartValue(logMAR, schemeLetters, understood)
	e.Letters = &v
	switch {
	case v == 0:
		addNote(&e, "no letter read: the value is the floor of the formula, the acuity may be worse")
	case v < oneMetreScoreLetters:
		addNote(&e, "below 20 letters: say whether the letters read at 1 m were added")
	}
	return e
}

// plainNumber reads a number without unit or slash.
func plainNumber(t token, negative bool, opt Options) Entry {
	text := t.text
	v := t.num
	if negative {
		v, text = -v, "-"+text
	}
	e := plainValue(t, v, text, negative, opt)
	e.plain, e.plainNum = true, v
	if e.Understood == "" {
		e.Understood = text
	}
	return e
}

func plainValue(t token, v float64, text string, negative bool, opt Options) Entry {
	switch {
	case t.leadingZero():
		return unusable(text + " begins with a zero: a digit, a point or a slash may be lost")
	case t.integer() && slices.Contains(missingNumbers, v):
		return missing(text + " is a code for no value, never a number")
	case negative && t.integer() && (v == -9 || v == -99 || v == -999 || v == -9999):
		return missing(text + " is a code for no value, never a number")
	}
	switch opt.Plain {
	case PlainDecimal:
		return readDecimal(v, text, opt)
	case PlainLogMAR:
		return readLogMAR(v, text, opt)
	case PlainLetters:
		return readLetters(v, text)
	}
	switch {
	case negative:
		return readLogMAR(zeroSign(v), text, opt)
	case v == 0:
		return question("0 is no decimal acuity; it may be logMAR, a letter score or a blank filled with zero",
			readLogMAR(0, text, opt), readLetters(0, text), missing("zero typed for no value"))
	case !t.integer() && v <= maxDecimal && v <= 2:
		return question(text+" has no unit: decimal or logMAR; decide for the whole file",
			readDecimal(v, text, opt), readLogMAR(v, text, opt))
	case !t.integer() && v <= 3:
		e := readLogMAR(v, text, opt)
		addNote(&e, "no unit; above 2.0 it can only be logMAR")
		return e
	case !t.integer():
		return unusable(text + " fits no notation" + slashGuess(text))
	case v > 100:
		return unusable(text + " fits no notation" + slashGuess(text))
	}
	return loneInteger(v, text, opt)
}

// loneInteger lists what a whole number from 1 to 100 may be.
func loneInteger(v float64, text string, opt Options) Entry {
	var c []Entry
	if v <= 2 {
		c = append(c, readDecimal(v, text, opt))
	}
	if v <= 3 {
		c = append(c, readLogMAR(v, text, opt))
	}
	if v <= 12 {
		c = append(c, chartValue(fraction(v, 10), schemeFraction, text+"/10"))
	}
	c = append(c, readLetters(v, text))
	if slices.Contains(feetLines, v) && v >= 10 {
		c = append(c, chartValue(fraction(20, v), schemeSnellenFeet, "20/"+text))
	}
	if slices.Contains(metreLines, v) && v >= 4 {
		c = append(c, chartValue(fraction(6, v), schemeSnellenMetres, "6/"+text))
	}
	if v == 99 {
		c = append(c, missing("99 typed for no value"))
	}
	if len(c) == 1 {
		addNote(&c[0], "no unit; only a letter score fits")
		return c[0]
	}
	return question(text+" has no unit or slash", c...)
}

// fraction is log10(d/n) for constants known to be positive.
func fraction(n, d float64) float64 {
	logMAR, err := LogMARFromSnellen(n, d)
	if err != nil {
		return MaxLogMAR + 1 // out of range, so unusable
	}
	return logMAR
}

// slashGuess proposes, for a person to confirm, where a lost slash may have stood.
func slashGuess(text string) string {
	digits := strings.NewReplacer(".", "/", ",", "/").Replace(text)
	if digits == text {
		switch {
		case strings.HasPrefix(text, "20") && len(text) > 3:
			digits = "20/" + text[2:]
		case strings.HasPrefix(text, "6") && len(text) > 1:
			digits = "6/" + text[1:]
		default:
			for _, d := range feetLines {
				if fmt.Sprintf("%g", d) == text {
					return "; was 20/" + text + " meant?"
				}
			}
			return ""
		}
	}
	toks := lex(digits)
	if len(toks) == 3 && readFraction(toks[0], toks[2], Options{}).Kind == Measured {
		return "; was " + digits + " meant?"
	}
	return ""
}

// readFraction reads numerator/denominator.
func readFraction(n, d token, opt Options) Entry {
	text := n.text + "/" + d.text
	reject := func(why string) Entry {
		e := unusable(text + ": " + why)
		e.Understood = text
		return e
	}
	switch {
	case n.num == 0 || d.num == 0:
		return reject("a fraction with zero is no acuity")
	case n.leadingZero():
		stripped := n
		stripped.text = strings.TrimLeft(n.text, "0")
		e := question(text+": leading zero, perhaps part of a date", readFraction(stripped, d, opt))
		e.Understood = text
		return e
	case d.leadingZero():
		return zeroDenominator(n, d, opt)
	}
	logMAR := fraction(n.num, d.num)
	metres, feet := n.num, n.num*metresPerFoot
	switch {
	case d.num == 10 && n.num <= 12:
		return overTen(n, d, logMAR, opt)
	case n.num == 20:
		e := codedOrChart(logMAR, schemeSnellenFeet, text, opt)
		return withDistance(lineNote(e, d.num, feetLines), feet)
	case n.num > maxMetres && (d.num == 6 && slices.Contains(metreLines, n.num) || d.num == 20 && slices.Contains(feetLines, n.num) && n.num > 20):
		return reject(fmt.Sprintf("numerator and denominator look exchanged; was %s/%s meant?", d.text, n.text))
	case n.num <= maxMetres && n.num >= minMetres && (d.num == 200 || d.num == 400) && n.num != 6:
		return withDistance(chartValue(logMAR, schemeSnellenFeet, text), feet)
	case n.num == 1 && d.num >= 5 && d.num != 60 && d.num != 36 && d.num != 24 && d.num != 18:
		e := chartValue(logMAR, schemeFraction, text)
		if e.Kind == Measured {
			addNote(&e, "decimal written as a fraction or Snellen at 1 m: the same acuity")
		}
		return e
	case n.num == 6:
		return withDistance(lineNote(chartValue(logMAR, schemeSnellenMetres, text), d.num, metreLines), metres)
	case n.num <= maxMetres && n.num >= minMetres:
		return withDistance(chartValue(logMAR, schemeSnellenMetres, text), metres)
	case slices.Contains(feetDistances, n.num):
		return withDistance(chartValue(logMAR, schemeSnellenFeet, text), feet)
	}
	return reject(n.text + " is not a test distance")
}

func withDistance(e Entry, metres float64) Entry {
	if e.Kind == Measured || e.Kind == Ask {
		e.DistanceM = &metres
	}
	return e
}

func lineNote(e Entry, denominator float64, lines []float64) Entry {
	if e.Kind == Measured && !slices.Contains(lines, denominator) {
		addNote(&e, "not a usual chart line; check the typing")
	}
	return e
}

func overTen(n, d token, logMAR float64, opt Options) Entry {
	scheme := schemeFraction
	if opt.OverTen == OverTenSnellen {
		scheme = schemeSnellenMetres
	}
	e := chartValue(logMAR, scheme, n.text+"/"+d.text)
	if e.Kind != Measured {
		return e
	}
	e.overTen, e.numerator = true, n.num
	switch opt.OverTen {
	case OverTenSnellen:
		metres := n.num
		e.DistanceM = &metres
	case OverTenTenths:
		e.Scheme = schemeDecimal + ", tenths"
	default:
		addNote(&e, "tenths of decimal acuity or Snellen over 10: the same acuity; the test distance is not known")
	}
	return e
}

// zeroDenominator asks about 20/020: a zero too many, a zero out of place or a
// wrong first digit.
func zeroDenominator(n, d token, opt Options) Entry {
	zeros := len(d.text) - len(strings.TrimLeft(d.text, "0"))
	without := d.text[zeros:]
	var c []Entry
	for _, text := range []string{without, without + strings.Repeat("0", zeros)} {
		toks := lex(text)
		if len(toks) == 1 {
			c = append(c, readFraction(n, toks[0], opt))
		}
	}
	text := n.text + "/" + d.text
	e := question(text+": zero in front of the denominator", c...)
	e.Understood = text
	if e.Kind == Ask && len(d.text) >= 3 {
		e.Readings = append(e.Readings, Reading{As: "first digit of the denominator mistyped, value not known", Kind: Unusable})
	}
	return e
}

// category returns an entry for an eye off the chart.
func category(kind Kind, distanceM *float64, opt Options) Entry {
	e := Entry{Kind: kind, Role: RoleUnknown, DistanceM: distanceM, Understood: kind.words()}
	if distanceM != nil {
		e.Understood += fmt.Sprintf(" at %.3g m", *distanceM)
	}
	if kind == LightPerception || kind == NoLightPerception {
		addNote(&e, "no logMAR: not measurable; for order only")
		return e
	}
	e.Scheme = opt.LowVision.values().Name
	if logMAR, ok := opt.LowVision.LogMAR(kind, distanceM); ok {
		e.LogMAR = &logMAR
		addNote(&e, "logMAR stands for the category, it was not measured in this eye")
	} else {
		addNote(&e, "the scheme has no logMAR for this category")
		if kind == CountingFingers {
			addNote(&e, "the distance is needed")
		}
	}
	return e
}

// applyLetters moves a value, or every measured reading, by letters.
func applyLetters(e *Entry, missed, gained int, opt Options) {
	e.LettersMissed += missed
	e.LettersGained += gained
	if opt.IgnoreLetters {
		addNote(e, "letters missed or gained are not counted (setting)")
		return
	}
	shift := LogMARPerLetter * float64(missed-gained)
	credit := schemeCredit
	if strings.HasPrefix(e.Scheme, schemeLogMAR) {
		credit = schemeCreditLogMAR
	} else {
		addNote(e, "letter credit approximate")
	}
	switch e.Kind {
	case Measured:
		shifted := chartValue(*e.LogMAR+shift, e.Scheme, e.Understood)
		if shifted.Kind != Measured {
			e.Kind, e.LogMAR, e.Letters, e.Scheme = Unusable, nil, nil, ""
			addNote(e, shifted.Note)
			return
		}
		e.LogMAR = shifted.LogMAR
		e.Scheme = withCredit(e.Scheme, credit)
		setLetters(e)
	case Ask:
		for i := range e.Readings {
			r := &e.Readings[i]
			if r.Kind != Measured || r.LogMAR == nil {
				continue
			}
			if shifted := chartValue(*r.LogMAR+shift, r.Scheme, r.As); shifted.Kind == Measured {
				r.LogMAR, r.Letters = shifted.LogMAR, shifted.Letters
				r.Scheme = withCredit(r.Scheme, credit)
			}
		}
	}
}

func withCredit(scheme, credit string) string {
	if strings.HasSuffix(scheme, credit) {
		return scheme
	}
	return scheme + "; " + credit
}
