package stats

import (
	"math"
)

// FunnelLimit returns the interpolated exact binomial limit of a funnel plot
// for a target rate, n cases and tail probability p:
//
//	(r_p − α)/n, r_p the smallest r with F(r) ≥ p, α = (F(r_p) − p)/(F(r_p) − F(r_p−1))
//
// For small n the upper one lies below 1, so that a perfect record plots
// outside although it is likely: draw the curve, but decide by [FunnelTail].
// Below 0 it is given as it is; draw it at 0. Target between 0 and 1; n ≥ 1.
// Source: Spiegelhalter, Stat Med 2005;24:1185, doi:10.1002/sim.1970 (abstract
// read, formula from memory).
func FunnelLimit(target float64, n int, p float64) (float64, error) {
	const where = "funnel limit"
	if err := checkFunnel(where, target, n); err != nil {
		return 0, err
	}
	if err := checkOpenProbability(where, "tail", p); err != nil {
		return 0, err
	}
	r := BinomialQuantile(p, n, target)
	upTo := BinomialCDF(r, n, target)
	alpha := (upTo - p) / (upTo - BinomialCDF(r-1, n, target))
	return (float64(r) - alpha) / float64(n), nil
}

// FunnelLimitNormal returns target + z_p·√(target(1−target)/n); it may pass 0
// and 1 and is poor for small n.
func FunnelLimitNormal(target float64, n int, p float64) (float64, error) {
	const where = "funnel limit"
	if err := checkFunnel(where, target, n); err != nil {
		return 0, err
	}
	if err := checkOpenProbability(where, "tail", p); err != nil {
		return 0, err
	}
	return target + NormalQuantile(p)*math.Sqrt(target*(1-target)/float64(n)), nil
}

func checkFunnel(where string, target float64, n int) error {
	if err := checkOpenProbability(where, "target", target); err != nil {
		return err
	}
	return checkCounts(where, 0, n)
}

// FunnelTail returns P(R ≤ r) and P(R ≥ r) at the target: the record differs
// from the target at a two-sided level α when either is at most α/2.
func FunnelTail(target float64, events, n int) (atMost, atLeast float64, err error) {
	const where = "funnel tail"
	if err := checkFunnel(where, target, n); err != nil {
		return 0, 0, err
	}
	if err := checkCounts(where, events, n); err != nil {
		return 0, 0, err
	}
	return BinomialCDF(events, n, target), BinomialUpper(events, n, target), nil
}

// Overdispersion says whether units vary more than chance allows.
type Overdispersion struct {
	Phi float64 // Σz²/I
	P   float64 // upper tail of χ²_I at Σz²
}

// FunnelOverdispersion returns φ = Σz²/I over at least two units with z =
// (rᵢ/nᵢ − target)/√(target(1−target)/nᵢ). Widen limits by √φ only when φ > 1
// clearly. Source: Spiegelhalter, Stat Med 2005;24:1185, doi:10.1002/sim.1970
// (abstract read, formula from memory).
func FunnelOverdispersion(target float64, units []Counts) (Overdispersion, error) {
	const where = "overdispersion"
	if err := checkOpenProbability(where, "target", target); err != nil {
		return Overdispersion{}, err
	}
	if err := checkUnits(where, units, 2); err != nil {
		return Overdispersion{}, err
	}
	var sum float64
	for _, u := range units {
		n := float64(u.Trials)
		z := (float64(u.Events)/n - target) / math.Sqrt(target*(1-target)/n)
		sum += z * z
	}
	i := float64(len(units))
	return Overdispersion{sum / i, ChiSquareUpper(sum, i)}, nil
}
