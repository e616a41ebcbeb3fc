package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/vault"
)

type setupCommand struct {
	placeFlags
	Name    string   `required:"" placeholder:"NAME" help:"Log-in name of the first administrator."`
	Shown   string   `placeholder:"NAME" help:"Name as others see it. Default: the log-in name."`
	Also    []string `placeholder:"ROLE" help:"Further roles of the first administrator: surgeon, theatre or clinic. An administrator alone sees no patient."`
	Encrypt bool     `help:"Encrypt scans and films. Their key goes into the data folder, locked by the passphrase in LIMITANS_PASSPHRASE; without that passphrase they are lost."`
}

// keyFileName is the key of encrypted files inside a data folder.
const keyFileName = "files.key"

// Run makes a record with its first administrator. The passphrase is asked for
// on a terminal, else it is the first line of standard input.
func (c setupCommand) Run(out *console) error {
	var roles []account.Role
	for _, text := range c.Also {
		roles = append(roles, account.Role(text))
	}
	if _, err := account.NewRoles(roles...); len(roles) > 0 && err != nil {
		return atFlag(err, "--also")
	}
	passphrase, err := askPassphrase(out, "Passphrase of "+c.Name)
	if err != nil {
		return err
	}
	shown := c.Shown
	if shown == "" {
		shown = c.Name
	}
	if err := account.CheckPassphrase(passphrase, c.Name, shown); err != nil {
		return undone{err}
	}
	o, err := c.storeOptions(out)
	if err != nil {
		return err
	}
	if c.Encrypt {
		if c.Key == "" {
			c.Key = filepath.Join(c.Data, keyFileName)
		}
		if err := os.MkdirAll(filepath.Dir(c.Key), 0o700); err != nil {
			return undone{cannotWrite(filepath.Dir(c.Key), err)}
		}
		if _, err := vault.CreateKeyFile(c.Key, os.Getenv("LIMITANS_PASSPHRASE")); err != nil {
			return undone{err}
		}
	}
	p, err := c.make(out, o)
	if err != nil {
		return err
	}
	defer p.close()
	gate, err := account.Open(out.Context, p.store, account.Config{Now: out.Now})
	if err != nil {
		return undone{err}
	}
	first, err := gate.MakeFirst(out.Context, c.Name, shown, passphrase, "command line", roles...)
	if err != nil {
		return undone{err}
	}
	fmt.Fprintf(out.Stdout, "Record made in %s\n", p.store.Where())
	fmt.Fprintf(out.Stdout, "First account: %s, %s\n", first.Name, first.Roles)
	if c.Key != "" {
		fmt.Fprintf(out.Stdout, "Scans and films are encrypted. Keep %s and its passphrase apart from each other: without both they are lost.\n", c.Key)
	}
	fmt.Fprintln(out.Stdout, "The database itself is not encrypted: use an encrypted disk.")
	return nil
}

// askPassphrase asks twice on a terminal; otherwise it takes the first line of
// standard input.
func askPassphrase(out *console, what string) (string, error) {
	if out.Stdin == nil {
		return "", &fault.Error{Code: fault.Invalid, Where: "passphrase", What: "nothing to read it from"}
	}
	if file, is := out.Stdin.(*os.File); is && term.IsTerminal(int(file.Fd())) {
		first, err := readHidden(out, file, what)
		if err != nil {
			return "", err
		}
		again, err := readHidden(out, file, "Once more")
		if err != nil {
			return "", err
		}
		if first != again {
			return "", undone{&fault.Error{Code: fault.Invalid, Where: "passphrase", What: "the two do not agree", Mend: "try again"}}
		}
		return first, nil
	}
	line, err := bufio.NewReader(io.LimitReader(out.Stdin, 1<<16)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", undone{err}
	}
	return strings.TrimRight(line, "\r\n"), nil
}

func readHidden(out *console, file *os.File, what string) (string, error) {
	fmt.Fprintf(out.Stderr, "%s: ", what)
	text, err := term.ReadPassword(int(file.Fd()))
	fmt.Fprintln(out.Stderr)
	if err != nil {
		return "", undone{fmt.Errorf("reading the passphrase: %w", err)}
	}
	return string(text), nil
}
