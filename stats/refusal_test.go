package stats

import (
	"math"
	"testing"

	"limitans/fault"
)

// refusal is a call that must fail with a code.
type refusal struct {
	name string
	code fault.Code
	call func() error
}

// only drops a result.
func only[T any](_ T, err error) error { return err }

func try(t *testing.T, refusals []refusal) {
	t.Helper()
	for _, r := range refusals {
		t.Run(r.name, func(t *testing.T) {
			defer func() {
				if p := recover(); p != nil {
					t.Fatalf("panic: %v", p)
				}
			}()
			err := r.call()
			if fault.CodeOf(err) != r.code || err == nil {
				t.Errorf("%v, want %s", err, r.code)
			}
		})
	}
}

var infinite = math.Inf(1)

func TestCountsAndLevelsAreRefused(t *testing.T) {
	var refusals []refusal
	for name, f := range singleIntervals {
		for _, c := range []struct {
			what  string
			r, n  int
			level float64
		}{{"no trial", 0, 0, .95}, {"negative", -1, 5, .95}, {"too many", 6, 5, .95}, {"level 0", 1, 5, 0}, {"level 1", 1, 5, 1}, {"no level", 1, 5, nan}, {"huge", 1, 1 << 41, .95}} {
			refusals = append(refusals, refusal{name + " " + c.what, fault.Invalid, func() error { return only(f(c.r, c.n, c.level)) }})
		}
	}
	try(t, append(refusals, []refusal{
		{"proportion", fault.Invalid, func() error { return only(Proportion(3, 2)) }},
		{"zero events", fault.Invalid, func() error { return only(ZeroEventsUpper(0, .95)) }},
		{"rule of three", fault.Invalid, func() error { return only(RuleOfThree(0)) }},
		{"estimate of another level", fault.Invalid, func() error { return only(Interval{0, 1, .9}.Estimate(0.5, "")) }},
		{"difference", fault.Invalid, func() error { return only(NewcombeDifference(1, 2, 3, 2, .95)) }},
		{"difference, first", fault.Invalid, func() error { return only(NewcombeDifference(3, 2, 1, 2, .95)) }},
		{"pairs", fault.Invalid, func() error { return only(NewcombePairedDifference(0, 0, 0, 0, .95)) }},
		{"pairs' level", fault.Invalid, func() error { return only(NewcombePairedDifference(1, 0, 0, 0, 2)) }},
		{"Fisher", fault.Invalid, func() error { return only(FisherExact(-1, 1, 1, 1, .95)) }},
		{"Fisher's level", fault.Invalid, func() error { return only(FisherExact(1, 1, 1, 1, 0)) }},
		{"chi-square margin", fault.NotMeasurable, func() error { return only(ChiSquareTable(0, 0, 3, 4, false)) }},
		{"Fisher's size", fault.Invalid, func() error { return only(FisherExact(200_000, 1, 1, 1, .95)) }},
		{"chi-square size", fault.Invalid, func() error { return only(ChiSquareTable(1<<41, 0, 3, 4, false)) }},
		{"McNemar", fault.Invalid, func() error { return only(McNemar(-1, 0)) }},
		{"McNemar, none differ", fault.NotMeasurable, func() error { return only(McNemar(0, 0)) }},
		{"update", fault.Invalid, func() error { return only(FlatPrior.Updated(2, 1)) }},
		{"prior", fault.Invalid, func() error { return only(BetaDistribution{0, 1}.Updated(0, 1)) }},
		{"credible level", fault.Invalid, func() error { return only(FlatPrior.Interval(1)) }},
		{"credible prior", fault.Invalid, func() error { return only(BetaDistribution{1, nan}.Interval(.9)) }},
		{"predictive", fault.Invalid, func() error { return only(FlatPrior.Predictive(2, 1)) }},
		{"predictive prior", fault.Invalid, func() error { return only(BetaDistribution{}.Predictive(1, 2)) }},
		{"greater", fault.Invalid, func() error { return only(ProbabilityGreater(BetaDistribution{1e-9, 1}, FlatPrior)) }},
		{"greater, no prior", fault.Invalid, func() error { return only(ProbabilityGreater(FlatPrior, BetaDistribution{})) }},
		{"missing", fault.Invalid, func() error { return only(BoundMissing(FollowUp{5, 6, 3}, .95)) }},
		{"missing, level", fault.Invalid, func() error { return only(BoundMissing(FollowUp{6, 5, 3}, 1)) }},
		{"missing, odds", fault.Invalid, func() error { return only(RateIfMissingDiffer(FollowUp{6, 5, 3}, 0)) }},
		{"missing, nobody seen", fault.Invalid, func() error { return only(RateIfMissingDiffer(FollowUp{6, 0, 0}, 1)) }},
		{"imputations", fault.Invalid, func() error { return only(PoolImputations([]Measured{{1, 1}}, .95)) }},
		{"imputations' level", fault.Invalid, func() error { return only(PoolImputations([]Measured{{1, 1}, {1, 1}}, 0)) }},
	}...))
}

