package stain

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fault"
)

// Solute is a dissolved substance: grams per litre, molar mass in g/mol and the
// particles that one formula unit gives.
type Solute struct {
	GPerL, MolarMassGPerMol, Particles float64
}

// IdealOsmolarity is 1000·Σ n·g/M in mOsm/L. Real solutions of salt reach about
// 0.93 of it (from memory).
func IdealOsmolarity(solutes ...Solute) (float64, error) {
	sum := 0.0
	for _, s := range solutes {
		if !(s.GPerL >= 0 && s.GPerL <= 1000 && s.MolarMassGPerMol >= 1 && s.MolarMassGPerMol <= 1e6 && s.Particles >= 0 && s.Particles <= 20) {
			return math.NaN(), &fault.Error{
				Code: fault.Invalid, Where: "solute", What: fmt.Sprintf("%g g/L of %g g/mol in %g particles cannot be", s.GPerL, s.MolarMassGPerMol, s.Particles),
				Expected: "0 to 1000 g/L, 1 to 1e6 g/mol, 0 to 20 particles",
			}
		}
		sum += 1000 * s.Particles * s.GPerL / s.MolarMassGPerMol
	}
	return sum, nil
}

// Molar masses, g/mol (sums of standard atomic weights).
const (
	sodiumChloride         = 58.44
	disodiumPhosphate12    = 358.14 // Na2HPO4·12H2O
	disodiumPhosphate2     = 177.99 // Na2HPO4·2H2O
	monosodiumPhosphate2   = 156.01 // NaH2PO4·2H2O
	glucoseMolarMass       = 180.16
	realShareOfIdeal       = 0.93
	salineGPerL            = 9
	glucoseErrorShare      = 0.02 // a glucose bag's own tolerance; ours
	saltSolutionMOsm       = 305  // balanced salt solution, as the worked example has it
	saltSolutionSpreadMOsm = 5    // labels say 300 to 310 (from memory)
)

// Solution is a liquid that a dye is dissolved in or mixed with.
type Solution struct {
	Key, Name      string
	MOsmPerL       estimate.Estimate // without the dye; missing where nothing is known
	GlucosePercent float64
}

// Solutions are the liquids known here, by key: bss, saline, glucose5, glucose10,
// glucose40, dextrose-saline (10 % in 0.9 % salt), water; and as vehicles
// bbg-label and tb-label, what the dye's label lists without the dye and without
// polyethylene glycol.
func Solutions() []Solution {
	salts := func(key, name string, glucosePercent float64, solutes ...Solute) Solution {
		ideal := 0.0
		for _, s := range solutes {
			ideal += 1000 * s.Particles * s.GPerL / s.MolarMassGPerMol
		}
		basis := name + ": ideal osmolarity of what is dissolved, within 2 % (ours)"
		if ideal > 0 {
			basis = name + ": ideal osmolarity of what is dissolved; salts down to 0.93 of it (from memory)"
		}
		sugar := 1000 * glucosePercent * mgPerMLPerPercent / glucoseMolarMass
		return Solution{key, name, estimate.Estimate{
			Value: ideal + sugar, Low: realShareOfIdeal*ideal + (1-glucoseErrorShare)*sugar, High: ideal + (1+glucoseErrorShare)*sugar,
			Basis: basis,
		}, glucosePercent}
	}
	salt := Solute{salineGPerL, sodiumChloride, 2}
	return []Solution{
		{"bss", "balanced salt solution", estimate.Estimate{
			Value: saltSolutionMOsm, Low: saltSolutionMOsm - saltSolutionSpreadMOsm, High: saltSolutionMOsm + saltSolutionSpreadMOsm, Basis: "balanced salt solution: 300 to 310 mOsm/L (from memory)",
		}, 0},
		salts("saline", "salt solution 0.9 %", 0, salt),
		salts("glucose5", "glucose 5 %", 5),
		salts("glucose10", "glucose 10 %", 10),
		salts("glucose40", "glucose 40 %", 40),
		salts("dextrose-saline", "glucose 10 % in salt solution 0.9 %", 10, salt),
		{"water", "water", estimate.Estimate{Basis: "water has no osmolarity"}, 0},
		salts("bbg-label", "vehicle of brilliant blue G by its label", 0, Solute{8.2, sodiumChloride, 2}, Solute{3.1, disodiumPhosphate12, 3}, Solute{0.3, monosodiumPhosphate2, 2}),
		salts("tb-label", "vehicle of trypan blue by its label", 0, Solute{8.2, sodiumChloride, 2}, Solute{1.9, disodiumPhosphate2, 3}, Solute{0.3, monosodiumPhosphate2, 2}),
		{"unknown", "a vehicle that is not told", estimate.Missing("the vehicle of the dye is not told"), 0},
	}
}

// SolutionOf finds a liquid by its key.
func SolutionOf(key string) (Solution, error) {
	var keys []string
	for _, s := range Solutions() {
		if s.Key == strings.ToLower(strings.TrimSpace(key)) {
			return s, nil
		}
		keys = append(keys, s.Key)
	}
	return Solution{}, &fault.Error{Code: fault.Invalid, Where: "liquid", What: fmt.Sprintf("%.40q is none that is known", key), Expected: strings.Join(keys, ", ")}
}

// Part is a volume of a liquid in a mixture.
type Part struct {
	Solution Solution
	ML       float64
}

