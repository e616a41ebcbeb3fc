package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/internal/record"
)

// CourseOf reads the course of an eye from its record. Struck entries do not
// count. The prediction of a bubble is made from what was stored at its
// operation; see [CourseBubble].
func CourseOf(c record.Course, o CourseOptions) CourseChart {
	b := &courseBuilder{course: c, options: o}
	b.chart = CourseChart{Name: cmp.Or(o.Name, "course"), Title: o.Title, Below: o.Below, Today: math.NaN()}
	if b.chart.Title == "" && c.Eye != nil {
		b.chart.Title = sideWords(c.Eye.Side)
	}
	b.operations = standingUntil(c.Operations, o.AsOf)
	b.visits = standingUntil(c.Visits, o.AsOf)
	b.figures = latestFigures(standingUntil(c.Figures, o.AsOf))
	b.scans = standingUntil(c.Scans, o.AsOf)
	b.films = standingUntil(c.Films, o.AsOf)
	b.setZero()
	b.takeOperations()
	b.takeAcuity()
	b.takeFigures()
	b.takeClosures()
	b.takeFills()
	b.takeReadings()
	b.takePressures()
	b.takeEntries()
	b.settleClosures()
	b.settleThickness()
	b.setWindow()
	return b.chart
}

// courseBuilder reads a record into a chart.
type courseBuilder struct {
	course     record.Course
	options    CourseOptions
	chart      CourseChart
	base       int // number of day 0
	operations []*record.Operation
	visits     []*record.Visit
	figures    []*record.HoleFigures
	scans      []*record.Scan
	films      []*record.Film
}

// standingUntil returns what was not struck out and is not certainly later than
// asOf, in order of time.
func standingUntil[T interface {
	comparable
	record.Entity
}](all []T, asOf record.Date,
) []T {
	var none T
	var out []T
	for _, e := range all {
		if e != none && !e.Identity().Struck() && !asOf.CertainlyBefore(e.Links().Day) {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b T) int { return a.Links().Day.Compare(b.Links().Day) })
	return out
}

// latestFigures leaves out figures that later ones stand for.
func latestFigures(all []*record.HoleFigures) []*record.HoleFigures {
	old := map[record.ID]bool{}
	for _, f := range all {
		old[f.Supersedes] = true
	}
	return slices.DeleteFunc(all, func(f *record.HoleFigures) bool { return f.ID != "" && old[f.ID] })
}

// setZero chooses the day that is counted from.
func (b *courseBuilder) setZero() {
	var first record.Date
	take := func(d record.Date) {
		if d.Full() && (!first.Known() || d.Compare(first) < 0) {
			first = d
		}
	}
	if o := record.FirstOperation(b.operations); o != nil {
		take(o.On)
	}
	if !first.Known() {
		for _, o := range b.operations {
			take(o.On)
		}
		for _, v := range b.visits {
			take(v.On)
		}
		for _, f := range b.figures {
			take(f.Taken)
		}
		for _, s := range b.scans {
			take(s.Taken)
		}
		for _, f := range b.films {
			take(f.On)
		}
	}
	if !first.Known() { // no day is known in full
		first = b.somePart()
	}
	b.chart.Zero = record.Date{Year: first.Year, Month: first.Month, Day: first.Day, Relative: first.Relative, Offset: first.Offset}
	b.base, _ = dayNumber(b.chart.Zero)
}

// somePart is the first day of a date that is known in part.
func (b *courseBuilder) somePart() record.Date {
	days := []record.Date{}
	for _, o := range b.operations {
		days = append(days, o.On)
	}
	for _, v := range b.visits {
		days = append(days, v.On)
	}
	for _, f := range b.figures {
		days = append(days, f.Taken)
	}
	for _, d := range days {
		if d.Known() {
			return record.Date{Year: d.Year, Month: max(d.Month, 1), Day: max(d.Day, 1)}
		}
	}
	return record.Date{}
}