func TestSamplesAreRefused(t *testing.T) {
	gap := []float64{1, nan, 3}
	some := []float64{1, 2, 4}
	flat := []float64{2, 2, 2}
	try(t, []refusal{
		{"describe nothing", fault.Invalid, func() error { return only(Describe(nil)) }},
		{"describe a gap", fault.Invalid, func() error { return only(Describe(gap)) }},
		{"autocorrelation", fault.Invalid, func() error { return only(Autocorrelation([]float64{1})) }},
		{"autocorrelation, flat", fault.NotMeasurable, func() error { return only(Autocorrelation(flat)) }},
		{"quantile", fault.Invalid, func() error { return only(Quantile(some, 1.1)) }},
		{"quantile of nothing", fault.Invalid, func() error { return only(Quantile(nil, .5)) }},
		{"Holm", fault.Invalid, func() error { return only(AdjustHolm([]float64{1.2})) }},
		{"Benjamini-Hochberg", fault.Invalid, func() error { return only(AdjustBenjaminiHochberg(nil)) }},
		{"paired lengths", fault.Invalid, func() error { return only(PairedT(some, some[:2], .95)) }},
		{"paired gap", fault.Invalid, func() error { return only(PairedT(some, gap, .95)) }},
		{"paired, first gap", fault.Invalid, func() error { return only(PairedT(gap, some, .95)) }},
		{"paired, no spread", fault.NotMeasurable, func() error { return only(PairedT(some, some, .95)) }},
		{"one sample", fault.Invalid, func() error { return only(OneSampleT(some[:1], 0, .95)) }},
		{"one sample, level", fault.Invalid, func() error { return only(OneSampleT(some, 0, 0)) }},
		{"one sample, nothing", fault.Invalid, func() error { return only(OneSampleT(nil, 0, .95)) }},
		{"Welch", fault.Invalid, func() error { return only(WelchT(some, some[:1], .95)) }},
		{"Welch, flat", fault.NotMeasurable, func() error { return only(WelchT(flat, flat, .95)) }},
		{"Welch, gap", fault.Invalid, func() error { return only(WelchT(gap, some, .95)) }},
		{"Welch, second gap", fault.Invalid, func() error { return only(WelchT(some, gap, .95)) }},
		{"pooled", fault.Invalid, func() error { return only(PooledT(some, some, 1)) }},
		{"signed rank", fault.NotMeasurable, func() error { return only(WilcoxonSignedRank(some, some, .95)) }},
		{"signed rank, level", fault.Invalid, func() error { return only(WilcoxonSignedRank(some, flat, 9)) }},
		{"signed rank, lengths", fault.Invalid, func() error { return only(WilcoxonSignedRank(some, nil, .95)) }},
		{"signed rank, size", fault.Invalid, func() error {
			return only(WilcoxonSignedRank(make([]float64, 5000), make([]float64, 5000), .95))
		}},
		{"Mann-Whitney", fault.Invalid, func() error { return only(MannWhitney(nil, some, .95)) }},
		{"Mann-Whitney, second", fault.Invalid, func() error { return only(MannWhitney(some, gap, .95)) }},
		{"Mann-Whitney, level", fault.Invalid, func() error { return only(MannWhitney(some, some, 0)) }},
		{"Mann-Whitney, flat", fault.NotMeasurable, func() error { return only(MannWhitney(flat, flat, .95)) }},
		{"Mann-Whitney, size", fault.Invalid, func() error { return only(MannWhitney(make([]float64, 5000), some, .95)) }},
		{"Pearson", fault.Invalid, func() error { return only(Pearson(some, some, .95)) }},
		{"Pearson, level", fault.Invalid, func() error { return only(Pearson([]float64{1, 2, 3, 4}, []float64{1, 2, 3, 5}, 0)) }},
		{"Pearson, flat", fault.NotMeasurable, func() error { return only(Pearson([]float64{1, 1, 1, 1}, []float64{1, 2, 3, 5}, .9)) }},
		{"Kendall", fault.Invalid, func() error { return only(Kendall(some, nil)) }},
		{"Kendall, size", fault.Invalid, func() error { return only(Kendall(make([]float64, 5000), make([]float64, 5000))) }},
		{"Kendall, flat", fault.NotMeasurable, func() error { return only(Kendall(some, flat)) }},
		{"Spearman", fault.Invalid, func() error { return only(Spearman(some[:2], some[:2])) }},
		{"Spearman, flat", fault.NotMeasurable, func() error { return only(Spearman(flat, some)) }},
		{"agreement", fault.Invalid, func() error { return only(BlandAltman(some[:2], some[:2], .95)) }},
		{"agreement, level", fault.Invalid, func() error { return only(BlandAltman(some, some, 0)) }},
		{"agreement, lengths", fault.Invalid, func() error { return only(BlandAltman(some, nil, .95)) }},
		{"reliability", fault.Invalid, func() error { return only(IntraclassCorrelation([][]float64{{1, 2}}, .95)) }},
		{"reliability, nobody", fault.Invalid, func() error { return only(IntraclassCorrelation(nil, .95)) }},
		{"reliability, ragged", fault.Invalid, func() error { return only(IntraclassCorrelation([][]float64{{1, 2}, {1}}, .95)) }},
		{"reliability, flat", fault.NotMeasurable, func() error { return only(IntraclassCorrelation([][]float64{{1, 1}, {1, 1}}, .95)) }},
		{"reliability, level", fault.Invalid, func() error { return only(IntraclassCorrelation([][]float64{{1, 1}, {1, 2}}, 0)) }},
		{"kappa", fault.Invalid, func() error { return only(CohenKappa([][]int{{1}}, .95)) }},
		{"kappa, not square", fault.Invalid, func() error { return only(CohenKappa([][]int{{1, 2}, {1}}, .95)) }},
		{"kappa, negative", fault.Invalid, func() error { return only(CohenKappa([][]int{{1, 2}, {1, -1}}, .95)) }},
		{"kappa, one class", fault.NotMeasurable, func() error { return only(CohenKappa([][]int{{9, 0}, {0, 0}}, .95)) }},
		{"kappa, empty", fault.NotMeasurable, func() error { return only(CohenKappa([][]int{{0, 0}, {0, 0}}, .95)) }},
		{"kappa, level", fault.Invalid, func() error { return only(CohenKappa([][]int{{1, 0}, {0, 1}}, 0)) }},
	})
}

