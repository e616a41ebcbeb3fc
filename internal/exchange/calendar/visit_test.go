package calendar

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
)

func visit(t *testing.T) Visit {
	t.Helper()
	id, err := record.NewID(stamp, rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return Visit{ID: id, Version: 1, On: record.Date{Year: 2026, Month: 12, Day: 1}, Side: eye.Right, For: record.DueGasCheck}
}

// RFC 9562, A.4 (read): version 5 of www.example.com in the space of domain names.
func TestNameBasedUUID(t *testing.T) {
	space, err := hex.DecodeString("6ba7b8109dad11d180b400c04fd430c8")
	if err != nil {
		t.Fatal(err)
	}
	if got := named([16]byte(space), "www.example.com"); got != "2ed6657d-e927-568b-95e1-2665a8aea6a2" {
		t.Error(got)
	}
}

// A visit's UID stays, its sequence counts, and the words are side and reason.
func TestVisitAsAnEvent(t *testing.T) {
	v := visit(t)
	v.Remind = []time.Duration{24 * time.Hour}
	first, err := v.Event()
	if err != nil || first.Sequence != 0 || first.Summary != "right eye, gas check" || !first.Day || len(first.Alarms) != 1 {
		t.Fatalf("%+v, %v", first, err)
	}
	v.Version, v.Clinic, v.At, v.Zone, v.Minutes, v.Cancelled = 3, "Retina clinic", "09:30", time.FixedZone("", 3600), 20, true
	second, err := v.Event()
	if err != nil || second.UID != first.UID || second.Sequence != 2 || second.Summary != "Retina clinic: right eye, gas check" || second.Status != Cancelled {
		t.Fatalf("%+v, %v", second, err)
	}
	if got := second.Begin.UTC().Format(time.DateTime); got != "2026-12-01 08:30:00" || second.End.Sub(second.Begin) != 20*time.Minute {
		t.Errorf("%s, %v", got, second.End)
	}
	other, err := visit(t).Event()
	if err != nil || other.UID == first.UID {
		t.Errorf("%+v, %v", other, err)
	}
	v.Words = "call first"
	if e, err := v.Event(); err != nil || e.Summary != "Retina clinic: call first" {
		t.Errorf("%+v, %v", e, err)
	}
	plain := visit(t)
	plain.Side, plain.For = eye.SideUnknown, ""
	if e, err := plain.Event(); err != nil || e.Summary != "review" {
		t.Errorf("%+v, %v", e, err)
	}
}

// Nothing that leads back to the entry stands in the file, whatever the version.
func TestNothingIdentifying(t *testing.T) {
	v := visit(t)
	e, err := v.Event()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(&b, Calendar{"p", stamp, []Event{e}}); err != nil {
		t.Fatal(err)
	}
	for _, part := range append(strings.Split(string(v.ID), "-")[:1], string(v.ID)) {
		if strings.Contains(b.String(), part) {
			t.Errorf("%q is in\n%s", part, b.String())
		}
	}
}

// Every reason of the record has its words.
func TestEveryReasonHasWords(t *testing.T) {
	for _, reason := range []record.DueFor{
		record.DueReview, record.DuePressure, record.DueGasCheck, record.DueOilRemoval, record.DueHeavyLiquid, record.DueFellowEyeScan,
	} {
		v := visit(t)
		v.For = reason
		if e, err := v.Event(); err != nil || !strings.HasPrefix(e.Summary, "right eye, ") {
			t.Errorf("%s: %+v, %v", reason, e, err)
		}
	}
}

// The clocks of Berlin leave out 02:30 on 29 March 2026 and show it twice on 25
// October (EU Directive 2000/84/EC; the days checked by hand).
func TestClocksThatChange(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err) // the Go installation brings the table along
	}
	for _, row := range []struct {
		month, day int
		at         record.Clock
		want       string // UTC, or part of the refusal
	}{
		{3, 29, "01:59", "2026-03-29 00:59:00"},
		{3, 29, "02:30", "leave out"},
		{3, 29, "03:00", "2026-03-29 01:00:00"},
		{10, 25, "01:30", "2026-10-24 23:30:00"},
		{10, 25, "02:30", "twice"},
		{10, 25, "03:00", "2026-10-25 02:00:00"},
		{7, 1, "09:15:30", "2026-07-01 07:15:30"},
	} {
		v := visit(t)
		v.On, v.At, v.Zone = record.Date{Year: 2026, Month: row.month, Day: row.day}, row.at, berlin
		e, err := v.Event()
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), row.want) {
				t.Errorf("%s: %v", row.at, err)
			}
			continue
		}
		if got := e.Begin.UTC().Format(time.DateTime); got != row.want {
			t.Errorf("%d-%d %s: %s", row.month, row.day, row.at, got)
		}
	}
}

func TestVisitsThatAreRefused(t *testing.T) {
	for name, change := range map[string]func(*Visit){
		"no ID":      func(v *Visit) { v.ID = "" },
		"short ID":   func(v *Visit) { v.ID = "12" },
		"version":    func(v *Visit) { v.Version = 0 },
		"no day":     func(v *Visit) { v.On = record.Date{} },
		"month only": func(v *Visit) { v.On = record.Date{Year: 2026, Month: 12} },
		"relative":   func(v *Visit) { v.On = record.RelativeDay(14) },
		"no such":    func(v *Visit) { v.On = record.Date{Year: 2026, Month: 2, Day: 29} },
		"no zone":    func(v *Visit) { v.At = "09:30" },
		"no clock":   func(v *Visit) { v.At, v.Zone = "9.30", time.UTC },
		"length":     func(v *Visit) { v.Minutes = -1 },
		"reason":     func(v *Visit) { v.For = "holiday" },
	} {
		v := visit(t)
		change(&v)
		if e, err := v.Event(); fault.CodeOf(err) != fault.Invalid || e.UID != "" {
			t.Errorf("%s: %+v, %v", name, e, err)
		}
	}
}
