package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

// The widths of a page, a tablet and a telephone.
var courseWidths = []float64{1240, 900, 390}

// TestTimeRisesOnTheAxis: whatever the operations, later is further right, the
// window fills the plot, and an operation's first days get more room than as
// many days long after it.
func TestTimeRisesOnTheAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-4000, 100).Draw(t, "from")
		to := from + rapid.Float64Range(0.5, 8000).Draw(t, "days")
		centres := rapid.SliceOfN(rapid.Float64Range(-500, 3000), 0, 6).Draw(t, "operations")
		a := newCourseAxis(from, to, 100, 800, centres)
		if math.Abs(a.x(from)-100) > 1e-6 || math.Abs(a.x(to)-900) > 1e-6 {
			t.Fatalf("ends at %g and %g", a.x(from), a.x(to))
		}
		before := a.x(from)
		for i := 1; i <= 400; i++ {
			x := a.x(from + (to-from)*float64(i)/400)
			if !(x > before) {
				t.Fatalf("x %g after %g", x, before)
			}
			before = x
		}
	})
	a := newCourseAxis(-100, 1000, 0, 1000, []float64{0})
	if week, late := a.x(7)-a.x(0), a.x(707)-a.x(700); week < 10*late {
		t.Errorf("first week %g wide, a later one %g", week, late)
	}
	straight := newCourseAxis(0, 10, 0, 100, nil)
	if x := straight.x(2.5); math.Abs(x-25) > 1e-9 {
		t.Errorf("without an operation day 2.5 of 10 stands at %g of 100", x)
	}
}

// drawnText is a text of a drawing with the room it takes.
type drawnText struct {
	text string
	box  scene.Rect
}

// textsOf lists the texts of nodes but for the single signs inside marks.
func textsOf(nodes []scene.Node) []drawnText {
	var out []drawnText
	for _, n := range nodes {
		switch n := n.(type) {
		case *scene.Group:
			out = append(out, textsOf(n.Nodes)...)
		case *scene.Mark:
			out = append(out, textsOf(n.Nodes)...)
		case *scene.Text:
			if len([]rune(n.Value)) > 1 {
				out = append(out, drawnText{n.Value, labelBox(n.Value, n.Size, n.Bold, courseSpot{n.At, n.Anchor})})
			}
		}
	}
	return out
}

// labelsApart reports two texts of a drawing that lie on each other, and texts
// that leave the sheet.
func labelsApart(s *scene.Scene) error {
	all := textsOf(s.Nodes)
	for i, a := range all {
		if a.box.X < 0 || a.box.Right() > s.Width || a.box.Y < -1 || a.box.Bottom() > s.Height+1 {
			return fmt.Errorf("%q at %v leaves the sheet of %g × %g", a.text, a.box, s.Width, s.Height)
		}
		for _, b := range all[:i] {
			if overlap(a.box, b.box) {
				return fmt.Errorf("%q at %v lies on %q at %v", a.text, a.box, b.text, b.box)
			}
		}
	}
	return nil
}

// sampleCourses are the invented clinic's eyes and those told by hand.
func sampleCourses(t testing.TB) map[string]CourseChart {
	t.Helper()
	out := map[string]CourseChart{
		"three operations and oil": CourseOf(longCourse(), CourseOptions{AsOf: courseToday}),
		"forty visits":             CourseOf(crowdedCourse(), CourseOptions{}),
		"days known in part":       CourseOf(vagueCourse(), CourseOptions{AsOf: courseToday}),
		"without days":             CourseOf(relativeCourse(), CourseOptions{}),
		"empty":                    CourseOf(record.Course{}, CourseOptions{AsOf: courseToday}),
	}
	near := CourseOptions{AsOf: courseToday, From: courseDay(-7), To: courseDay(40)}
	out["three operations, window"] = CourseOf(longCourse(), near)
	clinic := demoClinic(t, 60)
	for n := range 60 {
		c, story := demoCourse(t, clinic, n)
		out[fmt.Sprintf("patient %d, %s", n, story)] = CourseOf(c, CourseOptions{AsOf: courseToday})
	}
	return out
}

