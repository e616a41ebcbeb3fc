package account

import (
	"context"
	"fmt"
	"slices"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// Credentials are what someone types to come in, and where from. Code is the
// second factor, a code of the authenticator program or a recovery code, for
// accounts that have one.
type Credentials struct {
	Name, Passphrase, Code string
	Remote                 string
}

// unknown stands in the history for the account of a name that does not exist.
// The name itself is not kept: people type their passphrase into it.
const unknown = "unknown"

// noName stands for a typed name that no account can have.
const noName = " "

// LogIn checks credentials and gives the account. Every wrong attempt costs
// one hash, whether the name exists or not, and has the same refusal,
// ErrRefused. Too many failures give ErrBlocked. With the right passphrase and
// no code an account with a second factor gives ErrSecondFactor, which is no
// failure. The caller begins the session (see Sessions.Begin).
func (g *Gate) LogIn(ctx context.Context, c Credentials) (Account, error) {
	if err := g.needs(false); err != nil {
		return Account{}, err
	}
	// A name that cannot exist takes the same way as one that does not.
	name, nameErr := foldName(c.Name)
	if nameErr != nil {
		name = noName
	}
	attempts, err := g.reserve(ctx, name, c.Remote)
	if err != nil {
		return Account{}, err
	}
	a, err := find(ctx, g.store.Reader(), "name", name)
	if err != nil && fault.CodeOf(err) != fault.NotFound {
		return Account{}, err
	}
	prepared, prepareErr := prepare(c.Passphrase)
	right, outdated, err := g.hasher.check(ctx, prepared, a.hash)
	if err != nil {
		return Account{}, err
	}
	var fresh string
	if right && outdated {
		if fresh, err = g.hasher.make(ctx, prepared); err != nil {
			return Account{}, err
		}
	}
	right = right && prepareErr == nil
	var refusal error
	by := Actor{Account: unknown, Remote: c.Remote}
	if right {
		by = a.Actor(c.Remote)
	}
	err = g.change(ctx, by, func(tx *store.Tx) error {
		a, refusal, err = g.decide(ctx, tx, a, c, right, attempts)
		if err != nil || refusal != nil {
			return err
		}
		if fresh != "" {
			if _, err := exec(ctx, tx, `update account set passphrase_hash = ? where id = ?`, fresh, a.ID); err != nil {
				return fmt.Errorf("hashing a passphrase anew: %w", err)
			}
			if err := g.record(ctx, tx, entry{subject: a.ID, what: "passphrase hashed anew"}); err != nil {
				return err
			}
		}
		return g.record(ctx, tx, entry{subject: a.ID, what: "logged in"})
	})
	if err != nil {
		return Account{}, err
	}
	if refusal != nil {
		return Account{}, refusal
	}
	return a, nil
}

// decide is the part of a log-in that must see the account as it is now: it
// may have been deactivated or have got another passphrase while the hash was
// computed.
func (g *Gate) decide(ctx context.Context, tx *store.Tx, seen Account, c Credentials, right bool, attempts []attempt) (now Account, refusal, err error) {
	reason := ""
	if seen.ID != "" {
		if now, err = find(ctx, tx, "id", seen.ID); err != nil {
			return Account{}, nil, err
		}
	}
	switch {
	case seen.ID == "":
		reason = "unknown name"
	case now.hash == "":
		reason = "no passphrase set"
	case !right || now.hash != seen.hash:
		reason = "wrong passphrase"
	case !now.Active:
		reason = "right passphrase, account deactivated"
	case now.SecondFactor && c.Code == "":
		return now, secondFactorNeeded(), takeBack(ctx, tx, attempts)
	case now.SecondFactor:
		passed, err := g.passSecondFactor(ctx, tx, now, c)
		if err != nil {
			return now, nil, err
		}
		if !passed {
			reason = "right passphrase, wrong or used code"
		}
	}
	if reason != "" {
		return now, refused(), g.fail(ctx, tx, now, note(reason, attempts))
	}
	if err := takeBack(ctx, tx, attempts); err != nil {
		return now, nil, err
	}
	return now, nil, forget(ctx, tx, now.Name)
}

func (g *Gate) fail(ctx context.Context, tx *store.Tx, a Account, reason string) error {
	subject := a.ID
	if subject == "" {
		subject = unknown
	}
	return g.record(ctx, tx, entry{subject: subject, what: "log-in failed", reason: reason})
}

// EnterDemo gives the account of a role in a demonstration store, making it on
// first use. It has no passphrase. A real store refuses with ErrMode.
func (g *Gate) EnterDemo(ctx context.Context, role Role, remote string) (Account, error) {
	if err := g.needs(true); err != nil {
		return Account{}, err
	}
	if !slices.Contains(EveryRole(), role) {
		_, err := NewRoles(role)
		return Account{}, err
	}
	name := "demo-" + string(role)
	a, err := find(ctx, g.store.Reader(), "name", name)
	isNew := fault.CodeOf(err) == fault.NotFound
	if isNew {
		a, err = g.draft(name, "Demonstration "+string(role), Roles{role})
	}
	if err != nil {
		return Account{}, err
	}
	err = g.change(ctx, a.Actor(remote), func(tx *store.Tx) error {
		if isNew {
			if err := g.insert(ctx, tx, a, "demonstration"); err != nil {
				return err
			}
		}
		return g.record(ctx, tx, entry{subject: a.ID, what: "logged in", reason: "demonstration"})
	})
	return a, err
}

// Unblock forgets the failed attempts for an account's name.
func (g *Gate) Unblock(ctx context.Context, by Actor, id record.AccountID, reason string) error {
	return g.manage(ctx, by, id, func(tx *store.Tx, a Account) error {
		if err := forget(ctx, tx, a.Name); err != nil {
			return err
		}
		return g.record(ctx, tx, entry{subject: id, what: "failed attempts forgotten", reason: reason})
	})
}
