package decide

import (
	"limitans/estimate"
	"limitans/oct/hole"
	"limitans/stats"
)

// Decision is what the table says of one eye.
type Decision struct {
	Findings Findings
	// Options in the order of [OrderRule]; at least one.
	Options []Option
	// Sizes are the parts of the size scale between two limits of the table with
	// the probability that the hole lies in each; empty where no diameter is known
	// or none matters.
	Sizes []SizeRange
	// Classes are the published size classes with their probabilities.
	Classes []hole.SizeClass
	// Warnings hold whatever is chosen.
	Warnings []Sentence
	// Changes say what would bring another option first: each is worked out by
	// asking the table again with one finding changed.
	Changes []Change
	// Open are findings that were not told and that rows for this condition ask
	// for, in words.
	Open []Question
	// Limits are those of the table that rows for this condition use.
	Limits []Limit
}

// Limit is a number at which the table's answer changes.
type Limit struct {
	Name     string  `json:"name"`
	Value    float64 `json:"value"`
	Unit     string  `json:"unit"`
	What     string  `json:"what"`
	Source   string  `json:"source"`
	HowKnown string  `json:"how_known"`
	// OwnChoice: the unit set another value than the table's.
	OwnChoice bool `json:"own_choice"`
}

// Unit is what a unit or surgeon brings along.
type Unit struct {
	// Own are results of the own series, at most one entry an option.
	Own []OwnResult
	// Limits are own values of the table's limits by name, such as "flap": the
	// diameter from which a flap comes first.
	Limits map[string]float64
}

// First returns the option that is offered first.
func (d Decision) First() Option { return d.Options[0] }

// Option returns the option of a code; ok is false where the table does not offer it.
func (d Decision) Option(code string) (o Option, ok bool) {
	for _, o := range d.Options {
		if o.Code == code {
			return o, true
		}
	}
	return Option{}, false
}

// OrderRule says how options are ordered. There is no score.
const OrderRule = "each option takes its place from the last row of the table that speaks of its place and holds (first choice, alternative, last resort, advised against); " +
	"where the size is uncertain the places of the most probable size range count, and the probability of each place is shown; " +
	"options of one place stand in the order of the table of options"

// Place is where a row puts an option.
type Place string

// The places, best first.
const (
	FirstChoice    Place = "first choice"
	Alternative    Place = "alternative"
	LastResort     Place = "last resort"
	AdvisedAgainst Place = "advised against"
)

// PlaceChance is a place with the probability, 0 to 1, that the option has it,
// over the size ranges that the hole may lie in.
type PlaceChance struct {
	Place       Place
	Probability float64
}

// Option is one way to treat the eye, or to leave it.
type Option struct {
	// Code is stable: lower case, words joined by hyphens ("inverted-flap").
	Code string
	// Name says what it is, in a few words.
	Name string
	// Place and the row that gave it with its sentence, which also stands first
	// among Reasons (first choice, alternative) or Against (the other places).
	// Places has the probability of each place, over the size ranges.
	Place  Place
	Why    Sentence
	Places []PlaceChance

	// Closure is the expected share, 0 to 1, of the outcome with its 95 % range;
	// missing, with a basis that says why, where no published row and no own
	// series supports a number.
	Closure estimate.Estimate
	// Outcome is what Closure counts: "hole closed", "retina attached" …
	Outcome string
	// Published and Own are what Closure was weighed from. Weighing says how.
	Published Published
	Own       Own
	Weighing  string
	// PublishedN is the number of eyes in the published groups behind Closure, or
	// beside it where they give no number; OwnN that of the own series.
	PublishedN, OwnN int
	Acuity           Acuity

	Reasons []Sentence // for it
	Against []Sentence // against it
	Steps   []Sentence // what is done, in order
	Needs   Needs
	Costs   Costs
}

// Sentence is a statement with where it comes from. Row is the row of the table.
type Sentence struct {
	Text     string `json:"text"`
	Source   string `json:"source"`
	HowKnown string `json:"how_known"`
	Row      string `json:"row"`
	// Probability that the row holds, 0 to 1: below 1 where it hangs on a size
	// range and the size is uncertain.
	Probability float64 `json:"probability"`
}

