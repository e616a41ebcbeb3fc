package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func drawUnits(t *rapid.T) []Counts {
	units := make([]Counts, rapid.IntRange(2, 6).Draw(t, "units"))
	for i := range units {
		units[i].Trials = rapid.SampledFrom([]int{1, 2, 5, 20, 100, 3000}).Draw(t, "trials")
		units[i].Events = rapid.IntRange(0, units[i].Trials).Draw(t, "events")
		if rapid.IntRange(0, 3).Draw(t, "edge") == 0 {
			units[i].Events = units[i].Trials * rapid.IntRange(0, 1).Draw(t, "end")
		}
	}
	return units
}

// TestModelsOfUnitsOnAnyCounts: a fit or a fault, and every number in its
// range; units seen in another order, or failures counted for events, give the
// same.
func TestModelsOfUnitsOnAnyCounts(t *testing.T) {
	drawn := rapid.Custom(drawUnits)
	for seed := range 25 {
		units := drawn.Example(seed)
		mirror := make([]Counts, len(units))
		for i, u := range units {
			mirror[len(units)-1-i] = Counts{u.Trials - u.Events, u.Trials}
		}
		m, err := FitBinomialNormal(units)
		back, backErr := FitBinomialNormal(mirror)
		if (err == nil) != (backErr == nil) {
			t.Fatalf("%v; mirrored %v", err, backErr)
		}
		if err == nil {
			if math.Abs(m.LogLikelihood-back.LogLikelihood) > 1e-6*(1+math.Abs(m.LogLikelihood)) || math.Abs(m.StandardDeviation-back.StandardDeviation) > 1e-3*(1+m.StandardDeviation) {
				t.Fatalf("%+v; mirrored %+v", m, back)
			}
			if m.LogLikelihood < m.HomogeneousLogLikelihood-1e-9 || !(m.MeanStandardError > 0) || !(m.HeterogeneityP >= 0 && m.HeterogeneityP <= 1) {
				t.Fatalf("%+v", m)
			}
		}
		if b, err := FitBetaBinomial(units); err == nil && !(b.Population.A > 0 && b.Population.B > 0) {
			t.Fatalf("%+v", b)
		}
	}
}

// TestHierarchyOnAnyCounts: intervals hold their means, and lie in order.
func TestHierarchyOnAnyCounts(t *testing.T) {
	priors := []ScalePrior{HalfNormalScale(1), UniformScale(5), GammaPrecision(0.001, 0.001)}
	drawn := rapid.Custom(drawUnits)
	for seed := range 12 {
		units := drawn.Example(seed)
		h, err := FitHierarchicalBinomial(units, []float64{1, 10}[seed%2], priors[seed%3], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range append([]Posterior{h.NewUnit, h.Population}, h.Units...) {
			if !(p.Mean >= 0 && p.Mean <= 1 && p.StandardDeviation >= 0 && p.Interval.Low >= 0 && p.Interval.High <= 1 && p.Interval.Low <= p.Interval.High) {
				t.Fatalf("%+v of %v", p, units)
			}
		}
		if !(h.Scale.Interval.Low > 0 && h.Scale.Interval.Low <= h.Scale.Interval.High) || math.IsNaN(h.Mean.Mean) {
			t.Fatalf("%+v", h)
		}
	}
}
