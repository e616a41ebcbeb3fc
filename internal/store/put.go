package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"limitans/fault"
	"limitans/internal/record"
)

// Outcome tells what became of a [Tx.Put].
type Outcome struct {
	// Version is the noun's version after it.
	Version int64
	// Contest names the contest that was opened because the noun had moved on;
	// empty when the change stands.
	Contest record.ID
}

// current is a noun as it stands in its table.
type current struct {
	version int64
	struck  bool
	body    string
}

// Put stores a noun. Its version says what the change was made from: 0 for a
// new noun, otherwise the version that was read. The noun itself is not
// changed; the new version is in the outcome. Content that stands already
// changes nothing. reason may be empty where nobody is asked for one.
//
// When the noun has moved on meanwhile, both versions are kept as a contest,
// and [Store.Write] tells so after its commit.
//
// Errors: Malformed for an identifier or text that cannot be stored; NotFound
// for a version of a noun that is not there; Invalid for a noun that is struck
// out, that points at nothing, or that the rules of package record stop (see
// [Refused]): an eye of another patient, a side that disagrees, a change of what
// was signed, and so on. What the noun's overrides pass with a reason is stored.
func (tx *Tx) Put(ctx context.Context, e record.Entity, reason string) (Outcome, error) {
	base := *e.Identity()
	if err := base.ID.Check(); err != nil {
		return Outcome{}, err
	}
	if err := tx.lock(ctx); err != nil {
		return Outcome{}, err
	}
	now, there, err := tx.current(ctx, e.Kind(), base.ID)
	if err != nil {
		return Outcome{}, err
	}
	where := string(e.Kind()) + " " + string(base.ID)
	switch {
	case !there && base.Version != 0:
		return Outcome{}, &fault.Error{Code: fault.NotFound, Where: where, What: "there is none to change in this record"}
	case base.StruckOut != nil && !now.struck:
		return Outcome{}, &fault.Error{Code: fault.Invalid, Where: where, What: "it cannot be stored as struck out", Mend: "strike it out with a reason"}
	case there && base.Version > now.version:
		return Outcome{}, &fault.Error{
			Code: fault.Invalid, Where: where, What: fmt.Sprintf("version %d is not in this record yet", base.Version),
			Expected: fmt.Sprintf("at most %d", now.version),
		}
	}
	if there {
		same, err := canonicalNoun(e, now.version, nil)
		if err != nil {
			return Outcome{}, err
		}
		if same == now.body {
			return Outcome{Version: now.version}, nil
		}
	}
	if there && base.Version < now.version {
		contest, err := tx.contest(ctx, e, now, reason)
		return Outcome{Version: now.version, Contest: contest}, err
	}
	if err := tx.mayChange(ctx, e, now, there); err != nil {
		return Outcome{}, err
	}
	action := ActionChange
	if !there {
		action = ActionCreate
	}
	err = tx.next(ctx, e, now, action, nil, reason)
	return Outcome{Version: now.version + 1}, err
}

// mayChange refuses to change what is struck out, and what the rules of package
// record forbid.
func (tx *Tx) mayChange(ctx context.Context, e record.Entity, now current, there bool) error {
	if now.struck {
		return &fault.Error{
			Code: fault.Invalid, Where: string(e.Kind()) + " " + string(e.Identity().ID),
			What: "it is struck out and cannot change", Mend: "restore it first, with a reason, or enter a new one",
		}
	}
	if !there {
		return tx.check(ctx, e, nil)
	}
	before, err := decode(e.Kind(), now.body)
	if err != nil {
		return err
	}
	if err := tx.sameEye(ctx, before, e); err != nil {
		return err
	}
	return tx.check(ctx, e, before)
}

// sameEye refuses to turn an eye on which something hangs into the other eye or
// into another patient's: whatever names it would silently move along.
func (tx *Tx) sameEye(ctx context.Context, before, now record.Entity) error {
	was, is := before.(*record.Eye)
	will, too := now.(*record.Eye)
	if !is || !too || (was.PatientID == will.PatientID && was.Side == will.Side) {
		return nil
	}
	args := make([]any, 8)
	for i := range args {
		args[i] = string(was.ID)
	}
	var used int64
	if err := tx.queryRow(ctx, queries["eye is used"], args...).Scan(&used); err != nil {
		return explain(tx.store.where, err)
	}
	if used != 0 {
		return &fault.Error{
			Code: fault.Invalid, Where: "eye " + string(was.ID), What: "something hangs on it, so its side and patient cannot change",
			Mend: "strike out what is mistaken with a reason and enter it on the right eye",
		}
	}
	return nil
}

