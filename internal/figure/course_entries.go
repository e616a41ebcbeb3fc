package figure

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/internal/record"
)

// offChart orders what is seen off the chart; see [CourseAcuity].
var offChart = map[acuity.Kind]int{
	acuity.CountingFingers: 1, acuity.HandMovements: 2, acuity.LightPerception: 3, acuity.NoLightPerception: 4,
}

// roleOrder is the order in which one value of a visit is taken for the line:
// corrected first, as [record.Baseline] takes it.
var roleOrder = map[acuity.Role]int{acuity.Corrected: 3, acuity.Pinhole: 2, acuity.RoleUnknown: 1, "": 1, acuity.Uncorrected: 0}

// takeAcuity reads the values of acuity; one a visit is joined to the line.
func (b *courseBuilder) takeAcuity() {
	clock := map[record.ID]record.Clock{}
	for _, v := range b.visits {
		clock[v.ID] = v.At
	}
	points := record.AcuityPoints(b.visits)
	best, values := map[record.ID]int{}, map[record.ID]int{}
	for i, p := range points {
		values[p.VisitID]++
		at, have := best[p.VisitID]
		if p.Counts && (!have || roleOrder[p.Entry.Role] > roleOrder[points[at].Entry.Role]) {
			best[p.VisitID] = i
		}
	}
	for i, p := range points {
		m, ok := b.mark(p.On, clock[p.VisitID], acuityText(p), record.KindVisit, p.VisitID)
		if !ok {
			continue
		}
		a := CourseAcuity{CourseMark: m, LogMAR: math.NaN(), OffChart: offChart[p.Entry.Kind], Written: string(p.Raw), Counts: p.Counts, WhyNot: p.WhyNot}
		if p.Entry.Kind == acuity.Measured && p.Entry.LogMAR != nil {
			a.LogMAR = *p.Entry.LogMAR
		}
		if values[p.VisitID] > 1 && p.Entry.Role != acuity.RoleUnknown {
			a.Written = string(p.Entry.Role) // the text holds several values
		}
		at, have := best[p.VisitID]
		a.Joined = have && at == i
		b.chart.Acuity = append(b.chart.Acuity, a)
	}
	sortByDay(b.chart.Acuity, func(a CourseAcuity) CourseMark { return a.CourseMark })
}

// acuityText says a value with what was written and why it may not count.
func acuityText(p record.AcuityPoint) string {
	text := "Acuity "
	if p.Raw != "" {
		text += "“" + string(p.Raw) + "”"
	} else {
		text += wordsOf(string(p.Entry.Kind))
	}
	switch {
	case p.Entry.Kind == acuity.Measured && p.Entry.LogMAR != nil:
		text += signed(", logMAR %.2f", *p.Entry.LogMAR)
	case offChart[p.Entry.Kind] > 0:
		text += ", " + wordsOf(string(p.Entry.Kind)) + ", off the chart"
	}
	if r := p.Entry.Role; r != "" && r != acuity.RoleUnknown {
		text += ", " + string(r)
	}
	if !p.Counts {
		text += "; not counted: " + cmp.Or(notCountedWords(p.WhyNot), "no reason told")
	}
	return text
}

// takeFigures reads sizes of the hole and central thickness from the figures.
func (b *courseBuilder) takeFigures() {
	for _, f := range b.figures {
		kind, id := record.KindFigures, f.ID
		if f.ScanID != "" {
			kind, id = record.KindScan, f.ScanID
		}
		if f.HolePresent == record.No {
			if m, ok := b.mark(f.Taken, "", "No full-thickness hole found on the scan", kind, id); ok {
				b.chart.Closures = append(b.chart.Closures, CourseClosure{CourseMark: m, Label: "no hole", Closed: record.Yes})
			}
		} else if f.MLDUM != nil || f.HolePresent == record.Yes {
			b.takeHole(f, kind, id)
		}
		if t := f.CentralUM; t != nil && t.Known() {
			words, _ := withBand(*t, 0, "µm")
			if m, ok := b.mark(f.Taken, "", "Central thickness "+words, kind, id); ok {
				b.chart.Thickness = append(b.chart.Thickness, CourseThickness{m, t.Value, t.Low, t.High})
			}
		}
	}
	sortByDay(b.chart.Holes, func(h CourseHole) CourseMark { return h.CourseMark })
	sortByDay(b.chart.Thickness, func(t CourseThickness) CourseMark { return t.CourseMark })
}

// takeHole reads one size.
func (b *courseBuilder) takeHole(f *record.HoleFigures, kind record.Kind, id record.ID) {
	size := estimate.Missing("the minimum linear diameter was not measured")
	if f.MLDUM != nil {
		size = *f.MLDUM
	}
	words, ok := withBand(size, 0, "µm")
	text := "Hole, minimum linear diameter " + words
	if !ok {
		text = "Hole, not measured: " + size.Basis
		size.Value, size.Low, size.High = math.NaN(), math.NaN(), math.NaN()
	}
	if f.BaseUM != nil {
		if base, known := withBand(*f.BaseUM, 0, "µm"); known {
			text += ", base " + base
		}
	}
	if f.Source != "" {
		text += "; " + string(f.Source)
	}
	if m, placed := b.mark(f.Taken, "", text, kind, id); placed {
		b.chart.Holes = append(b.chart.Holes, CourseHole{m, size.Value, size.Low, size.High, size.Basis})
	}
}

