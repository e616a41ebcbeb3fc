package figure

import (
	"cmp"
	"math"
	"slices"

	"limitans/internal/record"
)

// eachMark calls do for every mark of a course with the key of its lane.
func (c *CourseChart) eachMark(do func(lane string, m *CourseMark)) {
	for i := range c.Operations {
		do("operation", &c.Operations[i].CourseMark)
	}
	for i := range c.Acuity {
		do("acuity", &c.Acuity[i].CourseMark)
	}
	for i := range c.Holes {
		do("hole", &c.Holes[i].CourseMark)
	}
	for i := range c.Closures {
		do("hole", &c.Closures[i].CourseMark)
	}
	for i := range c.Thickness {
		do("thickness", &c.Thickness[i].CourseMark)
	}
	for i := range c.Bubbles {
		do("bubble", &c.Bubbles[i].CourseMark)
	}
	for i := range c.Readings {
		do("bubble", &c.Readings[i].CourseMark)
	}
	for i := range c.Fillings {
		do("filling", &c.Fillings[i].CourseMark)
	}
	for i := range c.Pressures {
		do("pressure", &c.Pressures[i].CourseMark)
	}
	for i := range c.Visits {
		do("visit", &c.Visits[i].CourseMark)
	}
	for i := range c.Scans {
		do("scan", &c.Scans[i].CourseMark)
	}
	for i := range c.Films {
		do("film", &c.Films[i].CourseMark)
	}
}

// courseEnds returns the first and the last day of what happened; any is false
// for a course without a mark.
func courseEnds(c CourseChart) (first, last float64, any bool) {
	first, last = math.Inf(1), math.Inf(-1)
	c.eachMark(func(_ string, m *CourseMark) {
		first, last = math.Min(first, m.Early), math.Max(last, math.Max(m.Late, m.Day))
	})
	return first, last, first <= last
}

// courseReach is what has to be drawn: what happened, up to today, and how long
// a bubble that nobody saw gone is expected to be there. first is after last
// for a course without a mark.
func courseReach(c CourseChart) (first, last float64) {
	first, last, any := courseEnds(c)
	if !any {
		return first, last
	}
	last = math.Max(last, cmpNumber(c.Today, last))
	for _, b := range c.Bubbles {
		if n := len(b.Days); n > 0 && math.IsNaN(b.Until) {
			last = math.Max(last, b.Day+b.Days[n-1])
		}
		last = math.Max(last, cmpNumber(b.Until, last))
	}
	for _, f := range c.Fillings {
		last = math.Max(last, cmpNumber(f.Until, last))
	}
	return first, last
}

// cmpNumber is the first number that is one.
func cmpNumber(a, b float64) float64 {
	if math.IsNaN(a) {
		return b
	}
	return a
}

// shiftedCourse moves a course by days; the caller's chart is not changed.
func shiftedCourse(c CourseChart, by float64) CourseChart {
	c.Operations, c.Acuity, c.Holes = slices.Clone(c.Operations), slices.Clone(c.Acuity), slices.Clone(c.Holes)
	c.Closures, c.Thickness, c.Bubbles = slices.Clone(c.Closures), slices.Clone(c.Thickness), slices.Clone(c.Bubbles)
	c.Readings, c.Fillings, c.Pressures = slices.Clone(c.Readings), slices.Clone(c.Fillings), slices.Clone(c.Pressures)
	c.Visits, c.Scans, c.Films = slices.Clone(c.Visits), slices.Clone(c.Scans), slices.Clone(c.Films)
	c.eachMark(func(_ string, m *CourseMark) { m.Day, m.Early, m.Late = m.Day+by, m.Early+by, m.Late+by })
	for i := range c.Bubbles {
		c.Bubbles[i].Until += by
	}
	for i := range c.Fillings {
		c.Fillings[i].Until += by
	}
	c.Today += by
	if c.From < c.To {
		c.From, c.To = c.From+by, c.To+by
	}
	return c
}

// CourseFact is one thing that a course picture shows, in words.
type CourseFact struct {
	// Day counts from the chart's zero; nil when the day is not known.
	Day  *float64 `json:"day"`
	Date string   `json:"date"`
	Lane string   `json:"lane"` // operation, acuity, hole, thickness, bubble, filling, pressure, visit, scan, film
	Text string   `json:"text"`
	Href string   `json:"href,omitempty"`
}

// CourseFacts lists all that a course picture shows, in order of time, facts
// without a day last: the same facts as a table, for who cannot see the picture.
func CourseFacts(c CourseChart) []CourseFact {
	var out []CourseFact
	c.eachMark(func(lane string, m *CourseMark) {
		day := math.Round(1000*m.Day) / 1000
		out = append(out, CourseFact{&day, m.Date, lane, m.Text, m.Href})
	})
	slices.SortStableFunc(out, func(a, b CourseFact) int { return cmp.Compare(math.Floor(*a.Day), math.Floor(*b.Day)) })
	for _, m := range c.Undated {
		out = append(out, CourseFact{Date: m.Date, Lane: "undated", Text: m.Text, Href: m.Href})
	}
	return out
}

// CourseZoom is a window worth looking at.
type CourseZoom struct {
	Label string
	// From and To are days for [CourseOptions]; unknown for everything.
	From, To record.Date
}

// CourseZooms lists the windows of a course: everything, the weeks around each
// operation that opened the eye, the last year.
func CourseZooms(c CourseChart) []CourseZoom {
	out := []CourseZoom{{Label: "Everything"}}
	add := func(label string, from, to float64) {
		a, okA := c.Zero.AddDays(int(math.Floor(from)))
		b, okB := c.Zero.AddDays(int(math.Ceil(to)))
		if okA && okB {
			out = append(out, CourseZoom{label, a, b})
		}
	}
	const before, after = 14, 60
	for _, o := range c.Operations {
		if o.Opened && o.Early == o.Late {
			add("Around "+o.Date, o.Early-before, o.Early+after)
		}
	}
	if first, last := courseReach(c); last-first > 2*365 {
		add("Last year", last-365, last)
	}
	return out
}

// courseDescription tells the picture to who cannot see it.
func courseDescription(c CourseChart) string {
	if _, _, any := courseEnds(c); !any {
		return joined(": ", c.Title, "nothing is recorded yet.")
	}
	text := c.Title + "."
	for _, o := range c.Operations {
		text += " " + o.Date + ": " + o.Label + "."
	}
	if n := lastIndex(c.Acuity, func(a CourseAcuity) bool { return a.Joined }); n >= 0 {
		text += " Last: " + c.Acuity[n].Date + ", " + c.Acuity[n].Text + "."
	}
	if n := len(c.Holes); n > 0 {
		text += " Last size: " + c.Holes[n-1].Date + ", " + c.Holes[n-1].Text + "."
	}
	if n := len(c.Closures); n > 0 {
		text += " " + c.Closures[n-1].Date + ": " + c.Closures[n-1].Text + "."
	}
	for _, b := range c.Bubbles {
		if math.IsNaN(b.Until) {
			text += " " + b.Text + "."
		}
	}
	for _, f := range c.Fillings {
		text += " " + f.Text + "."
	}
	return text
}

// lastIndex is the last place in a list where is holds, or -1.
func lastIndex[T any](all []T, is func(T) bool) int {
	for i := len(all) - 1; i >= 0; i-- {
		if is(all[i]) {
			return i
		}
	}
	return -1
}
