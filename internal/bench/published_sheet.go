package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/evidence"
	"limitans/internal/caution"
	"limitans/internal/figure"
)

// publishedWarnings hold for whatever is pooled.
func publishedWarnings() []string {
	return []string{
		"Techniques are seldom compared by lot: larger, older and reoperated holes go to the unusual ones. Two groups here do not make a comparison.",
		"What went well is published more readily; a registry's figures are nearer to those of an ordinary unit.",
		"The middle unit is not yours: look at the range of a new unit.",
	}
}

// shareText writes a share with its interval in per cent.
func shareText(e estimate.Estimate) string {
	return banded("%.1f", e.Scaled(100), "%")
}

// marks says in words what is peculiar about a unit's rows.
func marks(u evidence.Unit) string {
	var words []string
	for _, m := range []struct {
		is   bool
		word string
	}{{u.Derived, "derived"}, {u.Recalled, "recalled"}, {u.Secondary, "secondary"}} {
		if m.is {
			words = append(words, m.word)
		}
	}
	return strings.Join(words, ", ")
}

// title names a group; the outcome is said where it is not closure.
func (g publishedGroup) title() string {
	if g.Outcome == evidence.Closed {
		return g.Technique.String()
	}
	return g.Technique.String() + ", " + g.Outcome.String()
}

// sheet is the table for people.
func (d *publishedAnswer) sheet() *Sheet {
	sheet := newSheet("Published results: " + d.filter.Question.String())
	for _, g := range d.groups {
		p := g.Pooled
		rows := [][]string{}
		for _, u := range g.Units {
			rows = append(rows, []string{u.Study, ofEyes(u.Events, u.Eyes), shareText(u.Rate), strings.TrimSpace(strings.Join(u.RowIDs, " ") + "  " + marks(u))})
		}
		rows = append(rows, []string{"TOGETHER, middle unit", ofEyes(p.Events, p.Eyes), shareText(p.Middle)})
		sheet.table(g.title(), nil, rows)
		if p.NewUnit.Known() {
			sheet.line("a new unit", shareText(p.NewUnit))
			sheet.line("spread of logits", fmt.Sprintf("%.2f (%.2f to %.2f), p against one rate for all %.2g", p.LogitSD.Value, p.LogitSD.Low, p.LogitSD.High, p.HeterogeneityP))
		} else {
			sheet.line("a new unit", "not told: "+p.NewUnit.Basis)
		}
		sheet.line("", "error: "+p.Middle.Basis)
	}
	d.leftOutPart(sheet)
	sheet.list("Sources", d.sources())
	sheet.list("Method", []string{evidence.PoolMethod + "; single studies: exact intervals (Clopper and Pearson)"})
	sheet.list("Marks", []string{
		"derived: a count was not printed but is the only whole number that fits, or a sum",
		"recalled: part of the reference is from memory or was not seen",
		"secondary: known through another text only",
	})
	sheet.list("Warnings", publishedWarnings())
	sheet.cautions()
	return sheet
}

func ofEyes(events, eyes int) string { return fmt.Sprintf("%5d of %-5d", events, eyes) }

// leftOutPart gathers the rows that were left out by their reason.
func (d *publishedAnswer) leftOutPart(sheet *Sheet) {
	if len(d.leftOut) == 0 {
		return
	}
	var reasons []string
	rows := map[string][]string{}
	for _, l := range d.leftOut {
		if rows[l.Why] == nil {
			reasons = append(reasons, l.Why)
		}
		rows[l.Why] = append(rows[l.Why], l.Row.ID)
	}
	sheet.part("Left out")
	for _, why := range reasons {
		sheet.list(why, []string{strings.Join(rows[why], " ")})
	}
}

// sources cite each row that was used.
func (d *publishedAnswer) sources() []string {
	var out []string
	for _, id := range d.used {
		out = append(out, citation(d.rows[id]))
	}
	return out
}

