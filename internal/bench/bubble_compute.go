package bench

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"limitans/estimate"
	"limitans/tamponade"
)

// The fills of the dates, in the order of the thresholds.
var bubbleFills = []float64{0.5, 0.1, tamponade.GoneFill}

// compute asks the science: dates and bands, pressure, support, rota.
func (d *BubbleAnswer) compute() error {
	slices.SortStableFunc(d.Seen, func(a, b tamponade.Observation) int { return cmp.Compare(a.Day, b.Day) })
	thresholds, err := d.thresholds()
	if err != nil {
		return err
	}
	courses, err := d.sample()
	if err != nil {
		return bubbleFlag(err)
	}
	d.Surprises, d.contact = courses.Surprises, courses.ContactAreaProbability
	dates, err := courses.Answer(tamponade.Question{Thresholds: thresholds})
	if err != nil {
		return bubbleFlag(err)
	}
	// The course is drawn to the end of the band of the last day.
	d.Days = courseDays(dates.LastAboveDay[2].High)
	pressures := make(chan error, 1) // beside the fills, on a core of its own if there is one
	go func() { pressures <- d.pressures() }()
	fills, err := courses.Answer(tamponade.Question{Days: append(slices.Clone(d.Days), supportDays...)})
	if wrong := <-pressures; err == nil {
		err = wrong
	}
	if err != nil {
		return bubbleFlag(err)
	}
	d.Prediction = dates
	d.Prediction.Fill = fills.Fill[:len(d.Days)]
	d.spreadCovered(thresholds)
	if err := d.support(fills.Fill[len(d.Days):]); err != nil {
		return err
	}
	if err := d.advise(); err != nil {
		return err
	}
	return d.rotas()
}

// sample draws the courses, narrowed where visits were told.
func (d *BubbleAnswer) sample() (*tamponade.Courses, error) {
	if len(d.Seen) == 0 {
		return tamponade.Sample(d.Bubble, d.Asked.Seed, d.Asked.Paths)
	}
	return tamponade.SampleSeen(d.Bubble, d.Seen, d.Asked.Seed, d.Asked.Paths)
}

// thresholds are those of the three dates, then of every posture of every target.
func (d *BubbleAnswer) thresholds() ([]float64, error) {
	out := slices.Clone(bubbleFills)
	for _, t := range d.Targets {
		for _, p := range BubblePostures {
			least, err := tamponade.MinimumFill(p.Position, t)
			if err != nil {
				return nil, err
			}
			out = append(out, math.Max(least, tamponade.GoneFill))
		}
	}
	return out, nil
}

// support tells the hours of the first days, by how they are spent.
func (d *BubbleAnswer) support(fills []estimate.Estimate) error {
	for _, diary := range Diaries() {
		hours, err := tamponade.SupportHours(diary.Day, d.Targets[0], fills)
		if err != nil {
			return err
		}
		d.supportHours = append(d.supportHours, hours)
	}
	return nil
}

// spreadCovered sorts the postures' dates by target.
func (d *BubbleAnswer) spreadCovered(thresholds []float64) {
	d.Covered = map[string][]estimate.Estimate{}
	at := len(bubbleFills)
	for _, t := range d.Targets {
		for range BubblePostures {
			e := d.Prediction.LastAboveDay[at]
			least := thresholds[at]
			switch {
			case !e.Known(): // the basis says why
			case least >= tamponade.NeverFill:
				e = estimate.Estimate{Basis: "never: the bubble floats away from it"}
			default:
				e.Basis = fmt.Sprintf("covered from %.1f %% fill on; flat level in a sphere, margin %.1f°; %s", 100*least, t.MarginDeg, e.Basis)
			}
			d.Covered[t.Name] = append(d.Covered[t.Name], e)
			at++
		}
	}
}

// courseDays are the days of the course: half days to day 3, days to day 14,
// then steps that leave at most some sixty points.
func courseDays(last float64) []float64 {
	if math.IsNaN(last) { // nothing is predicted
		last = 14
	}
	last = math.Min(math.Ceil(math.Max(last, 3)), tamponade.MaxDays)
	var days []float64
	for day := 0.0; day < 3; day += 0.5 {
		days = append(days, day)
	}
	for day := 3.0; day <= math.Min(14, last); day++ {
		days = append(days, day)
	}
	step := math.Max(1, math.Ceil((last-14)/40))
	for day := 14 + step; day < last; day += step {
		days = append(days, day)
	}
	if days[len(days)-1] < last {
		days = append(days, last)
	}
	return days
}

// pressures integrates the middle eye for the course, and three for the peak.
func (d *BubbleAnswer) pressures() error {
	b := d.Bubble
	composition, err := b.Mixture.Composition()
	if err != nil {
		return err
	}
	last := d.Days[len(d.Days)-1]
	course, err := tamponade.Run(tamponade.Scenario{
		Globe: b.Globe, Composition: composition, Fill: b.Fill, OpenMinutes: tamponade.DefaultOpenMinutes,
		Parameters: tamponade.DefaultParameters(tamponade.VolumeLaw, b.Lens), Days: last,
	})
	if err != nil {
		return err
	}
	at := 0
	for _, day := range d.Days {
		for at < len(course.Points) && course.Points[at].Day < day-1e-9 {
			at++
		}
		pressure := b.Globe.BaselineMMHg // once the bubble is gone
		if at < len(course.Points) {
			pressure = course.Points[at].PressureMMHg
		}
		d.Pressure = append(d.Pressure, pressure)
	}
	d.Peak, err = tamponade.PeakPressure(tamponade.PeakInput{
		Mixture: b.Mixture, CavityML: b.CavityML, Fill: d.fill.Percent, Lens: b.Lens,
		BaselineMMHg: b.Globe.BaselineMMHg, Glaucoma: d.Asked.Glaucoma,
	})
	return err
}

// Diary is a way to spend a day, told or done.
type Diary struct {
	Key, Name string
	Day       tamponade.Diary
}

// Diaries are the days for which hours of support are told.
func Diaries() []Diary {
	var out []Diary
	for _, d := range bubbleDiaries {
		out = append(out, Diary{d.key, d.name, d.day()})
	}
	return out
}

// bubbleDiaries are the days for which hours of support are told.
var bubbleDiaries = []struct {
	key, name string
	day       func() tamponade.Diary
}{
	{"face_down_8_hours", "told: face down 8 h, upright 8 h, nights on the side", tamponade.FaceDownDiary},
	{"not_supine", "told: anything but the back", tamponade.NonSupineDiary},
	{"measured", "what people did who were told face down", tamponade.MeasuredDiary},
}

// advise adds, for a hole whose size was told, where to start from and when
// holes were seen closed.
func (d *BubbleAnswer) advise() (err error) {
	if d.Asked.HoleUM == 0 {
		return nil
	}
	advice, err := tamponade.AdvisePosture(d.Asked.HoleUM)
	if err != nil {
		return atFlag(err, "--hole-um")
	}
	d.Advice = &advice
	d.closed, err = tamponade.ClosedByDay()
	return err
}

// rotas proposes a day for two targets, at the fill of day 1.
func (d *BubbleAnswer) rotas() error {
	if len(d.Targets) < 2 || !d.Prediction.HalfLifeDays.Known() {
		return nil
	}
	var wanted []tamponade.Wanted
	for _, t := range d.Targets {
		wanted = append(wanted, tamponade.Wanted{Target: t, Hours: 8})
	}
	fill := d.Prediction.Fill[slices.Index(d.Days, 1)].Value
	rota, err := tamponade.ProposeRota(wanted, nil, fill)
	d.Rota = &rota
	return err
}
