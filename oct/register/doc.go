// Package register lays two scans of one eye on each other by a rigid motion: a
// shift and a turn on the retina, and a shift and two tilts in depth.
//
// # Frame
//
//	y ▲ first slice            Both scans have the frame of package oct: x along
//	  │                        the slices, y across them, the middle of the scan at
//	  └────▶ x                 (0, 0), µm as displayed, the fundus as it is seen.
//
//	place in the second scan = R(turn) · place in the first + (XUM, YUM)
//	depth in the second      = depth in the first + DepthUM + TiltX·x + TiltY·y
//
// # Method
//
// On the retina: the mean brightness of a band at the pigment epithelium, where
// vessels throw their shadows and membrane and hole change least, is laid on a
// square grid, freed of slow changes (mean of a box subtracted, within what was
// traced), and left out where there is no inner limiting membrane, so that the
// hole itself, which may have changed, does not pull. The motion with the highest
// normalised cross-correlation over the overlap is searched from coarse to fine
// and its top is placed between grid points by a parabola (all common practice,
// no source).
//
// In depth: a plane is fitted by least squares to the differences of the
// epithelium's depth at corresponding places, leaving out in three rounds what
// lies beyond 2.5 standard deviations.
//
// # Error
//
// The search is repeated with each quarter of the overlap left out; the
// jackknife of these four (Efron B, Ann Stat 1979;7:1-26,
// doi 10.1214/aos/1176344552; from memory) gives the standard deviation of shift
// and turn. The interval of the depth is that of the fitted plane's middle.
//
// # Validity
//
// Rasters with all three scales known, of the same side, overlapping by four
// tenths or more, turned by 10° and shifted by 1.5 mm at most. Scans without
// vessels or other structure are refused, since two pieces of noise lie on each
// other somewhere too: the correlation must be at least 0.30 and stand out from
// the next best place (both set on phantoms of this program: see the tests). A
// change of eye length, of refraction or of the scanner's distance is not rigid
// and is not found.
package register