func TestNoLabelLiesOnAnother(t *testing.T) {
	for name, c := range sampleCourses(t) {
		for _, width := range courseWidths {
			for _, form := range []CourseForm{{Width: width}, {Width: width, Sheet: true, Print: true}} {
				s := DrawCourse(c, form)
				if err := labelsApart(s); err != nil {
					t.Errorf("%s, %g wide: %v", name, width, err)
				}
			}
		}
	}
}

// drawnMark is a mark as a reader of the page finds it.
type drawnMark struct{ class, day, text, title, tabindex, href string }

// inlineMarks reads the marks of a drawing from its SVG, which must be
// well-formed and must not bring style or script.
func inlineMarks(t testing.TB, s *scene.Scene) []drawnMark {
	t.Helper()
	var b bytes.Buffer
	if err := s.WriteInline(&b); err != nil {
		t.Fatal(err)
	}
	var out []drawnMark
	inside := ""
	decoder := xml.NewDecoder(&b)
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			inside = e.Name.Local
			var m drawnMark
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "style", "onclick", "onload":
					t.Errorf("attribute %s on %s", a.Name.Local, inside)
				case "class":
					m.class = a.Value
				case "data-day":
					m.day = a.Value
				case "data-text":
					m.text = a.Value
				case "tabindex":
					m.tabindex = a.Value
				case "href":
					m.href = a.Value
				}
			}
			if inside == "script" || inside == "style" {
				t.Errorf("element %s", inside)
			}
			if strings.HasPrefix(m.class, "mark ") {
				out = append(out, m)
			}
		case xml.CharData:
			if inside == "title" && len(out) > 0 && out[len(out)-1].title == "" {
				out[len(out)-1].title = string(e)
			}
		case xml.EndElement:
			inside = ""
		}
	}
}

// TestEveryFactIsAMark: what the table of facts tells can be found in the
// picture, and nothing else; one mark of a lane is a stop of the tab key.
func TestEveryFactIsAMark(t *testing.T) {
	for name, c := range sampleCourses(t) {
		if strings.Contains(name, "window") {
			continue
		}
		want := map[string]int{}
		dated := 0
		for _, f := range CourseFacts(c) {
			if f.Day != nil {
				want[f.Date+": "+f.Text]++
				dated++
			}
		}
		marks := inlineMarks(t, DrawCourse(c, CourseForm{}))
		if len(marks) != dated {
			t.Errorf("%s: %d marks for %d facts", name, len(marks), dated)
		}
		stops := map[string]int{}
		for _, m := range marks {
			if want[m.text]--; want[m.text] < 0 {
				t.Errorf("%s: the mark %q is no fact", name, m.text)
			}
			if m.title != m.text || m.day == "" {
				t.Errorf("%s: mark %+v", name, m)
			}
			if m.tabindex == "0" {
				stops[m.class]++
			}
		}
		for class, n := range stops {
			if n != 1 && class != "mark filling" {
				t.Errorf("%s: %d stops in lane %q", name, n, class)
			}
		}
	}
}

func TestMarksLead(t *testing.T) {
	o := CourseOptions{AsOf: courseToday, Link: func(kind record.Kind, id record.ID) string {
		return "/" + string(kind) + "/" + string(id) + "?a=1&b=2"
	}}
	kinds := map[string]bool{}
	for _, m := range inlineMarks(t, DrawCourse(CourseOf(longCourse(), o), CourseForm{})) {
		if !strings.HasSuffix(m.href, "?a=1&b=2") {
			t.Errorf("%q leads to %q", m.text, m.href)
			continue
		}
		kinds[strings.Split(m.href, "/")[1]] = true
	}
	for _, kind := range []record.Kind{record.KindVisit, record.KindScan, record.KindFilm, record.KindOperation} {
		if !kinds[string(kind)] {
			t.Errorf("nothing leads to a %s", kind)
		}
	}
}

