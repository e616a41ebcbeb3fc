package evidence

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"limitans/estimate"
	"limitans/fault"
)

// Curve is one set of parameters of the closure model.
type Curve struct {
	Intercept float64 // logit of closure at 500 µm, peel with gas, middle study
	SlopePer100UM,
	Air float64 // added to the logit where air stands for gas
	StudySD float64 // standard deviation of the studies' logits
}

func (c Curve) shift(q question) float64 {
	if q.air {
		return c.Intercept + c.Air
	}
	return c.Intercept
}

// Standard deviations of the priors, see the package comment.
const (
	interceptPriorSD = 5
	slopePriorSD     = 1
	airPriorSD       = 2
)

// studyGroup is the strata that share one study's shift.
type studyGroup []*Stratum

// groupByStudy keeps the order of first appearance.
func groupByStudy(strata []*Stratum) []studyGroup {
	var groups []studyGroup
	at := map[string]int{}
	for _, s := range strata {
		i, seen := at[s.Row.Study]
		if !seen {
			i = len(groups)
			at[s.Row.Study] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], s)
	}
	return groups
}

// walk visits equally spaced shifts u of a study around the top of likelihood
// times Normal(0, τ²), with the logarithm of that product, until nothing is
// left, and returns the step. The trapezium rule on them is exact to rounding.
func (g studyGroup) walk(c Curve, visit func(u, log float64)) (step float64) {
	top, sd := g.top(c)
	step = 0.8 * sd
	best := g.log(c, top)
	visit(top, best)
	for _, sign := range []float64{1, -1} {
		for k := 1; k < 400; k++ {
			u := top + sign*float64(k)*step
			value := g.log(c, u)
			visit(u, value)
			if value < best-22 {
				break
			}
		}
	}
	return step
}

// log of likelihood times Normal(u; 0, τ²), without constants.
func (g studyGroup) log(c Curve, u float64) float64 {
	value := halfNormalLog(u, c.StudySD)
	for _, s := range g {
		p, q, _ := s.sizes.chance(c.shift(s.question)+u, c.SlopePer100UM)
		value += s.logLikelihood(p, q)
	}
	return value
}

// top is where log is highest, and the standard deviation that its information
// says, by Fisher scoring; neither need be exact.
func (g studyGroup) top(c Curve) (top, sd float64) {
	precision := 1 / (c.StudySD * c.StudySD)
	for range 12 {
		score, information := -top*precision, precision
		for _, s := range g {
			p, q, d := s.sizes.chance(c.shift(s.question)+top, c.SlopePer100UM)
			n, k := float64(s.Row.Eyes), float64(s.Row.Events)
			if p*q > 0 {
				score += (k - n*p) / (p * q) * d
				information += n * d * d / (p * q)
			}
		}
		sd = 1 / math.Sqrt(information)
		move := math.Max(-1.5, math.Min(1.5, score/information))
		top += move
		if math.Abs(move) < 0.1*sd {
			break
		}
	}
	return top, sd
}

// logMarginal is ln ∫ likelihood · Normal(u; 0, τ²) du, without binomial
// coefficients.
func (g studyGroup) logMarginal(c Curve) float64 {
	var first, sum float64
	begun := false
	step := g.walk(c, func(_, log float64) {
		if !begun {
			first, begun = log, true
		}
		sum += math.Exp(log - first)
	})
	return first + math.Log(sum*step) - math.Log(c.StudySD) - 0.5*math.Log(2*math.Pi)
}

// logPosterior of the curve, by its parameters and ln τ, without constants.
func logPosterior(groups []studyGroup, c Curve) float64 {
	if !(c.StudySD > 1e-4 && c.StudySD < 20) || math.Abs(c.Intercept) > 50 || math.Abs(c.SlopePer100UM) > 20 {
		return math.Inf(-1)
	}
	l := halfNormalLog(c.Intercept, interceptPriorSD) + halfNormalLog(c.SlopePer100UM, slopePriorSD) + halfNormalLog(c.Air, airPriorSD) +
		halfNormalLog(c.StudySD, SpreadPriorSD) + math.Log(c.StudySD)
	for _, g := range groups {
		l += g.logMarginal(c)
	}
	return l
}

