package record

import (
	"fmt"
	"slices"
)

// ContentState says how sure it is that something is in the eye.
type ContentState string

// The states of what is in an eye.
const (
	// Filled: put in, not taken out, not seen gone. A gas stays in this state until
	// somebody has seen the eye empty; a date is never proof.
	Filled ContentState = "filled"
	// Residue: taken out, but some was left or seen afterwards.
	Residue ContentState = "residue"
	// ContentUnclear: the order of filling and removal cannot be told.
	ContentUnclear ContentState = "unclear"
	// Gone: taken out or seen gone, and nothing seen afterwards.
	Gone ContentState = "gone"
)

// Content is one filling of an eye and what became of it.
type Content struct {
	Medium      Medium
	State       ContentState
	Since       Date // day of filling; unknown when it was put in elsewhere
	OperationID ID   // empty when it was put in elsewhere
	Gas         Gas
	Percent     *float64
	AmountML    *float64
	Labels      []Label // lot numbers of all that went in then
	LastSeen    Date    // last day on which it was looked for
	LastLook    MediumLook
	RemovedOn   Date // day of removal, or of being seen gone, when State is Gone or Residue
	Notes       []string
}

// Label is what a label said.
type Label struct {
	Class   AgentClass
	Product string
	BatchID ID
	Lot     string
	Expiry  Date
}

// Fillings derives from operations and visits up to asOf (unknown: all) what was
// put into the eye and what became of it, oldest first. Struck entries do not
// count. Rules, all common practice without a source and on the cautious side:
//
//   - what is placed stays until it is recorded as removed or seen gone;
//   - partial removal, or droplets, emulsified or subretinal remains seen later,
//     leave the state Residue, which only a later removal or "seen empty" ends;
//   - a fill read as 0 % is not "seen empty";
//   - gas or air replaces earlier gas or air; other media never replace each other
//     silently;
//   - on one day without times, "seen empty" counts before the operation and
//     remains seen count after it; where dates are too vague the state is
//     ContentUnclear.
func Fillings(operations []*Operation, visits []*Visit, asOf Date) []Content {
	var h history
	for _, e := range mediaEvents(operations, visits, asOf) {
		if e.operation != nil {
			h.operate(e.operation)
		} else {
			h.look(e.day, e.seen)
		}
	}
	return h.contents
}

// InEye returns what is, or may still be, in the eye on a day: the fillings whose
// state is not Gone.
func InEye(operations []*Operation, visits []*Visit, asOf Date) []Content {
	return slices.DeleteFunc(Fillings(operations, visits, asOf), func(c Content) bool { return c.State == Gone })
}

// mediaEvent is an operation or one look at a medium.
type mediaEvent struct {
	day       Date
	clock     Clock
	operation *Operation
	seen      MediumSeen
	rank      int // order within a day without times
}

func mediaEvents(operations []*Operation, visits []*Visit, asOf Date) []mediaEvent {
	var out []mediaEvent
	for _, o := range standing(operations) {
		if !asOf.CertainlyBefore(o.On) {
			out = append(out, mediaEvent{day: o.On, clock: o.StartedAt, operation: o, rank: 1})
		}
	}
	for _, v := range standing(visits) {
		if asOf.CertainlyBefore(v.On) {
			continue
		}
		for _, seen := range looks(v) {
			rank := 2
			if seen.State == LookNone {
				rank = 0
			}
			out = append(out, mediaEvent{day: v.On, clock: v.At, seen: seen, rank: rank})
		}
	}
	slices.SortStableFunc(out, func(a, b mediaEvent) int {
		if a.sortDay() != b.sortDay() {
			return a.sortDay() - b.sortDay()
		}
		if order := compareClock(a.clock, b.clock); order != 0 {
			return order
		}
		return a.rank - b.rank
	})
	return out
}

// sortDay is the first day a filling and the last day anything else may have
// been, so that vague dates do not take out what was put in later.
func (e mediaEvent) sortDay() int {
	const never = 1 << 30
	first, last, known := e.day.span()
	filling := e.operation != nil && fills(e.operation)
	switch {
	case filling && !known:
		return -never
	case filling:
		return first
	case !known:
		return never
	}
	return last
}

func fills(o *Operation) bool {
	return slices.ContainsFunc(o.Agents, func(a AgentUse) bool { return a.Action == AgentPlaced && mediumOf(a.Class) != "" })
}