// vagueCourse has days known in part or not at all.
func vagueCourse() record.Course {
	c := &courseTeller{}
	c.visit(-40, "6/36", 15)
	c.operate(0, record.Vitrectomy, gasUse(record.C3F8, 14)).On = record.Date{Year: 2025, Month: 3}
	c.visit(90, "6/18", 14, func(v *record.Visit) { v.On = record.Date{Year: 2025, Month: 6} })
	c.visit(0, "6/12", 14, func(v *record.Visit) { v.On = record.Date{Raw: "last spring"} })
	c.visit(0, "6/9", 14, func(v *record.Visit) { v.On = record.Date{Year: 2026} })
	return c.Course
}

// relativeCourse is a course as a de-identified view has it.
func relativeCourse() record.Course {
	c := longCourse()
	zero := courseDay(0)
	relative := func(d record.Date) record.Date {
		days, _ := zero.DaysUntil(d)
		return record.RelativeDay(days)
	}
	for _, v := range c.Visits {
		v.On = relative(v.On)
		for i := range v.Acuities {
			v.Acuities[i].Raw = ""
		}
	}
	for _, o := range c.Operations {
		o.On = relative(o.On)
	}
	for _, f := range c.Figures {
		f.Taken = relative(f.Taken)
	}
	for _, s := range c.Scans {
		s.Taken = relative(s.Taken)
	}
	for _, f := range c.Films {
		f.On = relative(f.On)
	}
	return c
}

func TestVagueDaysAreShownAsVague(t *testing.T) {
	c := CourseOf(vagueCourse(), CourseOptions{AsOf: courseToday})
	if len(c.Operations) != 1 || c.Operations[0].Early == c.Operations[0].Late || c.Operations[0].Date != "Mar 2025 (day not told)" {
		t.Errorf("operation %+v", c.Operations)
	}
	undated := 0
	for _, f := range CourseFacts(c) {
		if f.Day == nil {
			undated++
		}
	}
	if undated != 3 { // acuity, pressure and the visit itself
		t.Errorf("%d facts without a day", undated)
	}
	if len(c.Visits) != 3 {
		t.Errorf("%d visits on the line", len(c.Visits))
	}
}

func TestNoCalendarInADeidentifiedCourse(t *testing.T) {
	s := DrawCourse(CourseOf(relativeCourse(), CourseOptions{}), CourseForm{Sheet: true})
	found := false
	for _, text := range textsOf(s.Nodes) {
		if strings.Contains(text.text, "2025") || strings.Contains(text.text, "Mar") {
			t.Errorf("%q", text.text)
		}
		found = found || text.text == "day 95"
	}
	if !found {
		t.Error("the second operation has no day")
	}
}

func TestEmptyEyeSaysWhatToDo(t *testing.T) {
	for _, form := range []CourseForm{{}, {Width: 390}, {Sheet: true}} {
		s := DrawCourse(CourseOf(record.Course{}, CourseOptions{AsOf: courseToday}), form)
		var all string
		for _, text := range textsOf(s.Nodes) {
			all += " " + text.text
		}
		if !strings.Contains(all, "Nothing is recorded for this eye yet.") || !strings.Contains(all, "first visit") {
			t.Errorf("%+v: %s", form, all)
		}
	}
	if s := DrawCourses(nil, CourseForm{}); s.WriteSVG(io.Discard) != nil {
		t.Error("no course at all cannot be written")
	}
}

