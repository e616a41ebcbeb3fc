package stats

import (
	"fmt"

	"limitans/estimate"
)

// Interval is a range [Low, High] with the level at which it was made, 0.95
// for 95 %.
type Interval struct {
	Low, High, Level float64
}

// Estimate joins the value to its interval; it is refused unless the level is
// 0.95, because [estimate.Estimate] means that.
func (i Interval) Estimate(value float64, basis string) (estimate.Estimate, error) {
	if i.Level != 0.95 {
		return estimate.Estimate{}, invalid("stats interval", fmt.Sprintf("level %g", i.Level), "level 0.95 for an estimate")
	}
	return estimate.Estimate{Value: value, Low: i.Low, High: i.High, Basis: basis}, nil
}

// Contains reports whether x lies in the interval, ends included.
func (i Interval) Contains(x float64) bool { return x >= i.Low && x <= i.High }

// twoSided returns z with P(|Z| ≤ z) = level.
func twoSided(level float64) float64 { return -NormalQuantile((1 - level) / 2) }

func around(middle, halfWidth, level float64) Interval {
	return Interval{middle - halfWidth, middle + halfWidth, level}
}
