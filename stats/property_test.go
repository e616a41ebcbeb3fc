package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func draw(t *rapid.T) (events, trials int) {
	trials = rapid.IntRange(1, 400).Draw(t, "trials")
	return rapid.IntRange(0, trials).Draw(t, "events"), trials
}

var singleIntervals = map[string]func(r, n int, level float64) (Interval, error){
	"Wilson": Wilson, "WilsonContinuity": WilsonContinuity, "ClopperPearson": ClopperPearson, "MidP": MidP,
	"AgrestiCoull": AgrestiCoull, "Jeffreys": Jeffreys, "Wald": Wald,
}

// TestProportionIntervalProperties: around the proportion, wider with the
// level, mirrored with events and failures exchanged; those that promise it
// stay in [0, 1], and the exact one holds the mid-P one.
func TestProportionIntervalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, n := draw(t)
		p := float64(r) / float64(n)
		level := rapid.Float64Range(0.5, 0.99).Draw(t, "level")
		all := map[string]Interval{}
		for name, f := range singleIntervals {
			i, err := f(r, n, level)
			if err != nil {
				t.Fatal(err)
			}
			wide, err := f(r, n, 0.995)
			if err != nil {
				t.Fatal(err)
			}
			mirror, err := f(n-r, n, level)
			if err != nil {
				t.Fatal(err)
			}
			if name != "AgrestiCoull" && !(i.Low <= p+1e-12 && i.High >= p-1e-12) {
				t.Fatalf("%s: %v does not hold %g", name, i, p)
			}
			// Agresti and Coull's middle moves with the level.
			if name != "AgrestiCoull" && (wide.Low > i.Low+1e-12 || wide.High < i.High-1e-12) {
				t.Fatalf("%s: %v is not within %v", name, i, wide)
			}
			if math.Abs(1-mirror.High-i.Low) > 1e-12 || math.Abs(1-mirror.Low-i.High) > 1e-12 {
				t.Fatalf("%s: %v is not the mirror of %v", name, mirror, i)
			}
			if name != "AgrestiCoull" && name != "Wald" && (i.Low < 0 || i.High > 1) {
				t.Fatalf("%s: %v leaves [0, 1]", name, i)
			}
			all[name] = i
		}
		for inner, outer := range map[string]string{"MidP": "ClopperPearson", "Wilson": "WilsonContinuity"} {
			if all[inner].Low < all[outer].Low-1e-12 || all[inner].High > all[outer].High+1e-12 {
				t.Fatalf("%s %v is not within %s %v", inner, all[inner], outer, all[outer])
			}
		}
		// Wilson's limits are where the score test is at its level.
		z := twoSided(level)
		for _, limit := range []float64{all["Wilson"].Low, all["Wilson"].High} {
			if limit > 0 && limit < 1 && math.Abs(math.Abs(p-limit)-z*math.Sqrt(limit*(1-limit)/float64(n))) > 1e-9 {
				t.Fatalf("the score at %g is not %g", limit, z)
			}
		}
	})
}

// TestCoverage counts, for every possible result of n trials, whether the
// interval holds the truth: at least 95 % for the exact one everywhere, near
// 95 % on average for Wilson, Jeffreys and mid-P, and far below for Wald at the
// edge, which is why it is not used.
func TestCoverage(t *testing.T) {
	const n = 30
	least, mean := map[string]float64{}, map[string]float64{}
	const grid = 199
	for name, f := range singleIntervals {
		least[name] = 1
		var intervals []Interval
		for r := range n + 1 {
			intervals = append(intervals, must[Interval](t)(f(r, n, 0.95)))
		}
		for k := 1; k <= grid; k++ {
			p, covered := float64(k)/(grid+1), 0.0
			for r, i := range intervals {
				if i.Contains(p) {
					covered += BinomialPMF(r, n, p)
				}
			}
			least[name] = math.Min(least[name], covered)
			mean[name] += covered / grid
		}
	}
	t.Logf("least %v, mean %v", least, mean)
	if least["ClopperPearson"] < 0.95-1e-9 {
		t.Errorf("the exact interval covers %g", least["ClopperPearson"])
	}
	for _, name := range []string{"Wilson", "Jeffreys", "MidP"} {
		if math.Abs(mean[name]-0.95) > 0.015 {
			t.Errorf("%s covers %g on average", name, mean[name])
		}
	}
	if least["Wald"] > 0.5 {
		t.Errorf("Wald covers %g at the edge", least["Wald"])
	}
}

func TestDifferenceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r1, n1 := draw(t)
		r2, n2 := draw(t)
		d, err := NewcombeDifference(r1, n1, r2, n2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		back, err := NewcombeDifference(r2, n2, r1, n1, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		wide, err := NewcombeDifferenceContinuity(r1, n1, r2, n2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if !d.Interval.Contains(d.Value) || d.Interval.Low < -1-1e-12 || d.Interval.High > 1+1e-12 {
			t.Fatalf("%+v", d)
		}
		if math.Abs(d.Interval.Low+back.Interval.High) > 1e-12 || d.Value != -back.Value {
			t.Fatalf("%+v turned round is %+v", d, back)
		}
		if wide.Interval.Low > d.Interval.Low+1e-12 || wide.Interval.High < d.Interval.High-1e-12 {
			t.Fatalf("%+v is not within %+v", d, wide)
		}
		// Pairs: each margin as above, agreement makes it narrower.
		paired, err := NewcombePairedDifference(r1, n1-r1, 0, r2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if !paired.Interval.Contains(paired.Value) || paired.Interval.Low < -1-1e-9 || paired.Interval.High > 1+1e-9 {
			t.Fatalf("%+v", paired)
		}
	})
}

// TestPairedDifferenceCoverage sums the chance of every table of 20 pairs whose
// interval holds the true difference. Newcombe's study found a mean coverage
// near the level; single points range more widely at this size.
func TestPairedDifferenceCoverage(t *testing.T) {
	const n = 20
	log := func(k int, p float64) float64 { return float64(k)*math.Log(p) - logGamma(float64(k)+1) }
	var mean float64
	truths := [][4]float64{{.7, .1, .1, .1}, {.4, .3, .1, .2}, {.25, .25, .25, .25}, {.6, .3, .05, .05}, {.1, .5, .3, .1}, {.85, .05, .05, .05}}
	for _, p := range truths {
		covered, all := 0.0, 0.0
		for a := range n + 1 {
			for b := range n + 1 - a {
				for c := range n + 1 - a - b {
					d := n - a - b - c
					chance := math.Exp(logGamma(n+1) + log(a, p[0]) + log(b, p[1]) + log(c, p[2]) + log(d, p[3]))
					all += chance
					if must[Difference](t)(NewcombePairedDifference(a, b, c, d, 0.95)).Interval.Contains(p[1] - p[2]) {
						covered += chance
					}
				}
			}
		}
		near(t, "all tables", all, 1, 1e-9)
		if covered < 0.92 || covered > 0.999 {
			t.Errorf("%v: %.4f", p, covered)
		}
		mean += covered / float64(len(truths))
	}
	if math.Abs(mean-0.955) > 0.02 {
		t.Errorf("coverage %.4f", mean)
	}
}

func TestTableProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.IntRange(0, 40)
		a, b, c, d := cell.Draw(t, "a"), cell.Draw(t, "b"), cell.Draw(t, "c"), cell.Draw(t, "d")+1
		f, err := FisherExact(a, b, c, d, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		turned, err := FisherExact(a, c, b, d, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := FisherExact(c, d, a, b, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.PTwoSided-turned.PTwoSided) > 1e-9 || math.Abs(f.PLess-rows.PGreater) > 1e-9 || math.Abs(f.PGreater-rows.PLess) > 1e-9 {
			t.Fatalf("%+v, transposed %+v, rows exchanged %+v", f, turned, rows)
		}
		chance := HypergeometricPMF(a, a+c, b+d, a+b)
		if math.Abs(f.PLess+f.PGreater-1-chance) > 1e-9 {
			t.Fatalf("the tails %g and %g do not share %g", f.PLess, f.PGreater, chance)
		}
		if !math.IsNaN(f.OddsRatio) && !f.OddsRatioInterval.Contains(f.OddsRatio) {
			t.Fatalf("%+v", f)
		}
		if m, err := McNemar(b, c); err == nil {
			if m.PMid > m.PExact+1e-12 || m.CorrectedP < m.P-1e-12 || m.PExact > 1 {
				t.Fatalf("%+v", m)
			}
		}
	})
}