// Published is what is published on an option.
type Published struct {
	Expected estimate.Estimate // alone, before the own series
	// Events of Eyes in Groups; Events is -1 where the curve gave the number.
	Events, Eyes, Groups int
	Rows                 []string // of the table of evidence
	Warnings             []string
	Sources              []string

	spread  bool   // Expected holds how units differ
	outcome string // what the events are, where rows say so
}

// Own is what the unit's or surgeon's own series says; Eyes is 0 without one.
type Own struct {
	Events, Eyes int
	Share        estimate.Estimate // Wilson interval
	What         string            // which eyes, as the caller worded it
}

// OwnResult is a part of the own series for one option: eyes like this one.
type OwnResult struct {
	Code   string // of the option
	Counts stats.Counts
	What   string // which eyes were taken for alike
}

// Acuity is what published groups say of sight after it, in logMAR. These are
// group means: one eye scatters more.
type Acuity struct {
	// After is the mean that a new group of eyes would have, Change that mean
	// minus the one before (negative is better). Missing with fewer than three
	// groups.
	After, Change estimate.Estimate
	Groups, Eyes  int
	Rows          []string
}

// Needs are what must be in the theatre; the first of each list is preferred.
type Needs struct {
	Gauge       []Sentence `json:"gauge"`
	Stain       []Sentence `json:"stain"`
	Agents      []Sentence `json:"agents"`
	Instruments []Sentence `json:"instruments"`
}

// Costs are what it asks of the patient and the theatre.
type Costs struct {
	// Time in theatre, as published; empty where none was seen.
	Time []Sentence
	// Risks with counts where they were printed.
	Risks []Risk
	// Posture in words, with its days; nil where it does not matter.
	Posture *Posture
	// Tamponades that may fill the eye, preferred first.
	Tamponades []TamponadeChoice
	// Other costs in words: a second operation, a graft, donor tissue.
	Other []Sentence
}

// Risk is something that can happen, as published.
type Risk struct {
	What string
	// Events of Eyes, -1 where only a percentage was seen; Share then has no
	// interval and its basis says so.
	Events, Eyes int
	Share        estimate.Estimate
	Setting      string
	Source       string
	HowKnown     string
	Row          string
}

// Posture is how the head is held after surgery.
type Posture struct {
	Text              string
	DaysLow, DaysHigh float64
	Basis             string
}

// TamponadeChoice is one filling with what it means in days.
type TamponadeChoice struct {
	// Code is air, sf6, c2f6, c3f8, oil, heavy-liquid or none.
	Code, Name string
	Percent    float64 // share of gas in air, %; NaN for air, oil and none
	Place      Place
	Why        []Sentence
	// Closure with this filling, where the curve tells gas and air apart; else
	// missing.
	Closure estimate.Estimate
	// StayLow to StayHigh days by the planning table, Longest the longest stay
	// ever printed; NaN for oil and none.
	StayLow, StayHigh, Longest float64
	// Gone is the predicted day on which it is gone in this eye; missing without
	// axial length.
	Gone estimate.Estimate
	// Until is what holds for heights, flights and nitrous oxide.
	Until string
}

// SizeRange is a part of the size scale: above Above, up to UpTo µm.
type SizeRange struct {
	AboveUM, UpToUM float64
	Probability     float64
	// First is the code of the option that would come first.
	First string
}

// Change is one finding that would bring another option first.
type Change struct {
	Finding string `json:"finding"` // in words, with the value that changes the answer
	// Probability of that value, where a size's error tells one; 0 elsewhere.
	Probability float64 `json:"probability,omitempty"`
	First       string  `json:"first"` // code of the option that then comes first
	Name        string  `json:"name"`  // of that option
	Row         string  `json:"row"`   // the row that then gives it its place
	// Open: the finding was not told, so this may already be so.
	Open bool `json:"open"`

	from float64 // where the range of numbers begins
}

// Question is a finding that was not told.
type Question struct {
	Key   string `json:"key"` // as in the table of findings
	Words string `json:"words"`
}
