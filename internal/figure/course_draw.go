package figure

import (
	"fmt"
	"math"
	"slices"

	"limitans/internal/caution"
	"limitans/internal/figure/scene"
)

// Measures of a course, in units of 1/96 inch.
const (
	courseWidth  = 1240.0
	narrowBelow  = 640.0
	courseText   = 13.5
	courseSmall  = 12.5
	laneGap      = 18.0
	narrowGap    = 8.0 // between lanes that have their names over them
	entryHeight  = 24.0
	fillHeight   = 24.0
	courseAcross = 12.0 // half the least width of what can be pointed at
)

// inks are the colours of a course, by what they stand for.
type inks struct {
	paper, ink, soft, hair                scene.Colour
	act, caution                          scene.Colour
	gas, gasInk, hole                     scene.Colour
	oil, oilInk, liquid, liquidInk        scene.Colour
	bandOpacity, gasOpacity, lensBandTint float64
}

// screenInks follow the page's theme.
var screenInks = inks{
	paper: paper, ink: ink, soft: soft, hair: scene.Opaque(0xddd7cb).As("hair"),
	act: scene.Opaque(0xa83f18).As("act"), caution: scene.Opaque(0x7a5200).As("caution"),
	gas: gasArea, gasInk: gasInk, hole: scene.Opaque(0xc9653d).As("hole"),
	oil: scene.Opaque(0xe6cb86).As("oil"), oilInk: scene.Opaque(0x6b5200).As("oil-ink"),
	liquid: scene.Opaque(0xd3c2e0).As("liquid"), liquidInk: scene.Opaque(0x5b3f7a).As("liquid-ink"),
	bandOpacity: 0.22, gasOpacity: 0.55, lensBandTint: 0.38,
}

// printInks are for black ink on white paper.
var printInks = inks{
	paper: white, ink: black, soft: scene.Opaque(0x444444), hair: scene.Opaque(0xbbbbbb),
	act: black, caution: black,
	gas: scene.Opaque(0xdddddd), gasInk: scene.Opaque(0x333333), hole: scene.Opaque(0x555555),
	oil: scene.Opaque(0xeeeeee), oilInk: black, liquid: white, liquidInk: black,
	bandOpacity: 0.2, gasOpacity: 1, lensBandTint: 0.35,
}

// courseDrawing is a drawing on the way.
type courseDrawing struct {
	*scene.Scene
	inks
	form        CourseForm
	axis        courseAxis
	narrow      bool
	left, right float64 // of the plot
	labels      courseLabels
	chart       CourseChart
	top         float64   // of the lanes of this eye
	names       [2]string // for data attributes: eye, lane
	stop        bool      // the next mark is the first of its lane
	over        *scene.Group
	wanted      []wantedLabel
}

// DrawCourse draws the course of one eye.
func DrawCourse(c CourseChart, form CourseForm) *scene.Scene {
	return DrawCourses([]CourseChart{c}, form)
}

// DrawCourses draws the courses of both eyes, one above the other, along the
// same axis of time. The window is that of the first course.
func DrawCourses(charts []CourseChart, form CourseForm) *scene.Scene {
	if form.Width == 0 {
		form.Width = courseWidth
	}
	d := &courseDrawing{form: form, inks: screenInks, narrow: form.Width < narrowBelow}
	if form.Print {
		d.inks = printInks
	}
	d.Scene = &scene.Scene{Name: "course", Width: form.Width, Paper: d.paper, Title: "Course"}
	if len(charts) > 0 {
		d.Name, d.Title = charts[0].Name, "Course: "+charts[0].Title
	}
	d.left, d.right = 148, form.Width-128
	if d.narrow {
		d.left, d.right = 10, form.Width-46
	}
	y := 0.0
	if form.Sheet {
		y = d.head(charts)
	}
	charts = withOneZero(charts)
	d.layAxis(charts)
	for i, c := range charts {
		if i > 0 {
			y += 2 * laneGap
		}
		y = d.eye(c, y, len(charts) > 1)
		d.Description = joined(" ", d.Description, courseDescription(c))
	}
	if form.Sheet {
		return d.foot(charts, y)
	}
	d.Height = math.Ceil(y + 4)
	return d.Scene
}

// withOneZero counts the days of all courses from the zero of the first. Courses
// that count from different sorts of days are not moved.
func withOneZero(charts []CourseChart) []CourseChart {
	if len(charts) < 2 {
		return charts
	}
	out := slices.Clone(charts)
	first := -1
	for i, c := range out {
		if !c.Zero.Known() {
			continue
		}
		if first < 0 {
			first = i
			continue
		}
		if by, ok := out[first].Zero.DaysUntil(c.Zero); ok {
			out[i] = shiftedCourse(c, float64(by))
			out[i].Zero = out[first].Zero
		}
	}
	return out
}

