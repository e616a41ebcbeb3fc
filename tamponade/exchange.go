package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/tamponade/integrate"
)

// Inhalation is a time in which the patient breathes nitrous oxide. Tissue is
// taken to follow at once, which is a few minutes too early.
type Inhalation struct {
	FromDay, ToDay float64
	// NitrousOxide and Oxygen are shares of the breathed gas; nitrogen is the rest.
	NitrousOxide, Oxygen float64
}

// Leak is gas lost through a wound, in proportion to the eye's pressure.
type Leak struct {
	ULPerMinPerMMHg float64
	UntilDay        float64
}

// Scenario is one bubble in one eye.
type Scenario struct {
	Globe Globe
	// Composition is that of the dry gas that was let in.
	Composition Composition
	// OpenMinutes is how long the gas was in the eye before the ports were
	// closed: it exchanges meanwhile, and what it grows by escapes.
	OpenMinutes float64
	// Fill is the share of the cavity that the bubble takes up at the end of
	// surgery, warm and moist as it is in the eye; 0.001 to 1.
	Fill float64
	// PressureMMHg is the eye's pressure then; 0 for the baseline.
	PressureMMHg float64
	Law          Law
	Parameters   Parameters
	Inhaled      []Inhalation
	Leak         Leak
	// Days is how long to follow the bubble, at most [MaxDays].
	Days float64
}

// Limits of a scenario.
const (
	// MaxDays bounds how long a bubble is followed.
	MaxDays = 400.0
	// GoneFill is the share of the cavity below which a bubble counts as gone:
	// 0.2 %, about 10 µL in an eye of 5 mL, a sphere of 2.7 mm. With it the
	// model ends where the published stays end (see [Comparison]). The last trace
	// of gas can be smaller than that: a date is never proof.
	GoneFill = 0.002

	minFill = 0.001
)

// AsDrawn returns the volume that dry gas at roomTemperatureC °C takes up in
// the eye, warm and moist, for each millilitre as it is drawn up:
//
//	(310.15 K / T) · 760 / (760 + P − 47),
//
// P the eye's pressure in mmHg. Ideal gases; the gas takes seconds for it, so
// volumes of gas that is already in the eye are not to be multiplied.
func AsDrawn(roomTemperatureC, pressureMMHg float64) float64 {
	return BodyTemperatureK / (roomTemperatureC + 273.15) * SeaLevelMMHg / (SeaLevelMMHg + pressureMMHg - WaterVapourMMHg)
}

// Point is the bubble at one time.
type Point struct {
	Day          float64
	Fill         float64 // share of the cavity
	PressureMMHg float64
	WaterShare   float64 // what is not bubble, share of the cavity
	// PartialMMHg is the partial pressure of each species in the bubble.
	PartialMMHg [GasCount]float64
}

// Course is how a bubble went.
type Course struct {
	Points []Point // at whole hours to day 2, quarter days to day 14, then days
	// LastAbove holds, for each threshold that was asked for, the day on which
	// the fill falls below it for good: NaN if not within the days followed, 0
	// if it never was above.
	LastAbove []float64
	// Largest is the point of the largest fill, Peak that of the highest
	// pressure, among all steps of the integration.
	Largest, Peak Point
	// GoneDay is when the fill falls below [GoneFill]; NaN if not within the days.
	GoneDay float64
	Work    integrate.Statistics
}

// Tolerances of the integration: a millionth of a step, so that dates are
// right to minutes.
const (
	relativeTolerance = 1e-6
	absoluteTolerance = 1e-7
)

// Run integrates a scenario and reports the course and the days on which the
// fill falls for good below each threshold (shares of the cavity). Faults:
// Invalid for values out of reach, Conflict for an eye whose outflow cannot be,
// NotMeasurable when the integration cannot be done.
func Run(s Scenario, thresholds ...float64) (Course, error) {
	if err := s.check(); err != nil {
		return Course{}, err
	}
	for _, x := range thresholds {
		if !(x > 0 && x <= 1) {
			return Course{}, &fault.Error{Code: fault.Invalid, Where: "threshold", What: fmt.Sprintf("%g is not a share", x), Expected: "above 0, at most 1"}
		}
	}
	r := newRunner(s, thresholds)
	for _, segment := range s.segments() {
		if err := r.follow(segment); err != nil || r.gone {
			return r.course, err
		}
	}
	return r.course, nil
}

