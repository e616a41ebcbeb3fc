package stats

import (
	"fmt"
	"math"
)

// fourfold is the table
//
//	       event  none
//	first    a     b
//	second   c     d
type fourfold struct{ a, b, c, d int }

func (t fourfold) float() (a, b, c, d float64) {
	return float64(t.a), float64(t.b), float64(t.c), float64(t.d)
}

func newFourfold(where string, a, b, c, d int) (fourfold, error) {
	for _, x := range []int{a, b, c, d} {
		if x < 0 || x > mostTrials {
			return fourfold{}, invalid(where, fmt.Sprintf("a cell of %d", x), "four counts from zero to 2^40")
		}
	}
	if a+b+c+d == 0 {
		return fourfold{}, invalid(where, "an empty table", "at least one count")
	}
	return fourfold{a, b, c, d}, nil
}

// ExactTable is what Fisher's test says about a fourfold table.
type ExactTable struct {
	PTwoSided, PLess, PGreater float64
	// OddsRatio is the conditional maximum-likelihood estimate: 0 or infinite
	// when the observed cell is at the end of its range, not a number when a
	// margin is zero. It is not the sample ratio ad/bc.
	OddsRatio float64
	// OddsRatioInterval is exact; it may end at 0 or infinity.
	OddsRatioInterval Interval
}

