package figure

import (
	"math"
	"testing"
	"time"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/demo"
	"limitans/internal/record"
)

// courseToday is the day on which the invented clinic looks at its eyes.
var courseToday = record.Date{Year: 2026, Month: 11, Day: 24}

// demoCourse is the operated eye of an invented patient, with figures for each
// of its scans as a person would have typed them.
func demoCourse(t testing.TB, clinic *demo.Clinic, n int) (record.Course, string) {
	t.Helper()
	one, err := clinic.Case(n)
	if err != nil {
		t.Fatal(err)
	}
	var c record.Course
	for _, e := range one.Entries {
		switch x := e.Entity.(type) {
		case *record.Eye:
			if c.Eye == nil || len(x.Diagnoses) > 0 {
				c.Eye = x
			}
		case *record.Operation:
			c.Operations = append(c.Operations, x)
		case *record.Visit:
			c.Visits = append(c.Visits, x)
		case *record.Scan:
			c.Scans = append(c.Scans, x)
			f := &record.HoleFigures{ScanID: x.ID, Taken: x.Taken, MeasuredAt: e.At, Source: record.FiguresTyped, HolePresent: record.No}
			if h := one.Drawings[x.ID].Hole; h != nil {
				size := estimate.Normal(math.Round(h.MinimumUM), 0.03*h.MinimumUM, "invented")
				f.HolePresent, f.MLDUM = record.Yes, &size
			} else {
				thick := estimate.Normal(270, 6, "invented")
				f.CentralUM = &thick
			}
			c.Figures = append(c.Figures, f)
		}
	}
	return c, one.Course
}

func demoClinic(t testing.TB, patients int) *demo.Clinic {
	t.Helper()
	clinic, err := demo.New(patients, 1, courseToday)
	if err != nil {
		t.Fatal(err)
	}
	return clinic
}

// teller writes a course by hand, days counted from 1 March 2025.
type courseTeller struct {
	record.Course
	number int
}

func (c *courseTeller) base() record.Base {
	c.number++
	return record.Base{ID: record.ID(string(rune('A'+c.number/26)) + string(rune('a'+c.number%26)))}
}

func courseDay(days int) record.Date {
	return record.DayOf(time.Date(2025, 3, 1+days, 0, 0, 0, 0, time.UTC))
}

func (c *courseTeller) visit(day int, sight string, mmHg float64, change ...func(*record.Visit)) {
	v := &record.Visit{Base: c.base(), On: courseDay(day), At: "10:00"}
	if sight != "" {
		v.Acuities = []record.AcuityEntry{{Raw: record.FreeText(sight), Understood: acuity.Parse(sight, acuity.Options{})}}
	}
	if mmHg > 0 {
		v.Pressures = []record.Pressure{{MmHg: &mmHg, Method: record.PressureApplanation}}
	}
	for _, f := range change {
		f(v)
	}
	c.Visits = append(c.Visits, v)
}

func (c *courseTeller) operate(day int, p record.Procedure, agents ...record.AgentUse) *record.Operation {
	o := &record.Operation{Base: c.base(), On: courseDay(day), StartedAt: "09:00", Procedure: p, LensAfter: record.LensPseudophakic, Agents: agents}
	c.Operations = append(c.Operations, o)
	return o
}

func (c *courseTeller) size(day int, um, half float64) {
	e := estimate.Estimate{Value: um, Low: um - half, High: um + half, Basis: "by hand"}
	c.Scans = append(c.Scans, &record.Scan{Base: c.base(), Taken: courseDay(day), Slices: 49})
	c.Figures = append(c.Figures, &record.HoleFigures{Base: c.base(), ScanID: c.Scans[len(c.Scans)-1].ID, Taken: courseDay(day), HolePresent: record.Yes, MLDUM: &e, Source: record.FiguresByHand})
}

func gasUse(gas record.Gas, percent float64) record.AgentUse {
	return record.AgentUse{Class: record.AgentGas, Action: record.AgentPlaced, Gas: gas, Percent: &percent, FullFill: record.Yes, Technique: record.GasExchange}
}

