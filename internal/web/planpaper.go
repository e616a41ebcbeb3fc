package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"limitans/decide"
	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/tamponade"
)

// theatrePaper prints the theatre sheet of one version of a plan. An older
// version says by which it was replaced.
func (s *Server) theatrePaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	c, plan, err := s.storedPlan(r)
	if err != nil {
		return made, err
	}
	sheet, err := s.theatreSheet(r, c, unit, plan)
	if err != nil {
		return made, err
	}
	made.back = planPath(c, plan)
	made.document, err = sheet.Document()
	return made, err
}

// planPath is where a version of a plan is shown.
func planPath(c *store.Course, plan *record.Plan) string {
	return "/eyes/" + string(c.Eye.ID) + "/plan/" + string(plan.ID)
}

// kitPaper prints what must lie ready.
func (s *Server) kitPaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	c, plan, err := s.storedPlan(r)
	if err != nil {
		return made, err
	}
	kept, err := keptOf(plan)
	if err != nil {
		return made, err
	}
	kit := paper.Kit{Common: s.commonOf(c, unit, record.Date{}), Version: s.versionOf(r, c, plan)}
	for _, group := range []struct {
		title string
		items []decide.Sentence
	}{{"Gauge", kept.Needs.Gauge}, {"Stain", kept.Needs.Stain}, {"Agents", kept.Needs.Agents}, {"Instruments", kept.Needs.Instruments}} {
		if len(group.items) == 0 {
			continue
		}
		one := paper.KitGroup{Title: group.title}
		for i, item := range group.items {
			one.Items = append(one.Items, paper.KitItem{Name: item.Text, Traced: group.title == "Stain" || group.title == "Agents", Spare: i > 0})
		}
		kit.Groups = append(kit.Groups, one)
	}
	if len(kit.Groups) == 0 {
		return made, &fault.Error{Code: fault.Invalid, Where: "kit list", What: "this plan keeps no list of what is needed", Mend: "choose one of the options that were worked out"}
	}
	made.back = planPath(c, plan)
	made.document, err = kit.Document()
	return made, err
}

// keptOf reads what a plan keeps of its options.
func keptOf(plan *record.Plan) (kept planBlob, err error) {
	if plan.Sheet == nil || plan.Sheet.Schema != planSchema {
		return kept, nil
	}
	if err := json.Unmarshal(plan.Sheet.Data, &kept); err != nil {
		return kept, &fault.Error{Code: fault.Malformed, Where: "plan " + string(plan.ID), What: "what it keeps of its options cannot be read", Cause: err}
	}
	return kept, nil
}

// versionOf tells where a plan stands among its versions.
func (s *Server) versionOf(r *http.Request, c *store.Course, plan *record.Plan) paper.Version {
	var v paper.Version
	if plan.Frozen() {
		v = paper.Version{Number: plan.Revision, SignedBy: s.nameOf(r, plan.Signed.By.AccountID), SignedOn: record.DayOf(plan.Signed.At)}
	}
	for _, other := range c.Plans {
		if other.Replaces == plan.ID {
			v.ReplacedBy, v.ReplacedOn = other.Revision, other.MadeOn
		}
	}
	return v
}