// FisherExact tests the table a, b / c, d with both margins fixed. Two-sided p
// is the sum over all tables that are no more probable than the observed one,
// equality within a factor 1 + 1e-7. PGreater is for an odds ratio above one.
// Cells up to 100,000; beyond, [ChiSquareTable] is as good.
// Source: Agresti, Categorical Data Analysis 1990, p. 61 (secondary, as quoted
// in R's help of fisher.test).
func FisherExact(a, b, c, d int, level float64) (ExactTable, error) {
	const where = "Fisher's exact test"
	table, err := newFourfold(where, a, b, c, d)
	if err != nil {
		return ExactTable{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return ExactTable{}, err
	}
	const most = 100_000 // every table of the margin is visited, many times
	if max(a, b, c, d) > most {
		return ExactTable{}, invalid(where, fmt.Sprintf("a cell of %d", max(a, b, c, d)), fmt.Sprintf("at most %d", most))
	}
	given := newConditional(table)
	result := ExactTable{PLess: given.lower(a, 0), PGreater: given.upper(a, 0)}
	weights := given.probabilities(0)
	observed := weights[a-given.first]
	for _, w := range weights {
		if w <= observed*(1+1e-7) {
			result.PTwoSided += w
		}
	}
	result.PTwoSided = math.Min(1, result.PTwoSided)
	result.OddsRatio, result.OddsRatioInterval = given.oddsRatio(a, level)
	return result, nil
}

// conditional is the distribution of the first cell given the margins; its
// logarithms start at cell first.
type conditional struct {
	first int
	logs  []float64
}

func newConditional(t fourfold) conditional {
	white, black, drawn := t.a+t.c, t.b+t.d, t.a+t.b
	first, last := max(0, drawn-black), min(white, drawn)
	c := conditional{first: first, logs: make([]float64, last-first+1)}
	for i := range c.logs {
		k := float64(first + i)
		c.logs[i] = logChoose(float64(white), k) + logChoose(float64(black), float64(drawn)-k)
	}
	return c
}

func (c conditional) probabilities(logOdds float64) []float64 {
	tilted := make([]float64, len(c.logs))
	for i, l := range c.logs {
		tilted[i] = l + logOdds*float64(i)
	}
	total := logSumExp(tilted)
	for i := range tilted {
		tilted[i] = math.Exp(tilted[i] - total)
	}
	return tilted
}

func (c conditional) lower(cell int, logOdds float64) float64 {
	var p float64
	for i, w := range c.probabilities(logOdds) {
		if c.first+i <= cell {
			p += w
		}
	}
	return math.Min(1, p)
}

func (c conditional) upper(cell int, logOdds float64) float64 {
	var p float64
	for i, w := range c.probabilities(logOdds) {
		if c.first+i >= cell {
			p += w
		}
	}
	return math.Min(1, p)
}

func (c conditional) mean(logOdds float64) float64 {
	var m float64
	for i, w := range c.probabilities(logOdds) {
		m += w * float64(c.first+i)
	}
	return m
}

func (c conditional) oddsRatio(cell int, level float64) (float64, Interval) {
	last := c.first + len(c.logs) - 1
	if c.first == last { // a margin is zero: any odds ratio fits
		return nan, Interval{0, math.Inf(1), level}
	}
	const farthest = 700 // e^700 is near the largest float64
	tail := (1 - level) / 2
	ratio, low, high := 0.0, 0.0, math.Inf(1)
	switch cell {
	case c.first:
	case last:
		ratio = math.Inf(1)
	default:
		ratio = math.Exp(bisect(func(l float64) float64 { return c.mean(l) - float64(cell) }, -farthest, farthest))
	}
	if cell > c.first {
		low = math.Exp(bisect(func(l float64) float64 { return c.upper(cell, l) - tail }, -farthest, farthest))
	}
	if cell < last {
		high = math.Exp(bisect(func(l float64) float64 { return c.lower(cell, l) - tail }, -farthest, farthest))
	}
	return ratio, Interval{low, high, level}
}

// ChiSquareTest is a statistic with its degrees of freedom and upper tail.
type ChiSquareTest struct {
	Statistic, DegreesOfFreedom, P float64
}

// ChiSquareTable tests the table a, b / c, d by Pearson's χ², with Yates'
// correction if asked: n(|ad − bc| − n/2)²/(product of margins), the bracket
// no less than zero. A margin of zero is refused. The approximation is poor
// when an expected count is below 5; use [FisherExact] there.
func ChiSquareTable(a, b, c, d int, yates bool) (ChiSquareTest, error) {
	const where = "chi-square test"
	table, err := newFourfold(where, a, b, c, d)
	if err != nil {
		return ChiSquareTest{}, err
	}
	fa, fb, fc, fd := table.float()
	n := fa + fb + fc + fd
	margins := (fa + fb) * (fc + fd) * (fa + fc) * (fb + fd)
	if margins == 0 {
		return ChiSquareTest{}, notMeasurable(where, "a row or a column of the table is empty", "")
	}
	distance := math.Abs(fa*fd - fb*fc)
	if yates {
		distance = math.Max(0, distance-n/2)
	}
	x := n * distance * distance / margins
	return ChiSquareTest{x, 1, ChiSquareUpper(x, 1)}, nil
}

// PairedTable is what McNemar's test says about pairs that differ.
type PairedTable struct {
	Statistic, P float64 // (b−c)²/(b+c)
	// CorrectedStatistic and CorrectedP: (|b−c| − 1)²/(b+c).
	CorrectedStatistic, CorrectedP float64
	// PExact is two-sided binomial; PMid counts half of the observed number.
	// Use them when fewer than 25 pairs differ (common practice).
	PExact, PMid float64
}

// McNemar tests b pairs with the event only first against c pairs with it only
// second; pairs that agree say nothing. Without a differing pair it is refused.
// Source: Agresti, Categorical Data Analysis 1990, p. 350 (secondary, as quoted
// in R's help of mcnemar.test).
func McNemar(firstOnly, secondOnly int) (PairedTable, error) {
	const where = "McNemar's test"
	if firstOnly < 0 || secondOnly < 0 {
		return PairedTable{}, invalid(where, fmt.Sprintf("%d and %d pairs", firstOnly, secondOnly), "counts from zero")
	}
	n := firstOnly + secondOnly
	if n == 0 || n > mostTrials {
		return PairedTable{}, notMeasurable(where, fmt.Sprintf("%d pairs differ", n), "")
	}
	difference := math.Abs(float64(firstOnly - secondOnly))
	var result PairedTable
	result.Statistic = difference * difference / float64(n)
	result.P = ChiSquareUpper(result.Statistic, 1)
	corrected := math.Max(0, difference-1)
	result.CorrectedStatistic = corrected * corrected / float64(n)
	result.CorrectedP = ChiSquareUpper(result.CorrectedStatistic, 1)
	fewer := min(firstOnly, secondOnly)
	cumulative := BinomialCDF(fewer, n, 0.5)
	result.PExact = math.Min(1, 2*cumulative)
	result.PMid = math.Min(1, 2*cumulative-BinomialPMF(fewer, n, 0.5))
	return result, nil
}
