package tamponade

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

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
// good below each threshold, the fill on each day, and hours of support.
type Question struct {
	Thresholds []float64 // shares of the cavity, from [GoneFill] to 1
	Days       []float64 // 0 and later
	Supports   []Support
}

// Support asks for the hours of a day in which a target is covered, when days
// are spent as in a diary.
type Support struct {
	Diary  Diary
	Target Target
	Days   []float64
}

// Prediction is the answer, each value the median of the paths with the 2.5th
// and 97.5th percentile.
type Prediction struct {
	HalfLifeDays estimate.Estimate
	// LastAboveDay has one date per threshold.
	LastAboveDay []estimate.Estimate
	// Fill has one share per day, at most 1.
	Fill []estimate.Estimate
	// SupportHours has, for each support, one number of hours per day of it.
	SupportHours [][]estimate.Estimate
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
	size, days := len(q.Thresholds)+len(q.Days), q.Days
	for _, s := range q.Supports {
		size += len(s.Days)
		days = append(days[:len(days):len(days)], s.Days...)
	}
	if size > maxQuestions {
		return &fault.Error{Code: fault.TooLarge, Where: "question", What: fmt.Sprintf("%d thresholds and days", size), Expected: fmt.Sprintf("at most %d", maxQuestions)}
	}
	for _, x := range q.Thresholds {
		if !(x >= GoneFill && x <= 1) {
			return &fault.Error{Code: fault.Invalid, Where: "threshold", What: fmt.Sprintf("%g is out of reach", x), Expected: fmt.Sprintf("%g to 1", GoneFill)}
		}
	}
	for _, d := range days {
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
	covered  [][]coverage // of each support asked for
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

// path lays out the course of a draw without a leak. Tissue follows the ambient
// pressure.
func (s *sampler) path(l *latent, f *Fast, c *fastCourse) { s.pathWith(1, l, f, c) }

// leaked lays out the course as it counts from the day of the leak on, as if
// the lost share had never been there. For the volume law that is exact; for
// the contact-area law the bubble's clock ran a little faster before.
func (s *sampler) leaked(l *latent, f *Fast, c *fastCourse) { s.pathWith(l.left(), l, f, c) }

func (s *sampler) pathWith(left float64, l *latent, f *Fast, c *fastCourse) {
	composition, p := s.exchange(l)
	p.TissueMMHg[Nitrogen] *= (s.bubble.Globe.AmbientMMHg - WaterVapourMMHg) / (SeaLevelMMHg - WaterVapourMMHg)
	dry := s.dryMMHg(l)
	f.law, f.fill = l.law, math.Max(minFill, left*s.fill(l))
	composition = composition.Settled(l.law, p, f.fill, dry, DefaultOpenMinutes)
	f.solve(&composition, &p, dry)
	f.course(c)
}

// Predict samples courses from the spreads between eyes, series, laws, fills
// and pressures, with a seed, and reports their quantiles. The same arguments
// give the same answer. 2,000 paths take a few hundredths of a second.
func Predict(b Bubble, q Question, seed uint64, paths int) (Prediction, error) {
	if err := q.check(); err != nil {
		return Prediction{}, err
	}
	if err := checkPaths(paths); err != nil {
		return Prediction{}, err
	}
	s, err := newSampler(b)
	if err == nil {
		err = s.support(q)
	}
	if err != nil {
		return Prediction{}, err
	}
	random := rand.New(rand.NewPCG(seed, 0))
	draws := make([]latent, paths)
	for i := range draws {
		draws[i] = s.draw(random)
	}
	return s.answer(q, draws, nil, "sampled from the spread between eyes and series, both laws of decay, fill, mixture and pressure"+gapOf(b.Mixture)), nil
}

// answer asks every path; weights may be nil for equal ones. The supports were
// prepared by [sampler.support].
func (s *sampler) answer(q Question, draws []latent, weights []float64, basis string) Prediction {
	n := len(draws)
	days := q.Days
	for _, p := range q.Supports {
		days = append(days[:len(days):len(days)], p.Days...)
	}
	values := make([]float64, n*(1+len(q.Thresholds)+len(days)))
	column := func(i int) []float64 { return values[i*n : (i+1)*n] }
	var f, before Fast
	var c, tight fastCourse
	isLeaking := !math.IsNaN(s.leakDay)
	for i := range draws {
		if isLeaking {
			s.path(&draws[i], &before, &tight)
			s.leaked(&draws[i], &f, &c)
		} else {
			s.path(&draws[i], &f, &c)
		}
		at := 0
		values[i] = c.lastAbove(f.fill/4) / 2
		for _, x := range q.Thresholds {
			at++
			values[at*n+i] = c.lastAbove(x)
		}
		for _, day := range days {
			at++
			if isLeaking && day < s.leakDay {
				values[at*n+i] = tight.fillAt(day)
			} else {
				values[at*n+i] = c.fillAt(day)
			}
		}
	}
	sorter := newQuantiler(n, weights)
	p := Prediction{Paths: n, EffectivePaths: sorter.effective, HalfLifeDays: sorter.estimate(column(0), "apparent first-order half-life; "+basis)}
	at := 0
	for range q.Thresholds {
		at++
		p.LastAboveDay = append(p.LastAboveDay, sorter.estimate(column(at), basis))
	}
	for range q.Days {
		at++
		p.Fill = append(p.Fill, sorter.estimate(column(at), basis))
	}
	for k, support := range q.Supports {
		var hours []estimate.Estimate
		for range support.Days {
			at++
			fills := column(at)
			for i, fill := range fills {
				fills[i] = hoursAt(s.covered[k], fill)
			}
			hours = append(hours, sorter.estimate(fills, "hours of a day in which the level covers the "+support.Target.Name+", flat in a sphere; "+basis))
		}
		p.SupportHours = append(p.SupportHours, hours)
	}
	return p
}

// support prepares the fills that each support needs.
func (s *sampler) support(q Question) error {
	for _, p := range q.Supports {
		covered, err := p.Diary.coverages(p.Target)
		if err != nil {
			return err
		}
		s.covered = append(s.covered, covered)
	}
	return nil
}

// quantiler takes weighted quantiles of columns of equal length.
type quantiler struct {
	weights   []float64
	order     []int
	sum       float64
	effective float64
}

func newQuantiler(n int, weights []float64) *quantiler {
	q := &quantiler{weights: weights, sum: float64(n), effective: float64(n)}
	if weights == nil {
		return q
	}
	q.order = make([]int, n)
	squares := 0.0
	q.sum = 0
	for _, w := range weights {
		q.sum += w
		squares += w * w
	}
	q.effective = q.sum * q.sum / squares
	return q
}

// estimate returns median and 95 % interval of a column, which it may reorder.
func (q *quantiler) estimate(column []float64, basis string) estimate.Estimate {
	if q.weights == nil {
		n := len(column)
		middle := orderStatistic(column, 0, n-1, 0.5)
		low := orderStatistic(column, 0, n/2, 0.025*float64(n-1)/float64(n/2))
		high := orderStatistic(column, n/2, n-1, (0.975*float64(n-1)-float64(n/2))/float64(n-1-n/2))
		return estimate.Estimate{Value: middle, Low: low, High: high, Basis: basis}
	}
	for i := range q.order {
		q.order[i] = i
	}
	slices.SortFunc(q.order, func(a, b int) int {
		switch {
		case column[a] < column[b]:
			return -1
		case column[a] > column[b]:
			return 1
		}
		return a - b
	})
	var found [3]float64
	next, below := 0, 0.0
	shares := [3]float64{0.025, 0.5, 0.975}
	for _, i := range q.order {
		below += q.weights[i]
		for next < len(shares) && below >= shares[next]*q.sum {
			found[next] = column[i]
			next++
		}
	}
	for ; next < len(shares); next++ { // rounding at the very end
		found[next] = column[q.order[len(q.order)-1]]
	}
	return estimate.Estimate{Value: found[1], Low: found[0], High: found[2], Basis: basis}
}

// orderStatistic brings the elements from first to last (inclusive) of column
// so far into order that the one at a share of the way is in its place, and
// returns it, linear between two neighbours. Expected time is linear.
func orderStatistic(column []float64, first, last int, share float64) float64 {
	position := float64(first) + share*float64(last-first)
	k := int(position)
	selectAt(column, first, last, k)
	if k >= last {
		return column[k]
	}
	next := column[k+1]
	for _, v := range column[k+2 : last+1] {
		next = math.Min(next, v)
	}
	return column[k] + (position-float64(k))*(next-column[k])
}

// selectAt is Hoare's selection: afterwards nothing before k is larger than
// column[k], nothing behind it smaller.
func selectAt(column []float64, low, high, k int) {
	for low < high {
		pivot := column[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for column[i] < pivot {
				i++
			}
			for column[j] > pivot {
				j--
			}
			if i <= j {
				column[i], column[j] = column[j], column[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return
		}
	}
}

// normalCDF is Φ.
func normalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// normalQuantile is Φ⁻¹.
func normalQuantile(u float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*u) }
