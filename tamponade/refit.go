package tamponade

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"limitans/eye"
	"limitans/fault"
)

// Observation is a bubble as it was seen at a visit.
type Observation struct {
	Day float64
	// Fill is the share of the cavity, FillSD the reading error as a standard
	// deviation of it.
	Fill, FillSD float64
}

// readingSDML is how far a volume that was read from outside misses the
// aspirated one: 0.1 ± 0.35 mL in 12 eyes (Thompson 1992, abstract).
const readingSDML = 0.35

// ObservedHeight turns a meniscus height, measured from the top of the cavity
// with the head upright as a share of its height, into an observation:
//
//	f = 3x² − 2x³ (flat level in a sphere),
//
// with the published reading error of 0.35 mL (Thompson 1992, doi
// 10.1001/archopht.1992.01080230094028, abstract) as a share of cavityML.
func ObservedHeight(day, heightShare, cavityML float64) (Observation, error) {
	fill, err := eye.FillOfHeight(heightShare)
	if err != nil {
		return Observation{}, err
	}
	o := Observation{Day: day, Fill: fill, FillSD: ReadingSD(cavityML)}
	return o, o.check()
}

// ReadingSD is the published reading error of a bubble's volume, 0.35 mL, as a
// share of a cavity of cavityML millilitres.
func ReadingSD(cavityML float64) float64 { return readingSDML / cavityML }

func (o Observation) check() error {
	switch {
	case !(o.Day >= 0 && o.Day <= MaxDays):
		return &fault.Error{Code: fault.Invalid, Where: "observation", What: fmt.Sprintf("day %g is out of reach", o.Day), Expected: fmt.Sprintf("0 to %g", MaxDays)}
	case !(o.Fill >= 0 && o.Fill <= 1):
		return &fault.Error{Code: fault.Invalid, Where: "observation", What: fmt.Sprintf("a fill of %g is not a share of the cavity", o.Fill), Expected: "0 to 1"}
	case !(o.FillSD >= 0.005 && o.FillSD <= 0.5):
		return &fault.Error{Code: fault.Invalid, Where: "observation", What: fmt.Sprintf("a reading error of %g is out of reach", o.FillSD), Expected: "0.005 to 0.5 of the cavity"}
	}
	return nil
}

// Surprise is an observation that the exchange does not explain.
type Surprise struct {
	Observation Observation
	// Expected is the fill that the observations before it lead to expect.
	Expected Span
	// Probability is how likely so low (or so high) a reading was.
	Probability float64
	// Leak says that gas is missing: kinetics do not explain it.
	Leak bool
	Say  string
}

// Refitted is a prediction narrowed by what was seen.
type Refitted struct {
	Prediction
	// Surprises are the observations that the exchange does not explain. From the
	// last leak on the prediction counts with the gas that is left; dates before
	// it are bounds. More gas than explained withdraws every figure: they are
	// missing, because what contradicts a visit is not told.
	Surprises []Surprise
	// ContactAreaProbability is how much the observations favour that law, which
	// had a quarter at the start.
	ContactAreaProbability float64
}

// Constants of the refit.
const (
	// surpriseProbability on one side calls an observation a surprise: of 400
	// readings in watertight eyes one is called a leak by chance.
	surpriseProbability = 0.0025
	// enoughPaths is how many independent paths the answer shall be worth; below
	// it the paths are drawn again where the weight is.
	enoughPaths = 400
	// proposalRounds bounds the drawing again.
	proposalRounds = 4
	// priorShare of the new draws come from the spreads themselves, so that no
	// region is left out and weights stay bounded.
	priorShare = 0.2
	// proposalWidth widens the fitted normal, for tails.
	proposalWidth = 1.3
)

// Refit samples courses that explain what was seen and asks them one question, see
// [SampleSeen] and [Courses.Answer].
func Refit(b Bubble, seen []Observation, q Question, seed uint64, paths int) (Refitted, error) {
	if err := q.check(); err != nil {
		return Refitted{}, err
	}
	c, err := SampleSeen(b, seen, seed, paths)
	if err != nil {
		return Refitted{}, err
	}
	p, err := c.Answer(q)
	return Refitted{p, c.Surprises, c.ContactAreaProbability}, err
}

// SampleSeen narrows the courses by observations, in the order of their days, by
// Bayes' rule: sampled courses are weighted by how well they explain the
// readings (normal reading errors), and drawn again where the weight is
// (adaptive importance sampling). An observation that is too low for any course
// is called a leak: from its day on an unknown share of the gas is missing, which
// this and later observations tell, while those before it keep telling the
// exchange. One too high is called a surprise, and all figures are missing then.
// The same seed gives the same courses.
func SampleSeen(b Bubble, seen []Observation, seed uint64, paths int) (*Courses, error) {
	if err := checkPaths(paths); err != nil {
		return nil, err
	}
	if len(seen) == 0 || len(seen) > maxQuestions {
		return nil, &fault.Error{Code: fault.Invalid, Where: "observations", What: fmt.Sprintf("%d of them", len(seen)), Expected: fmt.Sprintf("1 to %d", maxQuestions)}
	}
	for i, o := range seen {
		if err := o.check(); err != nil {
			return nil, err
		}
		if i > 0 && o.Day < seen[i-1].Day {
			return nil, &fault.Error{Code: fault.Invalid, Where: "observations", What: fmt.Sprintf("day %g stands after day %g", o.Day, seen[i-1].Day), Expected: "the order of days"}
		}
	}
	s, err := newSampler(b)
	if err != nil {
		return nil, err
	}
	r := refitter{sampler: s, random: rand.New(rand.NewPCG(seed, 2)), paths: paths}
	return r.run(seen), nil
}

