package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/stats"
)

// Filter chooses rows. Empty fields choose all; the switches leave rows out.
type Filter struct {
	Question         Question
	Technique        Technique
	Tamponade        Tamponade
	WithoutDerived   bool // no counts reckoned from percentages or sums
	WithoutRecalled  bool // no reference with a part from memory or not seen
	WithoutSecondary bool // nothing known through another text only
}

// Rows returns those rows that the filter chooses, in their order.
func (f Filter) Rows(rows []Row) []Row {
	var out []Row
	for _, r := range rows {
		switch {
		case f.Question != "" && r.Question != f.Question,
			f.Technique != "" && r.Technique != f.Technique,
			f.Tamponade != "" && r.Tamponade != f.Tamponade,
			f.WithoutDerived && r.CountsDerived(),
			f.WithoutRecalled && r.Recalled != "",
			f.WithoutSecondary && r.Secondary():
			continue
		}
		out = append(out, r)
	}
	return out
}

// Unit is what one study says of one question, technique and outcome: its rows
// added up.
type Unit struct {
	Study        string
	Question     Question
	Technique    Technique
	Outcome      Outcome
	RowIDs       []string
	Events, Eyes int
	Year         int // 0 where not seen
	Design       Design
	Derived      bool // a count is not printed
	Recalled     bool // the reference is from memory in part, or incomplete
	Secondary    bool
	// Rate is events/eyes with its exact interval (Clopper and Pearson).
	Rate estimate.Estimate
}

// LeftOut is a row that does not enter a pool, with the reason.
type LeftOut struct {
	Row Row
	Why string
}

// Units makes the units that may be pooled, in the order of the rows, and says
// which rows are left out and why: without counts, meta-analyses, strata whose
// total is among the rows, and rows whose eyes may be among another's.
func Units(rows []Row) (units []Unit, leftOut []LeftOut, err error) {
	counted := map[string]bool{}
	for _, r := range rows {
		if r.Counted() && r.Design != MetaAnalysis {
			counted[r.ID] = true
		}
	}
	at := map[string]int{}
	for _, r := range rows {
		why := ""
		switch {
		case !r.Counted():
			why = "no count was seen"
		case r.Design == MetaAnalysis:
			why = "a meta-analysis: its studies may stand here themselves"
		case counted[r.StratumOf]:
			why = "part of " + r.StratumOf + ", which is counted"
		case counted[r.Overlaps]:
			why = "its eyes may be among those of " + r.Overlaps
		}
		if why != "" {
			leftOut = append(leftOut, LeftOut{r, why})
			continue
		}
		key := strings.Join([]string{r.Study, string(r.Question), string(r.Technique), string(r.Outcome)}, "\x00")
		i, seen := at[key]
		if !seen {
			i = len(units)
			at[key] = i
			units = append(units, Unit{Study: r.Study, Question: r.Question, Technique: r.Technique, Outcome: r.Outcome, Year: r.Year, Design: r.Design})
		}
		units[i].add(r)
	}
	for i := range units {
		if err := units[i].rate(); err != nil {
			return nil, nil, err
		}
	}
	return units, leftOut, nil
}

func (u *Unit) add(r Row) {
	u.RowIDs = append(u.RowIDs, r.ID)
	u.Events += r.Events
	u.Eyes += r.Eyes
	u.Derived = u.Derived || r.CountsDerived()
	u.Recalled = u.Recalled || r.Recalled != ""
	u.Secondary = u.Secondary || r.Secondary()
}

func (u *Unit) rate() error {
	var err error
	u.Rate, err = exact(u.Events, u.Eyes, fmt.Sprintf("%d of %d eyes", u.Events, u.Eyes))
	return err
}

// exact is a proportion with its Clopper-Pearson interval.
func exact(events, eyes int, basis string) (estimate.Estimate, error) {
	interval, err := stats.ClopperPearson(events, eyes, 0.95)
	if err != nil {
		return estimate.Estimate{}, err
	}
	return interval.Estimate(float64(events)/float64(eyes), basis+", exact interval (Clopper and Pearson)")
}

// Pooled is what some units say together.
type Pooled struct {
	Units, Events, Eyes int
	Outcome             Outcome
	// Middle is the probability in the middle unit, with a profile-likelihood
	// interval; exact for one unit or when all outcomes are alike.
	Middle estimate.Estimate
	// NewUnit is the probability in a unit not yet seen: posterior mean and
	// central 95 % range. Missing for one unit or when all outcomes are alike.
	NewUnit estimate.Estimate
	// LogitSD is the standard deviation of the units' logits, posterior mean and
	// interval; 0.5 is an odds ratio of 2.7 between a good and a poor unit.
	LogitSD estimate.Estimate
	// HeterogeneityP is the p value against one probability for all units
	// (likelihood ratio, half of χ²₁); NaN where LogitSD is missing.
	HeterogeneityP float64
}

