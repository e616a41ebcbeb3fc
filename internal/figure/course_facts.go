package figure

// CourseFact is one thing that a course picture shows, in words.
type CourseFact struct {
	Day  float64 `json:"day"` // NaN when the day is not known
	Date string  `json:"date"`
	Lane string  `json:"lane"` // operation, acuity, hole, bubble, …
	Text string  `json:"text"`
	Href string  `json:"href,omitempty"`
}

// CourseFacts lists all that a course picture shows, in order of time, facts
// without a day last: the same facts as a table, for who cannot see the picture.
func CourseFacts(c CourseChart) []CourseFact { return nil }

// CourseZoom is a window worth looking at.
type CourseZoom struct {
	Label    string
	From, To string // days as in the record, for a link; empty for everything
}

// CourseZooms lists the windows of a course: everything, the weeks around each
// operation, the last year.
func CourseZooms(c CourseChart) []CourseZoom { return nil }
