// Package fluidics reckons what flows through the narrow tubes of small-gauge
// surgery of the eye: infusion, oil going in and out, and heavy liquid drawn from
// under the retina.
//
// # Method
//
// The pressure lost in a line is
//
//	ΔP = a·Q + b·Q²
//
//	a = Σ 128 μ L / (π d⁴)          friction of tubing and cannula (Poiseuille)
//	b = K·½ρ·(4/(π d²))²            kinetic energy lost at entry and exit, K = 2.3
//
// the published form for infusion lines (Rossi et al., MAIO 2019;2(3):88 and
// Transl Vis Sci Technol 2025, abstracts) with textbook coefficients (from
// memory). In salt solution the flow does not develop within a cannula, and the
// kinetic loss exceeds friction; in silicone oil the Reynolds number is below
// one and friction is all. [Regime] says which case holds.
//
// # Bores
//
// A gauge names the outside diameter only, and flow goes with the fourth power
// of the bore. The bores used here are hydraulic ones, derived from published
// flows, with the makers' spread as their interval; where nothing was measured
// they are estimates, and say so. A measured bore beats them all.
//
// # Assumptions and validity
//
// Straight round tubes, laminar flow (Reynolds number up to 2000; beyond that
// the answer is refused), Newtonian liquids, constant pressure, room
// temperature, no instrument in the bore. Vitreous is no such liquid: it has no
// viscosity to put in, and nothing here reckons its flow. Intervals are 95 %
// where an input has one, else the ends of published ranges, combined in
// quadrature of logarithms.
//
// # Bending
//
// A shaft is a uniform cantilever from its hub ([Shaft]), with length and
// rigidity from published deflections of the least stiff make ([ShaftOf]); it
// bends under a load at its tip and when it pushes against the wall at its entry
// ([GaugeShaft.BendIn]). From which bend on it is too much nobody published.
//
// # Checks
//
// [Comparisons] sets published measurements beside computed ones, with the
// reason for each difference. Published figures with sources: [Facts].
package fluidics
