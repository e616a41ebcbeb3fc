package store

import (
	"cmp"
	"slices"

	"limitans/internal/record"
)

// DueUnsignedPlan stands in the due list beside the reasons of package record:
// a plan that nobody has signed and no other plan replaces.
const DueUnsignedPlan record.DueFor = "unsigned_plan"

// registerInput is one eye as its registers see it: nothing struck out.
type registerInput struct {
	patient    record.ID
	visits     []*record.Visit
	operations []*record.Operation
	plans      []*record.Plan
}

// medium is something left in the eye.
type medium struct {
	OperationID record.ID
	Class       record.AgentClass
	Since       record.Date
	position    int // in the operation's list of agents
}

// dueItem is one reason why an eye is due.
type dueItem struct {
	Reason record.DueFor
	Source record.ID
	On     record.Date // not told when nobody agreed a day
	Since  record.Date
}

// mediumClass is the class of agent that a medium seen in the eye belongs to.
var mediumClass = map[record.Medium]record.AgentClass{
	record.MediumGas: record.AgentGas, record.MediumAir: record.AgentAir, record.MediumOil: record.AgentOil,
	record.MediumHeavyOil: record.AgentHeavyOil, record.MediumHeavyLiquid: record.AgentHeavyLiquid,
}

// mediumReason is why an eye with something of this class in it is due. Air
// leaves by itself within days and is in the register alone.
var mediumReason = map[record.AgentClass]record.DueFor{
	record.AgentGas: record.DueGasCheck, record.AgentOil: record.DueOilRemoval, record.AgentHeavyOil: record.DueOilRemoval,
	record.AgentHeavyLiquid: record.DueHeavyLiquid,
}

// mediaIn says what is in the eye as far as the record tells: what an operation
// placed and neither a later operation removed nor a visit on that day or later
// saw gone. What was partly removed is still in. An operation that is named a
// removal, but lists no removed agent, removes nothing: the register rather
// shows too much, so that a person looks.
func mediaIn(in registerInput) []medium {
	operations := slices.Clone(in.operations)
	slices.SortStableFunc(operations, func(a, b *record.Operation) int {
		return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.StartedAt, b.StartedAt), cmp.Compare(a.ID, b.ID))
	})
	var left []medium
	for _, o := range operations {
		for i, a := range o.Agents {
			switch a.Action {
			case record.AgentPlaced:
				if slices.Contains([]record.AgentClass{
					record.AgentGas, record.AgentAir, record.AgentOil, record.AgentHeavyOil, record.AgentHeavyLiquid,
				}, a.Class) {
					left = append(left, medium{o.ID, a.Class, o.On, i})
				}
			case record.AgentRemoved:
				left = slices.DeleteFunc(left, func(m medium) bool { return m.Class == a.Class })
			}
		}
	}
	return slices.DeleteFunc(left, func(m medium) bool {
		return slices.ContainsFunc(in.visits, func(v *record.Visit) bool {
			return v.On.Compare(m.Since) >= 0 && sawGone(v, m.Class)
		})
	})
}

// sawGone reports whether a visit saw the eye empty of a class.
func sawGone(v *record.Visit, class record.AgentClass) bool {
	for _, seen := range v.MediaSeen {
		if mediumClass[seen.Medium] == class && seen.State == record.LookNone {
			return true
		}
	}
	zero := func(v *float64) bool { return v != nil && *v == 0 }
	for _, b := range v.Bubble {
		if mediumClass[b.Medium] == class && (zero(b.FillPercent) || zero(b.MeniscusPercent)) {
			return true
		}
	}
	return false
}

// dueOf lists why an eye is due, from what people agreed and wrote:
//
//   - whatever is in it and must be seen or taken out, until it is gone; due on
//     the last day agreed for that at or after the operation, without a day when
//     nobody agreed one;
//   - the day that the last visit agreed, until another visit;
//   - a plan that nobody signed.
//
// Days that medicine asks for, but nobody agreed, are not made up here.
func dueOf(in registerInput, inEye []medium) []dueItem {
	visits := slices.Clone(in.visits)
	slices.SortStableFunc(visits, func(a, b *record.Visit) int {
		return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID))
	})
	var items []dueItem
	has := map[record.DueFor]bool{}
	for _, m := range inEye {
		reason, is := mediumReason[m.Class]
		if !is || has[reason] {
			continue
		}
		has[reason] = true
		item := dueItem{Reason: reason, Source: m.OperationID, Since: m.Since}
		for _, v := range visits {
			// A gas check is any visit that was agreed; a removal is agreed as such.
			fits := v.DueTo == reason || (reason == record.DueGasCheck && v.DueTo != record.DueOilRemoval && v.DueTo != record.DueHeavyLiquid)
			if v.DueBy.Known() && fits && v.On.Compare(m.Since) >= 0 {
				item.On = v.DueBy
			}
		}
		items = append(items, item)
	}
	if len(visits) > 0 {
		last := visits[len(visits)-1]
		reason := cmp.Or(last.DueTo, record.DueReview)
		if last.DueBy.Known() && !has[reason] {
			items = append(items, dueItem{reason, last.ID, last.DueBy, last.On})
		}
	}
	for _, p := range in.plans {
		replaced := slices.ContainsFunc(in.plans, func(other *record.Plan) bool { return other.Replaces == p.ID })
		if p.Signed == nil && !replaced {
			items = append(items, dueItem{DueUnsignedPlan, p.ID, p.MadeOn, p.MadeOn})
		}
	}
	return items
}
