package integrate

import (
	"fmt"
	"math"

	"limitans/fault"
)

// System writes the derivative of y at t into dydt. It must not keep either
// slice and must not change y.
type System func(t float64, y, dydt []float64)

// Event is a place where a function of the solution crosses zero.
type Event struct {
	Name  string
	Value func(t float64, y []float64) float64
	// Direction chooses crossings: +1 upwards only, −1 downwards only, 0 both.
	Direction int
	// Terminal ends the walk at the crossing.
	Terminal bool
}

// Crossing says that an event happened at T with the solution Y there.
type Crossing struct {
	Event int // index in [Options.Events]
	T     float64
	Y     []float64
}

// Options are the tolerances and limits of a walk.
type Options struct {
	// Relative and Absolute bound the error of a step in each component by
	// Absolute + Relative·|y|. Both must be positive.
	Relative, Absolute float64
	// InitialStep is the first step, 0 to let the walk choose.
	InitialStep float64
	// MaxStep bounds every step, 0 for the whole interval.
	MaxStep float64
	// AllowStiff carries on, up to MaxSteps, where stability and no longer
	// accuracy rules the steps. For problems that are known to be stiff but short.
	AllowStiff bool
	// MaxSteps bounds the number of tried steps, 0 for 100,000.
	MaxSteps int
	Events   []Event
}

// Statistics counts the work of a walk.
type Statistics struct {
	Accepted, Rejected, Evaluations int
}

const (
	stages          = 7
	defaultMaxSteps = 100_000
	// Step control (Hairer et al., from memory): safety, the exponents of the
	// present and the former error, and how much a step may change at once.
	safety       = 0.9
	betaExponent = 0.04
	alphaPower   = 0.2 - 0.75*betaExponent
	minFactor    = 0.2
	maxFactor    = 10.0
	// Stiffness: h·|λ| beyond this in 15 steps that no 6 easy ones interrupt.
	stiffLimit = 3.25
	stiffSteps = 15
	easySteps  = 6
	// crossingSteps halves a step to below the spacing of float64.
	crossingSteps = 80
)

// Step is one accepted step with the solution on it.
type Step struct {
	// From and To are the ends in t.
	From, To float64
	// Y is the solution at To. It belongs to the walk: copy what is kept.
	Y []float64
	// Crossings are the events on this step, in order of t.
	Crossings []Crossing

	begin, width float64
	dense        [5][]float64
}

// At writes the solution at t into out, which has one element per component.
// Outside From to To the polynomial is continued and soon worthless.
func (s *Step) At(t float64, out []float64) {
	x := (t - s.begin) / s.width
	y := 1 - x
	for i := range out {
		out[i] = s.dense[0][i] + x*(s.dense[1][i]+y*(s.dense[2][i]+x*(s.dense[3][i]+y*s.dense[4][i])))
	}
}

// Walk solves y' = f(t, y), y(from) = start up to t = to (either direction is
// from < to) and calls visit after each accepted step; visit returns false to
// stop. The caller's start is not changed. Faults: Invalid for bad tolerances
// or an empty interval; NotMeasurable when the problem is stiff, the steps run
// out or the derivative is not finite.
func Walk(f System, from, to float64, start []float64, o Options, visit func(*Step) bool) (Statistics, error) {
	w, err := newWalker(f, from, to, start, o)
	if err != nil {
		return Statistics{}, err
	}
	for w.t < to {
		if err := w.step(); err != nil {
			return w.done, err
		}
		if stop := w.locate(); !visit(&w.out) || stop {
			break
		}
	}
	return w.done, nil
}

// walker is the state of a walk.
type walker struct {
	f             System
	o             Options
	t, to, h      float64
	y             []float64
	k             [stages][]float64
	next, scratch []float64
	lastError     float64
	stiff, easy   int
	values        []float64 // of the events at t
	tried         int
	out           Step
	done          Statistics
}

