package evidence

import (
	_ "embed" // the table of effects
	"fmt"
	"math"
	"strconv"

	"limitans/estimate"
	"limitans/fault"
	"limitans/stats"
	"limitans/table"
)

//go:embed data/effects.csv
var effectsCSV string

// Effect is an odds ratio of closure from a published analysis of individual
// patients. The logarithm is taken to be normal.
type Effect struct {
	ID, What, Per string // Per: the unit of one step, empty for yes or no
	OddsRatio     estimate.Estimate
	LogOddsRatio  float64
	// StandardError is of the logarithm: from the interval, (ln high − ln low) /
	// (2·1.96), or from the p value, |ln ratio| / Φ⁻¹(1 − p/2), where no interval
	// was seen; NaN where neither was.
	StandardError           float64
	Source, DOI             string
	HowKnown, Notes, PValue string
}

// Effects returns the published odds ratios.
func Effects() ([]Effect, error) {
	const where = "table of effects"
	lines, err := table.Named(where, effectsCSV, []string{"id", "effect", "per", "odds_ratio", "low", "high", "p_value", "source", "doi_or_pmid", "how_known", "notes"})
	if err != nil {
		return nil, err
	}
	out := make([]Effect, len(lines))
	for i, l := range lines {
		number := map[string]float64{}
		for _, name := range []string{"odds_ratio", "low", "high", "p_value"} {
			number[name] = math.NaN()
			if l[name] == "" {
				continue
			}
			v, err := strconv.ParseFloat(l[name], 64)
			if err != nil || !(v > 0) {
				return nil, &fault.Error{Code: fault.Malformed, Where: where + ", " + l["id"], What: fmt.Sprintf("%s is %q", name, l[name]), Expected: "a positive number"}
			}
			number[name] = v
		}
		if l["source"] == "" || l["how_known"] == "" || math.IsNaN(number["odds_ratio"]) {
			return nil, &fault.Error{Code: fault.Malformed, Where: where + ", " + l["id"], What: "has no source, no mark of how it is known or no odds ratio"}
		}
		out[i] = newEffect(l, number)
	}
	return out, nil
}

func newEffect(l map[string]string, number map[string]float64) Effect {
	e := Effect{
		ID: l["id"], What: l["effect"], Per: l["per"], Source: l["source"], DOI: l["doi_or_pmid"], HowKnown: l["how_known"], Notes: l["notes"], PValue: l["p_value"],
		LogOddsRatio: math.Log(number["odds_ratio"]), StandardError: math.NaN(),
	}
	basis := e.Source + " (" + e.HowKnown + ")"
	switch p := number["p_value"]; {
	case number["low"] > 0 && number["high"] > 0:
		e.StandardError = math.Log(number["high"]/number["low"]) / (2 * estimate.Z95)
		e.OddsRatio = estimate.Estimate{Value: number["odds_ratio"], Low: number["low"], High: number["high"], Basis: basis}
	case p > 0:
		e.StandardError = math.Abs(e.LogOddsRatio) / stats.NormalQuantile(1-p/2)
		half := estimate.Z95 * e.StandardError
		e.OddsRatio = estimate.Estimate{Value: number["odds_ratio"], Low: math.Exp(e.LogOddsRatio - half), High: math.Exp(e.LogOddsRatio + half), Basis: basis + ", interval derived from p = " + l["p_value"]}
	default:
		e.OddsRatio = estimate.Estimate{Value: number["odds_ratio"], Low: math.NaN(), High: math.NaN(), Basis: basis + ", no interval seen"}
	}
	return e
}

// effectOf finds one of the effects that the closure model uses.
func effectOf(id string) (Effect, error) {
	all, err := Effects()
	if err != nil {
		return Effect{}, err
	}
	for _, e := range all {
		if e.ID == id {
			return e, nil
		}
	}
	return Effect{}, &fault.Error{Code: fault.Internal, Where: "table of effects", What: id + " is not there"}
}
