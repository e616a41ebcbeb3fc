package work

import (
	"context"
	"database/sql"
	"log/slog"
	"time"

	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"

	"limitans/fault"
)

// Dialect says which of the two databases a handle belongs to.
type Dialect string

// The two databases. SQLite handles come from modernc.org/sqlite, PostgreSQL
// handles from github.com/jackc/pgx/v5/stdlib.
const (
	SQLite     Dialect = "sqlite"
	PostgreSQL Dialect = "postgres"
)

// driverFor gives River's view of a database handle.
func driverFor(db *sql.DB, dialect Dialect) (riverdriver.Driver[*sql.Tx], error) {
	if db == nil {
		return nil, &fault.Error{Code: fault.Invalid, Where: "job queue", What: "no database handle was given"}
	}
	switch dialect {
	case SQLite:
		return riversqlite.New(db), nil
	case PostgreSQL:
		return riverdatabasesql.New(db), nil
	}
	return nil, &fault.Error{
		Code: fault.Invalid, Where: "job queue", What: "database kind " + string(dialect) + " is not known",
		Expected: string(SQLite) + " or " + string(PostgreSQL),
	}
}

const (
	migrateTries = 8
	migratePause = 250 * time.Millisecond
)

// Migrate brings the tables of the job queue up to this program's version, each
// step in a transaction of its own; it does nothing where they are up to date.
// Several processes may call it at the same time: River takes no lock for it,
// so the one that comes second fails on a step that is done already and goes on
// from there when it tries again.
//
// Errors: Invalid for a handle or dialect that cannot be; Internal when the
// database refuses, with the database's words as the cause.
func Migrate(ctx context.Context, db *sql.DB, dialect Dialect) error {
	driver, err := driverFor(db, dialect)
	if err != nil {
		return err
	}
	migrator, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return broken("prepare the tables of the job queue", err)
	}
	for try := 1; ; try++ {
		_, err = migrator.Migrate(ctx, rivermigrate.DirectionUp, nil)
		if err == nil {
			return nil
		}
		if try == migrateTries || ctx.Err() != nil {
			return broken("prepare the tables of the job queue", err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(migratePause):
		}
	}
}

// broken wraps an error of the database or of River into a fault.
func broken(what string, err error) error {
	return &fault.Error{Code: fault.Internal, Where: "job queue", What: "cannot " + what + ": " + err.Error(), Cause: err}
}
