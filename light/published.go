package light

import (
	_ "embed" // tables of limits and published times
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/table"
)

// tableName is what errors call the tables of this package.
const tableName = "table of published figures"

//go:embed data/exposure.csv
var exposureCSV string

//go:embed data/limits.csv
var limitsCSV string

// vanDenBiesenFilterNM is the edge of the long-pass filter of the published
// minutes.
const vanDenBiesenFilterNM = 475

// PublishedExposure is one lamp of van den Biesen et al., Br J Ophthalmol
// 2000;84:1372-1375 (table 2 in full, heads of columns inferred): minutes behind
// a 475 nm long-pass filter, fibre of 300 µm, full angle of 20°, to the ICNIRP
// limit. On the other basis the minutes would be 10/2.2 times as many.
type PublishedExposure struct {
	Source string // the lamp
	Filter string // of the device, before the long-pass
	// PowerMW is the full output at the probe without the long-pass, rounded down.
	PowerMW float64
	// Minutes to 2.2 J/cm² at 10 mW and 5 mm, 5 mW and 5 mm, 10 mW and 10 mm.
	At10MW5MM, At5MW5MM, At10MW10MM float64
}

// PublishedExposures returns the ten published combinations.
func PublishedExposures() ([]PublishedExposure, error) {
	rows, err := table.Rows(tableName, exposureCSV, 6)
	if err != nil {
		return nil, err
	}
	out := make([]PublishedExposure, len(rows))
	for i, r := range rows {
		n, err := table.Full(tableName, r[2:])
		if err != nil {
			return nil, err
		}
		out[i] = PublishedExposure{r[0], r[1], n[0], n[1], n[2], n[3]}
	}
	return out, nil
}

// ImpliedMeanWeight is the mean aphakic weight behind the filter that the minutes
// at 10 mW and 10 mm imply: 2.2 J/cm² = E·Ā·t with E of the cone (derived).
func (p PublishedExposure) ImpliedMeanWeight() (float64, error) {
	if !(p.At10MW10MM > 0) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "published time", What: fmt.Sprintf("%g min is none", p.At10MW10MM)}
	}
	r := vanDenBiesenProbe().discRadiusMM(10)
	mWPerCM2 := 10 / (math.Pi * r * r) * squareMMPerSquareCM
	return icnirpJPerCM2 / (mWPerCM2 / 1000 * p.At10MW10MM * 60), nil
}

// Limit is one published limit. Limit is text, because one is a formula.
type Limit struct {
	ID, Quantity, Weighting, RangeNM, Limit, Unit, Condition, HowKnown string
}

// Limits returns the published limits as read or remembered; see [Limit.HowKnown].
func Limits() ([]Limit, error) {
	rows, err := table.Rows(tableName, limitsCSV, 8)
	if err != nil {
		return nil, err
	}
	out := make([]Limit, len(rows))
	for i, r := range rows {
		out[i] = Limit{r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7]}
	}
	return out, nil
}

// Figures of ISO 15004-2:2007 (secondary, from memory where said).
const (
	groupOneUWPerCM2 = 220 // A-weighted, up to 2 h (secondary)
	groupOneHours    = 2
	// probeReduction: operation microscopes and probes get half (secondary).
	probeReduction       = 2
	groupTwoThermal      = 1.2 // W/cm² times mm (from memory)
	groupTwoSmallestMM   = 0.03
	groupTwoLargestMM    = 1.7
	longestGroupOneHours = 24
)

// GroupOneUWPerCM2 is the limit of Group 1 of ISO 15004-2:2007 for A-weighted
// retinal irradiance in µW/cm², for an exposure of hours (above 0, up to 24):
// 220 up to 2 h, beyond that divided by hours/2; half for probes and operation
// microscopes (secondary). A probe in the eye exceeds it in any use; it marks
// light that needs no statement of time.
func GroupOneUWPerCM2(hours float64, probe bool) (float64, error) {
	if !(hours > 0 && hours <= longestGroupOneHours) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "exposure", What: fmt.Sprintf("%g h cannot be", hours), Expected: "above 0, up to 24 h"}
	}
	limit := float64(groupOneUWPerCM2)
	if hours > groupOneHours {
		limit /= hours / groupOneHours
	}
	if probe {
		limit /= probeReduction
	}
	return limit, nil
}

