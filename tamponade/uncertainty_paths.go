package tamponade

import (
	"fmt"
	"math"
	"math/rand/v2"

	"limitans/estimate"
	"limitans/fault"
)

// Bubble is what is known about a bubble at the end of surgery.
type Bubble struct {
	Mixture Mixture
	Lens    Lens
	// CavityML is the cavity's volume with its interval ([eye.CavityVolumeML]).
	CavityML estimate.Estimate
	// Fill is the share of the cavity that the bubble takes up at the end of
	// surgery, FillSD how well that is known; 0 for [DefaultFillSD].
	Fill, FillSD float64
	// Globe is the eye's water. Its cavity is replaced by CavityML.
	Globe Globe
}

// Question is what is to be predicted: the days on which the fill falls for
// good below each threshold, and the fill on each day.
type Question struct {
	Thresholds []float64 // shares of the cavity, from [GoneFill] to 1
	Days       []float64 // 0 and later
}

// Prediction is the answer, each value the median of the paths with the 2.5th
// and 97.5th percentile.
type Prediction struct {
	HalfLifeDays estimate.Estimate
	// LastAboveDay has one date per threshold.
	LastAboveDay []estimate.Estimate
	// Fill has one share per day, at most 1.
	Fill []estimate.Estimate
	// Paths is how many sampled courses stand behind it, EffectivePaths how
	// many independent ones they are worth after a refit.
	Paths          int
	EffectivePaths float64
}

// Limits of sampling.
const (
	// DefaultPaths leaves the 2.5th percentile uncertain by about a hundredth
	// of the spread.
	DefaultPaths = 2000
	minPaths     = 100
	maxPaths     = 200_000
	maxQuestions = 1000
)

// The sampled quantities of one path, standard normal each but the law.
const (
	latentRate = iota
	latentLongGas
	latentPercent
	latentFill
	latentOxygen
	latentPressure
	latentLeak // what is left after a leak; of no effect without one
	latentCount
)

// latent is one draw of everything that is not known.
type latent struct {
	z   [latentCount]float64
	law Law
}

// Check refuses a bubble that cannot be sampled.
func (b Bubble) Check() error {
	if _, err := b.Mixture.Composition(); err != nil {
		return err
	}
	if !(b.Fill >= 0.01 && b.Fill <= 1) {
		e := &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g is not a share of the cavity", b.Fill), Expected: "0.01 to 1"}
		if b.Fill > 1 && b.Fill <= 100 {
			e.Mend = "a percentage is divided by 100"
		}
		return e
	}
	if !(b.FillSD >= 0 && b.FillSD <= 0.5) {
		return &fault.Error{Code: fault.Invalid, Where: "spread of the fill", What: fmt.Sprintf("%g is out of reach", b.FillSD), Expected: "0 to 0.5"}
	}
	if !(b.CavityML.Low > 0 && b.CavityML.High >= b.CavityML.Low) {
		return &fault.Error{Code: fault.Invalid, Where: "cavity", What: "has no volume", Expected: "a volume with its interval"}
	}
	globe := b.Globe
	globe.CavityML = b.CavityML.Value
	return globe.Check()
}

func (q Question) check() error {
	if size := len(q.Thresholds) + len(q.Days); size > maxQuestions {
		return &fault.Error{Code: fault.TooLarge, Where: "question", What: fmt.Sprintf("%d thresholds and days", size), Expected: fmt.Sprintf("at most %d", maxQuestions)}
	}
	for _, x := range q.Thresholds {
		if !(x >= GoneFill && x <= 1) {
			return &fault.Error{Code: fault.Invalid, Where: "threshold", What: fmt.Sprintf("%g is out of reach", x), Expected: fmt.Sprintf("%g to 1", GoneFill)}
		}
	}
	for _, d := range q.Days {
		if !(d >= 0 && d <= MaxDays) {
			return &fault.Error{Code: fault.Invalid, Where: "day", What: fmt.Sprintf("%g is out of reach", d), Expected: fmt.Sprintf("0 to %g", MaxDays)}
		}
	}
	return nil
}

func checkPaths(paths int) error {
	if paths >= minPaths && paths <= maxPaths {
		return nil
	}
	return &fault.Error{Code: fault.Invalid, Where: "paths", What: fmt.Sprintf("%d is no useful number", paths), Expected: fmt.Sprintf("%d to %d", minPaths, maxPaths)}
}

