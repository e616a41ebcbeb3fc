// Package colour compares colours as a standard observer sees them: sRGB to
// CIELAB, differences of colour, contrast of text, and amounts of dyes from
// optical densities.
//
// # Method
//
//	sRGB → linear RGB → XYZ (matrix with its own white) → CIELAB → differences
//
// Decoding by IEC 61966-2-1, CIELAB by CIE 15, CIEDE2000 by Sharma, Wu and Dalal
// (Color Res Appl 2005;30:21-30), colour deconvolution by Ruifrok and Johnston
// (Anal Quant Cytol Histol 2001;23:291-299, PMID 11531144).
//
// # Assumptions and validity
//
// A matrix and its white belong together: with the white of another a neutral
// colour gets a hue. Pictures of an operating camera are no sRGB of a calibrated
// screen: white balance, gain, logarithmic curves and chroma subsampling change
// their colours, so compare frames of equal settings only.
//
// # Which difference for which question
//
// The luminance contrast of [LuminanceContrast] is for text on a page. It says
// nothing of a stain, whose colour can differ at equal luminance; a stain is
// judged by [DifferenceAB], [Difference76] and [Difference2000], three scales
// that are never mixed.
package colour