// GroupTwoThermalWPerCM2 is the limit of Group 2 of ISO 15004-2:2007 for thermal
// retinal irradiance weighed with [Thermal2006], 1.2/d W/cm² for a disc of d mm,
// where a disc below 0.03 or above 1.7 mm counts as that (the standard's own rule;
// from memory).
func GroupTwoThermalWPerCM2(discDiameterMM float64) (float64, error) {
	if !(discDiameterMM > 0 && discDiameterMM <= 100) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "lit disc", What: fmt.Sprintf("%g mm across cannot be", discDiameterMM), Expected: "above 0, up to 100 mm"}
	}
	return groupTwoThermal / math.Min(math.Max(discDiameterMM, groupTwoSmallestMM), groupTwoLargestMM), nil
}

// RetinalDoseJPerCM2 turns a dose of radiance in J/(cm² sr) into one at the
// retina, L·τ·π(D/2)²/f², for a pupil of D mm (0.5 to 9), a focal length of f mm
// (10 to 25) and a transmission τ (above 0, up to 1): 100 J/(cm² sr) of ICNIRP
// 2013, equation 18 (full text of the erratum), through 3 mm, 17 mm and 0.9 is
// 2.20 J/cm².
func RetinalDoseJPerCM2(radianceDose, pupilMM, focalLengthMM, transmission float64) (float64, error) {
	if !(radianceDose >= 0 && radianceDose <= 1e6 && pupilMM >= 0.5 && pupilMM <= 9 && focalLengthMM >= 10 && focalLengthMM <= 25 && transmission > 0 && transmission <= 1) {
		return math.NaN(), &fault.Error{
			Code: fault.Invalid, Where: "dose of radiance", What: fmt.Sprintf("%g J/(cm² sr) through %g mm, %g mm and %g cannot be", radianceDose, pupilMM, focalLengthMM, transmission),
			Expected: "pupil 0.5 to 9 mm, focal length 10 to 25 mm, transmission above 0 and up to 1",
		}
	}
	share := pupilMM / 2 / focalLengthMM
	return radianceDose * transmission * math.Pi * share * share, nil
}

// thermalSource says where the thermal comparison is from.
const thermalSource = "ISO 15004-2:2007 Group 2, 1.2/d W/cm² with d at most 1.7 mm, weighed with R(λ) of IEC 62471:2006 (all from memory)"

// Thermal is the thermal irradiance of a setting beside its limit. Heat adds no
// dose: it is the setting that passes or not.
type Thermal struct {
	WPerCM2      estimate.Estimate // missing where the spectrum is not known
	LimitWPerCM2 float64
	Source       string
}

// Thermal weighs the setting's irradiance with R(λ) of 2006 and gives the limit
// for its disc.
func (s Setting) Thermal() (Thermal, error) {
	irradiance, err := s.IrradianceMWPerCM2()
	if err != nil {
		return Thermal{}, err
	}
	mean, err := s.Source.MeanWeight(Thermal2006, modelFromNM, LongestNM)
	if err != nil {
		return Thermal{}, err
	}
	limit, err := GroupTwoThermalWPerCM2(2 * s.Probe.discRadiusMM(s.DistanceMM.Value))
	if err != nil {
		return Thermal{}, err
	}
	t := Thermal{WPerCM2: mean, LimitWPerCM2: limit, Source: thermalSource}
	if mean.Known() {
		t.WPerCM2 = spread(func(x []float64) float64 { return x[0] * x[1] / 1000 }, "from irradiance and spectrum: "+irradiance.Basis+"; "+mean.Basis, irradiance, mean)
	}
	return t, nil
}
