package stats

import (
	"fmt"
	"math"
)

// Counts is one unit: a study, a surgeon, a hospital.
type Counts struct{ Events, Trials int }

func checkUnits(where string, units []Counts, least int) error {
	const most = 10_000
	if len(units) < least || len(units) > most {
		return invalid(where, fmt.Sprintf("%d units", len(units)), fmt.Sprintf("%d to %d", least, most))
	}
	for _, u := range units {
		if err := checkCounts(where, u.Events, u.Trials); err != nil {
			return err
		}
	}
	return nil
}

func total(units []Counts) (sum Counts) {
	for _, u := range units {
		sum.Events += u.Events
		sum.Trials += u.Trials
	}
	return sum
}

// binomialUnit is a unit with r events in n trials as a likelihood of its
// logit θ.
type binomialUnit struct{ r, n, logChoose float64 }

func newBinomialUnit(c Counts) binomialUnit {
	r, n := float64(c.Events), float64(c.Trials)
	return binomialUnit{r, n, logChoose(n, r)}
}

func (u binomialUnit) logLikelihood(theta float64) float64 {
	return u.logChoose + u.r*theta - u.n*logOnePlusExp(theta)
}

// mode returns the top of likelihood times N(μ, σ²) and the curvature's
// standard deviation there.
func (u binomialUnit) mode(mu, sigma float64) (theta, sd float64) {
	precision := 1 / (sigma * sigma)
	p0 := (u.r + 0.5) / (u.n + 1)
	weight := u.n * p0 * (1 - p0)
	theta = (weight*logit(p0) + precision*mu) / (weight + precision)
	for range 100 {
		p := logistic(theta)
		slope := u.r - u.n*p - (theta-mu)*precision
		curvature := u.n*p*(1-p) + precision
		step := math.Max(-1.5, math.Min(1.5, slope/curvature))
		theta += step
		sd = 1 / math.Sqrt(curvature)
		if math.Abs(step) < 1e-8*(sd+math.Abs(theta)*1e-8) {
			break
		}
	}
	return theta, sd
}

// conditional says what a unit's data and N(μ, σ²) say together.
type conditionalUnit struct {
	logMarginal                              float64 // ln ∫ likelihood · N(μ, σ²)
	theta, thetaSquare, probability, pSquare float64 // means
	slope, variance                          float64 // of θ: mean less μ, and variance
}

// given integrates over the unit's logit by the trapezium rule, walking away
// from the top to both sides until nothing is left. The logistic function is
// smooth on the scale of one, so a step of 0.6, or 0.6 standard deviations,
// leaves an error near rounding.
func (u binomialUnit) given(mu, sigma float64) conditionalUnit {
	if sigma == 0 {
		p := logistic(mu)
		return conditionalUnit{logMarginal: u.logLikelihood(mu), theta: mu, thetaSquare: mu * mu, probability: p, pSquare: p * p}
	}
	top, sd := u.mode(mu, sigma)
	step := 0.6 * math.Min(1, sd)
	// value returns the log integrand and the probability, from one exponential.
	value := func(theta float64) (float64, float64) {
		z, e := (theta-mu)/sigma, math.Exp(-math.Abs(theta))
		p, log := 1/(1+e), math.Log1p(e)
		if theta > 0 {
			log += theta
		} else {
			p *= e
		}
		return u.r*theta - u.n*log - z*z/2, p
	}
	best, _ := value(top)
	var sum, first, second float64 // the last two around the top, where nothing cancels
	var c conditionalUnit
	add := func(theta float64) bool {
		l, p := value(theta)
		w := math.Exp(l - best)
		sum += w
		first += w * (theta - top)
		second += w * (theta - top) * (theta - top)
		c.theta += w * theta
		c.thetaSquare += w * theta * theta
		c.probability += w * p
		c.pSquare += w * p * p
		return w > 1e-17
	}
	add(top)
	for k := 1; add(top + float64(k)*step); k++ {
	}
	for k := 1; add(top - float64(k)*step); k++ {
	}
	first /= sum
	c.slope, c.variance = top-mu+first, second/sum-first*first
	c.theta /= sum
	c.thetaSquare /= sum
	c.probability /= sum
	c.pSquare /= sum
	c.logMarginal = u.logChoose + best + math.Log(sum*step) - math.Log(sigma) - 0.5*math.Log(2*math.Pi)
	return c
}

// logMarginals is Σ ln ∫ over all units.
func logMarginals(units []binomialUnit, mu, sigma float64) float64 {
	var sum float64
	for _, u := range units {
		sum += u.given(mu, sigma).logMarginal
	}
	return sum
}

// newBinomialUnits also returns a first guess of the mean logit and of its
// uncertainty.
func newBinomialUnits(counts []Counts) ([]binomialUnit, float64, float64) {
	units := make([]binomialUnit, len(counts))
	for i, c := range counts {
		units[i] = newBinomialUnit(c)
	}
	all := total(counts)
	p := (float64(all.Events) + 0.5) / (float64(all.Trials) + 1)
	return units, logit(p), 1 / math.Sqrt(float64(all.Trials)*p*(1-p))
}
