package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Fast is the closed form of the exchange at constant pressure.
//
// With the clock τ that runs by the bubble's exchange, dτ = S/f·dt, the
// equations become linear with constant coefficients,
//
//	da/dτ = −g·(a − t·v),   v = Σa / P,
//
// and the volume relative to the start is a sum of exponentials,
//
//	v(τ) = Σ c·exp(−μτ),   c = N(−μ) / D'(−μ),
//	N(s) = Σ x/(s + g),    D(s) = 1 − Σ g·t / (P·(s + g)),
//
// with x the shares of the dry gas. The μ are the zeros of D, one below the
// conductance of nitrogen and one in each gap between nitrogen, oxygen and
// carbon dioxide, and the conductance of each gas that blood does not hold.
// For the volume law τ is time itself; for the contact-area law t = ∫ f/S dτ.
//
// What Fast leaves out is the change of pressure: a bubble that grows faster
// than water leaves, or that has no room, is shown larger than it can be. The
// tests state the error against [Run].
type Fast struct {
	law   Law
	fill  float64 // at the start
	terms [maxTerms]term
	n     int
}

// term is one exponential.
type term struct{ size, rate float64 }

const (
	tissueGases = 3 // nitrogen, oxygen, carbon dioxide
	maxTerms    = tissueGases + GasCount - tissueGases
	// Rates are found to rootTolerance, relative; halving alone would need
	// rootSteps for it.
	rootTolerance = 1e-12
	rootSteps     = 60
	// An exponential below e⁻⁴⁰ of its start is nothing beside the rest.
	exhausted      = 40
	exhaustedShare = 4.248354255291589e-18 // e⁻⁴⁰
)

// NewFast prepares the closed form for a composition and fill at the end of
// surgery, with dryPressureMMHg the total dry pressure in the bubble (ambient +
// intraocular − 47). Faults: Invalid for values out of reach; Unsupported when
// the tissue holds so much gas that the bubble would grow for ever.
func NewFast(c Composition, fill float64, law Law, p Parameters, dryPressureMMHg float64) (Fast, error) {
	if err := c.Check(); err != nil {
		return Fast{}, err
	}
	if err := p.check(); err != nil {
		return Fast{}, err
	}
	if !(fill >= minFill && fill <= 1) {
		return Fast{}, &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g is not a share of the cavity", fill), Expected: fmt.Sprintf("%g to 1", minFill)}
	}
	sum := 0.0
	for g := range gasCount {
		sum += p.TissueMMHg[g]
		if (g <= CarbonDioxide) != (p.TissueMMHg[g] > 0) {
			return Fast{}, &fault.Error{Code: fault.Unsupported, Where: "tissue", What: "holds gases other than those of air, or not all of them", Mend: "integrate the scenario instead"}
		}
	}
	if !(dryPressureMMHg > sum) {
		return Fast{}, &fault.Error{Code: fault.Unsupported, Where: "bubble", What: fmt.Sprintf("at %.4g mmHg of dry gas the tissue's %.4g mmHg would make it grow for ever", dryPressureMMHg, sum), Mend: "integrate the scenario instead"}
	}
	if !(p.PerDay[Nitrogen] < p.PerDay[Oxygen] && p.PerDay[Oxygen] < p.PerDay[CarbonDioxide]) {
		return Fast{}, &fault.Error{Code: fault.Unsupported, Where: "conductances", What: "are not in the order nitrogen, oxygen, carbon dioxide", Mend: "integrate the scenario instead"}
	}
	f := Fast{law: law, fill: fill}
	f.solve(&c, &p, dryPressureMMHg)
	return f, nil
}