func oilUse(action record.AgentAction) record.AgentUse {
	ml := 5.2
	return record.AgentUse{Class: record.AgentOil, Action: action, Product: "Silicone oil 1300 cSt", AmountML: &ml}
}

func through(m record.Medium) func(*record.Visit) {
	return func(v *record.Visit) {
		for i := range v.Acuities {
			v.Acuities[i].Through = m
		}
	}
}

func seenMedium(m record.Medium, look record.MediumLook) func(*record.Visit) {
	return func(v *record.Visit) { v.MediaSeen = append(v.MediaSeen, record.MediumSeen{Medium: m, State: look}) }
}

func reading(percent float64) func(*record.Visit) {
	return func(v *record.Visit) {
		v.Bubble = append(v.Bubble, record.BubbleReading{Medium: record.MediumGas, FillPercent: &percent})
	}
}

func closure(c record.ClosureClass) func(*record.Visit) {
	return func(v *record.Visit) { v.Closure = &record.Closure{Class: c, Source: record.ClosureFromOCT} }
}

// longCourse has three operations, gas, oil, droplets afterwards, sight off the
// chart, a question, trouble and a film.
func longCourse() record.Course {
	c := &courseTeller{}
	c.Eye = &record.Eye{Side: eye.Left, AxialLengths: []record.AxialLength{{LengthMM: 25.1, Method: record.BiometryLight, MediumThen: record.MediumFluid}}}
	c.visit(-70, "6/36", 15)
	c.size(-70, 402, 15)
	c.visit(-35, "6/48", 14)
	c.size(-35, 455, 15)
	c.size(-1, 520, 15)
	c.visit(-1, "0.90", 16)
	o := c.operate(0, record.Vitrectomy, gasUse(record.SF6, 20))
	o.Flap = &record.Flap{Type: record.FlapInverted}
	c.Films = append(c.Films, &record.Film{Base: c.base(), On: courseDay(0), OperationID: o.ID})
	c.visit(1, "HM", 27, through(record.MediumGas), reading(82), func(v *record.Visit) {
		v.Pressures[0].Drops = []record.FreeText{"drops"}
		v.Complications = []record.Complication{{Code: record.CompHighPressure}}
	})
	c.visit(7, "CF 1m", 18, through(record.MediumGas), reading(55))
	c.visit(30, "6/48", 14, seenMedium(record.MediumGas, record.LookNone), closure(record.ElevatedOpen))
	c.size(30, 560, 40)
	c.operate(95, record.Vitrectomy, oilUse(record.AgentPlaced)).Flap = &record.Flap{Type: record.FlapFree}
	c.visit(96, "HM", 24, seenMedium(record.MediumOil, record.LookFull))
	c.visit(110, "3/60", 19, seenMedium(record.MediumOil, record.LookFull))
	c.visit(160, "6/60", 31, seenMedium(record.MediumOil, record.LookEmulsified), closure(record.FlatClosed))
	c.operate(190, record.OilRemoval, func() record.AgentUse { a := oilUse(record.AgentRemoved); a.SeenEmpty = record.Yes; return a }())
	c.visit(191, "CF", 9, closure(record.FlatClosed))
	c.visit(215, "6/36", 14, seenMedium(record.MediumOil, record.LookDroplets), closure(record.ClosedNoDefect))
	c.visit(300, "not tested", 15)
	c.operate(330, record.LensSurgery)
	c.visit(360, "6/18", 14, closure(record.ClosedNoDefect))
	c.visit(520, "6/12-1", 15, closure(record.ClosedNoDefect))
	return c.Course
}

// crowdedCourse has forty visits.
func crowdedCourse() record.Course {
	c := &courseTeller{}
	c.Eye = &record.Eye{Side: eye.Right}
	c.size(-20, 380, 12)
	c.operate(0, record.VitrectomyWithLens, gasUse(record.C3F8, 14)).Peels = []record.Peel{{Membrane: record.MembraneILM, State: record.Peeled}}
	lines := []string{"6/60", "6/48", "6/36", "6/24", "6/18", "6/12"}
	for i := range 40 {
		day := -20 + i*i
		c.visit(day, lines[(i*7+i/8)%len(lines)], 12+float64(i*5%13))
	}
	c.size(60, 150, 10)
	return c.Course
}
