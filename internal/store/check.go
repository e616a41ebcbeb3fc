package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"limitans/fault"
	"limitans/internal/record"
)

// check holds a noun to the rules of package record and refuses it while a stop
// is unresolved. Questions and warnings are for the doors to show: they forbid
// nothing.
func (tx *Tx) check(ctx context.Context, e record.Entity, before record.Entity) error {
	around := record.Around{Today: record.DayOf(tx.at), By: tx.actor.AccountID, Before: before}
	links := e.Links()
	if links.EyeID != "" && e.Kind() != record.KindEye {
		eye, err := tx.eye(ctx, links.EyeID)
		if err != nil {
			return err
		}
		around.Eye = eye
	}
	if links.PatientID != "" && e.Kind() != record.KindPerson {
		life, err := tx.life(ctx, links.PatientID)
		if err != nil {
			return err
		}
		around.BirthDate, around.DiedOn = life.born, life.died
	}
	if len(links.BatchIDs) > 0 && e.Kind() != record.KindBatch {
		around.Batches = map[record.ID]*record.Batch{}
		for _, id := range links.BatchIDs {
			batch, err := tx.Get(ctx, record.KindBatch, id)
			if err != nil {
				return err
			}
			around.Batches[id] = batch.(*record.Batch)
		}
	}
	stops := record.Unresolved(record.Check(e, around), overridesOf(e))
	if len(stops) == 0 {
		return nil
	}
	first := stops[0]
	where := string(e.Kind())
	if first.Where != "" {
		where += ", " + first.Where
	}
	what := first.What
	if len(stops) > 1 {
		what = fmt.Sprintf("%s (and %d more)", what, len(stops)-1)
	}
	return &fault.Error{Code: fault.Invalid, Where: where, What: what, Mend: first.Mend, Cause: &Refused{Stops: stops}}
}

// Refused is in the chain of the error that [Tx.Put] returns when stops of
// package record forbid to store a noun.
type Refused struct {
	Stops []record.Finding
}

// Error names the first stop's rule.
func (r *Refused) Error() string { return string(r.Stops[0].Code) }

// overridesOf are the stops that people passed with a reason, where the noun
// keeps such.
func overridesOf(e record.Entity) []record.Override {
	switch n := e.(type) {
	case *record.Scan:
		return n.Overrides
	case *record.HoleFigures:
		return n.Overrides
	case *record.Plan:
		return n.Overrides
	case *record.Operation:
		return n.Overrides
	case *record.Visit:
		return n.Overrides
	case *record.Film:
		return n.Overrides
	}
	return nil
}

// eye reads an eye that a noun belongs to, once in a transaction.
func (tx *Tx) eye(ctx context.Context, id record.ID) (*record.Eye, error) {
	if known, is := tx.eyes[id]; is {
		return known, nil
	}
	now, there, err := tx.current(ctx, record.KindEye, id)
	if err != nil {
		return nil, err
	}
	if !there {
		return nil, &fault.Error{Code: fault.Invalid, Where: "eye " + string(id), What: "it is not in the record", Mend: "store the eye first"}
	}
	e, err := decode(record.KindEye, now.body)
	if err != nil {
		return nil, err
	}
	if tx.eyes == nil {
		tx.eyes = map[record.ID]*record.Eye{}
	}
	tx.eyes[id] = e.(*record.Eye)
	return tx.eyes[id], nil
}

// life is when somebody was born and died, not told where nobody knows.
type life struct{ born, died record.Date }

// life reads it from the patient's person, once in a transaction.
func (tx *Tx) life(ctx context.Context, patient record.ID) (life, error) {
	if known, is := tx.lives[patient]; is {
		return known, nil
	}
	var found life
	var body string
	err := tx.queryRow(ctx, queries["person of patient"], string(patient)).Scan(&body)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return found, explain(tx.store.where, err)
	default:
		e, err := decode(record.KindPerson, body)
		if err != nil {
			return found, err
		}
		person := e.(*record.Person)
		found = life{person.BirthDate, person.DiedOn}
	}
	if tx.lives == nil {
		tx.lives = map[record.ID]life{}
	}
	tx.lives[patient] = found
	return found, nil
}

// forget drops what was read for checks and may have changed.
func (tx *Tx) forget(e record.Entity) {
	switch n := e.(type) {
	case *record.Eye:
		delete(tx.eyes, n.ID)
	case *record.Person:
		clear(tx.lives) // it may have moved from one patient to another
	}
}
