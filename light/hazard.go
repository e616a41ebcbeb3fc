package light

import (
	_ "embed" // tables of the hazard functions
	"fmt"
	"math"
	"sync"

	"limitans/fault"
	"limitans/table"
)

//go:embed data/hazard.csv
var hazardCSV string

// Hazard is one published function of wavelength that weighs light by the harm
// it does.
type Hazard int

// The hazard functions, at 5 nm and linear between.
const (
	// Aphakic is A(λ): photochemical harm in an eye without the lens's own
	// filter. ICNIRP, Health Phys 2013;105:74-96 (secondary, one source).
	Aphakic Hazard = iota
	// BlueLight is B(λ): the same behind a natural lens. Same source (secondary,
	// two sources).
	BlueLight
	// Thermal2013 is R(λ) of ICNIRP 2013 (formula from memory): B below 435 nm,
	// 1 to 700, 10^((700−λ)/500) to 1050, 0.2 to 1150, 0.2·10^(0.02(1150−λ)) to
	// 1200, 0.02 to 1400.
	Thermal2013
	// Thermal2006 is R(λ) of IEC 62471:2006 and ISO 15004-2:2007 (from memory),
	// with its peak of 10 at 435 to 440 nm. It goes with the limits of those
	// standards, and [Thermal2013] does not.
	Thermal2006
)

// The wavelengths that the functions are tabulated for, in nm.
const (
	ShortestNM = 300
	LongestNM  = 1400
)

const hazardStepNM = 5

// String names the function.
func (h Hazard) String() string {
	switch h {
	case Aphakic:
		return "aphakic hazard A(λ), ICNIRP 2013"
	case BlueLight:
		return "blue-light hazard B(λ), ICNIRP 2013"
	case Thermal2013:
		return "thermal hazard R(λ), ICNIRP 2013"
	case Thermal2006:
		return "thermal hazard R(λ), IEC 62471:2006"
	}
	return "no hazard function"
}

// hazardTable holds a row per 5 nm and a column per function.
var hazardTable = sync.OnceValues(func() ([][]float64, error) {
	rows, err := table.Rows(tableName, hazardCSV, 5)
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(rows))
	for i, r := range rows {
		n, err := table.Full(tableName, r)
		if err != nil {
			return nil, err
		}
		if n[0] != float64(ShortestNM+hazardStepNM*i) {
			return nil, &fault.Error{Code: fault.Internal, Where: "hazard functions", What: fmt.Sprintf("row %d is for %g nm", i, n[0])}
		}
		out[i] = n[1:]
	}
	return out, nil
})

// Weight returns the value of the function at a wavelength in nm (300 to 1400),
// linear between the tabulated 5 nm.
func (h Hazard) Weight(wavelengthNM float64) (float64, error) {
	if h < Aphakic || h > Thermal2006 {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "hazard function", What: fmt.Sprintf("%d is none", int(h))}
	}
	if !(wavelengthNM >= ShortestNM && wavelengthNM <= LongestNM) {
		return math.NaN(), &fault.Error{
			Code: fault.Invalid, Where: "wavelength", What: fmt.Sprintf("%g nm has no weight", wavelengthNM),
			Expected: fmt.Sprintf("%d to %d nm", ShortestNM, LongestNM),
		}
	}
	t, err := hazardTable()
	if err != nil {
		return math.NaN(), err
	}
	at := (wavelengthNM - ShortestNM) / hazardStepNM
	i := min(int(at), len(t)-2)
	below, above := t[i][h], t[i+1][h]
	share := at - float64(i)
	if share == 0 {
		return below, nil // the printed figure itself, without rounding
	}
	return below + (above-below)*share, nil
}
