package paper

import (
	"fmt"
	"slices"
	"strings"

	"limitans/internal/paper/typeset"
	"limitans/tamponade"
)

// Mixing is the mixing sheet of one eye: the recipe in large numbers, the steps
// to read aloud, who mixed and who read. Every number is taken from Sheet, which
// tamponade.PlanMixing made, as it was for the command.
//
// A sheet ByHand is for nobody yet: Common names neither patient nor side, and the
// head has lines to write both on.
type Mixing struct {
	Common
	ByHand  bool
	Version Version
	Sheet   tamponade.MixingSheet
	// First mixes, Second reads; empty names get a line to write on.
	First, Second string
	// Signed says in words who signed in the record, as a sheet of the record does; the
	// two then need no line for their ink.
	Signed string
	// StruckOut says who struck the sheet out, when and why; it then says so in a
	// black bar.
	StruckOut string
	// Lot and Expiry as on the bottle; empty ones get a line.
	Lot, Expiry string
}

// Document makes the sheet. While a stop stands it holds the stops and no recipe.
func (m Mixing) Document() (*Document, error) {
	check, draft := m.Common.check, ""
	if m.ByHand {
		check, draft = m.Common.checkByHand, "FOR NOBODY YET: write name, date of birth and number and tick the side before gas is drawn; two people read them aloud."
	}
	d, err := m.Common.document("Mixing sheet", m.Version, draft, check)
	if err != nil {
		return nil, err
	}
	d.byHand = m.ByHand
	if m.Signed != "" {
		d.signed = strings.Join(nonEmpty(d.signed, m.Signed), " ")
	}
	if m.StruckOut != "" {
		d.banner = "DO NOT USE. Struck out by " + typeset.Isolate(m.StruckOut)
	}
	s := m.Sheet
	name := mixtureName(s.Mixture)
	if !s.Accepted() {
		d.body = append(d.body, notice{role: roleStop, lead: "STOP: there is no recipe.", text: "Do not mix. " + name + " was asked for.", size: 15})
		for _, stop := range s.Stops {
			d.body = append(d.body, m.stop(stop))
		}
		d.body = append(d.body, paragraph{spans: plain("Make a new sheet when the question is answered."), size: 11, above: 12})
		return d, nil
	}
	d.scales = []float64{1, 0.95, 0.9, 0.86}
	d.body = append(d.body, paragraph{spans: strong("Say aloud: " + name), size: 16})
	for _, stop := range s.Stops {
		d.body = append(d.body, m.stop(stop))
	}
	d.body = append(d.body, big{cells: recipeCells(s), size: 27, above: 6})
	rows, errors := recipeRows(s)
	if len(rows) > 0 {
		d.body = append(d.body, table{rows: rows, size: 10, share: 0.3, above: 6})
	}
	var steps []item
	for _, step := range s.Steps {
		steps = append(steps, item{text: step})
	}
	d.body = append(d.body, section{title: "Steps: tick each one", size: 12, above: 9, more: d.words.say("continued"), body: []block{
		list{items: steps, size: 10.5, mark: markNumberTick, gap: 2},
	}})
	left := []block{label{lines: m.label(), size: 9.5}}
	if m.StruckOut != "" { // nobody cuts out a label of what must not be used
		left = []block{notice{role: roleStop, lead: "No label:", text: "the sheet is struck out.", size: 10.5}}
	}
	d.body = append(d.body, together{above: 8, body: []block{columns{
		share: 0.5, left: left, right: []block{blanks{labels: m.blankLines(), size: 9.5, single: true}},
	}}})
	warnings, sources := warningItems(s.Warnings)
	d.body = append(d.body, section{title: "Before it is connected", size: 12, above: 9, more: d.words.say("continued"), body: []block{
		list{items: warnings, size: 8.6, mark: markDot, gap: 1.2},
		paragraph{spans: plain("Intervals, 95 %: " + errors), size: 7, quiet: true, above: 3},
		paragraph{spans: plain("Sources: " + sources), size: 7, quiet: true, above: 1},
	}})
	return d, nil
}

