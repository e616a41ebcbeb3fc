package stats

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"
)

// PoissonRate returns events per exposure with its exact interval, the gamma
// quantiles α/2 of shape k and 1−α/2 of shape k+1 over the exposure, 0 below no
// event. For events that can happen more than once a case, or in time; for
// cases with or without the event use a proportion. exposure positive. Source:
// Garwood, Biometrika 1936;28:437 (from memory).
func PoissonRate(events int, exposure, level float64) (float64, Interval, error) {
	const where = "Poisson rate"
	if events < 0 || events > mostTrials {
		return 0, Interval{}, invalid(where, fmt.Sprintf("%d events", events), "a count from zero")
	}
	if err := checkPositive(where, "exposure", exposure); err != nil {
		return 0, Interval{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return 0, Interval{}, err
	}
	k, tail := float64(events), (1-level)/2
	result := Interval{0, mathext.GammaIncRegCompInv(k+1, tail) / exposure, level}
	if events > 0 {
		result.Low = mathext.GammaIncRegInv(k, tail) / exposure
	}
	return k / exposure, result, nil
}
