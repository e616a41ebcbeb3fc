package decide

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"limitans/estimate"
	"limitans/evidence"
	"limitans/fault"
)

// origin says where an option's expected result comes from.
//
//	curve TECHNIQUE [ROWS]   closure over size; ROWS are the published analysis behind the technique
//	pool QUESTION TECHNIQUE  published groups, pooled
//	rows ROWS                these groups, pooled
//	none [ROWS]              no number; ROWS stand beside it
type origin struct {
	kind      string
	technique evidence.Technique
	question  evidence.Question
	rows      []string
}

func originOf(text string) (origin, error) {
	fields := strings.Fields(text)
	if len(fields) == 0 {
		return origin{}, fmt.Errorf("no origin")
	}
	o := origin{kind: fields[0]}
	rest := fields[1:]
	switch {
	case o.kind == "curve" && len(rest) > 0:
		o.technique, o.rows = evidence.Technique(rest[0]), rest[1:]
	case o.kind == "pool" && len(rest) == 2:
		o.question, o.technique = evidence.Question(rest[0]), evidence.Technique(rest[1])
	case o.kind == "rows" && len(rest) > 0, o.kind == "none":
		o.rows = rest
	default:
		return origin{}, fmt.Errorf("%q is no origin", text)
	}
	if o.technique != "" && !slices.Contains(evidence.Techniques(), o.technique) {
		return origin{}, fmt.Errorf("%q is no technique", o.technique)
	}
	if o.question != "" && !slices.Contains(evidence.Questions(), o.question) {
		return origin{}, fmt.Errorf("%q is no question", o.question)
	}
	_, err := rowsByID(o.rows)
	return o, err
}

// rowsByID finds rows of the table of evidence.
func rowsByID(ids []string) ([]evidence.Row, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	all, err := evidence.Rows()
	if err != nil {
		return nil, err
	}
	var out []evidence.Row
	for _, id := range ids {
		i := slices.IndexFunc(all, func(r evidence.Row) bool { return r.ID == id })
		if i < 0 {
			return nil, fmt.Errorf("no row of evidence %q", id)
		}
		out = append(out, all[i])
	}
	return out, nil
}

// sourcesOf cites rows.
func sourcesOf(rows []evidence.Row) []string {
	var out []string
	for _, r := range rows {
		text := r.ID + ": " + r.Source
		if r.DOI != "" {
			text += ", " + r.DOI
		}
		text += " (" + r.HowKnown
		if r.Recalled != "" {
			text += "; from memory or not seen: " + r.Recalled
		}
		out = append(out, text+")")
	}
	return out
}

// published asks package evidence for what a row names.
func (a *asked) published(r Rule) (Published, error) {
	o, err := originOf(r.Value)
	if err != nil {
		return Published{}, err
	}
	switch o.kind {
	case "curve":
		return a.curve(o, evidence.Gas)
	case "pool", "rows":
		return o.pooled(r.Text)
	}
	p := Published{Expected: estimate.Missing(r.Text), Events: -1}
	rows, err := rowsByID(o.rows)
	if err != nil {
		return Published{}, err
	}
	p.Rows, p.Sources = o.rows, append(sourcesOf(rows), r.Source+" ("+r.HowKnown+")")
	for _, row := range rows {
		p.Groups++
		// Analyses overlap, so their eyes are not added.
		p.Eyes = max(p.Eyes, row.Eyes)
	}
	return p, nil
}

// pooled pools the groups of an origin "pool" or "rows".
func (o origin) pooled(text string) (Published, error) {
	if o.kind == "rows" {
		rows, err := rowsByID(o.rows)
		if err != nil {
			return Published{}, err
		}
		return pooled(rows, text)
	}
	all, err := evidence.Rows()
	if err != nil {
		return Published{}, err
	}
	return pooled(evidence.Filter{Question: o.question, Technique: o.technique}.Rows(all), text)
}

// Ready fits the closure model and pools every group of studies that the table names,
// ahead of the first question, which would otherwise wait some tenths of a second for
// each. It is no more than a matter of time: [Decide] gives the same without it.
func Ready() error {
	if _, err := evidence.PublishedClosure(); err != nil {
		return err
	}
	rules, err := Rules()
	if err != nil {
		return err
	}
	for _, r := range rules {
		if r.Kind != KindClosure {
			continue
		}
		o, err := originOf(r.Value)
		if err != nil {
			return err
		}
		if o.kind == "pool" || o.kind == "rows" {
			if _, err := o.pooled(r.Text); err != nil {
				return err
			}
		}
	}
	return nil
}

// pools remembers what was pooled, by row ids: the table of evidence never
// changes, and a pool takes some tenths of a second.
var pools sync.Map

