package stats

import (
	"math"
	"testing"
)

// near compares within a relative tolerance, absolute at zero.
func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	scale := math.Abs(want)
	if scale == 0 {
		scale = 1
	}
	if !(math.Abs(got-want) <= relative*scale) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

func must[T any](t *testing.T) func(T, error) T {
	return func(value T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return value
	}
}

// The tables of this file were computed with R 4.2.2 (Debian 12, packages
// survival 3.5-3 and MASS 7.3-58.2) on the data that stand beside them; the
// call is named. Tolerances are those of R's printing (12 digits) or solving.

// TestCoxTwoPredictorsAgainstR: coxph(Surv(time, cens) ~ control + w) on
// MASS::gehan in its order, w a made second predictor.
func TestCoxTwoPredictorsAgainstR(t *testing.T) {
	times := floats("1 10 22 7 3 32 12 23 8 22 17 6 2 16 11 34 8 32 12 25 2 11 5 20 4 19 15 6 8 17 23 35 5 6 11 13 4 9 1 6 8 10")
	events := floats("1 1 1 1 1 0 1 1 1 1 1 1 1 1 1 0 1 0 1 0 1 0 1 0 1 0 1 1 1 0 1 0 1 1 1 1 1 0 1 0 1 0")
	second := []float64{1.2, 3.4, 2.2, 0.7, 2.9, 1.1, 2.5}
	var lives []Lifetime
	var rows [][]float64
	for i, time := range times {
		lives = append(lives, Lifetime{time, events[i] == 1})
		rows = append(rows, []float64{float64(1 - i%2), second[i%7]})
	}
	for _, c := range []struct {
		ties                     Ties
		b1, b2, s1, s2, null, ll float64
	}{
		{Efron, 1.56548253157659, 0.09255546317255, 0.4117940744019, 0.2136254799640, -93.184269996848, -84.914562537594},
		{Breslow, 1.50261939979911, 0.08061704759741, 0.4092633370643, 0.2135319008971, -93.985050478245, -86.308353040744},
		{ExactTies, 1.62495471269866, 0.09745634853725, 0.4330336366545, 0.2203156751310, -82.669279252792, -74.445302554693},
	} {
		m := must[CoxModel](t)(Cox(lives, rows, c.ties))
		near(t, "first", m.Coefficients[0], c.b1, 1e-9)
		near(t, "second", m.Coefficients[1], c.b2, 1e-8)
		near(t, "error", m.StandardErrors[0], c.s1, 1e-9)
		near(t, "error", m.StandardErrors[1], c.s2, 1e-9)
		near(t, "null", m.NullLikelihood, c.null, 1e-12)
		near(t, "log-likelihood", m.LogLikelihood, c.ll, 1e-12)
		ratio, interval, err := m.HazardRatio(0, 0.95)
		if err != nil || !interval.Contains(ratio) || m.Events != 30 {
			t.Errorf("%g in %v, %d events, %v", ratio, interval, m.Events, err)
		}
		near(t, "ratio", ratio, math.Exp(c.b1), 1e-8)
		near(t, "ratio's end", interval.High, math.Exp(c.b1+1.959963984540054*c.s1), 1e-8)
	}
}

// TestMedianIntervalAgainstR: summary(survfit(…, conf.type = "log-log"))$table.
func TestMedianIntervalAgainstR(t *testing.T) {
	for _, c := range []struct {
		lives     []Lifetime
		low, high float64
	}{{treatedArm, 13, math.Inf(1)}, {placeboArm, 4, 11}} {
		curve := must[SurvivalCurve](t)(KaplanMeier(c.lives))
		i := must[Interval](t)(curve.MedianInterval(LogLog, 0.95))
		if i.Low != c.low || i.High != c.high {
			t.Errorf("%v, want %g to %g", i, c.low, c.high)
		}
	}
	curve := must[SurvivalCurve](t)(KaplanMeier(treatedArm))
	// print(survfit(…), rmean = 35): 23.28739495798, se 2.82746762337.
	mean, standardError, err := curve.RestrictedMean(35)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "restricted mean", mean, 23.28739495798, 1e-11)
	near(t, "its error", standardError, 2.82746762337, 1e-11)
}

