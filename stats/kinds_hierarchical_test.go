package stats

import (
	"fmt"
	"strings"
	"sync"
)

func bayesKinds() map[string]kind {
	updated := func(v vector) (BetaDistribution, error) {
		var prior BetaDistribution
		var r, n int
		if _, err := fmt.Sscanf(v.inputs, "prior Beta(%g,%g) r=%d n=%d", &prior.A, &prior.B, &r, &n); err != nil {
			return BetaDistribution{}, err
		}
		return prior.Updated(r, n)
	}
	posterior := func(f func(BetaDistribution) (float64, error)) kind {
		return func(v vector) (float64, error) {
			d, err := updated(v)
			if err != nil {
				return 0, err
			}
			return f(d)
		}
	}
	hospital := func(v vector) (BetaDistribution, error) {
		i, err := hospitalOf(v)
		if err != nil {
			return BetaDistribution{}, err
		}
		return FlatPrior.Updated(surgicalUnits[i].Events, surgicalUnits[i].Trials)
	}
	central := func(f func(vector) (BetaDistribution, error)) kind {
		return func(v vector) (float64, error) {
			d, err := f(v)
			if err != nil {
				return 0, err
			}
			i, err := d.Interval(0.95)
			if err != nil {
				return 0, err
			}
			return i.end(v)
		}
	}
	return map[string]kind{
		"posterior mean":                         posterior(func(d BetaDistribution) (float64, error) { return d.Mean(), nil }),
		"posterior sd":                           posterior(func(d BetaDistribution) (float64, error) { return d.StandardDeviation(), nil }),
		"P(p>0.9 | data)":                        posterior(func(d BetaDistribution) (float64, error) { return d.ProbabilityAbove(0.9), nil }),
		"posterior predictive P(X=8 of next 10)": posterior(func(d BetaDistribution) (float64, error) { return d.Predictive(8, 10) }),
		"central 95% credible interval":          central(updated),
		"independent Beta(1,1) central 95%":      central(hospital),
		"independent Beta(1,1) posterior mean": func(v vector) (float64, error) {
			d, err := hospital(v)
			return d.Mean(), err
		},
		"P(pA>pB) uniform priors": func(v vector) (float64, error) {
			return ProbabilityGreater(BetaDistribution{46, 6}, BetaDistribution{39, 13})
		},
	}
}

// surgicalUnits are the twelve hospitals of the BUGS example, A to L.
var surgicalUnits = []Counts{
	{0, 47}, {18, 148}, {8, 119}, {46, 810}, {8, 211}, {13, 196}, {9, 148}, {31, 215}, {14, 207}, {8, 97}, {29, 256}, {24, 360},
}

func hospitalOf(v vector) (int, error) {
	var letter byte
	if _, err := fmt.Sscanf(v.inputs, "hospital %c", &letter); err != nil {
		return 0, err
	}
	i := int(letter - 'A')
	if i < 0 || i >= len(surgicalUnits) {
		return 0, fmt.Errorf("hospital %c", letter)
	}
	if strings.Contains(v.inputs, "n=") && (surgicalUnits[i] != Counts{v.count("r"), v.count("n")}) {
		return 0, fmt.Errorf("other counts: %q", v.inputs)
	}
	return i, nil
}

// schools are the eight of Rubin, J Educ Stat 1981;6:377, rounded; A to H.
var schools = []Measured{{28, 15}, {8, 10}, {-3, 16}, {7, 11}, {-1, 9}, {1, 11}, {18, 10}, {12, 18}}

var (
	surgicalFit   = sync.OnceValues(func() (BinomialNormal, error) { return FitBinomialNormal(surgicalUnits) })
	surgicalGamma = sync.OnceValues(func() (HierarchicalBinomial, error) {
		return FitHierarchicalBinomial(surgicalUnits, 1000, GammaPrecision(0.001, 0.001), 0.95)
	})
	surgicalUniform = sync.OnceValues(func() (HierarchicalBinomial, error) {
		return FitHierarchicalBinomial(surgicalUnits, 1000, UniformScale(10), 0.95)
	})
	schoolFit = sync.OnceValues(func() (HierarchicalNormal, error) {
		return FitHierarchicalNormal(schools, UniformScale(400), 0.95)
	})
)