func (s Scenario) check() error {
	if err := s.Globe.Check(); err != nil {
		return err
	}
	if err := s.Composition.Check(); err != nil {
		return err
	}
	if err := s.Parameters.check(); err != nil {
		return err
	}
	if !(s.Fill >= minFill && s.Fill <= 1) {
		e := &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g is not a share of the cavity", s.Fill), Expected: fmt.Sprintf("%g to 1", minFill)}
		if s.Fill > 1 && s.Fill <= 100 {
			e.Mend = "a percentage is divided by 100"
		}
		return e
	}
	if !(s.OpenMinutes >= 0 && s.OpenMinutes <= 60) {
		return &fault.Error{Code: fault.Invalid, Where: "minutes with open ports", What: fmt.Sprintf("%g minutes are out of reach", s.OpenMinutes), Expected: "0 to 60"}
	}
	if !(s.Days > 0 && s.Days <= MaxDays) {
		return &fault.Error{Code: fault.Invalid, Where: "days", What: fmt.Sprintf("%g days cannot be followed", s.Days), Expected: fmt.Sprintf("up to %g", MaxDays)}
	}
	if s.PressureMMHg != 0 && !(s.PressureMMHg >= 1 && s.PressureMMHg <= 100) {
		return &fault.Error{Code: fault.Invalid, Where: "pressure at the end of surgery", What: fmt.Sprintf("%g mmHg is out of reach", s.PressureMMHg), Expected: "1 to 100 mmHg"}
	}
	if !(s.Leak.ULPerMinPerMMHg >= 0 && s.Leak.ULPerMinPerMMHg <= 100 && s.Leak.UntilDay >= 0) {
		return &fault.Error{Code: fault.Invalid, Where: "leak", What: "is out of reach", Expected: "0 to 100 µL/min/mmHg"}
	}
	for _, in := range s.Inhaled {
		if !(in.FromDay >= 0 && in.ToDay > in.FromDay && in.NitrousOxide >= 0 && in.Oxygen >= 0 && in.NitrousOxide+in.Oxygen <= 1) {
			return &fault.Error{Code: fault.Invalid, Where: "nitrous oxide", What: "the time or the shares cannot be", Expected: "a time after surgery, shares that sum to at most 1"}
		}
	}
	return nil
}

// segment is a time without jumps in what the equations depend on.
type segment struct {
	from, to float64
	tissue   [GasCount]float64
	leak     float64 // share of the cavity a day and mmHg
}

// segments cuts the days where breathing or a leak changes.
func (s Scenario) segments() []segment {
	cuts := []float64{0, s.Days}
	add := func(day float64) {
		if day > 0 && day < s.Days {
			cuts = append(cuts, day)
		}
	}
	add(s.Leak.UntilDay)
	for _, in := range s.Inhaled {
		add(in.FromDay)
		add(in.ToDay)
	}
	cuts = sortedUnique(cuts)
	segments := make([]segment, 0, len(cuts)-1)
	for i := 1; i < len(cuts); i++ {
		g := segment{from: cuts[i-1], to: cuts[i], tissue: s.tissue(cuts[i-1])}
		if g.from < s.Leak.UntilDay {
			g.leak = s.Globe.perDay(s.Leak.ULPerMinPerMMHg)
		}
		segments = append(segments, g)
	}
	return segments
}

// tissue is the partial pressures around the bubble from a day on: nitrogen
// follows the air pressure and the breathed share, nitrous oxide the breathed
// share.
func (s Scenario) tissue(day float64) [GasCount]float64 {
	t := s.Parameters.TissueMMHg
	dry := s.Globe.AmbientMMHg - WaterVapourMMHg
	t[Nitrogen] *= dry / (SeaLevelMMHg - WaterVapourMMHg)
	for _, in := range s.Inhaled {
		if day >= in.FromDay && day < in.ToDay {
			t[Nitrogen] *= (1 - in.NitrousOxide - in.Oxygen) / (1 - oxygenInAir)
			t[NitrousOxide] = in.NitrousOxide * dry
		}
	}
	return t
}

// runner carries the state from segment to segment: amounts of the gases that are
// there as partial pressure times fill, and last the logarithm of the eye's
// pressure, so that no step can make the pressure negative.
type runner struct {
	s          Scenario
	thresholds []float64
	gases      []Gas // those that the bubble or the tissue ever holds
	state      []float64
	grid       []float64 // days still to be reported
	course     Course
	gone       bool
}

// gases are those that the bubble begins with or that a tissue holds.
func (s Scenario) gases(begin Composition) []Gas {
	var out []Gas
	segments := s.segments()
	for g := range gasCount {
		held := begin[g] > 0
		for _, segment := range segments {
			held = held || segment.tissue[g] > 0
		}
		if held {
			out = append(out, g)
		}
	}
	return out
}

func newRunner(s Scenario, thresholds []float64) *runner {
	r := &runner{s: s, thresholds: thresholds, grid: reportDays(s.Days)}
	pressure := s.PressureMMHg
	if pressure == 0 {
		pressure = s.Globe.BaselineMMHg
	}
	dry := s.Globe.AmbientMMHg + pressure - WaterVapourMMHg
	begin := s.Composition.Settled(s.Law, s.Parameters, s.Fill, dry, s.OpenMinutes)
	r.gases = s.gases(begin)
	for _, g := range r.gases {
		r.state = append(r.state, begin[g]*dry*s.Fill)
	}
	r.state = append(r.state, math.Log(pressure))
	r.course.GoneDay = nan
	r.course.LastAbove = make([]float64, len(thresholds))
	for i, x := range thresholds {
		if s.Fill > x {
			r.course.LastAbove[i] = nan
		}
	}
	return r
}

// amounts are those of the gases, and logPressure that of the eye, in a state.
func amounts(y []float64) (amounts []float64, logPressure float64) {
	return y[:len(y)-1], y[len(y)-1]
}