// looks returns what a visit says about media, with the readings of a bubble and the
// complications that imply a look.
func looks(v *Visit) []MediumSeen {
	out := slices.Clone(v.MediaSeen)
	for _, b := range v.Bubble {
		said := slices.ContainsFunc(v.MediaSeen, func(seen MediumSeen) bool { return alike(seen.Medium, b.Medium) })
		if !said && (above(b.FillPercent) || above(b.MeniscusPercent)) {
			out = append(out, MediumSeen{Medium: b.Medium, State: LookPartial})
		}
	}
	for _, c := range v.Complications {
		switch c.Code {
		case CompEmulsification:
			out = append(out, MediumSeen{Medium: MediumOil, State: LookEmulsified})
		case CompOilAnterior:
			out = append(out, MediumSeen{Medium: MediumOil, State: LookAnterior})
		case CompRetainedLiquid:
			out = append(out, MediumSeen{Medium: MediumHeavyLiquid, State: LookDroplets})
		}
	}
	return out
}

// above reports a share that was read and is not nothing.
func above(percent *float64) bool { return percent != nil && *percent > 0 }

// mediumOf returns the medium an agent makes, or nothing.
func mediumOf(class AgentClass) Medium {
	switch class {
	case AgentGas:
		return MediumGas
	case AgentAir:
		return MediumAir
	case AgentOil:
		return MediumOil
	case AgentHeavyOil:
		return MediumHeavyOil
	case AgentHeavyLiquid:
		return MediumHeavyLiquid
	}
	return ""
}

// alike reports media that a look cannot tell apart: gas and air, the two oils.
func alike(a, b Medium) bool {
	group := func(m Medium) Medium {
		switch m {
		case MediumAir:
			return MediumGas
		case MediumHeavyOil:
			return MediumOil
		}
		return m
	}
	return group(a) == group(b)
}

type history struct {
	contents []Content
	used     []Content // put in and taken out in one operation: where remains may come from
}

// operate applies one operation. Removals count before fillings, because that is
// how an exchange goes, unless the times tell otherwise; a heavy liquid is listed
// in the order of its use.
func (h *history) operate(o *Operation) {
	agents := slices.Clone(o.Agents)
	slices.SortStableFunc(agents, func(a, b AgentUse) int {
		if a.ElapsedS != nil && b.ElapsedS != nil {
			switch {
			case *a.ElapsedS < *b.ElapsedS:
				return -1
			case *a.ElapsedS > *b.ElapsedS:
				return 1
			}
			return 0
		}
		return removalRank(a) - removalRank(b)
	})
	for _, a := range agents {
		medium := mediumOf(a.Class)
		if medium == "" {
			continue
		}
		switch a.Action {
		case AgentPlaced:
			h.fill(o, a, medium)
		case AgentUsed:
			c := contentOf(o, a, medium)
			if a.SeenEmpty == No {
				c.State = Residue
				c.Notes = append(c.Notes, "not seen empty at the end of the operation")
				h.contents = append(h.contents, c)
				continue
			}
			h.used = append(h.used, c)
		case AgentRemoved, AgentPartlyRemoved:
			h.remove(o, a, medium)
		}
	}
}

func removalRank(a AgentUse) int {
	removal := a.Action == AgentRemoved || a.Action == AgentPartlyRemoved
	switch {
	case a.Class == AgentHeavyLiquid:
		return 1
	case removal:
		return 0
	}
	return 2
}

func contentOf(o *Operation, a AgentUse, medium Medium) Content {
	c := Content{Medium: medium, State: Filled, Since: o.On, OperationID: o.ID, Gas: a.Gas, Percent: a.Percent, AmountML: a.AmountML}
	if a.Lot != "" || a.BatchID != "" || a.Product != "" {
		c.Labels = []Label{{a.Class, a.Product, a.BatchID, a.Lot, a.Expiry}}
	}
	if !o.On.Known() {
		c.Notes = append(c.Notes, "the day of filling is not known")
	}
	return c
}

// fill enters a filling. The same medium twice in one operation is one filling.
func (h *history) fill(o *Operation, a AgentUse, medium Medium) {
	c := contentOf(o, a, medium)
	for i := range h.contents {
		old := &h.contents[i]
		switch {
		case old.State == Gone || !alike(old.Medium, medium):
		case old.OperationID == o.ID && old.Medium == medium && old.State == Filled:
			old.Labels = append(old.Labels, c.Labels...)
			if old.AmountML != nil && c.AmountML != nil {
				sum := *old.AmountML + *c.AmountML
				old.AmountML = &sum
			}
			return
		case alike(medium, MediumGas):
			old.State, old.RemovedOn = Gone, o.On
			old.Notes = append(old.Notes, "replaced by a new filling")
		}
	}
	h.contents = append(h.contents, c)
}

