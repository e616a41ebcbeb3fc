package acuity

import (
	"fmt"
	"math"
	"strings"

	"limitans/fault"
)

// LowVisionScheme says which logMAR stands for counting fingers and hand
// movements. The zero value is [Lange2009].
type LowVisionScheme int

// The schemes. They differ by up to 0.7 logMAR for hand movements, enough to
// make or hide a gain of lines, so a result names the one used.
const (
	// Lange2009 is the default: measured, the larger series.
	Lange2009 LowVisionScheme = iota
	// SchulzeBonsel2006 is measured in a smaller series.
	SchulzeBonsel2006
	// Holladay is a convention.
	Holladay
	// UnitedKingdomAudit is a convention.
	UnitedKingdomAudit
	// FingersOverSixty takes counting fingers at d metres as d/60.
	FingersOverSixty
	schemeCount
)

// SchemeValues describes a low-vision scheme. A category without a value in
// the scheme holds NaN.
//
// LightPerception and NoLightPerception are codes some registers store to keep
// the order; they are no measurements and never become [Entry.LogMAR]. They
// are here because a stored 2.70 or 3.00 may be such a code.
type SchemeValues struct {
	Scheme            LowVisionScheme
	Name              string
	CountingFingers   float64 // logMAR
	HandMovements     float64 // logMAR
	LightPerception   float64 // code only
	NoLightPerception float64 // code only
	Conditions        string
	Source            string
	HowKnown          string
}

// Schemes returns the table of low-vision schemes, the default first. The
// slice is the caller's own.
func Schemes() []SchemeValues {
	no := math.NaN()
	return []SchemeValues{
		{
			Lange2009, "Lange 2009", 1.98, 2.28, no, no,
			"counting fingers n=15, SD 0.24, rings at 50 cm; hand movements n=15, SD 0.15; light perception n=11 not quantifiable",
			"Lange et al., Graefes Arch Clin Exp Ophthalmol 2009;247:137, doi 10.1007/s00417-008-0926-0", "abstract",
		},
		{
			SchulzeBonsel2006, "Schulze-Bonsel 2006", 1.85, 2.30, no, no,
			"counting fingers n=6 at 30 cm; hand movements n=12; light perception n=2 not measurable",
			"Schulze-Bonsel et al., Invest Ophthalmol Vis Sci 2006;47:1236, doi 10.1167/iovs.05-0981", "abstract",
		},
		{
			Holladay, "Holladay 1997/2004", 2.0, 3.0, no, no,
			"convention: counting fingers at about 2 ft as 20/2000, hand movements ten times worse",
			"Holladay, J Refract Surg 1997;13:388; J Cataract Refract Surg 2004;30:287", "values from memory",
		},
		{
			UnitedKingdomAudit, "UK national audit practice", 2.10, 2.40, 2.70, 3.00,
			"convention of database reports; the last two only keep order",
			"for example Day et al., Eye 2015;29:552", "from memory",
		},
		{
			FingersOverSixty, "counting fingers at d m as d/60", no, no, no, no,
			"the ICD-10 H54 table puts finger counting at 1 m with 1/60; other distances by proportion. At 0.3 m this is 2.30 where 1.85 was measured",
			"WHO ICD-10 H54", "table read in full; proportion derived",
		},
	}
}

func (s LowVisionScheme) valid() bool { return s >= 0 && s < schemeCount }

func (s LowVisionScheme) values() SchemeValues {
	if !s.valid() {
		s = Lange2009
	}
	return Schemes()[s]
}

// String returns the scheme's name as it stands beside each value.
func (s LowVisionScheme) String() string {
	if !s.valid() {
		return fmt.Sprintf("unknown scheme %d", int(s))
	}
	return s.values().Name
}

// ParseScheme finds a scheme by its name or the first word of it, in any case.
func ParseScheme(name string) (LowVisionScheme, error) {
	var names []string
	wanted := strings.ToLower(strings.TrimSpace(name))
	for _, v := range Schemes() {
		full := strings.ToLower(v.Name)
		first, _, _ := strings.Cut(full, " ")
		if wanted == full || wanted == first {
			return v.Scheme, nil
		}
		names = append(names, v.Name)
	}
	return Lange2009, &fault.Error{
		Code: fault.NotFound, Where: "low-vision scheme",
		What: fmt.Sprintf("%q is not known", name), Expected: "one of " + strings.Join(names, ", "),
	}
}

// LogMAR returns the scheme's value for a category and true, or false when the
// scheme has none. distanceM is the distance in metres at which fingers were
// counted, nil when it was not written; only [FingersOverSixty] uses it.
func (s LowVisionScheme) LogMAR(kind Kind, distanceM *float64) (float64, bool) {
	v := s.values()
	switch {
	case kind == CountingFingers && s == FingersOverSixty:
		if distanceM == nil {
			return 0, false
		}
		logMAR, err := LogMARFromSnellen(*distanceM, 60)
		return logMAR, err == nil && inRange(logMAR)
	case kind == CountingFingers:
		return v.CountingFingers, true
	case kind == HandMovements && !math.IsNaN(v.HandMovements):
		return v.HandMovements, true
	}
	return 0, false
}

// chartEndLogMAR is the value up to which a number is taken for a chart value
// even if a scheme uses the same number: the largest line of the usual chart
// at 0.5 m is 1.9, 1/60 is 1.78 (derived).
const chartEndLogMAR = 1.8

// codesAt lists the categories for which some scheme stores this logMAR.
func codesAt(logMAR float64) []Reading {
	if logMAR <= chartEndLogMAR {
		return nil
	}
	var out []Reading
	same := func(code float64) bool { return math.Round(code*100) == math.Round(logMAR*100) }
	for _, v := range Schemes() {
		for _, c := range []struct {
			kind Kind
			code float64
		}{
			{CountingFingers, v.CountingFingers},
			{HandMovements, v.HandMovements},
			{LightPerception, v.LightPerception},
			{NoLightPerception, v.NoLightPerception},
		} {
			if !math.IsNaN(c.code) && same(c.code) {
				r := Reading{As: "code for " + c.kind.words(), Kind: c.kind, Scheme: v.Name}
				if value, ok := v.Scheme.LogMAR(c.kind, nil); ok {
					r.LogMAR = &value
				}
				out = append(out, r)
			}
		}
	}
	return out
}