// layAxis lays one axis for all courses.
func (d *courseDrawing) layAxis(charts []CourseChart) {
	from, to := math.Inf(1), math.Inf(-1)
	var centres []float64
	for _, c := range charts {
		if first, last := courseReach(c); first <= last {
			from, to = math.Min(from, first), math.Max(to, last)
		}
		for _, o := range c.Operations {
			if o.Opened {
				centres = append(centres, o.Day)
			}
		}
	}
	if len(charts) > 0 && charts[0].To > charts[0].From {
		from, to = charts[0].From, charts[0].To
	}
	if !(from <= to) {
		from, to = 0, 1
	}
	inset := 44.0 // so that what stands at the ends is whole
	if d.narrow {
		inset = 18
	}
	d.axis = newCourseAxis(from, to, d.left+inset, d.right-d.left-2*inset, centres)
}

// head writes title and the line below it for a sheet that stands alone.
func (d *courseDrawing) head(charts []CourseChart) float64 {
	g := &scene.Group{Name: "head"}
	y := 14.0
	at := d.side()
	size := titleSize
	if d.narrow {
		size = 16
	}
	title, below := "Course", ""
	if len(charts) == 1 {
		title = cmpOr(charts[0].Title, title)
	}
	if len(charts) > 0 {
		below = charts[0].Below
	}
	for _, line := range scene.Wrap(title, d.Width-2*at, size) {
		y += size * 1.3
		g.Add(&scene.Text{At: scene.Point{X: at, Y: y}, Value: line, Size: size, Bold: true, Colour: d.ink})
	}
	for _, line := range scene.Wrap(below, d.Width-2*at, labelSize) {
		y += labelSize * 1.5
		g.Add(&scene.Text{At: scene.Point{X: at, Y: y}, Value: line, Size: labelSize, Colour: d.soft})
	}
	d.Add(g)
	return y + 18
}

// side is the margin of a sheet.
func (d *courseDrawing) side() float64 {
	if d.narrow {
		return 10
	}
	return margin
}

// foot writes notes and cautions for a sheet that stands alone.
func (d *courseDrawing) foot(charts []CourseChart, y float64) *scene.Scene {
	y += 16
	at := d.side()
	g := &scene.Group{Name: "foot"}
	g.Add(scene.Line(scene.Stroke{Colour: d.hair, Width: 1}, scene.Point{X: at, Y: y}, scene.Point{X: d.Width - at, Y: y}))
	y += 4
	var notes []string
	for _, c := range charts {
		for _, m := range c.Undated {
			notes = append(notes, "Day not known: "+m.Text+".")
		}
		notes = append(notes, c.Notes...)
	}
	notes = append(notes, courseKey)
	seen := map[string]bool{}
	for _, note := range append(notes, caution.Short()) {
		if seen[note] {
			continue
		}
		seen[note] = true
		for _, line := range scene.Wrap(note, d.Width-2*at, footSize) {
			y += 16
			g.Add(&scene.Text{At: scene.Point{X: at, Y: y}, Value: line, Size: footSize, Colour: d.soft})
		}
	}
	d.Add(g)
	d.Height = math.Ceil(y + 16)
	return d.Scene
}

// courseKey explains what no label can.
const courseKey = "Time runs slower around each operation, so that its first days can be read; it is the same for all lanes. " +
	"Hollow: a value that does not count (through gas, or a question). Size of the hole: the lens is the minimum linear diameter, its pale rim the 95 % interval. " +
	"Off the chart sight has an order, but no distance on the scale. A level whisker: the day is known in part only."

// eye draws all lanes of one eye from y on and returns where they end.
func (d *courseDrawing) eye(c CourseChart, y float64, named bool) float64 {
	d.chart = c
	d.names[0] = c.Title
	d.labels = courseLabels{bounds: scene.Rect{X: 2, Y: y, Width: d.Width - 4, Height: 1e6}, plotLeft: d.left}
	d.over = &scene.Group{Name: "labels"}
	back := &scene.Group{Name: "back"}
	lanes := &scene.Group{Name: "lanes"}
	d.Add(back, lanes, d.over)
	if named {
		d.say(c.Title, courseSpot{scene.Point{X: d.side() - 10 + 10, Y: y + 20}, scene.Start}, 16, true, d.ink)
		y += 30
		d.labels.bounds.Y = y
	}
	if courseIsEmpty(c) {
		return d.nothing(lanes, y)
	}
	d.top = y
	y = d.operationLabels(lanes, y)
	first := y
	gap := laneGap
	if d.narrow {
		gap = narrowGap
	}
	for _, lane := range []func(*scene.Group, float64) float64{
		d.acuityLane, d.holeLane, d.thicknessLane, d.bubbleLane, d.fillingLanes, d.pressureLane, d.entryLanes,
	} {
		g := &scene.Group{Name: "lane"}
		end := lane(g, y)
		if end > y {
			lanes.Add(g)
			y = end + gap
		}
	}
	y -= gap - 6
	d.rules(back, first, y)
	end := d.timeAxis(lanes, back, first, y)
	d.writeWanted()
	return end
}

