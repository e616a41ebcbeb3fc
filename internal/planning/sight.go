package planning

import (
	"fmt"
	"math"

	"limitans/decide"
	"limitans/estimate"
	"limitans/internal/record"
	"limitans/stats"
)

// The window after an operation in which an acuity counts as its result, in days,
// and the day to which the nearest is taken (ours, no source: published series
// report three to twelve months).
const (
	SightFromDays   = 90
	SightToDays     = 365
	SightTargetDays = 180
)

// leastSight is the fewest operations of which a mean is told (ours, no source): of
// fewer the interval is wider than the chart.
const leastSight = 5

// Sight is what the own record says of acuity after an option, in logMAR. Counting
// fingers and hand movements enter with the substitute of their scheme (package
// acuity); a value that has none is missing.
type Sight struct {
	Eyes    int // operations with an acuity before and in the window
	Missing int // operations without one of the two, old enough to have both
	// Intervals are those of the one-sample t distribution (NIST/SEMATECH e-Handbook,
	// 1.3.5.2, from memory). After is the mean afterwards, Change the mean of after minus before (negative
	// is better); each with the 95 % interval of the mean,
	//
	//	mean ± t(0.975, n−1)·s/√n.
	After, Change estimate.Estimate
	// OneEye is the change with the range in which 95 of 100 further eyes lie,
	//
	//	mean ± t(0.975, n−1)·s·√(1 + 1/n),
	//
	// for changes that scatter as a normal distribution does.
	OneEye estimate.Estimate
}

// sightKey is what was done for what.
type sightKey struct {
	condition decide.Condition
	code      string
	again     bool // the eye had had an operation before
}

type sightValues struct {
	after, change []float64
	missing       int
}

// treated is what an operation was done for: its indication, and where none was
// recorded what its eye was looked up for.
func treated(o *record.Operation, eyeOf decide.Condition) decide.Condition {
	switch o.Indication {
	case "":
		return eyeOf
	case record.FullThicknessHole:
		return decide.Hole
	case record.MacularHoleDetachment:
		return decide.HoleWithDetachment
	case record.EpiretinalMembrane:
		return decide.EpiretinalMembrane
	case record.VitreomacularTraction:
		return decide.Traction
	}
	return ""
}

// countSight adds the acuities around one operation. The next operation ends the
// window: what comes after it is its result.
func (s *Series) countSight(c record.Course, i int, key sightKey, today record.Date) {
	o := c.Operations[i]
	to := SightToDays
	if i+1 < len(c.Operations) {
		days, known := o.On.DaysUntil(c.Operations[i+1].On)
		if !known {
			return
		}
		to = min(to, days)
	}
	values := s.sight[key]
	if values == nil {
		values = &sightValues{}
		s.sight[key] = values
	}
	before, known, _ := record.Baseline(c.Visits, o.On)
	after, _, seen := record.AcuityInWindow(c.Visits, o.On, SightTargetDays, SightFromDays, to)
	if !known || !seen || before.Entry.LogMAR == nil || after.Entry.LogMAR == nil {
		if days, ok := o.On.DaysUntil(today); ok && days > SightToDays {
			values.missing++
		}
		return
	}
	values.after = append(values.after, *after.Entry.LogMAR)
	values.change = append(values.change, *after.Entry.LogMAR-*before.Entry.LogMAR)
}

// Sight is the own record's acuity after an option for an eye with these findings.
func (s *Series) Sight(f decide.Findings, code string) Sight {
	values := s.sight[sightKey{f.Condition, code, hadSurgery(f)}]
	if values == nil {
		none := estimate.Missing("no own operation of this sort with acuities before and after was found")
		return Sight{After: none, Change: none, OneEye: none}
	}
	n := len(values.after)
	what := fmt.Sprintf("logMAR of own operations, the value nearest to day %d from day %d to %d, n = %d", SightTargetDays, SightFromDays, SightToDays, n)
	out := Sight{
		Eyes: n, Missing: values.missing,
		After:  ownMean(values.after, 1/float64(n), "mean "+what+", 95 % interval of the mean"),
		Change: ownMean(values.change, 1/float64(n), "mean change of "+what+", 95 % interval of the mean"),
		OneEye: ownMean(values.change, 1+1/float64(n), "mean change of "+what+", with the range of 95 of 100 further eyes"),
	}
	return out
}

// ownMean is mean ± t(0.975, n−1)·s·√factor.
func ownMean(values []float64, factor float64, basis string) estimate.Estimate {
	n := len(values)
	if n < leastSight {
		return estimate.Missing(fmt.Sprintf("%d own operations with acuities before and after; a mean is told from %d on", n, leastSight))
	}
	d, err := stats.Describe(values)
	if err != nil {
		return estimate.Missing(err.Error())
	}
	half := stats.StudentQuantile(0.975, float64(n-1)) * d.StandardDeviation * math.Sqrt(factor)
	return estimate.Estimate{Value: d.Mean, Low: d.Mean - half, High: d.Mean + half, Basis: basis}
}
