package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/acuity"
	"limitans/internal/figure/scene"
)

// offChartWords name what is seen off the chart, long and short.
var offChartWords = [6][2]string{{}, {"counting fingers", "CF"}, {"hand movements", "HM"}, {"light perception", "PL"}, {"no light", "NPL"}, {"no value", "?"}}

// acuityScale places acuity: the scale of the chart, better sight up, and below
// it one row for each step off the chart.
//
//	logMAR lowest ──┐ top
//	               scale
//	logMAR highest ─┘ top + height
//	- - - - - - - - -   the end of the chart
//	counting fingers    row 1
//	hand movements      row 2 …
//	no value            what was written but cannot be read
type acuityScale struct {
	top, height, best, worst, step float64
	rows                           int  // off the chart
	unread                         bool // one more row for what could not be read
	row                            float64
}

func (s acuityScale) y(a CourseAcuity) float64 {
	if a.OffChart > 0 {
		return s.rowY(a.OffChart)
	}
	if math.IsNaN(a.LogMAR) { // a question, or nothing to be read
		return s.rowY(s.rows + 1)
	}
	return s.chartY(a.LogMAR)
}

func (s acuityScale) chartY(logMAR float64) float64 {
	return s.top + s.height*(logMAR-s.best)/(s.worst-s.best)
}

func (s acuityScale) rowY(row int) float64 { return s.top + s.height + 8 + s.row*(float64(row)-0.5) }

func (s acuityScale) bottom() float64 {
	n := s.rows
	if s.unread {
		n++
	}
	if n == 0 {
		return s.top + s.height
	}
	return s.top + s.height + 8 + s.row*float64(n)
}

// scaleOf chooses a scale for values: at least six lines of the chart.
func scaleOf(values []CourseAcuity, height, row float64) acuityScale {
	s := acuityScale{height: height, row: row, best: 0, worst: 0.6}
	for _, a := range values {
		s.rows = max(s.rows, a.OffChart)
		s.unread = s.unread || a.OffChart == 0 && math.IsNaN(a.LogMAR)
		if a.OffChart == 0 && !math.IsNaN(a.LogMAR) {
			s.best, s.worst = math.Min(s.best, a.LogMAR-0.02), math.Max(s.worst, a.LogMAR+0.05)
		}
	}
	s.step = 0.3
	if s.worst-s.best > 1.7 {
		s.step = 0.5
	}
	s.best = math.Floor(s.best*10+1e-9) / 10
	s.worst = math.Ceil(s.worst/s.step-1e-9) * s.step
	return s
}

// acuityLane draws acuity.
func (d *courseDrawing) acuityLane(g *scene.Group, y float64) float64 {
	values := d.chart.Acuity
	if len(values) == 0 {
		return y
	}
	height, row := 136.0, 19.0
	if d.narrow {
		height = 110
	}
	s := scaleOf(values, height, row)
	s.top = d.lane(g, "acuity", "Acuity", "logMAR", y, height) + 4
	d.acuityGrid(g, s)
	lines := d.acuityLine(g, s, values)
	g.Add(lines)
	for _, a := range values {
		if d.axis.within(a.Day) {
			at := scene.Point{X: d.axis.x(a.Day), Y: s.y(a)}
			d.labels.block(boxAt(at, 5))
			d.whisker(g, a.CourseMark, at.Y, d.ink)
			g.Add(d.mark(a.CourseMark, boxAt(at, 5), d.acuityDot(a, at)...))
		}
	}
	d.acuityLabels(s, values)
	return s.bottom()
}

// acuityGrid draws the scale.
func (d *courseDrawing) acuityGrid(g *scene.Group, s acuityScale) {
	dots := scene.Stroke{Colour: d.hair, Width: 1, Dash: []float64{1, 4}}
	for tick := math.Ceil(s.best/s.step-1e-9) * s.step; tick <= s.worst+1e-9; tick += s.step {
		y := s.chartY(tick)
		g.Add(scene.Line(dots, scene.Point{X: d.left, Y: y}, scene.Point{X: d.right, Y: y}))
		d.say(signed("%.1f", math.Round(tick*10)/10+0), courseSpot{scene.Point{X: d.right + 8, Y: y + 4}, scene.Start}, courseSmall, false, d.soft)
	}
	last := s.rows
	if s.unread {
		last++
	}
	if last == 0 {
		return
	}
	y := s.top + s.height + 5
	g.Add(scene.Line(scene.Stroke{Colour: d.soft, Width: 1, Dash: []float64{6, 3}}, scene.Point{X: d.left, Y: y}, scene.Point{X: d.right, Y: y}))
	for i := 1; i <= last; i++ {
		named := offChartWords[i]
		if i > s.rows {
			named = offChartWords[len(offChartWords)-1]
		}
		words := named[0]
		if d.narrow {
			words = named[1]
		}
		d.say(words, courseSpot{scene.Point{X: d.right + 8, Y: s.rowY(i) + 4}, scene.Start}, courseSmall, false, d.soft)
		g.Add(scene.Line(dots, scene.Point{X: d.left, Y: s.rowY(i)}, scene.Point{X: d.right, Y: s.rowY(i)}))
	}
}

