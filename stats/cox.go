package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Ties says how a proportional-hazards model treats events at equal times.
type Ties int

// The treatments of ties. Efron is close to exact and fast; it is the one to
// take. ExactTies treats time as discrete.
const (
	Efron Ties = iota
	Breslow
	ExactTies
)

// CoxModel is a fitted proportional-hazards model.
type CoxModel struct {
	Coefficients   []float64 // log hazard ratios, one a predictor
	StandardErrors []float64
	Covariance     [][]float64
	LogLikelihood  float64 // partial, at the coefficients
	NullLikelihood float64 // partial, at zero
	Events         int
}

// HazardRatio returns exp of a coefficient with its Wald interval.
func (m CoxModel) HazardRatio(predictor int, level float64) (float64, Interval, error) {
	return ratioOf("hazard ratio", m.Coefficients, m.StandardErrors, predictor, level)
}

func ratioOf(where string, coefficients, errors []float64, at int, level float64) (float64, Interval, error) {
	if at < 0 || at >= len(coefficients) {
		return 0, Interval{}, invalid(where, fmt.Sprintf("predictor %d", at), fmt.Sprintf("0 to %d", len(coefficients)-1))
	}
	if err := checkLevel(where, level); err != nil {
		return 0, Interval{}, err
	}
	b, half := coefficients[at], twoSided(level)*errors[at]
	return math.Exp(b), Interval{math.Exp(b - half), math.Exp(b + half), level}, nil
}

const (
	mostRows       = 2_000_000 // observations of one model
	mostPredictors = 200
)

// checkRows wants one row of the same number of finite predictors a subject.
func checkRows(where string, rows [][]float64, n int) (predictors int, err error) {
	if len(rows) != n || n == 0 || n > mostRows {
		return 0, invalid(where, fmt.Sprintf("%d rows beside %d outcomes", len(rows), n), fmt.Sprintf("one row for each outcome, 1 to %d", mostRows))
	}
	predictors = len(rows[0])
	if predictors > mostPredictors {
		return 0, invalid(where, fmt.Sprintf("%d predictors", predictors), fmt.Sprintf("at most %d", mostPredictors))
	}
	for i, row := range rows {
		if len(row) != predictors {
			return 0, invalid(where, fmt.Sprintf("row %d has %d predictors", i+1, len(row)), fmt.Sprintf("%d as in the first row", predictors))
		}
		if err := checkFinite(where, fmt.Sprintf("row %d", i+1), row, 0); err != nil {
			return 0, err
		}
	}
	return predictors, nil
}

// Cox fits hazard h(t) = h₀(t)·exp(x·β) by partial likelihood with Newton's
// method. predictors has one row a subject, without intercept. At least one
// predictor and one event; a predictor that does not vary, or one that orders
// the events perfectly (no finite maximum), is refused. Assumes hazards in a
// constant ratio and independent subjects. Sources: Cox, J R Stat Soc B
// 1972;34:187; Efron, J Am Stat Assoc 1977;72:557; Breslow, Biometrics
// 1974;30:89 (all from memory).
func Cox(lives []Lifetime, predictors [][]float64, ties Ties) (CoxModel, error) {
	const where = "proportional hazards model"
	if err := checkLifetimes(where, lives); err != nil {
		return CoxModel{}, err
	}
	p, err := checkRows(where, predictors, len(lives))
	if err != nil {
		return CoxModel{}, err
	}
	if p == 0 || ties < Efron || ties > ExactTies {
		return CoxModel{}, invalid(where, fmt.Sprintf("%d predictors, ties %d", p, ties), "at least one predictor and a named treatment of ties")
	}
	x, scales, err := standardise(where, predictors, true)
	if err != nil {
		return CoxModel{}, err
	}
	c := coxData{x: x.values, p: p, ties: ties, lives: lives}
	if c.sort() == 0 {
		return CoxModel{}, notMeasurable(where, "no event", "")
	}
	if ties == ExactTies && c.tooManyTies() {
		return CoxModel{}, invalid(where, "so many events at one time that their exact likelihood does not fit a number", "Efron's treatment of ties")
	}
	beta := make([]float64, p)
	null, _, _ := c.evaluate(beta)
	loglik, covariance, err := newton(where, beta, c.evaluate)
	if err != nil {
		return CoxModel{}, err
	}
	model := CoxModel{LogLikelihood: loglik, NullLikelihood: null, Events: c.events}
	model.Coefficients, model.Covariance = scales.backWithout(beta, covariance)
	model.StandardErrors = rootDiagonal(model.Covariance)
	return model, nil
}

// coxData holds subjects in falling order of time.
type coxData struct {
	x      [][]float64
	p      int
	ties   Ties
	lives  []Lifetime
	order  []int
	events int
}

func (c *coxData) sort() int {
	c.order = make([]int, len(c.lives))
	for i, l := range c.lives {
		c.order[i] = i
		c.events += int(indicator(l.Event))
	}
	slices.SortStableFunc(c.order, func(a, b int) int { return compareFloat(c.lives[b].Time, c.lives[a].Time) })
	return c.events
}

