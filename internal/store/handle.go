package store

import (
	"context"
	"database/sql"
)

// Handle is a pool of connections that takes queries with ? as placeholder.
// It is for packages that keep tables of their own in the same database
// (accounts, sessions, work, backups). A clinical fact changes through
// [Store.Write] only.
type Handle struct {
	pool    *sql.DB
	dialect Dialect
	where   string
}

// Dialect is the engine's name.
func (h Handle) Dialect() Dialect { return h.dialect }

// Pool is the pool itself, for libraries that want one. Queries given to it
// directly must have the engine's own placeholders.
func (h Handle) Pool() *sql.DB { return h.pool }

// Exec runs a statement. Errors are faults that name the database.
func (h Handle) Exec(ctx context.Context, query string, args ...any) (sql.Result, error) {
	result, err := h.pool.ExecContext(ctx, h.dialect.Rewrite(query), args...)
	return result, explain(h.where, err)
}

// Query runs a query. The caller closes the rows and asks them for an error.
func (h Handle) Query(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	rows, err := h.pool.QueryContext(ctx, h.dialect.Rewrite(query), args...)
	return rows, explain(h.where, err)
}

// QueryRow runs a query for one row; its error comes with Scan.
func (h Handle) QueryRow(ctx context.Context, query string, args ...any) *sql.Row {
	return h.pool.QueryRowContext(ctx, h.dialect.Rewrite(query), args...)
}

// Writer is the handle that may write. With SQLite it has one connection: who
// asks it for a second one inside a transaction waits for ever.
func (s *Store) Writer() Handle { return s.writer }

// Reader is the handle whose connections cannot write.
func (s *Store) Reader() Handle { return s.reader }
