package stain

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/table"
)

// Absorption is one published peak of a dye; unknown figures are NaN.
type Absorption struct {
	Dye, Class, State     string
	PeakNM                float64
	MolarAbsorptivity     float64 // L/(mol·cm), at AtNM
	AtNM                  float64
	MolarMassGPerMol      float64
	Colour                string
	HowKnown, SourceNotes string
}

// Absorptions returns the published peaks. Indocyanine green does not follow
// Beer-Lambert over concentrations, because it aggregates.
func Absorptions() ([]Absorption, error) {
	rows, err := table.Rows(tableName, absorptionCSV, 10)
	if err != nil {
		return nil, err
	}
	out := make([]Absorption, len(rows))
	for i, r := range rows {
		n, err := table.Numbers(tableName, r[3:7])
		if err != nil {
			return nil, err
		}
		out[i] = Absorption{r[0], r[1], r[2], n[0], n[1], n[2], n[3], r[7], r[8], r[9]}
	}
	return out, nil
}

// MolPerL is the molar concentration of a strength, with the molar mass in g/mol
// (50 to 5000) of what is weighed.
func (s Strength) MolPerL(molarMassGPerMol float64) (float64, error) {
	if !(molarMassGPerMol >= 50 && molarMassGPerMol <= 5000) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "molar mass", What: fmt.Sprintf("%g g/mol is no dye's", molarMassGPerMol), Expected: "50 to 5000 g/mol"}
	}
	return s.mgPerML / molarMassGPerMol, nil
}

// Absorbance is ε·c·l (decadic) for a molar absorptivity in L/(mol·cm), a
// concentration in mol/L and a path in cm, none negative.
func Absorbance(molarAbsorptivity, molPerL, pathCM float64) (float64, error) {
	a := molarAbsorptivity * molPerL * pathCM
	if !(molarAbsorptivity >= 0 && molPerL >= 0 && pathCM >= 0) || math.IsInf(a, 0) || math.IsNaN(a) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "absorbance", What: fmt.Sprintf("%g L/(mol·cm), %g mol/L, %g cm cannot be", molarAbsorptivity, molPerL, pathCM), Expected: "numbers that are not negative"}
	}
	return a, nil
}

// Transmittance is 10^(−ΣA) of layers one behind the other: absorbances add,
// transmittances multiply.
func Transmittance(absorbances ...float64) (float64, error) {
	sum := 0.0
	for _, a := range absorbances {
		if !(a >= 0) {
			return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "absorbance", What: fmt.Sprintf("%g cannot be", a), Expected: "0 or more"}
		}
		sum += a
	}
	return math.Pow(10, -sum), nil
}

// Bleaching of indocyanine green by light of 366 nm at 14 µW/cm²: 5 % in 20
// minutes (Brockmann 2012, Ophthalmologica 228:234, doi 10.1159/000341605,
// abstract); brilliant blue G and trypan blue did not bleach.
const (
	bleachedShare   = 0.05
	bleachedMinutes = 20.0
)

// IndocyanineBleachingPerMinute is k = −ln(0.95)/20 min of that exponential.
func IndocyanineBleachingPerMinute() float64 { return -math.Log(1-bleachedShare) / bleachedMinutes }

// IndocyanineLeft is the share left after minutes (0 to 10,000) of that light,
// exp(−k·t).
func IndocyanineLeft(minutes float64) (float64, error) {
	if !(minutes >= 0 && minutes <= 1e4) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "time", What: fmt.Sprintf("%g min cannot be", minutes), Expected: "0 to 10,000 min"}
	}
	return math.Exp(-IndocyanineBleachingPerMinute() * minutes), nil
}