// TestPoissonAgainstR: glm(count ~ x + z + offset(log(exposure)), poisson) on
// made data; the profile by uniroot on its deviance.
func TestPoissonAgainstR(t *testing.T) {
	z := []float64{1.5, 2, 2.5, 1, 3, .5, 2.2, 1.7}
	x := []float64{0, 0, 1, 1, 0, 1, 0, 1}
	var rows [][]float64
	for i := range x {
		rows = append(rows, []float64{x[i], z[i]})
	}
	m := must[RegressionModel](t)(PoissonRegression(rows, []int{3, 0, 2, 7, 1, 5, 4, 9}, []float64{10, 4, 12, 20, 6, 11, 15, 18}))
	for j, want := range []float64{-0.9161621155326, 0.3039410112218, -0.2688813265187} {
		near(t, "coefficient", m.Coefficients[j], want, 1e-11)
	}
	for j, want := range []float64{0.6957043883776, 0.4665188903576, 0.2922909185017} {
		near(t, "error", m.StandardErrors[j], want, 1e-10)
	}
	near(t, "deviance", m.Deviance, 4.0044499939561, 1e-11)
	near(t, "null deviance", m.NullDeviance, 6.4752082350411, 1e-11)
	near(t, "AIC", m.AIC(), 32.2175511757109, 1e-12)
	near(t, "dispersion", m.Dispersion, 0.6282325488853, 1e-11)
	i := must[Interval](t)(m.ProfileInterval(0, 0.95))
	near(t, "low", i.Low, -0.5913454092057, 1e-8)
	near(t, "high", i.High, 1.2612968267700, 1e-8)
}

// TestBinomialAgainstR: glm(cbind(r, n − r) ~ size, binomial) on made counts.
func TestBinomialAgainstR(t *testing.T) {
	m := must[RegressionModel](t)(BinomialRegression(column([]float64{250, 320, 410, 520, 640}), []int{18, 22, 30, 12, 9}, []int{20, 25, 40, 20, 18}))
	near(t, "intercept", m.Coefficients[0], 3.630640621208962, 1e-11)
	near(t, "slope", m.Coefficients[1], -0.005911529002761, 1e-11)
	near(t, "error", m.StandardErrors[0], 0.828956437081935, 1e-10)
	near(t, "error", m.StandardErrors[1], 0.001758643663829, 1e-10)
	near(t, "deviance", m.Deviance, 0.4842005688936, 1e-10)
	near(t, "null deviance", m.NullDeviance, 12.8036782070391, 1e-11)
	near(t, "AIC", m.AIC(), 20.5318086639282, 1e-11)
}

var (
	ringTemperature = floats("66 70 69 68 67 72 73 70 57 63 70 78 67 53 67 75 70 81 76 79 75 76 58")
	ringDistress    = bools(floats("0 1 0 0 0 0 0 0 1 1 1 0 0 1 0 0 0 0 0 0 1 0 1"))
)

// TestClusterErrorsAndPredictionAgainstR: the sandwich written out in R's
// matrices for neighbouring rows paired; predict(…, se.fit = TRUE) at 60.
func TestClusterErrorsAndPredictionAgainstR(t *testing.T) {
	m := must[RegressionModel](t)(LogisticRegression(column(ringTemperature), ringDistress))
	cluster := make([]int, len(ringDistress))
	for i := range cluster {
		cluster[i] = 1 + i/2
	}
	errors := must[[]float64](t)(m.ClusterRobustErrors(cluster))
	near(t, "intercept", errors[0], 6.22698394639497, 1e-9)
	near(t, "slope", errors[1], 0.09477562569231, 1e-9)
	p, i, err := m.Predict([]float64{60}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "probability", p, 0.7527134815250, 1e-10)
	near(t, "low", i.Low, 0.2895645278607, 1e-9)
	near(t, "high", i.High, 0.9578628142959, 1e-9)
}

// TestFirthProfileAgainstR: nested optimize and uniroot on the penalised
// likelihood written out in R, good to about 1e-4.
func TestFirthProfileAgainstR(t *testing.T) {
	m := must[RegressionModel](t)(FirthRegression(column(ringTemperature), ringDistress))
	i := must[Interval](t)(m.ProfileInterval(0, 0.95))
	near(t, "low", i.Low, -0.41953281359, 1e-3)
	near(t, "high", i.High, -0.04052852622, 1e-3)
}

