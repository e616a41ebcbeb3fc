package stain_test

import (
	"math"
	"testing"

	"limitans/internal/expect"
	"limitans/stain"
)

func liquid(t *testing.T, key string) stain.Solution {
	t.Helper()
	return expect.Must[stain.Solution](t)(stain.SolutionOf(key))
}

func mgPerML(t *testing.T, v float64) stain.Strength {
	t.Helper()
	return expect.Must[stain.Strength](t)(stain.MGPerML(v))
}

// Example 14, derived: BBG 0.25 mg/mL, film of 0.1 mm, 43,000 /M/cm, 854.02
// g/mol; 1e-4 (the concentration printed to five digits: 1e-8 M).
func TestExample14BrilliantBlue(t *testing.T) {
	c := expect.Must[float64](t)(mgPerML(t, 0.25).MolPerL(854.02))
	expect.Near(t, "concentration", c, 2.9273e-4, 1e-8)
	a := expect.Must[float64](t)(stain.Absorbance(43000, c, 0.01))
	expect.Near(t, "absorbance", a, 0.12588, 1e-4)
	expect.Near(t, "transmittance", expect.Must[float64](t)(stain.Transmittance(a)), 0.7484, 1e-4)
}

// Example 15, derived: TB 1.5 mg/mL, 0.1 mm, 60,000 /M/cm, 960.8 g/mol; 1e-3. The
// peak was published for the free acid in methanol, 872.88 g/mol: the salt is
// what is weighed.
func TestExample15TrypanBlue(t *testing.T) {
	c := expect.Must[float64](t)(mgPerML(t, 1.5).MolPerL(960.8))
	expect.Near(t, "concentration", c, 1.5612e-3, 1e-7)
	a := expect.Must[float64](t)(stain.Absorbance(60000, c, 0.01))
	expect.Near(t, "absorbance", a, 0.9367, 1e-3)
	expect.Near(t, "transmittance", expect.Must[float64](t)(stain.Transmittance(a)), 0.1157, 1e-3)
}

// Example 16, Beer-Lambert: two filters, absorbances add; 1e-5.
func TestExample16TwoFilters(t *testing.T) {
	both := expect.Must[float64](t)(stain.Transmittance(0.3, 0.2))
	expect.Near(t, "both", both, 0.31623, 1e-5)
	one, other := expect.Must[float64](t)(stain.Transmittance(0.3)), expect.Must[float64](t)(stain.Transmittance(0.2))
	expect.Near(t, "product", one*other, both, 1e-12)
}

// Example 17, limits of Graefes 2010 (abstract): 0.4 mL BBG with glucose 40 %;
// 1e-3. Section 1.2 gives 523 mOsm for the first.
func TestExample17Glucose(t *testing.T) {
	for _, row := range []struct {
		glucoseML, percent, mg float64
		verdict                stain.Verdict
	}{{0.05, 4.444, 0.2222, stain.Good}, {0.10, 8.000, 0.2000, stain.Caution}, {0.15, 10.909, 0.1818, stain.Halt}} {
		in := stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: "BBG", Strength: "0.25 mg/mL"})
		in.StockML, in.Parts = 0.4, []stain.Part{{Solution: liquid(t, "glucose40"), ML: row.glucoseML}}
		s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
		expect.Near(t, "glucose", s.GlucosePercent.Value, row.percent, 1e-3)
		expect.Near(t, "dye", s.Dyes[0].MGPerML.Value, row.mg, 1e-3)
		if s.Glucose != row.verdict || s.Accepted() != (row.verdict != stain.Halt) {
			t.Errorf("%g mL: %s, %v", row.glucoseML, s.Glucose, s.Stops)
		}
		if row.glucoseML == 0.05 {
			expect.Near(t, "osmolarity", s.MOsmPerL.Value, 523, 0.5)
		}
		if s.Osmolarity != stain.Caution || s.Verdict == stain.Good {
			t.Errorf("%g mL: osmolarity %s, all %s", row.glucoseML, s.Osmolarity, s.Verdict)
		}
	}
}

