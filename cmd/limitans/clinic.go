package main

import (
	"fmt"

	"limitans/internal/account"
	"limitans/internal/demo"
	"limitans/internal/record"
)

type clinicCommand struct {
	placeFlags
	Patients int    `default:"60" placeholder:"N" help:"How many patients, 1 to 1,000,000. Default: 60."`
	Seed     uint64 `default:"1" placeholder:"N" help:"The same seed on the same day gives the same clinic. Default: 1."`
	Drawn    int    `default:"6" placeholder:"N" help:"How many eyes get drawn and measured scans, about a second a scan. Default: 6."`
}

// Run fills a new record with an invented clinic.
func (c clinicCommand) Run(out *console) error {
	clinic, err := demo.New(c.Patients, c.Seed, record.DayOf(out.Now()))
	if err != nil {
		return atFlag(err, "--patients")
	}
	o, err := c.storeOptions(out)
	if err != nil {
		return err
	}
	p, err := c.make(out, o)
	if err != nil {
		return err
	}
	defer p.close()
	// Marked before anything is in it, so that it can never pass for a real one.
	gate, err := account.Open(out.Context, p.store, account.Config{Mode: account.Mode{Demo: true}, Now: out.Now})
	if err != nil {
		return undone{err}
	}
	inventing := newProgress(out, "inventing patients")
	filled, err := demo.Fill(out.Context, clinic, p.store, demo.FillOptions{
		Vault: p.vault, DrawnEyes: c.Drawn, Program: version(), Now: out.Now(), Progress: inventing.update,
	})
	inventing.finish()
	if err != nil {
		return undone{err}
	}
	fmt.Fprintf(out.Stdout, "%s\n", demo.Place)
	fmt.Fprintf(out.Stdout, "  %d patients, %d records, %d drawn scans in %s\n", filled.Patients, filled.Nouns, filled.Scans, p.store.Where())
	fmt.Fprintln(out.Stdout, gate.Mode().Notice())
	return nil
}
