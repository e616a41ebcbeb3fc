package stats

import (
	"fmt"
	"maps"
	"math"
	"testing"
)

// kind computes one row.
type kind = func(vector) (float64, error)

// allKinds joins the tables of the subjects; a method named twice is a mistake.
func allKinds(t testing.TB) map[string]kind {
	t.Helper()
	all := map[string]kind{}
	for _, table := range []map[string]kind{
		proportionKinds(), tableKinds(), meanKinds(t), survivalKinds(), regressionKinds(t), distributionKinds(),
		certifiedKinds(t), bayesKinds(), hierarchicalKinds(), chartKinds(), planningKinds(), agreementKinds(), acuityKinds(),
	} {
		for method := range table {
			if _, twice := all[method]; twice {
				t.Fatalf("kind %q is in two tables", method)
			}
		}
		maps.Copy(all, table)
	}
	return all
}

// unknownQuantity fails a row whose method is known but whose figure is not.
func unknownQuantity(v vector) (float64, error) {
	return 0, fmt.Errorf("unknown quantity %q of kind %q", v.quantity, v.method)
}

func (i Interval) end(v vector) (float64, error) {
	switch v.quantity {
	case "lower":
		return i.Low, nil
	case "upper":
		return i.High, nil
	}
	return unknownQuantity(v)
}

func proportionKinds() map[string]kind {
	single := func(f func(r, n int, level float64) (Interval, error)) kind {
		return func(v vector) (float64, error) {
			i, err := f(v.count("r"), v.count("n"), v.number("level"))
			if err != nil {
				return 0, err
			}
			return i.end(v)
		}
	}
	double := func(f func(a, m, b, n int, level float64) (Difference, error)) kind {
		return func(v vector) (float64, error) {
			d, err := f(v.count("a"), v.count("m"), v.count("b"), v.count("n"), v.number("level"))
			if err != nil || v.quantity == "difference" {
				return d.Value, err
			}
			return d.Interval.end(v)
		}
	}
	zero := func(f func(n int) (float64, error)) kind {
		return func(v vector) (float64, error) {
			var n int
			if _, err := fmt.Sscanf(v.inputs, "0/%d", &n); err != nil {
				return 0, err
			}
			return f(n)
		}
	}
	return map[string]kind{
		"Wilson score interval":                                        single(Wilson),
		"Wilson with continuity correction":                            single(WilsonContinuity),
		"Clopper-Pearson exact":                                        single(ClopperPearson),
		"mid-P exact":                                                  single(MidP),
		"Agresti-Coull (z^2 added, not clipped)":                       single(AgrestiCoull),
		"Jeffreys interval (ends set to 0/1 at r=0/r=n)":               single(Jeffreys),
		"Wald (for showing why not)":                                   single(Wald),
		"difference of independent proportions, Newcombe hybrid score": double(NewcombeDifference),
		"same with continuity-corrected Wilson":                        double(NewcombeDifferenceContinuity),
		"one-sided 95% upper bound 1-0.05^(1/n)":                       zero(func(n int) (float64, error) { return ZeroEventsUpper(n, 0.95) }),
		"two-sided 95% Clopper-Pearson upper 1-0.025^(1/n)": zero(func(n int) (float64, error) {
			i, err := ClopperPearson(0, n, 0.95)
			return i.High, err
		}),
		"rule of three 3/n": zero(RuleOfThree),
	}
}

