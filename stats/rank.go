package stats

import (
	"fmt"
	"math"
	"slices"
)

// RankTest is the result of a test by ranks.
type RankTest struct {
	// Statistic is the sum of positive ranks (signed rank) or the number of
	// pairs in which the first group is larger, ties half (Mann-Whitney).
	Statistic float64
	// N counts the differences that are not zero, or all values of both groups.
	N                          int
	Exact                      bool // else normal, corrected for ties and continuity
	PTwoSided, PLess, PGreater float64
	// Location is the Hodges-Lehmann estimate: the median of the means of all
	// pairs of differences, or of all differences between the groups.
	Location float64
	// Interval of Location from the same rank distribution; its true level is
	// at least the asked one when Exact. With very few values it spans all
	// pairs and reaches less than the asked level: see IntervalLevel.
	Interval Interval
	// IntervalLevel is the true level of an exact interval, not a number else.
	IntervalLevel float64
}

// mostRankValues bounds the pairs that the location estimates hold in memory.
const mostRankValues = 4000

// mostExact is the size up to which untied ranks are tested exactly.
const mostExact = 50

// ranks gives each value its rank from 1, ties the mean of theirs, and the sum
// of t³ − t over the groups of ties.
func ranks(values []float64) (ranked []float64, tieSum float64) {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compareFloat(values[a], values[b]) })
	ranked = make([]float64, len(values))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for _, at := range order[i:j] {
			ranked[at] = float64(i+j+1) / 2
		}
		t := float64(j - i)
		tieSum += t*t*t - t
		i = j
	}
	return ranked, tieSum
}

// WilcoxonSignedRank tests pairs by the ranks of |first − second|. Zero
// differences are dropped from the test, and N says how many are left; they
// stay in the estimate. Without ties and zeros below 50 pairs the distribution
// is exact. Source: Hollander & Wolfe, Nonparametric Statistical Methods 1973,
// p. 27 (secondary, as quoted in R's help of wilcox.test).
func WilcoxonSignedRank(first, second []float64, level float64) (RankTest, error) {
	const where = "Wilcoxon signed rank test"
	if err := checkLevel(where, level); err != nil {
		return RankTest{}, err
	}
	differences, err := pairDifferences(where, first, second)
	if err != nil {
		return RankTest{}, err
	}
	if len(differences) > mostRankValues {
		return RankTest{}, invalid(where, fmt.Sprintf("%d pairs", len(differences)), fmt.Sprintf("at most %d", mostRankValues))
	}
	var magnitudes []float64
	var positive []bool
	for _, d := range differences {
		if d != 0 {
			magnitudes = append(magnitudes, math.Abs(d))
			positive = append(positive, d > 0)
		}
	}
	n := len(magnitudes)
	if n == 0 {
		return RankTest{}, notMeasurable(where, "no pair differs", "")
	}
	ranked, tieSum := ranks(magnitudes)
	result := RankTest{N: n, IntervalLevel: nan}
	for i, r := range ranked {
		if positive[i] {
			result.Statistic += r
		}
	}
	walsh := walshAverages(differences)
	result.Location = sortedQuantile(walsh, 0.5)
	result.Exact = tieSum == 0 && n == len(differences) && n < mostExact
	if result.Exact {
		result.exact(signedRankDistribution(n), walsh, level)
		return result, nil
	}
	f := float64(n)
	result.normal(f*(f+1)/4, f*(f+1)*(2*f+1)/24-tieSum/48)
	all := float64(len(differences))
	result.Interval = orderInterval(walsh, all*(all+1)/4, all*(all+1)*(2*all+1)/24, level)
	return result, nil
}

func walshAverages(differences []float64) []float64 {
	averages := make([]float64, 0, len(differences)*(len(differences)+1)/2)
	for i, a := range differences {
		for _, b := range differences[i:] {
			averages = append(averages, (a+b)/2)
		}
	}
	slices.Sort(averages)
	return averages
}

// signedRankDistribution returns P(V = v) for n untied differences, by adding
// one rank after the other.
func signedRankDistribution(n int) []float64 {
	p := make([]float64, n*(n+1)/2+1)
	p[0] = 1
	for rank := 1; rank <= n; rank++ {
		for v := rank * (rank + 1) / 2; v >= 0; v-- {
			p[v] /= 2
			if v >= rank {
				// p[v−rank] is not yet halved in this round.
				p[v] += p[v-rank] / 2
			}
		}
	}
	return p
}