func TestModelsAreRefused(t *testing.T) {
	rows := column([]float64{1, 2, 3, 4})
	half := []bool{false, false, true, true}
	mixed := []bool{false, true, false, true}
	lives := lifetimes("1 2 3 4")
	curve, err := KaplanMeier(lifetimes("1 2 3+ 9+"))
	if err != nil {
		t.Fatal(err)
	}
	fit, err := LogisticRegression(rows, mixed)
	if err != nil {
		t.Fatal(err)
	}
	cox, err := Cox(lives, column([]float64{1, 3, 2, 1}), Efron)
	if err != nil {
		t.Fatal(err)
	}
	ratio := func(_ float64, _ Interval, err error) error { return err }
	mean := func(_, _ float64, err error) error { return err }
	try(t, []refusal{
		{"nobody", fault.Invalid, func() error { return only(KaplanMeier(nil)) }},
		{"negative time", fault.Invalid, func() error { return only(KaplanMeier([]Lifetime{{-1, true}})) }},
		{"no median", fault.NotMeasurable, func() error { return only(must[SurvivalCurve](t)(KaplanMeier(lifetimes("1 2+ 3+ 4+ 5+"))).Median()) }},
		{"median's level", fault.Invalid, func() error { return only(curve.MedianInterval(Log, 1)) }},
		{"interval at one", fault.NotMeasurable, func() error { return only(curve.At(0.5).Interval(Log, .95)) }},
		{"interval's scale", fault.Invalid, func() error { return only(curve.At(1).Interval(9, .95)) }},
		{"interval's level", fault.Invalid, func() error { return only(curve.At(1).Interval(Log, 0)) }},
		{"horizon too far", fault.NotMeasurable, func() error { return mean(curve.RestrictedMean(10)) }},
		{"horizon", fault.Invalid, func() error { return mean(curve.RestrictedMean(0)) }},
		{"empty curve", fault.Invalid, func() error { return mean(SurvivalCurve{}.RestrictedMean(1)) }},
		{"log-rank", fault.Invalid, func() error { return only(LogRank(nil, lives, Unweighted)) }},
		{"log-rank, second", fault.Invalid, func() error { return only(LogRank(lives, nil, Unweighted)) }},
		{"log-rank, weight", fault.Invalid, func() error { return only(LogRank(lives, lives, 7)) }},
		{"log-rank, no event", fault.NotMeasurable, func() error { return only(LogRank(lifetimes("1+"), lifetimes("2+"), Unweighted)) }},
		{"Cox, rows", fault.Invalid, func() error { return only(Cox(lives, rows[:2], Efron)) }},
		{"Cox, nobody", fault.Invalid, func() error { return only(Cox(nil, nil, Efron)) }},
		{"Cox, no predictor", fault.Invalid, func() error { return only(Cox(lives, [][]float64{{}, {}, {}, {}}, Efron)) }},
		{"Cox, ties", fault.Invalid, func() error { return only(Cox(lives, rows, 5)) }},
		{"Cox, many ties", fault.Invalid, func() error {
			many, rows := make([]Lifetime, 2000), make([][]float64, 2000)
			for i := range many {
				many[i], rows[i] = Lifetime{1, i%2 == 0}, []float64{float64(i % 7)}
			}
			return only(Cox(many, rows, ExactTies))
		}},
		{"Cox, no event", fault.NotMeasurable, func() error { return only(Cox(lifetimes("1+ 2+ 3+ 4+"), rows, Efron)) }},
		{"Cox, flat", fault.NotMeasurable, func() error { return only(Cox(lives, column([]float64{1, 1, 1, 1}), Efron)) }},
		{"Cox, ordered", fault.NotMeasurable, func() error { return only(Cox(lives, rows, Efron)) }},
		{"Cox, ratio", fault.Invalid, func() error { return ratio(cox.HazardRatio(1, .95)) }},
		{"Cox, level", fault.Invalid, func() error { return ratio(cox.HazardRatio(0, 0)) }},
		{"linear, too few", fault.Invalid, func() error { return only(LinearRegression(rows[:2], []float64{1, 2})) }},
		{"linear, gap", fault.Invalid, func() error { return only(LinearRegression(rows, []float64{1, 2, nan, 3})) }},
		{"linear, infinite", fault.Invalid, func() error {
			return only(LinearRegression(column([]float64{1, 2, infinite, 3}), []float64{1, 2, 3, 3}))
		}},
		{"linear, flat outcome", fault.NotMeasurable, func() error { return only(LinearRegression(rows, []float64{1, 1, 1, 1})) }},
		{"linear, flat predictor", fault.NotMeasurable, func() error { return only(LinearRegression(column([]float64{1, 1, 1, 1}), []float64{1, 2, 1, 1})) }},
		{"linear, twice the same", fault.NotMeasurable, func() error {
			return only(LinearRegression([][]float64{{1, 2}, {2, 4}, {3, 6}, {4, 8}, {5, 10}}, []float64{1, 2, 1, 1, 4}))
		}},
		{"logistic, lengths", fault.Invalid, func() error { return only(LogisticRegression(rows, half[:3])) }},
		{"logistic, one outcome", fault.NotMeasurable, func() error { return only(LogisticRegression(rows, make([]bool, 4))) }},
		{"logistic, separated", fault.NotMeasurable, func() error { return only(LogisticRegression(rows, half)) }},
		{"logistic, nearly separated", fault.NotMeasurable, func() error {
			return only(LogisticRegression(column([]float64{1, 2, 2, 3}), half))
		}},
		{"logistic, twice the same", fault.NotMeasurable, func() error {
			return only(LogisticRegression([][]float64{{1, 2}, {2, 4}, {3, 6}, {4, 8}}, mixed))
		}},
		{"binomial, lengths", fault.Invalid, func() error { return only(BinomialRegression(rows, []int{1}, []int{1, 2})) }},
		{"binomial, counts", fault.Invalid, func() error { return only(BinomialRegression(rows, []int{3, 1, 1, 1}, []int{1, 2, 2, 2})) }},
		{"Poisson, none", fault.NotMeasurable, func() error { return only(PoissonRegression(rows, make([]int, 4), nil)) }},
		{"Poisson, negative", fault.Invalid, func() error { return only(PoissonRegression(rows, []int{1, -1, 1, 1}, nil)) }},
		{"Poisson, exposure", fault.Invalid, func() error { return only(PoissonRegression(rows, []int{1, 1, 1, 1}, []float64{1, 0, 1, 1})) }},
		{"Poisson, exposures", fault.Invalid, func() error { return only(PoissonRegression(rows, []int{1, 1, 1, 1}, []float64{1})) }},
		{"Poisson, rows", fault.Invalid, func() error { return only(PoissonRegression(rows, nil, nil)) }},
		{"ratio", fault.Invalid, func() error { return ratio(fit.Ratio(1, .95)) }},
		{"ratio, no fit", fault.Invalid, func() error { return ratio(RegressionModel{}.Ratio(0, .95)) }},
		{"prediction", fault.Invalid, func() error { return ratio(fit.Predict(nil, .95)) }},
		{"prediction, gap", fault.Invalid, func() error { return ratio(fit.Predict([]float64{nan}, .95)) }},
		{"prediction, level", fault.Invalid, func() error { return ratio(fit.Predict([]float64{1}, 1)) }},
		{"prediction, no fit", fault.Invalid, func() error { return ratio(RegressionModel{}.Predict(nil, .95)) }},
		{"profile", fault.Invalid, func() error { return only(fit.ProfileInterval(-1, .95)) }},
		{"profile, level", fault.Invalid, func() error { return only(fit.ProfileInterval(0, 1)) }},
		{"clusters", fault.Invalid, func() error { return only(fit.ClusterRobustErrors([]int{1})) }},
		{"one cluster", fault.NotMeasurable, func() error { return only(fit.ClusterRobustErrors([]int{1, 1, 1, 1})) }},
		{"clusters, no fit", fault.Invalid, func() error { return only(RegressionModel{}.ClusterRobustErrors(nil)) }},
		{"Brier", fault.Invalid, func() error { return only(BrierScore([]float64{1.1}, []bool{true})) }},
		{"Brier, nothing", fault.Invalid, func() error { return only(BrierScore(nil, nil)) }},
		{"curve", fault.NotMeasurable, func() error { return only(AreaUnderCurve([]float64{1, 2}, []bool{true, true})) }},
		{"curve, lengths", fault.Invalid, func() error { return only(AreaUnderCurve([]float64{1, 2}, nil)) }},
		{"curve, gap", fault.Invalid, func() error { return only(AreaUnderCurve([]float64{1, nan}, half[:2])) }},
	})
}

