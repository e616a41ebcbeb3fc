package stain

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"limitans/fault"
)

// mgPerMLPerPercent: 1 % weight by volume is 1 g in 100 mL.
const mgPerMLPerPercent = 10

// mostMGPerML is above every solution of a dye; beyond it a unit has slipped.
const mostMGPerML = 200

// Strength is a concentration, weight by volume. It can only be made with its
// unit, because a bare 0.25 has been read as mg/mL and as per cent, ten times
// more.
type Strength struct{ mgPerML float64 }

// MGPerML makes a strength from milligrams per millilitre, above 0 to 200.
func MGPerML(value float64) (Strength, error) {
	if !(value > 0 && value <= mostMGPerML) {
		return Strength{}, &fault.Error{Code: fault.Invalid, Where: "strength", What: fmt.Sprintf("%g mg/mL is no dye's", value), Expected: fmt.Sprintf("above 0, up to %d mg/mL", mostMGPerML)}
	}
	return Strength{value}, nil
}

// Percent makes a strength from per cent weight by volume, 10 mg/mL each.
func Percent(value float64) (Strength, error) { return MGPerML(cleanProduct(value, mgPerMLPerPercent)) }

// MGPerML is the strength in milligrams per millilitre.
func (s Strength) MGPerML() float64 { return s.mgPerML }

// Percent is the strength in per cent weight by volume.
func (s Strength) Percent() float64 { return cleanProduct(s.mgPerML, 1.0/mgPerMLPerPercent) }

// String writes both units, so that neither is taken for the other.
func (s Strength) String() string {
	short := func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
	return short(s.mgPerML) + " mg/mL = " + short(s.Percent()) + " %"
}

// cleanProduct multiplies decimal numbers so that 0.015 · 10 is 0.15 and not the
// next float64: rounded to twelve digits after the point.
func cleanProduct(a, b float64) float64 { return math.Round(a*b*1e12) / 1e12 }

// StrengthReading is a strength as somebody wrote it, with how it was understood.
type StrengthReading struct {
	Raw      string
	Strength Strength
	How      string
}

const mostStrengthText = 100

// ParseStrength reads a strength as people write it, with its unit: "0.25 mg/mL",
// "0,025 %", "250 µg/mL", "0.25 g/L", "25 mg in 5 mL", digits of other scripts.
// Two strengths may stand together, "0.25 mg/mL (0.025 %)", when they agree.
//
// What has two readings is a Conflict and is asked back: a number without a unit,
// two strengths that differ ("1.2 mg/mL (0.15 %)"), a comma that may part
// thousands ("1,250 µg/mL"). Everything else that is no strength is Invalid.
func ParseStrength(text string) (StrengthReading, error) {
	reading := StrengthReading{Raw: text, How: "as written"}
	if len(text) > mostStrengthText {
		return reading, notStrength(text[:mostStrengthText], "is too long")
	}
	rest := normalise(text)
	found := 0
	for rest = skip(rest); rest != ""; rest = skip(rest) {
		s, after, err := readOne(text, rest)
		if err != nil {
			return reading, err
		}
		if found > 0 {
			if math.Abs(s.mgPerML-reading.Strength.mgPerML) > 1e-9*s.mgPerML {
				return reading, &fault.Error{Code: fault.Conflict, Where: "strength", What: fmt.Sprintf("%q says %s and %s", text, reading.Strength, s), Mend: "read the label again"}
			}
			reading.How = "both units agree"
		} else {
			reading.Strength = s
		}
		found++
		rest = after
	}
	if found == 0 {
		return reading, notStrength(text, "is no strength")
	}
	return reading, nil
}

func notStrength(text, what string) error {
	return &fault.Error{Code: fault.Invalid, Where: "strength", What: fmt.Sprintf("%q %s", text, what), Expected: "a number with its unit, for example 0.25 mg/mL or 0.025 %"}
}

// skip passes over what may stand before a strength.
func skip(text string) string { return strings.TrimLeft(text, " \t()=;") }