// mark places a day; ok is false, and the text goes to the facts without a day,
// when the day is not known.
func (b *courseBuilder) mark(d record.Date, at record.Clock, text string, kind record.Kind, id record.ID) (CourseMark, bool) {
	m := CourseMark{Date: dateWords(d), Text: text}
	if b.options.Link != nil && id != "" {
		m.Href = b.options.Link(kind, id)
	}
	first, last, known := dateSpan(d)
	if !known || d.Relative != b.chart.Zero.Relative || !b.chart.Zero.Known() {
		m.Day, m.Early, m.Late = math.NaN(), math.NaN(), math.NaN()
		b.chart.Undated = append(b.chart.Undated, m)
		return m, false
	}
	m.Early, m.Late = float64(first-b.base), float64(last-b.base)
	m.Day = (m.Early + m.Late) / 2
	if first == last {
		if seconds, ok := at.Seconds(); ok {
			m.Day += float64(seconds) / secondsPerDay
		}
	} else {
		m.Date += " (day not told)"
	}
	return m, true
}

// day places a day by its number alone; NaN when it is not known.
func (b *courseBuilder) day(d record.Date) float64 {
	first, last, known := dateSpan(d)
	if !known || d.Relative != b.chart.Zero.Relative {
		return math.NaN()
	}
	return float64(first+last)/2 - float64(b.base)
}

// setWindow takes window and today from the options.
func (b *courseBuilder) setWindow() {
	if d := b.options.AsOf; d.Full() {
		b.chart.Today = b.day(d)
	}
	from, to := b.day(b.options.From), b.day(b.options.To)
	first, last := courseReach(b.chart)
	if math.IsNaN(from) && math.IsNaN(to) {
		return
	}
	if math.IsNaN(from) {
		from = first
	}
	if math.IsNaN(to) {
		to = last
	}
	if from < to {
		b.chart.From, b.chart.To = from, to+1 // to the end of that day
		return
	}
	b.chart.Notes = append(b.chart.Notes, "The window ends before it begins, so everything is drawn.")
}

// settleClosures joins what was found twice on one day: an open hole to its size,
// "no hole" on a scan to the class of closure. "No hole" is left out where the
// eye never had one to close.
func (b *courseBuilder) settleClosures() {
	c := &b.chart
	told := slices.ContainsFunc(c.Closures, func(x CourseClosure) bool { return x.Class != "" })
	if len(c.Holes) == 0 && !told {
		c.Closures = nil
	}
	all := c.Closures
	c.Closures = nil
	for _, x := range all {
		sameDay := func(m CourseMark) bool { return math.Floor(m.Day) == math.Floor(x.Day) }
		size := slices.IndexFunc(c.Holes, func(h CourseHole) bool { return sameDay(h.CourseMark) && h.SizeUM > 0 })
		class := slices.IndexFunc(all, func(y CourseClosure) bool { return sameDay(y.CourseMark) && y.Class != "" && y.Closed == record.Yes })
		switch {
		case size >= 0 && x.Closed == record.No:
			c.Holes[size].Text += "; " + x.Text
		case x.Class == "" && class >= 0:
			// told by the class below
		default:
			if x.Class != "" && x.Closed == record.Yes && slices.ContainsFunc(all, func(y CourseClosure) bool { return sameDay(y.CourseMark) && y.Class == "" }) {
				x.Text += "; no full-thickness hole found on the scan"
			}
			c.Closures = append(c.Closures, x)
		}
	}
}

// settleThickness tells central thickness with the scan of its day where the eye
// has a hole, whose size is the story; elsewhere it has a lane of its own.
func (b *courseBuilder) settleThickness() {
	c := &b.chart
	if len(c.Holes)+len(c.Closures) == 0 {
		return
	}
	all := c.Thickness
	c.Thickness = nil
	for _, t := range all {
		at := slices.IndexFunc(c.Scans, func(s CourseEntry) bool { return math.Floor(s.Day) == math.Floor(t.Day) })
		if at < 0 {
			c.Thickness = append(c.Thickness, t)
			continue
		}
		c.Scans[at].Text += "; c" + strings.TrimPrefix(t.Text, "C")
	}
}