func TestUnitsAndChartsAreRefused(t *testing.T) {
	units := []Counts{{1, 10}, {3, 10}, {9, 10}}
	studies := []Measured{{1, 1}, {2, 1}}
	risks, none := []float64{.1, .2}, []bool{false, true}
	shift := OddsShift{1, 2}
	ratio := func(_ float64, _ Interval, err error) error { return err }
	two := func(_, _ float64, err error) error { return err }
	try(t, []refusal{
		{"binomial-normal, one unit", fault.Invalid, func() error { return only(FitBinomialNormal(units[:1])) }},
		{"binomial-normal, counts", fault.Invalid, func() error { return only(FitBinomialNormal([]Counts{{1, 0}, {1, 2}})) }},
		{"binomial-normal, no event", fault.NotMeasurable, func() error { return only(FitBinomialNormal([]Counts{{0, 3}, {0, 2}})) }},
		{"binomial-normal, no fit", fault.Invalid, func() error { return ratio(BinomialNormal{}.Probability(.95)) }},
		{"binomial-normal, prediction without fit", fault.Invalid, func() error { return only(BinomialNormal{}.Prediction(.95)) }},
		{"binomial-normal, prediction of two", fault.NotMeasurable, func() error {
			return only(must[BinomialNormal](t)(FitBinomialNormal(units[:2])).Prediction(.95))
		}},
		{"beta-binomial, one unit", fault.Invalid, func() error { return only(FitBetaBinomial(units[:1])) }},
		{"beta-binomial, no event", fault.NotMeasurable, func() error { return only(FitBetaBinomial([]Counts{{0, 3}, {0, 2}})) }},
		{"beta-binomial, no spread", fault.NotMeasurable, func() error { return only(FitBetaBinomial([]Counts{{5, 50}, {5, 50}, {5, 50}})) }},
		{"hierarchy, nothing", fault.Invalid, func() error { return only(FitHierarchicalBinomial(nil, 1, HalfNormalScale(1), .95)) }},
		{"hierarchy, mean", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 0, HalfNormalScale(1), .95)) }},
		{"hierarchy, prior", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 1, ScalePrior{}, .95)) }},
		{"hierarchy, negative prior", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 1, UniformScale(-1), .95)) }},
		{"hierarchy, no shape", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 1, GammaPrecision(0, 1), .95)) }},
		{"hierarchy, endless prior", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 1, UniformScale(infinite), .95)) }},
		{"hierarchy, level", fault.Invalid, func() error { return only(FitHierarchicalBinomial(units, 1, HalfNormalScale(1), 0)) }},
		{"normal hierarchy, one", fault.Invalid, func() error { return only(FitHierarchicalNormal(studies[:1], HalfNormalScale(1), .95)) }},
		{"normal hierarchy, prior", fault.Invalid, func() error { return only(FitHierarchicalNormal(studies, HalfNormalScale(nan), .95)) }},
		{"normal hierarchy, level", fault.Invalid, func() error { return only(FitHierarchicalNormal(studies, HalfNormalScale(1), 1)) }},
		{"pool, nothing", fault.Invalid, func() error { return only(Pool(nil, NoHeterogeneity)) }},
		{"pool, error", fault.Invalid, func() error { return only(Pool([]Measured{{1, 0}}, NoHeterogeneity)) }},
		{"pool, estimator", fault.Invalid, func() error { return only(Pool(studies, 9)) }},
		{"pool, level", fault.Invalid, func() error { return only(Pooled{}.Interval(0)) }},
		{"pool, prediction", fault.NotMeasurable, func() error { return only(must[Pooled](t)(Pool(studies, NoHeterogeneity)).Prediction(.95)) }},
		{"pool, prediction's level", fault.Invalid, func() error { return only(Pooled{}.Prediction(1)) }},
		{"Hermite, points", fault.Invalid, func() error { return only(IntegrateNormal(math.Exp, 0, 1, 0)) }},
		{"Hermite, spread", fault.Invalid, func() error { return only(IntegrateNormal(math.Exp, 0, -1, 3)) }},
		{"sequential", fault.Invalid, func() error { return only(SequentialTestBounds(0, .1)) }},
		{"sequential, beta", fault.Invalid, func() error { return only(SequentialTestBounds(.1, 1)) }},
		{"sequential, sum", fault.Invalid, func() error { return only(SequentialTestBounds(.5, .5)) }},
		{"classical", fault.Invalid, func() error { return only(NewClassicalCUSUM(.2, .1, .1, .1)) }},
		{"classical, alpha", fault.Invalid, func() error { return only(NewClassicalCUSUM(.1, .2, 0, .1)) }},
		{"weights", fault.Invalid, func() error { return two(LikelihoodWeights(.1, 1)) }},
		{"odds", fault.Invalid, func() error { return only(OddsShift{1, 1}.Weight(.1, true)) }},
		{"odds, null", fault.Invalid, func() error { return only(OddsShift{0, 1}.Weight(.1, true)) }},
		{"odds, alternative", fault.Invalid, func() error { return only(OddsShift{1, 0}.Weight(.1, true)) }},
		{"odds, risk", fault.Invalid, func() error { return only(shift.Weight(1, true)) }},
		{"CUSUM", fault.Invalid, func() error { return only(RiskAdjustedCUSUM(risks, none[:1], shift)) }},
		{"CUSUM, odds", fault.Invalid, func() error { return only(RiskAdjustedCUSUM(risks, none, OddsShift{})) }},
		{"learning", fault.Invalid, func() error { return only(LearningCurveCUSUM(none, .1, -.1, 2)) }},
		{"learning, limit", fault.Invalid, func() error { return only(LearningCurveCUSUM(none, .1, .1, 0)) }},
		{"expected", fault.Invalid, func() error { return only(ExpectedMinusObserved([]float64{0, 1}, none)) }},
		{"observed", fault.Invalid, func() error { return only(CompareObservedExpected(nil, nil)) }},
		{"observed, lengths", fault.Invalid, func() error { return only(CompareObservedExpected(risks, nil)) }},
		{"integer run", fault.Invalid, func() error { return only(IntegerCUSUMRunLength(1, 5, .1)) }},
		{"integer run, limit", fault.Invalid, func() error { return only(IntegerCUSUMRunLength(2, 5000, .1)) }},
		{"integer run, rate", fault.Invalid, func() error { return only(IntegerCUSUMRunLength(2, 5, 0)) }},
		{"integer run, never", fault.NotMeasurable, func() error { return only(IntegerCUSUMRunLength(2, 400, 1e-3)) }},
		{"run, nothing", fault.Invalid, func() error { return only(RunLength(nil, shift, 2, 1, 100)) }},
		{"run, risk", fault.Invalid, func() error { return only(RunLength([]float64{1}, shift, 2, 1, 100)) }},
		{"run, odds", fault.Invalid, func() error { return only(RunLength(risks, OddsShift{}, 2, 1, 100)) }},
		{"run, limit", fault.Invalid, func() error { return only(RunLength(risks, shift, 0, 1, 100)) }},
		{"run, ratio", fault.Invalid, func() error { return only(RunLength(risks, shift, 2, 0, 100)) }},
		{"run, states", fault.Invalid, func() error { return only(RunLength(risks, shift, 2, 1, 9)) }},
		{"drawn run, runs", fault.Invalid, func() error { return only(SimulateRunLength(risks, shift, 2, 1, 1, 1, 1)) }},
		{"drawn run, limit", fault.Invalid, func() error { return only(SimulateRunLength(risks, shift, nan, 1, 9, 9, 1)) }},
		{"EWMA", fault.Invalid, func() error { return only(EWMA(risks, 0, 0)) }},
		{"EWMA, start", fault.Invalid, func() error { return only(EWMA(risks, .1, nan)) }},
		{"EWMA factor", fault.Invalid, func() error { return only(EWMAFactor(2, 1)) }},
		{"EWMA factor, count", fault.Invalid, func() error { return only(EWMAFactor(.2, -1)) }},
		{"risk-adjusted EWMA", fault.Invalid, func() error { return only(RiskAdjustedEWMAPath(risks, nil, .1, 0)) }},
		{"risk-adjusted EWMA, weight", fault.Invalid, func() error { return only(RiskAdjustedEWMAPath(risks, none, 0, 0)) }},
		{"gap", fault.Invalid, func() error { return only(NewGapChart(0, .05)) }},
		{"gap, alpha", fault.Invalid, func() error { return only(NewGapChart(.1, 1)) }},
		{"funnel", fault.Invalid, func() error { return only(FunnelLimit(1, 10, .1)) }},
		{"funnel, tail", fault.Invalid, func() error { return only(FunnelLimit(.9, 10, 0)) }},
		{"funnel, normal", fault.Invalid, func() error { return only(FunnelLimitNormal(.9, 0, .1)) }},
		{"funnel, normal tail", fault.Invalid, func() error { return only(FunnelLimitNormal(.9, 9, 2)) }},
		{"funnel tail", fault.Invalid, func() error { return two(FunnelTail(.9, 11, 10)) }},
		{"funnel tail, target", fault.Invalid, func() error { return two(FunnelTail(0, 1, 10)) }},
		{"overdispersion", fault.Invalid, func() error { return only(FunnelOverdispersion(.9, units[:1])) }},
		{"overdispersion, target", fault.Invalid, func() error { return only(FunnelOverdispersion(0, units)) }},
		{"size", fault.Invalid, func() error { return only(SampleSizeForWidth(0, .1, .95)) }},
		{"size, width", fault.Invalid, func() error { return only(SampleSizeForWidth(.5, 0, .95)) }},
		{"size, level", fault.Invalid, func() error { return only(SampleSizeForWidth(.5, .1, 1)) }},
		{"size, endless", fault.Invalid, func() error { return only(SampleSizeForWidth(.5, 1e-9, .95)) }},
		{"two groups", fault.Invalid, func() error { return only(SampleSizeTwoProportions(.5, .5, .05, .8)) }},
		{"two groups, power", fault.Invalid, func() error { return only(SampleSizeTwoProportions(.5, .6, .05, 1)) }},
		{"power", fault.Invalid, func() error { return only(PowerOfExactFlag(0, .1, .2, .025)) }},
		{"power, rate", fault.Invalid, func() error { return only(PowerOfExactFlag(10, .1, 1, .025)) }},
		{"looks", fault.Invalid, func() error { return only(RepeatedLooksError(0, 1.96)) }},
		{"looks, z", fault.Invalid, func() error { return only(RepeatedLooksError(2, 9)) }},
		{"boundary", fault.Invalid, func() error { return only(ConstantBoundary(500, .05)) }},
		{"boundary, alpha", fault.Invalid, func() error { return only(ConstantBoundary(3, 0)) }},
	})
}

