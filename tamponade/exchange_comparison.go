package tamponade

import (
	"limitans/estimate"
	"limitans/fault"
)

// Compared is one published observation beside what the model gives for it.
type Compared struct {
	Quantity  string
	Unit      string
	Published Span
	Computed  float64
	Source    string
	// Note explains a value outside the published range; empty inside it.
	Note string
}

// Inside reports whether the computed value lies in the published range.
func (c Compared) Inside() bool {
	return c.Computed >= c.Published.Low && c.Computed <= c.Published.High
}

// comparedFill is the fill at the end of surgery that published models assume.
const comparedFill = 0.85

// dryAtBaseline is the pressure of dry gas at sea level in an eye of 15 mmHg.
const dryAtBaseline = SeaLevelMMHg + defaultBaselineMMHg - WaterVapourMMHg

// comparer collects rows and the first fault.
type comparer struct {
	law  Law
	rows []Compared
	err  error
}

func (c *comparer) fast(m Mixture, lens Lens, fill float64) Fast {
	composition, err := m.Composition()
	if err == nil {
		var f Fast
		if f, err = NewFast(composition, fill, c.law, DefaultParameters(c.law, lens), dryAtBaseline); err == nil {
			return f
		}
	}
	if c.err == nil {
		c.err = err
	}
	return Fast{}
}

func (c *comparer) add(quantity, unit string, published Span, computed float64, source, note string) {
	row := Compared{quantity, unit, published, computed, source, note}
	if row.Inside() {
		row.Note = ""
	}
	c.rows = append(c.rows, row)
}

// Comparison returns published observations in people and animals beside what
// the calibrated model of a law computes for them, from half-lives to stays,
// expansion and fills. It is computed anew on every call. A row outside the
// published range says why.
func Comparison(law Law) ([]Compared, error) {
	c := &comparer{law: law}
	c.halfLives()
	c.stays()
	c.expansion()
	c.fills()
	if c.err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "comparison", What: c.err.Error(), Cause: c.err}
	}
	return c.rows, nil
}

func (c *comparer) halfLives() {
	const mixed, byLens = "Thompson 1992, mean ± 1.96 stated errors", "Thompson 1989, mean ± 15 % (no error seen; about 11 eyes a group with a spread of 25 %)"
	const course = "the course is not first-order: the value depends on how visits are spread; within 20 %"
	const years = "the same author's two series differ by 14 to 34 % at 10 %; the model follows the later one and takes from this one the ratio of the lenses; within 26 %"
	const one = "one ratio of lenses serves all gases; within 20 %"
	for _, r := range []struct {
		m         Mixture
		lens      Lens
		low, high float64
		note      string
	}{
		{Mixture{AgentAir, 100}, LensUnknown, 1.1, 1.5, ""},
		{Mixture{AgentC3F8, 5}, LensUnknown, 4.0, 4.4, course},
		{Mixture{AgentC3F8, 10}, LensUnknown, 6.1, 6.9, course},
		{Mixture{AgentC3F8, 15}, LensUnknown, 6.8, 9.2, course + "; the authors' own line through all five gives 9.1"},
		{Mixture{AgentC3F8, 20}, LensUnknown, 10.3, 14.7, course + "; the authors' own line through all five gives 11.7"},
		{Mixture{AgentAir, 100}, Phakic, 1.36, 1.84, one},
		{Mixture{AgentAir, 100}, Aphakic, 0.77, 1.03, one},
		{Mixture{AgentSF6, 20}, Phakic, 2.38, 3.22, one},
		{Mixture{AgentSF6, 20}, Aphakic, 2.04, 2.76, one},
		{Mixture{AgentC3F8, 10}, Phakic, 4.84, 6.55, years},
		{Mixture{AgentC3F8, 10}, Aphakic, 3.82, 5.17, years},
		{Mixture{AgentC3F8, 10}, Pseudophakic, 3.65, 4.94, years},
	} {
		source := mixed
		if r.lens != LensUnknown {
			source = byLens
		}
		f := c.fast(r.m, r.lens, comparedFill)
		lens := "mixed lenses"
		if r.lens != LensUnknown {
			lens = r.lens.String()
		}
		c.add("half-life, "+r.m.String()+", "+lens, "day", Span{r.low, r.high}, f.ApparentHalfLife(), source, r.note)
	}
}

func (c *comparer) stays() {
	note := "the last trace is followed longer than it is noticed"
	if c.law == ContactAreaLaw {
		note = "the contact-area law ends too early for the published stays, which is why the volume law is the default"
	}
	for _, r := range []struct {
		m         Mixture
		low, high float64
	}{
		{Mixture{AgentAir, 100}, 5, 10},
		{Mixture{AgentSF6, 20}, 10, 14},
		{Mixture{AgentC2F6, 16}, 28, 42},
		{Mixture{AgentC3F8, 14}, 56, 70},
	} {
		f := c.fast(r.m, LensUnknown, comparedFill)
		var course fastCourse
		if c.err == nil {
			f.course(&course)
			c.add("stay, "+r.m.String(), "day", Span{r.low, r.high}, course.lastAbove(GoneFill),
				"college alert 2018 and review 2024 (secondary)", note)
		}
	}
}