// SpreadPriorSD is the scale of the half-normal prior of the standard deviation
// of logits (common practice; from memory: Röver et al., Res Synth Methods
// 2021;12:448).
const SpreadPriorSD = 1

// meanPriorSD is the standard deviation of the prior of the mean logit: flat
// beside any data.
const meanPriorSD = 10

// PoolMethod says how [Pool] computes.
const PoolMethod = "exact binomial-normal random effects on the logit, integrated numerically, no continuity correction; " +
	"middle unit: maximum likelihood with profile-likelihood interval; spread and new unit: posterior with a half-normal prior of 1 on the standard deviation of logits; " +
	"a unit is one study, a total is never added to its own strata"

// Pool pools units of one outcome. The order of the units does not matter.
func Pool(units []Unit) (Pooled, error) {
	const where = "pooling"
	if len(units) == 0 {
		return Pooled{}, &fault.Error{Code: fault.NotMeasurable, Where: where, What: "no published counts are chosen", Mend: "choose another question or technique, or admit more rows"}
	}
	p := Pooled{Units: len(units), Outcome: units[0].Outcome, HeterogeneityP: math.NaN()}
	counts := make([]stats.Counts, len(units))
	for i, u := range units {
		if u.Outcome != p.Outcome {
			return Pooled{}, &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%q and %q are counted", p.Outcome, u.Outcome), Expected: "units of one outcome"}
		}
		if u.Eyes < 1 || u.Events < 0 || u.Events > u.Eyes {
			return Pooled{}, &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%s has %d events in %d eyes", u.Study, u.Events, u.Eyes), Expected: "events from none to all"}
		}
		counts[i] = stats.Counts{Events: u.Events, Trials: u.Eyes}
		p.Events += u.Events
		p.Eyes += u.Eyes
	}
	// One order for all, so that rounding does not depend on the caller's.
	slices.SortFunc(counts, func(a, b stats.Counts) int {
		if a.Trials != b.Trials {
			return a.Trials - b.Trials
		}
		return a.Events - b.Events
	})
	if why := p.noSpread(); why != "" {
		var err error
		p.Middle, err = exact(p.Events, p.Eyes, fmt.Sprintf("%d of %d eyes in %s; %s", p.Events, p.Eyes, studies(len(units)), why))
		p.NewUnit, p.LogitSD = estimate.Missing(why), estimate.Missing(why)
		return p, err
	}
	return p, p.fit(counts)
}

// noSpread says why a spread between units cannot be told.
func (p Pooled) noSpread() string {
	switch {
	case p.Units == 1:
		return "one study does not tell how units differ"
	case p.Events == p.Eyes || p.Events == 0:
		return "all outcomes are alike, so how units differ cannot be told and one probability for all is assumed"
	}
	return ""
}

func (p *Pooled) fit(counts []stats.Counts) error {
	fitted, err := stats.FitBinomialNormal(counts)
	if err != nil {
		return err
	}
	middle, interval, err := fitted.Probability(0.95)
	if err != nil {
		return err
	}
	p.HeterogeneityP = fitted.HeterogeneityP
	of := fmt.Sprintf("%d of %d eyes in %s", p.Events, p.Eyes, studies(p.Units))
	p.Middle = estimate.Estimate{Value: middle, Low: interval.Low, High: interval.High, Basis: of + ", profile-likelihood interval of the middle unit"}
	belief, err := stats.FitHierarchicalBinomial(counts, meanPriorSD, stats.HalfNormalScale(SpreadPriorSD), 0.95)
	if err != nil {
		return err
	}
	p.NewUnit = estimate.Estimate{Value: belief.NewUnit.Mean, Low: belief.NewUnit.Interval.Low, High: belief.NewUnit.Interval.High, Basis: of + ", posterior range of a unit not yet seen"}
	p.LogitSD = estimate.Estimate{Value: belief.Scale.Mean, Low: belief.Scale.Interval.Low, High: belief.Scale.Interval.High, Basis: of + ", posterior, half-normal prior of 1"}
	return nil
}

func studies(n int) string {
	if n == 1 {
		return "1 study"
	}
	return fmt.Sprintf("%d studies", n)
}