// solve finds the exponentials. The arguments are known to be sound.
func (f *Fast) solve(c *Composition, p *Parameters, pressure float64) {
	var weight [tissueGases]float64
	for i := range weight {
		weight[i] = p.PerDay[i] * p.TissueMMHg[i] / pressure
	}
	numerator := func(mu float64) (n float64) {
		for g, share := range c {
			if share > 0 {
				n += share / (p.PerDay[g] - mu)
			}
		}
		return n
	}
	slope := func(mu float64) (d float64) {
		for i, w := range weight {
			gap := p.PerDay[i] - mu
			d += w / (gap * gap)
		}
		return d
	}
	f.n = 0
	low := 0.0
	for i := range weight {
		mu := secularRoot(&weight, &p.PerDay, low, p.PerDay[i])
		f.terms[f.n] = term{numerator(mu) / slope(mu), mu}
		f.n++
		low = p.PerDay[i]
	}
	for g := CarbonDioxide + 1; g < gasCount; g++ {
		if c[g] == 0 {
			continue
		}
		rate := p.PerDay[g]
		d := secular(&weight, &p.PerDay, rate)
		if math.Abs(d) < 1e-9 { // two rates meet: move one by less than anyone can tell
			rate *= 1 + 1e-7
			d = secular(&weight, &p.PerDay, rate)
		}
		f.terms[f.n] = term{c[g] / d, rate}
		f.n++
	}
}

// secular is D(−mu).
func secular(weight *[tissueGases]float64, rate *[GasCount]float64, mu float64) float64 {
	d := 1.0
	for i, w := range weight {
		d -= w / (rate[i] - mu)
	}
	return d
}

// secularRoot finds the zero of D(−mu) between low and high, where it falls all
// the way: Newton's step where it stays between the bounds, halving elsewhere.
func secularRoot(weight *[tissueGases]float64, rate *[GasCount]float64, low, high float64) float64 {
	mu := low + (high-low)/2
	for range rootSteps {
		d, fall := 1.0, 0.0
		for i, w := range weight {
			part := w / (rate[i] - mu)
			d -= part
			fall += part * part / w
		}
		if d > 0 {
			low = mu
		} else {
			high = mu
		}
		next := mu + d/fall
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-mu) < rootTolerance*mu {
			return next
		}
		mu = next
	}
	return mu
}

// relative is the volume over that of the start, at the bubble's own clock.
func (f *Fast) relative(tau float64) float64 {
	v := 0.0
	for i := range f.n {
		t := &f.terms[i]
		if x := t.rate * tau; x < exhausted {
			v += t.size * math.Exp(-x)
		}
	}
	return v
}

// The grid of the bubble's clock: from a few minutes to past the end, fastParts
// points to a doubling where there is room for them.
const (
	fastPoints  = 64
	fastParts   = 4
	fastFirst   = 0.01
	fastEndFill = GoneFill / 4
)

// partOfOctave holds 2^(p/parts), by parts and p.
var partOfOctave = func() (table [fastParts + 1][fastParts]float64) {
	for parts := 1; parts <= fastParts; parts++ {
		for p := range parts {
			table[parts][p] = math.Exp2(float64(p) / float64(parts))
		}
	}
	return table
}()

// fastCourse is a course of [Fast] on a grid, made once for all questions.
type fastCourse struct {
	fast *Fast
	n    int // points laid
	tau  [fastPoints]float64
	fill [fastPoints]float64 // may pass 1: see Fast
	// Of the contact-area law only; days are τ itself for the volume law.
	day, pace [fastPoints]float64
}

// course lays the grid: 0, then every point a constant factor later, up to where
// the slowest exponential alone would be past the end.
func (f *Fast) course(c *fastCourse) {
	c.fast = f
	last := 10 * fastFirst
	for _, t := range f.terms[:f.n] { // until each alone is below its part of the end
		if size := math.Abs(t.size) * f.fill * float64(f.n) / fastEndFill; size > 1 {
			last = math.Max(last, math.Log(size)/t.rate)
		}
	}
	octaves := int(math.Min(fastPoints-2, math.Ceil(math.Log2(last/fastFirst))))
	parts := min(fastParts, (fastPoints-2)/octaves)
	c.n = 2 + octaves*parts
	first := math.Ldexp(last, -octaves)
	c.tau[0], c.fill[0] = 0, f.fill
	for i := 1; i < c.n; i++ {
		if i <= parts {
			c.tau[i] = first * partOfOctave[parts][i-1]
		} else {
			c.tau[i] = 2 * c.tau[i-parts]
		}
	}
	f.fillOctaves(first, parts, c.fill[1:c.n])
	if f.law == ContactAreaLaw {
		f.clock(c, first, parts)
	}
}

