package decide

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/stats"
)

// weigh joins the own series to what is published and says how.
func weigh(p Published, own Own) (estimate.Estimate, string, error) {
	switch {
	case own.Eyes == 0 && p.Expected.Known():
		return p.Expected, "published results alone: no own series was given", nil
	case own.Eyes == 0:
		return p.Expected, "no number: neither published rows nor an own series support one", nil
	case !p.Expected.Known():
		return own.Share, fmt.Sprintf("own series alone, %d of %d eyes: %s", own.Events, own.Eyes, p.Expected.Basis), nil
	case !p.spread:
		return p.Expected, fmt.Sprintf("published results alone; the own series, %d of %d eyes, stands beside them unweighed: the published groups do not tell how units differ", own.Events, own.Eyes), nil
	}
	prior, err := betaOf(p.Expected)
	if err != nil {
		return estimate.Estimate{}, "", err
	}
	after, err := prior.Updated(own.Events, own.Eyes)
	if err != nil {
		return estimate.Estimate{}, "", err
	}
	i, err := after.Interval(0.95)
	if err != nil {
		return estimate.Estimate{}, "", err
	}
	worth := prior.A + prior.B
	weighing := fmt.Sprintf("beta-binomial: what is published counts as %.1f eyes of a unit not yet seen (beta %.2f, %.2f), the own series as its %d", worth, prior.A, prior.B, own.Eyes)
	return estimate.Estimate{
		Value: after.Mean(), Low: i.Low, High: i.High,
		Basis: fmt.Sprintf("own series, %d of %d eyes, weighed with what is published, which counts as %.1f eyes; 95 %% interval of the own unit", own.Events, own.Eyes, worth),
	}, weighing, nil
}

// betaOf is the beta distribution with an estimate's mean and the width of its
// 95 % interval between the 2.5 and 97.5 % points.
func betaOf(e estimate.Estimate) (stats.BetaDistribution, error) {
	wanted := e.High - e.Low
	if !(e.Value > 0 && e.Value < 1 && wanted > 0 && wanted < 1) {
		return stats.BetaDistribution{}, &fault.Error{Code: fault.Internal, Where: "weighing", What: fmt.Sprintf("no distribution has the mean %g and the range %g to %g", e.Value, e.Low, e.High)}
	}
	width := func(logWorth float64) float64 {
		worth := math.Exp(logWorth)
		a, b := e.Value*worth, (1-e.Value)*worth
		return stats.BetaQuantile(0.975, a, b) - stats.BetaQuantile(0.025, a, b)
	}
	// The width falls as the distribution is worth more eyes; one that is worth
	// less than two pulls towards both ends and is no belief about a unit.
	low, high := math.Log(2), math.Log(1e6)
	if width(low) < wanted {
		high = low
	}
	for range 60 {
		middle := (low + high) / 2
		if width(middle) > wanted {
			low = middle
		} else {
			high = middle
		}
	}
	worth := math.Exp((low + high) / 2)
	return stats.BetaDistribution{A: e.Value * worth, B: (1 - e.Value) * worth}, nil
}

// ownOf finds the own series of an option.
func ownOf(all []OwnResult, code string) (Own, error) {
	own := Own{Share: estimate.Missing("no own series was given")}
	for _, o := range all {
		if o.Code != code {
			continue
		}
		share, err := stats.Proportion(o.Counts.Events, o.Counts.Trials)
		if err != nil {
			return own, &fault.Error{Code: fault.Invalid, Where: "own series of " + code, What: fmt.Sprintf("%d of %d eyes", o.Counts.Events, o.Counts.Trials), Expected: "counts of at least one eye", Cause: err}
		}
		own = Own{Events: o.Counts.Events, Eyes: o.Counts.Trials, Share: share, What: o.What}
	}
	return own, nil
}
