package account

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// Mode is what kind of store this is. It is written into the database once and
// never changes: a demonstration store has no passphrases and can never be
// opened as a real one, nor a real one as a demonstration.
type Mode struct {
	Demo bool
}

func (m Mode) word() string {
	if m.Demo {
		return "demo"
	}
	return "real"
}

// Notice is the sentence that every page of a demonstration store shows; it is
// empty for a real store.
func (m Mode) Notice() string {
	if m.Demo {
		return "Demonstration with invented people: there are no passphrases, and anyone who reaches this address may do everything."
	}
	return ""
}

// Config is what a Gate is made with. The zero value of every field but Mode
// has the default that stands beside it.
type Config struct {
	Mode Mode

	Now    func() time.Time // time.Now
	Random io.Reader        // crypto/rand.Reader

	Cost          HashCost // DefaultHashCost
	HashesAtATime int      // 2

	// SealingKey, 32 bytes, encrypts the secrets of second factors. It must not
	// be kept in the database. Without it they are stored as they are.
	SealingKey []byte

	// Unit is the name of the unit, shown by authenticator programs beside the
	// code and not accepted as part of a passphrase: "limitans".
	Unit string
}

// Gate lets people in: log-in, accounts, second factor. It is safe for
// concurrent use, also by several processes on one database.
type Gate struct {
	store  *store.Store
	mode   Mode
	now    func() time.Time
	random io.Reader
	hasher *hasher
	sealer sealer
	unit   string
}

// Open makes the gate of a store. A database that does not yet say what kind
// of store it is becomes one of config's mode, unless it already holds people and
// the mode is Demo. It fails with fault.Conflict where the database says
// otherwise than config.
func Open(ctx context.Context, s *store.Store, config Config) (*Gate, error) {
	g := &Gate{store: s, mode: config.Mode, now: config.Now, random: config.Random, unit: config.Unit}
	if g.now == nil {
		g.now = time.Now
	}
	if g.random == nil {
		g.random = rand.Reader
	}
	if g.unit == "" {
		g.unit = "limitans"
	}
	if config.Cost == (HashCost{}) {
		config.Cost = DefaultHashCost()
	}
	if config.HashesAtATime < 1 {
		config.HashesAtATime = 2
	}
	var err error
	if g.hasher, err = newHasher(config.Cost, config.HashesAtATime, g.random); err != nil {
		return nil, err
	}
	if g.sealer, err = newSealer(config.SealingKey, g.random); err != nil {
		return nil, err
	}
	if err := g.declare(ctx); err != nil {
		return nil, err
	}
	return g, nil
}

// declare writes the store's mode if it has none, and compares it.
func (g *Gate) declare(ctx context.Context) error {
	return g.store.Write(ctx, Actor{Account: unknown}.record(), func(tx *store.Tx) error {
		fresh, err := exec(ctx, tx, `insert into account_state (singleton, mode, declared_at, events, event_hash) values (1, ?, ?, 0, '')
			on conflict (singleton) do nothing`, g.mode.word(), g.millis())
		if err != nil {
			return fmt.Errorf("declaring the store's mode: %w", err)
		}
		if err := g.neverDemoOverPatients(ctx, tx, fresh); err != nil {
			return err
		}
		var mode string
		if err := tx.QueryRow(ctx, `select mode from account_state where singleton = 1`).Scan(&mode); err != nil {
			return fmt.Errorf("reading the store's mode: %w", err)
		}
		if mode != g.mode.word() {
			return &fault.Error{
				Code: fault.Conflict, Where: "store", What: "it is a " + mode + " store and cannot be opened as a " + g.mode.word() + " one",
				Mend: "give each its own data folder or database", Cause: ErrMode,
			}
		}
		return nil
	})
}

// neverDemoOverPatients refuses to make a demonstration of a database that says
// nothing about its kind and already holds people.
func (g *Gate) neverDemoOverPatients(ctx context.Context, tx *store.Tx, fresh int64) error {
	if fresh == 0 || !g.mode.Demo {
		return nil
	}
	var people int64
	if err := tx.QueryRow(ctx, `select count(*) from (select 1 from person limit 1) as anyone`).Scan(&people); err != nil {
		return fmt.Errorf("looking for people in the record: %w", err)
	}
	if people == 0 {
		return nil
	}
	return &fault.Error{
		Code: fault.Conflict, Where: "store", What: "it holds people and does not say that it is a demonstration",
		Mend: "use an empty data folder or database for the demonstration", Cause: ErrMode,
	}
}

// Recorded reads what kind of store a database says it is, and changes nothing.
// declared is false when no gate was ever opened on it.
func Recorded(ctx context.Context, s *store.Store) (mode Mode, declared bool, err error) {
	var word string
	err = s.Reader().QueryRow(ctx, `select mode from account_state where singleton = 1`).Scan(&word)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return Mode{}, false, nil
	case err != nil:
		return Mode{}, false, fmt.Errorf("reading the store's mode: %w", err)
	}
	return Mode{Demo: word == Mode{Demo: true}.word()}, true, nil
}

// Mode tells what kind of store this is.
func (g *Gate) Mode() Mode { return g.mode }

// needs refuses what belongs to the other kind of store.
func (g *Gate) needs(demo bool) error {
	if g.mode.Demo == demo {
		return nil
	}
	what := "a demonstration store has no passphrases"
	if demo {
		what = "a real store lets nobody in without a passphrase"
	}
	return &fault.Error{Code: fault.Invalid, Where: "log-in", What: what, Cause: ErrMode}
}

// change runs f in one transaction in which no other change of accounts can
// happen, on this or another process.
func (g *Gate) change(ctx context.Context, by Actor, f func(tx *store.Tx) error) error {
	return g.store.Write(ctx, by.record(), func(tx *store.Tx) error {
		// The row's lock is the turn. Without it two administrators could take
		// each other's role away at the same moment under PostgreSQL.
		if _, err := exec(ctx, tx, `update account_state set events = events where singleton = 1`); err != nil {
			return fmt.Errorf("waiting for the turn to change accounts: %w", err)
		}
		return f(tx)
	})
}

func (g *Gate) millis() int64 { return g.now().UnixMilli() }

// executor runs a statement: a transaction, or the store's writing
// connections.
type executor interface {
	Exec(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// exec runs a statement and counts the rows that it touched.
func exec(ctx context.Context, on executor, query string, args ...any) (int64, error) {
	result, err := on.Exec(ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return result.RowsAffected()
}

// fill fills b with random bytes.
func (g *Gate) fill(b []byte) error {
	if _, err := io.ReadFull(g.random, b); err != nil {
		return fmt.Errorf("random bytes: %w", err)
	}
	return nil
}

// newID is the identifier of a new account.
func (g *Gate) newID() (record.AccountID, error) {
	id, err := record.NewID(g.now(), g.random)
	return record.AccountID(id), err
}
