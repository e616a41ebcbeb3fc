package decide

import (
	"slices"

	"limitans/estimate"
	"limitans/evidence"
)

// option puts one option together from the rows that speak of it.
func (a *asked) option(code string) (Option, error) {
	i := slices.IndexFunc(a.options, func(e entry) bool { return e.code == code })
	o := Option{Code: code, Name: a.options[i].name, Outcome: a.options[i].outcome}
	o.Reasons = a.sentences(KindFor, code, false)
	o.Against = a.sentences(KindAgainst, code, false)
	a.placeOption(&o)
	o.Steps = a.sentences(KindStep, code, true)
	o.Needs = Needs{
		Gauge: a.sentences(KindGauge, code, false), Stain: a.sentences(KindStain, code, false),
		Agents: a.sentences(KindAgent, code, false), Instruments: a.sentences(KindInstrument, code, false),
	}
	if err := a.costs(&o); err != nil {
		return o, err
	}
	if err := a.expect(&o); err != nil {
		return o, err
	}
	o.Acuity = noAcuity()
	if r, is := a.lastRow(KindAcuity, code); is {
		rows, err := groupsOf(r.Value)
		if err != nil {
			return o, err
		}
		o.Acuity = acuity(rows, r.Text)
	}
	return o, nil
}

// placeOption enters the option's place, its row and the probability of each
// place where the size is uncertain.
func (a *asked) placeOption(o *Option) {
	at := a.worlds[a.chosen].places[o.Code]
	chances := map[Place]float64{}
	best := -1.0
	for _, w := range a.worlds {
		p := w.places[o.Code]
		chances[p.place] += w.Probability
		// An option that is offered in another range only has its place from there.
		if a.worlds[a.chosen].places[o.Code].place == "" && p.place != "" && w.Probability > best {
			at, best = p, w.Probability
		}
	}
	o.Place, o.Why = at.place, at.row.sentence(a.decides(o.Code, at.row.ID))
	var reasons, against []Sentence
	enter := func(p placed, s Sentence) {
		if p.place == FirstChoice || p.place == Alternative {
			reasons = append(reasons, s)
		} else {
			against = append(against, s)
		}
	}
	enter(at, o.Why)
	seen := map[string]bool{at.row.ID: true}
	for _, w := range a.worlds {
		p := w.places[o.Code]
		if chance := a.decides(o.Code, p.row.ID); p.place != "" && !seen[p.row.ID] && chance >= leastShown {
			enter(p, p.row.sentence(chance))
			seen[p.row.ID] = true
		}
	}
	o.Reasons, o.Against = append(reasons, o.Reasons...), append(against, o.Against...)
	for _, p := range []Place{FirstChoice, Alternative, LastResort, AdvisedAgainst} {
		if chances[p] >= leastShown {
			o.Places = append(o.Places, PlaceChance{p, rounded(chances[p])})
		}
	}
}

// decides is how probable it is that a row gives an option its place.
func (a *asked) decides(code, row string) float64 {
	sum := 0.0
	for _, w := range a.worlds {
		if p := w.places[code]; p.place != "" && p.row.ID == row {
			sum += w.Probability
		}
	}
	return rounded(sum)
}

// expect enters what can be expected of it, the own series weighed in.
func (a *asked) expect(o *Option) error {
	r, is := a.lastRow(KindClosure, o.Code)
	p := Published{Expected: estimate.Missing("no row of the table tells what to expect"), Events: -1}
	if is {
		var err error
		if p, err = a.published(r); err != nil {
			return err
		}
		p.Warnings = append(p.Warnings, a.sizeWarning(r)...)
		if err := a.fillingClosures(o, r); err != nil {
			return err
		}
	}
	if p.outcome != "" {
		o.Outcome = p.outcome
	}
	own, err := ownOf(a.unit.Own, o.Code)
	if err != nil {
		return err
	}
	o.Published, o.Own, o.PublishedN, o.OwnN = p, own, p.Eyes, own.Eyes
	o.Closure, o.Weighing, err = weigh(p, own)
	return err
}

// sizeWarning tells that groups of other sizes stand behind a number that does
// not hang on this eye's size.
func (a *asked) sizeWarning(r Rule) []string {
	o, err := originOf(r.Value)
	if err != nil || o.kind == "curve" || o.kind == "none" || !a.size.Known() {
		return nil
	}
	return []string{"The published groups are not sorted by size: the number is the same for every diameter."}
}

// fillingClosures gives each gas and air its number where the curve tells them
// apart.
func (a *asked) fillingClosures(o *Option, r Rule) error {
	from, err := originOf(r.Value)
	if err != nil || from.kind != "curve" {
		return err
	}
	done := map[evidence.Tamponade]estimate.Estimate{}
	for i := range o.Costs.Tamponades {
		c := &o.Costs.Tamponades[i]
		var filling evidence.Tamponade
		switch c.Code {
		case "air":
			filling = evidence.Air
		case "sf6", "c2f6", "c3f8":
			filling = evidence.Gas
		default:
			continue
		}
		if _, is := done[filling]; !is {
			p, err := a.curve(from, filling)
			if err != nil {
				return err
			}
			done[filling] = p.Expected
		}
		c.Closure = done[filling]
	}
	return nil
}

// costs enters time, risks, posture, fillings and other costs.
func (a *asked) costs(o *Option) error {
	o.Costs.Time = a.sentences(KindTime, o.Code, true)
	o.Costs.Other = a.sentences(KindCost, o.Code, false)
	if r, is := a.lastRow(KindPosture, o.Code); is {
		var err error
		if o.Costs.Posture, err = a.posture(r); err != nil {
			return err
		}
	}
	for _, k := range a.risks {
		if inScope(k.conditions, string(a.findings.Condition)) && inScope(k.options, o.Code) && a.holds(k.when) {
			o.Costs.Risks = append(o.Costs.Risks, k.Risk)
		}
	}
	return a.fillings(o)
}

// fillings enters the fillings of an option: the last row of each filling that
// holds gives its place, all rows their reasons.
func (a *asked) fillings(o *Option) error {
	at := map[string]int{}
	for _, r := range a.rules {
		if r.Kind != KindTamponade || !inScope(r.Options, o.Code) || !a.holds(r.when) {
			continue
		}
		f, err := fillingOf(r.Value)
		if err != nil {
			return err
		}
		i, listed := at[f.code]
		if !listed {
			c, err := a.choice(f)
			if err != nil {
				return err
			}
			i = len(o.Costs.Tamponades)
			at[f.code] = i
			o.Costs.Tamponades = append(o.Costs.Tamponades, c)
		}
		c := &o.Costs.Tamponades[i]
		c.Place = f.place
		c.Why = append(c.Why, r.sentence(a.probability(r.when)))
	}
	o.Costs.Tamponades = slices.DeleteFunc(o.Costs.Tamponades, func(c TamponadeChoice) bool { return c.Place == "" })
	slices.SortStableFunc(o.Costs.Tamponades, func(x, y TamponadeChoice) int { return x.Place.rank() - y.Place.rank() })
	return nil
}