// acuityLine joins the values that count; to and from a value off the chart it is
// dashed, for its slope means nothing.
func (d *courseDrawing) acuityLine(g *scene.Group, s acuityScale, values []CourseAcuity) *scene.Group {
	out := &scene.Group{Name: "line"}
	var before *CourseAcuity
	for i := range values {
		a := &values[i]
		if !a.Joined {
			continue
		}
		if before != nil {
			from := scene.Point{X: d.axis.x(before.Day), Y: s.y(*before)}
			to := scene.Point{X: d.axis.x(a.Day), Y: s.y(*a)}
			if p, q, ok := d.clipped(from, to); ok {
				stroke := scene.Stroke{Colour: d.ink, Width: 2.4, Round: true}
				if before.OffChart > 0 || a.OffChart > 0 {
					stroke = scene.Stroke{Colour: d.ink, Width: 1.4, Dash: []float64{5, 4}}
				}
				out.Add(scene.Line(stroke, p, q))
				d.labels.strike(p, q)
			}
		}
		before = a
	}
	return out
}

// acuityDot draws one value: a disc on the chart, a square off it, hollow when it
// does not count, a question mark when nothing could be read.
func (d *courseDrawing) acuityDot(a CourseAcuity, at scene.Point) []scene.Node {
	fill, stroke := d.ink, scene.Stroke{}
	if !a.Counts {
		fill, stroke = d.paper, scene.Stroke{Colour: d.ink, Width: 1.6}
	}
	switch {
	case a.OffChart == 0 && math.IsNaN(a.LogMAR):
		return []scene.Node{
			roundMark(at, 6.5, d.paper, scene.Stroke{Colour: d.ink, Width: 1.2}),
			&scene.Text{At: scene.Point{X: at.X, Y: at.Y + 4}, Value: "?", Size: 11, Bold: true, Anchor: scene.Middle, Colour: d.ink},
		}
	case a.OffChart > 0:
		return []scene.Node{square(at, 4.2, fill, stroke)}
	case a.Counts && !a.Joined: // another value of the same visit
		return []scene.Node{roundMark(at, 3, d.ink, scene.Stroke{})}
	}
	return []scene.Node{roundMark(at, 4.6, fill, stroke)}
}

// acuityLabels writes the values that tell the story: the last one, the one
// before each operation, and what does not count; others where there is room on
// a wide sheet.
func (d *courseDrawing) acuityLabels(s acuityScale, values []CourseAcuity) {
	var order []int
	add := func(i int) {
		if i >= 0 && !slices.Contains(order, i) && d.axis.within(values[i].Day) {
			order = append(order, i)
		}
	}
	add(lastIndex(values, func(a CourseAcuity) bool { return a.Joined }))
	for _, o := range d.chart.Operations {
		if o.Opened {
			add(lastIndex(values, func(a CourseAcuity) bool { return a.Joined && a.Day <= o.Day }))
		}
	}
	for i, at := range order {
		d.acuityLabel(s, values[at], min(i, rankStory))
	}
	said := map[string]bool{}
	for _, a := range values { // the first hollow one of each sort says why
		if a.Counts || said[a.WhyNot] || !d.axis.within(a.Day) {
			continue
		}
		said[a.WhyNot] = true
		at := scene.Point{X: d.axis.x(a.Day), Y: s.y(a)}
		words := notCountedWords(a.WhyNot)
		d.want(rankHelp, courseSmall, false, d.soft, markCost-0.5, around(at, 6, courseSmall), words+", not counted", words)
	}
}

// notCountedWords say in a few words why a value does not count.
func notCountedWords(why string) string {
	switch why {
	case string(acuity.Ask):
		return "two readings"
	case string(acuity.Unusable):
		return "no value"
	case string(acuity.Near):
		return "near"
	}
	return strings.TrimPrefix(wordsOf(why), "taken ")
}

// acuityLabel writes one value: logMAR, and as it was written.
func (d *courseDrawing) acuityLabel(s acuityScale, a CourseAcuity, rank int) {
	text := a.Written
	if a.OffChart == 0 && !math.IsNaN(a.LogMAR) {
		text = signed("%.2f", a.LogMAR)
		if a.Written != "" && len([]rune(a.Written)) <= 14 && a.Written[:min(3, len(a.Written))] != "log" {
			text += " (" + a.Written + ")"
		}
	} else if text == "" && a.OffChart > 0 {
		text = offChartWords[a.OffChart][0]
	}
	at := scene.Point{X: d.axis.x(a.Day), Y: s.y(a)}
	d.want(rank, courseText, false, d.ink, anyCost, around(at, 6, courseText), fitText(text, 170, courseText, false), fitText(text, 70, courseText, false))
	last := &d.wanted[len(d.wanted)-1]
	last.mark = at
	for _, anchor := range []scene.Anchor{scene.Middle, scene.End, scene.Start} {
		last.far = append(last.far, courseSpot{scene.Point{X: at.X, Y: s.top + 9}, anchor}, courseSpot{scene.Point{X: at.X, Y: s.top + s.height - 3}, anchor})
	}
}

// signed writes a number with a true minus sign.
func signed(format string, x float64) string {
	return strings.Replace(fmt.Sprintf(format, x), "-", "−", 1)
}
