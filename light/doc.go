// Package light reckons what the light of a probe in the eye does to the retina
// as a dose under the published hazard functions, and what is left of the
// published budgets.
//
// # Method
//
// A straight probe lights a disc on the retina:
//
//	      | a = radius of the fibre
//	    ──┤
//	   /  |  \      θ = half angle of the cone in fluid
//	  /   | d \     d = distance from the tip to the retina
//	 /    |    \
//	──────┴──────   r(d) = a + d·tan θ,  E = M·cos i·P / (π r²)
//
// with the power P that was measured at the tip, the angle of incidence i and a
// factor M for light that the wall of the eye throws back. The photochemical
// dose is E·Ā·t, with the mean weight Ā of the light under the aphakic function
// A(λ). Power times time is all that counts in that range (Morgan et al. 2009,
// PMC2790527, abstract), so doses of several settings add; pauses earn nothing.
//
// # Two bases that never mix
//
// A dose is a [Dose] of a basis: [ICNIRP2013] (2.2 J/cm² at the retina, weights
// from 300 nm) or [ISO15004] (10 J/cm², weights from 305 nm). They are types of
// their own: a dose of one cannot be added to, compared with or converted to a
// dose of the other. Neither is a proven threshold of injury.
//
// # Lamps
//
// [Lamp] models a class of lamp; a measured [Spectrum] beats it. What was published
// for real lamps shows the models too mild by up to 2.6 times, and their
// interval reaches that far. A class without a published spectrum is refused.
//
// # Assumptions and validity
//
// The disc is lit evenly; power is that in the eye, after every filter; distance
// 0.5 to 30 mm, power up to 500 mW. The published check of the cone is at 5 and
// 10 mm from one fibre of 0.3 mm. Touching the retina burns it and has no dose
// here. Dye is given no credit as a shield: blue dyes absorb beyond the
// hazardous blue, indocyanine green not in it (PMID 12719989, abstract). Rules of
// dose hold up to 10,000 s (from memory). Intervals are 95 % where an input has
// one, else the ends of ranges, combined in quadrature of logarithms.
//
// Nothing here shows conformity with a standard.
package light