// current reads a noun's row; there is false when there is none.
func (tx *Tx) current(ctx context.Context, kind record.Kind, id record.ID) (now current, there bool, err error) {
	t, known := nounTables[kind]
	if !known {
		return now, false, &fault.Error{Code: fault.Unsupported, Where: "record", What: fmt.Sprintf("the store has no table for the kind %q", kind)}
	}
	var struck int64
	err = tx.queryRow(ctx, "select version, struck, body from "+t.name+" where id = ?", string(id)).Scan(&now.version, &struck, &now.body)
	if errors.Is(err, sql.ErrNoRows) {
		return now, false, nil
	}
	now.struck = struck != 0
	return now, err == nil, explain(tx.store.where, err)
}

// canonicalNoun is the noun's canonical JSON with the version and the mark of
// being struck out that the store gives it.
func canonicalNoun(e record.Entity, version int64, struck *record.StrikeOut) (string, error) {
	return canonicalWith(e, func(tree map[string]any) {
		tree["version"] = version
		delete(tree, "struck_out")
		if struck != nil {
			tree["struck_out"] = struck
		}
	})
}

// next writes one noun's next version: its row, its lists, what is derived from
// it, and the entry in the history. When that fails half-way the transaction
// cannot be committed any more, whatever the caller makes of the error.
func (tx *Tx) next(ctx context.Context, e record.Entity, now current, action Action, struck *record.StrikeOut, reason string) error {
	p, err := project(e)
	if err != nil {
		return err
	}
	version := now.version + 1
	body, err := canonicalNoun(e, version, struck)
	if err != nil {
		return err
	}
	tx.forget(e)
	return tx.broke(firstOf(
		func() error { return tx.writeRow(ctx, e, p, version, struck != nil, body) },
		func() error { return tx.writeLists(ctx, e, p, now.version > 0) },
		func() error { return tx.derive(ctx, e, now.body, struck != nil) },
		func() error {
			return tx.append(ctx, Entry{
				Action: action, Kind: e.Kind(), Entity: e.Identity().ID, Version: version,
				Before: now.body, After: body, Reason: reason,
			})
		},
	))
}

// firstOf does one thing after the other up to the first error.
func firstOf(things ...func() error) error {
	for _, do := range things {
		if err := do(); err != nil {
			return err
		}
	}
	return nil
}

// broke keeps an error that leaves a noun half written.
func (tx *Tx) broke(err error) error {
	if err != nil && tx.broken == nil {
		tx.broken = err
	}
	return err
}

// writeRow inserts or updates the noun's own row.
func (tx *Tx) writeRow(ctx context.Context, e record.Entity, p projection, version int64, struck bool, body string) error {
	t := nounTables[e.Kind()]
	id := string(e.Identity().ID)
	args := []any{version, flag(struck), body}
	args = append(args, p.values...)
	if version > 1 {
		query := "update " + t.name + " set version = ?, struck = ?, body = ?, " + strings.Join(t.columns, " = ?, ") + " = ? where id = ?"
		_, err := tx.exec(ctx, query, append(args, id)...)
		return err
	}
	columns := "version, struck, body, " + strings.Join(t.columns, ", ") + ", id"
	args = append(args, id)
	if e.Kind() == record.KindPerson {
		next, err := tx.nextPersonNumber(ctx)
		if err != nil {
			return err
		}
		columns, args = columns+", number", append(args, next)
	}
	_, err := tx.exec(ctx, "insert into "+t.name+" ("+columns+") values ("+places(len(args))+")", args...)
	return err
}

// nextPersonNumber counts on from the last person; the lock makes that safe.
func (tx *Tx) nextPersonNumber(ctx context.Context) (int64, error) {
	var n int64
	err := tx.queryRow(ctx, queries["next person number"]).Scan(&n)
	return n, explain(tx.store.where, err)
}

// places is n placeholders.
func places(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }

// writeLists writes the rows of the noun's lists in place of those of the
// version before. They repeat the noun's body, which the history keeps.
func (tx *Tx) writeLists(ctx context.Context, e record.Entity, p projection, before bool) error {
	id := string(e.Identity().ID)
	if before {
		for _, t := range listTables[e.Kind()] {
			if _, err := tx.exec(ctx, "delete from "+t.name+" where "+t.columns[0]+" = ?", id); err != nil {
				return err
			}
		}
		if _, err := tx.exec(ctx, queries["forget file references"], string(e.Kind()), id); err != nil {
			return err
		}
	}
	for _, t := range append([]table{fileTable}, listTables[e.Kind()]...) {
		query := "insert into " + t.name + " (" + strings.Join(t.columns, ", ") + ") values (" + places(len(t.columns)) + ")"
		for _, row := range p.lists[t.name] {
			if _, err := tx.exec(ctx, query, row...); err != nil {
				return err
			}
		}
	}
	return nil
}
