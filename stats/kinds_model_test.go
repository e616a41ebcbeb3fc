package stats

import (
	"fmt"
	"strings"
	"testing"
)

// lifetimes reads "6 6 6+ 7", a plus for censored.
func lifetimes(text string) []Lifetime {
	var out []Lifetime
	for _, word := range strings.Fields(text) {
		number, censored := strings.CutSuffix(word, "+")
		out = append(out, Lifetime{floats(number)[0], !censored})
	}
	return out
}

// Remission times of Freireich et al., Blood 1963;21:699, as in the rows.
var (
	treatedArm = lifetimes("6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+")
	placeboArm = lifetimes("1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23")
)

// arm finds which of the two a row is about, and that it spells the same data.
func arm(v vector) ([]Lifetime, error) {
	for prefix, lives := range map[string][]Lifetime{"6-MP arm": treatedArm, "placebo arm": placeboArm} {
		rest, found := strings.CutPrefix(v.inputs, prefix)
		if !found {
			continue
		}
		rest, _, _ = strings.Cut(rest, "(")
		if spelled := lifetimes(rest); len(spelled) > 0 && fmt.Sprint(spelled) != fmt.Sprint(lives) {
			return nil, fmt.Errorf("other data: %q", v.inputs)
		}
		return lives, nil
	}
	return nil, fmt.Errorf("unknown arm %q", v.inputs)
}

// bothArms checks that a row is about the two arms together.
func bothArms(v vector) error {
	first, second, found := strings.Cut(v.inputs, " vs ")
	if !found {
		return fmt.Errorf("not two arms: %q", v.inputs)
	}
	for _, text := range []string{first, second} {
		if _, err := arm(vector{inputs: text}); err != nil {
			return err
		}
	}
	return nil
}

func survivalKinds() map[string]kind {
	step := func(v vector) (SurvivalStep, error) {
		lives, err := arm(v)
		if err != nil {
			return SurvivalStep{}, err
		}
		curve, err := KaplanMeier(lives)
		var time float64
		if _, err := fmt.Sscanf(v.id[strings.Index(v.id, "t="):], "t=%g", &time); err != nil {
			return SurvivalStep{}, err
		}
		return curve.At(time), err
	}
	interval := func(scale SurvivalScale) kind {
		return func(v vector) (float64, error) {
			s, err := step(v)
			if err != nil {
				return 0, err
			}
			i, err := s.Interval(scale, 0.95)
			if err != nil {
				return 0, err
			}
			return i.end(v)
		}
	}
	logRank := func(weight SurvivalWeight) kind {
		return func(v vector) (float64, error) {
			if err := bothArms(v); err != nil {
				return 0, err
			}
			r, err := LogRank(treatedArm, placeboArm, weight)
			switch v.quantity {
			case "chi2 1 df", "chi2":
				return r.Statistic, err
			case "p":
				return r.P, err
			case "expected 6-MP":
				return r.Expected[0], err
			case "expected placebo":
				return r.Expected[1], err
			case "variance of O-E":
				return r.Variance, err
			}
			return unknownQuantity(v)
		}
	}
	cox := func(ties Ties) kind {
		return func(v vector) (float64, error) {
			if err := bothArms(v); err != nil {
				return 0, err
			}
			lives, placebo := twoArms()
			m, err := Cox(lives, placebo, ties)
			if err != nil {
				return 0, err
			}
			switch v.quantity {
			case "beta":
				return m.Coefficients[0], nil
			case "se":
				return m.StandardErrors[0], nil
			case "log partial likelihood":
				return m.LogLikelihood, nil
			}
			return unknownQuantity(v)
		}
	}
	return map[string]kind{
		"Kaplan-Meier": func(v vector) (float64, error) {
			s, err := step(v)
			return s.Survival, err
		},
		"Greenwood standard error of S(t)": func(v vector) (float64, error) {
			s, err := step(v)
			return s.StandardError, err
		},
		"at risk": func(v vector) (float64, error) {
			s, err := step(v)
			return float64(s.AtRisk), err
		},
		"95% CI log scale":     interval(Log),
		"95% CI log-log scale": interval(LogLog),
		"95% CI plain scale":   interval(Plain),
		"Kaplan-Meier median": func(v vector) (float64, error) {
			lives, err := arm(v)
			if err != nil {
				return 0, err
			}
			curve, err := KaplanMeier(lives)
			if err != nil {
				return 0, err
			}
			return curve.Median()
		},
		"restricted mean to t=20": func(v vector) (float64, error) {
			lives, err := arm(v)
			if err != nil {
				return 0, err
			}
			curve, err := KaplanMeier(lives)
			if err != nil {
				return 0, err
			}
			mean, standardError, err := curve.RestrictedMean(20)
			if v.quantity == "se" {
				return standardError, err
			}
			return mean, err
		},
		"log-rank (hypergeometric variance)":         logRank(Unweighted),
		"log-rank":                                   logRank(Unweighted),
		"Peto-Prentice G-rho rho=1":                  logRank(PetoPrentice),
		"Gehan-Breslow weighted log-rank (weight n)": logRank(GehanBreslow),
		"Cox ties efron":                             cox(Efron),
		"Cox ties breslow":                           cox(Breslow),
		"Cox ties exact":                             cox(ExactTies),
	}
}

