package acuity

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Decision is what a whole column tells about its notation.
type Decision struct {
	Plain     PlainNumbers
	OverTen   OverTen
	Reasons   []string // why something was decided
	Questions []string // what a person must answer once for the file
}

// Apply returns opt with what the column decided. What a person has settled in
// opt already stays.
func (d Decision) Apply(opt Options) Options {
	if opt.Plain == PlainUndecided {
		opt.Plain = d.Plain
	}
	if opt.OverTen == OverTenUndecided {
		opt.OverTen = d.OverTen
	}
	return opt
}

// Figures of the decision. They are choices of this project: each is so strict
// that a column which fails it is asked about, not guessed.
const (
	minSignatures    = 2   // distinct values that only one notation prints
	minLetterScores  = 3   // distinct whole numbers that are no chart line
	minGoodValues    = 10  // plain numbers before the range says anything
	goodShare        = 0.5 // of them between 0.8 and 1.2
	minWitnesses     = 3   // values in another notation that show good eyes
	goodEyesLogMAR   = 0.2 // their median at most
	minTenths        = 3   // distinct numerators over 10
	maxPlainDecimal  = 2.0 // above it a plain number is no decimal acuity
	maxTenthsInRange = 12
)

// Values that one notation prints and the other does not: nominal decimal
// grades that are no multiple of 0.02 or 0.05, and logMAR of Snellen lines.
// Derived from the conversion table.
var (
	decimalSignatures = []float64{0.63, 0.67, 0.667, 0.33, 0.333, 0.125, 0.063, 0.032, 0.025, 0.167, 0.17, 0.083}
	logMARSignatures  = []float64{0.18, 0.176, 0.48, 0.477, 0.78, 0.778, 0.301, 0.54, 0.544, 0.602, 0.398, 0.097, 0.699, 1.08, 1.079, 1.18, 1.176, 1.301, 1.48, 1.477, 1.78, 1.778}
)

// DecideNotation decides for a column of texts what plain numbers and fractions
// over 10 mean. It decides only on evidence that excludes the other reading;
// else the Decision carries a question.
//
//   - logMAR: a negative number, or one above 2.0 (and at most 3), or values
//     that only logMAR of Snellen lines gives;
//   - decimal: grades that only decimal series print, or half of at least ten
//     plain numbers between 0.8 and 1.2 while at least three values of other
//     notation in the column have a median of logMAR 0.2 or better;
//   - letters: whole numbers up to 100, at least three of them no chart line;
//   - contradicting evidence: a question.
func DecideNotation(texts []string) Decision { return DecideColumn("", texts) }

// DecideColumn is [DecideNotation] with the name of the column, which decides
// when it names the notation and no value contradicts.
func DecideColumn(columnName string, texts []string) Decision {
	c := collect(texts)
	var d Decision
	d.decidePlain(c, columnName)
	d.decideOverTen(c)
	return d
}

// column is the evidence in a column.
type column struct {
	plain     []float64
	numerals  []float64 // numerators over 10
	witnesses []float64 // logMAR of values in other notation
}

func collect(texts []string) column {
	var c column
	for _, text := range texts {
		for _, e := range Parse(text, Options{}) {
			switch {
			case e.plain && !e.Missing && (e.Kind == Measured || e.Kind == Ask):
				c.plain = append(c.plain, e.plainNum)
			case e.overTen:
				c.numerals = append(c.numerals, e.numerator)
			case e.Kind == Measured:
				c.witnesses = append(c.witnesses, *e.LogMAR)
			}
		}
	}
	return c
}

// evidence counts for one notation and says why.
type evidence struct {
	notation PlainNumbers
	why      string
}

func (d *Decision) decidePlain(c column, columnName string) {
	if len(c.plain) == 0 {
		return
	}
	found := append(valueEvidence(c), nameEvidence(columnName)...)
	notation := PlainUndecided
	for _, e := range found {
		if notation != PlainUndecided && notation != e.notation {
			var all []string
			for _, x := range found {
				all = append(all, x.why)
			}
			d.Questions = append(d.Questions, "the column mixes notations ("+strings.Join(all, "; ")+"): what do numbers without a unit mean?")
			return
		}
		notation = e.notation
	}
	if notation == PlainUndecided {
		d.Questions = append(d.Questions, fmt.Sprintf("%d numbers without a unit: decimal acuity, logMAR or letters?", len(c.plain)))
		return
	}
	if odd := misfits(c.plain, notation); odd > 0 {
		d.Questions = append(d.Questions, fmt.Sprintf("%s fits by %s, but %d of %d numbers do not fit it: what do numbers without a unit mean?", notation, found[0].why, odd, len(c.plain)))
		return
	}
	d.Plain = notation
	for _, e := range found {
		d.Reasons = append(d.Reasons, e.why)
	}
}

