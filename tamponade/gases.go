package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Gas is one chemical species that a bubble can hold besides water vapour. Air
// is a mixture, not a species.
type Gas int

// The species. The first three come with air and with blood; nitrous oxide
// comes only when it is breathed; the last three are the long-acting gases.
const (
	Nitrogen Gas = iota
	Oxygen
	CarbonDioxide
	NitrousOxide
	SulphurHexafluoride
	Hexafluoroethane
	Octafluoropropane
	gasCount
)

// GasCount is the number of species, the length of a [Composition].
const GasCount = int(gasCount)

// String returns the chemical name.
func (g Gas) String() string {
	if g < 0 || g >= gasCount {
		return "unknown gas"
	}
	return gasTable[g].name
}

// Symbol returns the chemical formula, as on a bottle: "SF6".
func (g Gas) Symbol() string {
	if g < 0 || g >= gasCount {
		return "?"
	}
	return gasTable[g].symbol
}

// LongActing reports whether the species is one of the three that are mixed
// with air for a long-lasting bubble.
func (g Gas) LongActing() bool { return g >= SulphurHexafluoride && g < gasCount }

// HowKnown says how a value came into the tables.
type HowKnown string

// How a value is known.
const (
	FullText  HowKnown = "full text"   // the table or page itself was read
	Abstract  HowKnown = "abstract"    // only the abstract was read
	Secondary HowKnown = "secondary"   // seen quoted in another source
	Memory    HowKnown = "from memory" // not found again
	Derived   HowKnown = "derived"     // arithmetic on other rows
	Fitted    HowKnown = "fitted here" // adjusted to published observations
	Judgement HowKnown = "judgement"   // the project's own choice
)

// Constant is one physical or physiological value with its spread and origin.
// Low and High bound what sources or fits allow; both are NaN when no spread
// is known.
type Constant struct {
	Quantity         string
	Value, Low, High float64
	Unit             string
	Source           string // author, journal, year
	DOI              string // empty where there is none
	Known            HowKnown
}

// GasConstants are the physical constants of one species.
type GasConstants struct {
	Gas Gas
	// MolarMass in g/mol, from atomic masses.
	MolarMass Constant
	// Henry is Henry's constant (concentration over pressure) in water at
	// 298.15 K, mol m⁻³ Pa⁻¹; HenryTemperature the B of
	// H(T) = H·exp(B·(1/T − 1/298.15)), K.
	Henry, HenryTemperature Constant
	// Ostwald is the Ostwald coefficient in water at 37 °C, mL gas per mL.
	Ostwald Constant
	// Diffusion is the diffusion coefficient in water at 37 °C, 1e-9 m²/s.
	Diffusion Constant
	// Tissue is the partial pressure in the tissue around the bubble when the
	// patient breathes air at sea level, mmHg.
	Tissue Constant
}

// Physical constants that belong to no one gas.
const (
	// BodyTemperatureK is 37 °C.
	BodyTemperatureK = 310.15
	// WaterVapourMMHg is the saturation pressure of water at 37 °C (textbook
	// physiology; from memory).
	WaterVapourMMHg = 47.0
	// SeaLevelMMHg is one standard atmosphere.
	SeaLevelMMHg = 760.0

	molarGasConstant      = 8.314462618 // J mol⁻¹ K⁻¹, CODATA 2018
	henryReferenceK       = 298.15
	henryCompilation      = "Sander, Atmos Chem Phys 2023;23:10901 (Henry compilation version 5)"
	henryDOI              = "10.5194/acp-23-10901-2023"
	diffusionSource       = "diffusion in water at 37 °C, ± 25 %"
	physiologyBreathing   = "textbook physiology, breathing air at sea level"
	wenMuccitelli         = "Wen and Muccitelli 1979 measured 5 to 15 °C only; value recalled, uncertain by a factor of two"
	relativeDiffusionBand = 0.25
)