// largest finds the largest relative volume of a course and its day: the largest
// on the grid, then the middle third of both intervals beside it again and again.
func (f *Fast) largest() (size, day float64) {
	var c fastCourse
	f.course(&c)
	top := 0
	for i := range c.n {
		if c.fill[i] > c.fill[top] {
			top = i
		}
	}
	low, high := c.tau[max(0, top-1)], c.tau[min(c.n-1, top+1)]
	for range 60 {
		third := (high - low) / 3
		if f.relative(low+third) < f.relative(high-third) {
			low += third
		} else {
			high -= third
		}
	}
	tau := (low + high) / 2
	at := max(0, top-1)
	if tau > c.tau[top] {
		at = top
	}
	return f.relative(tau), c.dayOf(at, tau)
}

func (c *comparer) expansion() {
	const pure = "pure gas was measured in eyes with vitreous, where the bubble touches less retina and the gel limits both ways; the model is of the emptied eye and errs to the side of more pressure"
	for _, r := range []struct {
		agent      Agent
		size, days Span
	}{
		{AgentSF6, Span{2, 2}, Span{1, 2}},
		{AgentC2F6, Span{3, 3.3}, Span{1, 3}},
		{AgentC3F8, Span{4, 4}, Span{3, 4}},
	} {
		f := c.fast(Mixture{r.agent, 100}, LensUnknown, 0.06) // 0.3 mL in 5 mL
		if c.err != nil {
			return
		}
		size, day := f.largest()
		c.add("expansion, pure "+r.agent.String()+" 0.3 mL", "×", r.size, size, "college alert 2018; 3.3 from memory", pure)
		c.add("largest, pure "+r.agent.String()+" 0.3 mL", "day", r.days, day, "college alert 2018", "the contact-area law lets a small bubble exchange faster")
	}
	for _, r := range []struct {
		agent Agent
		share Span
	}{{AgentSF6, Span{19, 25}}, {AgentC2F6, Span{12, 15}}, {AgentC3F8, Span{10, 13}}} {
		c.add("share for a full eye from 85 % as drawn, "+r.agent.String(), "%", r.share, c.fullFillPercent(r.agent, comparedFill), "Williamson 2018 (a model)", "within a point")
	}
}

// fullFillPercent finds the share with which a bubble, counted dry at 20 °C as
// it is drawn up, becomes as large as the cavity.
func (c *comparer) fullFillPercent(agent Agent, fill float64) float64 {
	low, high := 1.0, 60.0
	for range 40 {
		middle := (low + high) / 2
		f := c.fast(Mixture{agent, Percent(middle)}, LensUnknown, fill)
		if c.err != nil {
			return nan
		}
		if size, _ := f.largest(); size*AsDrawn(20, defaultBaselineMMHg)*fill < 1 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

func (c *comparer) fills() {
	const image = "share of an image's area, upright; the camera sees about 200° of the eye, so it is not the share of wall or volume; slower than the half-lives of the other series"
	for _, r := range []struct {
		percent   Percent
		day       float64
		published Span
		source    string
		note      string
		wall      bool
	}{
		{14, 4, Span{0.56, 0.86}, "Alberti 2016, range of both arms (C3F8, percentage not seen)", "at the top of the range: ports that leak at first are not modelled", false},
		{14, 10, Span{0.71, 0.71}, "Choi 2020", image, true},
		{14, 28, Span{0.27, 0.27}, "Choi 2020", image, true},
		{20, 10, Span{0.83, 0.83}, "Choi 2020", image, true},
		{20, 28, Span{0.45, 0.45}, "Choi 2020", image, true},
	} {
		m := Mixture{AgentC3F8, r.percent}
		f := c.fast(m, LensUnknown, comparedFill)
		if c.err != nil {
			return
		}
		var course fastCourse
		f.course(&course)
		value, what := course.fillAt(r.day), "fill"
		if r.wall {
			value, what = relativeHeight(value), "wall covered"
		}
		c.add(what+", "+m.String()+", day "+number(r.day), "share", r.published, value, r.source, r.note)
	}
}

// HalfLife returns the apparent half-life of a mixture with its interval: the
// closed form at sea level, and the spread between eyes and series.
func HalfLife(m Mixture, lens Lens) (estimate.Estimate, error) {
	c := &comparer{law: VolumeLaw}
	f := c.fast(m, lens, comparedFill)
	if c.err != nil {
		return estimate.Estimate{}, c.err
	}
	value := f.ApparentHalfLife()
	spread := rateSpread(lens)
	return logNormal(value, spread, "fitted to the published half-lives of people's eyes by lens; interval from the spread between eyes and series"+gapOf(m)), nil
}
