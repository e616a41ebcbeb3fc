package main

import (
	"fmt"
	"strings"

	"limitans/evidence"
	"limitans/fault"
	"limitans/internal/figure"
)

// evidenceCommand shows what is published. Each question to the table is a verb
// of its own; without one, published counts are pooled.
type evidenceCommand struct {
	Pool    evidencePool    `cmd:"" default:"withargs" help:"Published counts by technique, study by study, and what they say together (this is done without a verb too)."`
	Closure evidenceClosure `cmd:"" help:"Closure that can be expected of a hole of a given size."`
	Check   evidenceCheck   `cmd:"" help:"Each published stratum predicted from the others, beside what was observed."`
}

// evidenceSwitches leave rows out.
type evidenceSwitches struct {
	WithoutDerived   bool `help:"Leave out counts that were not printed but reckoned from a percentage or a sum."`
	WithoutRecalled  bool `help:"Leave out rows whose reference is from memory in part, or incomplete."`
	WithoutSecondary bool `help:"Leave out what is known through another text only."`
}

// evidenceFigure is the flag for a drawing.
type evidenceFigure struct {
	Figure string `placeholder:"FILE" help:"Draw it into this file, FILE.svg. A file there is replaced."`
}

func (f evidenceFigure) check() error {
	if f.Figure != "" && !strings.HasSuffix(strings.ToLower(f.Figure), ".svg") {
		return &fault.Error{Code: fault.Invalid, Where: "--figure", What: fmt.Sprintf("%q is no SVG file", f.Figure), Expected: "a name that ends in .svg"}
	}
	return nil
}

type evidencePool struct {
	Question  string `default:"hole" placeholder:"QUESTION" help:"What was operated for: ${questions}. Default: hole."`
	Technique string `placeholder:"TECHNIQUE" help:"What was done: ${techniques}. Default: each technique for itself."`
	Tamponade string `placeholder:"TAMPONADE" help:"What filled the eye: ${tamponades}. Default: any."`
	evidenceSwitches
	evidenceFigure
	JSON bool `name:"json" help:"Print a JSON document instead of text."`
}

// evidenceGroup is one technique's units with what they say together.
type evidenceGroup struct {
	Technique evidence.Technique
	Outcome   evidence.Outcome
	Units     []evidence.Unit
	Pooled    evidence.Pooled
}

// evidenceDocument is the answer to a pooling question.
type evidenceDocument struct {
	filter  evidence.Filter
	groups  []evidenceGroup
	leftOut []evidence.LeftOut
	rows    map[string]evidence.Row
	used    []string // ids of the rows in the groups
}

// Run prints published counts and their pools.
func (c evidencePool) Run(out *console) error {
	if err := c.check(); err != nil {
		return err
	}
	d := evidenceDocument{filter: evidence.Filter{
		Question: evidence.Question(c.Question), Technique: evidence.Technique(c.Technique), Tamponade: evidence.Tamponade(c.Tamponade),
		WithoutDerived: c.WithoutDerived, WithoutRecalled: c.WithoutRecalled, WithoutSecondary: c.WithoutSecondary,
	}}
	if err := knownWord("--question", c.Question, evidence.Questions()); err != nil {
		return err
	}
	if err := knownWord("--technique", c.Technique, evidence.Techniques()); err != nil {
		return err
	}
	if err := knownWord("--tamponade", c.Tamponade, evidence.Tamponades()); err != nil {
		return err
	}
	if err := d.pool(); err != nil {
		return err
	}
	if c.Figure != "" {
		if err := figure.WriteFile(c.Figure, figure.DrawForest(d.chart())); err != nil {
			return undone{err}
		}
	}
	if c.JSON {
		return writeIndented(out.Stdout, d.jsonDocument())
	}
	return d.print(out.Stdout)
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

// evidenceWords fill the help of the flags.
func evidenceWords() map[string]string {
	return map[string]string{
		"questions": joinWords(evidence.Questions()), "techniques": joinWords(evidence.Techniques()), "tamponades": joinWords(evidence.Tamponades()),
	}
}

// pool makes the groups in the order of the techniques.
func (d *evidenceDocument) pool() error {
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
				d.groups = append(d.groups, evidenceGroup{Technique: technique, Outcome: u.Outcome})
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