// readOne reads one strength at the front of rest; whole is for messages.
func readOne(whole, rest string) (Strength, string, error) {
	number, value, after, err := readNumber(whole, rest)
	if err != nil {
		return Strength{}, "", err
	}
	unit, factor, after := readUnit(after)
	switch unit {
	case "":
		if next := skip(after); next != "" {
			return Strength{}, "", notStrength(whole, "has a unit that is not known")
		}
		return Strength{}, "", twoReadings(whole, number, value)
	case "mg": // an amount: the volume must follow
		after = strings.TrimLeft(strings.TrimPrefix(strings.TrimLeft(strings.TrimPrefix(after, "/"), " "), "in"), " ")
		_, volume, end, err := readNumber(whole, after)
		if err != nil || !strings.HasPrefix(strings.TrimLeft(end, " "), "ml") || !(volume > 0) {
			return Strength{}, "", notStrength(whole, "is an amount without a volume")
		}
		s, err := MGPerML(value / volume)
		return s, strings.TrimPrefix(strings.TrimLeft(end, " "), "ml"), err
	case "%":
		s, err := Percent(value)
		return s, after, err
	}
	s, err := MGPerML(cleanProduct(value, factor))
	return s, after, err
}

func readNumber(whole, rest string) (number string, value float64, after string, err error) {
	end := strings.IndexFunc(rest, func(r rune) bool { return !(r >= '0' && r <= '9' || r == '.' || r == ',') })
	if end < 0 {
		end = len(rest)
	}
	number = rest[:end]
	if left, right, cut := strings.Cut(number, ","); cut && len(right) == 3 && left != "" && left[0] != '0' && len(left) <= 3 && !strings.Contains(number, ".") {
		return "", 0, "", &fault.Error{Code: fault.Conflict, Where: "strength", What: fmt.Sprintf("the comma of %q can part thousands or decimals", whole), Mend: "write it without a comma"}
	}
	number = strings.Replace(number, ",", ".", 1)
	value, parseErr := strconv.ParseFloat(number, 64)
	if parseErr != nil || math.IsInf(value, 0) {
		return "", 0, "", notStrength(whole, "is no strength")
	}
	return number, value, strings.TrimLeft(rest[end:], " \t"), nil
}

// readUnit reads a unit at the front; factor turns it into mg/mL. "mg" alone is
// an amount.
func readUnit(text string) (unit string, factor float64, after string) {
	for _, u := range []struct {
		written, unit string
		factor        float64
	}{
		{"mg/ml", "mg/ml", 1},
		{"mg per ml", "mg/ml", 1},
		{"µg/ml", "µg/ml", 1e-3},
		{"ug/ml", "µg/ml", 1e-3},
		{"mcg/ml", "µg/ml", 1e-3},
		{"g/l", "g/l", 1},
		{"%", "%", 0},
		{"mg/", "mg", 0},
		{"mg in ", "mg", 0},
	} {
		if rest, is := strings.CutPrefix(text, u.written); is {
			if u.unit == "mg" {
				rest = strings.TrimPrefix(text, "mg")
				return u.unit, 0, strings.TrimLeft(rest, " ")
			}
			if rest != "" && unicode.IsLetter([]rune(rest)[0]) {
				return "", 0, text
			}
			rest = strings.TrimPrefix(strings.TrimLeft(rest, " "), "w/v")
			return u.unit, u.factor, rest
		}
	}
	return "", 0, text
}

// twoReadings asks a bare number back.
func twoReadings(whole, number string, value float64) error {
	asMG, errMG := MGPerML(value)
	asPercent, errPercent := Percent(value)
	if errMG != nil {
		return errMG
	}
	second := asPercent.String()
	if errPercent != nil {
		second = number + " %, which no dye has"
	}
	return &fault.Error{
		Code: fault.Conflict, Where: "strength", What: fmt.Sprintf("%q has no unit and can mean %s or %s", whole, asMG, second),
		Mend: "read the label and write the unit",
	}
}

// normalise lowers letters and maps digits and signs of other scripts.
func normalise(text string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(strings.TrimSpace(text)) {
		switch {
		case r >= '0' && r <= '9':
			b.WriteRune(r)
		case unicode.IsDigit(r):
			b.WriteByte('0' + digitValue(r))
		case r == '٪' || r == '％' || r == '﹪':
			b.WriteByte('%')
		case r == '٫':
			b.WriteByte('.')
		case r == 'μ': // Greek letter for the micro sign
			b.WriteRune('µ')
		case r == '\u00a0' || r == '\u202f' || r == '\t':
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// digitValue is the value of a decimal digit: Unicode keeps the ten digits of a
// script together and in order, so it is the distance to the first of the run.
func digitValue(r rune) byte {
	for v := byte(0); v <= 9; v++ {
		if !unicode.IsDigit(r - rune(v) - 1) {
			return v
		}
	}
	// Mathematical digits follow each other in tens from U+1D7CE.
	return byte((r - 0x1d7ce) % 10)
}
