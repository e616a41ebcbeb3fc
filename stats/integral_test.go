package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestUnitIntegralByGaussHermite: the walked trapezium rule against gonum's
// Gauss-Hermite points, two rules that share nothing. Where the binomial is
// narrower than the normal the points are put where the product is, a little
// wider, which is what adaptive quadrature does.
func TestUnitIntegralByGaussHermite(t *testing.T) {
	for _, c := range []Counts{{0, 47}, {18, 148}, {1, 1}, {0, 1}, {30, 30}, {5, 12}} {
		u := newBinomialUnit(c)
		for _, sigma := range []float64{0.05, 0.4, 1, 1.5} {
			for _, mu := range []float64{-3, 0, 2} {
				given := u.given(mu, sigma)
				centre, width, points := mu, sigma, 150
				if c.Events > 0 && c.Events < c.Trials && c.Trials > 1 {
					centre, width = u.mode(mu, sigma)
					width, points = 1.2*width, 60
				}
				density := func(x float64) float64 {
					z, y := (x-mu)/sigma, (x-centre)/width
					return math.Exp(u.logLikelihood(x)+(y*y-z*z)/2) * width / sigma
				}
				want := must[float64](t)(IntegrateNormal(density, centre, width, points))
				near(t, "integral", math.Exp(given.logMarginal), want, 1e-6)
				p := must[float64](t)(IntegrateNormal(func(x float64) float64 { return density(x) * logistic(x) }, centre, width, points))
				near(t, "mean", given.probability, p/want, 1e-6)
			}
		}
		// The limit of equal units.
		near(t, "no spread", u.given(-1, 1e-4).logMarginal, u.given(-1, 0).logMarginal, 1e-5)
	}
	// ∫ (1+x+x²)·N(2, 3²) = 1 + 2 + 4 + 9.
	near(t, "polynomial", must[float64](t)(IntegrateNormal(func(x float64) float64 { return 1 + x + x*x }, 2, 3, 2)), 16, 1e-12)
}

// TestPosteriorIntervalsBySampling: quadrature against a Metropolis sampler
// with a fixed seed that walks over the mean, the scale and all logits. 60,000
// sweeps of which neighbours are alike leave about a hundredth of a standard
// deviation in means and three hundredths in the ends.
func TestPosteriorIntervalsBySampling(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation: runs in the full run of scripts/test, without the race detector")
	}
	units := []Counts{{5, 50}, {9, 40}, {0, 30}, {12, 45}, {7, 80}}
	h := must[HierarchicalBinomial](t)(FitHierarchicalBinomial(units, 10, HalfNormalScale(1), 0.95))
	random := rand.New(rand.NewPCG(7, 7))
	likelihood, mu, scale := make([]binomialUnit, len(units)), -2.0, 0.7
	theta := make([]float64, len(units))
	for i, c := range units {
		likelihood[i], theta[i] = newBinomialUnit(c), -2
	}
	accept := func(difference float64) bool { return math.Log(random.Float64()) < difference }
	var means, scales, first, third, next []float64
	for sweep := range 61_000 {
		for i, u := range likelihood {
			moved := theta[i] + 0.8*random.NormFloat64()
			z0, z1 := (theta[i]-mu)/scale, (moved-mu)/scale
			if accept(u.logLikelihood(moved) - u.logLikelihood(theta[i]) + (z0*z0-z1*z1)/2) {
				theta[i] = moved
			}
		}
		var sum float64
		for _, x := range theta {
			sum += x
		}
		precision := float64(len(theta))/(scale*scale) + 0.01
		mu = sum/(scale*scale)/precision + random.NormFloat64()/math.Sqrt(precision)
		logPosterior := func(s float64) float64 { // in ln s
			l := math.Log(s) - s*s/2 - float64(len(theta))*math.Log(s)
			for _, x := range theta {
				l -= (x - mu) * (x - mu) / (2 * s * s)
			}
			return l
		}
		if moved := scale * math.Exp(0.6*random.NormFloat64()); accept(logPosterior(moved) - logPosterior(scale)) {
			scale = moved
		}
		if sweep >= 1000 {
			means, scales = append(means, mu), append(scales, scale)
			first, third = append(first, logistic(theta[0])), append(third, logistic(theta[2]))
			next = append(next, logistic(mu+scale*random.NormFloat64()))
		}
	}
	for _, c := range []struct {
		name   string
		got    Posterior
		sample []float64
	}{{"mean", h.Mean, means}, {"scale", h.Scale, scales}, {"first unit", h.Units[0], first}, {"unit without event", h.Units[2], third}, {"new unit", h.NewUnit, next}} {
		d := must[Description](t)(Describe(c.sample))
		for _, pair := range [][2]float64{
			{c.got.Mean, d.Mean},
			{c.got.StandardDeviation, d.StandardDeviation},
			{c.got.Interval.Low, must[float64](t)(Quantile(c.sample, 0.025))},
			{c.got.Interval.High, must[float64](t)(Quantile(c.sample, 0.975))},
		} {
			if math.Abs(pair[0]-pair[1]) > 0.1*d.StandardDeviation {
				t.Errorf("%s: %.5g by quadrature, %.5g by sampling (sd %.3g)", c.name, pair[0], pair[1], d.StandardDeviation)
			}
		}
	}
}

