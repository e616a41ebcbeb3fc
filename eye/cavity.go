package eye

import (
	"fmt"
	"math"

	"limitans/estimate"
)

// The band of the cavity's volume, as shares of the volume.
const (
	// cavityScatterSD is how far eyes of one length differ. De Santana's cubic
	// leaves √(1 − R²) = 0.23 of the spread of 144 volumes; that spread is not
	// printed and is taken from their range, 3.1 to 11.3 mL, as range / 5.3 =
	// 1.55 mL (the expected range of 144 normal values is 5.3 standard
	// deviations), so 0.35 mL round a median of 6.1 mL (derived).
	cavityScatterSD = 0.058
	// cavityMethodSD is how far the published rules stand apart: the root mean
	// square of the deviations of the other rules from the cubic at 22, 24,
	// 25 mm (linear), 22, 23, 24 mm (emmetropic), 26, 28, 30, 32 mm (pathologic
	// myopia) and of the second imaging series at 28.68 mm (derived).
	cavityMethodSD = 0.095
	// cavityBeyondSD is added for every millimetre outside the lengths that the
	// cubic was fitted to. Ours; no source.
	cavityBeyondSD = 0.03
)

// The axial lengths of the eyes behind the default rule.
const (
	cavityFittedMinMM = 20.0
	cavityFittedMaxMM = 32.0
)

// CavityRule is one published equation for the volume of the vitreous cavity.
type CavityRule struct {
	Name     string
	Equation string // V in mL, L the axial length in mm
	MinMM    float64
	MaxMM    float64 // the lengths it was fitted to
	Source   string
	HowKnown string
	// coefficients of 1, L, L², L³, in mL
	polynomial [4]float64
}

func (r CavityRule) volumeML(axialLengthMM float64) float64 {
	v := 0.0
	for i := len(r.polynomial) - 1; i >= 0; i-- {
		v = v*axialLengthMM + r.polynomial[i]
	}
	return v
}

// cavityRules has the default first. The surgical cubic is the default because
// it was measured as what a fill needs, the fluid that an emptied eye took,
// because it is one curve for short and long eyes, and because its fit is the
// tightest. The two lines from magnetic resonance images stand 1.5 mL apart at
// one length, so they are never joined.
var cavityRules = []CavityRule{
	{
		Name: "surgical, cubic", Equation: "0.000589053·L³ − 0.0251149·L² + 0.685961·L − 5.088227", MinMM: cavityFittedMinMM, MaxMM: cavityFittedMaxMM,
		Source:     "de Santana et al., Arq Bras Oftalmol (year not seen): 144 eyes, fluid infused after fluid-air exchange, R² 0.948",
		HowKnown:   "abstract",
		polynomial: [4]float64{-5.08822667262079, 0.685961117595624, -0.0251149264015827, 0.000589052857847605},
	},
	{
		Name: "surgical, linear", Equation: "0.71·L − 11.84", MinMM: 21.55, MaxMM: 25.26,
		Source:     "Cordeiro et al., Brazilian ophthalmology congress 2021: 112 pseudophakic eyes, mean 4.96 ± 0.69 mL at 23.78 mm, R² 0.902",
		HowKnown:   "abstract",
		polynomial: [4]float64{-11.84, 0.71},
	},
	{
		Name: "magnetic resonance, emmetropic", Equation: "0.45835·L − 6.33114", MinMM: 21.5, MaxMM: 24.7,
		Source:     "Zhou et al., Medicine 2020;99:e22685, doi 10.1097/MD.0000000000022685: 280 eyes of 23.1 ± 0.8 mm, R² 0.36; range taken as mean ± 2 standard deviations",
		HowKnown:   "abstract",
		polynomial: [4]float64{-6.33114, 0.45835},
	},
	{
		Name: "magnetic resonance, pathologic myopia", Equation: "0.54627·L − 6.97712", MinMM: 23.9, MaxMM: 32.7,
		Source:     "Zhou et al., Medicine 2020;99:e22685, doi 10.1097/MD.0000000000022685: 290 eyes of 28.3 ± 2.2 mm; range taken as mean ± 2 standard deviations",
		HowKnown:   "abstract",
		polynomial: [4]float64{-6.97712, 0.54627},
	},
}

// CavityVolumeML returns the volume of the vitreous cavity after complete
// vitrectomy, in millilitres,
//
//	V = 0.000589053·L³ − 0.0251149·L² + 0.685961·L − 5.088227,
//
// for the axial length L in millimetres between [MinAxialLengthMM] and
// [MaxAxialLengthMM] (de Santana et al., Arq Bras Oftalmol, abstract). The 95 %
// interval holds the scatter of eyes of one length and the disagreement of the
// published rules, together ± 22 %; outside 20 to 32 mm the value is an
// extrapolation, the interval grows by the millimetre and the basis says so.
// Lens status made no significant difference (5.9 mL phakic, 6.25 mL
// pseudophakic, p 0.53; same source).
func CavityVolumeML(axialLengthMM float64) (estimate.Estimate, error) {
	if err := CheckAxialLengthMM(axialLengthMM); err != nil {
		return estimate.Estimate{}, err
	}
	v := cavityRules[0].volumeML(axialLengthMM)
	beyond := max(0, cavityFittedMinMM-axialLengthMM, axialLengthMM-cavityFittedMaxMM)
	basis := "fluid infused after fluid-air exchange against axial length, 144 eyes of 20 to 32 mm; interval from the scatter of eyes and the disagreement of four published rules"
	if beyond > 0 {
		basis += fmt.Sprintf("; extrapolated by %.3g mm beyond those eyes, interval widened without a source", beyond)
	}
	sd := math.Hypot(cavityScatterSD, cavityMethodSD) + cavityBeyondSD*beyond
	return estimate.NormalPositive(v, v*sd, basis), nil
}

// CavityAlternative is what one published rule gives for an axial length.
type CavityAlternative struct {
	CavityRule
	VolumeML float64
	// Inside says that the length lies among those the rule was fitted to.
	Inside bool
}

// CavityAlternatives returns what every published rule gives for an axial
// length between [MinAxialLengthMM] and [MaxAxialLengthMM], the default of
// [CavityVolumeML] first. A line that turns negative far outside its eyes is
// returned with VolumeML NaN, never as a volume.
func CavityAlternatives(axialLengthMM float64) ([]CavityAlternative, error) {
	if err := CheckAxialLengthMM(axialLengthMM); err != nil {
		return nil, err
	}
	all := make([]CavityAlternative, len(cavityRules))
	for i, r := range cavityRules {
		v := r.volumeML(axialLengthMM)
		if v <= 0 {
			v = math.NaN()
		}
		all[i] = CavityAlternative{r, v, axialLengthMM >= r.MinMM && axialLengthMM <= r.MaxMM}
	}
	return all, nil
}