func newWalker(f System, from, to float64, start []float64, o Options) (*walker, error) {
	if !(o.Relative > 0 && o.Absolute > 0) {
		return nil, &fault.Error{Code: fault.Invalid, Where: "integration", What: "a tolerance is missing", Expected: "positive tolerances"}
	}
	if !(to > from) || math.IsInf(to, 0) || math.IsInf(from, 0) || len(start) == 0 {
		return nil, &fault.Error{Code: fault.Invalid, Where: "integration", What: fmt.Sprintf("from %g to %g is no interval", from, to), Expected: "a finite interval and a start"}
	}
	if o.MaxSteps == 0 {
		o.MaxSteps = defaultMaxSteps
	}
	if o.MaxStep == 0 {
		o.MaxStep = to - from
	}
	n := len(start)
	w := &walker{f: f, o: o, t: from, to: to, lastError: 1e-4}
	store := make([]float64, n*(stages+8))
	cut := func() []float64 { s := store[:n:n]; store = store[n:]; return s }
	for i := range w.k {
		w.k[i] = cut()
	}
	for i := range w.out.dense {
		w.out.dense[i] = cut()
	}
	w.y, w.next, w.scratch = cut(), cut(), cut()
	copy(w.y, start)
	f(from, w.y, w.k[0])
	w.done.Evaluations++
	w.values = make([]float64, len(o.Events))
	for i, e := range o.Events {
		w.values[i] = e.Value(from, w.y)
	}
	if w.h = o.InitialStep; w.h <= 0 {
		w.h = w.firstStep()
	}
	return w, nil
}

// firstStep guesses a step over which an explicit Euler step changes the
// solution by about a hundredth of its size (Hairer et al., section II.4).
func (w *walker) firstStep() float64 {
	var size, slope float64
	for i, y := range w.y {
		scale := w.o.Absolute + w.o.Relative*math.Abs(y)
		size += (y / scale) * (y / scale)
		slope += (w.k[0][i] / scale) * (w.k[0][i] / scale)
	}
	h := 1e-6 * (w.to - w.t)
	if size > 1e-10 && slope > 1e-10 {
		h = 0.01 * math.Sqrt(size/slope)
	}
	return math.Min(h, w.o.MaxStep)
}

// step tries until one step is accepted.
func (w *walker) step() error {
	rejected := false
	for {
		if w.tried++; w.tried > w.o.MaxSteps {
			return w.failed(fmt.Sprintf("%d steps did not reach the end", w.o.MaxSteps))
		}
		last := w.t+1.01*w.h >= w.to
		if last {
			w.h = w.to - w.t
		}
		if !(w.h > 16*math.Abs(w.t)*0x1p-52) {
			return w.failed("the step became too small")
		}
		err := w.try()
		if math.IsNaN(err) || math.IsInf(err, 0) {
			w.h *= 0.1
			rejected = true
			w.done.Rejected++
			continue
		}
		power := math.Pow(err, alphaPower)
		factor := power / math.Pow(w.lastError, betaExponent) / safety
		factor = math.Max(1/maxFactor, math.Min(1/minFactor, factor))
		if err > 1 {
			w.h /= math.Min(1/minFactor, power/safety)
			rejected = true
			w.done.Rejected++
			continue
		}
		if !w.o.AllowStiff && w.isStiff() {
			return w.failed("the equations are too stiff for an explicit method")
		}
		h := w.h / factor
		if rejected {
			h = math.Min(h, w.h)
		}
		w.lastError = math.Max(err, 1e-4)
		w.accept(last)
		w.h = math.Min(h, w.o.MaxStep)
		return nil
	}
}

func (w *walker) failed(why string) error {
	return &fault.Error{
		Code: fault.NotMeasurable, Where: fmt.Sprintf("integration at t = %.6g", w.t), What: why,
		Mend: "check the inputs for values far outside their usual range",
	}
}

// try computes the stages of a step of size h and returns its scaled error.
func (w *walker) try() float64 {
	h := w.h
	for s := 1; s < stages; s++ {
		into := w.scratch
		if s == stages-1 {
			into = w.next
		}
		w.stage(&matrix[s], s, h, into)
		w.f(w.t+nodes[s]*h, into, w.k[s])
		w.done.Evaluations++
		if s == stages-2 {
			copy(w.out.dense[4], into) // kept for the estimate of stiffness
		}
	}
	total := 0.0
	c, k := &errorWeights, &w.k
	for i := range w.y {
		e := c[0]*k[0][i] + c[1]*k[1][i] + c[2]*k[2][i] + c[3]*k[3][i] + c[4]*k[4][i] + c[5]*k[5][i] + c[6]*k[6][i]
		scale := w.o.Absolute + w.o.Relative*math.Max(math.Abs(w.y[i]), math.Abs(w.next[i]))
		e *= h / scale
		total += e * e
	}
	return math.Sqrt(total / float64(len(w.y)))
}

