package tamponade

import (
	"fmt"

	"limitans/estimate"
	"limitans/fault"
)

// Spell is a time of the day spent in one position.
type Spell struct {
	Position Position
	Hours    float64
}

// Diary is a day as spells; what is missing from 24 hours supports nothing.
type Diary []Spell

// Check refuses a day of more than 24 hours.
func (d Diary) Check() error {
	sum := 0.0
	for _, s := range d {
		if !(s.Hours >= 0 && s.Hours <= 24) {
			return &fault.Error{Code: fault.Invalid, Where: "diary, " + s.Position.Name, What: fmt.Sprintf("%g hours cannot be", s.Hours), Expected: "0 to 24"}
		}
		if _, err := s.Position.Up(); err != nil {
			return err
		}
		sum += s.Hours
	}
	if sum > 24+1e-9 {
		return &fault.Error{Code: fault.Invalid, Where: "diary", What: fmt.Sprintf("%g hours in a day", sum), Expected: "at most 24"}
	}
	return nil
}

// MeasuredDiary is what people who are told to lie face down do: over 24 hours,
// 18 % beyond 45° face down and a median pitch of −6.7° (head sensor, 10
// patients, PMID 24292701, abstract); asleep, 5 % fully on the back and nearly
// half reclined (Mahmoudzadeh et al. 2023, doi 10.1097/ICB.0000000000001385,
// abstract). The spells are made to meet these figures; the split between them
// is ours.
func MeasuredDiary() Diary {
	return Diary{
		{FaceDown60, 4.3},
		{LittleForward, 7.7},
		{LeaningBack, 7.6},
		{Reclined60, 4.0},
		{Supine, 0.4},
	}
}

// FaceDownDiary is a day as it is told in the trial of eight hours face down
// (Pasu et al. 2020, doi 10.1001/jamaophthalmol.2020.0987): eight hours prone,
// eight upright and eight asleep on the side with the nose down.
func FaceDownDiary() Diary {
	return Diary{{Prone, 8}, {Upright, 8}, {LeftSideNosing, 4}, {RightSideNosing, 4}}
}

// NonSupineDiary is a day as it is told when only lying on the back is
// forbidden: sixteen hours upright, eight asleep on the side.
func NonSupineDiary() Diary {
	return Diary{{Upright, 16}, {LeftSide, 4}, {RightSide, 4}}
}

// UprightDiary is a day as it is told when only sitting is asked for: sixteen hours
// upright, eight asleep half sitting (ours; no source).
func UprightDiary() Diary { return Diary{{Upright, 16}, {Reclined, 8}} }

// SideDiary is a day as it is told for a break at one side: sixteen hours on a
// side, which is [LeftSide] or [RightSide], eight upright (ours; no source).
func SideDiary(side Position) Diary { return Diary{{side, 16}, {Upright, 8}} }

// Total is the hours that a day's diary tells of; a whole day has 24.
func (d Diary) Total() (hours float64) {
	for _, s := range d {
		hours += s.Hours
	}
	return hours
}

// coverage pairs the hours of a spell with the fill that covers the target in it.
type coverage struct{ hours, least float64 }

func (d Diary) coverages(t Target) ([]coverage, error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	out := make([]coverage, len(d))
	for i, s := range d {
		least, err := MinimumFill(s.Position, t)
		if err != nil {
			return nil, err
		}
		out[i] = coverage{s.Hours, least}
	}
	return out, nil
}

func hoursAt(covered []coverage, fill float64) (hours float64) {
	for _, c := range covered {
		if fill >= c.least && fill > 0 {
			hours += c.hours
		}
	}
	return hours
}

// HoursOfSupport returns the hours of a day in which a bubble of a fill, 0 to 1,
// covers the target. It never falls as the fill rises.
func HoursOfSupport(d Diary, t Target, fill float64) (float64, error) {
	hours, err := SupportHours(d, t, []estimate.Estimate{{Value: fill, Low: fill, High: fill}})
	if err != nil {
		return nan, err
	}
	return hours[0].Value, nil
}

// SupportHours returns, for each of some fills with their intervals, the hours of
// a day in which the target is covered. The hours never fall as the fill rises, so
// the ends of the fill's interval give those of the hours. A missing fill gives
// missing hours. Faults: Invalid for a fill that is no share of the cavity, or a
// day that cannot be.
func SupportHours(d Diary, t Target, fills []estimate.Estimate) ([]estimate.Estimate, error) {
	covered, err := d.coverages(t)
	if err != nil {
		return nil, err
	}
	out := make([]estimate.Estimate, len(fills))
	for i, f := range fills {
		if !f.Known() {
			out[i] = f
			continue
		}
		for _, share := range []float64{f.Value, f.Low, f.High} {
			if !(share >= 0 && share <= 1) {
				return nil, &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g is not a share", share), Expected: "0 to 1"}
			}
		}
		out[i] = estimate.Estimate{
			Value: hoursAt(covered, f.Value), Low: hoursAt(covered, f.Low), High: hoursAt(covered, f.High),
			Basis: "hours of a day in which the level covers the " + t.Name + ", flat in a sphere; " + f.Basis,
		}
	}
	return out, nil
}