// fillOctaves writes the fills at first·2^(k/parts), k from 0 on. An exponential
// at twice the time is its own square, so that few are computed; each squaring
// doubles its relative error, which stays below 1e-10 after twenty.
func (f *Fast) fillOctaves(first float64, parts int, fills []float64) {
	clear(fills)
	for i := range f.n {
		t := &f.terms[i]
		for p := range min(parts, len(fills)) {
			e := math.Exp(-t.rate * first * partOfOctave[parts][p])
			for k := p; k < len(fills) && e > exhaustedShare; k += parts {
				fills[k] += t.size * e
				e *= e
			}
		}
	}
	for k := range fills {
		fills[k] *= f.fill
	}
}

// clock adds the days of the contact-area law: t = ∫ f/S dτ by Simpson's rule.
func (f *Fast) clock(c *fastCourse, first float64, parts int) {
	var middle [fastPoints]float64 // fills at the middle of the interval before each point
	f.fillOctaves(first*(1+math.Exp2(1/float64(parts)))/2, parts, middle[2:c.n])
	middle[1] = f.fill * f.relative(first/2)
	c.day[0], c.pace[0] = 0, f.pace(c.fill[0])
	for i := 1; i < c.n; i++ {
		c.pace[i] = f.pace(c.fill[i])
		c.day[i] = c.day[i-1] + (c.tau[i]-c.tau[i-1])*(c.pace[i-1]+4*f.pace(middle[i])+c.pace[i])/6
	}
}

// pace is dt/dτ = f/S, the fill counted as 1 at most.
func (f *Fast) pace(fill float64) float64 {
	if f.law == VolumeLaw || fill >= 1 {
		return 1
	}
	position := math.Sqrt(math.Max(fill, 0)) * paceSteps
	i := int(position)
	return contactPace[i] + (position-float64(i))*(contactPace[i+1]-contactPace[i])
}

// contactPace holds f/S of the contact-area law at equal steps of √f, in which
// it is nearly straight: 2√f/√3 for small fills. Straight lines between the
// steps are within 1e-6.
var contactPace = func() (table [paceSteps + 2]float64) {
	for i := 1; i <= paceSteps; i++ {
		root := float64(i) / paceSteps
		table[i] = root * root / relativeHeight(root*root)
	}
	table[paceSteps+1] = 1
	return table
}()

const paceSteps = 1024

// lastAbove is the day after which the fill stays below a threshold: 0 if it
// never was above.
func (c *fastCourse) lastAbove(threshold float64) float64 {
	var day [1]float64
	c.lastAboves([]float64{threshold}, day[:])
	return day[0]
}

// lastAboves writes the last day above each of some rising thresholds.
func (c *fastCourse) lastAboves(thresholds, days []float64) {
	i := c.n - 1
	for k, threshold := range thresholds {
		for i >= 0 && c.fill[i] < threshold {
			i--
		}
		switch {
		case i < 0:
			days[k] = 0
		case i == c.n-1:
			days[k] = math.Inf(1) // not reached: the grid ends below every threshold
		default:
			days[k] = c.crossing(i, threshold)
		}
	}
}

// crossing is the day on which the fill falls through a threshold between the
// point i of the grid and the next. The logarithm of the fill is nearly straight
// in τ there: the secant, and one of Newton's steps on the exact volume, make it
// exact to minutes.
func (c *fastCourse) crossing(i int, threshold float64) float64 {
	f, low, high := c.fast, c.tau[i], c.tau[i+1]
	atLow, atHigh := math.Log(c.fill[i]/threshold), math.Log(c.fill[i+1]/threshold)
	tau := low + (high-low)*atLow/(atLow-atHigh)
	v, fall := 0.0, 0.0
	for k := range f.n {
		t := &f.terms[k]
		if x := t.rate * tau; x < exhausted {
			part := t.size * math.Exp(-x)
			v += part
			fall += t.rate * part
		}
	}
	// Near the top of the course it does not fall yet, and a step leads away.
	if next := tau + math.Log(f.fill*v/threshold)*v/fall; next > low && next < high {
		tau = next
	}
	return c.dayOf(i, tau)
}

