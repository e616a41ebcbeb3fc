package tamponade

import (
	"fmt"

	"limitans/stats"
)

// exactInterval is the exact 95 % interval of Clopper and Pearson for a share of
// events among trials, by [stats.ClopperPearson].
func exactInterval(events, trials int) (Span, error) {
	exact, err := stats.ClopperPearson(events, trials, 0.95)
	if err != nil {
		return Span{}, err
	}
	return Span{exact.Low, exact.High}, nil
}

// Counted is a published share with its counts and exact interval.
type Counted struct {
	What           string
	Events, Trials int
	Interval       Span // shares of one
	// Derived says that the count was worked back from a printed percentage.
	Derived bool
	Note    string
	Source  string
}

// Percent is 100 · events / trials.
func (c Counted) Percent() float64 { return 100 * float64(c.Events) / float64(c.Trials) }

// String writes "24 of 161, 14.9 % (95 % 9.8 to 21.4)".
func (c Counted) String() string {
	return fmt.Sprintf("%d of %d, %.1f %% (95 %% %.1f to %.1f)", c.Events, c.Trials, c.Percent(), 100*c.Interval.Low, 100*c.Interval.High)
}

func counted(rows []Counted) []Counted {
	out := make([]Counted, len(rows))
	for i, r := range rows {
		r.Interval, _ = exactInterval(r.Events, r.Trials) // the rows below are fixed and tested
		out[i] = r
	}
	return out
}

const (
	sourceOil2024 = "BMC Ophthalmol 2024, doi 10.1186/s12886-024-03618-z (abstract)"
	sourceOil2019 = "Eye 2019/2020, doi 10.1038/s41433-019-0551-7 (abstract)"
)

// OilRemoval is what is known about when oil may come out: a statement of risks,
// not a date.
type OilRemoval struct {
	// Redetachment after removal, by series.
	Redetachment []Counted
	// Within3Months and After3Months are the two arms of one series (p 0.06).
	Within3Months, After3Months Counted
	// LossWithoutCause is sight lost on removal with no cause found.
	LossWithoutCause []Counted
	// AfterRemoval are the other events in one series of 101 eyes.
	AfterRemoval []Counted
	Checks       []string
	Statement    string
}

// OilRemovalEvidence returns the published counts. Counts marked derived were
// worked back from printed percentages.
func OilRemovalEvidence() OilRemoval {
	re := counted([]Counted{
		{What: "redetachment", Events: 24, Trials: 161, Derived: true, Note: "median 5.9 months of oil; earlier failed surgery raised the odds 4.8 times", Source: sourceOil2024},
		{What: "redetachment", Events: 23, Trials: 147, Derived: true, Note: "median 3 months, mean 4.7", Source: "Korean J Ophthalmol 2024;38:284, doi 10.3341/kjo.2024.0011 (abstract)"},
		{What: "redetachment", Events: 20, Trials: 115, Derived: true, Note: "duration without effect", Source: "Br J Ophthalmol 2001;85(11) (abstract)"},
		{What: "redetachment", Events: 21, Trials: 112, Note: "mean 30 weeks, 3 weeks to 5 years", Source: "Eye 1991;5 (abstract)"},
		{What: "redetachment", Events: 7, Trials: 101, Derived: true, Note: "mean 9.5 months", Source: sourceOil2019},
		{What: "redetachment", Events: 17, Trials: 182, Derived: true, Note: "printed as 9.4 %; no whole count of 182 gives that, 17 is nearest (9.3 %)", Source: "PMC9807133 (abstract)"},
	})
	arms := counted([]Counted{
		{What: "redetachment, oil out within 3 months", Events: 6, Trials: 17, Derived: true, Note: "p 0.06 against later", Source: sourceOil2024},
		{What: "redetachment, oil out later", Events: 18, Trials: 144, Derived: true, Source: sourceOil2024},
	})
	return OilRemoval{
		Redetachment: re, Within3Months: arms[0], After3Months: arms[1],
		LossWithoutCause: counted([]Counted{
			{What: "sight lost on removal, no cause found", Events: 19, Trials: 324, Derived: true, Note: "longer oil (14.8 against 9.3 months), higher pressure (19.6 against 14 mmHg)", Source: "Int J Retina Vitreous 2017;3, s40942-017-0079-6 (abstract)"},
			{What: "sight lost on removal, no cause found", Events: 5, Trials: 46, Derived: true, Source: "Portuguese series (abstract)"},
		}),
		AfterRemoval: counted([]Counted{
			{What: "hypotony", Events: 8, Trials: 101, Derived: true, Source: sourceOil2019},
			{What: "ocular hypertension", Events: 13, Trials: 101, Derived: true, Source: sourceOil2019},
			{What: "corneal decompensation", Events: 10, Trials: 101, Derived: true, Source: sourceOil2019},
			{What: "cystoid macular oedema", Events: 2, Trials: 101, Derived: true, Source: sourceOil2019},
		}),
		Checks: []string{
			"retinopexy all round, no open break", "no membrane that pulls", "pressure, and pressure-months under oil",
			"emulsion, droplets in front, state of the cornea", "the fellow eye and what it sees", "what sight can be won",
		},
		Statement: fmt.Sprintf("Three to six months is common (common practice). The retina came off again in %s to %s of eyes in six series. Within three months it came off in %s, later in %s, p 0.06: too few to be sure. Longer oil went with sight lost without a cause. Leave the oil in when nothing can be won or the eye would be soft.",
			fmt.Sprintf("%.1f %%", re[4].Percent()), fmt.Sprintf("%.1f %%", re[3].Percent()), arms[0], arms[1]),
	}
}
