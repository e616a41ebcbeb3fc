// Package surface finds the two boundaries of the retina that everything else
// is measured from: the inner limiting membrane and the pigment epithelium.
//
// # What is found
//
//	vitreous (dark)
//	═════════════ inner limiting membrane: the first retinal tissue from above
//	retina
//	───────────── pigment epithelium, inner edge: where its band begins
//	━━━━━━━━━━━━━ pigment epithelium: the centre line of its bright band
//	choroid
//
// Under an open hole the first tissue from above is the pigment epithelium
// itself; the inner limiting membrane does not exist there and its rows are
// NaN. Under an overhanging lip it is the lip's top. Rows are fractions of a
// sample.
//
// # Method
//
// Every slice is smoothed just enough for its own noise. The pigment epithelium
// is the minimum-cost path (one node a sample, edges to the next column only,
// within a slope) over a cost that is low where a band of its published
// thickness is bright and what lies below it is darker. Slices are then traced
// again in a corridor around what their neighbours agree on, after each slice's
// own motion in depth has been taken out. The inner limiting membrane follows
// the upper border of the tissue that hangs together with the pigment
// epithelium, so that an operculum or a fragment afloat is not joined to it,
// again by a minimum-cost path, over the dark-to-bright step. Both lines are
// then placed within the sample where the smoothed profile crosses a fixed
// share of its step; see [HalfSignalShare] for why that is not one half.
// The path search is the layered-graph method described by Chiu et al. 2010
// (doi 10.1364/OE.18.019413; from memory) and Tian et al. 2015 (doi
// 10.1371/journal.pone.0133908; abstract).
//
// # Assumptions and limits
//
// Vitreous up (see oct.Upright). A boundary is called untraceable where there
// is no data, or where its step is too faint for the noise, and is not bridged
// there. Published disagreement between two people on these lines is 4 µm
// (inner limiting membrane) to 8 µm (Bruch's line), 95 % repeatability (TVST
// 2021;10(13):9, doi 10.1167/tvst.10.13.9, table read in full).
package surface