func surgicalMixed(v vector) (float64, error) {
	m, err := surgicalFit()
	switch v.quantity {
	case "mu":
		return m.Mean, err
	case "sigma":
		return m.StandardDeviation, err
	case "p":
		i, err := hospitalOf(v)
		if err != nil {
			return 0, err
		}
		return m.Conditional[i], nil
	}
	return unknownQuantity(v)
}

func surgicalPosterior(fit func() (HierarchicalBinomial, error)) kind {
	return func(v vector) (float64, error) {
		h, err := fit()
		if err != nil {
			return 0, err
		}
		var p Posterior
		switch {
		case strings.HasSuffix(v.quantity, " p"):
			i, err := hospitalOf(v)
			if err != nil {
				return 0, err
			}
			p = h.Units[i]
		case strings.HasSuffix(v.quantity, " mu"):
			p = h.Mean
		case strings.HasSuffix(v.quantity, " sigma"):
			p = h.Scale
		case strings.HasSuffix(v.quantity, " pop.mean"):
			p = h.Population
		default:
			return unknownQuantity(v)
		}
		if strings.HasPrefix(v.quantity, "posterior sd ") {
			return p.StandardDeviation, nil
		}
		return p.Mean, nil
	}
}

func hierarchicalKinds() map[string]kind {
	betaBinomial := func(v vector) (float64, error) {
		m, err := FitBetaBinomial(surgicalUnits)
		if err != nil {
			return 0, err
		}
		switch v.quantity {
		case "alpha":
			return m.Population.A, nil
		case "beta":
			return m.Population.B, nil
		case "p":
			i, err := hospitalOf(v)
			if err != nil {
				return 0, err
			}
			d, err := m.Shrunken(surgicalUnits[i])
			return d.Mean(), err
		}
		return unknownQuantity(v)
	}
	pooled := func(tau Tau) kind {
		return func(v vector) (float64, error) {
			p, err := Pool(schools, tau)
			switch v.quantity {
			case "mean":
				return p.Mean, err
			case "variance":
				return p.StandardError * p.StandardError, err
			case "tau2":
				return p.TauSquared, err
			case "Q":
				return p.Q, err
			}
			return unknownQuantity(v)
		}
	}
	uniform := surgicalPosterior(surgicalUniform)
	return map[string]kind{
		"hierarchical logit-normal, BUGS prior":    surgicalPosterior(surgicalGamma),
		"hierarchical logit-normal, sigma~U(0,10)": uniform,
		"sigma~U(0,10)": uniform,
		"logit-normal GLMM, ML, 25-point adaptive Gauss-Hermite": surgicalMixed,
		"empirical Bayes conditional mode":                       surgicalMixed,
		"beta-binomial ML (empirical Bayes)":                     betaBinomial,
		"beta-binomial ML":                                       betaBinomial,
		"shrunken rate (alpha+r)/(alpha+beta+n)":                 betaBinomial,
		"complete pooling":                                       pooled(NoHeterogeneity),
		"Cochran Q":                                              pooled(NoHeterogeneity),
		"random effects DL":                                      pooled(DerSimonianLaird),
		"random effects REML":                                    pooled(RestrictedLikelihood),
		"random effects ML":                                      pooled(MaximumLikelihood),
		"hierarchical normal": func(v vector) (float64, error) {
			h, err := schoolFit()
			if err != nil {
				return 0, err
			}
			switch v.quantity {
			case "posterior mean mu":
				return h.Mean.Mean, nil
			case "posterior mean tau":
				return h.Scale.Mean, nil
			case "posterior median tau":
				return h.Median, nil
			case "posterior mean theta":
				var letter byte
				_, err := fmt.Sscanf(v.inputs, "school %c", &letter)
				return h.Units[letter-'A'].Mean, err
			}
			return unknownQuantity(v)
		},
	}
}
