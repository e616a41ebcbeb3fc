package stats

import (
	"testing"

	"limitans/fault"
)

var unitRows = [][]float64{{250, 0}, {320, 1}, {410, 0}, {520, 1}, {640, 1}, {300, 0}, {200, 1}}

// TestUnitRegressionAgainstR: optim on Σ ln ∫ dbinom·dnorm by integrate, made
// counts that do differ; optim's differences leave about 1e-4 and 1e-3 in the
// errors.
func TestUnitRegressionAgainstR(t *testing.T) {
	counts := []Counts{{48, 50}, {25, 35}, {24, 25}, {18, 40}, {14, 18}, {11, 16}, {40, 41}}
	m := must[BinomialNormalRegression](t)(FitBinomialNormalRegression(counts, unitRows))
	near(t, "log-likelihood", m.LogLikelihood, -18.6826087059934, 1e-9)
	near(t, "intercept", m.Coefficients[0], 3.7623262112774, 1e-4)
	near(t, "size", m.Coefficients[1], -0.0043931932402, 1e-4)
	near(t, "indicator", m.Coefficients[2], -0.6221088196243, 1e-3)
	near(t, "spread", m.StandardDeviation, 0.9824476769298, 1e-4)
	near(t, "error of size", m.StandardErrors[1], 0.00323316663593, 1e-3)
	near(t, "error of indicator", m.StandardErrors[2], 0.965476559764, 1e-3)
	near(t, "without spread", m.FixedLogLikelihood, -24.3695269892, 1e-10) // logLik(glm(…, binomial))
	p, mean, unit, err := m.Predict([]float64{400, 1}, 0.95)
	if err != nil || !mean.Contains(p) || unit.Low >= mean.Low || unit.High <= mean.High {
		t.Errorf("%g, %v, %v, %v", p, mean, unit, err)
	}
	near(t, "prediction", p, logistic(m.Coefficients[0]+400*m.Coefficients[1]+m.Coefficients[2]), 1e-12)
}

// TestUnitRegressionWithoutSpread: counts that follow their predictors too well
// give the ordinary fit.
func TestUnitRegressionWithoutSpread(t *testing.T) {
	counts := []Counts{{48, 50}, {30, 35}, {20, 25}, {25, 40}, {9, 18}, {14, 16}, {40, 41}}
	m := must[BinomialNormalRegression](t)(FitBinomialNormalRegression(counts, unitRows))
	var events, trials []int
	for _, c := range counts {
		events, trials = append(events, c.Events), append(trials, c.Trials)
	}
	plain := must[RegressionModel](t)(BinomialRegression(unitRows, events, trials))
	if m.StandardDeviation != 0 || m.HeterogeneityP != 1 {
		t.Errorf("spread %g, p %g", m.StandardDeviation, m.HeterogeneityP)
	}
	for j := range plain.Coefficients {
		near(t, "coefficient", m.Coefficients[j], plain.Coefficients[j], 1e-9)
		near(t, "error", m.StandardErrors[j], plain.StandardErrors[j], 1e-9)
	}
	near(t, "log-likelihood", m.LogLikelihood, plain.LogLikelihood, 1e-12)
}

// TestUnitRegressionOfNothing: without predictors it is the model of the mean.
func TestUnitRegressionOfNothing(t *testing.T) {
	rows := make([][]float64, len(surgicalUnits))
	for i := range rows {
		rows[i] = []float64{}
	}
	m := must[BinomialNormalRegression](t)(FitBinomialNormalRegression(surgicalUnits, rows))
	plain := must[BinomialNormal](t)(surgicalFit())
	near(t, "mean", m.Coefficients[0], plain.Mean, 1e-6)
	near(t, "spread", m.StandardDeviation, plain.StandardDeviation, 1e-5)
	near(t, "log-likelihood", m.LogLikelihood, plain.LogLikelihood, 1e-11)
	near(t, "p", m.HeterogeneityP, plain.HeterogeneityP, 1e-8)
}

func TestUnitRegressionRefuses(t *testing.T) {
	counts := []Counts{{5, 10}, {3, 10}, {9, 10}}
	rows := column([]float64{1, 2, 3})
	for name, c := range map[string]struct {
		counts []Counts
		rows   [][]float64
		code   fault.Code
	}{
		"one unit":  {counts[:1], rows[:1], fault.Invalid},
		"rows":      {counts, rows[:2], fault.Invalid},
		"too few":   {counts[:2], rows[:2], fault.Invalid},
		"no event":  {[]Counts{{0, 3}, {0, 3}, {0, 3}}, rows, fault.NotMeasurable},
		"flat":      {counts, column([]float64{1, 1, 1}), fault.NotMeasurable},
		"separated": {[]Counts{{0, 9}, {0, 9}, {9, 9}, {9, 9}}, column([]float64{1, 2, 3, 4}), fault.NotMeasurable},
	} {
		if _, err := FitBinomialNormalRegression(c.counts, c.rows); fault.CodeOf(err) != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	m := must[BinomialNormalRegression](t)(FitBinomialNormalRegression(counts, rows))
	for _, c := range []struct {
		model BinomialNormalRegression
		row   []float64
		level float64
	}{{m, nil, .9}, {m, []float64{nan}, .9}, {m, []float64{1}, 0}, {BinomialNormalRegression{}, nil, .9}} {
		if _, _, _, err := c.model.Predict(c.row, c.level); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
