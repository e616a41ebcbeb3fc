package stats

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// mostStates bounds the dense system of equations of a run length.
const mostStates = 2000

// IntegerCUSUMRunLength returns the exact mean number of cases until a signal
// of the chart that adds m − 1 for a failure, takes 1 off for a success, has its
// floor at 0, starts there and signals at limit or above: the linear equations
// L = 1 + Q·L of its Markov chain. m at least 2, limit 1 … 2000, failure rate
// above 0 and at most 1. Source: Reynolds & Stoumbos, J Qual Technol 1999;31:87
// (from memory).
func IntegerCUSUMRunLength(m, limit int, failureRate float64) (float64, error) {
	const where = "run length of the Bernoulli CUSUM"
	if m < 2 || limit < 1 || limit > mostStates {
		return 0, invalid(where, fmt.Sprintf("m %d and limit %d", m, limit), fmt.Sprintf("m at least 2 and a limit of 1 to %d", mostStates))
	}
	if !(failureRate > 0 && failureRate <= 1) {
		return 0, invalid(where, fmt.Sprintf("failure rate %g", failureRate), "above 0 and at most 1")
	}
	equations := mat.NewDense(limit, limit, nil)
	ones := mat.NewVecDense(limit, nil)
	for s := range limit {
		ones.SetVec(s, 1)
		equations.Set(s, s, equations.At(s, s)+1)
		below := max(0, s-1)
		equations.Set(s, below, equations.At(s, below)-(1-failureRate))
		if up := s + m - 1; up < limit {
			equations.Set(s, up, equations.At(s, up)-failureRate)
		}
	}
	return solveFirst(where, equations, ones)
}

func solveFirst(where string, equations *mat.Dense, ones *mat.VecDense) (float64, error) {
	var lu mat.LU
	lu.Factorize(equations)
	var lengths mat.VecDense
	if err := lu.SolveVecTo(&lengths, false, ones); err != nil || lu.Cond() > 1e13 {
		return 0, notMeasurable(where, "the chart practically never signals", "take a lower limit")
	}
	return lengths.AtVec(0), nil
}

// RunLength returns the mean number of cases until a [RiskAdjustedCUSUM]
// signals at limit, when cases of these risks come in random order and the true
// odds of failure are oddsRatio times the expected ones: 1 for the time to a
// false alarm, the shift's alternative for the delay. The curve's height is cut
// into states points joined by straight lines; 400 are right to about one
// percent, twice as many is the check. Divide by the cases in a year and show
// years. At least one risk; states 50 … 2000.
func RunLength(risks []float64, shift OddsShift, limit, oddsRatio float64, states int) (float64, error) {
	const where = "run length of the risk-adjusted CUSUM"
	if err := checkRunLength(where, risks, shift, limit, oddsRatio); err != nil {
		return 0, err
	}
	if states < 50 || states > mostStates {
		return 0, invalid(where, fmt.Sprintf("%d states", states), fmt.Sprintf("50 to %d", mostStates))
	}
	equations := mat.NewDense(states, states, nil)
	ones := mat.NewVecDense(states, nil)
	width := limit / float64(states-1)
	move := func(s int, height, chance float64) {
		if height >= limit {
			return // signalled
		}
		at := math.Max(0, height) / width
		below := min(int(at), states-2)
		part := at - float64(below)
		equations.Set(s, below, equations.At(s, below)-chance*(1-part))
		equations.Set(s, below+1, equations.At(s, below+1)-chance*part)
	}
	share := 1 / float64(len(risks))
	for s := range states {
		ones.SetVec(s, 1)
		equations.Set(s, s, equations.At(s, s)+1)
		for _, p := range risks {
			truth := oddsRatio * p / (1 - p + oddsRatio*p)
			move(s, float64(s)*width+shift.weight(p, true), share*truth)
			move(s, float64(s)*width+shift.weight(p, false), share*(1-truth))
		}
	}
	return solveFirst(where, equations, ones)
}

func checkRunLength(where string, risks []float64, shift OddsShift, limit, oddsRatio float64) error {
	if len(risks) == 0 || len(risks) > mostRows {
		return invalid(where, fmt.Sprintf("%d risks", len(risks)), fmt.Sprintf("1 to %d", mostRows))
	}
	if err := checkCases(where, risks, make([]bool, len(risks))); err != nil {
		return err
	}
	if err := shift.check(where); err != nil {
		return err
	}
	if err := checkPositive(where, "limit", limit); err != nil {
		return err
	}
	return checkPositive(where, "odds ratio", oddsRatio)
}

// SimulatedRunLength is the outcome of a simulation.
type SimulatedRunLength struct {
	Mean, StandardError float64
	// Unfinished runs reached the most cases without a signal; they count with
	// that number, so Mean is too small when there are any.
	Unfinished int
}

// SimulateRunLength draws runs of cases with risks taken at random from the
// given ones and returns the mean length to a signal: the second route to
// [RunLength]. runs 2 … 1,000,000; mostCases at least 1; the same seed gives
// the same answer.
func SimulateRunLength(risks []float64, shift OddsShift, limit, oddsRatio float64, runs, mostCases int, seed uint64) (SimulatedRunLength, error) {
	const where = "simulated run length"
	if err := checkRunLength(where, risks, shift, limit, oddsRatio); err != nil {
		return SimulatedRunLength{}, err
	}
	if runs < 2 || runs > 1_000_000 || mostCases < 1 {
		return SimulatedRunLength{}, invalid(where, fmt.Sprintf("%d runs of at most %d cases", runs, mostCases), "2 to 1,000,000 runs of at least one case")
	}
	random := rand.New(rand.NewPCG(seed, 0))
	type step struct{ truth, failure, success float64 }
	steps := make([]step, len(risks))
	for i, p := range risks {
		steps[i] = step{oddsRatio * p / (1 - p + oddsRatio*p), shift.weight(p, true), shift.weight(p, false)}
	}
	lengths := make([]float64, runs)
	var result SimulatedRunLength
	for r := range lengths {
		height, n := 0.0, 0
		for height < limit && n < mostCases {
			s := steps[0]
			if len(steps) > 1 {
				s = steps[random.IntN(len(steps))]
			}
			if random.Float64() < s.truth {
				height = math.Max(0, height+s.failure)
			} else {
				height = math.Max(0, height+s.success)
			}
			n++
		}
		if height < limit {
			result.Unfinished++
		}
		lengths[r] = float64(n)
	}
	d, err := Describe(lengths)
	if err != nil {
		return SimulatedRunLength{}, err
	}
	result.Mean, result.StandardError = d.Mean, d.StandardDeviation/math.Sqrt(float64(runs))
	return result, nil
}
