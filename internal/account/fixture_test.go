package account

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
)

const (
	herons = "four quiet herons over the weir"
	otters = "seven slow otters under a bridge"
	here   = "192.0.2.7"
)

// clock is the time of a test. It begins at the machine's time, because the
// session manager and the identity provider have the machine's clock.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) forward(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// fixture is a store with its gate.
type fixture struct {
	*testing.T
	ctx    context.Context
	store  *store.Store
	gate   *Gate
	clock  *clock
	config Config
	hashes *atomic.Int64
}

// onBoth runs a test on each database engine, on a fresh store. The race run has
// the embedded one alone, since most of its time goes into making databases; the
// full run of scripts/test has both. Tests with goroutines of their own use
// [alwaysOnBoth].
func onBoth(t *testing.T, mode Mode, test func(f *fixture)) {
	if testing.Short() {
		t.Run("sqlite", func(t *testing.T) { test(newFixture(t, mode, store.Options{Folder: t.TempDir()})) })
		return
	}
	alwaysOnBoth(t, mode, test)
}

func alwaysOnBoth(t *testing.T, mode Mode, test func(f *fixture)) {
	t.Run("sqlite", func(t *testing.T) { test(newFixture(t, mode, store.Options{Folder: t.TempDir()})) })
	t.Run("postgres", func(t *testing.T) { test(newFixture(t, mode, store.Options{Address: pgtest.Database(t)})) })
}

// storeIn is a store in a folder of the test's own.
func storeIn(t *testing.T) store.Options { return store.Options{Folder: t.TempDir()} }

func newFixture(t *testing.T, mode Mode, options store.Options) *fixture {
	t.Helper()
	f := &fixture{T: t, ctx: context.Background(), clock: &clock{at: time.Now()}, hashes: new(atomic.Int64)}
	options.Now = f.clock.now
	var err error
	if f.store, err = store.Open(f.ctx, options); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := f.store.Close(); err != nil {
			t.Error(err)
		}
	})
	f.config = Config{Mode: mode, Now: f.clock.now, Random: chance(2), Cost: cheap, SealingKey: make([]byte, 32), Unit: "Greywater"}
	f.gate = f.open(f.config)
	f.gate.hasher.done = func() { f.hashes.Add(1) }
	return f
}

func (f *fixture) open(c Config) *Gate {
	f.Helper()
	g, err := Open(f.ctx, f.store, c)
	if err != nil {
		f.Fatal(err)
	}
	return g
}

// first makes the first administrator, who is a surgeon too.
func (f *fixture) first() Account {
	f.Helper()
	a, err := f.gate.MakeFirst(f.ctx, "Maria.Holt", "Dr Maria Holt", herons, here, Surgeon)
	if err != nil {
		f.Fatal(err)
	}
	return a
}

// person makes an account and sets its passphrase with the one-time code.
func (f *fixture) person(by Account, name, passphrase string, roles ...Role) Account {
	f.Helper()
	_, code, err := f.gate.Make(f.ctx, by.Actor(here), name, "A "+name, roles)
	if err != nil {
		f.Fatal(err)
	}
	a, err := f.gate.Redeem(f.ctx, name, code.Code, passphrase, here)
	if err != nil {
		f.Fatal(err)
	}
	return a
}

func (f *fixture) logIn(name, passphrase, code string) (Account, error) {
	return f.gate.LogIn(f.ctx, Credentials{Name: name, Passphrase: passphrase, Code: code, Remote: here})
}

// must stops the test on an error.
func (f *fixture) must(err error) {
	f.Helper()
	if err != nil {
		f.Fatal(err)
	}
}

// refuses wants err to have the cause, or the code when cause is nil.
func (f *fixture) refuses(err, cause error, code fault.Code, words string) {
	f.Helper()
	if err == nil || (cause != nil && !errors.Is(err, cause)) || (code != "" && fault.CodeOf(err) != code) ||
		!strings.Contains(err.Error(), words) {
		f.Errorf("%v; want a refusal with cause %v, code %q and %q", err, cause, code, words)
	}
}

// account reads an account anew.
func (f *fixture) account(id record.AccountID) Account {
	f.Helper()
	a, err := f.gate.Account(f.ctx, id)
	f.must(err)
	return a
}

// history is what happened about an account, as "actor: what; before → after; reason".
func (f *fixture) history(id record.AccountID) []string {
	f.Helper()
	events, err := f.gate.History(f.ctx, Console("test"), id)
	f.must(err)
	var lines []string
	for _, e := range events {
		actor := string(e.By.AccountID)
		if e.By.AccountID == id {
			actor = "self"
		}
		lines = append(lines, fmt.Sprintf("%s: %s; %s → %s; %s", actor, e.What, e.Before, e.After, e.Reason))
	}
	return lines
}

// tells wants the history about an account to have a line that contains the
// words.
func (f *fixture) tells(id record.AccountID, words string) {
	f.Helper()
	lines := f.history(id)
	if !slices.ContainsFunc(lines, func(line string) bool { return strings.Contains(line, words) }) {
		f.Errorf("nothing about %q in the history:\n%s", words, strings.Join(lines, "\n"))
	}
}

// everything is all text of all tables of the database, the history included.
func (f *fixture) everything() string {
	f.Helper()
	list := `select name from sqlite_master where type = 'table' and name not like 'sqlite_%'`
	if f.store.Dialect() == store.PostgreSQL {
		list = `select table_name from information_schema.tables where table_schema = 'public'`
	}
	var tables []string
	rows, err := f.store.Reader().Query(f.ctx, list)
	f.must(err)
	for rows.Next() {
		var name string
		f.must(rows.Scan(&name))
		tables = append(tables, name)
	}
	f.must(errors.Join(rows.Err(), rows.Close()))
	if len(tables) < 6 {
		f.Fatalf("only the tables %q", tables)
	}
	var all strings.Builder
	for _, table := range tables {
		rows, err := f.store.Reader().Query(f.ctx, `select * from "`+table+`"`)
		f.must(err)
		columns, err := rows.Columns()
		f.must(err)
		for rows.Next() {
			values, targets := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				targets[i] = &values[i]
			}
			f.must(rows.Scan(targets...))
			for _, v := range values {
				if b, is := v.([]byte); is {
					v = string(b)
				}
				fmt.Fprintln(&all, v)
			}
		}
		f.must(errors.Join(rows.Err(), rows.Close()))
	}
	return all.String()
}
