// Package eye describes one eye: which side it is and how lengths on its retina
// relate to what an instrument displays.
//
// # Lateral scale of a retinal image
//
// A scanner knows angles, not micrometres. It turns an angle into a length on
// the retina with one assumed eye; in an eye of another axial length the same
// angle spans another length. The abbreviated axial-length formula gives
//
//	q = 0.01306 · (axial length − 1.82)   mm per degree
//
// (Bennett, Rudnicka and Edgar 1994; formula from memory. Garway-Heath et al.,
// Br J Ophthalmol 1998;82:643-649, doi 10.1136/bjo.82.6.643, abstract: endorses
// the abbreviated form, within +0.5 to +2.6 % of the full method), so a
// displayed length is multiplied by
//
//	(axial length − 1.82) / (reference axial length − 1.82).
//
// Depth is not corrected: the axial scale of an OCT image does not depend on
// eye length (Salmon et al., Invest Ophthalmol Vis Sci 2018;59:3037, doi
// 10.1167/iovs.17-23549, abstract).
//
// Range of validity: 20 to 32 mm. Above 29 mm an individual eye model may
// differ by up to 7.5 % (abstract, as quoted in the reference). In eyes that
// are pseudophakic, aphakic or filled with gas the factor is approximate.
package eye
