package figure

import (
	"math"
	"strings"
	"testing"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/tamponade"
)

// TestFactsOfALongCourse is the whole story as a table.
func TestFactsOfALongCourse(t *testing.T) {
	want := []string{
		"−70 acuity Acuity “6/36”, logMAR 0.78",
		"−70 hole Hole, minimum linear diameter 402 ± 15 µm; by hand",
		"−70 pressure Pressure 15 mmHg, Goldmann applanation",
		"−1 acuity Acuity “0.90”; not counted: two readings",
		"0 operation Vitrectomy: inverted flap, SF6 20 % left in",
		"0 bubble SF6 20 % in the eye until 31 Mar 2025; predicted at surgery: half full on day 2 (1 to 4), gone on day 10 (4 to 19)",
		"1 acuity Acuity “HM”, hand movements, off the chart; not counted: through gas",
		"1 bubble Bubble seen: 82 % of the cavity (72 to 92), read by eye",
		"1 pressure Pressure 27 mmHg, Goldmann applanation; drops",
		"1 visit Visit, complication: high pressure",
		"7 bubble Bubble seen: 55 % of the cavity (45 to 65), read by eye; unlike what was predicted at surgery",
		"30 hole Hole, minimum linear diameter 560 ± 40 µm; by hand; Hole elevated open (OCT)",
		"95 operation Vitrectomy: free flap, Silicone oil 1300 cSt left in",
		"95 filling Silicone oil 1300 cSt, 5.2 mL: some is left, seen droplets on 2 Oct 2025",
		"160 hole Hole flat closed (OCT)",
		"190 operation Oil removal: Silicone oil 1300 cSt taken out",
		"215 visit Visit, oil droplets",
		"300 acuity Acuity “not tested”; not counted: no value",
		"330 operation Lens surgery",
		"520 acuity Acuity “6/12-1”, logMAR 0.32",
	}
	facts := CourseFacts(CourseOf(longCourse(), CourseOptions{AsOf: courseToday}))
	at := 0
	var all []string
	for _, f := range facts {
		line := strings.Join([]string{signed("%.0f", math.Floor(*f.Day)), f.Lane, f.Text}, " ")
		all = append(all, line)
		if at < len(want) && strings.HasPrefix(line, want[at]) {
			at++
		}
	}
	if at < len(want) {
		t.Errorf("missing %q in its place among\n%s", want[at], strings.Join(all, "\n"))
	}
	if len(facts) != 64 {
		t.Errorf("%d facts", len(facts))
	}
}

func TestWhatDoesNotStandDoesNotCount(t *testing.T) {
	c := longCourse()
	all := len(CourseFacts(CourseOf(c, CourseOptions{})))
	c.Visits[0].StruckOut = &record.StrikeOut{Reason: "wrong patient"}
	fewer := len(CourseFacts(CourseOf(c, CourseOptions{})))
	if all-fewer != 3 { // acuity, pressure, visit
		t.Errorf("%d facts with, %d without the visit", all, fewer)
	}
	early := CourseOf(c, CourseOptions{AsOf: courseDay(50)})
	for _, f := range CourseFacts(early) {
		if *f.Day > 51 {
			t.Errorf("day %g of a question on day 50: %s", *f.Day, f.Text)
		}
	}
	corrected := *c.Figures[0]
	corrected.ID, corrected.Supersedes = "new", c.Figures[0].ID
	size := estimate.Estimate{Value: 410, Low: 400, High: 420}
	corrected.MLDUM = &size
	c.Figures = append(c.Figures, &corrected)
	if got := CourseOf(c, CourseOptions{}); len(got.Holes) != 4 || got.Holes[0].SizeUM != 410 {
		t.Errorf("sizes %+v", got.Holes)
	}
	c.Figures[1].MLDUM = nil
	if got := CourseOf(c, CourseOptions{}).Holes[1]; !math.IsNaN(got.SizeUM) || !strings.Contains(got.Text, "not measured") {
		t.Errorf("size %+v", got)
	}
}

func TestOneValueOfAVisitIsJoined(t *testing.T) {
	c := &courseTeller{}
	c.visit(0, "6/12 ph 6/9", 15)
	c.visit(3, "", 0, func(v *record.Visit) {
		for _, e := range []struct {
			text string
			role acuity.Role
		}{{"6/24", acuity.Uncorrected}, {"6/12", acuity.Corrected}, {"6/9", acuity.Pinhole}} {
			v.Acuities = append(v.Acuities, record.AcuityEntry{Raw: record.FreeText(e.text), Understood: acuity.Parse(e.text, acuity.Options{}), Role: e.role})
		}
	})
	c.visit(9, "N8 at 33 cm", 15)
	var joined []string
	for _, a := range CourseOf(c.Course, CourseOptions{}).Acuity {
		if a.Joined {
			joined = append(joined, a.Text)
		}
	}
	if len(joined) != 2 || !strings.Contains(joined[0], "pinhole") || !strings.Contains(joined[1], "6/12") {
		t.Errorf("joined %q", joined)
	}
}

