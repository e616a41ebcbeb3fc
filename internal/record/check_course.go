package record

import (
	"fmt"
	"math"

	"limitans/tamponade"
)

// CheckCourse looks at everything recorded about one eye together: orders of days
// that cannot be, and those that are only odd. Single nouns are checked by [Check].
// Findings name the noun by its kind and day.
//
// Impossible: figures before their scan, a removal before every filling. Odd:
// surgery without a scan before it, a plan later than its operation, a removal of
// what was never put in, two operations on one day.
func CheckCourse(course Course, around Around) []Finding {
	c := &checker{today: around.Today}
	scans := standing(course.Scans)
	operations := standing(course.Operations)
	c.oneEye(course)
	byScan := map[ID]*Scan{}
	for _, s := range scans {
		byScan[s.ID] = s
	}
	for _, f := range standing(course.Figures) {
		if s := byScan[f.ScanID]; s != nil {
			if f.Taken.CertainlyBefore(s.Taken) || s.Taken.CertainlyBefore(f.Taken) {
				c.add(CodeOrder, at(f), fmt.Sprintf("figures of %s on a scan of %s", f.Taken, s.Taken), "figures carry the day of their scan")
			}
			if !f.MeasuredAt.IsZero() && DayOf(f.MeasuredAt.UTC().AddDate(0, 0, tomorrow)).CertainlyBefore(s.Taken) {
				c.add(CodeOrder, at(f), fmt.Sprintf("measured %s, scanned %s", DayOf(f.MeasuredAt), s.Taken), "one of the two days is wrong")
			}
		}
	}
	plans := map[ID]*Plan{}
	for _, p := range standing(course.Plans) {
		plans[p.ID] = p
	}
	for i, o := range operations {
		if p := plans[o.PlanID]; p != nil && o.On.CertainlyBefore(p.MadeOn) {
			c.add(CodeOddOrder, at(o), fmt.Sprintf("planned %s, operated %s", p.MadeOn, o.On), "written up afterwards?")
		}
		if i > 0 && o.On.Full() && operations[i-1].On.ISO() == o.On.ISO() {
			c.add(CodeOddOrder, at(o), "a second operation on the same day", "the same one entered twice?")
		}
	}
	if first := FirstOperation(operations); first != nil && (len(scans) == 0 || first.On.CertainlyBefore(scans[0].Taken)) {
		c.add(CodeOddOrder, at(first), "no scan before the first operation", "is one missing?")
	}
	c.removals(operations)
	c.media(course)
	return c.findings
}

// at names a noun for people.
func at(e Entity) string {
	day := e.Links().Day
	return fmt.Sprintf("%s of %s", e.Kind(), day)
}

// oneEye stops when a noun of another eye or patient is in the course.
func (c *checker) oneEye(course Course) {
	if course.Eye == nil {
		return
	}
	each := func(e Entity) { c.checkBelongs(e, course.Eye) }
	eachOf(course.Scans, each)
	eachOf(course.Figures, each)
	eachOf(course.Plans, each)
	eachOf(course.Operations, each)
	eachOf(course.Visits, each)
	eachOf(course.Films, each)
	for _, d := range standing(course.Documents) {
		if d.EyeID != "" {
			each(d)
		}
	}
}

func eachOf[T Entity](all []T, do func(Entity)) {
	for _, e := range standing(all) {
		do(e)
	}
}

// removals holds each removal to the fillings: one that came before every filling
// of its kind cannot be; one without any filling may have been filled elsewhere.
func (c *checker) removals(operations []*Operation) {
	for _, o := range operations {
		for _, a := range o.Agents {
			medium := mediumOf(a.Class)
			if medium == "" || a.Action != AgentRemoved && a.Action != AgentPartlyRemoved {
				continue
			}
			filled, possible := Date{}, false
			known := false
			for _, p := range operations {
				for _, b := range p.Agents {
					if b.Action == AgentPlaced && alike(mediumOf(b.Class), medium) {
						known = true
						if !o.On.CertainlyBefore(p.On) {
							possible = true
						} else if !filled.Known() {
							filled = p.On
						}
					}
				}
			}
			switch {
			case !known:
				c.add(CodeRemovalAlone, at(o), fmt.Sprintf("%s removed, but no operation here put it in", medium), "put in elsewhere? enter when, and which lot")
			case !possible:
				c.add(CodeRemovalFirst, at(o), fmt.Sprintf("%s removed %s, but first put in %s", medium, o.On, filled), "one of the two days is wrong, or an earlier filling is missing")
			}
		}
	}
}

