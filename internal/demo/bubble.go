package demo

import (
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/tamponade"
)

const (
	// endFill is the share of the cavity that a bubble takes up at the end of an
	// operation that filled it: some fluid is always left (common practice, no
	// source). The course of an eye and the bubble command take the same.
	endFill = 0.85
	// readingErrorPercent is the half width of the 95 % interval of a reading by
	// eye, in points of the cavity.
	readingErrorPercent = record.DefaultReadingErrorPercent
	// leastRead is what is written of a bubble too small to tell how small.
	leastRead = 1.0
	// coveredFill is about the fill above which a bubble hides the macula of an
	// upright head from sight and scan (drawn by hand, no source).
	coveredFill = 0.5

	hoursPerDay = 24
)

// bubbleKind is all that the course of a bubble depends on beside chance: shares
// of the cavity do not depend on how large it is, so the length of the eye is none
// of it.
type bubbleKind struct {
	mixture tamponade.Mixture
	lens    tamponade.Lens
}

// bubbleCourses holds the sampled courses of the few kinds that a clinic uses, each
// sampled when it first comes up and from the clinic's seed alone.
type bubbleCourses struct {
	sync.Mutex
	known map[bubbleKind]*tamponade.Courses
}

func (k *bubbleCourses) of(kind bubbleKind, seed uint64) (*tamponade.Courses, error) {
	k.Lock()
	defer k.Unlock()
	if c := k.known[kind]; c != nil {
		return c, nil
	}
	cavity, err := eye.CavityVolumeML(eye.ReferenceAxialLengthMM)
	if err != nil {
		return nil, err
	}
	c, err := tamponade.Sample(tamponade.Bubble{
		Mixture: kind.mixture, Lens: kind.lens, CavityML: cavity, Fill: endFill, Globe: tamponade.DefaultGlobe(cavity.Value),
	}, seed, tamponade.DefaultPaths)
	if err != nil {
		return nil, err
	}
	if k.known == nil {
		k.known = map[bubbleKind]*tamponade.Courses{}
	}
	k.known[kind] = c
	return c, nil
}

// bubble is the gas or air in an eye: one of the sampled courses, from an operation
// on. Nil is none.
type bubble struct {
	courses *tamponade.Courses
	path    int
	from    time.Time
	errors  *rand.Rand // of the readings; its own, so that they do not change the story
}

// fillWithGas gives the eye the bubble of an operation that began at a moment.
func (t *teller) fillWithGas(s surgery, from time.Time) {
	t.bubble = nil
	kind := bubbleKind{tamponade.Mixture{Agent: tamponade.AgentAir, Percent: 100}, tamponade.Phakic}
	switch s.tamponade {
	case record.MediumAir:
	case record.MediumGas:
		agent, err := tamponade.ParseAgent(string(s.gas))
		if err == nil {
			kind.mixture, err = tamponade.NewMixture(agent, tamponade.Percent(s.percent))
		}
		if err != nil {
			t.err = err
			return
		}
	default:
		return
	}
	if t.lens == record.LensPseudophakic {
		kind.lens = tamponade.Pseudophakic
	}
	courses, err := t.clinic.bubbles.of(kind, t.clinic.seed)
	if err != nil {
		t.err = err
		return
	}
	t.bubble = &bubble{
		courses: courses, path: t.rng.IntN(tamponade.DefaultPaths), from: from,
		errors: rand.New(rand.NewPCG(^t.clinic.seed, uint64(from.Unix())+uint64(t.out.Number)<<32)),
	}
}

// gasFill is the share of the cavity that gas or air takes up now; 0 once it is
// gone or without any.
func (t *teller) gasFill() float64 {
	if t.bubble == nil || t.silent || t.err != nil {
		return 0
	}
	fill, err := t.bubble.courses.PathFill(t.bubble.path, t.now().Sub(t.bubble.from).Hours()/hoursPerDay)
	if err != nil {
		t.err = err
	}
	if !(fill >= tamponade.GoneFill) {
		return 0
	}
	return fill
}

// lookForGas writes what a visit finds of a bubble: how large it looks, or that the
// eye is empty. A reading misses the fill by its normal error; a bubble that is
// seen is never written as nothing or as more than the cavity.
func (t *teller) lookForGas(v *record.Visit) {
	if t.bubble == nil {
		return
	}
	fill := t.gasFill()
	if fill == 0 {
		v.MediaSeen = append(v.MediaSeen, record.MediumSeen{Medium: t.medium, State: record.LookNone})
		t.medium, t.bubble = record.MediumFluid, nil
		return
	}
	wrong := readingErrorPercent
	read := math.Round(100*fill + wrong/estimate.Z95*t.bubble.errors.NormFloat64())
	read = math.Max(leastRead, math.Min(100, read))
	v.Bubble = []record.BubbleReading{{Medium: t.medium, FillPercent: &read, FillErrorPercent: &wrong, At: v.At}}
}
