package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"limitans/decide"
	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/internal/figure"
)

const optionsMethod = "rows of one table of rules, each with its source; closure from published counts (package evidence) and, where one is given, the own series by a beta-binomial model"

// nearlySure is written as sure: it would be rounded to 100 %.
const nearlySure = 0.995

// optionShare writes a share in per cent with its interval.
func optionShare(e estimate.Estimate) string {
	if !e.Known() {
		return "no number"
	}
	return fmt.Sprintf("%.1f %% (%.1f to %.1f)", 100*e.Value, 100*e.Low, 100*e.High)
}

// sourced writes a sentence with its source and the probability that it holds.
func sourced(s decide.Sentence) string {
	text := s.Text
	if s.Probability < nearlySure {
		text = fmt.Sprintf("(%.0f %%) ", 100*s.Probability) + text
	}
	return text + " [" + s.Source + "; " + s.HowKnown + "]"
}

func sourcedAll(all []decide.Sentence) []string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = sourced(s)
	}
	return out
}

// optionsText writes the options as text: all in one table, then each with its
// reasons, the first and those asked for with steps, needs and costs.
func optionsText(w io.Writer, d decide.Decision, detail []string) error {
	var b strings.Builder
	sheet := sheetText{&b}
	fmt.Fprintf(&b, "Options: %s\n", d.Findings.Condition.Words())
	if e := d.Findings.MLDUM; e != nil {
		sheet.line("diameter", fmt.Sprintf("%.0f µm (%.0f to %.0f)", e.Value, e.Low, e.High))
		sheet.line("", "error: "+e.Basis)
	}
	for _, c := range d.Classes {
		var parts []string
		for _, p := range c.Probabilities {
			if p.Probability >= 0.005 {
				parts = append(parts, fmt.Sprintf("%s %.0f %%", p.Class, 100*p.Probability))
			}
		}
		sheet.line("class "+c.Scheme, strings.Join(parts, ", "))
	}
	b.WriteString("\n")
	fmt.Fprintf(&b, "  %-26s %-17s %-24s %9s %5s\n", "option", "place", "expected", "published", "own")
	for _, o := range d.Options {
		fmt.Fprintf(&b, "  %-26s %-17s %-24s %9d %5d\n", o.Code, o.Place, optionShare(o.Closure), o.PublishedN, o.OwnN)
	}
	for i, o := range d.Options {
		optionText(sheet, o, i == 0 || slices.Contains(detail, o.Code))
	}
	b.WriteString("\n")
	if len(d.Warnings) > 0 {
		sheet.list("Warnings", sourcedAll(d.Warnings))
	}
	sheet.list("What would change the first option", changeWords(d.Changes))
	sheet.list("Not told, and rows ask for it", []string{openWords(d.Open)})
	sheet.list("Limits", limitWords(d.Limits))
	sheet.list("Order", []string{decide.OrderRule})
	sheet.list("Method", []string{optionsMethod})
	sheet.list("Cautions", caution.Full())
	_, err := io.WriteString(w, b.String())
	return err
}

func optionText(sheet sheetText, o decide.Option, whole bool) {
	fmt.Fprintf(sheet.b, "\n%s: %s\n", o.Code, o.Name)
	sheet.line("place", string(o.Place)+placeWords(o.Places))
	label := o.Outcome
	if label == "" {
		label = "expected"
	}
	sheet.line(label, optionShare(o.Closure))
	sheet.line("", "error: "+o.Closure.Basis)
	if o.OwnN > 0 {
		sheet.line("published alone", optionShare(o.Published.Expected))
		sheet.line("own alone", fmt.Sprintf("%d of %d, %s", o.Own.Events, o.Own.Eyes, optionShare(o.Own.Share)))
	}
	sheet.line("weighed", o.Weighing)
	for _, w := range o.Published.Warnings {
		sheet.line("", w)
	}
	if whole {
		acuityText(sheet, o.Acuity)
	}
	for _, part := range []struct {
		title string
		lines []decide.Sentence
		only  bool // with the details
	}{
		{"For", o.Reasons, false},
		{"Against", o.Against, false},
		{"Steps", o.Steps, true},
		{"Gauge", o.Needs.Gauge, true},
		{"Stain", o.Needs.Stain, true},
		{"Agents", o.Needs.Agents, true},
		{"Instruments", o.Needs.Instruments, true},
		{"Time", o.Costs.Time, true},
		{"Other costs", o.Costs.Other, true},
	} {
		if len(part.lines) > 0 && (whole || !part.only) {
			sheet.list(" "+part.title, sourcedAll(part.lines))
		}
	}
	if !whole {
		return
	}
	costsText(sheet, o.Costs)
	if len(o.Published.Sources) > 0 {
		sheet.list(" Published rows", o.Published.Sources)
	}
}

