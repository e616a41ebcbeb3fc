package stats

import (
	"fmt"
	"math"
)

// In all charts an outcome is true for a failure, and a risk is its expected
// probability for that case.

func checkCases(where string, risks []float64, failures []bool) error {
	if err := checkOutcomes(where, failures, len(risks)); err != nil {
		return err
	}
	for i, p := range risks {
		if err := checkOpenProbability(where, fmt.Sprintf("risk of case %d", i+1), p); err != nil {
			return err
		}
	}
	return nil
}

// SequentialBounds are the limits of Wald's sequential probability ratio test
// on the cumulative log-likelihood ratio.
type SequentialBounds struct {
	Lower float64 // ln(β/(1−α)): accept the first hypothesis at or below
	Upper float64 // ln((1−β)/α): accept the second at or above
}

// SequentialTestBounds returns the limits for error rates α and β, both
// between 0 and 1 with α+β < 1. Unlike a CUSUM the test accumulates credit;
// start it again at the lower bound. Source: Wald, Ann Math Stat 1945;16:117
// (from memory); use on operations: Spiegelhalter et al., Int J Qual Health
// Care 2003;15:7, doi:10.1093/intqhc/15.1.7 (abstract read).
func SequentialTestBounds(alpha, beta float64) (SequentialBounds, error) {
	const where = "sequential test"
	if err := checkOpenProbability(where, "alpha", alpha); err != nil {
		return SequentialBounds{}, err
	}
	if err := checkOpenProbability(where, "beta", beta); err != nil {
		return SequentialBounds{}, err
	}
	if alpha+beta >= 1 {
		return SequentialBounds{}, invalid(where, fmt.Sprintf("alpha %g and beta %g", alpha, beta), "a sum below 1")
	}
	return SequentialBounds{math.Log(beta) - math.Log1p(-alpha), math.Log1p(-beta) - math.Log(alpha)}, nil
}

// ClassicalCUSUM is the surgical CUSUM in cases: a success lowers the curve by
// SuccessScore, a failure raises it by 1 − SuccessScore.
type ClassicalCUSUM struct {
	AcceptableRate, UnacceptableRate, Alpha, Beta float64
	SuccessScore                                  float64 // s = Q/(P+Q), P = ln(p₁/p₀), Q = ln((1−p₀)/(1−p₁))
	UpperLimit                                    float64 // ln((1−β)/α)/(P+Q): unacceptable
	LowerLimit                                    float64 // −ln((1−α)/β)/(P+Q): acceptable
}

// NewClassicalCUSUM sets a chart up for 0 < acceptable < unacceptable < 1. Print
// the rates, α, β and limits on the chart: their mix-up is the commonest fault
// of published ones (Biau et al., Qual Saf Health Care 2007;16:203,
// doi:10.1136/qshc.2006.020776; abstract read).
func NewClassicalCUSUM(acceptable, unacceptable, alpha, beta float64) (ClassicalCUSUM, error) {
	bounds, err := SequentialTestBounds(alpha, beta)
	if err != nil {
		return ClassicalCUSUM{}, err
	}
	failure, success, err := LikelihoodWeights(acceptable, unacceptable)
	if err != nil {
		return ClassicalCUSUM{}, err
	}
	unit := failure - success // P + Q
	return ClassicalCUSUM{acceptable, unacceptable, alpha, beta, -success / unit, bounds.Upper / unit, bounds.Lower / unit}, nil
}

// Path returns the curve after each case, from 0 and without floor.
func (c ClassicalCUSUM) Path(failures []bool) []float64 {
	path, at := make([]float64, len(failures)), 0.0
	for i, failed := range failures {
		at += indicator(failed) - c.SuccessScore
		path[i] = at
	}
	return path
}

// LikelihoodWeights returns the log-likelihood ratio of one case for failure
// rate p₁ against p₀: ln(p₁/p₀) of a failure, ln((1−p₁)/(1−p₀)) of a success,
// for 0 < p₀ < p₁ < 1.
func LikelihoodWeights(acceptable, unacceptable float64) (failure, success float64, err error) {
	const where = "CUSUM"
	if !(acceptable > 0 && acceptable < unacceptable && unacceptable < 1) {
		return 0, 0, invalid(where, fmt.Sprintf("acceptable rate %g and unacceptable rate %g", acceptable, unacceptable), "rates with 0 < acceptable < unacceptable < 1")
	}
	return math.Log(unacceptable / acceptable), math.Log1p(-unacceptable) - math.Log1p(-acceptable), nil
}

// OddsShift is the pair of hypotheses of a risk-adjusted chart: odds of failure
// Null times the expected ones against Alternative times; 1 and 2 for
// deterioration, 1 and ½ for improvement.
type OddsShift struct{ Null, Alternative float64 }

func (s OddsShift) check(where string) error {
	if err := checkPositive(where, "null odds ratio", s.Null); err != nil {
		return err
	}
	if err := checkPositive(where, "alternative odds ratio", s.Alternative); err != nil {
		return err
	}
	if s.Null == s.Alternative {
		return invalid(where, "two equal hypotheses", "different odds ratios")
	}
	return nil
}

