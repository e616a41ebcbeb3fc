package bench

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/tamponade"
)

// DiaryField is the hours of a day in one position, as a form asks for them.
type DiaryField struct {
	// Name is that of the field, Words say the position to people.
	Name, Words string
	Position    tamponade.Position
	Value       string // as written
	Trouble     string
}

// diaryKeys are the stable names of [tamponade.DiaryPositions], in their order.
var diaryKeys = []string{
	"prone", "face_down_60", "face_down_45", "looking_down_30", "forward_5", "upright", "back_20", "reclined_30", "reclined_60", "supine",
	"left_side", "right_side", "left_side_nose_down", "right_side_nose_down",
}

// diaryWords say the positions whose names are terms, or that stand for more.
var diaryWords = map[tamponade.Position]string{
	tamponade.Prone:   "face down, flat (prone)",
	tamponade.Reading: "sitting, looking down 30°: reading, eating",
	tamponade.Upright: "upright: sitting, standing, walking",
	tamponade.Supine:  "flat on the back (supine)",
}

// DiaryFields asks for the hours of a day. Where nothing was written they show the
// hours that sensors measured, which is not this patient's day.
func DiaryFields(get func(name string) string) (fields []DiaryField, own bool) {
	for i, p := range tamponade.DiaryPositions() {
		f := DiaryField{Name: "hours-" + diaryKeys[i], Words: p.Name, Position: p}
		if words := diaryWords[p]; words != "" {
			f.Words = words
		}
		f.Value = strings.TrimSpace(get(f.Name))
		own = own || f.Value != ""
		fields = append(fields, f)
	}
	if own {
		return fields, true
	}
	for _, spell := range tamponade.MeasuredDiary() {
		for i := range fields {
			if fields[i].Position == spell.Position {
				fields[i].Value = shortHours(spell.Hours)
			}
		}
	}
	return fields, false
}

// minutesUncounted are hours that may be missing from a day without being asked
// for; they support nothing.
const minutesUncounted = 0.05

// DiaryOf is the day that fields tell. Faults: Invalid with what is wrong beside its
// field, or with the hours that are missing or too many: nothing is stretched to 24.
func DiaryOf(fields []DiaryField) (tamponade.Diary, error) {
	var d tamponade.Diary
	var first error
	for i := range fields {
		f := &fields[i]
		if f.Value == "" {
			continue
		}
		hours, err := decimal(f.Value)
		if err != nil || !(hours >= 0 && hours <= 24) {
			f.Trouble = fmt.Sprintf("%q is no number of hours; expected: 0 to 24", f.Value)
			if first == nil {
				first = &fault.Error{Code: fault.Invalid, Where: "diary, " + f.Position.Name, What: fmt.Sprintf("%q is no number of hours", f.Value), Expected: "0 to 24"}
			}
			continue
		}
		if hours > 0 {
			d = append(d, tamponade.Spell{Position: f.Position, Hours: hours})
		}
	}
	if first != nil {
		return nil, first
	}
	switch total := d.Total(); {
	case total < 24-minutesUncounted-1e-9:
		return nil, &fault.Error{Code: fault.Invalid, Where: "diary", What: fmt.Sprintf("%s of 24 hours are told; missing: %s", shortHours(total), shortHours(24-total)), Mend: "say how they are spent; nothing is filled in"}
	case total > 24+1e-9:
		return nil, &fault.Error{Code: fault.Invalid, Where: "diary", What: fmt.Sprintf("%s hours are told; too many: %s", shortHours(total), shortHours(total-24)), Mend: "take them off where they are too many; nothing is cut"}
	}
	return d, nil
}

func shortHours(hours float64) string {
	return strconv.FormatFloat(math.Round(hours*100)/100, 'f', -1, 64)
}

// ToldDiary is a day as it was told to a patient.
type ToldDiary struct {
	Key, Name, Source string
	Day               tamponade.Diary
}

// ToldDiaries are the days that can have been told.
func ToldDiaries() []ToldDiary {
	const ours = "ours; no source"
	return []ToldDiary{
		{"face_down", "face down 8 h, upright 8 h, nights on the side with the nose down", "Pasu et al. 2020, doi 10.1001/jamaophthalmol.2020.0987 (abstract); the rest of the day is ours", tamponade.FaceDownDiary()},
		{"not_on_the_back", "anything but the back", ours, tamponade.NonSupineDiary()},
		{"upright", "upright, nights half sitting", ours, tamponade.UprightDiary()},
		{"left_side", "on the left side 16 h, upright 8 h", ours, tamponade.SideDiary(tamponade.LeftSide)},
		{"right_side", "on the right side 16 h, upright 8 h", ours, tamponade.SideDiary(tamponade.RightSide)},
	}
}