// stop prints a stop, or who lifted it and why.
func (m Mixing) stop(stop tamponade.Stop) notice {
	n := notice{role: roleStop, lead: "STOP.", text: stop.Text + " Source: " + stop.Source, size: 10.5, above: 6}
	if stop.Lifted {
		n.role, n.lead = roleCaution, "Stop, lifted by "+stop.LiftedBy+"."
	}
	return n
}

// mixtureName is the gas, its name in full and its share.
func mixtureName(m tamponade.Mixture) string {
	switch {
	case m.Agent == tamponade.AgentAir:
		return "AIR, filtered room air"
	case m.Percent == 100:
		return fmt.Sprintf("%s, %s, PURE, small volume only", m.Agent, m.Agent.FullName())
	}
	return fmt.Sprintf("%s, %s, %s", m.Agent, m.Agent.FullName(), strings.ReplaceAll(m.Percent.String(), " ", "\u00a0"))
}

// recipeCells are the settings of the syringe in large numbers.
func recipeCells(s tamponade.MixingSheet) []bigCell {
	ml := func(x float64) string { return fmt.Sprintf("%g\u00a0mL", x) }
	of := fmt.Sprintf("%g\u00a0mL syringe", s.Syringe.CapacityML)
	if s.Marks.AirML == 0 {
		return []bigCell{{"Pure gas, plunger at", ml(s.Marks.GasML), of}}
	}
	if s.Marks.GasML == 0 {
		return []bigCell{{"Filtered air, plunger at", ml(s.Marks.TotalML), of}}
	}
	cells := []bigCell{
		{"1. Gas, plunger at", ml(s.Marks.GasML), of},
		{"2. Then air, up to", ml(s.Marks.TotalML), ml(s.Marks.AirML) + " of air"},
	}
	if f := s.Flush.NeededML; f.Known() {
		cells = append(cells, bigCell{"3. Flush the eye with", fmt.Sprintf("%.0f\u00a0mL", f.Value), fmt.Sprintf("(%.0f\u00a0to\u00a0%.0f)", f.Low, f.High)})
	} else {
		cells = append(cells, bigCell{"3. Flush the eye with", "–", "not computed: axial length not told"})
	}
	return cells
}

// recipeRows are the shares that the recipe leads to, and in words what their
// intervals hold.
func recipeRows(s tamponade.MixingSheet) (rows []row, errors string) {
	figures := []Figure{{Label: "Largest volume in the eye", Estimate: s.EndVolumeML, Decimals: 2, Unit: "mL"}}
	if s.Mixture.Agent != tamponade.AgentAir {
		figures = append(figures,
			Figure{Label: "Share in the syringe", Estimate: s.InSyringe, Decimals: 1, Unit: "%"},
			Figure{Label: "Share in the eye", Estimate: s.Flush.PercentInEye, Decimals: 1, Unit: "%"},
			Figure{Label: "Cavity of this eye", Estimate: s.CavityML, Decimals: 2, Unit: "mL"})
	}
	var why []string
	for _, f := range figures {
		if f.Estimate.Known() {
			rows = append(rows, f.row())
			why = append(why, strings.ToLower(f.Label[:1])+f.Label[1:]+": "+f.Estimate.Basis)
		}
	}
	if f := s.Flush.NeededML; f.Known() && s.Mixture.Agent != tamponade.AgentAir {
		why = append(why, "flush: "+f.Basis)
	}
	if len(why) == 0 {
		return rows, "none, nothing is computed"
	}
	return rows, strings.Join(why, "; ")
}

// blankLines are what the two people write.
func (m Mixing) blankLines() []string {
	line := func(label, value string) string {
		if strings.TrimSpace(value) != "" {
			return label + ": " + typeset.Isolate(value) + ", signature"
		}
		return label
	}
	lot, expiry := "Lot on the bottle", "Expires"
	if m.Lot != "" {
		lot = "Lot " + m.Lot + ", read again"
	}
	if m.Expiry != "" {
		expiry = "Expires " + m.Expiry + ", read again"
	}
	people := []string{line("Mixed by", m.First), line("Bottle and syringe read by", m.Second)}
	if m.Signed != "" {
		people = nil
	}
	return append(people, "Time mixed", "Time injected", lot, expiry)
}

