package hole_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/oct/hole"
)

// Limits are inclusive upwards: a scheme's classes tile the positive lengths
// without gap, in order. Names and limits: International Vitreomacular Traction
// Study group (Duker 2013, doi 10.1016/j.ophtha.2013.07.042: small ≤ 250 < medium
// ≤ 400 < large) and CLOSE study group (Rezende 2023, doi
// 10.1186/s40942-022-00439-4; names from memory: large 400 to 550, X-large to
// 800, XX-large to 1000, giant above).
func TestSchemes(t *testing.T) {
	type limit struct {
		name string
		upTo float64
	}
	want := map[string][]limit{
		"IVTS 2013":  {{"small", 250}, {"medium", 400}, {"large", math.Inf(1)}},
		"CLOSE 2023": {{"not large", 400}, {"large", 550}, {"X-large", 800}, {"XX-large", 1000}, {"giant", math.Inf(1)}},
	}
	if len(hole.Schemes) != len(want) {
		t.Fatalf("%d schemes", len(hole.Schemes))
	}
	for _, scheme := range hole.Schemes {
		limits := want[scheme.Name]
		if len(limits) != len(scheme.Classes) || scheme.Source == "" {
			t.Fatalf("%+v", scheme)
		}
		above := 0.0
		for i, class := range scheme.Classes {
			if class.Name != limits[i].name || class.UpToUM != limits[i].upTo || class.AboveUM != above {
				t.Errorf("%s: %+v, want %s above %g up to %g", scheme.Name, class, limits[i].name, above, limits[i].upTo)
			}
			above = class.UpToUM
		}
	}
}

// inScheme returns the class of a diameter under one scheme.
func inScheme(t testing.TB, e estimate.Estimate, name string) hole.SizeClass {
	t.Helper()
	for _, c := range hole.Classify(e, "mld_um") {
		if c.Scheme == name {
			return c
		}
	}
	t.Fatalf("no class under %s", name)
	return hole.SizeClass{}
}

// The most probable class of a precise figure is the published one. On a limit
// the two classes are equally probable and the limit belongs to the lower one.
func TestClassifyLimits(t *testing.T) {
	for _, row := range []struct {
		um               float64
		vitreomacular    string
		close            string
		nearVitreo, near bool
	}{
		{100, "small", "not large", false, false},
		{218.9, "small", "not large", false, false},
		{219, "small", "not large", true, false},
		{240, "small", "not large", true, false},
		{250, "small", "not large", true, false},
		{260, "medium", "not large", true, false},
		{281, "medium", "not large", true, false},
		{281.1, "medium", "not large", false, false},
		{325, "medium", "not large", false, false},
		{369, "medium", "not large", true, true},
		{400, "medium", "not large", true, true},
		{410, "large", "large", true, true},
		{431.1, "large", "large", false, false},
		{475, "large", "large", false, false},
		{540, "large", "large", false, true},
		{550, "large", "large", false, true},
		{560, "large", "X-large", false, true},
		{700, "large", "X-large", false, false},
		{800, "large", "X-large", false, true},
		{900, "large", "XX-large", false, false},
		{1000, "large", "XX-large", false, true},
		{1200, "large", "giant", false, false},
	} {
		e := exact(row.um)
		v, c := inScheme(t, e, "IVTS 2013"), inScheme(t, e, "CLOSE 2023")
		if v.Class != row.vitreomacular || c.Class != row.close {
			t.Errorf("%g µm is %q and %q, want %q and %q", row.um, v.Class, c.Class, row.vitreomacular, row.close)
		}
		if v.Borderline != row.nearVitreo || c.Borderline != row.near {
			t.Errorf("%g µm: borderline %v and %v, want %v and %v (within 31 µm of a limit)", row.um, v.Borderline, c.Borderline, row.nearVitreo, row.near)
		}
	}
}

// 31 µm is the 95 % repeatability of one reading (Baumann et al. 2021), so a
// reading has a standard deviation of 31/(1.96·√2) = 11.18 µm: 11.18 µm below a
// limit, an exact figure has Φ(1) = 0.8413 of being below it.
func TestClassifyReadingError(t *testing.T) {
	if hole.RealChangeUM != 31 {
		t.Errorf("%g", hole.RealChangeUM)
	}
	c := inScheme(t, exact(250-31/(estimate.Z95*math.Sqrt2)), "IVTS 2013")
	if math.Abs(c.Probabilities[0].Probability-0.841344746) > 1e-8 {
		t.Errorf("%+v, want 0.8413 small", c)
	}
}

// Second route to every probability: the density of the figure, normal with the
// interval's and the reading's error and cut at 0, integrated over the class by
// the midpoint rule (4000 intervals; its error is below 1e-5).
func TestClassifyByIntegration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(30, 1300).Draw(t, "value")
		sd := rapid.Float64Range(0, 60).Draw(t, "sd")
		total := math.Hypot(sd, 31/(1.959963984540054*math.Sqrt2))
		integral := func(from, to float64) float64 {
			from, to = max(from, value-9*total), min(to, value+9*total)
			if from >= to {
				return 0
			}
			const n = 4000
			sum := 0.0
			for i := range n {
				z := (from + (float64(i)+0.5)*(to-from)/n - value) / total
				sum += math.Exp(-z * z / 2)
			}
			return sum * (to - from) / n
		}
		all := integral(0, math.Inf(1))
		for i, c := range hole.Classify(estimate.Normal(value, sd, "b"), "figure") {
			scheme := hole.Schemes[i]
			sum, best := 0.0, 0.0
			for k, p := range c.Probabilities {
				class := scheme.Classes[k]
				want := integral(class.AboveUM, class.UpToUM) / all
				if math.Abs(p.Probability-want) > 1e-4 || p.Class != class.Name {
					t.Fatalf("%g ± %g, %s %s: %g, by integration %g", value, sd, scheme.Name, class.Name, p.Probability, want)
				}
				sum += p.Probability
				best = max(best, p.Probability)
			}
			if math.Abs(sum-1) > 1e-12 || c.Probability != best || c.Figure != "figure" || c.Source != scheme.Source {
				t.Fatalf("%g ± %g: %+v sums to %g", value, sd, c, sum)
			}
		}
	})
}

func TestClassifyMissing(t *testing.T) {
	if got := hole.Classify(estimate.Missing("cut"), "mld_um"); got != nil {
		t.Errorf("a missing figure has classes: %+v", got)
	}
	all := hole.ClassifyAll(exact(300), estimate.Missing("cut"), exact(450))
	figures := map[string]int{}
	for _, c := range all {
		figures[c.Figure]++
	}
	if len(all) != 4 || figures["mld_visible_um"] != 2 || figures["min_section.large_um"] != 2 || all[0].Figure != "mld_visible_um" {
		t.Errorf("%+v", figures)
	}
}