// rules draws the upright lines of the operations and of today through the lanes.
func (d *courseDrawing) rules(back *scene.Group, from, to float64) {
	for _, o := range d.chart.Operations {
		if !d.axis.within(o.Day) {
			continue
		}
		x := d.axis.x(o.Day)
		stroke := scene.Stroke{Colour: d.act, Width: 2}
		if !o.Opened {
			stroke.Width, stroke.Dash = 1.2, []float64{3, 3}
		}
		back.Add(scene.Line(stroke, scene.Point{X: x, Y: d.top}, scene.Point{X: x, Y: to}))
		d.labels.strike(scene.Point{X: x, Y: from}, scene.Point{X: x, Y: to})
	}
	if t := d.chart.Today; d.axis.within(t) {
		x := d.axis.x(t)
		back.Add(scene.Line(scene.Stroke{Colour: d.soft, Width: 1, Dash: []float64{2, 4}}, scene.Point{X: x, Y: from}, scene.Point{X: x, Y: to}))
	}
}

// mark makes a mark of a lane with its data; it is the stop of its lane when it
// is the first.
func (d *courseDrawing) mark(m CourseMark, reach scene.Rect, nodes ...scene.Node) *scene.Mark {
	text := m.Text
	if m.Date != "" {
		text = m.Date + ": " + m.Text
	}
	out := &scene.Mark{
		Name: d.names[1], Text: text, Href: m.Href, Stop: d.stop, Reach: atLeast(reach), Nodes: nodes,
		Data: []scene.Datum{
			{Name: "day", Value: fmt.Sprintf("%.4g", m.Day)},
			{Name: "date", Value: m.Date},
			{Name: "lane", Value: d.names[1]},
			{Name: "x", Value: fmt.Sprintf("%.1f", d.axis.x(d.axis.clip(m.Day)))},
		},
	}
	if d.names[0] != "" {
		out.Data = append(out.Data, scene.Datum{Name: "eye", Value: d.names[0]})
	}
	d.stop = false
	return out
}

// atLeast widens a reach to the least size of a target.
func atLeast(r scene.Rect) scene.Rect {
	if r.Width < 2*courseAcross {
		r.X, r.Width = r.X+r.Width/2-courseAcross, 2*courseAcross
	}
	if r.Height < 2*courseAcross {
		r.Y, r.Height = r.Y+r.Height/2-courseAcross, 2*courseAcross
	}
	return r
}

// lane begins a lane: its name, and the first mark as its stop. Beside the lane
// where there is room, else over it; it returns where the lane's plot begins.
func (d *courseDrawing) lane(g *scene.Group, key, name, below string, y, height float64) float64 {
	d.names[1], d.stop = key, true
	g.Name = "lane " + key
	if d.narrow {
		d.say(joined(", ", name, below), courseSpot{scene.Point{X: d.left - 2, Y: y + 11}, scene.Start}, courseSmall, true, d.ink)
		return y + 18
	}
	middle := y + height/2
	if below != "" {
		middle -= 7
		d.say(below, courseSpot{scene.Point{X: d.left - 14, Y: middle + 21}, scene.End}, courseSmall, false, d.soft)
	}
	d.say(name, courseSpot{scene.Point{X: d.left - 14, Y: middle + 4}, scene.End}, 15, true, d.ink)
	return y
}

// say writes a label where it must stand.
func (d *courseDrawing) say(text string, s courseSpot, size float64, bold bool, colour scene.Colour) {
	d.labels.taken = append(d.labels.taken, labelBox(text, size, bold, s))
	d.over.Add(&scene.Text{At: s.at, Anchor: s.anchor, Value: text, Size: size, Bold: bold, Colour: colour, Halo: d.paper})
}

// wantedLabel is a label that waits until all marks are drawn.
type wantedLabel struct {
	rank   int // smaller goes first
	texts  []string
	size   float64
	bold   bool
	colour scene.Colour
	most   float64 // what it may hide
	spots  []courseSpot
	halo   scene.Colour
	// far are places off the mark, right over or under it, for when all near ones
	// hide too much; a thin leader then runs to the mark.
	far  []courseSpot
	mark scene.Point
}