// dayOf is the day at a clock τ in the interval i of the grid.
func (c *fastCourse) dayOf(i int, tau float64) float64 {
	if c.fast.law == VolumeLaw {
		return tau
	}
	middle := c.fast.pace(c.fast.fill * c.fast.relative((tau+c.tau[i])/2))
	now := c.fast.pace(c.fast.fill * c.fast.relative(tau))
	return c.day[i] + (tau-c.tau[i])*(c.fast.pace(c.fill[i])+4*middle+now)/6
}

// fillAt is the fill on a day, at most 1.
func (c *fastCourse) fillAt(day float64) float64 {
	if day <= 0 {
		return c.fill[0]
	}
	if c.fast.law == VolumeLaw {
		return math.Min(1, c.fast.fill*c.fast.relative(day))
	}
	low, high := 0, c.n-1
	if day >= c.day[high] {
		return 0
	}
	for high-low > 1 {
		if middle := (low + high) / 2; c.day[middle] <= day {
			low = middle
		} else {
			high = middle
		}
	}
	// τ as a cubic of the day, with the paces at both ends.
	width := c.day[high] - c.day[low]
	x := (day - c.day[low]) / width
	y := 1 - x
	tau := y*y*(1+2*x)*c.tau[low] + x*x*(1+2*y)*c.tau[high] + x*y*width*(y/c.pace[low]-x/c.pace[high])
	return math.Min(1, c.fast.fill*c.fast.relative(tau))
}

// fillsOn writes the fills on rising days, at most 1; c is the course for the
// contact-area law, and not looked at for the volume law. There the exponentials
// of days that are equally far apart follow from each other by one factor.
func (f *Fast) fillsOn(days []float64, c *fastCourse, fills []float64) {
	if f.law == ContactAreaLaw {
		for i, day := range days {
			fills[i] = c.fillAt(day)
		}
		return
	}
	clear(fills)
	for i := range f.n {
		t := &f.terms[i]
		e, factor, step, before := 1.0, 1.0, 0.0, 0.0
		for k, day := range days {
			if day-before != step {
				step = day - before
				factor = math.Exp(-t.rate * step)
			}
			e *= factor
			if e < exhaustedShare {
				break
			}
			fills[k] += t.size * e
			before = day
		}
	}
	for k := range fills {
		fills[k] = math.Min(1, f.fill*fills[k])
	}
}

// LastAbove returns the day after which the fill stays below a threshold, a
// share of the cavity from [GoneFill] to 1; 0 if it never was above.
func (f Fast) LastAbove(threshold float64) (float64, error) {
	if !(threshold >= GoneFill && threshold <= 1) {
		return nan, &fault.Error{Code: fault.Invalid, Where: "threshold", What: fmt.Sprintf("%g is out of reach", threshold), Expected: fmt.Sprintf("%g to 1", GoneFill)}
	}
	var c fastCourse
	f.course(&c)
	return c.lastAbove(threshold), nil
}

// FillAt returns the fill on a day after surgery, a share of the cavity and at
// most 1; a negative day gives a fault of code Invalid.
func (f Fast) FillAt(day float64) (float64, error) {
	if !(day >= 0) {
		return nan, &fault.Error{Code: fault.Invalid, Where: "day", What: fmt.Sprintf("%g is before surgery", day), Expected: "0 and later"}
	}
	var c fastCourse
	f.course(&c)
	return c.fillAt(day), nil
}

// ApparentHalfLife returns the half-life in days that a series of visits would
// find if it took the course as first-order from surgery on: half the time
// until a quarter of the starting volume is left, the mean of the first two
// halvings. It is what the published half-lives of mixtures are compared with.
func (f Fast) ApparentHalfLife() float64 {
	var c fastCourse
	f.course(&c)
	return c.lastAbove(f.fill/4) / 2
}
