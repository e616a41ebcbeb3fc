package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// CavityContent is what the cavity holds when the mixture is let in.
type CavityContent int

// The contents.
const (
	// AirFilled: after a fluid-air exchange, the usual case. The air mixes with
	// the mixture while it is washed out.
	AirFilled CavityContent = iota
	// FluidFilled: the mixture pushes fluid out and does not mix with it.
	FluidFilled
)

// flushVolumes is the number of cavity volumes that a wash-out is planned with:
// five leave 0.7 % of the air. It restates the one volume that was tested in
// eyes, 25 mL, for cavities of other sizes (25 mL in 5.0 mL).
const flushVolumes = 5

const sourceFlush = "Williams et al., Arch Ophthalmol 1990;108:1484, doi 10.1001/archopht.1990.01070120132043 (abstract): 25 mL effectively complete in aphakic human eyes, by exponential dilution"

// FlushCompleteness is the concentration in an air-filled cavity, as a share of
// that of the supply, after flushML millilitres went through cavityML,
//
//	C / C_in = 1 − exp(−F / V).
//
// The law assumes that the cavity is always well mixed, that what flows in
// flows out, and that the cavity holds no fluid that shields a pocket of air
// (Williams et al. 1990, see [MixingSheet]; abstract).
func FlushCompleteness(flushML, cavityML float64) (float64, error) {
	if !(flushML >= 0) || math.IsInf(flushML, 0) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "flush", What: fmt.Sprintf("%g mL cannot be", flushML), Expected: "a volume that is not negative"}
	}
	if err := checkCavity(cavityML); err != nil {
		return 0, err
	}
	return -math.Expm1(-flushML / cavityML), nil
}

// FlushVolumeML is the inverse for a wanted concentration in the eye from a
// stronger supply,
//
//	F = −V · ln(1 − C / C_in).
//
// wanted must lie below supply: the concentration of the supply itself is
// reached only in the limit, and NotMeasurable says so.
func FlushVolumeML(wanted, supply Percent, cavityML float64) (float64, error) {
	if err := checkCavity(cavityML); err != nil {
		return 0, err
	}
	if !(wanted >= 0 && supply > 0 && supply <= 100) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "flush", What: fmt.Sprintf("%g %% from %g %% cannot be", float64(wanted), float64(supply)), Expected: "0 to 100 %"}
	}
	if wanted >= supply {
		return 0, &fault.Error{
			Code: fault.NotMeasurable, Where: "flush", What: fmt.Sprintf("no volume of %s brings an air-filled eye to %s", supply, wanted),
			Expected: "a share below that of the syringe", Mend: "five cavity volumes reach 99.3 % of it",
		}
	}
	return -cavityML * math.Log1p(-float64(wanted/supply)), nil
}

func checkCavity(cavityML float64) error {
	if cavityML >= 0.5 && cavityML <= 30 {
		return nil
	}
	return &fault.Error{Code: fault.Invalid, Where: "volume of the cavity", What: fmt.Sprintf("%g mL is not that of a human eye", cavityML), Expected: "0.5 to 30 mL"}
}

// Flush is the wash-out of one eye from one syringe.
type Flush struct {
	// NeededML: five cavity volumes through an air-filled eye, one through a
	// fluid-filled one, and the line in front.
	NeededML estimate.Estimate `json:"needed_ml"`
	// PercentInEye is what the eye holds after everything in the syringe went
	// through, with the band of the cavity's volume and of the mixture.
	PercentInEye estimate.Estimate `json:"percent_in_eye"`
	Law          string            `json:"law"`
}

// PlanFlush computes the wash-out of a cavity with its interval from a syringe
// of availableML whose true share is inSyringe (in per cent). lineML is the
// volume of the line between syringe and eye; what it holds goes in first.
//
//	air-filled     F = 5·V + line     in eye: C·(1 − exp(−(available − line)/V))
//	fluid-filled   F = V + line       in eye: C, with line·(air) in it at worst
//
// Fluid that stays behind lowers the fill, not the share of gas.
func PlanFlush(cavityML, inSyringe estimate.Estimate, content CavityContent, availableML, lineML float64) (Flush, error) {
	for _, v := range []float64{cavityML.Low, cavityML.Value, cavityML.High} {
		if err := checkCavity(v); err != nil {
			return Flush{}, err
		}
	}
	if !(lineML >= 0 && lineML <= 20) || !(availableML >= 0 && availableML <= maxSyringeML) {
		return Flush{}, &fault.Error{Code: fault.Invalid, Where: "flush", What: fmt.Sprintf("a line of %g mL and %g mL of mixture cannot be", lineML, availableML), Expected: "a line of 0 to 20 mL, a syringe of at most 100 mL"}
	}
	usable := math.Max(0, availableML-lineML)
	if content == FluidFilled {
		diluted := func(v float64) float64 { return v / (v + lineML) }
		return Flush{
			NeededML: estimate.Estimate{
				Value: cavityML.Value + lineML, Low: cavityML.Low + lineML, High: cavityML.High + lineML,
				Basis: "one cavity volume: gas pushes fluid out and does not mix with it; interval from the cavity's volume",
			},
			PercentInEye: estimate.Estimate{
				Value: inSyringe.Value, Low: inSyringe.Low * diluted(cavityML.Low), High: inSyringe.High,
				Basis: "share in the syringe; the lower end with all air of the line in the eye",
			},
			Law: "direct fluid-gas exchange, no mixing with fluid (assumption); fluid left behind lowers the fill, not the share of gas",
		}, nil
	}
	share := func(v float64) float64 { return -math.Expm1(-usable / v) }
	return Flush{
		NeededML: estimate.Estimate{
			Value: flushVolumes*cavityML.Value + lineML, Low: flushVolumes*cavityML.Low + lineML, High: flushVolumes*cavityML.High + lineML,
			Basis: "five cavity volumes leave 0.7 % of the air; interval from the cavity's volume",
		},
		PercentInEye: estimate.Estimate{
			Value: inSyringe.Value * share(cavityML.Value), Low: inSyringe.Low * share(cavityML.High), High: inSyringe.High * share(cavityML.Low),
			Basis: fmt.Sprintf("%.3g mL through a well mixed air-filled cavity; interval from the cavity's volume and the mixture", usable),
		},
		Law: "1 − exp(−volume / cavity): well mixed, outflow equals inflow; " + sourceFlush,
	}, nil
}

// OneShotPercent is the share after pureML millilitres of pure gas were added
// to an air-filled cavity from which as much air was let out before,
//
//	100 · pureML / cavityML.
//
// Published for 1.5 mL of SF6 as about 30 % (400 eyes; abstract of a European
// society meeting), which is 1.5 mL in 5.0 mL.
func OneShotPercent(pureML, cavityML float64) (Percent, error) {
	if err := checkCavity(cavityML); err != nil {
		return 0, err
	}
	if !(pureML >= 0 && pureML <= cavityML) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "one injection", What: fmt.Sprintf("%g mL into %g mL cannot be", pureML, cavityML), Expected: "0 mL to the volume of the cavity"}
	}
	return Percent(100 * pureML / cavityML), nil
}