// TestRunLengthBySimulation: the chain of straight pieces against drawn cases,
// with a mix of risks.
func TestRunLengthBySimulation(t *testing.T) {
	risks := []float64{0.02, 0.05, 0.1, 0.1, 0.3}
	for _, c := range []struct {
		shift     OddsShift
		limit     float64
		oddsRatio float64
	}{{OddsShift{1, 2}, 2, 1}, {OddsShift{1, 2}, 2, 2}, {OddsShift{1, 0.5}, 1.5, 0.5}} {
		length := must[float64](t)(RunLength(risks, c.shift, c.limit, c.oddsRatio, 200))
		drawn := must[SimulatedRunLength](t)(SimulateRunLength(risks, c.shift, c.limit, c.oddsRatio, 4000, 1_000_000, 11))
		if drawn.Unfinished > 0 || math.Abs(length-drawn.Mean) > 4*drawn.StandardError+0.01*length {
			t.Errorf("%+v: %.2f by the chain, %.2f ± %.2f drawn", c, length, drawn.Mean, drawn.StandardError)
		}
		again := must[SimulatedRunLength](t)(SimulateRunLength(risks, c.shift, c.limit, c.oddsRatio, 4000, 1_000_000, 11))
		if again != drawn {
			t.Error("the same seed gives another answer")
		}
	}
	if cut := must[SimulatedRunLength](t)(SimulateRunLength(risks, OddsShift{1, 2}, 5, 1, 20, 3, 1)); cut.Unfinished != 20 || cut.Mean != 3 {
		t.Errorf("%+v", cut)
	}
}

// TestRunLengthSettles: 400 states are right to about one percent.
func TestRunLengthSettles(t *testing.T) {
	for _, limit := range []float64{2.5, 4.5} {
		coarse := must[float64](t)(RunLength([]float64{0.1}, OddsShift{1, 2}, limit, 1, 400))
		fine := must[float64](t)(RunLength([]float64{0.1}, OddsShift{1, 2}, limit, 1, 800))
		near(t, "run length", coarse, fine, 0.01)
	}
}

// TestRepeatedLooksBySimulation draws running sums.
func TestRepeatedLooksBySimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	const runs, looks = 40_000, 12
	flagged := 0
	for range runs {
		sum := 0.0
		for k := 1; k <= looks; k++ {
			sum += random.NormFloat64()
			if math.Abs(sum) > 1.96*math.Sqrt(float64(k)) {
				flagged++
				break
			}
		}
	}
	p := must[float64](t)(RepeatedLooksError(looks, 1.96))
	drawn := float64(flagged) / runs
	if math.Abs(p-drawn) > 4*math.Sqrt(p*(1-p)/runs) {
		t.Errorf("%.4f reckoned, %.4f drawn", p, drawn)
	}
	near(t, "one look", must[float64](t)(RepeatedLooksError(1, 1.96)), 2*NormalCDF(-1.96), 1e-12)
}

