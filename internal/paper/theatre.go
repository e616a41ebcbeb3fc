package paper

import (
	"fmt"
	"strings"

	"limitans/internal/figure/scene"
	"limitans/internal/paper/typeset"
	"limitans/stain"
	"limitans/tamponade"
)

// Theatre is the theatre sheet: the whole plan of one operation, on one page
// where it can be. It takes plain texts and figures, so that any part of the
// program can fill it; the figures come from the functions that the commands use.
type Theatre struct {
	Common
	Version Version
	Surgeon string

	Facts    []Fact // diagnosis, class, lens, earlier surgery …
	Findings []Figure
	// Slice is the best slice as a drawing; nil where there is no scan. SliceWords
	// says which it is.
	Slice      *scene.Scene
	SliceWords string
	// Allergies are printed as a caution, also when there are none; empty means
	// that nobody asked.
	Allergies string

	Option   string   // the chosen one
	Reasons  []string // why, and why not the first option
	Expected []Figure
	Steps    []string
	Agents   []Agent
	// Quantities are volumes, times and distances for this eye.
	Quantities []Figure
	BackUp     []string
	Checks     []Check
	Cautions   []string // of this case
}

// Agent is something that is put into the eye.
type Agent struct {
	Name     string // as it is spoken, with its strength
	Quantity string
	Note     string
}

// Check is a stop-check: nothing goes on before it was answered aloud.
type Check struct {
	Ask string
	Say string // the answer that is expected
}

// FromRecipe turns a recipe into the agent of a theatre sheet. A recipe with a
// stop gives its stop instead of a quantity.
func FromRecipe(s tamponade.MixingSheet) Agent {
	a := Agent{Name: mixtureName(s.Mixture)}
	switch {
	case !s.Accepted():
		a.Quantity, a.Note = "STOP: no recipe", s.Stops[0].Text
	case s.Marks.AirML == 0:
		a.Quantity = fmt.Sprintf("%g\u00a0mL, pure", s.Marks.GasML)
	case s.Marks.GasML == 0:
		a.Quantity = fmt.Sprintf("%g\u00a0mL", s.Marks.TotalML)
	default:
		a.Quantity = fmt.Sprintf("%g\u00a0mL gas + %g\u00a0mL air = %g\u00a0mL", s.Marks.GasML, s.Marks.AirML, s.Marks.TotalML)
		if f := s.Flush.NeededML; f.Known() {
			a.Note = fmt.Sprintf("flush with %.0f mL (%.0f to %.0f); recipe on the mixing sheet", f.Value, f.Low, f.High)
		}
	}
	return a
}

// FromDye turns a prepared dye into the agent of a theatre sheet: name and
// strength as they are spoken, and what is drawn up where it is mixed. One with a
// stop gives its stop instead.
//
// written is what was asked for; it names a dye that was stopped before it could
// be read.
func FromDye(written string, s stain.Sheet) Agent {
	var names []string
	for _, p := range s.Dyes {
		names = append(names, fmt.Sprintf("%s %.4g\u00a0%% (%.3g\u00a0mg/mL)", p.Dye.Name, p.Percent.Value, p.MGPerML.Value))
	}
	a := Agent{Name: strings.Join(names, " and ")}
	if len(names) == 0 {
		a.Name = written
	}
	switch {
	case !s.Accepted():
		a.Quantity, a.Note = "STOP: not into the eye", s.Stops[0].Text
	case len(s.Parts) > 0:
		a.Quantity = fmt.Sprintf("%.3g\u00a0mL of the dye", s.StockML)
		for _, p := range s.Parts {
			a.Quantity += fmt.Sprintf(" + %.3g\u00a0mL %s", p.ML, p.Solution.Name)
		}
	default:
		a.Quantity = "as it stands on the label"
	}
	return a
}

// StopChecks are the checks that every theatre sheet carries. gas is the mixture
// as it is spoken, dye the dye with its strength; empty where none is used.
func StopChecks(c Common, gas, dye string) []Check {
	words, err := English()
	born := ""
	if err == nil {
		born = words.date(c.Patient.Born)
	}
	side := strings.ToUpper(c.Side.String()) + " EYE"
	checks := []Check{
		{"Who is this, which eye, what for? Wristband, mark and consent read together.", strings.Join(nonEmpty(c.Patient.name(), born, side), ", ")},
		{"Nitrous oxide?", "Off or not used, before any gas or air is in the eye; told to the anaesthetist."},
		{"Infusion: is the tip seen in the vitreous cavity before it is opened?", "Seen."},
	}
	if dye != "" {
		checks = append(checks, Check{"Dye: name and strength read from the label, aloud.", dye})
	}
	if gas != "" {
		checks = append(checks, Check{"Gas: name and per cent spoken, bottle and syringe read by a second person.", gas})
	}
	return append(checks, Check{"At the end: card, wristband and leaflet given, if gas, air or oil stays in the eye.", side})
}