func curveOf(x []float64) Curve { return Curve{x[0], x[1], x[2], math.Exp(x[3])} }

// draw is one sample of the posterior with standard normal numbers for what is
// not fitted, so that answers at neighbouring sizes share their chance.
type draw struct {
	Curve
	weight                            float64
	unit, flap, peel, faceDown, month float64
}

// Closure is a fitted model.
type Closure struct {
	Strata  []Stratum // fitted and checking ones
	Seed    uint64
	draws   []draw
	effects closureEffects
}

// FitClosure fits the model to the strata that are marked as fitted. seed makes
// the sample, draws is its size, 500 to 100000.
func FitClosure(strata []Stratum, seed uint64, draws int) (*Closure, error) {
	const where = "closure by size"
	if draws < 500 || draws > 100_000 {
		return nil, &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%d draws", draws), Expected: "500 to 100000"}
	}
	m := &Closure{Strata: slices.Clone(strata), Seed: seed}
	var fitted []*Stratum
	for i := range m.Strata {
		if m.Strata[i].Fitted && len(m.Strata[i].sizes.at) > 0 {
			fitted = append(fitted, &m.Strata[i])
		}
	}
	if len(fitted) < 3 {
		return nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: fmt.Sprintf("%d strata", len(fitted)), Expected: "at least three, made by Strata"}
	}
	var err error
	if m.effects, err = newClosureEffects(); err != nil {
		return nil, err
	}
	m.draws, err = samplePosterior(groupByStudy(fitted), seed, draws)
	return m, err
}

// fineDraws and seedOfRecord make the model that everybody is shown.
const (
	fineDraws    = 4000
	seedOfRecord = 1
)

var publishedClosure = sync.OnceValues(func() (*Closure, error) {
	rows, err := Rows()
	if err != nil {
		return nil, err
	}
	strata, err := Strata(rows)
	if err != nil {
		return nil, err
	}
	return FitClosure(strata, seedOfRecord, fineDraws)
})

// PublishedClosure returns the model fitted to the whole table: seed 1, 4000
// draws, fitted once for the whole program.
func PublishedClosure() (*Closure, error) { return publishedClosure() }

// samplePosterior draws from a multivariate t with 5 degrees of freedom around
// the posterior's top and weighs each draw by posterior over proposal.
func samplePosterior(groups []studyGroup, seed uint64, n int) ([]draw, error) {
	const where, freedom = "closure by size", 5.0
	top, root, err := posteriorTop(groups)
	if err != nil {
		return nil, err
	}
	random := rand.New(rand.NewPCG(seed, 0x6c696d6974616e73))
	draws := make([]draw, n)
	logs := make([]float64, n)
	most := math.Inf(-1)
	for i := range draws {
		z, square := make([]float64, len(top)), 0.0
		for k := range z {
			z[k] = random.NormFloat64()
		}
		chi := 0.0
		for range int(freedom) {
			v := random.NormFloat64()
			chi += v * v
		}
		for k := range z {
			z[k] *= math.Sqrt(freedom / chi)
			square += z[k] * z[k]
		}
		x := slices.Clone(top)
		for r := range x {
			for k := range r + 1 {
				x[r] += root.At(r, k) * z[k]
			}
		}
		draws[i] = draw{Curve: curveOf(x), unit: random.NormFloat64(), flap: random.NormFloat64(), peel: random.NormFloat64(), faceDown: random.NormFloat64(), month: random.NormFloat64()}
		logs[i] = logPosterior(groups, draws[i].Curve) + (freedom+float64(len(x)))/2*math.Log(1+square/freedom)
		most = math.Max(most, logs[i])
	}
	var sum, squares float64
	for i := range draws {
		draws[i].weight = math.Exp(logs[i] - most)
		sum += draws[i].weight
	}
	for i := range draws {
		draws[i].weight /= sum
		squares += draws[i].weight * draws[i].weight
	}
	if effective := 1 / squares; effective < float64(n)/5 {
		return nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: fmt.Sprintf("the sample of %d is worth only %.0f", n, effective), Mend: "admit more rows"}
	}
	return draws, nil
}

