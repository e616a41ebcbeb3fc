package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"limitans/fault"
)

func TestProportionIsAnEstimate(t *testing.T) {
	e, err := Proportion(45, 50)
	if err != nil || e.Value != 0.9 || !(e.Low < 0.9 && e.High > 0.9) || e.Basis != "45 of 50, Wilson score interval" {
		t.Errorf("%+v, %v", e, err)
	}
}

// TestMedianOnAPlateau: a curve that stays at one half has its median in the
// middle of that stretch (R's rule in survfit), or at its begin when nothing
// follows.
func TestMedianOnAPlateau(t *testing.T) {
	for text, want := range map[string]float64{"1 2 4 6": 3, "1 2 3+ 5 6": 5, "1 2 7+ 8+": 2, "1 1 1": 1} {
		curve := must[SurvivalCurve](t)(KaplanMeier(lifetimes(text)))
		if got := must[float64](t)(curve.Median()); got != want {
			t.Errorf("%s: %g, want %g", text, got, want)
		}
	}
}

// TestClassicalPath: p₀ 0.1 and p₁ 0.2 are commonly printed as −0.15 and +0.85
// with limits ±2.71; three failures at once cross the upper one.
func TestClassicalPath(t *testing.T) {
	c := must[ClassicalCUSUM](t)(NewClassicalCUSUM(0.1, 0.2, 0.1, 0.1))
	path := c.Path([]bool{true, true, false, true, true})
	near(t, "end", path[4], 4-5*c.SuccessScore, 1e-12)
	near(t, "limits", c.UpperLimit, -c.LowerLimit, 1e-12)
	if !(path[3] < c.UpperLimit && path[4] > c.UpperLimit) {
		t.Errorf("%v against %g", path, c.UpperLimit)
	}
	if len(c.Path(nil)) != 0 {
		t.Error("a path of nothing")
	}
}

// TestLearningCurve: each success adds ln((1−p₀)/(1−p₀−δ)), so that from p₀ 0.1
// and δ 0.1 a limit of 1.25 needs 11 in a row; a failure takes ln 2 off, not
// below zero.
func TestLearningCurve(t *testing.T) {
	step := math.Log(0.9 / 0.8)
	l := must[LearningCUSUM](t)(LearningCurveCUSUM(make([]bool, 20), 0.1, 0.1, 1.25))
	if want := int(math.Ceil(1.25 / step)); l.CompetentAt != want || want != 11 {
		t.Errorf("competent at %d, want %d", l.CompetentAt, want)
	}
	near(t, "path", l.Path[19], 20*step, 1e-12)
	l = must[LearningCUSUM](t)(LearningCurveCUSUM([]bool{true, false, false, true, false}, 0.1, 0.1, 1.25))
	if l.CompetentAt != 0 || l.Path[0] != 0 || l.Path[3] != 0 {
		t.Errorf("%+v", l)
	}
	near(t, "after floor", l.Path[4], step, 1e-12)
}

// TestFunnelTrap: at target 0.9 a perfect ten of ten lies above the upper curve
// although it happens 35 % of the time; the exact tail does not flag it.
func TestFunnelTrap(t *testing.T) {
	upper := must[float64](t)(FunnelLimit(0.9, 10, 0.975))
	atMost, atLeast, err := FunnelTail(0.9, 10, 10)
	if err != nil || upper >= 1 || atMost != 1 || atLeast < 0.025 {
		t.Errorf("%g, %g, %g, %v", upper, atMost, atLeast, err)
	}
	near(t, "chance", atLeast, math.Pow(0.9, 10), 1e-12)
	near(t, "curve", upper, 0.9928, 1e-4) // four figures in the reference's text
	// The two tails share the observed number.
	atMost, atLeast, err = FunnelTail(0.9, 80, 100)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tails", atMost+atLeast-1, BinomialPMF(80, 100, 0.9), 1e-12)
}

// TestOverdispersionByHand: z of 5/50, 10/50 and 20/50 at target 0.2 are
// −1.767767, 0 and 3.535534, so φ = (3.125 + 0 + 12.5)/3.
func TestOverdispersionByHand(t *testing.T) {
	o := must[Overdispersion](t)(FunnelOverdispersion(0.2, []Counts{{5, 50}, {10, 50}, {20, 50}}))
	near(t, "phi", o.Phi, 15.625/3, 1e-12)
	near(t, "p", o.P, ChiSquareUpper(15.625, 3), 1e-12)
}

