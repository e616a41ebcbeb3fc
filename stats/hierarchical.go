package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// ScalePrior is a prior of a standard deviation between units: made by
// [UniformScale], [HalfNormalScale] or [GammaPrecision].
type ScalePrior struct {
	name       string
	low, high  float64 // outside, nothing
	logDensity func(sigma float64) float64
}

// UniformScale is flat on (0, upper]; upper positive.
func UniformScale(upper float64) ScalePrior {
	return ScalePrior{fmt.Sprintf("uniform up to %g", upper), 0, upper, func(float64) float64 { return 0 }}
}

// HalfNormalScale is the upper half of Normal(0, sd²), cut at eight sd; sd
// positive. On the logit scale an sd of 0.5 or 1 is weakly informative (common
// practice).
func HalfNormalScale(sd float64) ScalePrior {
	return ScalePrior{fmt.Sprintf("half-normal of %g", sd), 0, 8 * sd, func(s float64) float64 { return -s * s / (2 * sd * sd) }}
}

// GammaPrecision is 1/σ² ~ Gamma(shape, rate), σ within 1e-3 … 50. With a
// small shape it looks vague but is not when units are few; kept to reproduce
// published analyses.
func GammaPrecision(shape, rate float64) ScalePrior {
	if !(shape > 0) || !(rate > 0) {
		return ScalePrior{} // refused where it is used
	}
	// p(σ) = p(τ)·|dτ/dσ| with τ = σ⁻² and |dτ/dσ| = 2σ⁻³.
	return ScalePrior{fmt.Sprintf("precision Gamma(%g, %g)", shape, rate), 1e-3, 50, func(s float64) float64 {
		return -(2*(shape-1)+3)*math.Log(s) - rate/(s*s)
	}}
}

func (p ScalePrior) check(where string) error {
	if p.logDensity == nil || !(p.high > p.low) || !(p.low >= 0) || !finite(p.high) || math.IsNaN(p.logDensity(p.high)) {
		return invalid(where, "a prior without range", "one of the named priors with a positive parameter")
	}
	return nil
}

// place maps 0 … 1 to the prior's range, with ln dσ/du: close together near
// zero where the prior begins there, even on the scale of ln σ else.
func (p ScalePrior) place(u float64) (sigma, logSlope float64) {
	if p.low == 0 {
		return p.high * u * u, math.Log(2 * p.high * u)
	}
	sigma = p.low * math.Pow(p.high/p.low, u)
	return sigma, math.Log(sigma * math.Log(p.high/p.low))
}

// nodes returns n places with the log weights of a quadrature, prior included,
// over the stretch where prior times likelihood is within e^−25 of its top.
func (p ScalePrior) nodes(n int, logLikelihood func(sigma float64) float64) (places, logWeights []float64) {
	const coarse = 60
	logs, most := make([]float64, coarse), math.Inf(-1)
	at := func(i int) float64 { return (float64(i) + 0.5) / coarse }
	for i := range logs {
		sigma, slope := p.place(at(i))
		logs[i] = logLikelihood(sigma) + p.logDensity(sigma) + slope
		most = math.Max(most, logs[i])
	}
	first, last := coarse, -1
	for i, l := range logs {
		if l > most-25 {
			first, last = min(first, i), i
		}
	}
	low, high := math.Max(0, at(first)-1.0/coarse), math.Min(1, at(last)+1.0/coarse)
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, low, high)
	for i, u := range x {
		sigma, slope := p.place(u)
		x[i] = sigma
		logWeights = append(logWeights, math.Log(w[i])+slope+p.logDensity(sigma))
	}
	return x, logWeights
}

// Posterior is what is believed about one quantity.
type Posterior struct {
	Mean, StandardDeviation float64
	Interval                Interval
}

// HierarchicalBinomial is the belief about units that resemble each other.
type HierarchicalBinomial struct {
	Mean       Posterior // mean of the logits
	Scale      Posterior // their standard deviation
	Population Posterior // logistic(mean): probability of the middle unit
	NewUnit    Posterior // probability of a unit not yet seen
	Units      []Posterior
	Prior      string
}

// cell is one point of the quadrature over mean and scale.
type cell struct{ mu, sigma, weight float64 }

