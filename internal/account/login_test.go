package account

import (
	"errors"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/pgtest"
	"limitans/internal/store"
)

func TestLogIn(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		a, err := f.logIn("MARIA.holt", herons, "")
		f.must(err)
		if a.ID != boss.ID || !a.Allows(SignPlan) {
			f.Errorf("logged in as %+v", a)
		}
		f.tells(boss.ID, "self: logged in")
		// One refusal and one hash for everything that is wrong: neither words nor
		// work tell whether the name exists.
		var words []string
		for _, try := range []Credentials{
			{Name: "maria.holt", Passphrase: otters},
			{Name: "nobody", Passphrase: herons},
			{Name: "with space", Passphrase: herons},
			{Name: "", Passphrase: herons},
			{Name: "maria.holt", Passphrase: ""},
			{Name: "nobody", Passphrase: "\x00"},
			{Name: "maria.holt", Passphrase: strings.Repeat("x", 5000)},
			{Name: strings.Repeat("x", 5000), Passphrase: herons},
			{Name: herons, Passphrase: "maria.holt"}, // in the wrong field
		} {
			try.Remote = "198.51.100." + strconv.Itoa(len(words))
			before := f.hashes.Load()
			_, err := f.gate.LogIn(f.ctx, try)
			f.refuses(err, ErrRefused, fault.Invalid, "not right")
			if f.hashes.Load()-before != 1 {
				f.Errorf("%.20q: %d hashes, want 1", try.Name, f.hashes.Load()-before)
			}
			words = append(words, err.Error())
			if err.Error() != words[0] {
				f.Errorf("%.20q: another refusal: %v", try.Name, err)
			}
		}
		f.tells(boss.ID, "unknown: log-in failed;  → ; wrong passphrase")
		f.tells(unknown, "log-in failed;  → ; unknown name")
		if all := f.everything(); strings.Contains(all, herons) || strings.Contains(all, otters) {
			f.Error("a typed passphrase is in the database")
		}
	})
}

func TestFailuresBlockAndAreForgotten(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		for range 5 {
			_, err := f.logIn("maria.holt", otters, "")
			f.refuses(err, ErrRefused, "", "not right")
		}
		f.tells(boss.ID, "failure 5 for this name, blocked until "+f.clock.now().Add(30*time.Second).UTC().Format(time.RFC3339))
		// The right passphrase is not even looked at, and the store keeps the block
		// when the program starts again.
		f.gate = f.open(f.config)
		before := f.hashes.Load()
		_, err := f.logIn("maria.holt", herons, "")
		f.refuses(err, ErrBlocked, fault.Invalid, "try again in 30s")
		until, is := BlockedUntil(err)
		if !is || until.UnixMilli() != f.clock.now().Add(30*time.Second).UnixMilli() || f.hashes.Load() != before {
			f.Errorf("blocked until %v, %v", until, is)
		}
		if _, is := BlockedUntil(refused()); is {
			f.Error("any refusal is a block")
		}
		f.clock.forward(30 * time.Second)
		_, err = f.logIn("maria.holt", otters, "")
		f.refuses(err, ErrRefused, "", "")
		f.tells(boss.ID, "1 attempts for this name were not looked at before; failure 6 for this name")
		f.clock.forward(time.Minute)
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		for range 4 { // the count began anew
			_, err = f.logIn("maria.holt", otters, "")
			f.refuses(err, ErrRefused, "", "")
		}
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)

		// Names that do not exist are blocked in the same way.
		for range 5 {
			_, err = f.logIn("nobody", otters, "")
			f.refuses(err, ErrRefused, "", "")
		}
		_, err = f.logIn("nobody", otters, "")
		f.refuses(err, ErrBlocked, "", "")

		// However long someone goes on, the wait has a longest value: nobody, and
		// not the last administrator either, is locked out for ever.
		for range 40 {
			_, err = f.gate.LogIn(f.ctx, Credentials{Name: "maria.holt", Passphrase: otters, Remote: "198.51.100.9"})
			if until, is := BlockedUntil(err); is {
				if wait := until.Sub(f.clock.now()); wait > time.Hour {
					f.Fatalf("blocked for %v", wait)
				}
				f.clock.forward(until.Sub(f.clock.now()))
			}
		}
		f.clock.forward(time.Hour)
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)

		// Someone at the machine lifts a block at once.
		for range 5 {
			_, _ = f.gate.LogIn(f.ctx, Credentials{Name: "maria.holt", Passphrase: otters, Remote: "203.0.113.5"})
		}
		_, err = f.logIn("maria.holt", herons, "")
		f.refuses(err, ErrBlocked, "", "")
		f.must(f.gate.Unblock(f.ctx, Console("root"), boss.ID, "rang up"))
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		f.tells(boss.ID, "console: failed attempts forgotten;  → ; rang up")
	})
}

