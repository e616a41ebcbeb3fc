package main

import (
	"fmt"
	"os"
	"path/filepath"

	"limitans/internal/account"
	"limitans/internal/demo"
	"limitans/internal/record"
	"limitans/internal/store"
)

type demoCommand struct {
	Address  string `default:"127.0.0.1:0" placeholder:"HOST:PORT" help:"Where pages are served, a loopback address. Default: a free port of 127.0.0.1."`
	Patients int    `default:"60" placeholder:"N" help:"How many invented patients, 1 to 1,000,000. Default: 60."`
	Seed     uint64 `default:"1" placeholder:"N" help:"The same seed on the same day gives the same clinic. Default: 1."`
	Drawn    int    `default:"6" placeholder:"N" help:"How many eyes get drawn and measured scans, about a second a scan. Default: 6."`
}

// Help is printed below the flags.
func (demoCommand) Help() string {
	return "The clinic stands in a temporary folder that is removed at the end. To keep one: limitans clinic, then limitans serve."
}

// Run invents a clinic and serves its pages until it is interrupted.
func (c demoCommand) Run(out *console) error {
	folder, err := os.MkdirTemp("", "limitans-demo-")
	if err != nil {
		return cannotWrite(os.TempDir(), err)
	}
	defer os.RemoveAll(folder)
	flags := placeFlags{Data: filepath.Join(folder, "clinic")}
	invented, err := demo.New(c.Patients, c.Seed, record.DayOf(out.Now()))
	if err != nil {
		return atFlag(err, "--patients")
	}
	o, err := flags.storeOptions(out)
	if err != nil {
		return err
	}
	p, err := fillClinic(out, flags, o, invented, c.Drawn)
	if err != nil {
		return err
	}
	defer p.close()
	fmt.Fprintf(out.Stdout, "%s, open until you interrupt it:\n", demo.Place)
	return serve(out, p, account.Mode{Demo: true}, serving{address: c.Address, workers: 1})
}

// fillClinic makes a new record with an invented clinic in it.
func fillClinic(out *console, flags placeFlags, o store.Options, invented *demo.Clinic, drawn int) (*place, error) {
	p, err := flags.make(out, o)
	if err != nil {
		return nil, err
	}
	// Marked before anything is in it, so that it can never pass for a real one.
	if _, err := account.Open(out.Context, p.store, account.Config{Mode: account.Mode{Demo: true}, Now: out.Now}); err != nil {
		return nil, undone{err}
	}
	inventing := newProgress(out, "inventing patients")
	filled, err := demo.Fill(out.Context, invented, p.store, demo.FillOptions{
		Vault: p.vault, DrawnEyes: drawn, Program: version(), Now: out.Now(), Progress: inventing.update,
	})
	inventing.finish()
	if err != nil {
		return nil, undone{err}
	}
	fmt.Fprintf(out.Stdout, "%s\n", demo.Place)
	fmt.Fprintf(out.Stdout, "  %d patients, %d records, %d drawn scans in %s\n", filled.Patients, filled.Nouns, filled.Scans, p.store.Where())
	return p, nil
}