// FitHierarchicalBinomial returns posteriors under rᵢ ~ Binomial(nᵢ, pᵢ),
// logit pᵢ ~ Normal(μ, σ²), μ ~ Normal(0, meanStandardDeviation²), σ from the
// prior, by quadrature over μ and σ with each unit's logit integrated exactly.
// One unit or more; with few, the prior of σ decides: show a second one beside
// it. Intervals are central; their ends are right to about a thousandth.
// Example and model: Spiegelhalter et al., BUGS examples I, surgical
// (data and published figures read).
func FitHierarchicalBinomial(counts []Counts, meanStandardDeviation float64, scale ScalePrior, level float64) (HierarchicalBinomial, error) {
	const where = "hierarchical binomial model"
	if err := checkUnits(where, counts, 1); err != nil {
		return HierarchicalBinomial{}, err
	}
	if err := checkPositive(where, "standard deviation of the mean's prior", meanStandardDeviation); err != nil {
		return HierarchicalBinomial{}, err
	}
	if err := scale.check(where); err != nil {
		return HierarchicalBinomial{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return HierarchicalBinomial{}, err
	}
	units, guess, spread := newBinomialUnits(counts)
	cells := hierarchicalCells(units, guess, spread, meanStandardDeviation, scale)
	result := HierarchicalBinomial{Prior: scale.name, Units: make([]Posterior, len(units))}
	for i, u := range units {
		result.Units[i] = u.posterior(cells, level)
	}
	result.Mean = cellPosterior(cells, level, func(c cell) float64 { return c.mu })
	result.Scale = cellPosterior(cells, level, func(c cell) float64 { return c.sigma })
	result.Population = cellPosterior(cells, level, func(c cell) float64 { return logistic(c.mu) })
	result.NewUnit = newUnitPosterior(cells, level)
	return result, nil
}

const (
	scaleNodes = 60
	meanStep   = 0.4 // standard deviations of the mean given the scale
)

// meanWalk holds what is needed to integrate over the mean at a given scale.
type meanWalk struct {
	units          []binomialUnit
	guess, spread  float64
	priorPrecision float64
}

func (w meanWalk) logDensity(mu, sigma float64) float64 {
	return logMarginals(w.units, mu, sigma) - mu*mu*w.priorPrecision/2
}

// top returns the best mean at a scale, with the standard deviation there.
func (w meanWalk) top(sigma float64) (mu, sd float64) {
	return newtonTop(func(mu float64) float64 { return w.logDensity(mu, sigma) }, w.guess, math.Hypot(w.spread, sigma/math.Sqrt(float64(len(w.units)))))
}

// hierarchicalCells returns the cells that carry weight; the weights add to one.
func hierarchicalCells(units []binomialUnit, guess, spread, meanSD float64, scale ScalePrior) []cell {
	walk := meanWalk{units, guess, spread, 1 / (meanSD * meanSD)}
	sigmas, logWeights := scale.nodes(scaleNodes, func(sigma float64) float64 { // Laplace's approximation will do to find the range
		mu, sd := walk.top(sigma)
		return walk.logDensity(mu, sigma) + math.Log(sd)
	})
	var cells []cell
	most := math.Inf(-1)
	for k, sigma := range sigmas {
		top, sd := walk.top(sigma)
		step, best := meanStep*sd, walk.logDensity(top, sigma)
		add := func(mu float64) bool {
			l := walk.logDensity(mu, sigma)
			weight := l + logWeights[k] + math.Log(step)
			cells = append(cells, cell{mu, sigma, weight})
			most = math.Max(most, weight)
			return l > best-30
		}
		add(top)
		for i := 1; add(top + float64(i)*step); i++ {
		}
		for i := 1; add(top - float64(i)*step); i++ {
		}
	}
	kept, sum := cells[:0], 0.0
	for _, c := range cells {
		if w := math.Exp(c.weight - most); w > 1e-10 {
			c.weight = w
			kept = append(kept, c)
			sum += w
		}
	}
	for i := range kept {
		kept[i].weight /= sum
	}
	return kept
}

// newtonTop finds top and standard deviation of a log-concave function by
// differences; the top need not be exact.
func newtonTop(f func(float64) float64, guess, scale float64) (top, sd float64) {
	top, sd = guess, scale
	for range 30 {
		h := 0.1 * sd
		low, middle, high := f(top-h), f(top), f(top+h)
		curvature := -(high - 2*middle + low) / (h * h)
		if !(curvature > 0) {
			sd *= 2
			continue
		}
		sd = 1 / math.Sqrt(curvature)
		step := math.Max(-3*sd, math.Min(3*sd, (high-low)/(2*h)/curvature))
		top += step
		if math.Abs(step) < 0.05*sd {
			break
		}
	}
	return top, sd
}

// posterior integrates over the cells: moments from the exact conditional
// ones, the interval from the density of the logit on a grid.
func (u binomialUnit) posterior(cells []cell, level float64) Posterior {
	var theta, thetaSquare, p, pSquare float64
	marginals := make([]float64, len(cells))
	for i, c := range cells {
		g := u.given(c.mu, c.sigma)
		marginals[i] = g.logMarginal
		theta += c.weight * g.theta
		thetaSquare += c.weight * g.thetaSquare
		p += c.weight * g.probability
		pSquare += c.weight * g.pSquare
	}
	sd := math.Sqrt(math.Max(0, thetaSquare-theta*theta))
	const points = 301
	low, step := theta-8*sd, 16*sd/(points-1)
	density, likelihood := make([]float64, points), make([]float64, points)
	for k := range likelihood {
		likelihood[k] = u.logLikelihood(low + float64(k)*step)
	}
	for i, c := range cells {
		if c.weight < 1e-5 {
			continue // of all the belief; the interval's ends do not feel it
		}
		scale := c.weight / c.sigma
		for k := range density {
			at := low + float64(k)*step
			z := (at - c.mu) / c.sigma
			density[k] += scale * math.Exp(likelihood[k]-z*z/2-marginals[i])
		}
	}
	result := Posterior{Mean: p, StandardDeviation: math.Sqrt(math.Max(0, pSquare-p*p))}
	result.Interval = gridInterval(density, low, step, level)
	result.Interval.Low, result.Interval.High = logistic(result.Interval.Low), logistic(result.Interval.High)
	return result
}

// gridInterval is the central interval of a density on equally spaced points.
func gridInterval(density []float64, low, step, level float64) Interval {
	cumulative := make([]float64, len(density))
	for k := 1; k < len(density); k++ {
		cumulative[k] = cumulative[k-1] + (density[k]+density[k-1])/2
	}
	all := cumulative[len(cumulative)-1]
	find := func(q float64) float64 {
		for k := 1; k < len(cumulative); k++ {
			if cumulative[k] >= q*all {
				part := (q*all - cumulative[k-1]) / (cumulative[k] - cumulative[k-1])
				return low + (float64(k-1)+part)*step
			}
		}
		return low + float64(len(cumulative)-1)*step
	}
	return Interval{find((1 - level) / 2), find(1 - (1-level)/2), level}
}

// cellPosterior summarises a function of mean and scale; quantiles are those
// of the cells, joined by straight lines.
func cellPosterior(cells []cell, level float64, f func(cell) float64) Posterior {
	values, weights := make([]float64, len(cells)), make([]float64, len(cells))
	var mean, square float64
	for i, c := range cells {
		values[i], weights[i] = f(c), c.weight
		mean += c.weight * values[i]
	}
	for i, c := range cells {
		square += c.weight * (values[i] - mean) * (values[i] - mean)
	}
	tail := (1 - level) / 2
	return Posterior{mean, math.Sqrt(square), Interval{weightedQuantile(values, weights, tail), weightedQuantile(values, weights, 1-tail), level}}
}

// newUnitPosterior mixes Normal(μ, σ²) over the cells and carries it through
// the logistic function.
func newUnitPosterior(cells []cell, level float64) Posterior {
	var mean, square float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range cells {
		const steps = 60
		var norm, first, second float64
		for i := range steps + 1 {
			z := -7 + 14*float64(i)/steps
			w, p := math.Exp(-z*z/2), logistic(c.mu+c.sigma*z)
			norm += w
			first += w * p
			second += w * p * p
		}
		mean += c.weight * first / norm
		square += c.weight * second / norm
		low, high = math.Min(low, c.mu-10*c.sigma), math.Max(high, c.mu+10*c.sigma)
	}
	quantile := func(q float64) float64 {
		return logistic(bisectRough(func(x float64) float64 {
			var sum float64
			for _, c := range cells {
				sum += c.weight * NormalCDF((x-c.mu)/c.sigma)
			}
			return sum - q
		}, low, high))
	}
	tail := (1 - level) / 2
	return Posterior{mean, math.Sqrt(math.Max(0, square-mean*mean)), Interval{quantile(tail), quantile(1 - tail), level}}
}

// bisectRough halves forty times: enough for a figure to be shown.
func bisectRough(f func(float64) float64, low, high float64) float64 {
	for range 40 {
		middle := (low + high) / 2
		if f(middle) > 0 {
			high = middle
		} else {
			low = middle
		}
	}
	return (low + high) / 2
}