func tableKinds() map[string]kind {
	tables := map[string][4]int{"fisher tea": {3, 1, 1, 3}, "fisher twins": {2, 15, 10, 3}, "fisher audit": {45, 5, 38, 12}}
	fisher := func(v vector) (ExactTable, error) {
		c, found := tables[v.id]
		if !found {
			return ExactTable{}, fmt.Errorf("unknown table")
		}
		return FisherExact(c[0], c[1], c[2], c[3], 0.95)
	}
	pairs := func(v vector) (PairedTable, error) {
		switch v.id {
		case "mcnemar approval":
			return McNemar(86, 150)
		case "mcnemar small":
			return McNemar(3, 12)
		}
		return PairedTable{}, fmt.Errorf("unknown pairs")
	}
	chiSquare := func(yates bool) kind {
		return func(v vector) (float64, error) {
			x, err := ChiSquareTable(45, 5, 38, 12, yates)
			if v.quantity == "p" {
				return x.P, err
			}
			return x.Statistic, err
		}
	}
	return map[string]kind{
		"Fisher exact": func(v vector) (float64, error) {
			f, err := fisher(v)
			switch v.quantity {
			case "p two-sided (sum of tables no more likely)", "p two-sided":
				return f.PTwoSided, err
			case "p one-sided greater":
				return f.PGreater, err
			case "p one-sided less":
				return f.PLess, err
			}
			return unknownQuantity(v)
		},
		"conditional MLE odds ratio": func(v vector) (float64, error) {
			f, err := fisher(v)
			return f.OddsRatio, err
		},
		"conditional exact CI of odds ratio": func(v vector) (float64, error) {
			f, err := fisher(v)
			if err != nil {
				return 0, err
			}
			return f.OddsRatioInterval.end(v)
		},
		"Pearson chi-square no correction": chiSquare(false),
		"Yates-corrected chi-square":       chiSquare(true),
		"McNemar with continuity correction": func(v vector) (float64, error) {
			p, err := pairs(v)
			if v.quantity == "p" {
				return p.CorrectedP, err
			}
			return p.CorrectedStatistic, err
		},
		"McNemar no correction": func(v vector) (float64, error) {
			p, err := pairs(v)
			return p.Statistic, err
		},
		"McNemar exact (binomial)": func(v vector) (float64, error) {
			p, err := pairs(v)
			return p.PExact, err
		},
		"McNemar mid-p": func(v vector) (float64, error) {
			p, err := pairs(v)
			return p.PMid, err
		},
	}
}

func (r RankTest) figure(v vector) (float64, error) {
	switch v.quantity {
	case "V (sum of positive ranks)", "V", "W", "W=U of x":
		return r.Statistic, nil
	case "p one-sided greater":
		return r.PGreater, nil
	case "p two-sided":
		return r.PTwoSided, nil
	case "estimate":
		return r.Location, nil
	}
	return r.Interval.end(v)
}

func (r TTest) figure(v vector) (float64, error) {
	switch v.quantity {
	case "t":
		return r.Statistic, nil
	case "df":
		return r.DegreesOfFreedom, nil
	case "p two-sided":
		return r.PTwoSided, nil
	case "mean difference":
		return r.Difference, nil
	}
	return r.Interval.end(v)
}

func (c Correlation) figure(v vector) (float64, error) {
	switch v.quantity {
	case "r", "tau", "rho":
		return c.Coefficient, nil
	case "p two-sided":
		return c.PTwoSided, nil
	}
	return c.Interval.end(v)
}

// figured is a result that knows which of its figures a row asks for.
type figured interface {
	figure(v vector) (float64, error)
}

func pick[T figured](f func(v vector) (T, error)) kind {
	return func(v vector) (float64, error) {
		result, err := f(v)
		if err != nil {
			return 0, err
		}
		return result.figure(v)
	}
}

