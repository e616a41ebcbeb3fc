package account

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/secure/precis"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// Account is a person or a role at a shared screen. It is deactivated and never
// deleted, because the history names it.
type Account struct {
	ID           record.AccountID
	Name         string // log-in name, in the form of RFC 8265, section 3.3
	ShownName    string
	Roles        Roles
	Active       bool
	Local        bool // has a passphrase of its own here
	Federated    bool // comes from the department's identity provider
	SecondFactor bool
	MadeAt       time.Time

	hash, factorSecret string
	issuer, subject    string // at the identity provider
	factorStep, epoch  int64
}

// Allows says whether the account is active and one of its roles may do the
// act.
func (a Account) Allows(act Act) bool { return a.Active && a.Roles.Allow(act) }

// Actor is who does something, for the permission check and for the history.
type Actor struct {
	Account record.AccountID
	Remote  string // where from: address of the browser
	console bool
}

// Console is someone at the machine itself, who can reach the database anyway:
// the way back in when no administrator can log in. The permission table does
// not bind him; the history names him as "console".
func Console(systemUser string) Actor {
	return Actor{Account: "console", Remote: "console, user " + systemUser, console: true}
}

// Actor is the account acting from a remote address.
func (a Account) Actor(remote string) Actor {
	return Actor{Account: a.ID, Remote: remote}
}

// actorOrUnknown is for someone who has not proved anything yet.
func (a Account) actorOrUnknown(remote string) Actor {
	if a.ID == "" {
		return Actor{Account: unknown, Remote: remote}
	}
	return a.Actor(remote)
}

// record is the actor as the history has it.
func (a Actor) record() record.Actor {
	return record.Actor{AccountID: a.Account, Place: record.FreeText(a.Remote)}
}

const mostNameCharacters = 64

// foldName brings a log-in name into the form in which it is stored and
// compared: the UsernameCaseMapped profile of RFC 8265, section 3.3
// (https://doi.org/10.17487/RFC8265): no spaces, lower case, composed.
func foldName(name string) (string, error) {
	bad := &fault.Error{
		Code: fault.Invalid, Where: "log-in name", What: "it is empty, too long or holds spaces or unusual characters",
		Expected: fmt.Sprintf("1-%d letters, digits and signs", mostNameCharacters),
	}
	if len(name) > 4*mostNameCharacters {
		return "", bad
	}
	folded, err := precis.UsernameCaseMapped.String(name)
	if n := utf8.RuneCountInString(folded); err != nil || n < 1 || n > mostNameCharacters {
		return "", bad
	}
	return folded, nil
}

func checkShownName(name string) error {
	if name != strings.TrimSpace(name) || name == "" || utf8.RuneCountInString(name) > 2*mostNameCharacters || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) {
		return &fault.Error{
			Code: fault.Invalid, Where: "shown name", What: "it is empty, too long or holds control characters",
			Expected: fmt.Sprintf("1-%d characters", 2*mostNameCharacters),
		}
	}
	return nil
}

const accountColumns = `id, name, shown_name, roles, active, passphrase_hash, issuer, issuer_subject,
	factor_secret, factor_confirmed, factor_step, epoch, made_at`

func scanAccount(row interface{ Scan(...any) error }) (Account, error) {
	var a Account
	var roles string
	var active, confirmed, made int64
	err := row.Scan(&a.ID, &a.Name, &a.ShownName, &roles, &active, &a.hash, &a.issuer, &a.subject,
		&a.factorSecret, &confirmed, &a.factorStep, &a.epoch, &made)
	if err != nil {
		return Account{}, err
	}
	if a.Roles, err = parseRoles(roles); err != nil {
		return Account{}, fmt.Errorf("account %s: %w", a.ID, err)
	}
	a.Active, a.Local, a.Federated = active == 1, a.hash != "", a.issuer != ""
	a.SecondFactor = confirmed == 1
	a.MadeAt = time.UnixMilli(made).UTC()
	return a, nil
}

// reader is what accounts can be read from: the database or a transaction.
type reader interface {
	QueryRow(ctx context.Context, query string, args ...any) *sql.Row
}

// find reads the account whose column (id or name) has the value.
func find(ctx context.Context, from reader, column string, value any) (Account, error) {
	a, err := scanAccount(from.QueryRow(ctx, `select `+accountColumns+` from account where `+column+` = ?`, value))
	if errors.Is(err, sql.ErrNoRows) {
		return Account{}, &fault.Error{Code: fault.NotFound, Where: "account", What: "there is none with this " + column}
	}
	if err != nil {
		return Account{}, fmt.Errorf("reading an account: %w", err)
	}
	return a, nil
}

// Account reads one account. It fails with fault.NotFound.
func (g *Gate) Account(ctx context.Context, id record.AccountID) (Account, error) {
	return find(ctx, g.store.Reader(), "id", id)
}