// remove takes out what is alike. Where a day is not known the order cannot be
// told, and the filling is not closed.
func (h *history) remove(o *Operation, a AgentUse, medium Medium) {
	for i := range h.contents {
		c := &h.contents[i]
		if c.State == Gone || !alike(c.Medium, medium) {
			continue
		}
		if !o.On.Known() || !c.Since.Known() && c.OperationID != "" {
			c.State = ContentUnclear
			c.Notes = append(c.Notes, "a removal is recorded, but a day is missing: which came first?")
			continue
		}
		c.RemovedOn = o.On
		switch {
		case a.Action == AgentPartlyRemoved:
			c.State = Residue
			c.Notes = append(c.Notes, "removed in part")
		case a.SeenEmpty == No:
			c.State = Residue
			c.Notes = append(c.Notes, "removed, but not seen empty")
		default:
			c.State = Gone
		}
	}
}

// look applies what was seen at a visit.
func (h *history) look(day Date, seen MediumSeen) {
	if seen.State == "" || mediumIsNone(seen.Medium) {
		return
	}
	found := false
	for i := range h.contents {
		c := &h.contents[i]
		if !alike(c.Medium, seen.Medium) || c.State == Gone && seen.State == LookNone {
			continue
		}
		if c.State == Gone && h.laterOpen(i, seen.Medium) {
			continue // a later filling explains what is seen
		}
		found = true
		c.LastSeen, c.LastLook = day, seen.State
		switch {
		case seen.State == LookNone && !day.Known():
			c.State = ContentUnclear
			c.Notes = append(c.Notes, "seen empty on a day that is not known")
		case seen.State == LookNone:
			c.State, c.RemovedOn = Gone, day
		case c.State == Gone:
			c.State = Residue
			c.Notes = append(c.Notes, fmt.Sprintf("%s seen %s after it was taken for gone", seen.State, day))
		}
	}
	if !found && seen.State != LookNone {
		h.contents = append(h.contents, h.unexplained(day, seen))
	}
}

func mediumIsNone(m Medium) bool { return m == "" || m == MediumFluid }

// laterOpen reports a filling after i, alike, that counts for more than the gone
// one at i: an open one, or a later gone one.
func (h *history) laterOpen(i int, medium Medium) bool {
	for j := range h.contents {
		if j != i && alike(h.contents[j].Medium, medium) && (h.contents[j].State != Gone || j > i) {
			return true
		}
	}
	return false
}

// unexplained makes a content of something seen that no filling explains: from the
// last operation that used such an agent, or from elsewhere.
func (h *history) unexplained(day Date, seen MediumSeen) Content {
	for i := len(h.used) - 1; i >= 0; i-- {
		if alike(h.used[i].Medium, seen.Medium) {
			c := h.used[i]
			c.State, c.LastSeen, c.LastLook = Residue, day, seen.State
			c.Notes = append(slices.Clone(c.Notes), fmt.Sprintf("%s seen %s after the operation that used it", seen.State, day))
			return c
		}
	}
	state := Filled
	switch seen.State {
	case LookDroplets, LookEmulsified, LookSubretinal, LookAnterior:
		state = Residue
	}
	return Content{
		Medium: seen.Medium, State: state, LastSeen: day, LastLook: seen.State,
		Notes: []string{"no operation here put it in: since when, and which lot?"},
	}
}

// LotUse is one use of a lot in an eye.
type LotUse struct {
	PatientID, EyeID, OperationID ID
	On                            Date
	Use                           AgentUse
}

// UsesOfLot finds every use of a lot: by batch, or by the number on the label
// without regard to case and spaces. At least one of the two must be given.
// Struck operations do not count. Order as given.
func UsesOfLot(operations []*Operation, batch ID, lot string) []LotUse {
	var out []LotUse
	for _, o := range operations {
		if o == nil || o.Struck() {
			continue
		}
		for _, a := range o.Agents {
			if batch != "" && a.BatchID == batch || lot != "" && plainNumber(a.Lot) == plainNumber(lot) {
				out = append(out, LotUse{o.PatientID, o.EyeID, o.ID, o.On, a})
			}
		}
	}
	return out
}