// label is the text of the syringe's label, with lines for what is not known
// before the mixing.
func (m Mixing) label() []string {
	or := func(text, blank string) string {
		if strings.TrimSpace(text) == "" {
			return blank
		}
		return typeset.Isolate(text)
	}
	marks := m.Sheet.Marks
	recipe := fmt.Sprintf("%g mL gas + %g mL air = %g mL", marks.GasML, marks.AirML, marks.TotalML)
	switch {
	case marks.GasML == 0:
		recipe = fmt.Sprintf("filtered room air %g mL", marks.TotalML)
	case marks.AirML == 0:
		recipe = fmt.Sprintf("pure gas %g mL", marks.GasML)
	}
	return []string{
		"GAS FOR THE EYE: " + mixtureName(m.Sheet.Mixture),
		recipe,
		m.labelWho(),
		"mixed at ______ by " + or(m.First, "____________") + ", read by " + or(m.Second, "____________"),
		"lot " + or(m.Lot, "____________") + ", expires " + or(m.Expiry, "________"),
		"use at once; not for injection elsewhere",
	}
}

// labelWho is side and patient on the label.
func (m Mixing) labelWho() string {
	if m.ByHand {
		return "________ eye · ______________________"
	}
	return strings.ToUpper(m.Side.String()) + " eye · " + m.Patient.name()
}

// warningItems numbers the sources, so that each stands once.
func warningItems(warnings []tamponade.Warning) (items []item, sources string) {
	var all []string
	for _, w := range warnings {
		at := slices.Index(all, w.Source)
		if at < 0 {
			at = len(all)
			all = append(all, w.Source)
		}
		items = append(items, item{text: fmt.Sprintf("%s [%d]", w.Text, at+1)})
	}
	for i, s := range all {
		all[i] = fmt.Sprintf("[%d] %s", i+1, s)
	}
	return items, strings.Join(all, "; ")
}

// document begins a sheet for people who work in the theatre, in English.
// check says whether it may be printed; draft stands there while nobody has signed.
func (c Common) document(title string, v Version, draft string, check func() error) (*Document, error) {
	if err := check(); err != nil {
		return nil, err
	}
	words, err := English()
	if err != nil {
		return nil, err
	}
	d := &Document{common: c, words: words, title: title}
	d.dayLine = strings.Join(nonEmpty(typeset.Isolate(c.Unit), surgeryLine(words, c)), "  ·  ")
	switch {
	case v.Number < 0 || v.ReplacedBy < 0 || v.ReplacedBy > 0 && v.ReplacedBy <= v.Number:
		return nil, missing("version", "a number above 0, replaced by a larger one")
	case v.Number == 0:
		d.signed = draft
	default:
		d.signed = fmt.Sprintf("Signed version %d, frozen", v.Number)
		if v.SignedBy != "" {
			d.signed += "; signed by " + typeset.Isolate(v.SignedBy)
		}
		if on := words.date(v.SignedOn); on != "" {
			d.signed += " on " + on
		}
		if v.ReplacedBy > 0 {
			d.signed = fmt.Sprintf("%s; replaced by version %d%s.", d.signed, v.ReplacedBy, onDate(words, v))
			d.banner = fmt.Sprintf("DO NOT USE. Replaced by version %d%s.", v.ReplacedBy, onDate(words, v))
		} else {
			d.signed += "."
		}
	}
	return d, nil
}

func onDate(w *Words, v Version) string {
	if on := w.date(v.ReplacedOn); on != "" {
		return " on " + on
	}
	return ""
}

func surgeryLine(w *Words, c Common) string {
	if on := w.date(c.Surgery); on != "" {
		return w.fill("operation_on", map[string]string{"date": on})
	}
	return ""
}
