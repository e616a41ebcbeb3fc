// Package eye describes one eye: which side it is, how large its cavity is,
// where things lie in it, and how lengths on its retina relate to angles and to
// what an instrument displays.
//
// # Cavity
//
// [CavityVolumeML] gives the volume of the emptied vitreous cavity from axial
// length by the cubic measured as infused fluid (de Santana et al., 144 eyes of
// 20 to 32 mm, abstract), with a band of ± 22 %; [CavityAlternatives] gives the
// other published rules beside it. They disagree by up to 18 %.
//
// # Shape
//
// Cavity and retina are spheres ([Sphere]), fluid levels are flat, so a bubble
// is a [Cap]. That overstates how much wall a small bubble or oil touches, and
// a phakic eye lacks the part of the sphere in front of the lens.
//
// # Frame
//
// [Direction] is a unit vector in a frame along the line of sight, drawn there;
// it is the same for both eyes, and the side decides only where nasal is.
//
// # Lateral scale
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
// 10.1167/iovs.17-23549, abstract). Away from the fovea [RetinalLengthMM] goes
// over to a wide-field polynomial.
//
// Range of validity: 20 to 32 mm. Above 29 mm an individual eye model may
// differ by up to 7.5 % (abstract, as quoted in the reference). In eyes that
// are pseudophakic, aphakic or filled with gas the factor is approximate.
//
// # Reach
//
// [Entry] places a sclerotomy and its distance from the posterior pole and from
// other places on the wall in a model eye (derived), and says whether a shaft is
// long enough; [SclerotomyMM] has the published distances behind the limbus and
// refuses where there is none. The limbus of the model is an adult's: before two
// years of age reach is not to be told.
//
// Every number of the model with its source: [Constants], [TheatreFacts].
package eye