// theatreSheet puts a plan on paper. Every number is the one that the plan kept
// or that the sciences compute from it, as the commands do.
func (s *Server) theatreSheet(r *http.Request, c *store.Course, unit *record.Unit, plan *record.Plan) (paper.Theatre, error) {
	kept, err := keptOf(plan)
	if err != nil {
		return paper.Theatre{}, err
	}
	t := paper.Theatre{Common: s.commonOf(c, unit, record.Date{}), Version: s.versionOf(r, c, plan), Surgeon: s.nameOf(r, plan.MadeBy), Steps: kept.Steps, Cautions: kept.Warnings}
	t.Allergies = allergyWords(c.Patient)
	t.Facts = factsOf(plan, kept.Findings)
	if t.Findings, t.Quantities, err = findingFigures(kept.Findings); err != nil {
		return t, err
	}
	s.bestSlice(r.Context(), c, plan, &t)
	for i, o := range plan.Options {
		switch {
		case o.Code == plan.Chosen:
			t.Option, t.Reasons = o.Name, first(o.Why, mostReasons)
			if e := o.ExpectedClosure; e != nil && e.Known() {
				t.Expected = append(t.Expected, paper.Figure{Label: "expected to succeed", Estimate: e.Scaled(100), Unit: "%", Source: "published and own results weighed, see the plan"})
			}
		case i < mostBackUps+1:
			t.BackUp = append(t.BackUp, "if this cannot be done: "+o.Name)
		}
	}
	for _, reason := range plan.ReasonsAgainstFirst {
		t.Reasons = append(t.Reasons, strings.TrimSuffix("not the first option: "+strings.ReplaceAll(string(reason.Code), "_", " ")+", "+string(reason.Text), ", "))
	}
	gas, dye := s.agentsOf(r, c, plan, &t)
	t.Checks = paper.StopChecks(t.Common, gas, dye)
	return t, nil
}

// How much of reasons and other options the one page takes; the plan has all.
const (
	mostReasons = 4
	mostBackUps = 2
)

func first(all []string, most int) []string { return all[:min(len(all), most)] }

// allergyWords are empty where nobody asked.
func allergyWords(p *record.Patient) string {
	switch {
	case p == nil:
		return ""
	case len(p.Allergies) > 0:
		var names []string
		for _, a := range p.Allergies {
			names = append(names, string(a.Substance))
		}
		return strings.Join(names, ", ")
	case p.NoAllergies:
		return "none, asked"
	}
	return ""
}

func factsOf(plan *record.Plan, f decide.Findings) []paper.Fact {
	var facts []paper.Fact
	add := func(label, text string) {
		if text != "" {
			facts = append(facts, paper.Fact{Label: label, Text: strings.ReplaceAll(text, "_", " ")})
		}
	}
	if f.Condition != "" {
		add("For", f.Condition.Words())
	}
	if f.Lens != tamponade.LensUnknown {
		add("Lens", f.Lens.String())
	}
	add("Earlier surgery for it", string(f.EarlierSurgery))
	if plan.GaugeG != 0 {
		add("Gauge", fmt.Sprint(plan.GaugeG))
	}
	add("Anaesthesia", string(plan.Anaesthesia))
	if plan.WithLens == record.Yes {
		add("Lens surgery", "in the same sitting")
	}
	posture := string(plan.Posture)
	if plan.PostureDays != nil {
		posture += fmt.Sprintf(", %g days", *plan.PostureDays)
	}
	add("Posture afterwards", posture)
	return facts
}

// findingFigures are the findings with their intervals, and what they mean for the
// volumes of this eye.
func findingFigures(f decide.Findings) (findings, quantities []paper.Figure, err error) {
	for _, one := range []struct {
		label string
		value *estimate.Estimate
	}{{"Minimum linear diameter", f.MLDUM}, {"Largest diameter", f.LargestUM}, {"Base diameter", f.BaseUM}} {
		if one.value != nil && one.value.Known() {
			findings = append(findings, paper.Figure{Label: one.label, Estimate: *one.value, Unit: "µm", Source: "as displayed"})
		}
	}
	if f.DurationMonths != nil {
		findings = append(findings, exactFigure("Symptoms for", *f.DurationMonths, 0, "months", "as told"))
	}
	if f.AxialLengthMM == nil || f.BySoundInOil == decide.Yes {
		return findings, nil, nil
	}
	findings = append(findings, exactFigure("Axial length", *f.AxialLengthMM, 2, "mm", "biometry"))
	cavity, err := eye.CavityVolumeML(*f.AxialLengthMM)
	if err != nil {
		return nil, nil, err
	}
	return findings, append(quantities, paper.Figure{Label: "Cavity", Estimate: cavity, Decimals: 1, Unit: "mL", Source: "from axial length"}), nil
}