// TestDistributionsInvert: quantiles against their own distribution, sums
// against cumulative functions.
func TestDistributionsInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(1e-6, 1-1e-6).Draw(t, "p")
		// Below one the quantiles near one fall between two floats.
		a, b := rapid.Float64Range(1, 300).Draw(t, "a"), rapid.Float64Range(1, 300).Draw(t, "b")
		check := func(name string, got, want float64) {
			if !(math.Abs(got-want) <= 1e-9*math.Max(want, 1e-3)) {
				t.Fatalf("%s: %.15g, want %.15g", name, got, want)
			}
		}
		check("normal", NormalCDF(NormalQuantile(p)), p)
		check("student", 1-StudentUpper(StudentQuantile(p, a), a), p)
		check("chi-square", 1-ChiSquareUpper(ChiSquareQuantile(p, a), a), p)
		check("beta", BetaCDF(BetaQuantile(p, a, b), a, b), p)
		check("beta's upper", BetaUpper(0.3, a, b), 1-BetaCDF(0.3, a, b))
		check("F", FUpper(1.3, a, b), 1-FUpper(1/1.3, b, a))
		n := rapid.IntRange(1, 60).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		var sum float64
		for i := range k + 1 {
			sum += BinomialPMF(i, n, p)
		}
		check("binomial", BinomialCDF(k, n, p), sum)
		check("binomial's upper", BinomialUpper(k+1, n, p), math.Max(0, 1-sum))
		q := BinomialQuantile(0.3, n, p)
		if BinomialCDF(q, n, p) < 0.3 || BinomialCDF(q-1, n, p) >= 0.3 {
			t.Fatalf("quantile %d", q)
		}
		var poisson, geometric float64
		for i := range k + 1 {
			poisson += math.Exp(float64(i)*math.Log(a) - a - logGamma(float64(i)+1))
			geometric += p * math.Pow(1-p, float64(i))
		}
		check("Poisson", PoissonCDF(k, a), poisson)
		check("geometric", GeometricCDF(k, p), geometric)
	})
}

func drawLives(t *rapid.T, name string, censoring bool) []Lifetime {
	lives := make([]Lifetime, rapid.IntRange(2, 30).Draw(t, name))
	for i := range lives {
		lives[i] = Lifetime{float64(rapid.IntRange(1, 15).Draw(t, "time")), !censoring || rapid.Bool().Draw(t, "event")}
	}
	return lives
}