func TestOneAddressTriesManyNames(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		f.first()
		for i := range 20 {
			_, err := f.gate.LogIn(f.ctx, Credentials{Name: "name" + strconv.Itoa(i), Passphrase: otters, Remote: "198.51.100.1:" + strconv.Itoa(4000+i)})
			f.refuses(err, ErrRefused, "", "")
		}
		_, err := f.gate.LogIn(f.ctx, Credentials{Name: "maria.holt", Passphrase: herons, Remote: "198.51.100.1:9"})
		f.refuses(err, ErrBlocked, "", "")
		_, err = f.logIn("maria.holt", herons, "") // from elsewhere
		f.must(err)
		f.clock.forward(forgetAfter)
		for i := range 19 { // forgotten after a quiet day
			_, err = f.gate.LogIn(f.ctx, Credentials{Name: "more" + strconv.Itoa(i), Passphrase: otters, Remote: "198.51.100.1"})
			f.refuses(err, ErrRefused, "", "")
		}
	})
}

// A thousand guesses at the same moment are not all free.
func TestAttemptsAtTheSameMoment(t *testing.T) {
	alwaysOnBoth(t, Mode{}, func(f *fixture) {
		f.first()
		var looked, blocked atomic.Int64
		var wait sync.WaitGroup
		for range 25 {
			wait.Go(func() {
				_, err := f.logIn("maria.holt", otters, "")
				switch {
				case errors.Is(err, ErrBlocked):
					blocked.Add(1)
				case errors.Is(err, ErrRefused):
					looked.Add(1)
				default:
					f.Errorf("%v", err)
				}
			})
		}
		wait.Wait()
		if looked.Load() != 5 || blocked.Load() != 20 {
			f.Errorf("%d looked at, %d blocked; want 5 and 20", looked.Load(), blocked.Load())
		}
	})
}

func TestHashesFollowTheCost(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		dear := f.config
		dear.Cost = HashCost{Passes: 2, MemoryKiB: 128, Lanes: 1}
		f.gate = f.open(dear)
		_, err := f.logIn("maria.holt", otters, "")
		f.refuses(err, ErrRefused, "", "")
		if a := f.account(boss.ID); !strings.Contains(a.hash, "m=64,t=1") {
			f.Errorf("a wrong passphrase changed the hash: %s", a.hash)
		}
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		if a := f.account(boss.ID); !strings.Contains(a.hash, "m=128,t=2") {
			f.Errorf("still %s", a.hash)
		}
		f.tells(boss.ID, "passphrase hashed anew")
		f.gate = f.open(f.config) // cheaper again: stays
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		if a := f.account(boss.ID); !strings.Contains(a.hash, "m=128,t=2") {
			f.Errorf("hashed down to %s", a.hash)
		}
	})
}

func TestDemonstrationAndRealStoresStayApart(t *testing.T) {
	onBoth(t, Mode{Demo: true}, func(f *fixture) {
		if f.gate.Mode().Notice() == "" || (Mode{}).Notice() != "" {
			f.Error("a demonstration does not say so, or a real store does")
		}
		for _, role := range EveryRole() {
			for range 2 {
				a, err := f.gate.EnterDemo(f.ctx, role, here)
				f.must(err)
				if a.Roles.String() != string(role) || a.Local || a.hash != "" {
					f.Errorf("%s: %+v", role, a)
				}
				if now := f.account(a.ID); now.Name != "demo-"+string(role) || !now.Active {
					f.Errorf("%s: %+v", role, now)
				}
			}
		}
		_, err := f.gate.EnterDemo(f.ctx, "visitor", here)
		f.refuses(err, nil, fault.Invalid, "unknown")
		asks, err := f.gate.FirstRun(f.ctx)
		if asks || err != nil {
			f.Errorf("a demonstration asks for a passphrase: %v", err)
		}
		a, err := f.gate.EnterDemo(f.ctx, Administrator, here)
		f.must(err)
		f.tells(a.ID, "logged in;  → ; demonstration")
		_, err = f.logIn("demo-surgeon", "", "")
		f.refuses(err, ErrMode, "", "no passphrases")
		_, err = f.gate.MakeFirst(f.ctx, "maria", "Maria", herons, here)
		f.refuses(err, ErrMode, "", "")
		_, _, err = f.gate.Make(f.ctx, a.Actor(here), "x", "X", Roles{Clinic})
		f.refuses(err, ErrMode, "", "")
		_, err = f.gate.Redeem(f.ctx, "demo-surgeon", "x", herons, here)
		f.refuses(err, ErrMode, "", "")
		_, err = f.gate.Recover(f.ctx, a.Actor(here), a.ID, false, "")
		f.refuses(err, ErrMode, "", "")
		f.refuses(f.gate.ChangePassphrase(f.ctx, a.ID, "", herons, "", here), ErrMode, "", "")
		_, err = f.gate.ConfirmSecondFactor(f.ctx, a.ID, "123456", "", here)
		f.refuses(err, ErrMode, "", "")
		f.must(f.gate.SetActive(f.ctx, a.Actor(here), a.ID, true, "")) // no last administrator to keep
		real := f.config
		real.Mode = Mode{}
		_, err = Open(f.ctx, f.store, real)
		f.refuses(err, ErrMode, fault.Conflict, "it is a demo store and cannot be opened as a real one")
		f.open(f.config)
	})
	onBoth(t, Mode{}, func(f *fixture) {
		_, err := f.gate.EnterDemo(f.ctx, Surgeon, here)
		f.refuses(err, ErrMode, "", "nobody in without a passphrase")
		demo := f.config
		demo.Mode = Mode{Demo: true}
		_, err = Open(f.ctx, f.store, demo)
		f.refuses(err, ErrMode, fault.Conflict, "it is a real store and cannot be opened as a demo one")
	})
}

