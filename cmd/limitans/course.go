package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/caution"
	"limitans/internal/figure"
	"limitans/internal/record"
	"limitans/internal/store"
)

// courseCommand tells what happened to an eye, and draws it.
type courseCommand struct {
	placeFlags
	Eye    string  `arg:"" name:"eye" help:"Identifier of the eye, or fragments of name or number that lead to one person."`
	Side   string  `placeholder:"SIDE" help:"Only this side: right or left. Default: both eyes of the person."`
	From   string  `placeholder:"DATE" help:"Draw from this day on."`
	To     string  `placeholder:"DATE" help:"Draw up to this day."`
	AsOf   string  `name:"as-of" placeholder:"DATE" help:"The day of the question; what is later does not count. Default: today."`
	Figure string  `placeholder:"FILE" help:"Draw the course into this file, FILE.svg. A file there is replaced."`
	Print  bool    `help:"Draw for black ink on white paper."`
	Width  float64 `default:"1240" placeholder:"N" help:"Width of the figure in units of 1/96 inch, 320 to 4000. Default: 1240."`
	JSON   bool    `name:"json" help:"Print a JSON document instead of text."`
}

// Help is printed below the flags.
func (courseCommand) Help() string {
	return "Changes nothing. Names are not printed; the number of the person is."
}

// courseEye is one eye of the answer.
type courseEye struct {
	id     record.ID
	side   eye.Laterality
	number string
	chart  figure.CourseChart
}

// Run tells the course of one eye or of both eyes of one person.
func (c courseCommand) Run(out *console) error {
	if c.Figure != "" && !strings.HasSuffix(strings.ToLower(c.Figure), ".svg") {
		return &fault.Error{Code: fault.Invalid, Where: "--figure", What: fmt.Sprintf("%q is no SVG file", c.Figure), Expected: "a name that ends in .svg"}
	}
	if !(c.Width >= 320 && c.Width <= 4000) {
		return &fault.Error{Code: fault.Invalid, Where: "--width", What: fmt.Sprintf("%g is no useful width", c.Width), Expected: "320 to 4000"}
	}
	side, err := parseSide("--side", c.Side)
	if err != nil {
		return err
	}
	options, err := c.options(out)
	if err != nil {
		return err
	}
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	ids, err := c.find(out, p.store, side)
	if err != nil {
		return undone{err}
	}
	var eyes []courseEye
	for _, id := range ids {
		one, err := p.store.Course(out.Context, id, false)
		if err != nil {
			return undone{err}
		}
		e := courseEye{id: id, side: one.Eye.Side}
		if len(one.Persons) > 0 {
			e.number = one.Persons[0].UnitNumber
		}
		o := options
		o.Name, o.Below = "course-"+sideWord(e.side), e.who()
		e.chart = figure.CourseOf(one.Course, o)
		eyes = append(eyes, e)
	}
	if c.Figure != "" {
		if err := c.draw(eyes); err != nil {
			return undone{err}
		}
	}
	if c.JSON {
		return writeIndented(out.Stdout, courseDocument(eyes))
	}
	var b strings.Builder
	for i, e := range eyes {
		if i > 0 {
			b.WriteString("\n")
		}
		e.text(&b)
	}
	b.WriteString("\n")
	sheetText{&b}.list("Cautions", caution.Full())
	_, err = io.WriteString(out.Stdout, b.String())
	return err
}

// options read the days of the flags.
func (c courseCommand) options(out *console) (o figure.CourseOptions, err error) {
	o.AsOf = record.DayOf(out.Now())
	for _, d := range []struct {
		flag, text string
		into       *record.Date
	}{{"--as-of", c.AsOf, &o.AsOf}, {"--from", c.From, &o.From}, {"--to", c.To, &o.To}} {
		if d.text == "" {
			continue
		}
		if *d.into, err = parseDay(d.flag, d.text, out); err != nil {
			return o, err
		}
		if !d.into.Full() {
			return o, &fault.Error{Code: fault.Invalid, Where: d.flag, What: fmt.Sprintf("%q is no full day", d.text), Expected: "a day as 2026-11-24"}
		}
	}
	if days, ok := o.From.DaysUntil(o.To); ok && days <= 0 {
		return o, &fault.Error{Code: fault.Invalid, Where: "--from, --to", What: "the window ends before it begins", Expected: "a later day for --to"}
	}
	return o, nil
}