// Document makes the sheet. Its letters shrink by up to a seventh before it takes
// a second page, which then begins with what does not fit and repeats the head.
func (t Theatre) Document() (*Document, error) {
	d, err := t.Common.document("Theatre sheet", t.Version, "DRAFT: nobody has signed this plan.", t.Common.check)
	if err != nil {
		return nil, err
	}
	if strings.TrimSpace(t.Option) == "" {
		return nil, missing("chosen option", "what is to be done")
	}
	if len(t.Checks) == 0 {
		return nil, missing("stop-checks", "at least who, which eye and nitrous oxide")
	}
	if t.Surgeon != "" {
		d.dayLine = strings.Join(nonEmpty(d.dayLine, "Surgeon "+typeset.Isolate(t.Surgeon)), "  ·  ")
	}
	d.scales = []float64{1, 0.96, 0.92, 0.88, 0.86}
	left := append(t.findings(d), append(listed(d, "Steps", t.Steps, markNumber), listed(d, "If it goes otherwise", t.BackUp, markDot)...)...)
	right := append(t.plan(d), t.checks(d)...)
	d.body = []block{columns{left: left, right: right, share: 0.48}}
	d.body = append(d.body, listed(d, "Cautions for this eye", t.Cautions, markDot)...)
	return d, nil
}

// Sizes of the theatre sheet's letters.
const (
	theatreHead = 11.5
	theatreText = 9.8
)

func (t Theatre) findings(d *Document) []block {
	var out []block
	allergies := notice{role: roleCaution, lead: "Allergies:", text: t.Allergies, size: theatreText}
	if strings.TrimSpace(t.Allergies) == "" {
		allergies.role, allergies.text = roleStop, "not asked. Ask before anything is given."
	}
	out = append(out, allergies)
	var body []block
	if t.Slice != nil {
		body = append(body, picture{scene: t.Slice, tall: 150, caption: t.SliceWords, size: 7.6})
	}
	var rows []row
	for _, f := range t.Facts {
		rows = append(rows, row{label: f.Label, value: f.Text})
	}
	for _, f := range t.Findings {
		rows = append(rows, f.row())
	}
	if len(rows) > 0 {
		body = append(body, table{rows: rows, size: theatreText, share: 0.47, above: 4})
	}
	if len(body) > 0 {
		out = append(out, section{title: "Findings", size: theatreHead, above: 7, body: body, more: d.words.say("continued")})
	}
	return out
}

func (t Theatre) plan(d *Document) []block {
	body := []block{paragraph{spans: strong(t.Option), size: 14}}
	var rows []row
	for _, f := range t.Expected {
		rows = append(rows, f.row())
	}
	if len(rows) > 0 {
		body = append(body, table{rows: rows, size: theatreText, share: 0.42, above: 3})
	}
	var reasons []item
	for _, text := range t.Reasons {
		reasons = append(reasons, item{text: text})
	}
	if len(reasons) > 0 {
		body = append(body, list{items: reasons, size: 9, mark: markDot, gap: 1, above: 4})
	}
	out := []block{section{title: "Plan", size: theatreHead, body: body, more: d.words.say("continued")}}
	if len(t.Agents) > 0 {
		var agents []item
		for _, a := range t.Agents {
			agents = append(agents, item{text: a.Name, answer: a.Quantity, note: a.Note})
		}
		out = append(out, section{title: "Agents", size: theatreHead, above: 7, more: d.words.say("continued"), body: []block{list{items: agents, size: theatreText, mark: markDot, gap: 2}}})
	}
	if len(t.Quantities) > 0 {
		rows = nil
		for _, f := range t.Quantities {
			rows = append(rows, f.row())
		}
		out = append(out, section{title: "Quantities for this eye", size: theatreHead, above: 7, more: d.words.say("continued"), body: []block{table{rows: rows, size: theatreText, share: 0.5}}})
	}
	return out
}

// listed is a heading with a list, nothing without items.
func listed(d *Document, title string, texts []string, m mark) []block {
	var items []item
	for _, text := range texts {
		items = append(items, item{text: text})
	}
	if len(items) == 0 {
		return nil
	}
	return []block{section{title: title, size: theatreHead, above: 7, more: d.words.say("continued"), body: []block{list{items: items, size: theatreText, mark: m, gap: 1.6}}}}
}

func (t Theatre) checks(d *Document) []block {
	var items []item
	for _, check := range t.Checks {
		items = append(items, item{text: check.Ask, answer: check.Say})
	}
	return []block{section{title: "Stop: answer aloud, then go on", size: theatreHead, above: 8, more: d.words.say("continued"), body: []block{
		list{items: items, size: theatreText, mark: markTick, gap: 3},
		paragraph{spans: []typeset.Span{{Text: "A question without an answer stops the operation."}}, size: 8.2, quiet: true, above: 3},
	}}}
}