// TestImputationsAgainstR: Rubin's formulae written out in R 4.2.2.
func TestImputationsAgainstR(t *testing.T) {
	p := must[PooledImputation](t)(PoolImputations([]Measured{{.2, .1}, {.5, .12}, {.35, .09}, {.4, .11}, {.1, .1}}, 0.95))
	near(t, "value", p.Value, 0.31, 1e-12)
	near(t, "error", p.StandardError, 0.2037645700312, 1e-11)
	near(t, "degrees of freedom", p.DegreesOfFreedom, 7.3643060361399, 1e-11)
	near(t, "low", p.Interval.Low, -0.1670365934110, 1e-10)
	near(t, "high", p.Interval.High, 0.7870365934110, 1e-10)
	same := must[PooledImputation](t)(PoolImputations([]Measured{{1, .1}, {1, .1}, {1, .1}}, 0.95))
	near(t, "agreeing sets", same.Interval.High, 1+0.1*twoSided(0.95), 1e-12)
	if !math.IsInf(same.DegreesOfFreedom, 1) || same.MissingInformation != 0 {
		t.Errorf("%+v", same)
	}
}

// TestPoissonRateAgainstR: poisson.test.
func TestPoissonRateAgainstR(t *testing.T) {
	for _, c := range []struct {
		events              int
		exposure, low, high float64
	}{{7, 3.5, 0.8041037290057, 4.1207643890578}, {0, 10, 0, 0.3688879454114}} {
		rate, i, err := PoissonRate(c.events, c.exposure, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "rate", rate, float64(c.events)/c.exposure, 1e-15)
		near(t, "low", i.Low, c.low, 1e-11)
		near(t, "high", i.High, c.high, 1e-11)
	}
	for _, err := range []error{rateError(-1, 1, .9), rateError(1, 0, .9), rateError(1, 1, 1)} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Error(err)
		}
	}
}

func rateError(events int, exposure, level float64) error {
	_, _, err := PoissonRate(events, exposure, level)
	return err
}

// TestKappaErrorBySimulation draws tables of 200 subjects and compares the
// spread of kappa with the mean of its standard errors.
func TestKappaErrorBySimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 9))
	chances := [][]float64{{.3, .05, .02}, {.06, .2, .07}, {.03, .07, .2}}
	var values, errors []float64
	for range 2000 {
		table := [][]int{{0, 0, 0}, {0, 0, 0}, {0, 0, 0}}
		for range 200 {
			u := random.Float64()
		find:
			for i, row := range chances {
				for j, p := range row {
					if u -= p; u < 0 {
						table[i][j]++
						break find
					}
				}
			}
		}
		k := must[Kappa](t)(CohenKappa(table, 0.95))
		values, errors = append(values, k.Value), append(errors, k.StandardError)
	}
	spread, mean := must[Description](t)(Describe(values)), must[Description](t)(Describe(errors))
	near(t, "error of kappa", mean.Mean, spread.StandardDeviation, 0.05)
}

// TestLimitsOfAgreementBySimulation: 95 % intervals of a limit hold the true
// one in about 95 of a hundred samples of 30 pairs.
func TestLimitsOfAgreementBySimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	const runs = 3000
	var bias, lower float64
	for range runs {
		first, second := make([]float64, 30), make([]float64, 30)
		for i := range first {
			first[i] = 3 + 2*random.NormFloat64()
		}
		a := must[Agreement](t)(BlandAltman(first, second, 0.95))
		bias += indicator(a.BiasInterval.Contains(3)) / runs
		lower += indicator(a.LowerLimitInterval.Contains(3-1.96*2)) / runs
		if a.UpperLimitInterval.High <= a.Limits.High || a.N != 30 {
			t.Fatalf("%+v", a)
		}
	}
	if math.Abs(bias-0.95) > 0.015 || math.Abs(lower-0.95) > 0.02 {
		t.Errorf("bias held in %.3f, lower limit in %.3f", bias, lower)
	}
}

// TestRiskAdjustedEWMAVariance: with equal risks the variance is the closed
// form.
func TestRiskAdjustedEWMAVariance(t *testing.T) {
	e := must[RiskAdjustedEWMA](t)(RiskAdjustedEWMAPath([]float64{.2, .2, .2, .2}, []bool{true, false, false, true}, 0.3, 0.2))
	for i, sd := range e.StandardDeviation {
		near(t, "deviation", sd, must[float64](t)(EWMAFactor(0.3, i+1))*0.4, 1e-12)
	}
}
