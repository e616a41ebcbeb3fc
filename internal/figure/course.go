package figure

import "limitans/internal/record"

// CourseChart is what the course picture of one eye shows: everything that
// happened to the eye along one axis of time. [CourseOf] makes it from the
// record; everything in it is a plain value.
type CourseChart struct {
	// Name makes the identifiers of the drawing unique on its page.
	Name         string
	Title, Below string
	// Zero is the day that days are counted from: that of the first operation
	// that opened the eye, or the first day of all. Unknown for an empty course.
	Zero record.Date
	// From and To are the window in days from Zero; both zero for everything.
	From, To float64
	// Today is the day of the question in days from Zero; NaN when not told.
	Today float64

	Operations     []CourseOperation
	Acuity         []CourseAcuity
	Holes          []CourseHole
	Closures       []CourseClosure
	Thickness      []CourseThickness
	Bubbles        []CourseBubble
	Readings       []CourseReading
	Fillings       []CourseFilling
	Pressures      []CoursePressure
	PressureLevels []CourseLevel
	Visits         []CourseEntry
	Scans          []CourseEntry
	Films          []CourseEntry

	// Undated are facts whose day is not known; they are told in words.
	Undated []CourseMark
	// Notes say what is assumed and what is not drawn.
	Notes []string
}

// CourseMark is the part that every mark of a course has.
type CourseMark struct {
	// Day counts from the chart's Zero; Early and Late are the first and the last
	// day it may have been, equal where the day is known in full.
	Day, Early, Late float64
	Date             string // in words
	Text             string // what it is, without the date
	Href             string // where it leads; may be empty
}

// CourseOperation is an operation or procedure.
type CourseOperation struct {
	CourseMark
	Label string // a few words
	// Opened: the eye was opened; time is counted anew from such a day. Other
	// procedures (an injection, laser) are drawn lighter.
	Opened bool
}

// CourseAcuity is one value of acuity.
type CourseAcuity struct {
	CourseMark
	// LogMAR is NaN where nothing was measured on a chart.
	LogMAR float64
	// OffChart is 0 for a chart value, 1 counting fingers, 2 hand movements, 3
	// light perception, 4 no light perception.
	OffChart int
	// Written is the value as it was written.
	Written string
	// Joined: the line runs through it. A value that does not count (through
	// gas, a question) is hollow, and WhyNot says why.
	Joined bool
	Counts bool
	WhyNot string
}

// CourseHole is the size of the hole on a scan, µm, with its 95 % interval; all
// NaN when a hole is there but was not measured.
type CourseHole struct {
	CourseMark
	SizeUM, LowUM, HighUM float64
	Why                   string // why it was not measured
}

// CourseClosure is how the hole stood.
type CourseClosure struct {
	CourseMark
	Class record.ClosureClass // empty where a scan alone told that there is none
	Label string              // a few words
	// Closed is [record.Unclear] where the class does not tell.
	Closed record.Answer
}

// CourseThickness is the central thickness of the retina, µm, with its interval.
type CourseThickness struct {
	CourseMark
	ThicknessUM, LowUM, HighUM float64
}

// CourseBubble is a bubble of gas or air: what was predicted when it was put in,
// and how long it is known to have been there.
type CourseBubble struct {
	CourseMark
	Label string // "SF6 20 %"
	// Days after Day, with the predicted share of the cavity; none when it could
	// not be predicted, and Why then says so.
	Days             []float64
	Value, Low, High []float64
	Why              string
	// Until is when it was taken out or the eye was seen empty; NaN while it must
	// be taken to be there. Doubt: the record does not tell.
	Until float64
	Doubt bool
	// Level is the least share that covers the macula upright; NaN when unknown.
	Level float64
}

// CourseReading is a bubble as it was seen, as shares of the cavity.
type CourseReading struct {
	CourseMark
	Fill, Low, High float64
	// Unlike: the reading and the prediction exclude each other.
	Unlike bool
}

// CourseFilling is oil or heavy liquid in the eye.
type CourseFilling struct {
	CourseMark
	Medium record.Medium
	Label  string
	// Until is when it was taken out; NaN while it is there or may be.
	Until float64
	// Rest: some was left or seen after that. Doubt: the record does not tell
	// whether it is still there.
	Rest, Doubt bool
	// SinceUnknown: nobody told when it was put in.
	SinceUnknown bool
}

// CoursePressure is one measurement of the pressure.
type CoursePressure struct {
	CourseMark
	MmHg    float64
	Treated bool // drops were given then
}

// CourseLevel is a pressure that means something.
type CourseLevel struct {
	MmHg  float64
	Label string
}

// CourseEntry is a visit, a scan or a film.
type CourseEntry struct {
	CourseMark
	// Trouble is a complication in a few words; empty when there was none.
	Trouble string
}

// CourseForm says for what a course is drawn.
type CourseForm struct {
	// Width of the sheet in units of 1/96 inch; 0 for 1240. Below 640 names stand
	// over the lanes instead of beside them.
	Width float64
	// Sheet adds head, notes and cautions: a file or a print stands alone. In a
	// page these are the page's.
	Sheet bool
	// Print draws black on white, with patterns instead of tints.
	Print bool
}

// CourseOptions say how a course is read from the record.
type CourseOptions struct {
	Name         string // default "course"
	Title, Below string // default title: the side of the eye
	// AsOf is today; what is later is not drawn. Unknown: everything is drawn.
	AsOf record.Date
	// From and To are the window; unknown for everything.
	From, To record.Date
	// Link returns where a noun opens, or nothing; nil for no links.
	Link func(kind record.Kind, id record.ID) string
}