// OstwaldCoefficient turns Henry's constant at 298.15 K (mol m⁻³ Pa⁻¹) and its
// temperature coefficient B (K) into the Ostwald coefficient at temperatureK:
//
//	L = R·T·H·exp(B·(1/T − 1/298.15)).
//
// Source: Sander 2023, doi 10.5194/acp-23-10901-2023 (full text). Valid for
// positive temperatures; the coefficients were measured near room temperature.
func OstwaldCoefficient(henry, coefficientK, temperatureK float64) float64 {
	return molarGasConstant * temperatureK * henry * math.Exp(coefficientK*(1/temperatureK-1/henryReferenceK))
}

// gasRow is one line of the table before it is spelled out.
type gasRow struct {
	name, symbol          string
	molarMass             float64
	henry, henryLow, high float64
	temperatureK          float64
	henrySource, henryDOI string
	henryKnown            HowKnown
	diffusion             float64
	tissue, tissueLow     float64
	tissueHigh            float64
	tissueKnown           HowKnown
	tissueSource          string
}

// gasTable holds the numbers once. The oxygen tension lies between the
// vitreous of people during surgery, 16 to 20 mmHg (Sakaue et al., Jpn J
// Ophthalmol 1989;33:199-203, abstract), and mixed venous blood, 40 mmHg
// (textbook, from memory). The half-lives say nothing about it; it was set so
// that the shares which a published model calls right for a full eye come out
// (Williamson et al., Retina 2018;38 Suppl 1:S60, doi
// 10.1097/iae.0000000000001963, abstract).
var gasTable = [gasCount]gasRow{
	Nitrogen: {
		"nitrogen", "N2", 28.0134, 6.4e-6, nan, nan, 1600, henryCompilation, henryDOI, Memory, 2.6,
		573, 568, 578, Memory, physiologyBreathing,
	},
	Oxygen: {
		"oxygen", "O2", 31.998, 1.3e-5, nan, nan, 1500, henryCompilation, henryDOI, Memory, 2.8,
		35, 16, 40, Fitted, "to the shares for a full eye of Williamson et al., Retina 2018;38 Suppl 1:S60 (abstract), between 16 to 20 mmHg in the vitreous (Sakaue et al., Jpn J Ophthalmol 1989;33:199, abstract) and 40 mmHg in mixed venous blood (from memory)",
	},
	CarbonDioxide: {
		"carbon dioxide", "CO2", 44.0095, 3.3e-4, nan, nan, 2400, henryCompilation, henryDOI, Memory, 2.5,
		46, 44, 48, Memory, physiologyBreathing,
	},
	NitrousOxide: {
		"nitrous oxide", "N2O", 44.0128, 2.4e-4, nan, nan, 2600, henryCompilation, henryDOI, Memory, 2.4,
		0, 0, 0, Derived, "none unless breathed",
	},
	SulphurHexafluoride: {
		"sulphur hexafluoride", "SF6", 146.055, 2.4e-6, 2.2e-6, 2.5e-6, 2700, henryCompilation, henryDOI, FullText, 1.6,
		0, 0, 0, Derived, "none in blood",
	},
	Hexafluoroethane: {
		"hexafluoroethane", "C2F6", 138.012, 5.8e-7, 5.3e-7, 6.5e-7, 2200, henryCompilation, henryDOI, FullText, 1.4,
		0, 0, 0, Derived, "none in blood",
	},
	Octafluoropropane: {
		"octafluoropropane", "C3F8", 188.02, 1.5e-7, 0.8e-7, 3e-7, 2500, wenMuccitelli, "10.1007/BF00648882", Memory, 1.2,
		0, 0, 0, Derived, "none in blood",
	},
}

var nan = math.NaN()

