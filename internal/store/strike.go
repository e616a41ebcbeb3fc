package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"limitans/fault"
	"limitans/internal/record"
)

// StrikeOut marks a noun as mistaken. It stays legible and counts for nothing.
// version is the one that was read; reason is never empty.
//
// Errors: NotFound; Conflict when the noun has moved on, for then its new
// content may not be the mistake; Invalid without a reason or when it is struck
// out already.
func (tx *Tx) StrikeOut(ctx context.Context, kind record.Kind, id record.ID, version int64, reason string) error {
	return tx.mark(ctx, kind, id, version, reason, ActionStrikeOut)
}

// Restore undoes a strike-out that was itself a mistake; both stay in the
// history. Arguments and errors are those of [Tx.StrikeOut].
func (tx *Tx) Restore(ctx context.Context, kind record.Kind, id record.ID, version int64, reason string) error {
	return tx.mark(ctx, kind, id, version, reason, ActionRestore)
}

func (tx *Tx) mark(ctx context.Context, kind record.Kind, id record.ID, version int64, reason string, action Action) error {
	where := string(kind) + " " + string(id)
	if strings.TrimSpace(reason) == "" {
		return &fault.Error{Code: fault.Invalid, Where: where, What: "no reason is given", Expected: "a reason in words"}
	}
	if err := tx.lock(ctx); err != nil {
		return err
	}
	now, there, err := tx.current(ctx, kind, id)
	switch {
	case err != nil:
		return err
	case !there:
		return notThere(kind, id)
	case now.version != version:
		return &fault.Error{
			Code: fault.Conflict, Where: where, What: fmt.Sprintf("it was changed meanwhile and is at version %d", now.version),
			Expected: fmt.Sprintf("version %d", version), Mend: "look at it again",
		}
	case now.struck == (action == ActionStrikeOut):
		return &fault.Error{Code: fault.Invalid, Where: where, What: "it is so already"}
	}
	e, err := decode(kind, now.body)
	if err != nil {
		return err
	}
	var struck *record.StrikeOut
	if action == ActionStrikeOut {
		struck = &record.StrikeOut{By: tx.actor, At: tx.at, Reason: record.FreeText(reason)}
	}
	return tx.next(ctx, e, now, action, struck, reason)
}

func notThere(kind record.Kind, id record.ID) error {
	return &fault.Error{Code: fault.NotFound, Where: string(kind) + " " + string(id), What: "there is none in this record"}
}

// decode reads a stored body into a noun of its kind.
func decode(kind record.Kind, body string) (record.Entity, error) {
	e, err := record.New(kind)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal([]byte(body), e); err != nil {
		return nil, &fault.Error{Code: fault.Malformed, Where: string(kind), What: "the stored noun cannot be read: " + err.Error(), Mend: "run the verification", Cause: err}
	}
	return e, nil
}

// Get reads a noun inside the transaction. Error: NotFound.
func (tx *Tx) Get(ctx context.Context, kind record.Kind, id record.ID) (record.Entity, error) {
	now, there, err := tx.current(ctx, kind, id)
	if err != nil {
		return nil, err
	}
	if !there {
		return nil, notThere(kind, id)
	}
	return decode(kind, now.body)
}

// Get reads a noun as it stands, struck out or not. Error: NotFound.
func (s *Store) Get(ctx context.Context, kind record.Kind, id record.ID) (e record.Entity, err error) {
	err = s.snapshot(ctx, func(tx *Tx) error {
		e, err = tx.Get(ctx, kind, id)
		return err
	})
	return e, err
}
