package main

import (
	"errors"
	"os/user"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// whoFlags say who acts.
type whoFlags struct {
	As string `placeholder:"ACCOUNT" help:"Log-in name or identifier of the account that the history names. Default: the user of this machine."`
}

// actor is who the history names. Whoever can give this command can reach the
// database anyway, so no passphrase is asked for; the place says that it was
// the command line, and which user of the machine.
func (f whoFlags) actor(out *console, s *store.Store, act account.Act) (record.Actor, error) {
	name := "not known"
	if u, err := user.Current(); err == nil {
		name = u.Username
	}
	console := account.Console(name)
	if f.As == "" {
		return record.Actor{AccountID: console.Account, Place: record.FreeText(console.Remote)}, nil
	}
	gate, err := account.Open(out.Context, s, account.Config{Now: out.Now})
	if errors.Is(err, account.ErrMode) {
		gate, err = account.Open(out.Context, s, account.Config{Mode: account.Mode{Demo: true}, Now: out.Now})
	}
	if err != nil {
		return record.Actor{}, undone{err}
	}
	all, err := gate.Accounts(out.Context, console)
	if err != nil {
		return record.Actor{}, undone{err}
	}
	for _, a := range all {
		if a.Name != f.As && string(a.ID) != f.As {
			continue
		}
		if !a.Allows(act) {
			return record.Actor{}, undone{&fault.Error{Code: fault.Invalid, Where: "--as", What: "account " + a.Name + " may not " + string(act)}}
		}
		return record.Actor{AccountID: a.ID, Place: record.FreeText(console.Remote)}, nil
	}
	return record.Actor{}, undone{&fault.Error{Code: fault.NotFound, Where: "--as", What: "there is no account " + f.As}}
}