// TestProbabilityGreaterByCounting: for whole numbers the chance is a finite
// sum, Σ B(a₁+i, b₁+b₂)/((b₂+i)·B(1+i, b₂)·B(a₁, b₁)) over i < a₂, taken from
// the other side (Miller, Evan, 2015; from memory), and one half by symmetry.
func TestProbabilityGreaterByCounting(t *testing.T) {
	for _, c := range []struct{ a1, b1, a2, b2 float64 }{{46, 6, 39, 13}, {1, 1, 1, 1}, {3, 9, 1, 2}, {200, 20, 180, 30}} {
		var sum float64 // P(second > first)
		for i := 0.0; i < c.a2; i++ {
			sum += math.Exp(logBeta(c.a1+i, c.b1+c.b2) - math.Log(c.b2+i) - logBeta(1+i, c.b2) - logBeta(c.a1, c.b1))
		}
		p := must[float64](t)(ProbabilityGreater(BetaDistribution{c.a1, c.b1}, BetaDistribution{c.a2, c.b2}))
		near(t, "sum", 1-p, sum, 1e-9)
	}
	near(t, "alike", must[float64](t)(ProbabilityGreater(JeffreysPrior, JeffreysPrior)), 0.5, 1e-9)
	near(t, "shallow", must[float64](t)(ProbabilityGreater(BetaDistribution{0.02, 0.02}, BetaDistribution{0.02, 0.02})), 0.5, 1e-4)
}

// TestRankDistributionsByEnumeration counts all signs and all choices.
func TestRankDistributionsByEnumeration(t *testing.T) {
	const n = 9
	counted := make([]float64, n*(n+1)/2+1)
	for signs := range 1 << n {
		v := 0
		for rank := 1; rank <= n; rank++ {
			if signs>>(rank-1)&1 == 1 {
				v += rank
			}
		}
		counted[v] += 1.0 / (1 << n)
	}
	for v, p := range signedRankDistribution(n) {
		near(t, "signed rank", p, counted[v], 1e-14)
	}
	const m, k = 4, 5
	pairs, all := make([]float64, m*k+1), 0.0
	for choice := range 1 << (m + k) {
		var members []int
		for i := range m + k {
			if choice>>i&1 == 1 {
				members = append(members, i)
			}
		}
		if len(members) != m {
			continue
		}
		u := 0
		for i, rank := range members {
			u += rank - i
		}
		pairs[u]++
		all++
	}
	for u, p := range mannWhitneyDistribution(m, k) {
		near(t, "pairs", p, pairs[u]/all, 1e-14)
	}
	var inversions []float64
	for _, p := range inversionDistribution(5) {
		inversions = append(inversions, math.Round(120*p))
	}
	if !slices.Equal(inversions, []float64{1, 4, 9, 15, 20, 22, 20, 15, 9, 4, 1}) { // Mahonian numbers, OEIS A008302
		t.Error(inversions)
	}
}

// TestExactCoxByEnumeration: the denominator of three events at one time is the
// sum over all triples at risk.
func TestExactCoxByEnumeration(t *testing.T) {
	lives := []Lifetime{{1, true}, {1, true}, {1, true}, {2, false}, {3, false}, {4, false}}
	x := [][]float64{{0.3}, {-1}, {2}, {0.5}, {1.1}, {-0.4}}
	d := coxData{x: x, p: 1, ties: ExactTies, lives: lives}
	d.sort()
	const beta = 0.7
	value, gradient, _ := d.evaluate([]float64{beta})
	likelihood := func(b float64) float64 {
		var sum float64
		for i := range x {
			for j := range i {
				for k := range j {
					sum += math.Exp(b * (x[i][0] + x[j][0] + x[k][0]))
				}
			}
		}
		return b*1.3 - math.Log(sum)
	}
	near(t, "value", value, likelihood(beta), 1e-12)
	near(t, "gradient", gradient[0], (likelihood(beta+1e-5)-likelihood(beta-1e-5))/2e-5, 1e-8)
}