func meanKinds(t testing.TB) map[string]kind {
	may, august := ozone(t)
	paired := pick(func(v vector) (TTest, error) { return PairedT(v.list("x"), v.list("y"), 0.95) })
	signed := pick(func(v vector) (RankTest, error) { return WilcoxonSignedRank(v.list("x"), v.list("y"), 0.95) })
	two := pick(func(v vector) (RankTest, error) { return MannWhitney(v.list("x"), v.list("y"), 0.95) })
	air := pick(func(vector) (RankTest, error) { return MannWhitney(may, august, 0.95) })
	pearson := pick(func(v vector) (Correlation, error) { return Pearson(v.list("x"), v.list("y"), 0.95) })
	kendall := pick(func(v vector) (Correlation, error) { return Kendall(v.list("x"), v.list("y")) })
	spearman := pick(func(v vector) (Correlation, error) { return Spearman(v.list("x"), v.list("y")) })
	return map[string]kind{
		"paired t":                    paired,
		"paired t 95% CI":             paired,
		"Welch t":                     pick(func(v vector) (TTest, error) { return WelchT(v.list("x"), v.list("y"), 0.95) }),
		"Wilcoxon signed rank exact":  signed,
		"Hodges-Lehmann pseudomedian": signed,
		"exact CI of pseudomedian":    signed,
		"Wilcoxon signed rank, one zero difference dropped, normal approx with tie and continuity correction": signed,
		"Mann-Whitney exact":   two,
		"Hodges-Lehmann shift": two,
		"Mann-Whitney normal approx, tie and continuity corrected": air,
		// "same" continues the row before it.
		"same": func(v vector) (float64, error) {
			switch v.id {
			case "wsr sleep ties":
				return signed(v)
			case "mwu ozone ties":
				return air(v)
			case "surgical glmm":
				return surgicalMixed(v)
			}
			return unknownQuantity(v)
		},
		"Pearson r":                 pearson,
		"Pearson r Fisher-z 95% CI": pearson,
		"Kendall tau":               kendall,
		"Kendall tau exact":         kendall,
		"Spearman rho":              spearman,
		"Spearman rho exact":        spearman,
		"holm":                      adjusted(AdjustHolm),
		"BH":                        adjusted(AdjustBenjaminiHochberg),
	}
}

func adjusted(f func([]float64) ([]float64, error)) kind {
	return func(v vector) (float64, error) {
		p, err := f(v.list("p"))
		if err != nil {
			return 0, err
		}
		var at int
		if _, err := fmt.Sscanf(v.quantity, "adjusted p[%d]", &at); err != nil {
			return 0, err
		}
		return p[at-1], nil
	}
}

func ozone(t testing.TB) (may, august []float64) {
	t.Helper()
	for _, row := range readCSV(t, "ozone.csv", "month", "ozone") {
		switch value := floats(row[1])[0]; row[0] {
		case "5":
			may = append(may, value)
		case "8":
			august = append(august, value)
		default:
			t.Fatalf("month %q", row[0])
		}
	}
	if len(may) != 26 || len(august) != 26 {
		t.Fatalf("%d and %d readings", len(may), len(august))
	}
	return may, august
}

func distributionKinds() map[string]kind {
	return map[string]kind{
		"standard normal quantile": func(v vector) (float64, error) { return NormalQuantile(v.number("p")), nil },
		"standard normal CDF":      func(v vector) (float64, error) { return NormalCDF(v.number("x")), nil },
		"t quantile":               func(v vector) (float64, error) { return StudentQuantile(v.number("p"), v.number("df")), nil },
		"t CDF":                    func(v vector) (float64, error) { return 1 - StudentUpper(v.number("t"), v.number("df")), nil },
		"chi2 upper tail":          func(v vector) (float64, error) { return ChiSquareUpper(v.number("x"), v.number("df")), nil },
		"chi2 quantile":            func(v vector) (float64, error) { return ChiSquareQuantile(v.number("p"), v.number("df")), nil },
		"F upper tail": func(v vector) (float64, error) {
			var f, df1, df2 float64
			_, err := fmt.Sscanf(v.inputs, "F=%g df=%g,%g", &f, &df1, &df2)
			return FUpper(f, df1, df2), err
		},
		"regularised incomplete beta": func(v vector) (float64, error) {
			return BetaCDF(v.number("x"), v.number("a"), v.number("b")), nil
		},
		"beta quantile": func(v vector) (float64, error) {
			return BetaQuantile(v.number("p"), v.number("a"), v.number("b")), nil
		},
		"ln gamma":     func(v vector) (float64, error) { return LogGamma(v.number("x")), nil },
		"binomial CDF": func(v vector) (float64, error) { return BinomialCDF(v.count("k"), v.count("n"), v.number("p")), nil },
		"hypergeometric pmf": func(v vector) (float64, error) {
			return HypergeometricPMF(v.count("k"), v.count("white"), v.count("black"), v.count("drawn")), nil
		},
		"Poisson CDF": func(v vector) (float64, error) { return PoissonCDF(v.count("k"), v.number("mean")), nil },
	}
}

