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
	eye        record.ID
	patient    record.ID // empty when the eye is struck out or not there
	visits     []*record.Visit
	operations []*record.Operation
	plans      []*record.Plan
}

// dueItem is one reason why an eye is due.
type dueItem struct {
	Reason record.DueFor
	Source record.ID
	On     record.Date // not told when nobody agreed a day
	Since  record.Date
}

// mediumReason is why an eye with this in it is due. Air leaves by itself
// within days (common practice, no source) and is in the register alone.
var mediumReason = map[record.Medium]record.DueFor{
	record.MediumGas: record.DueGasCheck, record.MediumOil: record.DueOilRemoval, record.MediumHeavyOil: record.DueOilRemoval,
	record.MediumHeavyLiquid: record.DueHeavyLiquid,
}

// dueOf lists why an eye is due, from what people agreed and wrote:
//
//   - whatever is in it and must be seen or taken out, until it is gone; due on
//     the last day agreed for that at or after the filling, without a day when
//     nobody agreed one;
//   - the day by which the last visit wanted the eye seen again, until another
//     visit;
//   - a plan that nobody signed;
//   - an operation whose record nobody signed (see [DueUnsignedOperation]).
//
// Days that medicine asks for, but nobody agreed, are not made up here.
func dueOf(in registerInput, inEye []record.Content) []dueItem {
	visits := slices.Clone(in.visits)
	slices.SortStableFunc(visits, func(a, b *record.Visit) int {
		return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID))
	})
	var items []dueItem
	has := map[record.DueFor]bool{}
	for _, content := range inEye {
		reason, is := mediumReason[content.Medium]
		if !is || has[reason] {
			continue
		}
		has[reason] = true
		item := dueItem{Reason: reason, Source: cmp.Or(content.OperationID, in.eye), Since: content.Since}
		for _, v := range visits {
			if v.DueBy.Known() && agreedFor(v.DueFor, reason) && !v.On.CertainlyBefore(content.Since) {
				item.On = v.DueBy
			}
		}
		items = append(items, item)
	}
	if len(visits) > 0 {
		last := visits[len(visits)-1]
		reason := cmp.Or(last.DueFor, record.DueReview)
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
	for _, o := range in.operations {
		if o.Signed == nil {
			items = append(items, dueItem{Reason: DueUnsignedOperation, Source: o.ID, Since: o.On})
		}
	}
	return items
}

// agreedFor reports whether a day agreed for one reason serves another: a
// removal is agreed as such, while a gas is looked at whenever the eye is seen.
func agreedFor(agreed, reason record.DueFor) bool {
	if reason == record.DueGasCheck {
		return agreed != record.DueOilRemoval && agreed != record.DueHeavyLiquid
	}
	return agreed == reason
}
