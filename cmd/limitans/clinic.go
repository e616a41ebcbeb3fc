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
	invented, err := demo.New(c.Patients, c.Seed, record.DayOf(out.Now()))
	if err != nil {
		return atFlag(err, "--patients")
	}
	o, err := c.storeOptions(out)
	if err != nil {
		return err
	}
	p, err := fillClinic(out, c.placeFlags, o, invented, c.Drawn)
	if err != nil {
		return err
	}
	fmt.Fprintln(out.Stdout, account.Mode{Demo: true}.Notice())
	return p.close()
}