// TestWhatLacksForAPredictionIsSaid: nothing is predicted from less than what is
// needed, and the reason is told.
func TestWhatLacksForAPredictionIsSaid(t *testing.T) {
	change := func(f func(*record.AgentUse)) record.AgentUse {
		a := gasUse(record.SF6, 20)
		f(&a)
		return a
	}
	for _, c := range []struct {
		name, why string
		use       []record.AgentUse
	}{
		{"all there", "", []record.AgentUse{gasUse(record.SF6, 20)}},
		{"air", "", []record.AgentUse{{Class: record.AgentAir, Action: record.AgentPlaced, FullFill: record.Yes}}},
		{"no share", "the share of gas in air is not recorded", []record.AgentUse{change(func(a *record.AgentUse) { a.Percent = nil })}},
		{"no gas", "which gas it was is not recorded", []record.AgentUse{change(func(a *record.AgentUse) { a.Gas = "" })}},
		{"fill not told", "whether the cavity was filled is not recorded", []record.AgentUse{change(func(a *record.AgentUse) { a.FullFill = "" })}},
		{"not filled", "the cavity was not filled", []record.AgentUse{change(func(a *record.AgentUse) { a.FullFill = record.No })}},
		{"retinopexy", "a small volume of pure gas", []record.AgentUse{change(func(a *record.AgentUse) { a.Technique = record.GasRetinopexy })}},
		{"top-up", "gas was added", []record.AgentUse{change(func(a *record.AgentUse) { a.Technique = record.GasTopUp })}},
		{"impossible share", "percent", []record.AgentUse{change(func(a *record.AgentUse) { p := 140.0; a.Percent = &p })}},
		{"two gases", "two gases", []record.AgentUse{gasUse(record.SF6, 20), gasUse(record.C3F8, 14)}},
	} {
		tell := &courseTeller{}
		tell.operate(0, record.Vitrectomy, c.use...)
		tell.visit(1, "HM", 15, reading(80))
		got := CourseOf(tell.Course, CourseOptions{})
		if len(got.Bubbles) == 0 {
			t.Errorf("%s: no bubble", c.name)
			continue
		}
		b := got.Bubbles[0]
		notes := strings.Join(got.Notes, " ")
		switch {
		case c.why == "" && (len(b.Days) == 0 || b.Why != "" || !strings.Contains(notes, tamponade.NotUntilSeenEmpty)):
			t.Errorf("%s: %q, notes %q", c.name, b.Why, notes)
		case c.why != "" && (len(b.Days) != 0 || !strings.Contains(b.Why, c.why) || !strings.Contains(notes, c.why)):
			t.Errorf("%s: %q, notes %q", c.name, b.Why, notes)
		}
		if unlike := got.Readings[0].Unlike; unlike != (c.name == "air") { // air is half gone after a day
			t.Errorf("%s: %s", c.name, got.Readings[0].Text)
		}
	}
	elsewhere := &courseTeller{}
	elsewhere.visit(3, "HM", 15, seenMedium(record.MediumGas, record.LookPartial))
	if got := CourseOf(elsewhere.Course, CourseOptions{}); len(got.Bubbles) != 1 || !strings.Contains(got.Bubbles[0].Why, "elsewhere") {
		t.Errorf("bubble from elsewhere: %+v", got.Bubbles)
	}
}

// TestSharesDoNotDependOnTheCavity is why a prediction needs no length of the
// eye: the exchange is one of shares.
func TestSharesDoNotDependOnTheCavity(t *testing.T) {
	mixture, err := tamponade.NewMixture(tamponade.AgentSF6, 20)
	if err != nil {
		t.Fatal(err)
	}
	key := predictionKey{mixture, tamponade.Pseudophakic}
	ours, err := predict(key)
	if err != nil {
		t.Fatal(err)
	}
	for _, length := range []float64{21, 24, 30} {
		cavity, err := eye.CavityVolumeML(length)
		if err != nil {
			t.Fatal(err)
		}
		b := tamponade.Bubble{Mixture: mixture, Lens: tamponade.Pseudophakic, CavityML: cavity, Fill: assumedFill, Globe: tamponade.DefaultGlobe(cavity.Value)}
		p, err := tamponade.Predict(b, tamponade.Question{Days: ours.days}, predictionSeed, tamponade.DefaultPaths)
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range p.Fill {
			if f.Value != ours.value[i] || f.Low != ours.low[i] || f.High != ours.high[i] {
				t.Fatalf("%g mm, day %g: %v, not %g (%g to %g)", length, ours.days[i], f, ours.value[i], ours.low[i], ours.high[i])
			}
		}
	}
	if math.Abs(ours.value[0]-assumedFill) > 0.02 {
		t.Errorf("a bubble begins at %g", ours.value[0])
	}
}

