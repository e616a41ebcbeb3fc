package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/tamponade"
)

// diarySection asks how this patient's days are spent and tells what the bubble
// covers meanwhile, beside what was told. It stays in the address; nothing of it is
// stored.
type diarySection struct {
	Fields  []bench.DiaryField
	Own     bool // the hours were told here; else they are published ones
	Trouble string
	Told    bench.ToldDiary
	Choices []bench.ToldDiary
	From    string // where the told posture comes from
	Kept    []keptAnswer
	Clear   string // address without the hours
	Chart   *scene.Scene
	Targets []string
	Rows    []diaryDay
	Sums    []diarySum
	Days    float64 // that the sums run over
	Basis   string  // of those days
	Facts   []tamponade.AdherenceFact
	Rota    *rotaSection
}

// Dated reports whether the days are days of the calendar, which they are of a patient.
func (d *diarySection) Dated() bool { return len(d.Rows) > 0 && d.Rows[0].Calendar != "" }

// keptAnswer is an answer of another form of the page, kept in this one.
type keptAnswer struct{ Name, Value string }

// diaryDay is one row of the table: told and done for each target.
type diaryDay struct {
	Day, Calendar string
	Hours         []string
}

// diarySum is one target over the first days, and the last day with any hour.
type diarySum struct{ Target, Told, Done, ToldUntil, DoneUntil string }

// rotaSection proposes a day for two targets.
type rotaSection struct {
	Wanted   []rotaWanted
	Without  []rotaPosition
	On       string
	Fill     string
	Trouble  string
	Conflict bool
	Blocks   []tamponade.Block
	Short    []string
	Low      *tamponade.Rota // with the lower end of the fill, where it differs
}

type rotaWanted struct{ Name, Target, Value string }

type rotaPosition struct {
	Name, Words string
	Checked     bool
}

// ofDiary reports whether a name of the address belongs to the diary's form.
func ofDiary(name string) bool {
	return name == "told" || strings.HasPrefix(name, "hours-") || strings.HasPrefix(name, "want-") || strings.HasPrefix(name, "without-")
}

