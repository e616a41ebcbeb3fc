package main

import (
	"crypto/rand"
	"fmt"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/calendar"
	"limitans/internal/record"
)

// calendarCommand writes one appointment as a calendar file.
type calendarCommand struct {
	On        string    `required:"" placeholder:"YYYY-MM-DD" help:"Day of the visit."`
	At        string    `placeholder:"HH:MM" help:"Time of day; without it the visit is of the whole day. Needs --utc-offset."`
	UTCOffset string    `name:"utc-offset" placeholder:"+HH:MM" help:"Offset of that time from UTC on that day, for example +01:00."`
	Minutes   int       `placeholder:"MINUTES" help:"How long it takes, minutes."`
	Eye       string    `placeholder:"SIDE" help:"Eye: right or left."`
	For       string    `default:"review" enum:"review,pressure,gas_check,oil_removal,heavy_liquid_removal,fellow_eye_scan" help:"What for: review, pressure, gas_check, oil_removal, heavy_liquid_removal or fellow_eye_scan. Default: review."`
	Clinic    string    `placeholder:"TEXT" help:"Name of the clinic, before the other words."`
	Words     string    `placeholder:"TEXT" help:"Words instead of eye and reason. What stands here stands in every calendar that takes the file."`
	Place     string    `placeholder:"TEXT" help:"Where."`
	Remind    []float64 `name:"remind-hours" placeholder:"HOURS" help:"Hours before the visit at which to remind; several with commas."`

	Visit     string `placeholder:"ID" help:"ID of the entry, so that a later file replaces this one. Default: a new one, which nothing replaces."`
	Version   int64  `default:"1" placeholder:"N" help:"Version of that entry. Default: 1."`
	Cancelled bool   `help:"The visit does not take place."`
}

// Help is printed below the flags.
func (calendarCommand) Help() string {
	return "Writes RFC 5545 on standard output. No patient is named unless the words given do so."
}

// Run prints the calendar file.
func (c calendarCommand) Run(out *console) error {
	now := out.Now()
	v, err := c.visit(now)
	if err != nil {
		return err
	}
	event, err := v.Event()
	if err != nil {
		return calendarFlag(err)
	}
	return calendarFlag(calendar.Write(out.Stdout, calendar.Calendar{Product: "-//limitans//" + version() + "//EN", Stamp: now, Events: []calendar.Event{event}}))
}

func (c calendarCommand) visit(now time.Time) (calendar.Visit, error) {
	v := calendar.Visit{
		ID: record.ID(c.Visit), Version: c.Version, At: record.Clock(c.At), Minutes: c.Minutes, For: record.DueFor(c.For),
		Clinic: c.Clinic, Words: c.Words, Place: c.Place, Cancelled: c.Cancelled,
	}
	var err error
	if v.On, err = record.DateFromISO(c.On); err != nil {
		return v, &fault.Error{Code: fault.Invalid, Where: "--on", What: fmt.Sprintf("%q is no day", c.On), Expected: "2026-12-01", Cause: err}
	}
	if c.Eye != "" {
		if v.Side, err = eye.ParseLaterality(c.Eye); err != nil {
			return v, atFlag(err, "--eye")
		}
	}
	if v.ID == "" {
		if v.ID, err = record.NewID(now, rand.Reader); err != nil {
			return v, err
		}
	}
	if c.UTCOffset != "" {
		t, err := time.Parse("-07:00", c.UTCOffset)
		if err != nil {
			return v, &fault.Error{Code: fault.Invalid, Where: "--utc-offset", What: fmt.Sprintf("%q is none", c.UTCOffset), Expected: "+01:00"}
		}
		_, seconds := t.Zone()
		v.Zone = time.FixedZone(c.UTCOffset, seconds)
	}
	for _, hours := range c.Remind {
		if !(hours >= 0 && hours <= 24*366) {
			return v, &fault.Error{Code: fault.Invalid, Where: "--remind-hours", What: fmt.Sprintf("%g hours before is no reminder", hours), Expected: "0 to 8784"}
		}
		v.Remind = append(v.Remind, time.Duration(hours*3600)*time.Second)
	}
	return v, nil
}

// calendarFlag names the flag behind a fault of the calendar.
func calendarFlag(err error) error {
	f, ok := err.(*fault.Error)
	if !ok {
		return err
	}
	for where, flag := range map[string]string{
		"visit": "--visit", "version of the visit": "--version", "day of the visit": "--on", "length of the visit": "--minutes", "time of the visit": "--at",
		"zone of the visit": "--utc-offset", "SUMMARY": "--clinic, --words", "LOCATION": "--place",
	} {
		if f.Where == where {
			return atFlag(err, flag)
		}
	}
	return err
}