// MannWhitney tests two independent groups by ranks. Without ties below 50
// values in each group the distribution is exact. A low p means that one group
// tends to be larger; it is a test of medians only if the shapes agree.
// Source: Hollander & Wolfe 1973, p. 68 (secondary, as quoted in R's help of
// wilcox.test).
func MannWhitney(first, second []float64, level float64) (RankTest, error) {
	const where = "Mann-Whitney test"
	if err := checkLevel(where, level); err != nil {
		return RankTest{}, err
	}
	if err := checkFinite(where, "the first group", first, 1); err != nil {
		return RankTest{}, err
	}
	if err := checkFinite(where, "the second group", second, 1); err != nil {
		return RankTest{}, err
	}
	if len(first)+len(second) > mostRankValues {
		return RankTest{}, invalid(where, fmt.Sprintf("%d values", len(first)+len(second)), fmt.Sprintf("at most %d", mostRankValues))
	}
	ranked, tieSum := ranks(slices.Concat(first, second))
	m, n := float64(len(first)), float64(len(second))
	result := RankTest{N: len(ranked), IntervalLevel: nan}
	for _, r := range ranked[:len(first)] {
		result.Statistic += r
	}
	result.Statistic -= m * (m + 1) / 2
	shifts := make([]float64, 0, len(first)*len(second))
	for _, a := range first {
		for _, b := range second {
			shifts = append(shifts, a-b)
		}
	}
	slices.Sort(shifts)
	result.Location = sortedQuantile(shifts, 0.5)
	result.Exact = tieSum == 0 && len(first) < mostExact && len(second) < mostExact
	if result.Exact {
		result.exact(mannWhitneyDistribution(len(first), len(second)), shifts, level)
		return result, nil
	}
	total := m + n
	variance := m * n / 12 * (total + 1 - tieSum/(total*(total-1)))
	if variance <= 0 {
		return RankTest{}, notMeasurable(where, "all values are equal", "")
	}
	result.normal(m*n/2, variance)
	result.Interval = orderInterval(shifts, m*n/2, m*n*(total+1)/12, level)
	return result, nil
}

// mannWhitneyDistribution returns P(U = u) for groups of m and n untied
// values, by which group the largest value is in: with chance m/(m+n) it is in
// the first and beats all n. Every term is positive, so the tails keep their
// digits.
func mannWhitneyDistribution(m, n int) []float64 {
	row := make([][]float64, n+1) // for i values of the first group and j of the second
	for j := range row {
		row[j] = []float64{1}
	}
	for i := 1; i <= m; i++ {
		next := make([][]float64, n+1)
		next[0] = []float64{1}
		for j := 1; j <= n; j++ {
			p := make([]float64, i*j+1)
			share := float64(i) / float64(i+j)
			for u, w := range row[j] {
				p[u+j] += share * w
			}
			for u, w := range next[j-1] {
				p[u] += (1 - share) * w
			}
			next[j] = p
		}
		row = next
	}
	return row[n]
}

// exact fills tails and interval from the distribution of the statistic and
// the sorted pair values whose order statistics bound the location.
func (r *RankTest) exact(p, pairs []float64, level float64) {
	at := int(math.Round(r.Statistic))
	for v, w := range p {
		if v <= at {
			r.PLess += w
		}
		if v >= at {
			r.PGreater += w
		}
	}
	r.PLess, r.PGreater = math.Min(1, r.PLess), math.Min(1, r.PGreater)
	r.PTwoSided = math.Min(1, 2*math.Min(r.PLess, r.PGreater))
	// The largest k with P(V < k) ≤ α/2, at least 1.
	tail, below, k := (1-level)/2, 0.0, 0
	for k < len(p)-1 && below+p[k] <= tail {
		below += p[k]
		k++
	}
	if k == 0 {
		k, below = 1, p[0]
	}
	r.Interval = Interval{pairs[k-1], pairs[len(pairs)-k], level}
	r.IntervalLevel = 1 - 2*below
}

func (r *RankTest) normal(mean, variance float64) {
	sd := math.Sqrt(variance)
	d := r.Statistic - mean
	r.PLess = NormalCDF((d + 0.5) / sd)
	r.PGreater = NormalCDF(-(d - 0.5) / sd)
	r.PTwoSided = math.Min(1, 2*NormalCDF(-math.Max(0, math.Abs(d)-0.5)/sd))
}

// orderInterval takes the order statistics that the normal approximation of
// the untied rank distribution points to.
func orderInterval(pairs []float64, mean, variance, level float64) Interval {
	k := int(math.Floor(mean - twoSided(level)*math.Sqrt(variance)))
	k = min(max(k, 1), (len(pairs)+1)/2)
	return Interval{pairs[k-1], pairs[len(pairs)-k], level}
}