// posteriorTop returns the top of the posterior and the root of the covariance
// that its curvature says.
func posteriorTop(groups []studyGroup) (top []float64, root *mat.TriDense, err error) {
	const where = "closure by size"
	f := func(x []float64) float64 { return -logPosterior(groups, curveOf(x)) }
	found, err := optimize.Minimize(optimize.Problem{Func: f}, []float64{2, -0.4, -0.5, -0.5}, &optimize.Settings{
		Converger: &optimize.FunctionConverge{Absolute: 1e-7, Iterations: 40}, FuncEvaluations: 4000,
	}, &optimize.NelderMead{})
	if err != nil {
		return nil, nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: "the fit does not settle", Cause: err}
	}
	top = found.X
	curvature := mat.NewSymDense(len(top), nil)
	h := []float64{0.03, 0.01, 0.05, 0.05}
	at := func(r int, a float64, c int, b float64) float64 {
		x := slices.Clone(top)
		x[r] += a * h[r]
		x[c] += b * h[c]
		return f(x)
	}
	for r := range top {
		curvature.SetSym(r, r, (at(r, 1, r, 0)-2*f(top)+at(r, -1, r, 0))/(h[r]*h[r]))
		for c := range r {
			curvature.SetSym(r, c, (at(r, 1, c, 1)-at(r, 1, c, -1)-at(r, -1, c, 1)+at(r, -1, c, -1))/(4*h[r]*h[c]))
		}
	}
	var precision mat.Cholesky
	if !precision.Factorize(curvature) {
		return nil, nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: "the rows do not tell intercept, slope, air and spread apart", Mend: "admit more rows"}
	}
	var covariance mat.SymDense
	if err := precision.InverseTo(&covariance); err != nil {
		return nil, nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: "the rows do not tell the parameters apart", Cause: err}
	}
	var c mat.Cholesky
	if !c.Factorize(&covariance) {
		return nil, nil, &fault.Error{Code: fault.NotMeasurable, Where: where, What: "the rows do not tell the parameters apart"}
	}
	root = mat.NewTriDense(len(top), mat.Lower, nil)
	c.LTo(root)
	return top, root, nil
}

// Parameter is a fitted number with its posterior mean and interval.
type Parameter struct {
	Name     string
	Estimate estimate.Estimate
}

// Parameters returns intercept, slope, air and spread of studies.
func (m *Closure) Parameters() []Parameter {
	basis := "posterior, " + m.fittedTo()
	var out []Parameter
	for _, p := range []struct {
		name string
		of   func(draw) float64
	}{
		{"logit of closure at 500 µm", func(d draw) float64 { return d.Intercept }},
		{"slope of the logit per 100 µm", func(d draw) float64 { return d.SlopePer100UM }},
		{"air instead of gas", func(d draw) float64 { return d.Air }},
		{"standard deviation between studies", func(d draw) float64 { return d.StudySD }},
	} {
		mean, _, low, high := m.summary(p.of)
		out = append(out, Parameter{p.name, estimate.Estimate{Value: mean, Low: low, High: high, Basis: basis}})
	}
	return out
}

// fittedTo says how much was fitted.
func (m *Closure) fittedTo() string {
	strata, eyes, seen := 0, 0, map[string]bool{}
	for _, s := range m.Strata {
		if s.Fitted {
			strata++
			eyes += s.Row.Eyes
			seen[s.Row.Study] = true
		}
	}
	return fmt.Sprintf("fitted here to published counts: %d strata of %d studies, %d eyes", strata, len(seen), eyes)
}

// summary is the weighted mean, median and central 95 % of a function of draws.
func (m *Closure) summary(of func(draw) float64) (mean, median, low, high float64) {
	return summarise(m.draws, of)
}

func summarise(draws []draw, of func(draw) float64) (mean, median, low, high float64) {
	type weighed struct{ value, weight float64 }
	all := make([]weighed, len(draws))
	for i, d := range draws {
		all[i] = weighed{of(d), d.weight}
		mean += d.weight * all[i].value
	}
	slices.SortFunc(all, func(a, b weighed) int { return cmp.Compare(a.value, b.value) })
	values, weights := make([]float64, len(all)), make([]float64, len(all))
	for i, w := range all {
		values[i], weights[i] = w.value, w.weight
	}
	quantile := func(q float64) float64 { return weightedQuantile(values, weights, q) }
	return mean, quantile(0.5), quantile(tail), quantile(1 - tail)
}
