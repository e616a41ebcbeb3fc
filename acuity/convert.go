package acuity

import (
	"fmt"
	"math"

	"limitans/fault"
)

const (
	// MinLogMAR is the best acuity accepted, 20/8. One line better than the
	// last line of the usual chart (−0.30, 20/10); common practice, no source.
	MinLogMAR = -0.4

	// MaxLogMAR is the worst acuity accepted as a measurement. The worst
	// decimal acuity measured in eyes seeing hand movements was 0.003, logMAR
	// 2.52 (Schulze-Bonsel et al. 2006, doi 10.1167/iovs.05-0981, abstract);
	// the bound leaves room for rounding.
	MaxLogMAR = 2.6

	// LogMARPerLetter is the credit of one letter on a line of five. Source:
	// Holladay 2004, J Cataract Refract Surg 30:287 (abstract).
	LogMARPerLetter = 0.02

	// MinLetters and MaxLetters bound the letter score (from memory: ETDRS
	// manual; Ferris and Bailey 1996).
	MinLetters = 0.0
	MaxLetters = 100.0

	// LogMARAtZeroLetters is the value of the formula when no letter is read.
	LogMARAtZeroLetters = 1.7

	// oneMetreScoreLetters is the score below which the 4 m reading alone is
	// not the score: letters read at 1 m are added (from memory, ETDRS manual).
	oneMetreScoreLetters = 20.0

	lettersAtLogMARZero = 85.0
	lettersPerLogMAR    = 50.0
	metresPerFoot       = 0.3048 // exact, international foot
)

// Conversion is one rule by which a writing becomes logMAR.
type Conversion struct {
	Name     string // as in Entry.Scheme
	Rule     string
	Range    string
	Source   string
	HowKnown string
}

// The names of the conversions as they stand in [Entry.Scheme].
const (
	schemeSnellenMetres = "Snellen fraction, metres"
	schemeSnellenFeet   = "Snellen fraction, feet"
	schemeFraction      = "fraction, test distance not known"
	schemeDecimal       = "decimal acuity"
	schemeLogMAR        = "logMAR"
	schemeLetters       = "letter score"
	schemeNear          = "near, distance over M units"
	schemeCredit        = "0.02 per letter, approximate"
	schemeCreditLogMAR  = "0.02 per letter"
)

// Conversions returns the rules in use, in the order of the documentation.
// The slice is the caller's own.
func Conversions() []Conversion {
	const definition = "definition; Holladay 2004, J Cataract Refract Surg 30:287"
	return []Conversion{
		{schemeSnellenMetres, "logMAR = log10(denominator / numerator)", "-0.4 to 2.6 logMAR", definition, "abstract"},
		{schemeSnellenFeet, "logMAR = log10(denominator / numerator)", "-0.4 to 2.6 logMAR", definition, "abstract"},
		{schemeFraction, "logMAR = log10(denominator / numerator); tenths of decimal acuity and Snellen agree", "-0.4 to 2.6 logMAR", definition, "derived"},
		{schemeDecimal, "logMAR = -log10(decimal)", "0.0025 to 2.5", definition, "abstract"},
		{schemeLogMAR, "as written", "-0.4 to 2.6", "definition; Bailey and Lovie 1976, Am J Optom Physiol Opt 53:740", "from memory"},
		{schemeLetters, "logMAR = (85 - letters) / 50, that is 1.7 - 0.02 x letters", "0 to 100 letters", "Beck 2003, Am J Ophthalmol 135:194, doi 10.1016/S0002-9394(02)01825-1; Gregori, Feuer and Rosenfeld 2010, Retina 30:1046", "formula secondary; second source abstract"},
		{schemeCredit, "letter missed +0.02, letter gained -0.02 logMAR", "up to 5 letters", "no standard for Snellen lines; letter-by-letter rule of teaching texts", "secondary"},
		{schemeNear, "logMAR = log10(M units / distance in metres); M units = N points / 8", "distance must be written", "M unit: definition; N points: Law 1951", "definition; N points from memory"},
	}
}