// fill is the share of the cavity that amounts take up at a pressure.
func (r *runner) fill(y []float64) float64 {
	gas, logPressure := amounts(y)
	total := 0.0
	for _, a := range gas {
		total += a
	}
	return total / (r.s.Globe.AmbientMMHg + math.Exp(logPressure) - WaterVapourMMHg)
}

// derivative is the right-hand side: exchange of each species, and the
// pressure from the balance of volumes
//
//	fill + water = 1 + stretch(P).
func (r *runner) derivative(g segment) integrate.System {
	globe, law := r.s.Globe, r.s.Law
	water, logBaseline := globe.water(), math.Log(globe.BaselineMMHg)
	_, slope := globe.stretch(logBaseline)
	perDay, tissue := make([]float64, len(r.gases)), make([]float64, len(r.gases))
	for i, gas := range r.gases {
		perDay[i], tissue[i] = r.s.Parameters.PerDay[gas], g.tissue[gas]
	}
	return func(_ float64, y, d []float64) {
		gas, logPressure := amounts(y)
		pressure := math.Exp(logPressure)
		dry := globe.AmbientMMHg + pressure - WaterVapourMMHg
		total := 0.0
		for _, a := range gas {
			total += a
		}
		fill := math.Max(total/dry, 1e-9)
		exchange := law.share(fill)
		lost := g.leak * pressure / fill
		gain := 0.0
		for i, a := range gas {
			d[i] = -perDay[i]*exchange*(a/fill-tissue[i]) - lost*a
			gain += d[i]
		}
		stretch := slope * (logPressure - logBaseline)
		d[len(gas)] = (gain/dry + water.netInflow(pressure, 1+stretch-fill)) / (slope + fill/dry*pressure)
	}
}

// follow integrates one segment.
func (r *runner) follow(g segment) error {
	events := make([]integrate.Event, 0, len(r.thresholds)+1)
	for _, x := range r.thresholds {
		events = append(events, integrate.Event{Value: func(_ float64, y []float64) float64 { return r.fill(y) - x }})
	}
	events = append(events, integrate.Event{
		Value:     func(_ float64, y []float64) float64 { return math.Log(math.Max(r.fill(y), 1e-300) / GoneFill) },
		Direction: -1, Terminal: true,
	})
	options := integrate.Options{Relative: relativeTolerance, Absolute: absoluteTolerance, MaxStep: 5, Events: events, AllowStiff: true}
	if g.from == 0 {
		r.note(0, r.state)
	}
	work, err := integrate.Walk(r.derivative(g), g.from, g.to, r.state, options, r.visit)
	r.course.Work.Accepted += work.Accepted
	r.course.Work.Rejected += work.Rejected
	r.course.Work.Evaluations += work.Evaluations
	return err
}

// visit takes what is reported from one step.
func (r *runner) visit(step *integrate.Step) bool {
	y := make([]float64, len(r.state))
	for len(r.grid) > 0 && r.grid[0] <= step.To {
		step.At(r.grid[0], y)
		r.course.Points = append(r.course.Points, r.point(r.grid[0], y))
		r.grid = r.grid[1:]
	}
	for _, c := range step.Crossings {
		if c.Event == len(r.thresholds) {
			r.gone = true
			r.course.GoneDay = c.T
			for i, day := range r.course.LastAbove {
				if math.IsNaN(day) { // a threshold below the end
					r.course.LastAbove[i] = c.T
				}
			}
		} else if before := r.fill(c.Y) < r.thresholds[c.Event]; before || r.falling(step, c.T) {
			r.course.LastAbove[c.Event] = c.T
		} else {
			r.course.LastAbove[c.Event] = nan // above again
		}
	}
	copy(r.state, step.Y)
	r.note(step.To, step.Y)
	return true
}

// falling tells a fall through a threshold from a rise: the fill at the end of
// the step against that at the crossing.
func (r *runner) falling(step *integrate.Step, at float64) bool {
	y := make([]float64, len(r.state))
	step.At(at-1e-6*(step.To-step.From), y)
	before := r.fill(y)
	step.At(at+1e-6*(step.To-step.From), y)
	return r.fill(y) < before
}

// note keeps the extremes.
func (r *runner) note(day float64, y []float64) {
	if day == 0 {
		p := r.point(0, y)
		r.course.Points, r.course.Largest, r.course.Peak = append(r.course.Points, p), p, p
		return
	}
	if r.fill(y) > r.course.Largest.Fill {
		r.course.Largest = r.point(day, y)
	}
	if _, logPressure := amounts(y); math.Exp(logPressure) > r.course.Peak.PressureMMHg {
		r.course.Peak = r.point(day, y)
	}
}

func (r *runner) point(day float64, y []float64) Point {
	gas, logPressure := amounts(y)
	p := Point{Day: day, Fill: r.fill(y), PressureMMHg: math.Exp(logPressure)}
	stretch, _ := r.s.Globe.stretch(logPressure)
	p.WaterShare = 1 + stretch - p.Fill
	for i, g := range r.gases {
		p.PartialMMHg[g] = gas[i] / p.Fill
	}
	return p
}