// TestRanksAndMeansAgainstR: t.test(var.equal = TRUE), wilcox.test, cor.test on
// data with and without ties.
func TestRanksAndMeansAgainstR(t *testing.T) {
	x := floats("0.7 -1.6 -0.2 -1.2 -0.1 3.4 3.7 0.8 0 2")
	y := floats("1.9 0.8 1.1 0.1 -0.1 4.4 5.5 1.6 4.6 3.4")
	p := must[TTest](t)(PooledT(x, y, 0.95))
	near(t, "p", p.PTwoSided, 0.07918671421594, 1e-11)
	near(t, "low", p.Interval.Low, -3.36387403228760, 1e-12)
	near(t, "high", p.Interval.High, 0.20387403228760, 1e-11)

	tied := must[RankTest](t)(MannWhitney(floats("3.1 2.2 5 4.4 2.2 7.1 3.3"), floats("1 2.2 1.7 2 4.4 .5"), 0.95))
	near(t, "W", tied.Statistic, 36.5, 0)
	near(t, "two-sided", tied.PTwoSided, 0.03094898979001, 1e-11)
	near(t, "greater", tied.PGreater, 0.01547449489500, 1e-11)
	near(t, "less", tied.PLess, 0.98932046600984, 1e-11)

	a := floats("5.1 2.3 8.8 7.7 1.4 9.9 6.3 3.2 4.5 0.6 10.2 11.8")
	b := floats("3.3 2.9 4.1 8.9 0.2 5.5 7.0 1.05 6.65 2.15 3.95 7.35")
	untied := must[RankTest](t)(MannWhitney(a, b[:9], 0.95))
	near(t, "W", untied.Statistic, 67, 0)
	near(t, "p", untied.PTwoSided, 0.382444799782, 1e-11)
	near(t, "shift", untied.Location, 1.45, 1e-12)
	near(t, "low", untied.Interval.Low, -1.9, 1e-12)
	near(t, "high", untied.Interval.High, 4.8, 1e-12)
	signed := must[RankTest](t)(WilcoxonSignedRank(a, b, 0.95))
	near(t, "V", signed.Statistic, 58.5, 0)
	near(t, "p", signed.PTwoSided, 0.135946735092, 1e-11)
	k := must[Correlation](t)(Kendall(a, b))
	near(t, "tau", k.Coefficient, 0.5151515151515, 1e-12)
	near(t, "p", k.PTwoSided, 0.0209803516314, 1e-11)

	x1, y1 := floats("1 2 2 3 4 5 5 6 7 8"), floats("2 1 3 3 5 4 6 6 9 7")
	k = must[Correlation](t)(Kendall(x1, y1))
	near(t, "tau b", k.Coefficient, 0.8139534883721, 1e-12)
	near(t, "p", k.PTwoSided, 1.469449864818e-03, 1e-11)
	s := must[Correlation](t)(Spearman(x1, y1))
	near(t, "rho", s.Coefficient, 0.9325153374233, 1e-12)
	near(t, "p", s.PTwoSided, 8.359628526206e-05, 1e-10)
}

// TestPoolAgainstR: optimize on the two likelihoods and the moment formula
// written out in R, for studies that do differ.
func TestPoolAgainstR(t *testing.T) {
	studies := []Measured{{.10, .12}, {.35, .2}, {-.2, .25}, {.8, .3}, {.45, .15}, {.05, .22}}
	for _, c := range []struct {
		tau                   Tau
		tauSquared, mean, err float64
	}{
		{MaximumLikelihood, 0.02081412688, 0.23718192091, 0.09834063465},
		{RestrictedLikelihood, 0.0390236952, 0.2402314879, 0.1142088453},
		{DerSimonianLaird, 0.04152986545571, 0.24055412409343, 0.11617079682061},
	} {
		p := must[Pooled](t)(Pool(studies, c.tau))
		near(t, "tau squared", p.TauSquared, c.tauSquared, 1e-5)
		near(t, "mean", p.Mean, c.mean, 1e-6)
		near(t, "error", p.StandardError, c.err, 1e-6)
		near(t, "Q", p.Q, 10.92111909294843, 1e-12)
		near(t, "p", p.P, 0.05296658539502, 1e-11)
		mean, next := must[Interval](t)(p.Interval(0.95)), must[Interval](t)(p.Prediction(0.95))
		if !(next.Low < mean.Low && next.High > mean.High) {
			t.Errorf("a new study is surer than the mean: %v, %v", next, mean)
		}
	}
}

// TestBinomialNormalAgainstR: optim on Σ ln ∫ dbinom·dnorm by integrate, which
// is adaptive and of another family than the trapezium rule here; uniroot on
// the profile. optim's differences leave 1e-5 in the estimates and 1e-3 in the
// error.
func TestBinomialNormalAgainstR(t *testing.T) {
	m := must[BinomialNormal](t)(FitBinomialNormal([]Counts{{5, 50}, {9, 40}, {0, 30}, {12, 45}, {7, 80}}))
	near(t, "mean", m.Mean, -2.0227219849, 1e-5)
	near(t, "standard deviation", m.StandardDeviation, 0.7536593541, 1e-4)
	near(t, "log-likelihood", m.LogLikelihood, -14.3596817801, 1e-10)
	near(t, "homogeneous", m.HomogeneousLogLikelihood, -16.8729255258, 1e-11)
	near(t, "p", m.HeterogeneityP, 0.01248123754, 1e-7)
	near(t, "error of the mean", m.MeanStandardError, 0.4193614763, 1e-3)
	near(t, "mean over units", m.PopulationMean(), 0.1382515975, 1e-5)
	middle, i, err := m.Probability(0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "middle unit", middle, logistic(m.Mean), 1e-12)
	near(t, "low", i.Low, 0.03293960175, 1e-5)
	near(t, "high", i.High, 0.25124345639, 1e-5)
	if next := must[Interval](t)(m.Prediction(0.95)); !(next.Low < i.Low && next.High > i.High) {
		t.Errorf("a new unit is surer than the middle: %v, %v", next, i)
	}
}