func placeWords(all []decide.PlaceChance) string {
	if len(all) == 1 && all[0].Probability >= nearlySure {
		return ""
	}
	var parts []string
	for _, p := range all {
		parts = append(parts, fmt.Sprintf("%s %.0f %%", p.Place, 100*p.Probability))
	}
	return " (by the error of the size: " + strings.Join(parts, ", ") + ")"
}

func acuityText(sheet sheetText, a decide.Acuity) {
	for _, l := range []struct {
		label string
		value estimate.Estimate
	}{{"acuity after", a.After}, {"change", a.Change}} {
		if !l.value.Known() {
			sheet.line(l.label, "no number: "+l.value.Basis)
			continue
		}
		sheet.line(l.label, fmt.Sprintf("%.2f logMAR (%.2f to %.2f), %d groups, %d eyes", l.value.Value, l.value.Low, l.value.High, a.Groups, a.Eyes))
		sheet.line("", "error: "+l.value.Basis)
	}
}

func costsText(sheet sheetText, c decide.Costs) {
	if c.Posture != nil {
		sheet.line("posture", c.Posture.Text)
		sheet.line("", c.Posture.Basis)
	}
	var fills []string
	for _, f := range c.Tamponades {
		text := fmt.Sprintf("%s, %s", f.Name, f.Place)
		if !math.IsNaN(f.StayLow) {
			text += fmt.Sprintf(": %s days by the planning table, %g at most in print", span(f.StayLow, f.StayHigh), f.Longest)
			if f.Gone.Known() {
				text += fmt.Sprintf(", in this eye gone on day %.0f (%.0f to %.0f)", f.Gone.Value, f.Gone.Low, f.Gone.High)
			}
			text += "; flying, heights, nitrous oxide: " + f.Until
		}
		if f.Closure.Known() {
			text += "; expected " + optionShare(f.Closure)
		}
		fills = append(fills, text)
		fills = append(fills, sourcedAll(f.Why)...)
	}
	if len(fills) > 0 {
		sheet.list(" Tamponade", fills)
	}
	var risks []string
	for _, r := range c.Risks {
		risks = append(risks, fmt.Sprintf("%s: %d of %d, %s (%s) [%s; %s]", r.What, r.Events, r.Eyes, optionShare(r.Share), r.Setting, r.Source, r.HowKnown))
	}
	if len(risks) > 0 {
		sheet.list(" Risks", risks)
	}
}

func span(low, high float64) string {
	if low == high {
		return fmt.Sprintf("%g", low)
	}
	return fmt.Sprintf("%g to %g", low, high)
}

func changeWords(all []decide.Change) []string {
	if len(all) == 0 {
		return []string{"no single finding of the table would"}
	}
	var out []string
	for _, c := range all {
		text := c.Finding
		if c.Open {
			text += " (not told)"
		}
		if c.Probability >= 0.005 {
			text += fmt.Sprintf(" (%.0f %% by the error of the size)", 100*c.Probability)
		}
		out = append(out, text+": "+c.First+" ["+c.Row+"]")
	}
	return out
}

func openWords(all []decide.Question) string {
	if len(all) == 0 {
		return "nothing"
	}
	var words []string
	for _, q := range all {
		words = append(words, q.Words)
	}
	return strings.Join(words, "; ")
}

func limitWords(all []decide.Limit) []string {
	if len(all) == 0 {
		return []string{"none"}
	}
	var out []string
	for _, l := range all {
		own := ""
		if l.OwnChoice {
			own = " (the unit's own)"
		}
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %g %s", l.Name, l.Value, l.Unit))+own+": "+l.What+" ["+l.Source+"; "+l.HowKnown+"]")
	}
	return out
}

// optionsChart is what the figure shows.
func optionsChart(d decide.Decision) figure.OptionsChart {
	c := figure.OptionsChart{Title: "Options: " + d.Findings.Condition.Words(), Below: "In the order in which they are offered; the surgeon may pick any or another", Axis: "expected share of eyes"}
	if e := d.Findings.MLDUM; e != nil {
		c.Title += fmt.Sprintf(", %.0f µm (%.0f to %.0f)", e.Value, e.Low, e.High)
	}
	for i, o := range d.Options {
		c.Rows = append(c.Rows, figure.OptionRow{
			Name: o.Name, Place: string(o.Place) + placeWords(o.Places), Expected: o.Closure, Published: o.Published.Expected, Own: o.Own.Share,
			PublishedN: o.PublishedN, OwnN: o.OwnN, First: i == 0, Against: o.Place == decide.AdvisedAgainst,
		})
	}
	c.Notes = []string{
		"Dot and line: expected share with 95 % range, published and own weighed together. Pale bar: published alone; square: the own series alone.",
		"Published groups are seldom compared by lot: larger, older and reoperated holes go to the unusual techniques, so one row's number is no comparison with another's.",
		"Order: " + decide.OrderRule + ".",
	}
	return c
}