// Constants returns the physical constants of a species. The Ostwald
// coefficient is derived by [OstwaldCoefficient] from the Henry row and shares
// its spread. A species that does not exist gives the zero value.
func (g Gas) Constants() GasConstants {
	if g < 0 || g >= gasCount {
		return GasConstants{}
	}
	row := gasTable[g]
	ostwald := func(henry float64) float64 { return OstwaldCoefficient(henry, row.temperatureK, BodyTemperatureK) }
	return GasConstants{
		Gas:       g,
		MolarMass: Constant{"molar mass", row.molarMass, nan, nan, "g/mol", "sum of atomic masses", "", Memory},
		Henry: Constant{
			"Henry's constant in water at 298.15 K", row.henry, row.henryLow, row.high, "mol m⁻³ Pa⁻¹",
			row.henrySource, row.henryDOI, row.henryKnown,
		},
		HenryTemperature: Constant{
			"temperature coefficient of Henry's constant", row.temperatureK, nan, nan, "K",
			row.henrySource, row.henryDOI, row.henryKnown,
		},
		Ostwald: Constant{
			"Ostwald coefficient in water at 37 °C", ostwald(row.henry), ostwald(row.henryLow), ostwald(row.high), "mL/mL",
			"from Henry's constant: " + row.henrySource, row.henryDOI, Derived,
		},
		Diffusion: Constant{
			"diffusion coefficient in water at 37 °C", row.diffusion, row.diffusion * (1 - relativeDiffusionBand),
			row.diffusion * (1 + relativeDiffusionBand), "1e-9 m²/s", diffusionSource, "", Memory,
		},
		Tissue: Constant{
			"partial pressure in tissue", row.tissue, row.tissueLow, row.tissueHigh, "mmHg",
			row.tissueSource, "", row.tissueKnown,
		},
	}
}

// Composition is what a dry gas consists of: the share of each species, indexed
// by [Gas], summing to one.
type Composition [GasCount]float64

// oxygenInAir is the share of oxygen in dry air; the rest counts as nitrogen
// (argon, 0.9 %, behaves much like it here). Textbook, from memory.
const oxygenInAir = 0.21

// agentGas is the long-acting species of an agent.
var agentGas = map[Agent]Gas{
	AgentSF6: SulphurHexafluoride, AgentC2F6: Hexafluoroethane, AgentC3F8: Octafluoropropane,
}

// Composition returns the shares of the species in the dry mixture: the agent's
// share, and air for the rest. An unknown agent is Unsupported, a share outside
// 0 to 100 % Invalid.
func (m Mixture) Composition() (Composition, error) {
	var c Composition
	gas, long := agentGas[m.Agent]
	if !long && m.Agent != AgentAir {
		return c, &fault.Error{Code: fault.Unsupported, Where: "gas", What: "no gas is named", Expected: "one of air, SF6, C2F6, C3F8"}
	}
	share := 0.0
	if long {
		share = float64(m.Percent) / 100
	}
	if !(share >= 0 && share <= 1) {
		return c, &fault.Error{Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%g %% cannot be", float64(m.Percent)), Expected: "0 to 100 %"}
	}
	c[Nitrogen] = (1 - share) * (1 - oxygenInAir)
	c[Oxygen] = (1 - share) * oxygenInAir
	if long {
		c[gas] = share
	}
	return c, nil
}

// shareTolerance is how far the shares may miss one by rounding.
const shareTolerance = 1e-9

// Check returns a fault of code Invalid unless every share lies between 0 and 1
// and they sum to one.
func (c Composition) Check() error {
	sum := 0.0
	for g, share := range c {
		if !(share >= 0 && share <= 1) {
			return &fault.Error{
				Code: fault.Invalid, Where: "composition", What: fmt.Sprintf("the share of %s is %g", Gas(g).Symbol(), share),
				Expected: "0 to 1",
			}
		}
		sum += share
	}
	if math.Abs(sum-1) > shareTolerance {
		return &fault.Error{
			Code: fault.Invalid, Where: "composition", What: fmt.Sprintf("the shares sum to %g", sum), Expected: "1",
		}
	}
	return nil
}