// stage writes y + h·Σ a·k over the s slopes that are known. The sums are written
// out: this is where a walk spends its time.
func (w *walker) stage(a *[stages - 1]float64, s int, h float64, into []float64) {
	y, k := w.y, &w.k
	k0, k1, k2, k3, k4, k5 := k[0][:len(y)], k[1][:len(y)], k[2][:len(y)], k[3][:len(y)], k[4][:len(y)], k[5][:len(y)]
	into = into[:len(y)]
	switch s {
	case 1:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i])
		}
	case 2:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i]+a[1]*k1[i])
		}
	case 3:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i]+a[1]*k1[i]+a[2]*k2[i])
		}
	case 4:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i]+a[1]*k1[i]+a[2]*k2[i]+a[3]*k3[i])
		}
	case 5:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i]+a[1]*k1[i]+a[2]*k2[i]+a[3]*k3[i]+a[4]*k4[i])
		}
	default:
		for i := range y {
			into[i] = y[i] + h*(a[0]*k0[i]+a[1]*k1[i]+a[2]*k2[i]+a[3]*k3[i]+a[4]*k4[i]+a[5]*k5[i])
		}
	}
}

// isStiff estimates h·|λ| from the last two stages, which are at the same time
// but at different places.
func (w *walker) isStiff() bool {
	var slopes, places float64
	for i := range w.y {
		d := w.k[stages-1][i] - w.k[stages-2][i]
		p := w.next[i] - w.out.dense[4][i]
		slopes += d * d
		places += p * p
	}
	if places > 0 && w.h*math.Sqrt(slopes/places) > stiffLimit {
		w.easy = 0
		w.stiff++
		return w.stiff >= stiffSteps && w.done.Accepted > 1000
	}
	if w.easy++; w.easy >= easySteps {
		w.stiff = 0
	}
	return false
}

// accept moves to the end of the step and prepares the polynomial on it.
func (w *walker) accept(last bool) {
	h := w.h
	for i := range w.y {
		difference := w.next[i] - w.y[i]
		bend := h*w.k[0][i] - difference
		w.out.dense[0][i] = w.y[i]
		w.out.dense[1][i] = difference
		w.out.dense[2][i] = bend
		w.out.dense[3][i] = difference - h*w.k[stages-1][i] - bend
		sum := 0.0
		for j, c := range denseWeights {
			sum += c * w.k[j][i]
		}
		w.out.dense[4][i] = h * sum
	}
	w.out.begin, w.out.width = w.t, h
	w.out.From, w.out.To = w.t, w.t+h
	if last {
		w.out.To = w.to
	}
	w.t = w.out.To
	w.y, w.next = w.next, w.y
	w.out.Y = w.y
	w.k[0], w.k[stages-1] = w.k[stages-1], w.k[0]
	w.done.Accepted++
}

// locate finds the events on the step just made, and cuts it at a terminal one.
func (w *walker) locate() (stop bool) {
	w.out.Crossings = w.out.Crossings[:0]
	for i, e := range w.o.Events {
		before, after := w.values[i], e.Value(w.out.To, w.out.Y)
		w.values[i] = after
		up, down := before < 0 && after >= 0, before > 0 && after <= 0
		if up && e.Direction >= 0 || down && e.Direction <= 0 {
			w.out.Crossings = append(w.out.Crossings, w.cross(i, down))
		}
	}
	sortCrossings(w.out.Crossings)
	for i, c := range w.out.Crossings {
		if w.o.Events[c.Event].Terminal {
			w.out.Crossings = w.out.Crossings[:i+1]
			w.out.To = c.T
			copy(w.y, c.Y)
			return true
		}
	}
	return false
}

// cross halves the step until the crossing is known to the last digit.
func (w *walker) cross(event int, down bool) Crossing {
	low, high := w.out.From, w.out.To
	y := make([]float64, len(w.y))
	for range crossingSteps {
		middle := low + (high-low)/2
		if !(middle > low && middle < high) {
			break
		}
		w.out.At(middle, y)
		value := w.o.Events[event].Value(middle, y)
		if down {
			value = -value
		}
		if value < 0 {
			low = middle
		} else {
			high = middle
		}
	}
	w.out.At(high, y)
	return Crossing{Event: event, T: high, Y: y}
}

// sortCrossings orders the few crossings of one step by t.
func sortCrossings(c []Crossing) {
	for i := range c {
		for j := i; j > 0 && c[j].T < c[j-1].T; j-- {
			c[j], c[j-1] = c[j-1], c[j]
		}
	}
}
