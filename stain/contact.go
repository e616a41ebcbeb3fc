package stain

import (
	"fmt"
	"math"

	"limitans/fault"
)

const mostApplications = 20

// Contact is how long a dye lay on the retina, each time and in all.
type Contact struct {
	Applications []float64 // seconds each
	LongestS     float64
	TotalS       float64
	// CautionS and LongestPublishedS are the times that were held against; NaN
	// where the dye has none.
	CautionS, LongestPublishedS float64
	Verdict                     Verdict
}

// AddUp judges applications in seconds (above 0, up to 3600 each, at most 20)
// against the strictest of the dyes. Every single one is held against the times
// of the table. The sum is too, and asks for care above the longest published
// contact, because nothing was tested there; with indocyanine dyes it stops.
func AddUp(applications []float64, dyes ...Dye) (Contact, error) {
	if len(applications) == 0 || len(applications) > mostApplications {
		return Contact{}, &fault.Error{Code: fault.Invalid, Where: "contact", What: fmt.Sprintf("%d applications", len(applications)), Expected: fmt.Sprintf("1 to %d", mostApplications)}
	}
	if len(dyes) == 0 {
		return Contact{}, &fault.Error{Code: fault.Invalid, Where: "contact", What: "no dye is told"}
	}
	c := Contact{Applications: append([]float64{}, applications...), CautionS: math.NaN(), LongestPublishedS: math.NaN(), Verdict: Good}
	for _, s := range applications {
		if !(s > 0 && s <= 3600) {
			return Contact{}, &fault.Error{Code: fault.Invalid, Where: "contact", What: fmt.Sprintf("%g s is no contact", s), Expected: "above 0, up to 3600 s"}
		}
		c.LongestS, c.TotalS = math.Max(c.LongestS, s), c.TotalS+s
	}
	sumStops := false
	for _, d := range dyes {
		if math.IsNaN(d.LongestSeconds) {
			continue
		}
		if !(c.LongestPublishedS <= d.LongestSeconds) {
			c.LongestPublishedS = d.LongestSeconds
		}
		if !(c.CautionS <= d.CautionSeconds) {
			c.CautionS = d.CautionSeconds
		}
		sumStops = sumStops || d.SumStops
	}
	switch {
	case c.LongestS > c.LongestPublishedS, sumStops && c.TotalS > c.LongestPublishedS:
		c.Verdict = Halt
	case c.LongestS > c.CautionS, c.TotalS > c.CautionS:
		c.Verdict = Caution
	case math.IsNaN(c.LongestPublishedS):
		c.Verdict = Unknown
	}
	return c, nil
}
