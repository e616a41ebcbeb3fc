package bench

import (
	"fmt"
	"strings"

	"limitans/evidence"
	"limitans/fault"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
)

// RowSwitches leave rows out.
type RowSwitches struct {
	WithoutDerived   bool `help:"Leave out counts that were not printed but reckoned from a percentage or a sum."`
	WithoutRecalled  bool `help:"Leave out rows whose reference is from memory in part, or incomplete."`
	WithoutSecondary bool `help:"Leave out what is known through another text only."`
}

// Published pools published counts by technique.
type Published struct {
	Question  string `default:"hole" placeholder:"QUESTION" label:"Operated for" help:"What was operated for: ${questions}. Default: hole."`
	Technique string `placeholder:"TECHNIQUE" label:"Technique" help:"What was done: ${techniques}. Default: each technique for itself."`
	Tamponade string `placeholder:"TAMPONADE" help:"What filled the eye: ${tamponades}. Default: any."`
	RowSwitches
}

// publishedGroup is one technique's units with what they say together.
type publishedGroup struct {
	Technique evidence.Technique
	Outcome   evidence.Outcome
	Units     []evidence.Unit
	Pooled    evidence.Pooled
}

// publishedAnswer is the answer to a pooling question.
type publishedAnswer struct {
	filter  evidence.Filter
	groups  []publishedGroup
	leftOut []evidence.LeftOut
	rows    map[string]evidence.Row
	used    []string // ids of the rows in the groups
}

// Answer is the counts with their pools.
func (c Published) Answer() (Answer, error) {
	d := &publishedAnswer{filter: evidence.Filter{
		Question: evidence.Question(c.Question), Technique: evidence.Technique(c.Technique), Tamponade: evidence.Tamponade(c.Tamponade),
		WithoutDerived: c.WithoutDerived, WithoutRecalled: c.WithoutRecalled, WithoutSecondary: c.WithoutSecondary,
	}}
	if err := knownWord("--question", c.Question, evidence.Questions()); err != nil {
		return Answer{}, err
	}
	if err := knownWord("--technique", c.Technique, evidence.Techniques()); err != nil {
		return Answer{}, err
	}
	if err := knownWord("--tamponade", c.Tamponade, evidence.Tamponades()); err != nil {
		return Answer{}, err
	}
	if err := d.pool(); err != nil {
		return Answer{}, err
	}
	return Answer{Sheet: d.sheet(), Document: d.document(), Draw: func() (*scene.Scene, error) { return figure.DrawForest(d.chart()), nil }}, nil
}

// knownWord wants a flag to hold one of the table's words, or nothing.
func knownWord[T ~string](flag, word string, all []T) error {
	if word == "" {
		return nil
	}
	for _, w := range all {
		if string(w) == word {
			return nil
		}
	}
	return &fault.Error{Code: fault.Invalid, Where: flag, What: fmt.Sprintf("%q is not in the table", word), Expected: "one of " + joinWords(all)}
}

func joinWords[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, w := range all {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}

// Words fill the help of the flags.
func Words() map[string]string {
	return map[string]string{
		"questions": joinWords(evidence.Questions()), "techniques": joinWords(evidence.Techniques()), "tamponades": joinWords(evidence.Tamponades()),
	}
}

// pool makes the groups in the order of the techniques.
func (d *publishedAnswer) pool() error {
	rows, err := evidence.Rows()
	if err != nil {
		return err
	}
	d.rows = map[string]evidence.Row{}
	for _, r := range rows {
		d.rows[r.ID] = r
	}
	units, left, err := evidence.Units(d.filter.Rows(rows))
	if err != nil {
		return err
	}
	d.leftOut = left
	at := map[string]int{}
	for _, technique := range evidence.Techniques() {
		for _, u := range units {
			if u.Technique != technique {
				continue
			}
			key := string(technique) + "/" + string(u.Outcome)
			i, seen := at[key]
			if !seen {
				i = len(d.groups)
				at[key] = i
				d.groups = append(d.groups, publishedGroup{Technique: technique, Outcome: u.Outcome})
			}
			d.groups[i].Units = append(d.groups[i].Units, u)
			d.used = append(d.used, u.RowIDs...)
		}
	}
	for i := range d.groups {
		if d.groups[i].Pooled, err = evidence.Pool(d.groups[i].Units); err != nil {
			return err
		}
	}
	if len(d.groups) == 0 {
		return &fault.Error{Code: fault.NotMeasurable, Where: "evidence", What: "no published counts are chosen", Mend: "choose another question or technique, or admit more rows"}
	}
	return nil
}