// ToldDiaryOf finds a day by its key.
func ToldDiaryOf(key string) (ToldDiary, bool) {
	for _, d := range ToldDiaries() {
		if d.Key == key {
			return d, true
		}
	}
	return ToldDiary{}, false
}

// DiaryCover is for how many hours of each day the targets are covered, as told and
// as done.
type DiaryCover struct {
	// Days are those of the course from day 1 on, up to the first on which nothing is
	// covered any more however the day is spent; the last of them when it does not
	// come.
	Days []float64
	// Targets has one row for each target of the bubble.
	Targets []TargetCover
}

// TargetCover are the hours of one target, one for each day.
type TargetCover struct {
	Target     string
	Told, Done []estimate.Estimate
	// LastTold and LastDone are the last listed days with any hour in the middle
	// course; 0 for none.
	LastTold, LastDone float64
}

// Diary answers for how many hours of each day the targets are covered when the days
// are spent as told and as done. Nothing is known where the prediction is not.
func (d *BubbleAnswer) Diary(told, done tamponade.Diary) (*DiaryCover, error) {
	var out DiaryCover
	var fills []estimate.Estimate
	for i, day := range d.Days {
		if day >= 1 && day == math.Trunc(day) {
			fill := d.Prediction.Fill[i]
			if !fill.Known() {
				return nil, &fault.Error{Code: fault.NotMeasurable, Where: "diary", What: "cannot be answered: " + fill.Basis}
			}
			out.Days, fills = append(out.Days, day), append(fills, fill)
		}
	}
	last := 0
	for _, t := range d.Targets {
		row := TargetCover{Target: t.Name}
		for _, of := range []struct {
			diary tamponade.Diary
			hours *[]estimate.Estimate
			last  *float64
		}{{told, &row.Told, &row.LastTold}, {done, &row.Done, &row.LastDone}} {
			var err error
			if *of.hours, err = tamponade.SupportHours(of.diary, t, fills); err != nil {
				return nil, err
			}
			for i, h := range *of.hours {
				if h.High > 0 {
					last = max(last, i)
				}
				if h.Value > 0 {
					*of.last = out.Days[i]
				}
			}
		}
		out.Targets = append(out.Targets, row)
	}
	out.cut(min(len(out.Days), last+2)) // the day after the last is shown empty
	return &out, nil
}

// cut leaves the first days.
func (c *DiaryCover) cut(n int) {
	c.Days = c.Days[:n]
	for i := range c.Targets {
		c.Targets[i].Told, c.Targets[i].Done = c.Targets[i].Told[:n], c.Targets[i].Done[:n]
	}
}

// RotaPositions are those that a rota chooses from, with their stable keys: lying on
// the back is never proposed.
func RotaPositions() (out []BubblePosture) {
	for _, p := range tamponade.Positions() {
		if at := slices.Index(tamponade.DiaryPositions(), p); at >= 0 && p != tamponade.Supine {
			out = append(out, BubblePosture{diaryKeys[at], p})
		}
	}
	return out
}

// RotaFor proposes a day for the targets of the bubble with the hours wanted for
// each, at the fill of a day of the course, without the positions that cannot be
// taken. Where the lower end of the fill asks for another day, that one is proposed
// as well: it is nil where it does not.
func (d *BubbleAnswer) RotaFor(hours []float64, without map[string]bool, at int) (middle tamponade.Rota, low *tamponade.Rota, err error) {
	if at < 0 || at >= len(d.Days) || len(hours) != len(d.Targets) {
		return middle, nil, &fault.Error{Code: fault.Invalid, Where: "rota", What: "does not fit the course", Expected: "a day of the course, hours for each target"}
	}
	var wanted []tamponade.Wanted
	for i, t := range d.Targets {
		wanted = append(wanted, tamponade.Wanted{Target: t, Hours: hours[i]})
	}
	positions := []tamponade.Position{}
	for _, p := range RotaPositions() {
		if !without[p.Key] {
			positions = append(positions, p.Position)
		}
	}
	fill := d.Prediction.Fill[at]
	if !fill.Known() {
		return middle, nil, &fault.Error{Code: fault.NotMeasurable, Where: "rota", What: "cannot be proposed: " + fill.Basis}
	}
	if middle, err = tamponade.ProposeRota(wanted, positions, fill.Value); err != nil {
		return middle, nil, err
	}
	other, err := tamponade.ProposeRota(wanted, positions, fill.Low)
	if err != nil || rotaWords(other) == rotaWords(middle) {
		return middle, nil, err
	}
	return middle, &other, nil
}

// rotaWords tells two rotas apart.
func rotaWords(r tamponade.Rota) string { return fmt.Sprint(r.Blocks, r.Short, r.Conflict) }
