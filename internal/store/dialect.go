package store

import (
	"context"
	"database/sql"
	"errors"
	"net"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"limitans/fault"
)

// Dialect names the database engine.
type Dialect string

// The two engines.
const (
	SQLite     Dialect = "sqlite"
	PostgreSQL Dialect = "postgres"
)

// ErrDiskFull is in the chain of every error that came from a full disk or a
// database that may not grow. The state before the change stands.
var ErrDiskFull = errors.New("no space left for the database")

// Rewrite turns the placeholders ? of a query into what the engine wants: $1,
// $2, … for PostgreSQL. Question marks in quotes and in comments stay.
func (d Dialect) Rewrite(query string) string {
	if d != PostgreSQL || !strings.Contains(query, "?") {
		return query
	}
	var b strings.Builder
	b.Grow(len(query) + 16)
	for n := 0; query != ""; {
		length := 1
		switch {
		case query[0] == '?':
			n++
			b.WriteString("$" + strconv.Itoa(n))
			query = query[1:]
			continue
		case query[0] == '\'' || query[0] == '"':
			// A doubled quote inside reads as the end and a new beginning, which is as good.
			length = through(query, 1, query[:1])
		case strings.HasPrefix(query, "--"):
			length = through(query, 2, "\n")
		case strings.HasPrefix(query, "/*"):
			length = through(query, 2, "*/")
		}
		b.WriteString(query[:length])
		query = query[length:]
	}
	return b.String()
}

// through is the length of text up to and with the first end after from bytes.
func through(text string, from int, end string) int {
	if at := strings.Index(text[from:], end); at >= 0 {
		return from + at + len(end)
	}
	return len(text)
}

// codes of one kind of failure, as the two engines number them.
type codes struct {
	sqlite   []int    // result codes; a primary code stands for its extended ones
	postgres []string // SQLSTATE
}

// The failures that the program tells apart. SQLite: sqlite.org/rescode.html;
// PostgreSQL: appendix A of its manual (class 53: insufficient resources).
var (
	codesFull      = codes{[]int{sqlite3.SQLITE_FULL}, []string{"53100"}}
	codesBusy      = codes{[]int{sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}, []string{"40001", "40P01", "55P03"}}
	codesDamaged   = codes{[]int{sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}, []string{"XX001", "XX002"}}
	codesReadOnly  = codes{[]int{sqlite3.SQLITE_READONLY}, []string{"25006"}}
	codesDuplicate = codes{[]int{sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY, sqlite3.SQLITE_CONSTRAINT_UNIQUE}, []string{"23505"}}
	codesReference = codes{[]int{sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY}, []string{"23503"}}
)

// in says whether err came from the engine with one of these codes.
func (c codes) in(err error) bool {
	var lite *sqlite.Error
	if errors.As(err, &lite) {
		for _, code := range c.sqlite {
			if lite.Code() == code || (code <= 0xff && lite.Code()&0xff == code) {
				return true
			}
		}
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		for _, code := range c.postgres {
			if pg.Code == code {
				return true
			}
		}
	}
	return false
}

// IsDuplicate reports whether err says that a row with this key, or with this
// value of a unique column, is there already.
func IsDuplicate(err error) bool { return codesDuplicate.in(err) }

// IsMissingReference reports whether err says that a row points at one that is
// not there.
func IsMissingReference(err error) bool { return codesReference.in(err) }

// explain turns an engine's error into a fault that says which database. A
// fault and the end of the caller's patience pass as they are.
func explain(where string, err error) error {
	var known *fault.Error
	switch {
	case err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, new(*pgconn.ConnectError)):
		return unreached(where, err)
	case codesFull.in(err):
		return &fault.Error{
			Code: fault.NoSpace, Where: where, What: "no space left on its disk; nothing of this change was kept and what was there before stands",
			Mend: "make room on that disk and try again", Cause: errors.Join(ErrDiskFull, err),
		}
	case codesBusy.in(err):
		return &fault.Error{
			Code: fault.Conflict, Where: where, What: "somebody else was writing at the same moment; nothing of this change was kept",
			Mend: "try again", Cause: err,
		}
	case codesDamaged.in(err):
		return &fault.Error{
			Code: fault.Malformed, Where: where, What: "the database is damaged or is none",
			Mend: "stop the program, keep a copy of the file and restore the last backup", Cause: err,
		}
	case codesReadOnly.in(err):
		return &fault.Error{
			Code: fault.Invalid, Where: where, What: "the database may not be written here",
			Mend: "check the rights of the file and its folder", Cause: err,
		}
	case codesReference.in(err):
		return &fault.Error{
			Code: fault.Invalid, Where: where, What: "it belongs to something that is not in the record",
			Mend: "store the patient and the eye first", Cause: err,
		}
	case errors.Is(err, sql.ErrNoRows):
		return &fault.Error{Code: fault.NotFound, Where: where, What: "there is no such entry", Cause: err}
	}
	return &fault.Error{Code: fault.Internal, Where: where, What: "the database failed: " + err.Error(), Cause: err}
}

// unreached words why no connection came about. The driver lists every way it
// tried, with and without encryption and for each address of a name; the last
// one says enough. Codes: PostgreSQL, appendix A of its manual.
func unreached(where string, err error) error {
	f := &fault.Error{
		Code: fault.NotFound, Where: where, What: "the database cannot be reached",
		Mend: "see that its server runs and that address and port are right", Cause: err,
	}
	var pg *pgconn.PgError
	var name *net.DNSError
	var dial *net.OpError
	switch {
	case errors.As(err, &pg):
		f.What = "the database lets nobody in: " + pg.Message
		f.Mend = "see that database, user and password are right and that the server has begun its work"
	case errors.As(err, &name):
		f.What += ": " + name.Err
	case errors.As(err, &dial):
		f.What += ": " + innermost(dial).Error()
	}
	return f
}

// innermost is the reason at the bottom of a chain, such as "connection refused".
func innermost(err error) error {
	for next := errors.Unwrap(err); next != nil; next = errors.Unwrap(err) {
		err = next
	}
	return err
}
