package stats

import (
	"fmt"
	"math"
)

// FollowUp counts eyes by how far they were followed.
type FollowUp struct {
	Treated int // all
	Seen    int // with a known outcome at the stated time
	Success int // of those seen
}

// MissingBounds is what a success rate can be when outcomes are missing. No
// missing outcome is guessed.
type MissingBounds struct {
	CompleteCase float64  // Success/Seen: true only if the lost are like the seen
	Worst        float64  // every missing one a failure
	Best         float64  // every missing one a success
	Envelope     Interval // Wilson's lower limit of Worst to the upper of Best
}

func (f FollowUp) check(where string) error {
	if f.Success < 0 || f.Seen < f.Success || f.Treated < f.Seen || f.Seen < 1 || f.Treated > mostTrials {
		return invalid(where, fmt.Sprintf("%d successes, %d seen, %d treated", f.Success, f.Seen, f.Treated), "success ≤ seen ≤ treated with at least one seen")
	}
	return nil
}

// BoundMissing returns the bounds.
func BoundMissing(f FollowUp, level float64) (MissingBounds, error) {
	const where = "bounds for missing outcomes"
	if err := f.check(where); err != nil {
		return MissingBounds{}, err
	}
	best := f.Success + f.Treated - f.Seen
	low, err := Wilson(f.Success, f.Treated, level)
	if err != nil {
		return MissingBounds{}, err
	}
	high, err := Wilson(best, f.Treated, level)
	if err != nil {
		return MissingBounds{}, err
	}
	n := float64(f.Treated)
	return MissingBounds{float64(f.Success) / float64(f.Seen), float64(f.Success) / n, float64(best) / n, Interval{low.Low, high.High, level}}, nil
}

// RateIfMissingDiffer returns the success rate of all treated when the odds of
// failure among the missing are oddsRatio times those among the seen (0.5, 1, 2
// and 5 make a usual set). Source of the method: Magder, Control Clin Trials
// 2003;24:411, doi:10.1016/S0197-2456(03)00021-7 (abstract read).
func RateIfMissingDiffer(f FollowUp, oddsRatio float64) (float64, error) {
	const where = "rate if the missing differ"
	if err := f.check(where); err != nil {
		return 0, err
	}
	if err := checkPositive(where, "odds ratio", oddsRatio); err != nil {
		return 0, err
	}
	failure := 1 - float64(f.Success)/float64(f.Seen)
	missing := oddsRatio * failure / (1 - failure + oddsRatio*failure)
	return (float64(f.Success) + float64(f.Treated-f.Seen)*(1-missing)) / float64(f.Treated), nil
}

// PooledImputation joins the results of several completed data sets.
type PooledImputation struct {
	Value, StandardError float64
	DegreesOfFreedom     float64 // infinite when the sets agree exactly
	MissingInformation   float64 // share of the variance that comes from missing values
	Interval             Interval
}

// PoolImputations joins at least two completed-data estimates: the mean, and
// the variance W + (1+1/m)·B of the mean squared error within and the variance
// between, with t at (m−1)(1+W/((1+1/m)B))² degrees of freedom. Source: Rubin,
// Multiple Imputation for Nonresponse in Surveys 1987,
// doi:10.1002/9780470316696 (from memory).
func PoolImputations(completed []Measured, level float64) (PooledImputation, error) {
	const where = "pooling of imputations"
	if err := checkMeasured(where, completed, 2); err != nil {
		return PooledImputation{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return PooledImputation{}, err
	}
	values, within, m := make([]float64, len(completed)), 0.0, float64(len(completed))
	for i, c := range completed {
		values[i] = c.Value
		within += c.StandardError * c.StandardError / m
	}
	d, err := Describe(values)
	if err != nil {
		return PooledImputation{}, err
	}
	between := (1 + 1/m) * d.StandardDeviation * d.StandardDeviation
	result := PooledImputation{Value: d.Mean, StandardError: math.Sqrt(within + between), DegreesOfFreedom: math.Inf(1)}
	result.MissingInformation = between / (within + between)
	quantile := twoSided(level)
	if between > 0 {
		ratio := 1 + within/between
		result.DegreesOfFreedom = (m - 1) * ratio * ratio
		if result.DegreesOfFreedom < 1e9 { // beyond, t and z agree
			quantile = StudentQuantile(1-(1-level)/2, result.DegreesOfFreedom)
		}
	}
	result.Interval = around(d.Mean, quantile*result.StandardError, level)
	return result, nil
}