// Weight returns the log-likelihood ratio of a case of risk 0 < p < 1:
//
//	failure: ln[(1−p+R₀p)·R_A / ((1−p+R_A·p)·R₀)]
//	success: ln[(1−p+R₀p) / (1−p+R_A·p)]
//
// Source: Steiner et al., Biostatistics 2000;1:441,
// doi:10.1093/biostatistics/1.4.441 (abstract read, weights from memory).
func (s OddsShift) Weight(risk float64, failed bool) (float64, error) {
	const where = "risk-adjusted CUSUM"
	if err := s.check(where); err != nil {
		return 0, err
	}
	if err := checkOpenProbability(where, "risk", risk); err != nil {
		return 0, err
	}
	return s.weight(risk, failed), nil
}

func (s OddsShift) weight(risk float64, failed bool) float64 {
	w := math.Log1p(risk*(s.Null-1)) - math.Log1p(risk*(s.Alternative-1))
	if failed {
		w += math.Log(s.Alternative / s.Null)
	}
	return w
}

// RiskAdjustedCUSUM returns S_t = max(0, S_{t−1} + W_t) after each case, from
// 0. It signals at a limit that belongs to the case mix: see [RunLength].
func RiskAdjustedCUSUM(risks []float64, failures []bool, shift OddsShift) ([]float64, error) {
	const where = "risk-adjusted CUSUM"
	if err := checkCases(where, risks, failures); err != nil {
		return nil, err
	}
	if err := shift.check(where); err != nil {
		return nil, err
	}
	path, at := make([]float64, len(risks)), 0.0
	for i, p := range risks {
		at = math.Max(0, at+shift.weight(p, failures[i]))
		path[i] = at
	}
	return path, nil
}

// LearningCUSUM is the chart that shows when competence is reached.
type LearningCUSUM struct {
	Path        []float64 // after each case, floor 0
	CompetentAt int       // number of the case that first reached the limit, 0 for none
}

// LearningCurveCUSUM starts from "inadequate" (failure rate adequate + margin)
// and looks for "adequate" (failure rate adequate): S = max(0, S + W), W =
// ln((1−p₀)/(1−p₀−δ)) for a success and ln(p₀/(p₀+δ)) for a failure; competence
// is declared at S ≥ limit, and a chart that watches for deterioration should
// take over. Source: Biau et al., Br J Surg 2008;95:925, doi:10.1002/bjs.6056
// (abstract read; signs differ between papers).
func LearningCurveCUSUM(failures []bool, adequate, margin, limit float64) (LearningCUSUM, error) {
	failure, success, err := LikelihoodWeights(adequate, adequate+margin)
	if err != nil {
		return LearningCUSUM{}, err
	}
	if err := checkPositive("learning curve CUSUM", "limit", limit); err != nil {
		return LearningCUSUM{}, err
	}
	result, at := LearningCUSUM{Path: make([]float64, len(failures))}, 0.0
	for i, failed := range failures {
		if failed {
			at = math.Max(0, at-failure)
		} else {
			at -= success
		}
		result.Path[i] = at
		if result.CompetentAt == 0 && at >= limit {
			result.CompetentAt = i + 1
		}
	}
	return result, nil
}

// ExpectedMinusObserved returns Σ(p − y) after each case: it rises while
// results are better than expected. It has no limits of its own; lay the
// signals of a [RiskAdjustedCUSUM] over it. Source: Lovegrove et al., Lancet
// 1997;350:1128 (from memory).
func ExpectedMinusObserved(risks []float64, failures []bool) ([]float64, error) {
	if err := checkCases("expected minus observed", risks, failures); err != nil {
		return nil, err
	}
	path := make([]float64, len(risks))
	var at compensatedSum
	for i, p := range risks {
		at.add(p - indicator(failures[i]))
		path[i] = at.total()
	}
	return path, nil
}

// ObservedExpected is a count against the sum of its risks.
type ObservedExpected struct {
	Observed int
	Expected float64
	Z        float64 // (O−E)/√Σp(1−p)
}

// CompareObservedExpected returns observed and expected failures and z of the
// difference; at least one case. z is normal only when the expected number is
// not small (five or more, common practice).
func CompareObservedExpected(risks []float64, failures []bool) (ObservedExpected, error) {
	const where = "observed against expected"
	if err := checkCases(where, risks, failures); err != nil {
		return ObservedExpected{}, err
	}
	if len(risks) == 0 {
		return ObservedExpected{}, invalid(where, "no case", "at least one")
	}
	var result ObservedExpected
	var variance float64
	for i, p := range risks {
		result.Expected += p
		variance += p * (1 - p)
		result.Observed += int(indicator(failures[i]))
	}
	result.Z = (float64(result.Observed) - result.Expected) / math.Sqrt(variance)
	return result, nil
}
