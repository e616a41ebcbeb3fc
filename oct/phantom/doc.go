// Package phantom makes optical coherence tomography volumes of a macula whose
// geometry is known exactly: holes, and maculas that only resemble one. It
// exists to prove measuring methods and to have something to show that is
// nobody's eye. A phantom is a drawing, not evidence about any eye.
//
// # Frames
//
// The retina's own frame has x along the fast scan, y across the slices
// (increasing with the slice index) and v upward from the inner edge of the
// pigment epithelium, all in µm; (0, 0, 0) lies on the middle A-scan of the
// middle of the volume. The image frame has X along the columns, Y across the
// slices and W upward (against the rows). With the tilts a (lateral) and b
// (across slices) the two differ by a true rotation,
//
//	x = X·cos a + W·sin a        W' = W·cos a − X·sin a
//	y = Y·cos b + W'·sin b       v + (x² + y²)/(2·radius) = W'·cos b − Y·sin b
//
// so that the x axis always lies in the plane of a slice: lengths along x are
// lengths along the fast scan parallel to the epithelium.
//
//	W ▲         crest                      crest
//	  │        .-"""-.                    .-"""-.        inner limiting
//	  │   __.-'       \        lid       /       '-.__   membrane
//	  │              - ) - - - - - - - -( -
//	  │               )     lumen       (   waist
//	  │              /                   \
//	  │  ___________/_____________________\____________ v = 0
//	  │  ============ pigment epithelium ==============
//	  └────────────────────────────────────────────────▶ X
//
// The curvature is laid on as a shear along v, so that lengths parallel to the
// epithelium and volumes stay what they were; over a hole of 1 mm and a radius
// of 12 mm the length along the curve differs by less than 0.02 %.
//
// # Lumen
//
// At every height the lumen is an ellipse, wavy by a band-limited disturbance
// (orders 2 to 9 around, one wave in 260 µm upward). Its size follows an
// hourglass: base at v = 0, waist, then a quarter of an ellipse up to the
// crest. Outside the crest the inner surface falls as a Gaussian to the normal
// thickness.
//
// # Light
//
// Reflectivities are linear. Boundaries carry partial-volume weights, the slice
// is blurred by the point spread in linear intensity, the noise floor is added
// and the sum is multiplied by gamma-distributed, spatially correlated speckle:
// the mean of L independent exponential intensities has squared contrast 1/L
// (Goodman, Speckle Phenomena in Optics, 2007; from memory). Last come the
// display curve, the black and white clips and the quantisation. A true edge
// is therefore at half the step of linear intensity.
//
// # Assumptions and what is missing
//
// Layer brightness, grain and choroid were set by hand to resemble one real
// volume of a macular hole (see the test data) and carry no physical meaning.
// Not modelled: motion inside a slice, Doppler and fringe washout, mirror
// images, image registration, refraction at the inner surface.
package phantom