// TestSurvivalProperties: without censoring the curve is the share still
// without event and Greenwood's variance the binomial one; time may be
// rescaled; comparing the groups in the other order gives the same.
func TestSurvivalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := drawLives(t, "n", false)
		curve, err := KaplanMeier(whole)
		if err != nil {
			t.Fatal(err)
		}
		n := float64(len(whole))
		for _, s := range curve.Steps {
			left := 0.0
			for _, l := range whole {
				left += indicator(l.Time > s.Time)
			}
			if math.Abs(s.Survival-left/n) > 1e-12 {
				t.Fatalf("%+v, %g left of %g", s, left, n)
			}
			if p := left / n; p > 0 && p < 1 && math.Abs(s.StandardError-math.Sqrt(p*(1-p)/n)) > 1e-12 {
				t.Fatalf("%+v", s)
			}
			for _, scale := range []SurvivalScale{LogLog, Log, Plain} {
				if i, err := s.Interval(scale, 0.95); err == nil && (!i.Contains(s.Survival) || i.Low < 0 || i.High > 1) {
					t.Fatalf("%v: %v", s, i)
				}
			}
		}
		first, second := drawLives(t, "first", true), drawLives(t, "second", true)
		for _, weight := range []SurvivalWeight{Unweighted, GehanBreslow, PetoPrentice} {
			a, errA := LogRank(first, second, weight)
			b, errB := LogRank(second, first, weight)
			if (errA == nil) != (errB == nil) || math.Abs(a.Statistic-b.Statistic) > 1e-9*(1+a.Statistic) {
				t.Fatalf("%+v, %v; %+v, %v", a, errA, b, errB)
			}
			slow := slices.Clone(first)
			slow2 := slices.Clone(second)
			for i := range slow {
				slow[i].Time *= 2.5
			}
			for i := range slow2 {
				slow2[i].Time *= 2.5
			}
			if c, _ := LogRank(slow, slow2, weight); math.Abs(a.Statistic-c.Statistic) > 1e-9*(1+a.Statistic) {
				t.Fatalf("%+v, slower %+v", a, c)
			}
		}
	})
}

// TestScoreTestOfCox: the log-rank statistic is the score test of the
// proportional hazards model with one indicator and Breslow's ties, but for the
// variance when times are tied; without ties the two agree.
func TestScoreTestOfCox(t *testing.T) {
	lives := lifetimes("1 2 3+ 4 5.5 6 7+ 8 9.5 11 12+ 13")
	var rows [][]float64
	var groups [2][]Lifetime
	for i, l := range lives {
		rows = append(rows, []float64{float64(i % 2)})
		groups[i%2] = append(groups[i%2], l)
	}
	d := coxData{x: rows, p: 1, ties: Breslow, lives: lives}
	d.sort()
	_, score, information := d.evaluate([]float64{0})
	test := must[LogRankTest](t)(LogRank(groups[0], groups[1], Unweighted))
	near(t, "statistic", test.Statistic, score[0]*score[0]/information.At(0, 0), 1e-12)
}

// TestRegressionClosedForms: with one indicator the logistic slope is the log
// odds ratio of the fourfold table with error √(1/a+1/b+1/c+1/d), the Poisson
// slope the log rate ratio with √(1/x+1/y); units of a predictor do not matter.
func TestRegressionClosedForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(1, 30)
		a, b, c, d := count.Draw(t, "a"), count.Draw(t, "b"), count.Draw(t, "c"), count.Draw(t, "d")
		unit := rapid.Float64Range(1e-6, 1e6).Draw(t, "unit")
		shift := rapid.Float64Range(-5, 5).Draw(t, "shift") * unit
		rows := [][]float64{{shift + unit}, {shift}}
		m, err := BinomialRegression(rows, []int{a, c}, []int{a + b, c + d})
		if err != nil {
			t.Fatal(err)
		}
		fa, fb, fc, fd := fourfold{a, b, c, d}.float()
		slope, e := math.Log(fa*fd/(fb*fc)), math.Sqrt(1/fa+1/fb+1/fc+1/fd)
		if math.Abs(m.Coefficients[1]*unit-slope) > 1e-8*(1+math.Abs(slope)) || math.Abs(m.StandardErrors[1]*unit-e) > 1e-8*e {
			t.Fatalf("%v ± %v, want %g ± %g", m.Coefficients, m.StandardErrors, slope/unit, e/unit)
		}
		p, err := PoissonRegression(rows, []int{a, c}, []float64{fb, fd})
		if err != nil {
			t.Fatal(err)
		}
		slope, e = math.Log(fa/fb/(fc/fd)), math.Sqrt(1/fa+1/fc)
		if math.Abs(p.Coefficients[1]*unit-slope) > 1e-8*(1+math.Abs(slope)) || math.Abs(p.StandardErrors[1]*unit-e) > 1e-8*e {
			t.Fatalf("%v ± %v, want %g ± %g", p.Coefficients, p.StandardErrors, slope/unit, e/unit)
		}
	})
}