// TestDistributionsOutsideTheirRange give no number, and edges give the limit.
func TestDistributionsOutsideTheirRange(t *testing.T) {
	for name, got := range map[string]float64{
		"normal": NormalQuantile(1.1), "student": StudentUpper(1, 0), "student quantile": StudentQuantile(1, 3),
		"chi-square": ChiSquareUpper(1, -1), "chi-square quantile": ChiSquareQuantile(0, 1), "F": FUpper(1, 0, 1),
		"beta": BetaCDF(2, 1, 1), "beta quantile": BetaQuantile(.5, infinite, 1), "gamma": LogGamma(0),
		"binomial": BinomialCDF(1, -1, .5), "binomial upper": BinomialUpper(1, 3, 2), "binomial mass": BinomialPMF(1, 3, nan),
		"urn": HypergeometricPMF(1, 2, 2, 5), "Poisson": PoissonCDF(1, -1), "geometric": GeometricCDF(1, 0),
		"belief": FlatPrior.ProbabilityAbove(-1),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: %g", name, got)
		}
	}
	for name, pair := range map[string][2]float64{
		"student far": {StudentUpper(infinite, 3), 0}, "student below": {StudentUpper(-infinite, 3), 1},
		"chi-square far": {ChiSquareUpper(infinite, 3), 0}, "chi-square zero": {ChiSquareUpper(0, 3), 1},
		"F far": {FUpper(infinite, 1, 1), 0}, "F zero": {FUpper(0, 1, 1), 1},
		"beta quantile 0": {BetaQuantile(0, 2, 3), 0}, "beta quantile 1": {BetaQuantile(1, 2, 3), 1},
		"never": {BinomialPMF(0, 5, 0), 1}, "always": {BinomialPMF(5, 5, 1), 1}, "outside": {BinomialPMF(6, 5, .5), 0},
		"urn outside": {HypergeometricPMF(3, 2, 2, 3), 0}, "Poisson none": {PoissonCDF(0, 0), 1}, "Poisson below": {PoissonCDF(-1, 2), 0},
		"geometric below": {GeometricCDF(-1, .5), 0}, "geometric sure": {GeometricCDF(0, 1), 1},
		"quantile outside": {float64(BinomialQuantile(2, 5, .5)), -1},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: %g, want %g", name, pair[0], pair[1])
		}
	}
}
