package record

// Severity says what a finding asks for.
type Severity string

// The severities.
const (
	// Stop: nothing is saved until it is mended or, where the trade allows,
	// overridden with a typed reason.
	Stop Severity = "stop"
	// Ask: a person must choose between readings.
	Ask Severity = "ask"
	// Warn: odd, but possible; shown and kept.
	Warn Severity = "warn"
)

// FindingCode names a rule. Its text is stable: overrides are stored with it.
type FindingCode string

// Finding is what a check found.
type Finding struct {
	Severity Severity    `json:"severity"`
	Code     FindingCode `json:"code"`
	Where    string      `json:"where"` // field, as in the JSON form
	What     string      `json:"what"`
	Mend     string      `json:"mend,omitempty"`
	// Overridable stops can be passed with an [Override].
	Overridable bool `json:"overridable,omitempty"`
}