func valueEvidence(c column) []evidence {
	var out []evidence
	negative, above, whole, good := 0, 0, map[float64]bool{}, 0
	decimals, logs := map[float64]bool{}, map[float64]bool{}
	for _, v := range c.plain {
		switch {
		case v < 0:
			negative++
		case v > maxPlainDecimal && v <= 3 && v != math.Trunc(v):
			above++
		case v > 3 && v == math.Trunc(v) && !slices.Contains(feetLines, v) && !slices.Contains(metreLines, v):
			whole[v] = true
		}
		if slices.Contains(decimalSignatures, v) {
			decimals[v] = true
		}
		if slices.Contains(logMARSignatures, v) {
			logs[v] = true
		}
		if v >= 0.8 && v <= 1.2 {
			good++
		}
	}
	if negative > 0 {
		out = append(out, evidence{PlainLogMAR, fmt.Sprintf("%d negative numbers mean logMAR", negative)})
	}
	if above > 0 {
		out = append(out, evidence{PlainLogMAR, fmt.Sprintf("%d numbers above 2.0 mean logMAR", above)})
	}
	if len(logs) >= minSignatures {
		out = append(out, evidence{PlainLogMAR, fmt.Sprintf("%d values are logMAR of Snellen lines", len(logs))})
	}
	if len(decimals) >= minSignatures {
		out = append(out, evidence{PlainDecimal, fmt.Sprintf("%d values are grades of decimal series", len(decimals))})
	}
	if len(whole) >= minLetterScores {
		out = append(out, evidence{PlainLetters, fmt.Sprintf("%d whole numbers fit only a letter score", len(whole))})
	}
	if len(c.plain) >= minGoodValues && float64(good) >= goodShare*float64(len(c.plain)) &&
		len(c.witnesses) >= minWitnesses && median(c.witnesses) <= goodEyesLogMAR {
		out = append(out, evidence{PlainDecimal, fmt.Sprintf("%d of %d numbers lie between 0.8 and 1.2 and the other values show good eyes", good, len(c.plain))})
	}
	return out
}

func nameEvidence(columnName string) []evidence {
	name := strings.NewReplacer("_", "", "-", "", " ", "", ".", "").Replace(fold(columnName))
	var out []evidence
	for _, n := range []struct {
		part     string
		notation PlainNumbers
	}{
		{"logmar", PlainLogMAR},
		{"decimal", PlainDecimal},
		{"dezimal", PlainDecimal},
		{"letter", PlainLetters},
		{"buchstaben", PlainLetters},
		{"lettres", PlainLetters},
		{"letras", PlainLetters},
	} {
		if strings.Contains(name, n.part) {
			out = append(out, evidence{n.notation, fmt.Sprintf("the column is named %q", columnName)})
		}
	}
	return out
}

// misfits counts the numbers that the notation cannot hold.
func misfits(plain []float64, notation PlainNumbers) int {
	n := 0
	for _, v := range plain {
		ok := true
		switch notation {
		case PlainLogMAR: // up to 3, where registers store their codes
			ok = v >= MinLogMAR && v <= 3
		case PlainDecimal:
			ok = v > 0 && v <= maxDecimal
		case PlainLetters:
			ok = v >= MinLetters && v <= MaxLetters && v == math.Trunc(v)
		}
		if !ok {
			n++
		}
	}
	return n
}

func (d *Decision) decideOverTen(c column) {
	if len(c.numerals) == 0 {
		return
	}
	distinct := map[float64]bool{}
	for _, n := range c.numerals {
		if n <= maxTenthsInRange {
			distinct[n] = true
		}
	}
	if len(distinct) >= minTenths {
		d.OverTen = OverTenTenths
		d.Reasons = append(d.Reasons, fmt.Sprintf("%d different numerators over 10 are tenths of decimal acuity", len(distinct)))
		return
	}
	d.Questions = append(d.Questions, "fractions over 10: tenths of decimal acuity or Snellen? The acuity is the same, the test distance is not")
}

func median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	return (s[(n-1)/2] + s[n/2]) / 2
}
