package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// SampleSizeForWidth returns the number of cases, rounded up, for which Wald's
// half width of a proportion near p is at most halfWidth: z²·p(1−p)/d². 0 < p <
// 1, 0 < halfWidth < 1.
func SampleSizeForWidth(p, halfWidth, level float64) (int, error) {
	const where = "sample size"
	if err := checkOpenProbability(where, "proportion", p); err != nil {
		return 0, err
	}
	if err := checkOpenProbability(where, "half width", halfWidth); err != nil {
		return 0, err
	}
	if err := checkLevel(where, level); err != nil {
		return 0, err
	}
	z := twoSided(level)
	n := math.Ceil(z * z * p * (1 - p) / (halfWidth * halfWidth))
	if n > mostTrials {
		return 0, invalid(where, fmt.Sprintf("half width %g", halfWidth), "one that fewer than 2^40 cases reach")
	}
	return int(n), nil
}

// SampleSizeTwoProportions returns the number in each of two groups, not
// rounded, for a two-sided test of p₁ against p₂ at level alpha with the given
// power:
//
//	[z_{α/2}·√(2p̄q̄) + z_β·√(p₁q₁+p₂q₂)]² / (p₁−p₂)²
//
// Source: Fleiss, Statistical Methods for Rates and Proportions (from memory).
func SampleSizeTwoProportions(p1, p2, alpha, power float64) (float64, error) {
	const where = "sample size of two groups"
	for _, p := range []float64{p1, p2, alpha, power} {
		if err := checkOpenProbability(where, "probability", p); err != nil {
			return 0, err
		}
	}
	if p1 == p2 {
		return 0, invalid(where, "two equal proportions", "different ones")
	}
	mean := (p1 + p2) / 2
	root := -NormalQuantile(alpha/2)*math.Sqrt(2*mean*(1-mean)) + NormalQuantile(power)*math.Sqrt(p1*(1-p1)+p2*(1-p2))
	return root * root / ((p1 - p2) * (p1 - p2)), nil
}

// PowerToFlag is the chance that a changed rate is noticed.
type PowerToFlag struct {
	Count int     // the fewest failures that flag
	Power float64 // P(failures ≥ Count) at the changed rate
	Level float64 // the same at the expected rate: at most the asked tail
}

// PowerOfExactFlag returns the smallest count whose upper tail among n cases at
// the expected rate is at most tail, and the chance to reach it at the changed
// rate. Count is n+1, which cannot be reached, when n is too small to flag.
func PowerOfExactFlag(n int, expected, changed, tail float64) (PowerToFlag, error) {
	const where = "power to flag"
	if err := checkCounts(where, 0, n); err != nil {
		return PowerToFlag{}, err
	}
	for _, p := range []float64{expected, changed, tail} {
		if err := checkOpenProbability(where, "probability", p); err != nil {
			return PowerToFlag{}, err
		}
	}
	k := BinomialQuantile(1-tail, n, expected)
	for k > 0 && BinomialUpper(k, n, expected) <= tail {
		k--
	}
	for BinomialUpper(k, n, expected) > tail {
		k++
	}
	return PowerToFlag{k, BinomialUpper(k, n, changed), BinomialUpper(k, n, expected)}, nil
}

// mostLooks bounds the recursion of repeated looks.
const mostLooks = 200

// RepeatedLooksError returns the chance that at least one of equally spaced
// looks at growing data passes |z| when nothing is there: the density of the
// running sum is carried from look to look over the region where nothing was
// flagged (Gauss-Legendre, 80 points). looks 1 … 200, z from above 0 to 8.
// Source: Armitage, McPherson & Rowe, J R Stat Soc A 1969;132:235 (figures from
// memory).
func RepeatedLooksError(looks int, z float64) (float64, error) {
	const where = "repeated looks"
	if looks < 1 || looks > mostLooks || !(z > 0 && z <= 8) {
		return 0, invalid(where, fmt.Sprintf("%d looks at z %g", looks, z), fmt.Sprintf("1 to %d looks at z above 0 and up to 8", mostLooks))
	}
	const points = 80
	unit, weights := make([]float64, points), make([]float64, points)
	quad.Legendre{}.FixedLocations(unit, weights, -1, 1)
	density := make([]float64, points)
	for i, u := range unit {
		density[i] = normalDensity(z * u)
	}
	edge := z // of the running sum
	for k := 2; k <= looks; k++ {
		nextEdge := z * math.Sqrt(float64(k))
		next := make([]float64, points)
		for i, u := range unit {
			for j, v := range unit {
				next[i] += weights[j] * edge * density[j] * normalDensity(nextEdge*u-edge*v)
			}
		}
		density, edge = next, nextEdge
	}
	var inside float64
	for i, w := range weights {
		inside += w * edge * density[i]
	}
	return math.Max(0, 1-inside), nil
}

// ConstantBoundary returns the |z| that keeps the chance of any false flag in
// all looks at alpha. Source: Pocock, Biometrika 1977;64:191,
// doi:10.1093/biomet/64.2.191 (figures from memory).
func ConstantBoundary(looks int, alpha float64) (float64, error) {
	const where = "constant boundary"
	if err := checkOpenProbability(where, "alpha", alpha); err != nil {
		return 0, err
	}
	if _, err := RepeatedLooksError(looks, 1); err != nil {
		return 0, err
	}
	return bisectRough(func(z float64) float64 {
		e, err := RepeatedLooksError(looks, z)
		if err != nil {
			return nan
		}
		return alpha - e
	}, 1e-6, 8), nil
}