func inRange(logMAR float64) bool {
	const guard = 1e-9 // so that 20/8 written as a quotient stays inside
	return logMAR >= MinLogMAR-guard && logMAR <= MaxLogMAR+guard
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// LogMARFromSnellen returns log10(denominator/numerator). Both are positive
// and in the same unit; the ratio alone counts.
func LogMARFromSnellen(numerator, denominator float64) (float64, error) {
	if !finite(numerator) || !finite(denominator) || numerator <= 0 || denominator <= 0 {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "Snellen fraction",
			What:     fmt.Sprintf("%g/%g is not a fraction of two positive numbers", numerator, denominator),
			Expected: "for example 6/9 or 20/30",
		}
	}
	return zeroSign(math.Log10(denominator / numerator)), nil
}

// LogMARFromDecimal returns −log10(decimal). The decimal acuity is positive.
func LogMARFromDecimal(decimal float64) (float64, error) {
	if !finite(decimal) || decimal <= 0 {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "decimal acuity",
			What: fmt.Sprintf("%g has no logMAR", decimal), Expected: "a number above 0",
			Mend: "use a category such as light perception for an eye off the chart",
		}
	}
	return zeroSign(-math.Log10(decimal)), nil
}

// DecimalFromLogMAR returns 10^−logMAR.
func DecimalFromLogMAR(logMAR float64) float64 { return math.Pow(10, -logMAR) }

// SnellenDenominator returns numerator·10^logMAR, the denominator of the
// fraction with the given numerator, in the numerator's unit.
func SnellenDenominator(logMAR, numerator float64) float64 {
	return numerator * math.Pow(10, logMAR)
}

// LogMARFromLetters returns (85 − letters)/50, which is 1.7 − 0.02·letters.
// letters lies between 0 and 100. Sources: Beck 2003, doi
// 10.1016/S0002-9394(02)01825-1 (formula secondary).
func LogMARFromLetters(letters float64) (float64, error) {
	if !finite(letters) || letters < MinLetters || letters > MaxLetters {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "letter score",
			What: fmt.Sprintf("%g is not a letter score", letters), Expected: "0 to 100",
		}
	}
	return (lettersAtLogMARZero - letters) / lettersPerLogMAR, nil
}

// LettersFromLogMAR returns 85 − 50·logMAR, unrounded. Source: Gregori, Feuer
// and Rosenfeld 2010, Retina 30:1046 (abstract). It fails where the result is
// negative or rounds to more than 100: such an eye is off the chart. So 20/10
// gives 100.05, the full score.
func LettersFromLogMAR(logMAR float64) (float64, error) {
	letters := lettersAtLogMARZero - lettersPerLogMAR*logMAR
	const guard = 1e-9
	if !finite(letters) || letters < MinLetters-guard || letters >= MaxLetters+0.5 {
		return 0, &fault.Error{
			Code: fault.NotMeasurable, Where: "letter score",
			What: fmt.Sprintf("logMAR %g is off the letter chart", logMAR), Expected: "logMAR -0.3 to 1.7",
		}
	}
	return math.Max(MinLetters, letters), nil // the guard admits −1e-9, which is 0
}

// LogMARAtDistance returns the acuity when a line marked logMAR on a chart made
// for designMetres is read at testMetres: logMAR + log10(design/test).
// Both distances are in metres and positive.
func LogMARAtDistance(logMAR, designMetres, testMetres float64) (float64, error) {
	shift, err := LogMARFromSnellen(testMetres, designMetres)
	if err != nil || !finite(logMAR) {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "test distance",
			What:     fmt.Sprintf("chart for %g m read at %g m", designMetres, testMetres),
			Expected: "two distances above 0 and a finite logMAR", Cause: err,
		}
	}
	return logMAR + shift, nil
}

// NearLogMAR returns log10(mUnits/distanceMetres): print of 1 M subtends
// 5 minutes of arc at 1 m. Both arguments are positive.
func NearLogMAR(mUnits, distanceMetres float64) (float64, error) {
	return LogMARFromSnellen(distanceMetres, mUnits)
}

// MUnitsFromPoints returns points/8: N8 is 1.0 M (from memory; the British
// near standard of 1951). The WHO wording calls N6 0.8 M where this rule
// gives 0.75.
func MUnitsFromPoints(points float64) float64 { return points / 8 }

// zeroSign turns −0 into 0, which would print as "-0".
func zeroSign(x float64) float64 {
	if x == 0 {
		return 0
	}
	return x
}
