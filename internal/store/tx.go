package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"limitans/fault"
	"limitans/internal/record"
)

// Tx is one transaction that changes the record. It is used by one goroutine
// and not after the function it was given to has returned.
type Tx struct {
	store  *Store
	sql    *sql.Tx
	at     time.Time
	actor  record.Actor
	locked bool
	opened []record.ID // contests that this transaction opened
	end    *Head       // of the history, as this transaction has moved it
	broken error       // what left a noun half written: no commit any more

	eyes  map[record.ID]*record.Eye // read for checks
	lives map[record.ID]life        // by patient

	prepared   map[string]*sql.Stmt // with SQLite, by query
	dueEyes    map[record.ID]bool   // eyes whose registers must be made anew
	mergesMove bool                 // who is read as whom must be found anew
}

// Write runs change in one transaction and commits it. When change returns an
// error, nothing of it stands and Write returns that error.
//
// One case is different: when a [Tx.Put] inside came too late, Write commits,
// so that both versions are kept, and returns a fault with the code Conflict
// that wraps a [*Contested].
//
// change must not use [Store.Writer] or Write itself: with the embedded
// database it would wait for its own end.
//
// Errors: Invalid when the actor has no account; those of the engine, as faults
// that name the database (see [ErrDiskFull]); those of change.
func (s *Store) Write(ctx context.Context, actor record.Actor, change func(*Tx) error) error {
	if actor.AccountID == "" {
		return &fault.Error{Code: fault.Invalid, Where: "record", What: "nobody is named as the one who changes it", Expected: "an account"}
	}
	inner, err := s.writer.pool.BeginTx(ctx, nil)
	if err != nil {
		return explain(s.where, err)
	}
	// Microseconds are what the text of a time holds.
	tx := &Tx{store: s, sql: inner, at: s.now().UTC().Truncate(time.Microsecond), actor: actor}
	// After a commit this does nothing.
	defer func() { _ = inner.Rollback() }()
	if err := change(tx); err != nil {
		return explain(s.where, err)
	}
	if err := tx.finish(ctx); err != nil {
		return explain(s.where, err)
	}
	if err := inner.Commit(); err != nil {
		return explain(s.where, err)
	}
	if len(tx.opened) > 0 {
		return contestedFault(tx.opened)
	}
	return nil
}

// Exec runs a statement with ? as placeholder, for tables that other packages
// keep beside the record's.
func (tx *Tx) Exec(ctx context.Context, query string, args ...any) (sql.Result, error) {
	result, err := tx.sql.ExecContext(ctx, tx.store.dialect.Rewrite(query), args...)
	return result, explain(tx.store.where, err)
}

// Query runs a query with ? as placeholder.
func (tx *Tx) Query(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	rows, err := tx.sql.QueryContext(ctx, tx.store.dialect.Rewrite(query), args...)
	return rows, explain(tx.store.where, err)
}

// QueryRow runs a query with ? as placeholder for one row.
func (tx *Tx) QueryRow(ctx context.Context, query string, args ...any) *sql.Row {
	return tx.sql.QueryRowContext(ctx, tx.store.dialect.Rewrite(query), args...)
}

// exec and queryRow are for the statements of this package, of which there are
// few and which come often. SQLite prepares each one once in a transaction;
// PostgreSQL's driver keeps them by itself.
func (tx *Tx) exec(ctx context.Context, query string, args ...any) (sql.Result, error) {
	statement, err := tx.prepare(ctx, query)
	if err != nil || statement == nil {
		return tx.Exec(ctx, query, args...)
	}
	result, err := statement.ExecContext(ctx, args...)
	return result, explain(tx.store.where, err)
}

func (tx *Tx) queryRow(ctx context.Context, query string, args ...any) *sql.Row {
	statement, err := tx.prepare(ctx, query)
	if err != nil || statement == nil {
		return tx.QueryRow(ctx, query, args...)
	}
	return statement.QueryRowContext(ctx, args...)
}

func (tx *Tx) prepare(ctx context.Context, query string) (*sql.Stmt, error) {
	if tx.store.dialect != SQLite {
		return nil, nil
	}
	if statement, is := tx.prepared[query]; is {
		return statement, nil
	}
	statement, err := tx.sql.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	if tx.prepared == nil {
		tx.prepared = map[string]*sql.Stmt{}
	}
	tx.prepared[query] = statement // closed with the transaction
	return statement, nil
}

// finish writes what a transaction does once, before its commit.
func (tx *Tx) finish(ctx context.Context) error {
	if tx.broken != nil {
		return tx.broken
	}
	if err := tx.deriveMerges(ctx); err != nil {
		return err
	}
	if err := tx.deriveRegisters(ctx); err != nil {
		return err
	}
	return tx.moveHead(ctx)
}

// SQL is the engine's transaction, for libraries that take one (the job queue).
func (tx *Tx) SQL() *sql.Tx { return tx.sql }

// Dialect is the engine's name.
func (tx *Tx) Dialect() Dialect { return tx.store.dialect }

// Now is the one time of this transaction, UTC.
func (tx *Tx) Now() time.Time { return tx.at }

// Actor is who acts in this transaction.
func (tx *Tx) Actor() record.Actor { return tx.actor }

// NewID makes an identifier from the transaction's time.
func (tx *Tx) NewID() (record.ID, error) { return record.NewID(tx.at, tx.store.random) }

// lock makes this the only transaction that changes nouns until it ends. It is
// taken before the first look at a noun, so that two transactions cannot wait
// for each other. SQLite's immediate transaction is that lock already.
func (tx *Tx) lock(ctx context.Context) error {
	if tx.locked || tx.store.dialect == SQLite {
		return nil
	}
	var entries int64
	if err := tx.QueryRow(ctx, queries["lock head"]).Scan(&entries); err != nil {
		return explain(tx.store.where, err)
	}
	tx.locked = true
	return nil
}

// snapshot runs read in a transaction that sees one state and cannot write.
func (s *Store) snapshot(ctx context.Context, read func(*Tx) error) error {
	options := &sql.TxOptions{ReadOnly: true}
	if s.dialect == PostgreSQL {
		// The default there shows each query a newer state.
		options.Isolation = sql.LevelRepeatableRead
	}
	inner, err := s.reader.pool.BeginTx(ctx, options)
	if err != nil {
		return explain(s.where, err)
	}
	tx := &Tx{store: s, sql: inner}
	return explain(s.where, errors.Join(read(tx), inner.Rollback()))
}
