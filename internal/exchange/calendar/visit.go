package calendar

import (
	"crypto/sha1"
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
)

// Visit is an appointment of an eye. No field of it names a patient; who wants a
// name in a calendar puts it into Words or Description and answers for it.
type Visit struct {
	ID      record.ID // of the entry that agreed it
	Version int64     // of that entry, 1 for the first
	On      record.Date
	At      record.Clock   // empty: the whole day
	Zone    *time.Location // of At; needed with it
	Minutes int            // how long it takes, 0 where that is not told

	Side   eye.Laterality // SideUnknown: both, or not told
	For    record.DueFor  // empty: review
	Clinic string         // may be empty; stands before the other words
	Words  string         // instead of side and reason; may be empty
	Place  string
	// Description is longer text; may be empty.
	Description string
	Remind      []time.Duration // before the start
	Cancelled   bool
}

// reasons words what a visit is for.
var reasons = map[record.DueFor]string{
	record.DueReview: "review", record.DuePressure: "eye pressure", record.DueGasCheck: "gas check", record.DueOilRemoval: "oil removal",
	record.DueHeavyLiquid: "heavy liquid removal", record.DueFellowEyeScan: "scan of the other eye",
}

// Event is the visit as an event, its words being
//
//	CLINIC: right eye, gas check
//
// Invalid: an ID that is none, a day that is not told in full or only relative,
// a time without a zone, one that the zone's clocks leave out or show twice, a
// reason that is unknown.
func (v Visit) Event() (Event, error) {
	uid, err := visitUID(v.ID)
	if err != nil {
		return Event{}, err
	}
	if v.Version < 1 || v.Version > math.MaxInt32 {
		return Event{}, invalid("version of the visit", fmt.Sprintf("%d is none", v.Version), "1 to 2147483647")
	}
	e := Event{UID: uid, Sequence: int(v.Version - 1), Status: Confirmed, Description: v.Description, Location: v.Place}
	if v.Cancelled {
		e.Status = Cancelled
	}
	if err := v.times(&e); err != nil {
		return Event{}, err
	}
	if e.Summary, err = v.summary(); err != nil {
		return Event{}, err
	}
	for _, before := range v.Remind {
		e.Alarms = append(e.Alarms, Alarm{before, e.Summary})
	}
	return e, nil
}

func (v Visit) summary() (string, error) {
	reason, known := reasons[v.For]
	if v.For == "" {
		reason, known = reasons[record.DueReview], true
	}
	if !known {
		return "", invalid("reason of the visit", fmt.Sprintf("%q is unknown", string(v.For)), "one of the record's reasons")
	}
	words := v.Words
	if words == "" {
		words = reason
		if v.Side != eye.SideUnknown {
			words = strings.ToLower(v.Side.String()) + " eye, " + reason
		}
	}
	if v.Clinic != "" {
		words = v.Clinic + ": " + words
	}
	return words, nil
}

// times sets day or begin and end.
func (v Visit) times(e *Event) error {
	if err := v.On.Check(); err != nil {
		return err
	}
	if v.On.Relative || !v.On.Full() {
		return invalid("day of the visit", "is not told in full", "a day of the calendar")
	}
	if v.Minutes < 0 || v.Minutes > 24*60 {
		return invalid("length of the visit", fmt.Sprintf("%d minutes is none", v.Minutes), "0 to 1440 minutes")
	}
	if v.At == "" {
		e.Day = true
		e.Begin = time.Date(v.On.Year, time.Month(v.On.Month), v.On.Day, 0, 0, 0, 0, time.UTC)
		return nil
	}
	seconds, ok := v.At.Seconds()
	if !ok {
		return invalid("time of the visit", fmt.Sprintf("%q is no time of day", string(v.At)), "15:04")
	}
	if v.Zone == nil {
		return invalid("zone of the visit", "is not told", "the zone of its time")
	}
	begin, err := inZone(time.Date(v.On.Year, time.Month(v.On.Month), v.On.Day, 0, 0, seconds, 0, time.UTC), v.Zone)
	if err != nil {
		return err
	}
	e.Begin = begin
	if v.Minutes > 0 {
		e.End = begin.Add(time.Duration(v.Minutes) * time.Minute)
	}
	return nil
}

// inZone is the one time at which the clocks of a zone show what wall shows in
// UTC. Clocks that are put forward leave an hour out, those put back show one
// twice; offsets are looked up a day to either side, and no zone changes twice
// within two days.
func inZone(wall time.Time, zone *time.Location) (time.Time, error) {
	var found []time.Time
	for _, near := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, offset := wall.Add(near).In(zone).Zone()
		t := wall.Add(-time.Duration(offset) * time.Second).In(zone)
		if t.Format(time.DateTime) == wall.Format(time.DateTime) && (len(found) == 0 || !found[0].Equal(t)) {
			found = append(found, t)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return time.Time{}, invalid("time of the visit", fmt.Sprintf("the clocks of %s leave out %s", zone, wall.Format("2006-01-02 15:04")), "a time that they show")
	}
	return time.Time{}, invalid("time of the visit", fmt.Sprintf("the clocks of %s show %s twice", zone, wall.Format("2006-01-02 15:04")), "a time that they show once")
}

// visitUID is the name-based UUID (version 5, RFC 9562, 5.5) of "visit" in the
// entry's own ID: the same for good, and no way back to the ID.
func visitUID(id record.ID) (string, error) {
	if err := id.Check(); err != nil {
		return "", &fault.Error{Code: fault.Invalid, Where: "visit", What: fmt.Sprintf("%q is no ID of an entry", string(id)), Cause: err}
	}
	var space [16]byte
	if _, err := hex.Decode(space[:], []byte(strings.ReplaceAll(string(id), "-", ""))); err != nil {
		return "", err
	}
	return named(space, "visit"), nil
}

func named(space [16]byte, name string) string {
	sum := sha1.Sum(append(space[:], name...))
	u := sum[:16]
	u[6] = u[6]&0x0f | 0x50
	u[8] = u[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}
