package main

import (
	"os"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
)

// signOnFlags let people in who are known to the department's identity provider.
type signOnFlags struct {
	Issuer      string            `placeholder:"URL" help:"Identity provider of the department (OpenID Connect), exactly as it names itself. With it go the client, the address and at least one group."`
	Client      string            `placeholder:"NAME" help:"What the provider calls this program."`
	SecretFile  string            `name:"secret-file" env:"LIMITANS_SIGN_ON_SECRET_FILE" placeholder:"FILE" help:"File with the secret that the provider gave for this program; none for a public client."`
	Address     string            `placeholder:"URL" help:"Where browsers reach this program, such as https://macula.example; the provider must know it with /sign-on/back behind it."`
	GroupsClaim string            `name:"groups-claim" default:"groups" placeholder:"NAME" help:"What the provider calls the list of a person's groups. Default: groups."`
	Group       map[string]string `placeholder:"GROUP=ROLE" mapsep:"none" help:"Role of a group: surgeon, theatre, clinic, auditor or administrator. May be told more than once; who is in none of the groups is not let in."`
}

// used reports whether anything of it is told.
func (f signOnFlags) used() bool {
	return f.Issuer != "" || f.Client != "" || f.SecretFile != "" || f.Address != "" || len(f.Group) > 0
}

// open makes the sign-on of a server's sessions; nil where nothing is told.
func (f signOnFlags) open(sessions *account.Sessions) (*account.SignOn, error) {
	if !f.used() {
		return nil, nil
	}
	for name, value := range map[string]string{"--sign-on-issuer": f.Issuer, "--sign-on-client": f.Client, "--sign-on-address": f.Address} {
		if value == "" {
			return nil, &fault.Error{Code: fault.Invalid, Where: name, What: "is missing, while another flag of sign-on is told", Expected: "issuer, client, address and a group together"}
		}
	}
	c := account.SignOnConfig{
		Issuer: f.Issuer, ClientID: f.Client, GroupsClaim: f.GroupsClaim, Roles: map[string]account.Role{},
		RedirectURL: strings.TrimSuffix(f.Address, "/") + "/sign-on/back",
	}
	for group, role := range f.Group {
		c.Roles[group] = account.Role(role)
	}
	if f.SecretFile != "" {
		secret, err := os.ReadFile(f.SecretFile)
		if err != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--sign-on-secret-file " + f.SecretFile, What: "cannot be read", Mend: "let this user read it", Cause: err}
		}
		if c.ClientSecret = strings.TrimSpace(string(secret)); c.ClientSecret == "" {
			return nil, &fault.Error{Code: fault.Malformed, Where: "--sign-on-secret-file " + f.SecretFile, What: "is empty", Expected: "the secret that the provider gave"}
		}
	}
	return account.NewSignOn(sessions, c)
}