func TestBubblesEnd(t *testing.T) {
	c := CourseOf(longCourse(), CourseOptions{AsOf: courseToday})
	if b := c.Bubbles[0]; b.Until != 30 || b.Doubt {
		t.Errorf("bubble until day %g", b.Until)
	}
	if f := c.Fillings[0]; !f.Rest || f.Until != 190 || f.Day != 95.375 {
		t.Errorf("oil %+v", f)
	}
	if b := c.Bubbles[0]; !(b.Level > 0.5 && b.Level < 0.6) {
		t.Errorf("the macula upright is covered from %g on", b.Level)
	}
	tell := &courseTeller{}
	tell.operate(0, record.Vitrectomy, gasUse(record.C3F8, 14))
	tell.operate(20, record.OfficeGasExchange, gasUse(record.SF6, 20))
	again := CourseOf(tell.Course, CourseOptions{AsOf: courseDay(25)})
	if len(again.Bubbles) != 2 || again.Bubbles[0].Until != 20 || !math.IsNaN(again.Bubbles[1].Until) {
		t.Errorf("bubbles %+v", again.Bubbles)
	}
	said := false
	for _, text := range textsOf(DrawCourse(again, CourseForm{}).Nodes) {
		said = said || text.text == "not seen empty"
	}
	if !said {
		t.Error("the picture does not say that the eye was not seen empty")
	}
}

func TestZoomsAreWindows(t *testing.T) {
	c := CourseOf(longCourse(), CourseOptions{AsOf: courseToday})
	zooms := CourseZooms(c)
	if len(zooms) != 4 || zooms[0].From.Known() { // everything and three operations
		t.Errorf("%+v", zooms)
	}
	for _, z := range zooms[1:] {
		near := CourseOf(longCourse(), CourseOptions{AsOf: courseToday, From: z.From, To: z.To})
		if !(near.To-near.From > 50 && near.To-near.From < 100) {
			t.Errorf("%s: %g to %g", z.Label, near.From, near.To)
		}
		if all, some := len(textsOf(DrawCourse(c, CourseForm{}).Nodes)), len(inlineMarks(t, DrawCourse(near, CourseForm{}))); some == 0 || some > all {
			t.Errorf("%s: %d marks", z.Label, some)
		}
	}
	wrong := CourseOf(longCourse(), CourseOptions{From: courseDay(10), To: courseDay(0)})
	if wrong.From != wrong.To || !strings.Contains(strings.Join(wrong.Notes, " "), "window ends before it begins") {
		t.Errorf("a window the wrong way round: %g to %g", wrong.From, wrong.To)
	}
	half := CourseOf(longCourse(), CourseOptions{From: courseDay(100)})
	if half.From != 100 || half.To < 520 {
		t.Errorf("from day 100: %g to %g", half.From, half.To)
	}
}

// TestDemoEyesSayTheirStory: what is written in the picture of invented eyes, as
// their stories tell it.
func TestDemoEyesSayTheirStory(t *testing.T) {
	clinic := demoClinic(t, 60)
	for n, want := range map[int][]string{
		2: {"Flap, SF6", "0.30 (6/12)", "494 ± 29", "flat closed", "SF6 20 %", "34, drops", "high pressure", "through gas, not counted"},
		4: {"Peel, SF6", "Flap, SF6", "1.04 (6/60-2)", "1.00 (6/60)", "0.60 (pinhole)", "615 ± 36", "677 ± 40", "2nd surgery", "seen empty"},
		7: {"Peel, oil", "Oil removal", "1.30 (3/60)", "Invented silicone oil 1300 cSt, 4.9 mL", "hand movements"},
		8: {"Vitrectomy, C3F8", "Heavy liquid removal, air", "Heavy liquid", "Invented perfluoro-octane", "retained heavy liquid", "C3F8 12 %", "air"},
	} {
		c, story := demoCourse(t, clinic, n)
		drawn := map[string]bool{}
		for _, text := range textsOf(DrawCourse(CourseOf(c, CourseOptions{AsOf: courseToday}), CourseForm{}).Nodes) {
			drawn[text.text] = true
		}
		for _, w := range want {
			if !drawn[w] {
				t.Errorf("patient %d, %s: %q is not written", n, story, w)
			}
		}
	}
}