func citation(r evidence.Row) string {
	text := r.ID + ": " + r.Source
	if r.DOI != "" {
		text += ", " + r.DOI
	}
	text += " (" + r.HowKnown
	if r.Recalled != "" {
		text += "; from memory or not seen: " + r.Recalled
	}
	return text + ")"
}

// document holds the stable keys.
func (d *publishedAnswer) document() map[string]any {
	groups := []map[string]any{}
	for _, g := range d.groups {
		units := []map[string]any{}
		for _, u := range g.Units {
			units = append(units, map[string]any{
				"study": u.Study, "rows": u.RowIDs, "events": u.Events, "eyes": u.Eyes, "share": u.Rate, "year": yearOrNull(u.Year), "design": u.Design,
				"derived": u.Derived, "recalled": u.Recalled, "secondary": u.Secondary,
			})
		}
		var p *float64
		if v := g.Pooled.HeterogeneityP; !math.IsNaN(v) {
			p = &v
		}
		groups = append(groups, map[string]any{
			"technique": g.Technique, "name": g.Technique.String(), "outcome": g.Outcome, "units": units, "events": g.Pooled.Events, "eyes": g.Pooled.Eyes,
			"middle": g.Pooled.Middle, "new_unit": g.Pooled.NewUnit, "logit_sd": g.Pooled.LogitSD, "heterogeneity_p": p,
		})
	}
	left := []map[string]any{}
	for _, l := range d.leftOut {
		left = append(left, map[string]any{"row": l.Row.ID, "why": l.Why})
	}
	rows := []map[string]any{}
	for _, id := range d.used {
		r := d.rows[id]
		rows = append(rows, map[string]any{"id": r.ID, "source": r.Source, "doi_or_pmid": r.DOI, "how_known": r.HowKnown, "derived": append([]string{}, r.Derived...), "recalled": r.Recalled, "notes": r.Notes})
	}
	return map[string]any{
		"task": "pool", "question": d.filter.Question, "inputs": map[string]any{
			"question": d.filter.Question, "technique": d.filter.Technique, "tamponade": d.filter.Tamponade,
			"without_derived": d.filter.WithoutDerived, "without_recalled": d.filter.WithoutRecalled, "without_secondary": d.filter.WithoutSecondary,
		},
		"groups": groups, "left_out": left, "rows": rows, "method": evidence.PoolMethod, "warnings": publishedWarnings(), "cautions": caution.Full(),
	}
}

// yearOrNull is null where the year was not seen.
func yearOrNull(year int) any {
	if year == 0 {
		return nil
	}
	return year
}

// chart is what the figure shows.
func (d *publishedAnswer) chart() figure.ForestChart {
	below := "Share of eyes with the outcome in published groups, by technique; techniques are seldom compared by lot"
	if t := d.filter.Tamponade; t != "" {
		below += "; only " + string(t)
	}
	c := figure.ForestChart{Title: d.filter.Question.String() + ": published results", Below: below, Axis: "95 % interval"}
	for _, g := range d.groups {
		group := figure.ForestGroup{Title: g.title()}
		for _, u := range g.Units {
			group.Rows = append(group.Rows, figure.ForestRow{Label: u.Study, Mark: marks(u), Events: u.Events, Eyes: u.Eyes, Share: u.Rate, Derived: u.Derived})
		}
		if len(g.Units) > 1 {
			group.Pooled = &figure.ForestPool{Events: g.Pooled.Events, Eyes: g.Pooled.Eyes, Middle: g.Pooled.Middle, NewUnit: g.Pooled.NewUnit}
		}
		c.Groups = append(c.Groups, group)
	}
	c.Notes = []string{
		"Dot: one study, its area by its eyes, hollow where a count was derived; line: exact interval. Diamond: the middle unit; pale bar: where a unit not yet seen lies. " +
			"Recalled: part of the reference is from memory or was not seen. Secondary: known through another text.",
		"Method: " + evidence.PoolMethod + ".",
	}
	return c
}