func exactFigure(label string, value float64, decimals int, unit, source string) paper.Figure {
	return paper.Figure{Label: label, Estimate: estimate.Estimate{Value: value, Low: value, High: value, Basis: source}, Decimals: decimals, Unit: unit, Source: source, Exact: true}
}

// agentsOf adds what goes into the eye, and gives gas and dye as they are spoken.
// A recipe comes from the eye's own mixing sheet of the same mixture.
func (s *Server) agentsOf(r *http.Request, c *store.Course, plan *record.Plan, t *paper.Theatre) (gas, dye string) {
	if plan.Dye != "" {
		dye = strings.ReplaceAll(string(plan.Dye), "_", " ")
		t.Agents = append(t.Agents, paper.Agent{Name: dye, Note: "strength read from the label, aloud"})
	}
	switch plan.MediumPlanned {
	case record.MediumGas:
		gas = string(plan.Tamponade.Gas)
		if p := plan.Tamponade.Percent; p != nil {
			gas += fmt.Sprintf(" %g %%", *p)
		}
		t.Agents = append(t.Agents, s.recipeOf(r, c, plan, gas))
	case record.MediumAir:
		gas = "air"
		t.Agents = append(t.Agents, paper.Agent{Name: gas, Note: "filtered"})
	case record.MediumOil, record.MediumHeavyLiquid, record.MediumHeavyOil:
		t.Agents = append(t.Agents, paper.Agent{Name: mediumWords(plan.MediumPlanned)})
	}
	return gas, dye
}

// recipeOf is the gas with the recipe of the newest mixing sheet for it.
func (s *Server) recipeOf(r *http.Request, c *store.Course, plan *record.Plan, spoken string) paper.Agent {
	for _, d := range slices.Backward(c.Documents) {
		if !isMixing(d, c.Eye) || d.Struck() {
			continue
		}
		r.SetPathValue("sheet", string(d.ID))
		_, m, err := s.mixingOf(r, c)
		if err != nil || !strings.EqualFold(m.Asked.Gas, string(plan.Tamponade.Gas)) {
			continue
		}
		answer, err := m.Asked.Plan()
		if err != nil || plan.Tamponade.Percent == nil || float64(answer.Sheet.Mixture.Percent) != *plan.Tamponade.Percent {
			continue
		}
		return paper.FromRecipe(answer.Sheet)
	}
	return paper.Agent{Name: spoken, Quantity: "by the mixing sheet", Note: "two people sign it"}
}

// measuredFor is the newest measured scan that was there when a plan was made: a
// signed plan is never drawn with what was seen after it.
func measuredFor(c *store.Course, plan *record.Plan) (*record.Scan, *record.HoleFigures) {
	until := plan.MadeOn
	if plan.Frozen() {
		until = record.DayOf(plan.Signed.At)
	}
	for _, f := range slices.Backward(c.Figures) {
		at := slices.IndexFunc(c.Scans, func(one *record.Scan) bool { return one.ID == f.ScanID })
		if at >= 0 && !until.CertainlyBefore(c.Scans[at].Taken) {
			return c.Scans[at], f
		}
	}
	return nil, nil
}

// bestSlice draws the slice of that scan on which the hole is widest. A scan that
// cannot be read leaves the sheet without a picture, which it then says.
func (s *Server) bestSlice(ctx context.Context, c *store.Course, plan *record.Plan, t *paper.Theatre) {
	scan, figures := measuredFor(c, plan)
	if scan == nil {
		return
	}
	on, err := s.takeScan(ctx, scan, c.Eye)
	if err != nil {
		t.SliceWords = "the scan of " + scan.Taken.Words() + " cannot be read now"
		return
	}
	result, err := s.measured(ctx, on, c.Eye, figures)
	if err != nil {
		t.SliceWords = "the scan of " + scan.Taken.Words() + " cannot be drawn now"
		return
	}
	_, t.Slice, t.SliceWords = paper.FromScan(result)
	if t.SliceWords != "" {
		t.SliceWords = "Scan of " + scan.Taken.Words() + ". " + t.SliceWords
	}
}