// twoArms joins the arms, with one predictor that is 1 for placebo.
func twoArms() (lives []Lifetime, placebo [][]float64) {
	for _, l := range treatedArm {
		lives, placebo = append(lives, l), append(placebo, []float64{0})
	}
	for _, l := range placeboArm {
		lives, placebo = append(lives, l), append(placebo, []float64{1})
	}
	return lives, placebo
}

// column turns values into rows of one predictor.
func column(values []float64) [][]float64 {
	rows := make([][]float64, len(values))
	for i, x := range values {
		rows[i] = []float64{x}
	}
	return rows
}

// birthNames are the coefficients of the birth weight model in order; race is
// coded by two indicators with the first class as reference.
var birthNames = []string{"(Intercept)", "age", "lwt", "race2", "race3", "smoke", "ptl", "ht", "ui"}

func births(t testing.TB) (rows [][]float64, low []bool) {
	t.Helper()
	for _, r := range readCSV(t, "birthwt.csv", "low", "age", "lwt", "race", "smoke", "ptl", "ht", "ui") {
		x := floats(strings.Join(r, " "))
		rows = append(rows, []float64{x[1], x[2], indicator(x[3] == 2), indicator(x[3] == 3), x[4], x[5], x[6], x[7]})
		low = append(low, x[0] == 1)
	}
	if len(rows) != 189 {
		t.Fatalf("%d births", len(rows))
	}
	return rows, low
}

func regressionKinds(t testing.TB) map[string]kind {
	birthRows, low := births(t)
	model := func(v vector) (RegressionModel, []bool, error) {
		switch v.id {
		case "logit oring":
			m, err := LogisticRegression(column(v.list("temp")), bools(v.list("distress")))
			return m, bools(v.list("distress")), err
		case "logit birthwt":
			m, err := LogisticRegression(birthRows, low)
			return m, low, err
		}
		return RegressionModel{}, nil, fmt.Errorf("unknown data")
	}
	score := func(f func([]float64, []bool) (float64, error)) kind {
		return func(v vector) (float64, error) {
			m, outcomes, err := model(v)
			if err != nil {
				return 0, err
			}
			return f(m.Fitted, outcomes)
		}
	}
	firth := func(x func(vector) []float64, y func(vector) []float64) kind {
		return func(v vector) (float64, error) {
			m, err := FirthRegression(column(x(v)), bools(y(v)))
			if err != nil {
				return 0, err
			}
			return m.Coefficients[int(indicator(v.quantity != "beta intercept"))], nil
		}
	}
	return map[string]kind{
		"logistic regression ML": func(v vector) (float64, error) {
			m, _, err := model(v)
			if err != nil {
				return 0, err
			}
			return m.figure(v)
		},
		"Brier score":     score(BrierScore),
		"Brier":           score(BrierScore),
		"AUC (ties half)": score(AreaUnderCurve),
		"AUC":             score(AreaUnderCurve),
		"predicted probability at 31 F": func(v vector) (float64, error) {
			m, _, err := model(v)
			if err != nil {
				return 0, err
			}
			p, _, err := m.Predict([]float64{31}, 0.95)
			return p, err
		},
		"profile-likelihood 95% CI for temp": func(v vector) (float64, error) {
			m, _, err := model(v)
			if err != nil {
				return 0, err
			}
			i, err := m.ProfileInterval(0, 0.95)
			if err != nil {
				return 0, err
			}
			return i.end(v)
		},
		"Firth penalised logistic":                      firth(func(v vector) []float64 { return v.list("temp") }, func(v vector) []float64 { return v.list("distress") }),
		"Firth penalised logistic, complete separation": firth(func(vector) []float64 { return []float64{1, 2, 3, 4, 5, 6, 7, 8} }, func(v vector) []float64 { return v.list("y") }),
	}
}

// figure reads "beta temp", "se intercept" and the like.
func (m RegressionModel) figure(v vector) (float64, error) {
	switch v.quantity {
	case "residual deviance":
		return m.Deviance, nil
	case "null deviance":
		return m.NullDeviance, nil
	case "AIC":
		return m.AIC(), nil
	}
	names := birthNames
	if v.id == "logit oring" {
		names = []string{"intercept", "temp"}
	}
	what, name, _ := strings.Cut(v.quantity, " ")
	for j, n := range names {
		switch {
		case n != name:
		case what == "beta":
			return m.Coefficients[j], nil
		case what == "se":
			return m.StandardErrors[j], nil
		}
	}
	return unknownQuantity(v)
}