// nearCost is what a near place may hide before a far one is better.
const nearCost = 2.6

// The ranks of labels, and what the least of them may hide.
const (
	rankMust = iota
	rankStory
	rankHelp
	rankMore
	anyCost = 1e9
)

// want asks for a label; of the texts the first that has room is taken.
func (d *courseDrawing) want(rank int, size float64, bold bool, colour scene.Colour, most float64, spots []courseSpot, texts ...string) {
	d.wanted = append(d.wanted, wantedLabel{rank: rank, texts: texts, size: size, bold: bold, colour: colour, most: most, spots: spots, halo: d.paper})
}

// writeWanted writes the labels that were asked for and have room.
func (d *courseDrawing) writeWanted() {
	slices.SortStableFunc(d.wanted, func(a, b wantedLabel) int { return a.rank - b.rank })
	for _, w := range d.wanted {
		for _, text := range w.texts {
			if d.writeOne(w, text) {
				break
			}
		}
	}
	d.wanted = nil
}

// writeOne writes a text of a label, if it has room.
func (d *courseDrawing) writeOne(w wantedLabel, text string) bool {
	most := w.most
	if len(w.far) > 0 {
		most = nearCost
	}
	s, ok := d.labels.place(text, w.size, w.bold, most, w.spots...)
	if !ok && len(w.far) > 0 {
		if s, ok = d.labels.place(text, w.size, w.bold, w.most, append(w.far, w.spots...)...); ok && slices.Contains(w.far, s) {
			box := labelBox(text, w.size, w.bold, s)
			end := scene.Point{X: w.mark.X, Y: box.Bottom()}
			if box.Y > w.mark.Y {
				end.Y = box.Y
			}
			d.over.Add(scene.Line(scene.Stroke{Colour: d.soft, Width: 0.8}, w.mark, end))
		}
	}
	if ok {
		d.over.Add(&scene.Text{At: s.at, Anchor: s.anchor, Value: text, Size: w.size, Bold: w.bold, Colour: w.colour, Halo: w.halo})
	}
	return ok
}

// whisker draws the days that a mark may have been of, when there are several.
func (d *courseDrawing) whisker(g *scene.Group, m CourseMark, y float64, colour scene.Colour) {
	if m.Early == m.Late || m.Late < d.axis.from || m.Early > d.axis.to {
		return
	}
	a, b := scene.Point{X: d.axis.x(d.axis.clip(m.Early)), Y: y}, scene.Point{X: d.axis.x(d.axis.clip(m.Late + 1)), Y: y}
	d.labels.strike(a, b)
	s := scene.Stroke{Colour: colour, Width: 1.2}
	g.Add(scene.Line(s, a, b), scene.Line(s, scene.Point{X: a.X, Y: y - 4}, scene.Point{X: a.X, Y: y + 4}), scene.Line(s, scene.Point{X: b.X, Y: y - 4}, scene.Point{X: b.X, Y: y + 4}))
}

// nothing is the picture of an eye without a course: what to do first.
func (d *courseDrawing) nothing(g *scene.Group, y float64) float64 {
	line := y + 30
	at := d.side()
	dots := scene.Stroke{Colour: d.soft, Width: 2, Dash: []float64{0.1, 9}, Round: true}
	g.Add(scene.Line(dots, scene.Point{X: at, Y: line}, scene.Point{X: d.Width - at, Y: line}))
	g.Add(roundMark(scene.Point{X: at + 6, Y: line}, 6, d.paper, scene.Stroke{Colour: d.ink, Width: 1.6}))
	y = line + 38
	for i, text := range []string{"Nothing is recorded for this eye yet.", "Bring its first scan, or enter its first visit: each becomes a mark on this line."} {
		for _, row := range scene.Wrap(text, d.Width-2*at, 15) {
			d.say(row, courseSpot{scene.Point{X: at, Y: y}, scene.Start}, 15, i == 0, d.ink)
			y += 23
		}
	}
	for _, m := range d.chart.Undated {
		for _, row := range scene.Wrap("Day not known: "+m.Text, d.Width-2*at, labelSize) {
			d.say(row, courseSpot{scene.Point{X: at, Y: y}, scene.Start}, labelSize, false, d.soft)
			y += 20
		}
	}
	return y
}

// courseIsEmpty reports a course without a single mark.
func courseIsEmpty(c CourseChart) bool {
	_, _, any := courseEnds(c)
	return !any
}

// cmpOr is the first text that is not empty.
func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
