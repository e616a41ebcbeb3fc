package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"limitans/fault"
	"limitans/internal/store"
)

// TestEngineErrorsBecomeFaults goes by the codes of PostgreSQL's manual,
// appendix A; those of SQLite come from the engine itself in the other tests.
func TestEngineErrorsBecomeFaults(t *testing.T) {
	for _, test := range []struct {
		err  error
		code fault.Code
		full bool
	}{
		{nil, "", false},
		{&pgconn.PgError{Code: "53100", Message: "disk full"}, fault.NoSpace, true},
		{fmt.Errorf("while writing: %w", &pgconn.PgError{Code: "53100"}), fault.NoSpace, true},
		{&pgconn.PgError{Code: "40P01"}, fault.Conflict, false},
		{&pgconn.PgError{Code: "40001"}, fault.Conflict, false},
		{&pgconn.PgError{Code: "XX001"}, fault.Malformed, false},
		{&pgconn.PgError{Code: "25006"}, fault.Invalid, false},
		{&pgconn.PgError{Code: "23503"}, fault.Invalid, false},
		{&pgconn.PgError{Code: "23505"}, fault.Internal, false},
		{sql.ErrNoRows, fault.NotFound, false},
		{errors.New("something else"), fault.Internal, false},
		{&fault.Error{Code: fault.TooLarge, What: "known"}, fault.TooLarge, false},
	} {
		got := store.Explain("the database", test.err)
		if fault.CodeOf(got) != test.code || errors.Is(got, store.ErrDiskFull) != test.full || (test.err != nil && !errors.Is(got, test.err)) {
			t.Errorf("%v becomes %v", test.err, got)
		}
	}
	if got := store.Explain("x", context.Canceled); got != context.Canceled {
		t.Errorf("the end of the caller's patience becomes %v", got)
	}
}

func TestDuplicateAndMissingReferenceAreTold(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		_, err := s.Writer().Exec(background, "insert into history_head (id, entries, hash) values (?, ?, ?)", 1, 0, "")
		if !store.IsDuplicate(err) || store.IsMissingReference(err) {
			t.Errorf("a second head: %v", err)
		}
		_, err = s.Writer().Exec(background, "insert into person_now (person_id, survivor_id) values (?, ?)", "a", "b")
		if store.IsDuplicate(err) || !store.IsMissingReference(err) {
			t.Errorf("nobody is nobody: %v", err)
		}
	})
}