// Accounts lists all accounts by name, deactivated ones too, for an actor who
// may manage them.
func (g *Gate) Accounts(ctx context.Context, by Actor) ([]Account, error) {
	if err := g.authorise(ctx, g.store.Reader(), by, ManageAccounts); err != nil {
		return nil, err
	}
	return g.all(ctx)
}

func (g *Gate) all(ctx context.Context) ([]Account, error) {
	rows, err := g.store.Reader().Query(ctx, `select `+accountColumns+` from account order by name`)
	if err != nil {
		return nil, fmt.Errorf("listing accounts: %w", err)
	}
	defer func() { _ = rows.Close() }()
	var all []Account
	for rows.Next() {
		a, err := scanAccount(rows)
		if err != nil {
			return nil, fmt.Errorf("listing accounts: %w", err)
		}
		all = append(all, a)
	}
	return all, rows.Err()
}

// authorise reads the actor's account anew: what it may do is what the
// database says now, not what a session remembers.
func (g *Gate) authorise(ctx context.Context, from reader, by Actor, act Act) error {
	if by.console {
		return nil
	}
	a, err := find(ctx, from, "id", by.Account)
	if err != nil && fault.CodeOf(err) != fault.NotFound {
		return err
	}
	if err != nil || !a.Allows(act) {
		return forbidden(act)
	}
	return nil
}

// FirstRun says whether the store has no account yet, so that the first
// administrator's passphrase must be asked for. A demonstration has no first
// run.
func (g *Gate) FirstRun(ctx context.Context) (bool, error) {
	if g.mode.Demo {
		return false, nil
	}
	var n int64
	if err := g.store.Reader().QueryRow(ctx, `select count(*) from account`).Scan(&n); err != nil {
		return false, fmt.Errorf("counting accounts: %w", err)
	}
	return n == 0, nil
}

// MakeFirst makes the first account, an administrator who may hold clinical
// roles too (a surgeon who works alone). It fails with fault.Conflict when an
// account exists already, whoever came second. The caller lets only people at
// the machine itself reach it.
func (g *Gate) MakeFirst(ctx context.Context, name, shownName, passphrase, remote string, also ...Role) (Account, error) {
	if err := g.needs(false); err != nil {
		return Account{}, err
	}
	roles, err := NewRoles(append([]Role{Administrator}, also...)...)
	if err != nil {
		return Account{}, err
	}
	a, err := g.draft(name, shownName, roles)
	if err != nil {
		return Account{}, err
	}
	if a.hash, err = g.hashNew(ctx, passphrase, a); err != nil {
		return Account{}, err
	}
	err = g.change(ctx, a.Actor(remote), func(tx *store.Tx) error {
		var n int64
		if err := tx.QueryRow(ctx, `select count(*) from account`).Scan(&n); err != nil {
			return fmt.Errorf("counting accounts: %w", err)
		}
		if n > 0 {
			return &fault.Error{
				Code: fault.Conflict, Where: "first run", What: "the store has an account already",
				Mend: "log in, or make a one-time code at the machine itself",
			}
		}
		return g.insert(ctx, tx, a, "first run")
	})
	if err != nil {
		return Account{}, err
	}
	a.Local = true
	return a, nil
}

func (g *Gate) draft(name, shownName string, roles Roles) (Account, error) {
	folded, err := foldName(name)
	if err != nil {
		return Account{}, err
	}
	if err := checkShownName(shownName); err != nil {
		return Account{}, err
	}
	id, err := g.newID()
	if err != nil {
		return Account{}, err
	}
	return Account{ID: id, Name: folded, ShownName: shownName, Roles: roles, Active: true, MadeAt: time.UnixMilli(g.millis()).UTC()}, nil
}

// hashNew checks a new passphrase against the rules and hashes it.
func (g *Gate) hashNew(ctx context.Context, passphrase string, a Account) (string, error) {
	if err := CheckPassphrase(passphrase, a.Name, a.ShownName, g.unit); err != nil {
		return "", err
	}
	prepared, err := prepare(passphrase)
	if err != nil {
		return "", err
	}
	return g.hasher.make(ctx, prepared)
}

func (g *Gate) insert(ctx context.Context, tx *store.Tx, a Account, reason string) error {
	added, err := exec(ctx, tx, `insert into account (`+accountColumns+`)
		values (?, ?, ?, ?, 1, ?, ?, ?, '', 0, 0, 0, ?) on conflict (name) do nothing`,
		a.ID, a.Name, a.ShownName, a.Roles.String(), a.hash, a.issuer, a.subject, a.MadeAt.UnixMilli())
	if err != nil {
		return fmt.Errorf("making an account: %w", err)
	}
	if added == 0 {
		return &fault.Error{
			Code: fault.Conflict, Where: "log-in name", What: "an account has this name already",
			Mend: "choose another, also when that account is deactivated: the history names it",
		}
	}
	return g.record(ctx, tx, entry{subject: a.ID, what: whatMade, after: a.Name + ": " + a.Roles.String(), reason: reason})
}

