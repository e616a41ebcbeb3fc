package tamponade

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"limitans/fault"
)

// Percent is a share in hundredths: of gas in air by volume, or of the cavity
// that is filled. It is a type of its own because 0.14 and 14 are the same
// mixture written two ways, and a bare number does not say which.
type Percent float64

// Fraction returns the share as a fraction of one.
func (p Percent) Fraction() float64 { return float64(p) / 100 }

// String writes the share with its sign, to at most two decimals.
func (p Percent) String() string {
	return strconv.FormatFloat(math.Round(float64(p)*100)/100, 'f', -1, 64) + " %"
}

// PercentReading is a share as somebody wrote it, with how it was understood.
// Every reading is to be read back aloud before it is used.
type PercentReading struct {
	Raw     string  `json:"raw"`
	Percent Percent `json:"percent"`
	How     string  `json:"how"`
}

// ParsePercent reads a share as people write it: "14", "14 %", "14,5", "0.14"
// and digits of other scripts.
//
//	with a per cent sign, 1 and more    hundredths, as written
//	without, more than 1                hundredths
//	without, below 1                    a fraction of one: 0.14 is 14 %, never 0.14 %
//	zero                                0 %
//
// What has two readings is a Conflict and is asked back: "1" and "1.0" (1 % or
// the pure gas) and a per cent sign behind a number below 1 ("0.14 %"). A text
// that is no number is Invalid, as is anything outside 0 to 100 %.
func ParsePercent(text string) (PercentReading, error) {
	reading := PercentReading{Raw: text}
	number, signed := strings.CutSuffix(normaliseNumber(text), "%")
	number = strings.TrimSpace(number)
	value, err := strconv.ParseFloat(number, 64)
	if err != nil || strings.ContainsAny(number, "xXeEpP_+") || math.IsNaN(value) || math.IsInf(value, 0) {
		return reading, &fault.Error{
			Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%q is no percentage", text), Expected: "for example 14, 14% or 0.14",
		}
	}
	switch {
	case value < 0 || value > 100:
		return reading, &fault.Error{
			Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%q lies outside 0 to 100 %%", text), Expected: "for example 14, 14% or 0.14",
		}
	case value == 0:
		reading.How = "zero"
	case signed && value < 1:
		return reading, twoReadings(text, Percent(value*100), Percent(value))
	case !signed && value == 1:
		return reading, twoReadings(text, 1, 100)
	case value < 1:
		reading.Percent, reading.How = Percent(cleanProduct(value, 100)), "a number below 1 is read as a fraction of one"
	case signed:
		reading.Percent, reading.How = Percent(value), "as written"
	default:
		reading.Percent, reading.How = Percent(value), "a number above 1 is read as hundredths"
	}
	return reading, nil
}

// cleanProduct multiplies decimal numbers so that 0.14 · 100 is 14 and not the
// next float64: the product is rounded to twelve digits, far finer than any
// syringe, far coarser than the error of one multiplication.
func cleanProduct(a, b float64) float64 { return math.Round(a*b*1e12) / 1e12 }

func twoReadings(text string, a, b Percent) error {
	return &fault.Error{
		Code: fault.Conflict, Where: "percentage", What: fmt.Sprintf("%q can mean %s or %s", text, a, b),
		Mend: "write it in hundredths with the sign, for example 14%",
	}
}

// normaliseNumber maps digits and per cent signs of other scripts to ASCII and
// a single decimal comma to a point.
func normaliseNumber(text string) string {
	var b strings.Builder
	for _, r := range strings.TrimSpace(text) {
		switch {
		case r >= '0' && r <= '9':
			b.WriteRune(r)
		case unicode.IsDigit(r):
			b.WriteByte('0' + byte(digitValue(r)))
		case r == '٪' || r == '％' || r == '﹪':
			b.WriteByte('%')
		case r == '٫':
			b.WriteByte('.')
		case r == '−':
			b.WriteByte('-')
		case r == '\u00a0' || r == '\u202f':
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	s := b.String()
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	return s
}

// digitValue is the value of a decimal digit: Unicode keeps the ten digits of a
// script together and in order, so it is the distance to the first of the run.
func digitValue(r rune) int {
	for v := 0; v <= 9; v++ {
		if !unicode.IsDigit(r - rune(v) - 1) {
			return v
		}
	}
	// Runs of more than ten (mathematical digits) follow each other in tens
	// from U+1D7CE.
	return int(r-0x1d7ce) % 10
}

// Mixture is one choice: a gas at a share of gas in air. The two are never
// chosen apart, because the shares of one gas are wrong for another.
type Mixture struct {
	Agent   Agent   `json:"agent"`
	Percent Percent `json:"percent"`
}

// String writes "14 % C3F8", "pure C3F8" or "air".
func (m Mixture) String() string {
	switch {
	case m.Agent == AgentAir:
		return "air"
	case m.Percent == 100:
		return "pure " + m.Agent.String()
	}
	return m.Percent.String() + " " + m.Agent.String()
}

// NewMixture joins a gas and its share, 0 to 100 %. Air has no share: it takes
// 0 or 100 and anything else is Invalid, as is 0 % of a gas.
func NewMixture(agent Agent, percent Percent) (Mixture, error) {
	if _, err := agent.Facts(); err != nil {
		return Mixture{}, err
	}
	if !(percent >= 0 && percent <= 100) {
		return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%g %% cannot be", float64(percent)), Expected: "0 to 100 %"}
	}
	if agent == AgentAir {
		if percent != 0 && percent != 100 {
			return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("air at %s is no mixture", percent), Expected: "a gas with a share, or air alone"}
		}
		return Mixture{Agent: AgentAir, Percent: 100}, nil
	}
	if percent == 0 {
		return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "percentage", What: "0 % of " + agent.String() + " is air", Expected: "air, or a share above zero"}
	}
	return Mixture{agent, percent}, nil
}