func planningKinds() map[string]kind {
	power := func(v vector) (PowerToFlag, error) {
		return PowerOfExactFlag(v.count("N"), v.number("p0"), v.number("p1"), 0.025)
	}
	bounds := func(v vector) (MissingBounds, error) { return BoundMissing(FollowUp{40, 33, 30}, 0.95) }
	return map[string]kind{
		"Wald half-width n=z^2 p(1-p)/d^2 rounded up": func(v vector) (float64, error) {
			n, err := SampleSizeForWidth(v.number("p"), v.number("half-width"), 0.95)
			return float64(n), err
		},
		"two proportions, 80% power, two-sided 5%, pooled null variance": func(v vector) (float64, error) {
			return SampleSizeTwoProportions(0.9, 0.8, 0.05, 0.8)
		},
		"P(count >= k) where k=smallest count with upper tail <=0.025 under p0": func(v vector) (float64, error) {
			p, err := power(v)
			return float64(p.Count), err
		},
		"power": func(v vector) (float64, error) {
			p, err := power(v)
			return p.Power, err
		},
		"overall type I error of K equally spaced looks each at two-sided 0.05": func(v vector) (float64, error) {
			return RepeatedLooksError(v.count("K"), twoSided(0.95))
		},
		"constant z for overall two-sided 0.05": func(v vector) (float64, error) {
			return ConstantBoundary(v.count("K"), 0.05)
		},
		"best/worst case": func(v vector) (float64, error) {
			b, err := bounds(v)
			switch v.quantity {
			case "worst 30/40":
				return b.Worst, err
			case "best 37/40":
				return b.Best, err
			}
			return unknownQuantity(v)
		},
		"complete case": func(v vector) (float64, error) {
			b, err := bounds(v)
			return b.CompleteCase, err
		},
		"envelope: Wilson lower of worst": func(v vector) (float64, error) {
			b, err := bounds(v)
			return b.Envelope.Low, err
		},
		"envelope: Wilson upper of best": func(v vector) (float64, error) {
			b, err := bounds(v)
			return b.Envelope.High, err
		},
	}
}

func agreementKinds() map[string]kind {
	ratings := [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}
	meters := func(f func(Agreement) float64) kind {
		return func(v vector) (float64, error) {
			a, err := BlandAltman(v.list("large"), v.list("mini"), 0.95)
			if err != nil {
				return 0, err
			}
			// The rows use 1.96, not the exact quantile.
			a.Limits = around(a.Bias, 1.96*a.StandardDeviation, 0.95)
			return f(a), nil
		}
	}
	class := func(f func(Reliability) float64) kind {
		return func(vector) (float64, error) {
			r, err := IntraclassCorrelation(ratings, 0.95)
			return f(r), err
		}
	}
	return map[string]kind{
		"mean difference":             meters(func(a Agreement) float64 { return a.Bias }),
		"SD of differences":           meters(func(a Agreement) float64 { return a.StandardDeviation }),
		"limits bias-1.96 SD":         meters(func(a Agreement) float64 { return a.Limits.Low }),
		"limits bias+1.96 SD":         meters(func(a Agreement) float64 { return a.Limits.High }),
		"ICC(1,1)":                    class(func(r Reliability) float64 { return r.OneWaySingle }),
		"ICC(2,1)":                    class(func(r Reliability) float64 { return r.RandomSingle }),
		"ICC(3,1)":                    class(func(r Reliability) float64 { return r.FixedSingle }),
		"ICC(1,4)":                    class(func(r Reliability) float64 { return r.OneWayAverage }),
		"ICC(2,4)":                    class(func(r Reliability) float64 { return r.RandomAverage }),
		"ICC(3,4)":                    class(func(r Reliability) float64 { return r.FixedAverage }),
		"within-subject SD sqrt(MSW)": class(func(r Reliability) float64 { return r.WithinSubject }),
		"repeatability 1.96 sqrt2 sw": class(func(r Reliability) float64 { return 1.96 * math.Sqrt2 * r.WithinSubject }),
		"Cohen kappa": func(v vector) (float64, error) {
			k, err := CohenKappa([][]int{{20, 5}, {10, 15}}, 0.95)
			return k.Value, err
		},
	}
}
