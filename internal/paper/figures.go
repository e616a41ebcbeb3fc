package paper

import (
	"fmt"
	"strconv"

	"limitans/estimate"
)

// Figure is a number of a sheet with its interval. Decimals are those that are
// printed; Source says where it comes from, in a few words.
type Figure struct {
	Label    string
	Estimate estimate.Estimate
	Decimals int
	Unit     string
	Source   string
	// Exact figures, such as a setting of a syringe, have no interval.
	Exact bool
}

// row is the figure as a row of a table. A figure that is missing says why.
func (f Figure) row() row {
	r := row{label: f.Label, note: f.Source}
	if !f.Estimate.Known() {
		r.band = "not known: " + f.Estimate.Basis
		return r
	}
	r.value = f.value()
	r.band = f.band()
	return r
}

func (f Figure) number(x float64) string { return strconv.FormatFloat(x, 'f', f.Decimals, 64) }

// value is the number with its unit.
func (f Figure) value() string {
	if f.Unit == "" {
		return f.number(f.Estimate.Value)
	}
	return f.number(f.Estimate.Value) + "\u00a0" + f.Unit
}

// band is the interval in brackets.
func (f Figure) band() string {
	if f.Exact {
		return ""
	}
	return fmt.Sprintf("(%s\u00a0to\u00a0%s)", f.number(f.Estimate.Low), f.number(f.Estimate.High))
}

// Fact is something that is no number with an interval: a class, a gauge, a
// choice.
type Fact struct{ Label, Text string }
