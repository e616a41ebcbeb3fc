package fluidics

import (
	"fmt"

	"limitans/estimate"
	"limitans/fault"
)

// Lengths of the lines, each with its source.
const (
	// infusionLengthMM is the length over which published drops are matched; only
	// d⁴/L acts, and the bores below belong to it. The part inside the eye wall
	// is about 4 mm (from memory).
	infusionLengthMM = 6.0
	// Infusion tubing of 1.5 mm and half a metre loses 5 mmHg at 10 mL/min
	// (common practice, no source).
	tubingBoreMM   = 1.5
	tubingLengthMM = 500.0
	// oilLengthMM belongs to the bores of oil lines.
	oilLengthMM = 4.0
	// tipLengthMM of a subretinal cannula; makers' tips differ (from memory).
	tipLengthMM = 5.0
)

// cannula is one row of the tables of lines.
type cannula struct {
	gauge           int
	boreMM          float64
	boreLow, boreHi float64
	basis           string
}

// infusionCannulas are straight tubes of 6 mm that, behind the tubing, lose at
// 10 mL/min what five makers' lines lost: 9 to 16, 11 to 25 and 16 to 50 mmHg
// (Rossi et al., Transl Vis Sci Technol 2025, abstract). The ends of the bores
// are the ends of those drops, the values the reference's round middle.
var infusionCannulas = []cannula{
	{23, 0.60, 0.50, 0.65, "bore derived from published drops of five makers' lines (Rossi et al. 2025, abstract)"},
	{25, 0.50, 0.43, 0.58, "bore derived from published drops of five makers' lines (Rossi et al. 2025, abstract)"},
	{27, 0.40, 0.35, 0.50, "bore derived from published drops of five makers' lines (Rossi et al. 2025, abstract)"},
}

// oilCannulas are straight tubes of 4 mm. That of 23G gives the published times
// of 9 mL (Haider et al. 2014, abstract, with the pressure read as psi); its
// ends give the ends of the times of 5000 oil. No bench table of 25G and 27G was
// found: those stand in proportion to the infusion lines, between the nominal
// regular tube of the gauge and the widest infusion bores' proportion.
var oilCannulas = []cannula{
	{23, 0.45, 0.42, 0.53, "bore derived from published times of 9 mL (Haider et al. 2014, abstract; printed mmHg read as psi)"},
	{25, 0.375, 0.26, 0.48, "bore estimated from the 23G line; no bench table was found"},
	{27, 0.30, 0.21, 0.40, "bore estimated from the 23G line; no bench table was found"},
}

// fineTips: 38G from 8.55 µL/s of salt solution at 16 psi, its lower end from
// the 2.86 µL/s at 8 psi (bench study, abstract seen on an aggregator); 41G from an
// outside diameter of 0.10 mm (from memory) and the inner share of it, 0.45 to
// 0.52, that nominal tubes of 30 to 34 gauge have.
var fineTips = []cannula{
	{38, 0.0642, 0.0575, 0.070, "bore derived from a bench flow of 8.55 µL/s at 16 psi through 38G (abstract), 5 mm long"},
	{41, 0.048, 0.038, 0.060, "bore estimated as 0.48 of an outside diameter of 0.10 mm (from memory), 5 mm long; no flow through 41G is published"},
}

// InfusionLine returns the usual infusion line of 23, 25 or 27 gauge, cannula
// and tubing. Other gauges are unsupported, because no line was measured.
func InfusionLine(gauge int) (Line, error) {
	c, err := find(infusionCannulas, gauge, infusionLengthMM, "infusion line", "23, 25 or 27")
	return Line{Cannula: c, Tubing: tube(tubingBoreMM, tubingLengthMM)}, err
}

// OilLine returns the usual line for injecting or removing oil through 23, 25
// or 27 gauge.
func OilLine(gauge int) (Line, error) {
	c, err := find(oilCannulas, gauge, oilLengthMM, "oil line", "23, 25 or 27")
	return Line{Cannula: c}, err
}

// FineTip returns a subretinal cannula of 38 or 41 gauge. These names are
// makers' own: no standard defines a size below 34 gauge, so a measured bore
// ([NewTube]) is better whenever there is one.
func FineTip(gauge int) (Line, error) {
	c, err := find(fineTips, gauge, tipLengthMM, "subretinal cannula", "38 or 41")
	return Line{Cannula: c}, err
}

func find(table []cannula, gauge int, lengthMM float64, what, known string) (Tube, error) {
	for _, c := range table {
		if c.gauge == gauge {
			return Tube{
				estimate.Estimate{Value: c.boreMM, Low: c.boreLow, High: c.boreHi, Basis: c.basis},
				estimate.Estimate{Value: lengthMM, Low: lengthMM, High: lengthMM, Basis: "goes with the bore; only d⁴/L acts"},
			}, nil
		}
	}
	return Tube{}, &fault.Error{
		Code: fault.Unsupported, Where: fmt.Sprintf("%d gauge", gauge), What: "no flow of this size of " + what + " is published",
		Expected: known, Mend: "give the measured bore and length",
	}
}

func tube(boreMM, lengthMM float64) Tube {
	exact := func(v float64) estimate.Estimate {
		return estimate.Estimate{Value: v, Low: v, High: v, Basis: "common practice, no source"}
	}
	return Tube{exact(boreMM), exact(lengthMM)}
}