// sampler turns latent draws into courses.
type sampler struct {
	bubble   Bubble
	fillSD   float64
	rateSD   float64
	longSD   float64
	tail     [2]float64 // normal probabilities of an empty and a full cavity
	byLaw    [2]Parameters
	composed Composition
	long     Gas
	// leakDay is when a leak was seen; NaN without one. From then on a path
	// counts with what the leak has left.
	leakDay float64
}

func newSampler(b Bubble) (*sampler, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	s := &sampler{bubble: b, leakDay: nan, fillSD: b.FillSD, rateSD: rateSpread(b.Lens), longSD: longGasSD}
	if s.fillSD == 0 {
		s.fillSD = DefaultFillSD
	}
	s.tail = [2]float64{normalCDF((minFill - b.Fill) / s.fillSD), normalCDF((1 - b.Fill) / s.fillSD)}
	s.byLaw = [2]Parameters{DefaultParameters(VolumeLaw, b.Lens), DefaultParameters(ContactAreaLaw, b.Lens)}
	s.composed, _ = b.Mixture.Composition() // checked above
	s.long = agentGas[b.Mixture.Agent]
	if b.Mixture.Agent == AgentC2F6 {
		s.longSD = noHalfLifeSD
	}
	return s, nil
}

// draw takes one path from the spreads.
func (s *sampler) draw(random *rand.Rand) latent {
	var l latent
	for i := range l.z {
		l.z[i] = random.NormFloat64()
	}
	if random.Float64() < contactAreaShare {
		l.law = ContactAreaLaw
	}
	return l
}

// fill is the start of a path: normal, between an empty and a full cavity.
func (s *sampler) fill(l *latent) float64 {
	u := s.tail[0] + normalCDF(l.z[latentFill])*(s.tail[1]-s.tail[0])
	return math.Max(minFill, math.Min(1, s.bubble.Fill+s.fillSD*normalQuantile(u)))
}

// parameters and composition of a path.
func (s *sampler) exchange(l *latent) (Composition, Parameters) {
	p := s.byLaw[l.law].scaled(math.Exp(s.rateSD * l.z[latentRate]))
	if s.long != 0 {
		p.PerDay[s.long] *= math.Exp(s.longSD * l.z[latentLongGas])
	}
	p.TissueMMHg[Oxygen] = math.Max(5, p.TissueMMHg[Oxygen]+oxygenSD*l.z[latentOxygen])
	c := s.composed
	if s.long != 0 {
		share := math.Min(1, c[s.long]*math.Exp(percentSD*l.z[latentPercent]))
		c[s.long], c[Nitrogen], c[Oxygen] = share, (1-share)*(1-oxygenInAir), (1-share)*oxygenInAir
	}
	return c, p
}

// dryMMHg is the dry pressure in the bubble of a path.
func (s *sampler) dryMMHg(l *latent) float64 {
	g := s.bubble.Globe
	return g.AmbientMMHg + math.Max(5, g.BaselineMMHg+pressureSD*l.z[latentPressure]) - WaterVapourMMHg
}

// left is the share of the gas that a leak has left on a path: anything from
// all to nothing, none likelier than another.
func (l *latent) left() float64 { return math.Max(1e-3, normalCDF(l.z[latentLeak])) }

// solve prepares the closed form of a draw of which a share of the gas is left:
// 1, or what a leak has left, as if the lost share had never been there. For the
// volume law that is exact; for the contact-area law the bubble's clock ran a
// little faster before. Tissue follows the ambient pressure.
func (s *sampler) solve(left float64, l *latent, f *Fast) {
	composition, p := s.exchange(l)
	p.TissueMMHg[Nitrogen] *= (s.bubble.Globe.AmbientMMHg - WaterVapourMMHg) / (SeaLevelMMHg - WaterVapourMMHg)
	dry := s.dryMMHg(l)
	f.law, f.fill = l.law, math.Max(minFill, left*s.fill(l))
	composition = composition.Settled(l.law, p, f.fill, dry, DefaultOpenMinutes)
	f.solve(&composition, &p, dry)
}

// solveAll prepares every draw: the tight paths, and after a leak the leaking ones.
func (s *sampler) solveAll(draws []latent) (tight, leaking []Fast) {
	tight = make([]Fast, len(draws))
	if !math.IsNaN(s.leakDay) {
		leaking = make([]Fast, len(draws))
	}
	inStretches(len(draws), func(from, to int) {
		for i := from; i < to; i++ {
			s.solve(1, &draws[i], &tight[i])
			if leaking != nil {
				s.solve(draws[i].left(), &draws[i], &leaking[i])
			}
		}
	})
	return tight, leaking
}
