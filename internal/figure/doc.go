// Package figure draws what was measured on a scan: every slice with its
// lines, the scan seen from the front, the hole as a body in space, the
// thickness map, and a sheet of small slices around the hole; how a bubble goes;
// and the course of an eye.
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
// # The course of an eye
//
// [CourseOf] reads a record into a [CourseChart] of plain values, [DrawCourse] and
// [DrawCourses] draw it, [CourseFacts] tells the same facts as a table: what is a
// mark in the picture is a line of the table and the other way round. Nothing is
// left out for want of room but words; a label that does not fit is still the
// text of its mark.
//
//   - Time is stretched around operations by a stated rule (see courseAxis); it is
//     one axis for all lanes and both eyes.
//   - Sight off the chart stands in rows of its own, in order and without a
//     distance. Values that do not count are hollow and joined to nothing.
//   - A bubble's prediction is what was to be expected at surgery from what was
//     stored; what is lacking for it is said, never guessed, and what is assumed
//     stands in the notes.
//   - What has a day known in part gets a whisker over the days it may have been
//     of; what has none stands in words.
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