// refitter holds a weighted cloud of draws.
type refitter struct {
	*sampler
	random         *rand.Rand
	paths          int
	draws          []latent
	tight, leaking []Fast    // of the draws
	density        []float64 // of the proposal over that of the spreads, at each draw
	weights        []float64
	fills          map[Observation][]float64 // what the draws would show
}

// prepare solves the draws anew: they, or the day of a leak, have changed.
func (r *refitter) prepare() {
	r.tight, r.leaking = r.solveAll(r.draws)
	r.fills = map[Observation][]float64{}
}

// fillsOf is what each draw would show at an observation.
func (r *refitter) fillsOf(o Observation) []float64 {
	if known := r.fills[o]; known != nil {
		return known
	}
	paths := r.tight
	if o.Day >= r.leakDay { // never with NaN
		paths = r.leaking
	}
	fills := make([]float64, len(paths))
	inStretches(len(paths), func(from, to int) {
		var c fastCourse
		for i := from; i < to; i++ {
			fills[i] = paths[i].fillOn(o.Day, &c)
		}
	})
	r.fills[o] = fills
	return fills
}

func (r *refitter) run(seen []Observation) *Courses {
	r.drawPrior()
	out := &Courses{}
	used := make([]Observation, 0, len(seen))
	for _, o := range seen {
		if surprise, is := r.surprise(o); is {
			out.Surprises = append(out.Surprises, surprise)
			if !surprise.Leak {
				continue
			}
			if used = used[:len(used):len(used)]; !math.IsNaN(r.leakDay) { // a second leak: what lay between tells nothing any more
				used = slices.DeleteFunc(used, func(u Observation) bool { return u.Day >= r.leakDay })
			}
			r.leakDay = o.Day
			r.prepare()
		}
		used = append(used, o)
		r.condition(used)
	}
	basis := fmt.Sprintf("narrowed by %d observation(s) of the fill", len(used))
	if len(used) == 0 {
		basis = "not narrowed: no observation is explained by exchange alone"
	}
	if !math.IsNaN(r.leakDay) {
		basis += fmt.Sprintf("; a leak was seen on day %s, dates before it are bounds", number(r.leakDay))
	}
	out.basis = basis + "; spreads between eyes, laws of decay, fill and pressure as before" + gapOf(r.bubble.Mixture)
	if slices.ContainsFunc(out.Surprises, func(s Surprise) bool { return !s.Leak }) {
		out.withdrawn = "a visit found more gas than exchange explains; nothing is predicted until that is understood"
	}
	out.leakDay, out.tight, out.leaking, out.weights = r.leakDay, r.tight, r.leaking, r.weights
	total := 0.0
	for i, w := range r.weights {
		total += w
		if r.draws[i].law == ContactAreaLaw {
			out.ContactAreaProbability += w
		}
	}
	out.ContactAreaProbability /= total
	return out
}

func (r *refitter) drawPrior() {
	r.draws = make([]latent, r.paths)
	r.density = make([]float64, r.paths)
	r.weights = make([]float64, r.paths)
	for i := range r.draws {
		r.draws[i] = r.draw(r.random)
		r.density[i], r.weights[i] = 1, 1
	}
	r.prepare()
}

// surprise asks how likely a reading as extreme as this was, given the cloud.
func (r *refitter) surprise(o Observation) (Surprise, bool) {
	fills := r.fillsOf(o)
	below, total := 0.0, 0.0
	for i, fill := range fills {
		below += r.weights[i] * normalCDF((o.Fill-fill)/o.FillSD)
		total += r.weights[i]
	}
	below /= total
	tail := math.Min(below, 1-below)
	if tail >= surpriseProbability {
		return Surprise{}, false
	}
	expected := newQuantiler(len(fills), r.weights).estimate(slices.Clone(fills), "")
	s := Surprise{Observation: o, Expected: Span{expected.Low, expected.High}, Probability: tail, Leak: below < 0.5}
	if s.Leak {
		s.Say = fmt.Sprintf("Leak? Exchange with blood leaves %.0f to %.0f %% on day %s, %.0f %% was seen. Look at the ports, at sutures, and for gas elsewhere.",
			100*expected.Low, 100*expected.High, number(o.Day), 100*o.Fill)
	} else {
		s.Say = fmt.Sprintf("More gas than exchange explains: %.0f to %.0f %% expected on day %s, %.0f %% seen. Check the reading, the mixture and the pressure.",
			100*expected.Low, 100*expected.High, number(o.Day), 100*o.Fill)
	}
	return s, true
}

// condition weights the cloud by the observations and draws it again where
// they leave it thin.
func (r *refitter) condition(seen []Observation) {
	r.weigh(seen)
	for range proposalRounds {
		if newQuantiler(len(r.weights), r.weights).effective >= math.Min(enoughPaths, float64(r.paths)/2) {
			return
		}
		r.redraw()
		r.weigh(seen)
	}
}

// weigh gives every draw its likelihood, over the density it was drawn with.
func (r *refitter) weigh(seen []Observation) {
	fills := make([][]float64, len(seen))
	for k, o := range seen {
		fills[k] = r.fillsOf(o)
	}
	largest := math.Inf(-1)
	for i := range r.draws {
		likelihood := 0.0
		for k, o := range seen {
			miss := (o.Fill - fills[k][i]) / o.FillSD
			likelihood -= miss * miss / 2
		}
		r.weights[i] = likelihood - math.Log(r.density[i])
		largest = math.Max(largest, r.weights[i])
	}
	for i := range r.weights {
		r.weights[i] = math.Exp(r.weights[i] - largest)
	}
}
