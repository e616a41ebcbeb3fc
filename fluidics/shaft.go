package fluidics

import (
	"fmt"
	"math"

	"limitans/fault"
)

// newtonPerGramForce: 1 gf = 9.80665 mN.
const newtonPerGramForce = gravity * 1e-3

// probeMM is where, from the tip, the published second deflection was taken.
const probeMM = 15.0

// Shaft is an instrument's shaft as one uniform cantilever held at its hub.
type Shaft struct {
	FreeLengthMM float64 // from the hub to the tip
	RigidityNMM2 float64 // E·I
}

// ShaftFromDeflection returns the cantilever that explains the force for 1 mm of
// deflection at the tip and 15 mm from it, in gram-force per mm, both above 0 and
// the second larger: F = 3·EI·δ/L³ at both points gives
//
//	L = 15·ρ/(ρ − 1),  ρ = (k₁₅/k_tip)^⅓,  EI = k_tip·L³/3.
//
// Deflections: Ophthalmol Retina 2022;6:1001, doi 10.1016/j.oret.2022.05.004
// (abstract); the model is derived. The free lengths of three gauges come out
// alike, 28 to 29.5 mm, which supports it.
func ShaftFromDeflection(tipGramForcePerMM, probeGramForcePerMM float64) (Shaft, error) {
	ratio := math.Cbrt(probeGramForcePerMM / tipGramForcePerMM)
	if !(tipGramForcePerMM > 0 && ratio > 1.001 && ratio < 1000) {
		return Shaft{}, &fault.Error{
			Code: fault.Invalid, Where: "deflection", What: fmt.Sprintf("%g and %g gf/mm are not those of one shaft", tipGramForcePerMM, probeGramForcePerMM),
			Expected: "a force at the tip and a larger one 15 mm from it",
		}
	}
	length := probeMM * ratio / (ratio - 1)
	return Shaft{length, tipGramForcePerMM * newtonPerGramForce * length * length * length / 3}, nil
}

// TipUMPerMN is the tip's deflection in µm under a load of 1 mN, L³/(3·EI).
func (s Shaft) TipUMPerMN() float64 {
	return s.FreeLengthMM * s.FreeLengthMM * s.FreeLengthMM / (3 * s.RigidityNMM2) // mm per N = µm per mN
}

// SteelTubeRigidityNMM2 is E·π(D⁴ − d⁴)/64 of a steel tube, E = 193 GPa
// (stainless steel, from memory), for diameters in mm, 0 ≤ inside < outside ≤ 5.
func SteelTubeRigidityNMM2(outsideMM, insideMM float64) (float64, error) {
	if !(insideMM >= 0 && insideMM < outsideMM && outsideMM <= 5) {
		return math.NaN(), &fault.Error{Code: fault.Invalid, Where: "tube", What: fmt.Sprintf("%g mm outside and %g mm inside", outsideMM, insideMM), Expected: "0 ≤ inside < outside ≤ 5 mm"}
	}
	const youngNPerMM2 = 193e3
	return youngNPerMM2 * math.Pi * (math.Pow(outsideMM, 4) - math.Pow(insideMM, 4)) / 64, nil
}
