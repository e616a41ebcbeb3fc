package store

import (
	"context"
	"errors"
	"slices"

	"limitans/internal/record"
)

// derive keeps what is derived from a noun up to date: at once what belongs to
// a person, at the end of the transaction what needs the whole eye.
func (tx *Tx) derive(ctx context.Context, e record.Entity, before string, struck bool) error {
	switch n := e.(type) {
	case *record.Person:
		return tx.deriveSearch(ctx, n, struck)
	case *record.Merge:
		tx.mergesMove = true
	case *record.HoleFigures:
		return tx.deriveFigures(ctx, n, struck)
	case *record.Patient:
		if before == "" {
			return nil
		}
		// Whether the patient counts decides whether the eyes do.
		return tx.each(ctx, queries["eyes of patient"], []any{string(n.ID)}, func(scan func(...any) error) error {
			var id record.ID
			err := scan(&id)
			tx.touch(id)
			return err
		})
	case *record.Eye, *record.Visit, *record.Operation, *record.Plan:
		tx.touch(e.Links().EyeID)
		if before == "" {
			return nil
		}
		// A mistaken entry may move from one eye to another.
		old, err := decode(e.Kind(), before)
		if err != nil {
			return err
		}
		tx.touch(old.Links().EyeID)
	}
	return nil
}

func (tx *Tx) touch(eye record.ID) {
	if tx.dueEyes == nil {
		tx.dueEyes = map[record.ID]bool{}
	}
	tx.dueEyes[eye] = true
}

// deriveRegisters makes the registers of the touched eyes anew.
func (tx *Tx) deriveRegisters(ctx context.Context) error {
	eyes := make([]record.ID, 0, len(tx.dueEyes))
	for id := range tx.dueEyes {
		eyes = append(eyes, id)
	}
	slices.Sort(eyes) // the order of writing does not depend on a map
	for _, id := range eyes {
		if err := tx.deriveEye(ctx, id); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) deriveEye(ctx context.Context, id record.ID) error {
	for _, name := range []string{"forget due", "forget in eye"} {
		if _, err := tx.exec(ctx, queries[name], string(id)); err != nil {
			return err
		}
	}
	eye, err := tx.registerInput(ctx, id)
	if err != nil || eye.patient == "" {
		return err
	}
	inEye := record.InEye(eye.operations, eye.visits, record.Date{})
	for i, content := range inEye {
		body, err := canonical(content)
		if err != nil {
			return err
		}
		_, err = tx.exec(ctx, queries["add in eye"], string(id), int64(i), string(content.Medium), content.Since.ISO(), reference(content.OperationID), body)
		if err != nil {
			return err
		}
	}
	for _, d := range dueOf(eye, inEye) {
		on := d.On.ISO()
		if d.Reason == DueUnsignedOperation {
			on = paperDay(d.Since)
		}
		_, err := tx.exec(ctx, queries["add due"], string(id), string(d.Reason), string(d.Source), string(eye.patient), on, d.Since.ISO())
		if err != nil {
			return err
		}
	}
	return nil
}

// registerInput reads what an eye's registers follow from: its visits,
// operations and plans that are not struck out. It is without a patient where
// the eye is struck out or not there.
func (tx *Tx) registerInput(ctx context.Context, id record.ID) (in registerInput, err error) {
	in.eye = id
	rows, err := tx.Query(ctx, queries["register input"], string(id), string(id), string(id), string(id))
	if err != nil {
		return in, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var kind record.Kind
		var body string
		if err := rows.Scan(&kind, &body); err != nil {
			return in, err
		}
		noun, err := decode(kind, body)
		if err != nil {
			return in, err
		}
		switch n := noun.(type) {
		case *record.Eye:
			in.patient = n.PatientID
		case *record.Visit:
			in.visits = append(in.visits, n)
		case *record.Operation:
			in.operations = append(in.operations, n)
		case *record.Plan:
			in.plans = append(in.plans, n)
		}
	}
	return in, rows.Err()
}
