// Package thickness measures the retina on the nine fields of the macular grid,
// as a map, at its centre and as a volume, and adds signs of a membrane that are
// indicative only.
//
// # What is measured
//
// Thickness is the distance, along depth, from the inner limiting membrane to
// the centre line of the pigment epithelium's band. It is not perpendicular to
// the retina: on a retina tilted by 10° it reads 1.5 % more (1/cos, derived).
// Depth and width are in micrometres before anything is computed, so the
// stretching of a display does not enter.
//
// # Grid and frame
//
// Circles of 0.5, 1.5 and 3 mm radius round the fovea or the hole, the two rings
// split at 45, 135, 225 and 315 degrees (DICOM PS3.17 section UU.5, PS3.16 TID
// 2120; both read). As the fundus is seen:
//
//	       y ▲  above = superior            first slice of a raster
//	         │      ╲  outer  ╱             ───────────────▶ columns
//	         │       ╲ inner ╱              ───────────────▶
//	left     │   ─────( c )─────   right    last slice
//	         │       ╱       ╲
//	         │      ╱  below  ╲
//	         └───────────────────▶ x
//
// The nasal side, where the disc lies, is at the right of a right eye and at the
// left of a left eye. Where the side of the eye is not known the two fields are
// called scan left and scan right. A radial scan carries the direction of its
// slices; for a raster the file does not tell, and it is assumed, and said, that
// the first slice is superior and that columns run to the right.
//
// Areas, exact: centre 0.785, inner field 1.571, outer field 5.301, all 28.274
// mm². The circles lie on the retina as the scanner displays it; with
// [Options].LateralFactor (see eye.LateralFactor) they lie on the retina itself.
//
// # Method
//
// Between slices and columns thickness is interpolated linearly in µm, for a
// radial scan along the meridian and in angle. The mean of a field is the sum
// over a polar midpoint grid of at most 25 by 25 µm, each place weighted by its
// area. Nothing is carried beyond the outermost slice or column, nor over a gap
// in a surface. Where the inner limiting membrane is missing (an open hole, or
// a trace that failed) there is no retina to measure: unseen.
//
// # What is refused
//
// A field of which less than [LeastShare] was seen, or that fewer than
// [LeastSlices] slices cross; the volume when any field is refused; everything
// when a scale is unknown or the pattern neither raster nor radial. A refused
// figure is missing and its basis says why.
//
// # Interval
//
// At 95 %, to either side: √(systematic² + random²) + sampling + coverage + centre.
//
//   - Systematic, for the two lines together: [ReadsTooMuchUM] downward and
//     [ReadsTooLittleUM] upward. Bright tissue tends to look larger than
//     it is, so the interval is not symmetric.
//   - Random: the reading error of one place, √(4.3² + 7.7²) = 8.8 µm, divided by
//     the root of the number of independent places. 4.3 and 7.7 µm are the 95 %
//     repeatability between two people of the inner limiting membrane and of
//     Bruch's line (Transl Vis Sci Technol 2021;10(13):9, doi
//     10.1167/tvst.10.13.9, table 3 read; µm derived). Independent places lie
//     [IndependentUM] apart along a slice, and one slice apart.
//   - Sampling: linear interpolation over a step h errs by f″h²/12 on average; the
//     difference of a slice from the mean of its two neighbours is f″h²/2, so a
//     sixth of its mean size is taken (derived).
//   - Coverage: the unseen share times the spread of thickness in the field
//     (5th to 95th percentile, at least [LeastSpreadUM]).
//   - Centre: how much the figure changes when the centre moves by the error of
//     finding or assuming it; none for a centre that was given.
//
// The interval does not hold the error of a wrong scale, of a wrongly traced
// line or of an unlike instrument.
//
// # Comparing
//
// Instruments end the retina at three different lines and their figures must
// not be mixed: the junction of inner and outer segments read 74 ± 10 µm less
// than the line beneath the epithelium in the same 50 eyes (abstract). A change
// is real beyond [RealChangeUnregisteredUM] or [RealChangeRegisteredUM].
package thickness
