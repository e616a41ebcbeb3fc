package stats

import (
	"fmt"
	"math"
)

// EWMAFactor returns the standard deviation of an exponentially weighted mean
// in units of that of one observation: √(λ/(2−λ)·(1−(1−λ)^{2t})) after t ≥ 1
// observations, the limit for t = 0 meaning ever. 0 < λ ≤ 1; 0.05 to 0.1 suit a
// surgeon (common practice).
func EWMAFactor(lambda float64, observations int) (float64, error) {
	const where = "EWMA"
	if err := checkLambda(where, lambda); err != nil {
		return 0, err
	}
	if observations < 0 {
		return 0, invalid(where, fmt.Sprintf("%d observations", observations), "at least one, or 0 for the limit")
	}
	variance := lambda / (2 - lambda)
	if observations > 0 {
		variance *= 1 - math.Pow(1-lambda, 2*float64(observations))
	}
	return math.Sqrt(variance), nil
}

func checkLambda(where string, lambda float64) error {
	if !(lambda > 0 && lambda <= 1) {
		return invalid(where, fmt.Sprintf("weight %g", lambda), "above 0 and at most 1")
	}
	return nil
}

// EWMA returns Z_t = λ·y_t + (1−λ)·Z_{t−1} after each value, from start.
func EWMA(values []float64, lambda, start float64) ([]float64, error) {
	const where = "EWMA"
	if err := checkLambda(where, lambda); err != nil {
		return nil, err
	}
	if err := checkFinite(where, "values", append([]float64{start}, values...), 1); err != nil {
		return nil, err
	}
	path, at := make([]float64, len(values)), start
	for i, y := range values {
		at = lambda*y + (1-lambda)*at
		path[i] = at
	}
	return path, nil
}

// RiskAdjustedEWMA holds both curves after each case, and the standard
// deviation of the observed one given the risks.
type RiskAdjustedEWMA struct{ Observed, Expected, StandardDeviation []float64 }

// RiskAdjustedEWMAPath returns the EWMA of outcomes beside that of risks, both
// from start. The variance follows V_t = λ²·p(1−p) + (1−λ)²·V_{t−1}. Source:
// Cook et al., BMJ Qual Saf 2011;20:469, doi:10.1136/bmjqs.2008.031831
// (abstract read).
func RiskAdjustedEWMAPath(risks []float64, failures []bool, lambda, start float64) (RiskAdjustedEWMA, error) {
	if err := checkCases("risk-adjusted EWMA", risks, failures); err != nil {
		return RiskAdjustedEWMA{}, err
	}
	outcomes := make([]float64, len(failures))
	for i, f := range failures {
		outcomes[i] = indicator(f)
	}
	observed, err := EWMA(outcomes, lambda, start)
	if err != nil {
		return RiskAdjustedEWMA{}, err
	}
	expected, err := EWMA(risks, lambda, start)
	if err != nil {
		return RiskAdjustedEWMA{}, err
	}
	deviation, variance := make([]float64, len(risks)), 0.0
	for i, p := range risks {
		variance = lambda*lambda*p*(1-p) + (1-lambda)*(1-lambda)*variance
		deviation[i] = math.Sqrt(variance)
	}
	return RiskAdjustedEWMA{observed, expected, deviation}, nil
}

// GapChart is a chart of the number of cases between rare events.
type GapChart struct {
	Centre     float64 // (1−p)/p
	UpperLimit float64 // Centre + 3·√(1−p)/p
	// LowerTail is the smallest gap g with P(G ≤ g) ≥ alpha; the three-sigma
	// lower limit would be below zero, so that worsening could not be seen.
	LowerTail int
}

// NewGapChart sets the chart up for an event probability 0 < p < 1 and a tail
// 0 < alpha < 1. A gap alarms when [GeometricCDF] of it is small. Source:
// Benneyan, Health Care Manag Sci 2001;4:305, doi:10.1023/A:1011846412909
// (secondary).
func NewGapChart(p, alpha float64) (GapChart, error) {
	const where = "gap chart"
	if err := checkOpenProbability(where, "event probability", p); err != nil {
		return GapChart{}, err
	}
	if err := checkOpenProbability(where, "alpha", alpha); err != nil {
		return GapChart{}, err
	}
	centre := (1 - p) / p
	guess := max(0, int(math.Ceil(math.Log1p(-alpha)/math.Log1p(-p)))-2)
	for GeometricCDF(guess, p) < alpha {
		guess++
	}
	return GapChart{centre, centre + 3*math.Sqrt(1-p)/p, guess}, nil
}