// kept are the answers of the address that one form leaves to the other.
func (p *bubblePage) kept(keep func(name string) bool) (out []keptAnswer) {
	for name, values := range p.Query {
		if len(values) > 0 && values[0] != "" && keep(name) {
			out = append(out, keptAnswer{name, values[0]})
		}
	}
	slices.SortFunc(out, func(a, b keptAnswer) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// Kept are the answers that the form of the bubble leaves to the others.
func (p *bubblePage) Kept() []keptAnswer {
	return p.kept(func(name string) bool { return ofDiary(name) || ofOil(name) })
}

// KeptBesideOil are the answers that the form of the oil leaves to the others.
func (p *bubblePage) KeptBesideOil() []keptAnswer {
	return p.kept(func(name string) bool { return !ofOil(name) })
}

// ofOil reports whether a name of the address belongs to the form of the oil.
func ofOil(name string) bool { return strings.HasPrefix(name, "oil-") }

// toldPosture is the posture that the operation ordered, as a day, and where that
// stands; nothing where it stands nowhere.
func toldPosture(c *store.Course, filling record.Content) (key, from string) {
	for _, o := range c.Operations {
		if o.ID == filling.OperationID && o.Posture != "" {
			return string(o.Posture), "From the operation of " + o.On.Words() + ". "
		}
	}
	for _, o := range c.Operations {
		for _, plan := range c.Plans {
			if o.ID == filling.OperationID && plan.ID == o.PlanID && plan.Posture != "" {
				return string(plan.Posture), "From the plan of the operation. "
			}
		}
	}
	return "", ""
}

// ownDiary is the day that was told here, where it is whole.
func ownDiary(r *http.Request) (tamponade.Diary, bool) {
	fields, own := bench.DiaryFields(r.FormValue)
	day, err := bench.DiaryOf(fields)
	return day, own && err == nil
}

// diary fills the section; the day that is drawn is the one the rota is for.
func (p *bubblePage) diary(r *http.Request, a *bench.BubbleAnswer) error {
	d := &diarySection{Choices: bench.ToldDiaries(), Facts: tamponade.PostureAdherence(), Kept: p.kept(func(name string) bool { return !ofDiary(name) })}
	p.Diary = d
	d.Fields, d.Own = bench.DiaryFields(r.FormValue)
	d.Clear = p.without(func(name string) bool { return strings.HasPrefix(name, "hours-") }) + "#diary"
	key := r.FormValue("told")
	if key == "" || key == p.toldKey {
		key, d.From = p.toldKey, p.toldFrom
	} else {
		d.From = "Chosen here, not in the record. "
	}
	var known bool
	if d.Told, known = bench.ToldDiaryOf(key); !known {
		d.Told, d.From = d.Choices[1], "No posture is told; this one stands here until one is chosen. "
		if a.Asked.HoleUM > 400 {
			d.Told = d.Choices[0]
		}
	}
	if err := p.rota(r, a); err != nil {
		return err
	}
	done, err := bench.DiaryOf(d.Fields)
	if err == nil {
		err = p.diaryCover(a, done)
	}
	if err != nil {
		code := fault.CodeOf(err)
		if code == "" || code == fault.Internal {
			return err
		}
		d.Trouble = err.Error()
	}
	return nil
}

// diaryCover computes chart, table and sums.
func (p *bubblePage) diaryCover(a *bench.BubbleAnswer, done tamponade.Diary) error {
	d := p.Diary
	cover, err := a.Diary(d.Told.Day, done)
	if err != nil {
		return err
	}
	words := "as this patient tells it"
	if !d.Own {
		words = "as sensors measured it in others"
	}
	chart := figure.DiaryChart{
		Title: "What the bubble covers, day by day", Below: "as told and as done · " + a.Bubble.Mixture.String(), ToldWords: d.Told.Name, DoneWords: words, Days: cover.Days,
		Notes: []string{"Line and area: the middle course. Dark band: 95 % of sampled eyes, for what is done; those of what is told stand in the table. Level flat in a sphere; below 6 % fill a bubble is rounder and touches less than is shown."},
	}
	d.Days, d.Basis = 3, "Three days are ours: no trial of 1, 3, 5 and 7 days was found."
	if a.Advice != nil {
		d.Days, d.Basis = a.Advice.Days.High, "Days: "+a.Advice.Basis+"."
	}
	for _, t := range cover.Targets {
		chart.Targets = append(chart.Targets, figure.DiaryTarget{Target: t.Target, Told: t.Told, Done: t.Done})
		d.Targets = append(d.Targets, t.Target)
		d.Sums = append(d.Sums, diarySum{t.Target, sumWords(cover.Days, t.Told, d.Days), sumWords(cover.Days, t.Done, d.Days), untilWords(t.LastTold), untilWords(t.LastDone)})
	}
	d.Chart = figure.DrawDiary(chart)
	for i, day := range cover.Days {
		row := diaryDay{Day: dayText(day), Calendar: p.calendar(day)}
		for _, t := range cover.Targets {
			row.Hours = append(row.Hours, hourBand(t.Told[i]), hourBand(t.Done[i]))
		}
		d.Rows = append(d.Rows, row)
	}
	return nil
}

// untilWords writes the last day on which a target is covered at all.
func untilWords(day float64) string {
	if day == 0 {
		return "on no day"
	}
	return "day " + dayText(day)
}

// hourBand writes hours with their interval, shortly.
func hourBand(e estimate.Estimate) string {
	return hourWords(e.Value) + " (" + hourWords(e.Low) + " to " + hourWords(e.High) + ")"
}

func hourWords(hours float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(hours, 'f', 1, 64), ".0")
}

// sumWords adds the hours of the first days; the ends are the sums of the ends, wider
// than the sum's own interval would be.
func sumWords(days []float64, hours []estimate.Estimate, until float64) string {
	var sum estimate.Estimate
	for i, day := range days {
		if day <= until {
			sum.Value, sum.Low, sum.High = sum.Value+hours[i].Value, sum.Low+hours[i].Low, sum.High+hours[i].High
		}
	}
	return bandWords(sum.Value, sum.Low, sum.High, 0, "h")
}

// without is the address of the page without some answers.
func (p *bubblePage) without(drop func(name string) bool) string {
	q := url.Values{}
	for _, k := range p.kept(func(name string) bool { return !drop(name) }) {
		q.Set(k.Name, k.Value)
	}
	return p.At + "?" + q.Encode()
}

// rota proposes a day where two targets were told.
func (p *bubblePage) rota(r *http.Request, a *bench.BubbleAnswer) error {
	if len(a.Targets) < 2 || p.Drawn == nil || !a.Prediction.Fill[p.Drawn.DayIndex].Known() {
		return nil
	}
	section := &rotaSection{On: p.Drawn.Day, Fill: p.Drawn.Fill}
	p.Diary.Rota = section
	var hours []float64
	for i, t := range a.Targets {
		name := "want-" + strconv.Itoa(i+1)
		value := or(r.FormValue(name), "8")
		section.Wanted = append(section.Wanted, rotaWanted{name, t.Name, value})
		wanted, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil {
			section.Trouble = value + " is no number of hours"
			return nil
		}
		hours = append(hours, wanted)
	}
	without := map[string]bool{}
	for _, position := range bench.RotaPositions() {
		name := "without-" + position.Key
		without[position.Key] = r.FormValue(name) != ""
		section.Without = append(section.Without, rotaPosition{name, position.Position.Name, without[position.Key]})
	}
	rota, low, err := a.RotaFor(hours, without, p.Drawn.DayIndex)
	if err != nil {
		if code := fault.CodeOf(err); code == "" || code == fault.Internal {
			return err
		}
		section.Trouble = err.Error()
		return nil
	}
	section.Conflict, section.Blocks, section.Short, section.Low = rota.Conflict, rota.Blocks, rota.Short, low
	return nil
}