// Make makes an account that has no passphrase yet, and a one-time code with
// which the person sets it (see Redeem). The name must be free for ever.
func (g *Gate) Make(ctx context.Context, by Actor, name, shownName string, roles Roles) (Account, OneTimeCode, error) {
	if err := g.needs(false); err != nil {
		return Account{}, OneTimeCode{}, err
	}
	roles, err := NewRoles(roles...)
	if err != nil {
		return Account{}, OneTimeCode{}, err
	}
	a, err := g.draft(name, shownName, roles)
	if err != nil {
		return Account{}, OneTimeCode{}, err
	}
	var code OneTimeCode
	err = g.change(ctx, by, func(tx *store.Tx) error {
		if err := g.authorise(ctx, tx, by, ManageAccounts); err != nil {
			return err
		}
		if err := g.insert(ctx, tx, a, ""); err != nil {
			return err
		}
		code, err = g.newOneTimeCode(ctx, tx, a.ID)
		return err
	})
	if err != nil {
		return Account{}, OneTimeCode{}, err
	}
	return a, code, nil
}

// SetRoles gives the account other roles and ends its sessions. The last
// administrator who can log in with a passphrase keeps that role.
func (g *Gate) SetRoles(ctx context.Context, by Actor, id record.AccountID, roles Roles, reason string) error {
	roles, err := NewRoles(roles...)
	if err != nil {
		return err
	}
	return g.manage(ctx, by, id, func(tx *store.Tx, a Account) error {
		if a.Roles.String() == roles.String() {
			return nil
		}
		if _, err := exec(ctx, tx, `update account set roles = ? where id = ?`, roles.String(), id); err != nil {
			return fmt.Errorf("changing roles: %w", err)
		}
		if err := g.endSessions(ctx, tx, id, ""); err != nil {
			return err
		}
		return g.record(ctx, tx, entry{
			subject: id, what: whatRoles,
			before: a.Roles.String(), after: roles.String(), reason: reason,
		})
	})
}

// SetActive deactivates an account, which ends its sessions, or activates it
// again. The last administrator who can log in with a passphrase stays active.
func (g *Gate) SetActive(ctx context.Context, by Actor, id record.AccountID, active bool, reason string) error {
	return g.manage(ctx, by, id, func(tx *store.Tx, a Account) error {
		if a.Active == active {
			return nil
		}
		e := entry{subject: id, what: whatDeactivated, before: "active", after: "deactivated", reason: reason}
		value := 0
		if active {
			value = 1
			e.what, e.before, e.after = whatActivated, e.after, e.before
		}
		if _, err := exec(ctx, tx, `update account set active = ? where id = ?`, value, id); err != nil {
			return fmt.Errorf("changing an account: %w", err)
		}
		if err := g.endSessions(ctx, tx, id, ""); err != nil {
			return err
		}
		return g.record(ctx, tx, e)
	})
}

// manage runs a change of one account by someone who may manage accounts, and
// undoes it when no administrator would be left.
func (g *Gate) manage(ctx context.Context, by Actor, id record.AccountID, f func(tx *store.Tx, a Account) error) error {
	return g.change(ctx, by, func(tx *store.Tx) error {
		if err := g.authorise(ctx, tx, by, ManageAccounts); err != nil {
			return err
		}
		a, err := find(ctx, tx, "id", id)
		if err != nil {
			return err
		}
		if err := f(tx, a); err != nil {
			return err
		}
		return g.keepOneAdministrator(ctx, tx)
	})
}

// keepOneAdministrator fails when no active administrator with a passphrase is
// left. One who comes through an identity provider does not count: the day
// that provider fails someone must be able to come in.
func (g *Gate) keepOneAdministrator(ctx context.Context, tx *store.Tx) error {
	if g.mode.Demo {
		return nil
	}
	rows, err := tx.Query(ctx, `select roles from account where active = 1 and passphrase_hash <> ''`)
	if err != nil {
		return fmt.Errorf("counting administrators: %w", err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return fmt.Errorf("counting administrators: %w", err)
		}
		if roles, err := parseRoles(text); err == nil && roles.Allow(ManageAccounts) {
			return nil
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("counting administrators: %w", err)
	}
	return &fault.Error{
		Code: fault.Conflict, Where: "account", What: "this would leave no administrator who can log in with a passphrase",
		Mend: "give another active account with a passphrase the role administrator first",
	}
}