// TestFirthOfOneGroup: the intercept alone under Firth's penalty adds half an
// event on each side (Firth 1993, section 3.1; from memory).
func TestFirthOfOneGroup(t *testing.T) {
	for _, c := range []Counts{{0, 7}, {3, 10}, {12, 12}} {
		outcomes, rows := make([]bool, c.Trials), make([][]float64, c.Trials)
		for i := range outcomes {
			outcomes[i], rows[i] = i < c.Events, []float64{}
		}
		m := must[RegressionModel](t)(FirthRegression(rows, outcomes))
		near(t, "intercept", m.Coefficients[0], math.Log((float64(c.Events)+0.5)/(float64(c.Trials-c.Events)+0.5)), 1e-9)
	}
}

// TestDoubledRowsAreOneCluster: writing every row twice and clustering the
// copies gives the errors of the single rows.
func TestDoubledRowsAreOneCluster(t *testing.T) {
	n := len(ringDistress)
	single, double := make([]int, n), make([]int, 2*n)
	for i := range double {
		double[i] = i % n
	}
	copy(single, double)
	rows := column(ringTemperature)
	once := must[RegressionModel](t)(LogisticRegression(rows, ringDistress))
	twice := must[RegressionModel](t)(LogisticRegression(slices.Concat(rows, rows), slices.Concat(ringDistress, ringDistress)))
	a, b := must[[]float64](t)(once.ClusterRobustErrors(single)), must[[]float64](t)(twice.ClusterRobustErrors(double))
	near(t, "slope", b[1], a[1], 1e-9)
	near(t, "naive", twice.StandardErrors[1], once.StandardErrors[1]/math.Sqrt2, 1e-9)
}

// TestPoolingProperties: equal studies have no heterogeneity; shifting all
// values shifts the mean; adding spread raises τ².
func TestPoolingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 8).Draw(t, "n")
		studies, shifted := make([]Measured, n), make([]Measured, n)
		for i := range studies {
			studies[i] = Measured{rapid.Float64Range(-2, 2).Draw(t, "value"), rapid.Float64Range(0.1, 1).Draw(t, "error")}
			shifted[i] = Measured{studies[i].Value + 10, studies[i].StandardError}
		}
		for _, tau := range []Tau{RestrictedLikelihood, MaximumLikelihood, DerSimonianLaird, NoHeterogeneity} {
			a, err := Pool(studies, tau)
			if err != nil {
				t.Fatal(err)
			}
			b, err := Pool(shifted, tau)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(b.Mean-a.Mean-10) > 1e-4 || math.Abs(a.TauSquared-b.TauSquared) > 1e-4 || a.TauSquared < 0 || !(a.ISquared >= 0 && a.ISquared < 1) {
				t.Fatalf("%+v, shifted %+v", a, b)
			}
		}
	})
}

// TestMissingProperties: worst ≤ complete case ≤ best; the rate with an odds
// ratio of one is the complete case, and it runs from best to worst.
func TestMissingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		success, seen := draw(t)
		f := FollowUp{seen + rapid.IntRange(0, 50).Draw(t, "lost"), seen, success}
		b, err := BoundMissing(f, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if b.Worst > b.CompleteCase+1e-12 || b.Best < b.CompleteCase-1e-12 || !b.Envelope.Contains(b.Worst) || !b.Envelope.Contains(b.Best) {
			t.Fatalf("%+v", b)
		}
		last := 2.0
		for _, ratio := range []float64{1e-9, 0.5, 1, 2, 5, 1e9} {
			rate, err := RateIfMissingDiffer(f, ratio)
			if err != nil {
				t.Fatal(err)
			}
			if rate > last+1e-12 || rate < b.Worst-1e-12 || rate > b.Best+1e-12 || (ratio == 1 && math.Abs(rate-b.CompleteCase) > 1e-12) {
				t.Fatalf("%g at odds ratio %g, %+v", rate, ratio, b)
			}
			last = rate
		}
	})
}
