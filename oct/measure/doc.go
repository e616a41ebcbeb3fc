// Package measure is the whole path for one OCT volume: check, surfaces, hole,
// thickness, correction for eye length and the warnings that belong to the
// result. It is what the command, the pages and the accuracy proof all call, so
// that they cannot differ.
//
// Lengths are given as the scanner displays them and, when the axial length of
// the eye is known, corrected for it beside that; depth is never corrected (see
// package eye). Time and program version are inputs.
//
// # Intervals
//
// The interval of a hole figure is that of its errors on synthetic eyes: wall
// placement, display, slice distance. It does not hold the error of a scale that
// is wrong, of a scan that misses the hole's widest place altogether, or of a
// line that was traced wrongly and not corrected.
package measure
