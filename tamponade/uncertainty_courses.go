package tamponade

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"limitans/estimate"
	"limitans/fault"
)

// Courses are sampled courses of one bubble. They answer one question after
// another without being sampled again, and being asked does not change them.
type Courses struct {
	// Surprises and ContactAreaProbability are those of a refit, see [Refitted].
	Surprises              []Surprise
	ContactAreaProbability float64

	leakDay        float64 // NaN without one
	tight, leaking []Fast  // leaking counts from leakDay on
	weights        []float64
	basis          string
	halfLife       atomic.Pointer[estimate.Estimate] // once it was asked for
	withdrawn      string                            // why no figure is told
}

// Sample draws courses from the spreads between eyes, series, laws, fills and
// pressures, with a seed. The same arguments give the same courses, on any number
// of cores.
func Sample(b Bubble, seed uint64, paths int) (*Courses, error) {
	if err := checkPaths(paths); err != nil {
		return nil, err
	}
	s, err := newSampler(b)
	if err != nil {
		return nil, err
	}
	random := rand.New(rand.NewPCG(seed, 0))
	draws := make([]latent, paths)
	for i := range draws {
		draws[i] = s.draw(random)
	}
	c := &Courses{
		ContactAreaProbability: contactAreaShare, leakDay: s.leakDay,
		basis: "sampled from the spread between eyes and series, both laws of decay, fill, mixture and pressure" + gapOf(b.Mixture),
	}
	c.tight, c.leaking = s.solveAll(draws)
	return c, nil
}

// Predict samples courses and asks them one question, see [Sample] and
// [Courses.Answer].
func Predict(b Bubble, q Question, seed uint64, paths int) (Prediction, error) {
	if err := q.check(); err != nil {
		return Prediction{}, err
	}
	c, err := Sample(b, seed, paths)
	if err != nil {
		return Prediction{}, err
	}
	return c.Answer(q)
}

// counting are the paths that count at the end: after a leak the leaking ones.
func (c *Courses) counting() []Fast {
	if c.leaking != nil {
		return c.leaking
	}
	return c.tight
}

// plan is a question with everything in order and once.
type plan struct {
	thresholds, days []float64
}

func planOf(q Question) plan {
	return plan{sortedUnique(slices.Clone(q.Thresholds)), sortedUnique(slices.Clone(q.Days))}
}

// Answer asks every course and reports medians with their 95 % intervals. Faults:
// Invalid for what is out of reach, TooLarge for too many questions at once.
func (c *Courses) Answer(q Question) (Prediction, error) {
	if err := q.check(); err != nil {
		return Prediction{}, err
	}
	n := len(c.tight)
	ordered := planOf(q)
	p := Prediction{Paths: n, EffectivePaths: newQuantiler(n, c.weights).effective}
	answers := c.estimates(ordered)
	p.HalfLifeDays, answers = answers[0], answers[1:]
	for _, x := range q.Thresholds {
		at, _ := slices.BinarySearch(ordered.thresholds, x)
		p.LastAboveDay = append(p.LastAboveDay, answers[at])
	}
	for _, d := range q.Days {
		at, _ := slices.BinarySearch(ordered.days, d)
		p.Fill = append(p.Fill, answers[len(ordered.thresholds)+at])
	}
	return p, nil
}

// estimates are the half-life, then those of the thresholds and of the days.
func (c *Courses) estimates(ordered plan) []estimate.Estimate {
	n, columns := len(c.tight), 1+len(ordered.thresholds)+len(ordered.days)
	out := make([]estimate.Estimate, columns)
	if c.withdrawn != "" {
		for i := range out {
			out[i] = estimate.Missing(c.withdrawn)
		}
		return out
	}
	known := c.halfLife.Load()
	values := make([]float64, n*columns)
	inStretches(n, func(from, to int) {
		a := asker{Courses: c, plan: ordered, wantsHalfLife: known == nil, row: make([]float64, columns), before: make([]float64, len(ordered.days))}
		for i := from; i < to; i++ {
			for at, v := range a.ask(i) {
				values[at*n+i] = v
			}
		}
	})
	each(columns, func(at int) {
		basis := c.basis
		if at == 0 {
			if known != nil {
				out[0] = *known
				return
			}
			basis = "apparent first-order half-life; " + basis
		}
		out[at] = newQuantiler(n, c.weights).estimate(values[at*n:(at+1)*n], basis)
	})
	c.halfLife.Store(&out[0])
	return out
}

// asker asks one course after another.
type asker struct {
	*Courses
	plan
	wantsHalfLife bool
	row           []float64 // half-life, then by threshold, then by day
	before        []float64 // fills of the days as if there had been no leak
	course        fastCourse
}

// ask answers for one course; the row is overwritten by the next.
func (a *asker) ask(i int) []float64 {
	fast := &a.counting()[i]
	fills := a.row[1+len(a.thresholds):]
	if a.wantsHalfLife || len(a.thresholds) > 0 || fast.law == ContactAreaLaw {
		fast.course(&a.course)
		a.course.lastAboves(a.thresholds, a.row[1:])
	}
	if a.wantsHalfLife {
		a.row[0] = a.course.lastAbove(fast.fill/4) / 2
	}
	fast.fillsOn(a.days, &a.course, fills)
	if a.leaking != nil {
		tight := &a.tight[i]
		if tight.law == ContactAreaLaw {
			tight.course(&a.course)
		}
		tight.fillsOn(a.days, &a.course, a.before)
		for at, day := range a.days {
			if day < a.leakDay {
				fills[at] = a.before[at]
			}
		}
	}
	return a.row
}

// stretch is how many paths one worker takes at a time.
const stretch = 128

// inStretches calls work for stretches of 0 to n, on as many cores as there are.
// What a stretch writes must be its own, so that the outcome does not depend on
// the number of cores.
func inStretches(n int, work func(from, to int)) {
	each((n+stretch-1)/stretch, func(i int) { work(i*stretch, min(n, (i+1)*stretch)) })
}

// each calls work for 0 to n−1 on as many cores as there are.
func each(n int, work func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			work(i)
		}
		return
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	all.Wait()
}

// PathFill is what one sampled course shows on a day: its fill, a share of the cavity
// and at most 1. Courses are numbered from 0 in the order of sampling; each of those
// of [Sample] is as likely as any other. Faults: Unsupported for courses narrowed by
// observations, which are not; Invalid for a number or a day out of reach.
func (c *Courses) PathFill(path int, day float64) (float64, error) {
	switch {
	case c.weights != nil:
		return nan, &fault.Error{Code: fault.Unsupported, Where: "path", What: "courses narrowed by observations are not equally likely", Mend: "ask for medians and intervals"}
	case path < 0 || path >= len(c.tight):
		return nan, &fault.Error{Code: fault.Invalid, Where: "path", What: fmt.Sprintf("there is no course %d", path), Expected: fmt.Sprintf("0 to %d", len(c.tight)-1)}
	case !(day >= 0 && day <= MaxDays):
		return nan, &fault.Error{Code: fault.Invalid, Where: "day", What: fmt.Sprintf("%g is out of reach", day), Expected: fmt.Sprintf("0 to %g", MaxDays)}
	}
	return c.tight[path].fillOn(day, new(fastCourse)), nil
}

// fillOn is the fill on one day, at most 1.
func (f *Fast) fillOn(day float64, c *fastCourse) float64 {
	if f.law == ContactAreaLaw {
		f.course(c)
		return c.fillAt(day)
	}
	return math.Min(1, f.fill*f.relative(math.Max(0, day)))
}