// note adds a sentence once.
func (b *courseBuilder) note(text string) {
	if !slices.Contains(b.chart.Notes, text) {
		b.chart.Notes = append(b.chart.Notes, text)
	}
}

// wordsOf writes a coded word for people.
func wordsOf[T ~string](word T) string { return strings.ReplaceAll(string(word), "_", " ") }

// joined joins the parts that are not empty.
func joined(separator string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), separator)
}

// takeOperations reads the operations.
func (b *courseBuilder) takeOperations() {
	for _, o := range b.operations {
		text := sentence(wordsOf(o.Procedure))
		var did []string
		for _, p := range o.Peels {
			did = append(did, wordsOf(p.Membrane)+" "+wordsOf(p.State))
		}
		if o.Flap != nil {
			did = append(did, wordsOf(o.Flap.Type)+" flap")
		}
		for _, a := range o.Agents {
			if words := agentWords(a); words != "" {
				did = append(did, words)
			}
		}
		if p := o.EndPressure; p != nil && p.MmHg != nil {
			did = append(did, fmt.Sprintf("%g mmHg at the end", *p.MmHg))
		}
		if len(did) > 0 {
			text += ": " + strings.Join(did, ", ")
		}
		if m, ok := b.mark(o.On, o.StartedAt, text, record.KindOperation, o.ID); ok {
			opened := record.FirstOperation([]*record.Operation{o}) != nil
			b.chart.Operations = append(b.chart.Operations, CourseOperation{CourseMark: m, Label: operationLabel(o), Opened: opened})
		}
	}
	sortByDay(b.chart.Operations, func(o CourseOperation) CourseMark { return o.CourseMark })
}

// sortByDay orders marks by the day they are drawn at.
func sortByDay[T any](all []T, of func(T) CourseMark) {
	slices.SortStableFunc(all, func(a, b T) int { return cmp.Compare(of(a).Day, of(b).Day) })
}

// agentWords says what was done with an agent that stays or leaves; nothing for
// what is only used.
func agentWords(a record.AgentUse) string {
	name := cmp.Or(gasWords(a), a.Product, wordsOf(a.Class))
	switch a.Action {
	case record.AgentPlaced:
		return name + " left in"
	case record.AgentRemoved:
		return name + " taken out"
	case record.AgentPartlyRemoved:
		return name + " taken out in part"
	case record.AgentUsed:
		if a.Class == record.AgentHeavyLiquid || a.Class == record.AgentDye {
			return name + " used"
		}
	}
	return ""
}

// gasWords writes gas and share: "SF6 20 %".
func gasWords(a record.AgentUse) string {
	switch {
	case a.Class == record.AgentAir:
		return "air"
	case a.Class != record.AgentGas:
		return ""
	case a.Gas == "":
		return joined(" ", "gas", string(a.GasText))
	case a.Percent == nil:
		return string(a.Gas)
	}
	return fmt.Sprintf("%s %g %%", a.Gas, *a.Percent)
}

// operationLabel is a few words that tell one operation from another: what was
// done, and what was left in the eye.
func operationLabel(o *record.Operation) string {
	var what string
	switch {
	case o.Flap != nil:
		what = "flap"
	case slices.ContainsFunc(o.Peels, func(p record.Peel) bool { return p.State == record.Peeled || p.State == record.PartlyPeeled }):
		what = "peel"
	default:
		what = wordsOf(o.Procedure)
	}
	switch o.Procedure {
	case record.Vitrectomy, record.OtherProcedure:
	case record.VitrectomyWithLens:
		what += " and lens"
	default:
		what = wordsOf(o.Procedure)
	}
	for _, a := range o.Agents {
		if a.Action != record.AgentPlaced {
			continue
		}
		switch a.Class {
		case record.AgentGas:
			what += ", " + cmp.Or(string(a.Gas), "gas")
		case record.AgentAir, record.AgentOil, record.AgentHeavyOil, record.AgentHeavyLiquid:
			if !strings.Contains(what, wordsOf(a.Class)) {
				what += ", " + wordsOf(a.Class)
			}
		}
	}
	return sentence(what)
}
