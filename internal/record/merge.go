package record

import (
	"fmt"
	"slices"
	"strings"

	"limitans/fault"
)

// Persons tells for every person who it is now, after all merges and undoings.
// Make one with [ResolvePersons].
type Persons struct {
	into map[ID]ID // absorbed to survivor, merges in force
}

// ResolvePersons applies merges in the order of their time (then of their ID). A
// merge that is undone does not count, and an undoing that is itself undone does
// not count either. Struck records do not count.
//
// Refused as a Conflict: two merges in force that absorb the same person into
// different ones, and merges that lead back to where they began.
func ResolvePersons(merges []*Merge) (*Persons, error) {
	all := standing(merges)
	slices.SortStableFunc(all, func(a, b *Merge) int {
		if order := a.At.Compare(b.At); order != 0 {
			return order
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	byID := map[ID]*Merge{}
	for _, m := range all {
		byID[m.ID] = m
	}
	off, err := undone(all, byID)
	if err != nil {
		return nil, err
	}
	p := &Persons{into: map[ID]ID{}}
	for _, m := range all {
		if m.Undoes != "" || off[m.ID] {
			continue
		}
		if err := p.merge(m); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (p *Persons) merge(m *Merge) error {
	conflict := func(what string) error {
		return &fault.Error{Code: fault.Conflict, Where: "merge " + string(m.ID), What: what, Mend: "undo one of the merges first"}
	}
	if m.Survivor == "" || m.Absorbed == "" || m.Survivor == m.Absorbed {
		return &fault.Error{Code: fault.Invalid, Where: "merge " + string(m.ID), What: "does not name two persons"}
	}
	if already, is := p.into[m.Absorbed]; is {
		if already == m.Survivor {
			return nil
		}
		return conflict(fmt.Sprintf("person %s was merged into %s before", m.Absorbed, already))
	}
	if p.Survivor(m.Survivor) == m.Absorbed {
		return conflict("would lead back to the person it absorbs")
	}
	p.into[m.Absorbed] = m.Survivor
	return nil
}

// undone finds the records that an undoing in force names. An undoing counts only
// when it is not undone itself. One that names nothing, or leads back to itself,
// is refused.
func undone(all []*Merge, byID map[ID]*Merge) (map[ID]bool, error) {
	by := map[ID][]*Merge{} // who undoes a record
	for _, m := range all {
		if m.Undoes == "" {
			continue
		}
		if byID[m.Undoes] == nil {
			return nil, &fault.Error{Code: fault.NotFound, Where: "merge " + string(m.ID), What: "undoes a merge that is not there"}
		}
		by[m.Undoes] = append(by[m.Undoes], m)
	}
	off := map[ID]bool{}
	const (
		open = iota + 1
		done
	)
	state := map[ID]int{}
	var settle func(id ID) error
	settle = func(id ID) error {
		switch state[id] {
		case done:
			return nil
		case open:
			return &fault.Error{Code: fault.Conflict, Where: "merge " + string(id), What: "is part of a circle of undoings"}
		}
		state[id] = open
		for _, m := range by[id] {
			if err := settle(m.ID); err != nil {
				return err
			}
			if !off[m.ID] {
				off[id] = true
			}
		}
		state[id] = done
		return nil
	}
	for _, m := range all {
		if err := settle(m.ID); err != nil {
			return nil, err
		}
	}
	return off, nil
}

// Survivor returns who a person is now: the person itself when no merge in force
// absorbed it.
func (p *Persons) Survivor(id ID) ID {
	for range len(p.into) + 1 { // merges in force hold no cycle
		next, absorbed := p.into[id]
		if !absorbed {
			break
		}
		id = next
	}
	return id
}

// Absorbed returns all persons that are now read as this survivor, in the order of
// their IDs, without the survivor itself.
func (p *Persons) Absorbed(survivor ID) []ID {
	var out []ID
	for id := range p.into {
		if id != survivor && p.Survivor(id) == survivor {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// CanMerge returns a fault when a merge could not be added: a person with itself, one
// that is absorbed already, or a circle. The two eyes of one side that a merge would
// bring together are for the caller to show, not a reason to refuse.
func (p *Persons) CanMerge(survivor, absorbed ID) error {
	trial := &Persons{into: map[ID]ID{}}
	for k, v := range p.into {
		trial.into[k] = v
	}
	return trial.merge(&Merge{Survivor: survivor, Absorbed: absorbed})
}