// find finds one eye by its identifier, or the eyes of one person by fragments,
// the right eye first.
func (c courseCommand) find(out *console, s *store.Store, side eye.Laterality) ([]record.ID, error) {
	if record.ID(c.Eye).Check() == nil {
		return []record.ID{record.ID(c.Eye)}, nil
	}
	const most = 20
	list, err := s.Eyes(out.Context, c.Eye, store.Page{Limit: most})
	if err != nil {
		return nil, err
	}
	var ids []record.ID
	persons := map[record.ID]bool{}
	for _, wanted := range []eye.Laterality{eye.Right, eye.Left, eye.SideUnknown} {
		for _, row := range list.Rows {
			persons[row.ReadAs] = true
			if row.Side == wanted && (side == eye.SideUnknown || side == wanted) {
				ids = append(ids, row.EyeID)
			}
		}
	}
	switch {
	case len(ids) == 0:
		return nil, &fault.Error{Code: fault.NotFound, Where: c.Eye, What: "no eye is found by this", Mend: "give fragments of the name or the number as they stand in the record"}
	case len(persons) > 1:
		f := &fault.Error{Code: fault.Conflict, Where: c.Eye, What: fmt.Sprintf("at least %d persons are found by this", len(persons)), Mend: "give more of the name or the number, or one of the eyes:"}
		if list.Next == "" {
			f.What = fmt.Sprintf("%d persons are found by this", len(persons))
		}
		for _, row := range list.Rows[:min(6, len(list.Rows))] {
			f.Mend += fmt.Sprintf(" %s (%s, number %s)", row.EyeID, sideWord(row.Side), row.UnitNumber)
		}
		return nil, f
	}
	return ids, nil
}

// draw draws the eyes, one above the other.
func (c courseCommand) draw(eyes []courseEye) error {
	charts := make([]figure.CourseChart, len(eyes))
	for i, e := range eyes {
		charts[i] = e.chart
	}
	return figure.WriteFile(c.Figure, figure.DrawCourses(charts, figure.CourseForm{Width: c.Width, Sheet: true, Print: c.Print}))
}

func (e courseEye) who() string {
	if e.number == "" {
		return "nobody is named"
	}
	return "number " + e.number
}

// text prints the facts of one eye as a table.
func (e courseEye) text(b *strings.Builder) {
	fmt.Fprintf(b, "%s, %s, eye %s\n", e.chart.Title, e.who(), e.id)
	facts := figure.CourseFacts(e.chart)
	if len(facts) == 0 {
		b.WriteString("  Nothing is recorded for this eye yet.\n")
		return
	}
	if e.chart.Zero.Known() {
		fmt.Fprintf(b, "  days are counted from %s\n", e.chart.Zero.ISO())
	}
	fmt.Fprintf(b, "\n  %-13s %6s  %-10s %s\n", "date", "day", "lane", "what")
	for _, f := range facts {
		date, day := f.Date, "?"
		if f.Day != nil {
			day = fmt.Sprintf("%.0f", math.Floor(*f.Day))
		}
		if date == "" {
			date = "not known"
		}
		lane := f.Lane
		for _, part := range wrapped(f.Text, 92) {
			fmt.Fprintf(b, "  %-13s %6s  %-10s %s\n", date, day, lane, part)
			date, day, lane = "", "", ""
		}
	}
	if len(e.chart.Notes) > 0 {
		b.WriteString("\n")
		sheetText{b}.list("Notes", e.chart.Notes)
	}
}

// courseDocument is the course for programs. The keys are stable.
func courseDocument(eyes []courseEye) any {
	type document struct {
		Eye        record.ID           `json:"eye"`
		Side       string              `json:"side"`
		UnitNumber string              `json:"unit_number"`
		DayZero    string              `json:"day_zero"`
		Facts      []figure.CourseFact `json:"facts"`
		Notes      []string            `json:"notes"`
	}
	all := []document{}
	for _, e := range eyes {
		all = append(all, document{
			e.id, e.side.String(), e.number, e.chart.Zero.ISO(),
			append([]figure.CourseFact{}, figure.CourseFacts(e.chart)...), append([]string{}, e.chart.Notes...),
		})
	}
	return map[string]any{"eyes": all, "cautions": caution.Full()}
}
