package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"limitans/internal/follow"
	"limitans/internal/record"
)

type reviewCommand struct {
	placeFlags
	JSON bool `name:"json" help:"Print JSON instead of text."`
}

// Help is printed below the flags.
func (reviewCommand) Help() string {
	return "Changes nothing. Ends with exit code 3 while entries of an eye stop each other."
}

// reviewDocument is the review for programs. The keys are stable.
type reviewDocument struct {
	Eyes       int               `json:"eyes"`
	Contests   []reviewContest   `json:"contests"`
	Findings   []reviewFinding   `json:"findings"`
	Duplicates []reviewDuplicate `json:"possible_duplicates"`
}

type reviewContest struct {
	ID     record.ID   `json:"id"`
	Kind   record.Kind `json:"kind"`
	Entity record.ID   `json:"entity"`
	By     string      `json:"by"`
	At     string      `json:"at"`
}

type reviewFinding struct {
	Eye    record.ID `json:"eye"`
	Side   string    `json:"side"`
	Name   string    `json:"name"`
	Number string    `json:"unit_number"`
	record.Finding
}

type reviewDuplicate struct {
	First   record.ID `json:"first"`
	Second  record.ID `json:"second"`
	Who     [2]string `json:"who"`
	Score   int       `json:"score"`
	Reasons []string  `json:"reasons"`
	Against []string  `json:"against"`
}

// Run lists what waits for a person.
func (c reviewCommand) Run(out *console) error {
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	found, err := follow.Look(out.Context, p.store, record.DayOf(out.Now()))
	if err != nil {
		return undone{err}
	}
	d := documentOfReview(found)
	if c.JSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetIndent("", "  ")
		if err := encoder.Encode(d); err != nil {
			return undone{err}
		}
	} else {
		d.print(out)
	}
	if n := found.Stops(); n > 0 {
		return stopped{fmt.Errorf("%d findings stop each other's entries", n)}
	}
	return nil
}

func documentOfReview(r *follow.Review) reviewDocument {
	d := reviewDocument{Eyes: r.Eyes, Contests: []reviewContest{}, Findings: []reviewFinding{}, Duplicates: []reviewDuplicate{}}
	for _, c := range r.Contests {
		d.Contests = append(d.Contests, reviewContest{c.ID, c.Kind, c.Entity, string(c.By.AccountID), c.At.UTC().Format("2006-01-02 15:04")})
	}
	for _, f := range r.Findings {
		d.Findings = append(d.Findings, reviewFinding{f.Eye.EyeID, f.Eye.Side.String(), f.Eye.Name, f.Eye.UnitNumber, f.Finding})
	}
	for _, pair := range r.Duplicates {
		d.Duplicates = append(d.Duplicates, reviewDuplicate{
			pair.A, pair.B,
			[2]string{who(pair.First), who(pair.Second)},
			pair.Score,
			append([]string{}, pair.Reasons...), append([]string{}, pair.Against...),
		})
	}
	return d
}

// who is a person in one line.
func who(p *record.Person) string {
	name := "no name"
	if len(p.Names) > 0 {
		name = p.Names[0].Text
	}
	return fmt.Sprintf("%s, born %s, number %s", name, p.BirthDate, p.UnitNumber)
}

func (d reviewDocument) print(out *console) {
	w := out.Stdout
	fmt.Fprintf(w, "%d eyes were looked at.\n", d.Eyes)
	if len(d.Contests)+len(d.Findings)+len(d.Duplicates) == 0 {
		fmt.Fprintln(w, "Nothing waits for a person.")
		return
	}
	for _, c := range d.Contests {
		fmt.Fprintf(w, "\nTwo versions of %s %s; the second by %s, %s\n  contest %s\n", c.Kind, c.Entity, c.By, c.At, c.ID)
	}
	for _, f := range d.Findings {
		fmt.Fprintf(w, "\n%s: %s eye of %s, number %s\n  %s: %s\n", strings.ToUpper(string(f.Severity)), f.Side, f.Name, f.Number, f.Where, f.What)
		if f.Mend != "" {
			fmt.Fprintf(w, "  %s\n", f.Mend)
		}
	}
	for _, pair := range d.Duplicates {
		fmt.Fprintf(w, "\nPerhaps one person, %d of 100 points (points are no probability)\n  %s\n  %s\n  alike:   %s\n", pair.Score, pair.Who[0], pair.Who[1], strings.Join(pair.Reasons, "; "))
		if len(pair.Against) > 0 {
			fmt.Fprintf(w, "  against: %s\n", strings.Join(pair.Against, "; "))
		}
	}
	fmt.Fprintln(w, "\nNothing was changed; persons are never joined by the program.")
}
