package web

import (
	"net/http"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/tamponade"
)

// bandWords writes a value with its band.
func bandWords(value, low, high float64, decimals int, unit string) string {
	n := func(x float64) string { return strconv.FormatFloat(x, 'f', decimals, 64) }
	return n(value) + " " + unit + " (" + n(low) + " to " + n(high) + ")"
}

// diaries tells for the day that is drawn in how many of its hours each target is
// covered, by how the day is spent.
func (d *drawnBubble) diaries(r *http.Request, a *bench.BubbleAnswer, fill estimate.Estimate) error {
	all := bench.Diaries()
	if own, told := ownDiary(r); told {
		all = append(all, bench.Diary{Name: "done, as this patient tells it", Day: own})
	}
	for _, t := range a.Targets {
		d.Targets = append(d.Targets, t.Name)
	}
	for _, one := range all {
		row := diaryHours{Words: one.Name}
		for _, t := range a.Targets {
			hours, err := tamponade.SupportHours(one.Day, t, []estimate.Estimate{fill})
			if err != nil {
				return err
			}
			row.Hours = append(row.Hours, hourBand(hours[0]))
		}
		d.Diary = append(d.Diary, row)
	}
	return nil
}

// dates are the days of the course with their bands.
func (p *bubblePage) dates(a *bench.BubbleAnswer) {
	for i, what := range []string{"half full", "a tenth full", "gone"} {
		p.Dates = append(p.Dates, p.date(what, a.Prediction.LastAboveDay[i]))
	}
	for _, t := range a.Targets {
		table := coverTable{Target: t.Name}
		for i, e := range a.Covered[t.Name] {
			row := p.date(bench.BubblePostures[i].Position.Name, e)
			row.Days = bench.CoveredWords(e)
			if !e.Known() || e.High == 0 || strings.HasPrefix(row.Days, "never") {
				row.Calendar = ""
			}
			table.Rows = append(table.Rows, row)
		}
		p.Cover = append(p.Cover, table)
	}
}

func (p *bubblePage) date(what string, e estimate.Estimate) bubbleDate {
	d := bubbleDate{What: what, Days: "not computed: " + e.Basis}
	if !e.Known() {
		return d
	}
	d.Days = bandWords(e.Value, e.Low, e.High, 0, "days")
	if middle, low, high := p.calendar(e.Value), p.calendar(e.Low), p.calendar(e.High); middle != "" {
		d.Calendar = middle + " (" + low + " to " + high + ")"
	}
	return d
}

// besideTable compares this bubble with another one in the same eye.
type besideTable struct {
	Fields  []bench.Field
	Trouble string
	Names   []string
	Rows    []besideRow
	Answer  string
}

type besideRow struct {
	What  string
	Cells []string
}

// beside computes another agent, share or fill in the same eye.
func (p *bubblePage) beside(r *http.Request, a *bench.BubbleAnswer) error {
	p.Beside = &besideTable{}
	other := a.Asked
	other.Seen, other.SeenHeight = nil, nil // what was seen belongs to the bubble that is there
	// What is not told yet stands at its field; a calculator that cannot be asked at
	// all says so when it is asked.
	fields, _ := bench.Read(&other, func(name string) string {
		for _, own := range []string{"gas", "percent", "fill"} {
			if name == own {
				return r.FormValue("other-" + name)
			}
		}
		return ""
	})
	for _, f := range fields {
		switch f.Name {
		case "gas", "percent", "fill":
			f.Name = "other-" + f.Name
			f.Required = false
			p.Beside.Fields = append(p.Beside.Fields, f)
		}
	}
	if r.FormValue("other-gas") == "" {
		for i := range p.Beside.Fields {
			p.Beside.Fields[i].Trouble = ""
		}
		return nil
	}
	// Only the three are asked; the eye is the same.
	asked := a.Asked
	asked.Seen, asked.SeenHeight, asked.Gas, asked.Percent, asked.Fill = nil, nil, other.Gas, nil, other.Fill
	if text := r.FormValue("other-percent"); text != "" {
		asked.Percent = &text
	}
	answer, err := bubbleAnswers.of(asked)
	if err != nil {
		if code := fault.CodeOf(err); code == "" || code == fault.Internal {
			return err
		}
		p.Beside.Trouble = err.Error()
		return nil
	}
	p.Beside.compare(a, answer)
	return nil
}

// compare fills the rows.
func (b *besideTable) compare(these ...*bench.BubbleAnswer) {
	row := func(what string, cell func(*bench.BubbleAnswer) string) {
		out := besideRow{What: what}
		for _, a := range these {
			out.Cells = append(out.Cells, cell(a))
		}
		b.Rows = append(b.Rows, out)
	}
	for _, a := range these {
		name := a.Bubble.Mixture.String() + ", fill " + strconv.FormatFloat(100*a.Bubble.Fill, 'f', 0, 64) + " %"
		if len(a.Seen) > 0 {
			name += ", with what was seen"
		}
		b.Names = append(b.Names, name)
	}
	days := func(e estimate.Estimate) string {
		if !e.Known() {
			return "not computed"
		}
		return bandWords(e.Value, e.Low, e.High, 0, "days")
	}
	for i, what := range []string{"half full", "a tenth full", "gone"} {
		row(what, func(a *bench.BubbleAnswer) string { return days(a.Prediction.LastAboveDay[i]) })
	}
	row("highest pressure", func(a *bench.BubbleAnswer) string {
		e := a.Peak.PressureMMHg
		if !e.Known() {
			return "not computed"
		}
		return bandWords(e.Value, e.Low, e.High, 0, "mmHg")
	})
	for i, posture := range bench.BubblePostures {
		row("macula, "+posture.Position.Name, func(a *bench.BubbleAnswer) string { return bench.CoveredWords(a.Covered["macula"][i]) })
	}
}

// mediumSheet is oil or heavy liquid that is, or was, in the eye.
type mediumSheet struct {
	Title string
	Sheet *bench.Sheet
}

// media fills the sheets of oil and heavy liquid, and the form of what the record
// does not hold of an eye with oil.
func (p *bubblePage) media(r *http.Request, c *store.Course, today record.Date) error {
	var asked bench.OilAsked
	for _, content := range c.InEye {
		var sheet *bench.Sheet
		var err error
		switch content.Medium {
		case record.MediumOil, record.MediumHeavyOil:
			if p.OilFields == nil {
				if asked, p.OilFields, err = bench.OilQuestion(c.Course, today, r.Form.Get); err != nil {
					asked = bench.OilAsked{} // what is wrong stands at its field; nothing is computed from the rest
				}
			}
			sheet, err = bench.OilOfEye(c.Course, content, today, asked)
			if bench.Blame(p.OilFields, err) {
				sheet, err = bench.OilOfEye(c.Course, content, today, bench.OilAsked{})
			}
		case record.MediumHeavyLiquid:
			sheet, err = bench.LiquidOfEye(c.Course, content, today)
		default:
			continue
		}
		if err != nil {
			return err
		}
		p.Media = append(p.Media, mediumSheet{sheet.Title, sheet})
	}
	return nil
}