// pooled pools counted rows of one outcome.
func pooled(rows []evidence.Row, text string) (Published, error) {
	units, _, err := evidence.Units(rows)
	if err != nil {
		return Published{}, err
	}
	key := ""
	for _, u := range units {
		key += strings.Join(u.RowIDs, " ") + " "
	}
	stored, done := pools.Load(key)
	if !done {
		if stored, err = evidence.Pool(units); err != nil {
			return Published{}, err
		}
		pools.Store(key, stored)
	}
	pool := stored.(evidence.Pooled)
	p := Published{Expected: pool.NewUnit, Events: pool.Events, Eyes: pool.Eyes, Groups: pool.Units, spread: pool.NewUnit.Known(), outcome: outcomeWords(pool.Outcome)}
	if !p.spread {
		p.Expected = pool.Middle
		p.Warnings = append(p.Warnings, "The range does not hold how units differ: "+pool.NewUnit.Basis+".")
	} else {
		p.Expected.Basis = fmt.Sprintf("%d of %d eyes in %d published groups; 95 %% range of a unit not yet seen", pool.Events, pool.Eyes, pool.Units)
	}
	p.Warnings = append(p.Warnings, text)
	for _, u := range units {
		p.Rows = append(p.Rows, u.RowIDs...)
	}
	cited, err := rowsByID(p.Rows)
	p.Sources = sourcesOf(cited)
	return p, err
}

// longestMonths of symptoms in the published analysis behind the curve.
const longestMonths = 72

// outcomeWords says what the events of published groups are.
func outcomeWords(o evidence.Outcome) string {
	if o == evidence.Closed {
		return holeClosed
	}
	return "retina " + o.String()
}

// holeClosed is the outcome of the curve.
const holeClosed = "hole closed"

// curve asks the curve of closure over size, at the diameter and at both ends of
// its interval.
func (a *asked) curve(o origin, filling evidence.Tamponade) (Published, error) {
	m, err := evidence.PublishedClosure()
	if err != nil {
		return Published{}, err
	}
	p := Published{Events: -1, spread: true, outcome: holeClosed}
	if err := p.behind(m, o); err != nil {
		return Published{}, err
	}
	if !a.size.Known() {
		p.Expected = estimate.Missing("closure hangs on the minimum linear diameter, which was not told")
		return p, nil
	}
	q := evidence.ClosureQuestion{
		Technique: o.technique, Tamponade: filling, DurationMonths: a.known["duration"].number,
		WithoutFaceDown: a.known["can-posture"].is(string(No)),
	}
	if q.DurationMonths > longestMonths {
		p.Warnings = append(p.Warnings, fmt.Sprintf("Symptoms for %g months: the published analysis ends at %d, and the number is that of %d months.", q.DurationMonths, longestMonths, longestMonths))
		q.DurationMonths = longestMonths
	}
	for i, um := range []float64{a.size.Value, a.size.Low, a.size.High} {
		q.MLDUM = um
		answer, err := m.Expect(q)
		if fault.CodeOf(err) == fault.NotMeasurable {
			if i == 0 {
				p.Expected = estimate.Missing(fmt.Sprintf("at %.0f µm the published strata hold too few eyes; the curve holds from %d to %d µm", um, evidence.LeastClosureUM, evidence.MostClosureUM))
				return p, nil
			}
			p.Warnings = append(p.Warnings, fmt.Sprintf("The diameter's interval reaches %.0f µm, beyond the curve (%d to %d µm); the range holds up to there.", um, evidence.LeastClosureUM, evidence.MostClosureUM))
			q.MLDUM = math.Max(evidence.LeastClosureUM, math.Min(evidence.MostClosureUM, um))
			answer, err = m.Expect(q)
		}
		if err != nil {
			return Published{}, err
		}
		if i == 0 {
			p.Expected = answer.Expected
			p.Expected.Basis += fmt.Sprintf("; the range also holds the diameter's interval, %.0f to %.0f µm", a.size.Low, a.size.High)
			p.Warnings = append(answer.Warnings, p.Warnings...)
			p.Sources = append(answer.Sources, p.Sources...)
		}
		p.Expected.Low = math.Min(p.Expected.Low, answer.Expected.Low)
		p.Expected.High = math.Max(p.Expected.High, answer.Expected.High)
	}
	return p, nil
}

// behind enters what stands behind the curve: the fitted groups, or the analysis
// that the row names.
func (p *Published) behind(m *evidence.Closure, o origin) error {
	if len(o.rows) > 0 {
		rows, err := rowsByID(o.rows)
		for _, r := range rows {
			p.Eyes = max(p.Eyes, r.Eyes)
			p.Groups++
		}
		p.Rows, p.Sources = o.rows, sourcesOf(rows)
		return err
	}
	studies := map[string]bool{}
	var rows []evidence.Row
	for _, s := range m.Strata {
		if s.Fitted {
			p.Eyes += s.Row.Eyes
			studies[s.Row.Study] = true
			p.Rows = append(p.Rows, s.Row.ID)
			rows = append(rows, s.Row)
		}
	}
	p.Groups, p.Sources = len(studies), sourcesOf(rows)
	return nil
}

// groupsOf reads the value of an acuity row: "QUESTION TECHNIQUE" or "rows ROWS".
func groupsOf(text string) ([]evidence.Row, error) {
	fields := strings.Fields(text)
	if len(fields) > 1 && fields[0] == "rows" {
		return rowsByID(fields[1:])
	}
	if len(fields) != 2 || !slices.Contains(evidence.Questions(), evidence.Question(fields[0])) || !slices.Contains(evidence.Techniques(), evidence.Technique(fields[1])) {
		return nil, fmt.Errorf("%q names no groups", text)
	}
	all, err := evidence.Rows()
	if err != nil {
		return nil, err
	}
	return evidence.Filter{Question: evidence.Question(fields[0]), Technique: evidence.Technique(fields[1])}.Rows(all), nil
}