// tooManyTies tells whether the number of ways to choose the events of one time
// from those at risk comes near the largest float64. The subjects are in falling
// order of time.
func (c *coxData) tooManyTies() bool {
	const mostLog = 600
	for i := 0; i < len(c.order); {
		time, deaths := c.lives[c.order[i]].Time, 0
		for ; i < len(c.order) && c.lives[c.order[i]].Time == time; i++ {
			deaths += int(indicator(c.lives[c.order[i]].Event))
		}
		if logChoose(float64(i), float64(deaths)) > mostLog {
			return true
		}
	}
	return false
}

// moments are Σw, Σw·x and Σw·x·xᵀ over a set of subjects.
type moments struct {
	w  float64
	x  []float64
	xx *mat.SymDense
}

func newMoments(p int) *moments {
	return &moments{x: make([]float64, p), xx: mat.NewSymDense(p, nil)}
}

// add takes one subject in; the value is exp(x·β).
func (m *moments) add(w float64, x []float64) {
	m.w += w
	for i, xi := range x {
		m.x[i] += w * xi
		for j := i; j < len(x); j++ {
			m.xx.SetSym(i, j, m.xx.At(i, j)+w*xi*x[j])
		}
	}
}

// evaluate returns the log partial likelihood with gradient and information.
func (c *coxData) evaluate(beta []float64) (loglik float64, gradient []float64, information *mat.SymDense) {
	gradient, information = make([]float64, c.p), mat.NewSymDense(c.p, nil)
	risk := newMoments(c.p)
	for i := 0; i < len(c.order); {
		time := c.lives[c.order[i]].Time
		dying := newMoments(c.p)
		deaths := 0
		for ; i < len(c.order) && c.lives[c.order[i]].Time == time; i++ {
			at := c.order[i]
			eta := dot(beta, c.x[at])
			risk.add(math.Exp(eta), c.x[at])
			if c.lives[at].Event {
				deaths++
				dying.add(math.Exp(eta), c.x[at])
				loglik += eta
				for k, v := range c.x[at] {
					gradient[k] += v
				}
			}
		}
		switch {
		case deaths == 0:
		case c.ties == ExactTies && deaths > 1:
			loglik += c.exactTerm(beta, i, deaths, gradient, information)
		default:
			for l := range deaths {
				share := 0.0
				if c.ties == Efron {
					share = float64(l) / float64(deaths)
				}
				loglik += subtractTerm(risk, dying, share, gradient, information)
			}
		}
	}
	return loglik, gradient, information
}

// subtractTerm takes ln(Σ_risk − share·Σ_dying) off and moves the derivatives.
func subtractTerm(risk, dying *moments, share float64, gradient []float64, information *mat.SymDense) float64 {
	w := risk.w - share*dying.w
	mean := make([]float64, len(gradient))
	for k := range mean {
		mean[k] = (risk.x[k] - share*dying.x[k]) / w
		gradient[k] -= mean[k]
	}
	for a := range mean {
		for b := a; b < len(mean); b++ {
			second := (risk.xx.At(a, b) - share*dying.xx.At(a, b)) / w
			information.SetSym(a, b, information.At(a, b)+second-mean[a]*mean[b])
		}
	}
	return -math.Log(w)
}

// exactTerm handles d events at one time among the first n subjects of the
// order: the denominator is the elementary symmetric function of degree d of
// their exp(x·β), built subject by subject with its derivatives.
func (c *coxData) exactTerm(beta []float64, n, d int, gradient []float64, information *mat.SymDense) float64 {
	p := c.p
	// Row k: value, p first and p·p second derivatives, for degree k.
	width := 1 + p + p*p
	e := make([]float64, (d+1)*width)
	e[0] = 1
	largest := 0.0
	for _, at := range c.order[:n] {
		largest = math.Max(largest, dot(beta, c.x[at]))
	}
	for _, at := range c.order[:n] {
		x := c.x[at]
		w := math.Exp(dot(beta, x) - largest)
		for k := d; k >= 1; k-- {
			up, down := e[k*width:(k+1)*width], e[(k-1)*width:k*width]
			up[0] += w * down[0]
			for a := range p {
				up[1+a] += w * (down[1+a] + x[a]*down[0])
				for b := range p {
					up[1+p+a*p+b] += w * (down[1+p+a*p+b] + x[a]*down[1+b] + x[b]*down[1+a] + x[a]*x[b]*down[0])
				}
			}
		}
	}
	top := e[d*width:]
	for a := range p {
		gradient[a] -= top[1+a] / top[0]
		for b := a; b < p; b++ {
			information.SetSym(a, b, information.At(a, b)+top[1+p+a*p+b]/top[0]-top[1+a]*top[1+b]/(top[0]*top[0]))
		}
	}
	return -math.Log(top[0]) - float64(d)*largest
}