// Mixture is what mixing by volume makes.
type Mixture struct {
	TotalML        float64
	DyeShare       estimate.Estimate // of the dye's strength that is left, 0 to 1
	GlucosePercent estimate.Estimate
	MOsmPerL       estimate.Estimate
}

// volumeErrorShare is how well each volume is measured: 5 % (ours; a syringe may
// be wrong by 4 to 5 % under ISO 7886-1, from memory).
const volumeErrorShare = 0.05

const (
	leastML = 0.01
	mostML  = 100
)

// Mix adds parts to a stock of dye. dyeMOsm is what the dye itself adds to the
// stock's osmolarity. Volumes are 0.01 to 100 mL each, at most ten parts.
func Mix(stock Part, dyeMOsm float64, parts []Part) (Mixture, error) {
	all := append([]Part{stock}, parts...)
	if len(all) > 11 {
		return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "mixture", What: fmt.Sprintf("%d liquids", len(all)), Expected: "at most 11"}
	}
	for i, p := range all {
		if !(p.ML >= leastML && p.ML <= mostML) {
			return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "volume of " + p.Solution.Name, What: fmt.Sprintf("%g mL cannot be measured", p.ML), Expected: fmt.Sprintf("%g to %d mL", leastML, mostML)}
		}
		if i > 0 && strings.HasSuffix(p.Solution.Key, "-label") {
			return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "mixture", What: p.Solution.Name + " is no liquid to add"}
		}
	}
	if !(dyeMOsm >= 0 && dyeMOsm <= 1e4) {
		return Mixture{}, &fault.Error{Code: fault.Invalid, Where: "osmolarity of the dye", What: fmt.Sprintf("%g mOsm/L cannot be", dyeMOsm)}
	}
	m := Mixture{}
	for _, p := range all {
		m.TotalML += p.ML
	}
	unmixed := len(parts) == 0
	basis := "mixed by volume, each volume within 5 % (ours)"
	if unmixed {
		basis = "not mixed: as it stands in the bottle"
	}
	m.DyeShare = overVolumes(all, unmixed, basis, func(i int) estimate.Estimate { return sure(boolTo(i == 0)) })
	m.GlucosePercent = overVolumes(all, unmixed, basis, func(i int) estimate.Estimate { return sure(all[i].Solution.GlucosePercent) })
	m.MOsmPerL = overVolumes(all, unmixed, basis, func(i int) estimate.Estimate {
		e := all[i].Solution.MOsmPerL
		if i == 0 {
			e.Value, e.Low, e.High = e.Value+dyeMOsm, e.Low+dyeMOsm, e.High+dyeMOsm
		}
		return e
	})
	return m, nil
}

func sure(v float64) estimate.Estimate { return estimate.Estimate{Value: v, Low: v, High: v} }

func boolTo(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// overVolumes is Σ V·q / Σ V with an interval from moving one volume or one
// quantity at a time to its ends, combined in quadrature.
func overVolumes(parts []Part, unmixed bool, basis string, of func(int) estimate.Estimate) estimate.Estimate {
	n := len(parts)
	volumes, quantities := make([]float64, n), make([]float64, n)
	var words []string
	for i, p := range parts {
		q := of(i)
		if !q.Known() {
			return estimate.Missing(q.Basis)
		}
		volumes[i], quantities[i] = p.ML, q.Value
		if q.Basis != "" {
			words = append(words, q.Basis)
		}
	}
	mean := func() float64 {
		top, bottom := 0.0, 0.0
		for i := range volumes {
			top, bottom = top+volumes[i]*quantities[i], bottom+volumes[i]
		}
		return top / bottom
	}
	value, up, down := mean(), 0.0, 0.0
	move := func(place *float64, ends ...float64) {
		kept, most, least := *place, 0.0, 0.0
		for _, end := range ends {
			*place = end
			most, least = math.Max(most, mean()-value), math.Max(least, value-mean())
		}
		*place = kept
		up, down = math.Hypot(up, most), math.Hypot(down, least)
	}
	for i := range parts {
		q := of(i)
		move(&quantities[i], q.Low, q.High)
		if !unmixed {
			move(&volumes[i], volumes[i]*(1-volumeErrorShare), volumes[i]*(1+volumeErrorShare))
		}
	}
	return estimate.Estimate{Value: value, Low: math.Max(0, value-down), High: value + up, Basis: strings.Join(append([]string{basis}, words...), "; ")}
}

// Dilute returns the volumes of stock and of diluent for a total in mL (0.1 to
// 100): V·target/stock and the rest. The target must be weaker than the stock.
func Dilute(stock, target Strength, totalML float64) (stockML, diluentML float64, err error) {
	if !(totalML >= 0.1 && totalML <= mostML) {
		return math.NaN(), math.NaN(), &fault.Error{Code: fault.Invalid, Where: "total", What: fmt.Sprintf("%g mL cannot be", totalML), Expected: "0.1 to 100 mL"}
	}
	if !(stock.mgPerML > 0 && target.mgPerML > 0 && target.mgPerML < stock.mgPerML) {
		return math.NaN(), math.NaN(), &fault.Error{Code: fault.Invalid, Where: "target", What: fmt.Sprintf("%s is not weaker than the stock of %s", target, stock)}
	}
	stockML = cleanProduct(totalML, target.mgPerML/stock.mgPerML)
	return stockML, cleanProduct(totalML-stockML, 1), nil
}
