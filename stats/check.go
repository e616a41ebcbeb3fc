package stats

import (
	"fmt"
	"math"

	"limitans/fault"
)

// invalid is a fault of the caller: what was given and what would have been right.
func invalid(where, what, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: where, What: what, Expected: expected}
}

// notMeasurable is a fault of the data: the asked figure does not exist for them.
func notMeasurable(where, what, mend string) error {
	return &fault.Error{Code: fault.NotMeasurable, Where: where, What: what, Mend: mend}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func checkLevel(where string, level float64) error {
	if !(level > 0 && level < 1) {
		return invalid(where, fmt.Sprintf("level %g", level), "a level between 0 and 1, both excluded")
	}
	return nil
}

// mostTrials keeps counts where float64 holds them and their squares exactly enough.
const mostTrials = 1 << 40

func checkCounts(where string, events, trials int) error {
	switch {
	case trials < 1 || trials > mostTrials:
		return invalid(where, fmt.Sprintf("%d trials", trials), "at least one trial and at most 2^40")
	case events < 0 || events > trials:
		return invalid(where, fmt.Sprintf("%d events in %d trials", events, trials), "from zero to all of the trials")
	}
	return nil
}

// checkOpenProbability wants 0 < p < 1.
func checkOpenProbability(where, name string, p float64) error {
	if !(p > 0 && p < 1) {
		return invalid(where, fmt.Sprintf("%s %g", name, p), "between 0 and 1, both excluded")
	}
	return nil
}

// checkClosedProbability wants 0 ≤ p ≤ 1.
func checkClosedProbability(where, name string, p float64) error {
	if !(p >= 0 && p <= 1) {
		return invalid(where, fmt.Sprintf("%s %g", name, p), "from 0 to 1")
	}
	return nil
}

func checkPositive(where, name string, x float64) error {
	if !(x > 0) || !finite(x) {
		return invalid(where, fmt.Sprintf("%s %g", name, x), "a positive number")
	}
	return nil
}

// checkFinite wants at least least numbers, none missing or infinite.
func checkFinite(where, name string, xs []float64, least int) error {
	if len(xs) < least {
		return invalid(where, fmt.Sprintf("%d values of %s", len(xs), name), fmt.Sprintf("at least %d", least))
	}
	for i, x := range xs {
		if !finite(x) {
			return invalid(where, fmt.Sprintf("%s number %d is %g", name, i+1, x), "finite numbers; leave missing values out and count them")
		}
	}
	return nil
}

func checkSameLength(where string, a, b int) error {
	if a != b {
		return invalid(where, fmt.Sprintf("%d values beside %d", a, b), "as many of one as of the other")
	}
	return nil
}

func checkOutcomes(where string, outcomes []bool, n int) error {
	if len(outcomes) != n {
		return invalid(where, fmt.Sprintf("%d outcomes beside %d rows", len(outcomes), n), "one outcome a row")
	}
	return nil
}
