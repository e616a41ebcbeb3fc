package decide

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/evidence"
	"limitans/stats"
)

// leastGroups is how many group means tell how groups scatter.
const leastGroups = 3

// acuity is what published groups say of sight: rows that hold both acuities, or
// the later one for After. Strata and overlapping rows stand aside.
func acuity(rows []evidence.Row, text string) Acuity {
	var a Acuity
	var after, change []float64
	for _, r := range rows {
		if math.IsNaN(r.AcuityAfter) || r.Overlaps != "" || r.StratumOf != "" {
			continue
		}
		a.Groups++
		a.Eyes += max(0, r.Eyes) // not seen for some
		a.Rows = append(a.Rows, r.ID)
		after = append(after, r.AcuityAfter)
		if !math.IsNaN(r.AcuityBefore) {
			change = append(change, r.AcuityAfter-r.AcuityBefore)
		}
	}
	a.After = groupMean(after, text)
	a.Change = groupMean(change, text)
	return a
}

// noAcuity is the answer where no row of the table names groups.
func noAcuity() Acuity {
	missing := estimate.Missing("no published group of the table tells acuity after this")
	return Acuity{After: missing, Change: missing}
}

// groupMean is the mean that a new group would have.
//
//	mean ± t(0.975, k−1)·s·√(1 + 1/k)
func groupMean(means []float64, text string) estimate.Estimate {
	k := len(means)
	if k < leastGroups {
		return estimate.Missing(fmt.Sprintf("published group means: %d; at least %d tell how groups scatter", k, leastGroups))
	}
	d, err := stats.Describe(means)
	if err != nil {
		return estimate.Missing(err.Error())
	}
	half := stats.StudentQuantile(0.975, float64(k-1)) * d.StandardDeviation * math.Sqrt(1+1/float64(k))
	return estimate.Estimate{
		Value: d.Mean, Low: d.Mean - half, High: d.Mean + half,
		Basis: fmt.Sprintf("mean logMAR of %d published groups, unweighted, with the 95 %% range of a new group's mean; one eye scatters more, by how much was not printed; %s", k, text),
	}
}
