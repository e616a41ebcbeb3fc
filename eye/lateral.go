package eye

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// Constants of the lateral correction. The page of constants and the reports
// read them from here.
const (
	// principalPointOffsetMM: distance by which axial length is shortened in
	// Bennett's formula. Source: Bennett et al. 1994; from memory.
	principalPointOffsetMM = 1.82

	// ReferenceAxialLengthMM is the axial length for which displayed lengths
	// are true when the scanner does not tell its own. Source: mirror
	// calibration of a spectral-domain scanner, Parthasarathy and Bhende 2015,
	// doi 10.4103/0301-4738.159877 (opening of the full text read). Another
	// device class uses 23.95 mm (abstract).
	ReferenceAxialLengthMM = 24.46

	// MinAxialLengthMM and MaxAxialLengthMM bound what is accepted as a human
	// axial length: 18.96 to 31.9 mm were seen in two cohorts of 3,052 and
	// 13,012 eyes (secondary); the bounds leave room for nanophthalmos and
	// extreme myopia.
	MinAxialLengthMM = 15.0
	MaxAxialLengthMM = 40.0

	// lateralRelativeSD is the standard deviation of the factor: 0.6 to 1.2 %
	// around the full method (Garway-Heath 1998, abstract); the larger is used.
	// Above longEyeMM the published worst difference from an individual eye
	// model, 7.5 % (abstract), is taken as a 95 % bound.
	lateralRelativeSD     = 0.012
	lateralRelativeSDLong = longEyeShare / estimate.Z95
	longEyeMM             = 29.0
)

// CheckAxialLengthMM returns a fault when axialLengthMM is not a possible axial
// length of a human eye.
func CheckAxialLengthMM(axialLengthMM float64) error {
	if axialLengthMM >= MinAxialLengthMM && axialLengthMM <= MaxAxialLengthMM {
		return nil
	}
	e := &fault.Error{
		Code:     fault.Invalid,
		Where:    "axial length",
		What:     fmt.Sprintf("%g mm is not a human axial length", axialLengthMM),
		Expected: fmt.Sprintf("%g to %g mm", MinAxialLengthMM, MaxAxialLengthMM),
	}
	for _, factor := range []float64{0.1, 0.01, 0.001, 10} {
		if meant := axialLengthMM * factor; meant >= 20 && meant <= 32 {
			e.Mend = fmt.Sprintf("was %.4g mm meant?", meant)
			break
		}
	}
	return e
}

// LateralFactor returns the factor by which a displayed lateral length is
// multiplied to get the length on the retina,
//
//	(axialLengthMM − 1.82) / (referenceMM − 1.82),
//
// with its 95 % interval. Both arguments are in millimetres and must lie
// between [MinAxialLengthMM] and [MaxAxialLengthMM]. Areas take the square.
// Source: see the package comment.
func LateralFactor(axialLengthMM, referenceMM float64) (estimate.Estimate, error) {
	for _, mm := range []float64{axialLengthMM, referenceMM} {
		if math.IsNaN(mm) {
			return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "axial length", What: "is not a number"}
		}
		if err := CheckAxialLengthMM(mm); err != nil {
			return estimate.Estimate{}, err
		}
	}
	factor := (axialLengthMM - principalPointOffsetMM) / (referenceMM - principalPointOffsetMM)
	sd := lateralRelativeSD
	if axialLengthMM > longEyeMM {
		sd = lateralRelativeSDLong
	}
	return estimate.Normal(factor, factor*sd,
		fmt.Sprintf("abbreviated axial-length formula, reference eye %g mm; interval from published scatter around the full method", referenceMM)), nil
}