// closureLabels are the classes of closure in a few words; the whole wording
// with its source is [record.ClosureClasses].
var closureLabels = map[record.ClosureClass]string{
	record.ClosedNoDefect: "closed", record.ClosedWithDefect: "edges down, defect", record.FlatClosed: "flat closed",
	record.FlatOpen: "flat open", record.ElevatedOpen: "elevated open", record.ElevatedClosed: "closed over fluid",
	record.KangType1: "closed, type 1", record.KangType2: "open, type 2", record.ClosureUnread: "not readable", record.Reopened: "reopened",
}

// takeClosures reads how the hole stood at visits.
func (b *courseBuilder) takeClosures() {
	closed := map[record.ClosureClass]record.ClosureClassInfo{}
	for _, c := range record.ClosureClasses() {
		closed[c.Class] = c
	}
	for _, v := range b.visits {
		if v.Closure == nil || v.Closure.Class == "" {
			continue
		}
		info := closed[v.Closure.Class]
		text := "Hole " + info.Words
		if v.Closure.Source != "" {
			text += " (" + strings.Replace(wordsOf(v.Closure.Source), "oct", "OCT", 1) + ")"
		}
		if m, ok := b.mark(v.On, v.At, text, record.KindVisit, v.ID); ok {
			b.chart.Closures = append(b.chart.Closures, CourseClosure{m, v.Closure.Class, closureLabels[v.Closure.Class], info.Closed})
		}
	}
	sortByDay(b.chart.Closures, func(c CourseClosure) CourseMark { return c.CourseMark })
}

// The levels of pressure that are drawn: the upper end of the usual range, and
// what is commonly called soft. Common practice, no source.
const (
	highMmHg = 21.0
	softMmHg = 6.0
)

// takePressures reads the pressures of the visits.
func (b *courseBuilder) takePressures() {
	for _, v := range b.visits {
		for _, p := range v.Pressures {
			if p.MmHg == nil || math.IsNaN(*p.MmHg) || math.IsInf(*p.MmHg, 0) {
				if p.Raw != "" {
					b.mark(record.Date{}, "", "Pressure “"+string(p.Raw)+"” on "+dateWords(v.On)+" has no number", record.KindVisit, v.ID)
				}
				continue
			}
			text := fmt.Sprintf("Pressure %g mmHg", *p.MmHg)
			if p.Method != "" {
				text += ", " + strings.Replace(wordsOf(p.Method), "goldmann", "Goldmann", 1)
			}
			if len(p.Drops) > 0 {
				drops := make([]string, len(p.Drops))
				for i, d := range p.Drops {
					drops[i] = string(d)
				}
				text += "; " + strings.Join(drops, ", ")
			}
			at := p.At
			if at == "" {
				at = v.At
			}
			if m, ok := b.mark(v.On, at, text, record.KindVisit, v.ID); ok {
				b.chart.Pressures = append(b.chart.Pressures, CoursePressure{m, *p.MmHg, len(p.Drops) > 0})
			}
		}
	}
	if len(b.chart.Pressures) > 0 {
		b.chart.PressureLevels = []CourseLevel{{highMmHg, "21"}, {softMmHg, "6"}}
	}
	sortByDay(b.chart.Pressures, func(p CoursePressure) CourseMark { return p.CourseMark })
}

// takeEntries reads visits, scans and films as marks that open.
func (b *courseBuilder) takeEntries() {
	for _, v := range b.visits {
		text, trouble := visitText(v)
		if m, ok := b.mark(v.On, v.At, text, record.KindVisit, v.ID); ok {
			b.chart.Visits = append(b.chart.Visits, CourseEntry{m, trouble})
		}
	}
	for _, s := range b.scans {
		text := "Scan"
		if s.Slices > 0 {
			text += fmt.Sprintf(", %d slices", s.Slices)
		}
		if m, ok := b.mark(s.Taken, s.TakenAt, text, record.KindScan, s.ID); ok {
			b.chart.Scans = append(b.chart.Scans, CourseEntry{CourseMark: m})
		}
	}
	for _, f := range b.films {
		text := "Film"
		if n := len(f.Clips); n > 1 {
			text += fmt.Sprintf(" of %d clips", n)
		}
		if n := len(f.Chapters); n > 0 {
			text += fmt.Sprintf(", %d chapters", n)
		}
		if m, ok := b.mark(f.On, "", text, record.KindFilm, f.ID); ok {
			b.chart.Films = append(b.chart.Films, CourseEntry{CourseMark: m})
		}
	}
	for _, list := range [][]CourseEntry{b.chart.Visits, b.chart.Scans, b.chart.Films} {
		sortByDay(list, func(e CourseEntry) CourseMark { return e.CourseMark })
	}
}

// visitText sums a visit up, with its complications.
func visitText(v *record.Visit) (text, trouble string) {
	parts := []string{"Visit"}
	if v.Elsewhere {
		parts[0] = "Visit elsewhere"
	}
	if v.Lens != "" {
		parts = append(parts, "lens "+wordsOf(v.Lens))
	}
	for _, r := range v.Bubble {
		if r.Medium != record.MediumGas && r.Medium != record.MediumAir && r.FillPercent != nil {
			parts = append(parts, fmt.Sprintf("%s %g %%", wordsOf(r.Medium), *r.FillPercent))
		}
	}
	for _, s := range v.MediaSeen {
		parts = append(parts, wordsOf(s.Medium)+" "+wordsOf(s.State))
	}
	var troubles []string
	for _, c := range v.Complications {
		troubles = append(troubles, wordsOf(c.Code))
	}
	for _, m := range v.Missing {
		parts = append(parts, wordsOf(m.Field)+" "+wordsOf(m.Reason))
	}
	trouble = strings.Join(troubles, ", ")
	if trouble != "" {
		parts = append(parts, "complication: "+trouble)
	}
	return strings.Join(parts, ", "), trouble
}
