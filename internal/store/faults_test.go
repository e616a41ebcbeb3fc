package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"limitans/fault"
	"limitans/internal/pgtest"
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

// A server that is not there, or lets nobody in, is one short line, however many
// ways the driver tried; the password is not in it.
func TestServerThatCannotBeReached(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	closed := listener.Addr().String() // nobody listens there once it is closed
	if err := listener.Close(); err != nil {
		t.Fatal(err)
	}
	_, port, err := net.SplitHostPort(closed)
	if err != nil {
		t.Fatal(err)
	}
	there, err := url.Parse(pgtest.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	change := func(f func(u *url.URL)) string {
		u := *there
		f(&u)
		return u.String()
	}
	const secret = "notthepassword"
	for name, test := range map[string]struct{ address, want string }{
		"port":           {"postgres://someone:" + secret + "@" + closed + "/record", "the database cannot be reached: connection refused"},
		"port of a name": {"postgres://someone:" + secret + "@localhost:" + port + "/record?sslmode=prefer", "the database cannot be reached: connection refused"},
		"name":           {"postgres://someone:" + secret + "@no-such-host.invalid/record", "the database cannot be reached: "},
		"password":       {change(func(u *url.URL) { u.User = url.UserPassword(u.User.Username(), secret) }), "the database lets nobody in: password authentication failed"},
		"database":       {change(func(u *url.URL) { u.Path = "/no_such_record" }), `the database lets nobody in: database "no_such_record" does not exist`},
	} {
		s, err := store.Open(background, store.Options{Address: test.address})
		if err == nil {
			t.Errorf("%s: it was opened (%v)", name, s.Close())
			continue
		}
		text := err.Error()
		if fault.CodeOf(err) != fault.NotFound || !strings.Contains(text, test.want) || strings.Contains(text, "\n") || strings.Contains(text, secret) ||
			strings.Count(text, "reached") > 1 || strings.Count(text, "connect") > 1 || len(text) > 250 {
			t.Errorf("%s: %s (%s)", name, text, fault.CodeOf(err))
		}
	}
}