// media compares what the course says is in the eye with what visits, biometry and
// operations say.
func (c *checker) media(course Course) {
	for _, v := range standing(course.Visits) {
		// What stood in the eye before this visit looked.
		for _, in := range InEye(course.Operations, course.Visits, v.On) {
			if in.Medium != MediumGas && in.Medium != MediumAir {
				continue
			}
			days, ok := in.Since.DaysUntil(v.On)
			if !ok || days < 1 || float64(days) > longestStayDays(in) {
				continue
			}
			for i, a := range v.Acuities {
				if a.Through == "" {
					c.add(CodeThroughGas, fmt.Sprintf("%s, acuities[%d]", at(v), i), fmt.Sprintf("%q %d days after %s was put in, not seen empty since: taken through it?", string(a.Raw), days, in.Medium), "say through what it was taken")
				}
			}
		}
	}
	for _, in := range InEye(course.Operations, course.Visits, Date{}) {
		if in.State == Residue && in.OperationID != "" {
			c.add(CodeResidual, string(in.Medium), fmt.Sprintf("put in %s, residue last seen %s", in.Since, in.LastSeen), "the register keeps it open until it is removed or seen gone")
		}
	}
	c.oilUnderNewFill(course)
	if course.Eye == nil {
		return
	}
	for i, a := range course.Eye.AxialLengths {
		if !a.On.Full() || a.MediumThen == "" {
			continue
		}
		for _, in := range InEye(course.Operations, course.Visits, a.On) {
			oil := in.Medium == MediumOil || in.Medium == MediumHeavyOil
			days, ok := in.Since.DaysUntil(a.On)
			if oil && in.State == Filled && ok && days > 0 && a.MediumThen != in.Medium {
				c.add(CodeAxialMedium, fmt.Sprintf("axial_lengths[%d]", i), fmt.Sprintf("%s was in the eye on %s, but %s is written", in.Medium, a.On, a.MediumThen), "which is right? sound is slower in oil")
			}
		}
	}
}

// oilUnderNewFill asks where something was put into an eye that still holds another
// medium.
func (c *checker) oilUnderNewFill(course Course) {
	open := InEye(course.Operations, course.Visits, Date{})
	for i, a := range open {
		for _, b := range open[i+1:] {
			if a.State == Filled && b.State == Filled && !alike(a.Medium, b.Medium) {
				c.add(CodeStillFilled, string(b.Medium), fmt.Sprintf("%s put in %s, while %s of %s was never recorded as removed", b.Medium, b.Since, a.Medium, a.Since), "was it removed? enter it")
			}
		}
	}
}

// longestStayDays is the longest printed stay of a gas; for a gas that is not told
// that of the longest-lived one.
func longestStayDays(in Content) float64 {
	agent := tamponade.AgentC3F8
	if in.Medium == MediumAir {
		agent = tamponade.AgentAir
	} else if a, err := tamponade.ParseAgent(string(in.Gas)); err == nil {
		agent = a
	}
	facts, err := agent.Facts()
	if err != nil {
		return 0
	}
	return facts.LongestStayDays
}

// GasGoneSince is the day before which a gas was put in that must be gone on this
// day by the longest stay printed of any agent, whether or not somebody has seen
// that; ok is false unless today is known.
func GasGoneSince(today Date) (day Date, ok bool) {
	return today.AddDays(-int(math.Ceil(longestStayDays(Content{Medium: MediumGas}))))
}