// Example 18, derived: heavy TB, 1:1 with glucose 10 %; 0.5 mOsm.
func TestExample18HeavyTrypanBlue(t *testing.T) {
	in := stain.NewInput(liquid(t, "tb-label"), stain.Written{Name: "trypan blue", Strength: "0.15 %"})
	in.StockML, in.Parts = 0.5, []stain.Part{{Solution: liquid(t, "glucose10"), ML: 0.5}}
	s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
	expect.Near(t, "dye", s.Dyes[0].Percent.Value, 0.075, 1e-12)
	expect.Near(t, "glucose", s.GlucosePercent.Value, 5, 1e-12)
	expect.Near(t, "osmolarity", s.MOsmPerL.Value, 439.7, 0.5)
	if !s.Accepted() || s.Glucose != stain.Good || s.Osmolarity != stain.Caution || !hasWarning(s, "hyperosmotic") {
		t.Errorf("%+v", s)
	}
}

// Example 19, derived: ICG 5 mg/mL in water, 1:9 and 1:1 in balanced salt
// solution of 305 mOsm; 0.5 mOsm.
func TestExample19Indocyanine(t *testing.T) {
	for _, row := range []struct{ diluent, mg, mOsm float64 }{{9, 0.5, 275.8}, {1, 2.5, 159.0}} {
		in := stain.NewInput(liquid(t, "water"), stain.Written{Name: "icg", Strength: "5 mg/mL"})
		in.StockML, in.Parts = 1, []stain.Part{{Solution: liquid(t, "bss"), ML: row.diluent}}
		s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
		expect.Near(t, "dye", s.Dyes[0].MGPerML.Value, row.mg, 1e-12)
		expect.Near(t, "osmolarity", s.MOsmPerL.Value, row.mOsm, 0.5)
		if pass := row.diluent == 9; s.Accepted() != pass || hasStop(s, stain.StopTooThin) == pass {
			t.Errorf("1:%g: %+v", row.diluent, s.Stops)
		}
	}
	// The same asked for by its target.
	in := stain.NewInput(liquid(t, "water"), stain.Written{Name: "icg", Strength: "25 mg in 5 mL"})
	in.Target, in.Diluent, in.TotalML = "0.05 %", liquid(t, "bss"), 10
	s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
	expect.Near(t, "stock", s.StockML, 1, 1e-12)
	expect.Near(t, "diluent", s.Parts[0].ML, 9, 1e-12)
}

// Example 20, Brockmann 2012 (abstract): 5 % in 20 min, exponential; 1e-4 (half
// life printed to 0.1 min).
func TestExample20Photolysis(t *testing.T) {
	k := stain.IndocyanineBleachingPerMinute()
	expect.Near(t, "k", k, 0.0025647, 1e-6)
	expect.Near(t, "half life", math.Ln2/k, 270.3, 0.05)
	expect.Near(t, "60 min", expect.Must[float64](t)(stain.IndocyanineLeft(60)), 0.8574, 1e-4)
	expect.Near(t, "20 min", expect.Must[float64](t)(stain.IndocyanineLeft(20)), 0.95, 1e-12)
}

// Section 1.2, derived: ideal osmolarities; printed whole, glucose to 0.1, so
// within half a unit of the last digit and one for sums of several salts.
func TestIdealOsmolarities(t *testing.T) {
	for key, want := range map[string]float64{"bbg-label": 310, "glucose5": 277.5, "glucose10": 555, "glucose40": 2220, "bss": 305, "water": 0} {
		expect.Near(t, key, liquid(t, key).MOsmPerL.Value, want, 0.6)
	}
	tb := expect.Must[float64](t)(stain.IdealOsmolarity(stain.Solute{GPerL: 1.5, MolarMassGPerMol: 960.8, Particles: 5}))
	expect.Near(t, "tb with its dye", liquid(t, "tb-label").MOsmPerL.Value+tb, 324, 0.6)
	// BBG 2:1 with 10 % dextrose-saline: 495.
	in := stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: "bbg", Strength: "0.025 %"})
	in.StockML, in.Parts = 2, []stain.Part{{Solution: liquid(t, "dextrose-saline"), ML: 1}}
	s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
	expect.Near(t, "2:1 with dextrose-saline", s.MOsmPerL.Value, 495, 0.6)
	if !s.Accepted() || s.Verdict != stain.Caution {
		t.Errorf("%+v", s)
	}
}

func hasStop(s stain.Sheet, code stain.StopCode) bool {
	for _, stop := range s.Stops {
		if stop.Code == code {
			return true
		}
	}
	return false
}

func hasWarning(s stain.Sheet, code string) bool {
	for _, w := range s.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}