// A record that somebody filled before it was ever opened here is real.
func TestNoDemonstrationOverPatients(t *testing.T) {
	for name, options := range map[string]store.Options{"sqlite": storeIn(t), "postgres": {Address: pgtest.Database(t)}} {
		f := &fixture{T: t, ctx: t.Context()}
		var err error
		f.store, err = store.Open(f.ctx, options)
		f.must(err)
		t.Cleanup(func() { _ = f.store.Close() })
		for _, statement := range []string{
			`insert into patient (id, version, struck, body, birth_year) values ('p', 1, 0, '{}', 0)`,
			`insert into person (id, version, struck, body, number, patient_id, name, unit_number, birth_date, died_on)
				values ('q', 1, 0, '{}', 1, 'p', 'Somebody', '', '', '')`,
		} {
			_, err = f.store.Writer().Exec(f.ctx, statement)
			f.must(err)
		}
		_, err = Open(f.ctx, f.store, Config{Mode: Mode{Demo: true}, Cost: cheap})
		f.refuses(err, ErrMode, fault.Conflict, "it holds people")
		if _, err = Open(f.ctx, f.store, Config{Cost: cheap}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestGateRefusesBadConfigurations(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	bad := f.config
	bad.Cost = HashCost{Passes: 1, MemoryKiB: 1, Lanes: 1}
	_, err := Open(f.ctx, f.store, bad)
	f.refuses(err, nil, fault.Invalid, "cost of a passphrase hash")
	bad = f.config
	bad.SealingKey = make([]byte, 16)
	_, err = Open(f.ctx, f.store, bad)
	f.refuses(err, nil, fault.Invalid, "16 bytes")
	bad = f.config
	bad.Random = strings.NewReader("too little")
	_, err = Open(f.ctx, f.store, bad)
	f.refuses(err, nil, "", "random bytes")
	g := f.open(Config{}) // the defaults are good
	if g.hasher.cost != DefaultHashCost() || g.SecondFactorsSealed() || !f.gate.SecondFactorsSealed() {
		t.Errorf("defaults: %+v", g.hasher.cost)
	}
}

// Two processes open a new store at the same moment, one of them as a
// demonstration: whoever comes second is refused.
func TestTheModeIsDeclaredOnce(t *testing.T) {
	for name, options := range map[string]store.Options{
		"sqlite":   {Folder: filepath.Join(t.TempDir(), "shared")},
		"postgres": {Address: pgtest.Database(t)},
	} {
		f := &fixture{T: t, ctx: t.Context()}
		var wait sync.WaitGroup
		errs := make([]error, 4)
		demo := rand.New(chance(7)).IntN(2)
		for i := range errs {
			s, err := store.Open(f.ctx, options)
			f.must(err)
			t.Cleanup(func() { _ = s.Close() })
			wait.Go(func() { _, errs[i] = Open(f.ctx, s, Config{Mode: Mode{Demo: i%2 == demo}, Cost: cheap}) })
		}
		wait.Wait()
		if (errs[0] == nil) == (errs[1] == nil) || (errs[0] == nil) != (errs[2] == nil) || (errs[1] == nil) != (errs[3] == nil) {
			t.Errorf("%s: %v", name, errs)
		}
	}
}

// The passphrase changes while the old one is being checked: not let in.
func TestOvertakenPassphrase(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	boss := f.first()
	f.gate.hasher.done = func() {
		f.gate.hasher.done = nil
		f.must(f.gate.ChangePassphrase(f.ctx, boss.ID, herons, otters, "", here))
	}
	_, err := f.logIn("maria.holt", herons, "")
	f.refuses(err, ErrRefused, "", "not right")
	_, err = f.logIn("maria.holt", otters, "")
	f.must(err)
}
