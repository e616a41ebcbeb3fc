// Package figure draws what was measured on a scan: every slice with its
// lines, the scan seen from the front, the hole as a body in space, the
// thickness map, and a sheet of small slices around the hole.
//
// # What a drawing promises
//
//   - Depth and lateral distance are drawn to the same scale, with a scale bar
//     each. Where a scale is unknown samples are drawn square, bars count
//     samples, and no micrometres are written.
//   - Lines stop where a boundary could not be traced. Nothing is smoothed for
//     looks; an outline is what was measured.
//   - Every clinical number stands with its 95 % interval; numbers come from
//     the results and are only rounded here.
//   - A line is told by its pattern and its label, never by colour alone; the
//     colours are those of Okabe and Ito (Color Universal Design, 2008; from
//     memory) and every line has a dark edge, so that grey prints are readable.
//   - Slices are numbered from one, as people count. File names too.
//   - The same input gives the same bytes.
//
// # Frames
//
// A slice is drawn with the vitreous up, first column left. Seen from the
// front, the first column is left and the first slice on top, as in package
// oct/hole; a scan does not say which way it was made, so the compass, drawn
// only when the side is known, says that it assumes superior on top and the
// disc on the nasal side (right for a right eye; common practice, no source).
//
// Drawings are values of package scene. [WriteAll] writes them as SVG files.
package figure
