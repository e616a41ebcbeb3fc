package light

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"limitans/estimate"
	"limitans/fault"
)

// Segment is a stretch of an operation with one power and distance.
type Segment struct {
	Seconds    float64
	PowerMW    float64
	DistanceMM float64
	FilterNM   float64 // edge of a long-pass filter for this stretch, 0 for the light as it is
}

// Errors are the relative errors that powers and the absolute errors that
// distances are taken to be known with, 95 %.
type Errors struct {
	PowerShare float64
	DistanceMM float64
}

// CommonErrors: a meter read to a tenth and a distance judged to a millimetre
// (ours, no source).
func CommonErrors() Errors { return Errors{PowerShare: 0.1, DistanceMM: 1} }

// Power is a measured power in mW with its interval.
func (e Errors) Power(milliwatt float64) estimate.Estimate {
	return estimate.Estimate{Value: milliwatt, Low: milliwatt * (1 - e.PowerShare), High: milliwatt * (1 + e.PowerShare), Basis: fmt.Sprintf("power as measured, within %g %%", 100*e.PowerShare)}
}

// Distance is a distance in mm with its interval, which ends at half a
// millimetre: a tip that touches has no dose.
func (e Errors) Distance(mm float64) estimate.Estimate {
	low := mm - e.DistanceMM
	if low < leastMM {
		low = math.Min(mm, leastMM)
	}
	return estimate.Estimate{Value: mm, Low: low, High: mm + e.DistanceMM, Basis: fmt.Sprintf("distance as given, within %g mm and not below %g", e.DistanceMM, leastMM)}
}

// Check refuses errors that cannot be: a share of 0 to 0.9, a distance of 0 to 10
// mm.
func (e Errors) Check() error {
	if !(e.PowerShare >= 0 && e.PowerShare <= 0.9 && e.DistanceMM >= 0 && e.DistanceMM <= 10) {
		return &fault.Error{Code: fault.Invalid, Where: "errors", What: fmt.Sprintf("power within %g, distance within %g mm cannot be", e.PowerShare, e.DistanceMM), Expected: "power within 0 to 0.9 of itself, distance within 0 to 10 mm"}
	}
	return nil
}

// At is the setting with the power, distance and filter of a segment.
func (s Setting) At(g Segment, e Errors) (Setting, error) {
	if err := e.Check(); err != nil {
		return Setting{}, err
	}
	out := s
	out.PowerMW, out.DistanceMM = e.Power(g.PowerMW), e.Distance(g.DistanceMM)
	if g.FilterNM != 0 {
		var err error
		if out.Source, err = s.Source.LongPass(g.FilterNM); err != nil {
			return Setting{}, err
		}
	}
	return out, out.check()
}

// Total is the dose of several stretches with one probe and lamp, all on the same
// spot, and each one's own.
func Total[B Basis](base Setting, segments []Segment, e Errors) (total Dose[B], each []Dose[B], err error) {
	for i, g := range segments {
		at := fmt.Sprintf("segment %d", i+1)
		s, err := base.At(g, e)
		if err != nil {
			return Dose[B]{}, nil, within(at, err)
		}
		d, err := Exposure[B](s, g.Seconds)
		if err != nil {
			return Dose[B]{}, nil, within(at, err)
		}
		each = append(each, d)
		total = total.Plus(d)
	}
	if total.seconds > longestSeconds {
		return Dose[B]{}, nil, &fault.Error{Code: fault.Unsupported, Where: "time", What: fmt.Sprintf("%g s in all", total.seconds), Expected: fmt.Sprintf("at most %d s, for which the rule of dose holds", longestSeconds)}
	}
	return total, each, nil
}

// within puts a place before that of a fault.
func within(place string, err error) error {
	if f, is := err.(*fault.Error); is {
		named := *f
		named.Where = strings.TrimSuffix(place+", "+f.Where, ", ")
		return &named
	}
	return err
}

const mostSegmentText = 200

// ParseSegment reads a stretch as people write it, in any order and with units,
// so that none can be read as another: "60s 10mW 8mm", "4 min 10 mW 15 mm",
// "120 s, 5 mW, 10 mm, 475 nm" with nm for a filter's edge. A decimal comma
// stands between digits. A quantity that is missing, twice there or without its
// unit is Invalid.
func ParseSegment(text string) (Segment, error) {
	wrong := func(what string) (Segment, error) {
		return Segment{}, &fault.Error{Code: fault.Invalid, Where: "segment", What: what, Expected: "seconds, milliwatts and millimetres with their units, for example \"60s 10mW 8mm\""}
	}
	if len(text) > mostSegmentText {
		return wrong(fmt.Sprintf("%d octets are no segment", len(text)))
	}
	var g Segment
	given := map[string]bool{}
	for rest := skipSeparators(text); rest != ""; rest = skipSeparators(rest) {
		end := strings.IndexFunc(rest, func(r rune) bool { return !(r >= '0' && r <= '9' || r == '.' || r == ',') })
		if end < 0 {
			return wrong(fmt.Sprintf("%q has no unit", rest))
		}
		number := strings.TrimSuffix(rest[:end], ",")
		value, ok := plainNumber(strings.Replace(number, ",", ".", 1))
		if !ok || end == 0 {
			return wrong(fmt.Sprintf("%q does not begin with a number", rest))
		}
		rest = strings.TrimLeft(rest[end:], " \t")
		end = strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) })
		if end < 0 {
			end = len(rest)
		}
		kind := g.enter(rest[:end], value)
		if kind == "" {
			return wrong(fmt.Sprintf("%q is no unit of a segment", rest[:end]))
		}
		if given[kind] {
			return wrong("the " + kind + " is given twice")
		}
		given[kind] = true
		rest = rest[end:]
	}
	for _, kind := range []string{"time", "power", "distance"} {
		if !given[kind] {
			return wrong("the " + kind + " is missing")
		}
	}
	return g, nil
}

func skipSeparators(text string) string { return strings.TrimLeft(text, " \t,;") }

// enter puts a value in its place by its unit and says which place that was.
func (g *Segment) enter(unit string, value float64) string {
	switch unit {
	case "s", "sec":
		g.Seconds = value
		return "time"
	case "min":
		g.Seconds = value * 60
		return "time"
	case "mW":
		g.PowerMW = value
		return "power"
	case "mm":
		g.DistanceMM = value
		return "distance"
	case "nm":
		g.FilterNM = value
		return "filter"
	}
	return ""
}
