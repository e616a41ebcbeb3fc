package hole

import (
	"fmt"
	"math"

	"limitans/estimate"
)

// Index is a published index of a hole, dimensionless unless its unit says
// otherwise.
type Index struct {
	Name    string            `json:"name"`
	Formula string            `json:"formula"`
	Unit    string            `json:"unit,omitempty"`
	Value   estimate.Estimate `json:"estimate"`
	Reading string            `json:"reading"` // what the literature says of it
	Source  string            `json:"source"`
}

// Lengths are the lengths the indices are made of, in µm.
type Lengths struct {
	MLDUM, BaseUM, HeightUM estimate.Estimate
	// LeftArmUM and RightArmUM run along the walls from the base to the
	// narrowest place.
	LeftArmUM, RightArmUM estimate.Estimate
}

// indexRule is one row of the table of indices.
type indexRule struct {
	name, formula, unit, reading, source string
	compute                              func(l Lengths) (value float64, relativeVariance float64)
}

// relative is the squared relative standard deviation of an estimate.
func relative(e estimate.Estimate) float64 {
	sd := (e.High - e.Low) / (2 * estimate.Z95)
	return sd * sd / (e.Value * e.Value)
}

func ratio(a, b estimate.Estimate) (value, relativeVariance float64) {
	return a.Value / b.Value, relative(a) + relative(b)
}

var indexRules = []indexRule{
	{
		"macular hole index", "height / base", "", "at least 0.5 is favourable; 0.5 also splits closure after a narrow or a wide peel",
		"Kusuhara 2004 (AJO 138:709, memory); split: J Ophthalmol 2020:1619450 (abstract)",
		func(l Lengths) (float64, float64) { return ratio(l.HeightUM, l.BaseUM) },
	},
	{
		"diameter hole index", "minimum / base", "", "no relation to acuity in its first series; as a ratio below 0.6, 55 of 61 closed, else 26 of 40 (air)",
		"Ruiz-Moreno 2008, BJO 92:640 (abstract); ratio: doi 10.21203/rs.3.rs-29158/v2 (preprint, abstract)",
		func(l Lengths) (float64, float64) { return ratio(l.MLDUM, l.BaseUM) },
	},
	{
		"tractional hole index", "height / minimum", "", "above 1.41 goes with good acuity",
		"formula from memory; cut-off Ruiz-Moreno 2008, BJO 92:640 (abstract)",
		func(l Lengths) (float64, float64) { return ratio(l.HeightUM, l.MLDUM) },
	},
	{
		"macular hole coefficient", "minimum / height", "", "below 2.0 type 1 closure likely, above 3.0 type 2 likely",
		"Rajendran, meeting abstract, 78 eyes (abstract)",
		func(l Lengths) (float64, float64) { return ratio(l.MLDUM, l.HeightUM) },
	},
	{
		"hole form factor", "(left arm + right arm) / base", "", "above 0.9 all closed, below 0.5 about two thirds closed",
		"Ullrich 2002, BJO 86:390 (memory)",
		func(l Lengths) (float64, float64) {
			arms := l.LeftArmUM.Value + l.RightArmUM.Value
			return arms / l.BaseUM.Value, relative(l.LeftArmUM)/2 + relative(l.BaseUM)
		},
	},
	{
		"section area", "height · (minimum + base) / 2", "mm²", "engineering definition of this program; no cut-off",
		"definition of this program",
		func(l Lengths) (float64, float64) {
			return l.HeightUM.Value * (l.MLDUM.Value + l.BaseUM.Value) / 2 / 1e6,
				relative(l.HeightUM) + sumRelative(l.MLDUM, l.BaseUM)
		},
	},
	{
		"cone volume", "π·height·(min² + min·base + base²) / 12", "mm³", "engineering definition of this program; the measured volume is better",
		"definition of this program",
		func(l Lengths) (float64, float64) {
			d, b := l.MLDUM.Value, l.BaseUM.Value
			volume := math.Pi * l.HeightUM.Value * (d*d + d*b + b*b) / 12 / 1e9
			return volume, relative(l.HeightUM) + 4*sumRelative(l.MLDUM, l.BaseUM)
		},
	},
}

// sumRelative is the squared relative standard deviation of a sum.
func sumRelative(a, b estimate.Estimate) float64 {
	sum := a.Value + b.Value
	return (relative(a)*a.Value*a.Value + relative(b)*b.Value*b.Value) / (sum * sum)
}

// Indices computes every published index from the lengths, with intervals by
// first-order propagation of independent errors. An index whose lengths are
// missing is missing. Formulas and cut-offs: see each index's Source.
func Indices(l Lengths) []Index {
	var out []Index
	for _, rule := range indexRules {
		i := Index{Name: rule.name, Formula: rule.formula, Unit: rule.unit, Reading: rule.reading, Source: rule.source}
		value, variance := rule.compute(l)
		if math.IsNaN(value) || math.IsInf(value, 0) {
			i.Value = estimate.Missing("not measured: a length it is made of is missing")
		} else {
			i.Value = estimate.NormalPositive(value, value*math.Sqrt(variance), fmt.Sprintf("%s; interval from those of its lengths", rule.formula))
		}
		out = append(out, i)
	}
	return append(out, Index{
		Name: "macular hole closure index", Formula: "(left + right photoreceptor arm) / base",
		Value:   estimate.Missing("not measured: the photoreceptor arms are not traced"),
		Reading: "above 1.0 type 1 closure with good bridging, below 0.7 open", Source: "Liu 2016, Graefes 254:477 (memory)",
	})
}