func TestTwoEyesShareTheAxis(t *testing.T) {
	left, right := CourseOf(longCourse(), CourseOptions{AsOf: courseToday}), CourseOf(crowdedCourse(), CourseOptions{AsOf: courseToday})
	late := &courseTeller{}
	late.visit(200, "6/9", 15)
	late.operate(210, record.Vitrectomy)
	for _, pair := range [][]CourseChart{{left, right}, {right, CourseOf(late.Course, CourseOptions{})}, {left, CourseOf(record.Course{}, CourseOptions{})}} {
		for _, width := range courseWidths {
			s := DrawCourses(pair, CourseForm{Width: width})
			if err := labelsApart(s); err != nil {
				t.Errorf("%g wide: %v", width, err)
			}
		}
	}
	moved := withOneZero([]CourseChart{left, CourseOf(late.Course, CourseOptions{})})[1]
	if got := moved.Operations[0].Day; math.Abs(got-210.375) > 1e-9 {
		t.Errorf("day %g of the other eye", got)
	}
}

// TestAnyChartCanBeDrawn draws charts of arbitrary values.
func TestAnyChartCanBeDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := rapid.Float64Range(-3000, 3000)
		mark := func() CourseMark {
			d := day.Draw(t, "day")
			return CourseMark{Day: d, Early: d - rapid.Float64Range(0, 200).Draw(t, "early"), Late: d + rapid.Float64Range(0, 200).Draw(t, "late"), Date: "a day", Text: rapid.String().Draw(t, "text")}
		}
		c := CourseChart{Title: "Right eye", Today: rapid.SampledFrom([]float64{math.NaN(), 0, 5000}).Draw(t, "today")}
		for range rapid.IntRange(0, 5).Draw(t, "operations") {
			c.Operations = append(c.Operations, CourseOperation{CourseMark: mark(), Label: rapid.StringN(0, 60, -1).Draw(t, "label"), Opened: rapid.Bool().Draw(t, "opened")})
		}
		for range rapid.IntRange(0, 20).Draw(t, "acuities") {
			a := CourseAcuity{CourseMark: mark(), LogMAR: rapid.Float64Range(-0.4, 2.6).Draw(t, "logMAR"), OffChart: rapid.IntRange(0, 4).Draw(t, "off"), Joined: rapid.Bool().Draw(t, "joined"), Counts: rapid.Bool().Draw(t, "counts"), Written: rapid.String().Draw(t, "written")}
			if rapid.Bool().Draw(t, "none") {
				a.LogMAR = math.NaN()
			}
			c.Acuity = append(c.Acuity, a)
		}
		for range rapid.IntRange(0, 6).Draw(t, "holes") {
			um := rapid.Float64Range(0, 2500).Draw(t, "size")
			c.Holes = append(c.Holes, CourseHole{CourseMark: mark(), SizeUM: um, LowUM: um / 2, HighUM: 2 * um})
		}
		for range rapid.IntRange(0, 3).Draw(t, "fillings") {
			c.Fillings = append(c.Fillings, CourseFilling{CourseMark: mark(), Medium: record.MediumOil, Until: rapid.SampledFrom([]float64{math.NaN(), 100, -4000}).Draw(t, "until"), Rest: rapid.Bool().Draw(t, "rest"), Label: rapid.String().Draw(t, "label")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "pressures") {
			c.Pressures = append(c.Pressures, CoursePressure{CourseMark: mark(), MmHg: rapid.Float64Range(0, 90).Draw(t, "mmHg")})
		}
		c.Visits = append(c.Visits, CourseEntry{CourseMark: mark(), Trouble: rapid.String().Draw(t, "trouble")})
		s := DrawCourse(c, CourseForm{Width: rapid.SampledFrom(courseWidths).Draw(t, "width"), Print: rapid.Bool().Draw(t, "print")})
		if err := s.WriteInline(io.Discard); err != nil {
			t.Fatalf("%v (%s)", err, fault.CodeOf(err))
		}
		if err := labelsApart(s); err != nil {
			t.Fatal(err)
		}
	})
}

func BenchmarkDrawCourse(b *testing.B) {
	for name, c := range map[string]record.Course{"three operations": longCourse(), "forty visits": crowdedCourse()} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				s := DrawCourse(CourseOf(c, CourseOptions{AsOf: courseToday}), CourseForm{})
				if err := s.WriteInline(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
