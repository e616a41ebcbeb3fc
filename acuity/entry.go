package acuity

import (
	"encoding/json"
	"fmt"
	"strings"

	"limitans/eye"
	"limitans/fault"
)

// Kind says what sort of thing was written.
type Kind string

// The kinds. The four categories off the chart are in order, best first.
const (
	// Measured: a value read on a chart.
	Measured Kind = "measured"
	// CountingFingers: the eye counts fingers.
	CountingFingers Kind = "counting_fingers"
	// HandMovements: the eye sees a hand move.
	HandMovements Kind = "hand_movements"
	// LightPerception: the eye tells light from dark.
	LightPerception Kind = "light_perception"
	// NoLightPerception: the eye sees nothing.
	NoLightPerception Kind = "no_light_perception"
	// Near: a near value; never mixed with distance values.
	Near Kind = "near"
	// Unusable: nothing can be taken from the text; the note says why.
	Unusable Kind = "unusable"
	// Ask: more than one reading is possible, or a person must confirm.
	Ask Kind = "ask"
)

func (k Kind) words() string { return strings.ReplaceAll(string(k), "_", " ") }

// Role says under which correction the eye was tested.
type Role string

// The roles. A role that was not written stays unknown.
const (
	Corrected   Role = "corrected"
	Uncorrected Role = "uncorrected"
	Pinhole     Role = "pinhole"
	RoleUnknown Role = "unknown"
)

// Reading is one of the possible meanings of a text of kind [Ask].
type Reading struct {
	As      string   `json:"as"` // the reading in words
	Kind    Kind     `json:"kind"`
	LogMAR  *float64 `json:"logmar"`
	Letters *float64 `json:"letters"`
	Scheme  string   `json:"scheme"`
}

// Entry is one acuity found in a text.
//
// LogMAR is nil when nothing measurable was written. For counting fingers and
// hand movements it is the substitute of the scheme named in Scheme, not a
// measurement. For Near it is the near value, and only when the reading
// distance was written.
type Entry struct {
	Raw       string    `json:"raw"` // the whole text as given
	Kind      Kind      `json:"kind"`
	LogMAR    *float64  `json:"logmar"`
	Letters   *float64  `json:"letters"` // letter score by formula, unrounded; nil off the chart
	Scheme    string    `json:"scheme"`  // how LogMAR came about
	Role      Role      `json:"role"`
	DistanceM *float64  `json:"distance_m"` // test distance in metres, when the text tells it
	Readings  []Reading `json:"readings"`   // for kind ask; else empty
	Note      string    `json:"note"`

	// Understood is the value in plain words, such as "6/9, 2 letters missed".
	// Empty in entries that were stored before it was kept.
	Understood string `json:"understood,omitempty"`
	// Missing is true for an unusable text that says or shows that there is no
	// value (blank, "N/A", 999), as opposed to one that cannot be read.
	Missing bool `json:"missing,omitempty"`
	// Partial is true when the line was read only in part and no letters are told.
	Partial bool `json:"partial,omitempty"`
	// LettersMissed and LettersGained are the letters written behind the line.
	LettersMissed int `json:"letters_missed,omitempty"`
	LettersGained int `json:"letters_gained,omitempty"`
	// Side is the eye named in the text, if any.
	Side eye.Laterality `json:"side,omitzero"`

	plain     bool    // a number without a unit or slash
	plainNum  float64 // that number
	overTen   bool    // a fraction over 10
	numerator float64 // of a fraction over 10
}

// MarshalJSON writes nine keys always, readings as an empty array when there are
// none, and those of what was understood besides only where they say something,
// so that what is stored reads the same whatever a later parser would make of the
// text. What an entry was told apart by within one file (a plain number, a
// fraction over 10) is for [DecideNotation] and is not written.
func (e Entry) MarshalJSON() ([]byte, error) {
	type entry Entry // without this method
	if e.Readings == nil {
		e.Readings = []Reading{}
	}
	return json.Marshal(entry(e))
}

// PlainNumbers says what numbers without a unit mean in a file.
type PlainNumbers int

// The meanings of plain numbers.
const (
	PlainUndecided PlainNumbers = iota
	PlainDecimal
	PlainLogMAR
	PlainLetters
)

// String names the meaning.
func (p PlainNumbers) String() string {
	return [...]string{"undecided", "decimal acuity", "logMAR", "letter score"}[max(0, min(int(p), 3))]
}

// OverTen says what fractions over 10 mean in a file. The acuity is the same;
// only the test distance differs.
type OverTen int

// The meanings of fractions over 10.
const (
	OverTenUndecided OverTen = iota
	OverTenTenths            // tenths of decimal acuity, test distance not told
	OverTenSnellen           // Snellen, numerator is the distance in metres
)

// String names the meaning.
func (o OverTen) String() string {
	return [...]string{"undecided", "tenths of decimal acuity", "Snellen in metres"}[max(0, min(int(o), 2))]
}

// Codes says what numbers are that equal a low-vision code, such as logMAR
// 2.30 or 3.00.
type Codes int

// The meanings of numbers that equal a code.
const (
	CodesUndecided  Codes = iota // ask
	CodesMeasured                // a chart value
	CodesCategories              // the category; which one is asked when schemes differ
)

// Options tell what a file has settled. The zero value settles nothing, counts
// letters and uses [Lange2009].
type Options struct {
	// Language is the file's language as a two-letter ISO 639-1 code, see
	// [Languages]; empty when not told. National abbreviations of two letters
	// are read only with it.
	Language string
	// Plain and OverTen are what [DecideNotation] or a person decided.
	Plain   PlainNumbers
	OverTen OverTen
	// Codes settles numbers such as logMAR 2.30.
	Codes Codes
	// IgnoreLetters leaves letters missed or gained out of logMAR, as a large
	// record study did (Goldstein et al. 2022, Ophthalmol Sci 3:100215).
	IgnoreLetters bool
	// LowVision is the scheme for counting fingers and hand movements.
	LowVision LowVisionScheme
}

// Check returns a fault when an option has no meaning.
func (o Options) Check() error {
	if o.Language != "" {
		known := Languages()
		found := false
		for _, l := range known {
			found = found || l == o.Language
		}
		if !found {
			return &fault.Error{
				Code: fault.Invalid, Where: "language", What: fmt.Sprintf("%q is not known", o.Language),
				Expected: "one of " + strings.Join(known, ", "),
			}
		}
	}
	if !o.LowVision.valid() {
		return &fault.Error{Code: fault.Invalid, Where: "low-vision scheme", What: o.LowVision.String()}
	}
	return nil
}

func addNote(e *Entry, note string) {
	if note == "" || strings.Contains(e.Note, note) {
		return
	}
	if e.Note != "" {
		e.Note += "; "
	}
	e.Note += note
}

func unusable(why string) Entry { return Entry{Kind: Unusable, Role: RoleUnknown, Note: why} }

func missing(why string) Entry {
	e := unusable("missing: " + why)
	e.Missing = true
	return e
}

// chartValue returns a measured entry, or an unusable one when no human eye
// and chart give the value.
func chartValue(logMAR float64, scheme, understood string) Entry {
	if !finite(logMAR) || !inRange(logMAR) {
		e := unusable(fmt.Sprintf("%s: logMAR %.2f is outside what is accepted as measured (%g to %g)", understood, logMAR, MinLogMAR, MaxLogMAR))
		e.Understood = understood
		return e
	}
	logMAR = zeroSign(logMAR)
	e := Entry{Kind: Measured, Role: RoleUnknown, LogMAR: &logMAR, Scheme: scheme, Understood: understood}
	setLetters(&e)
	return e
}

func setLetters(e *Entry) {
	e.Letters = nil
	if letters, err := LettersFromLogMAR(*e.LogMAR); err == nil {
		e.Letters = &letters
	} else {
		addNote(e, "off the letter chart, no letter score")
	}
}

// asReading turns an entry into a possibility.
func asReading(e Entry) Reading {
	as := e.Understood
	if as == "" {
		as = e.Note
	}
	return Reading{As: as, Kind: e.Kind, LogMAR: e.LogMAR, Letters: e.Letters, Scheme: e.Scheme}
}

// question returns an entry of kind ask. Unusable candidates are left out
// unless they stand for "no value".
func question(why string, candidates ...Entry) Entry {
	e := Entry{Kind: Ask, Role: RoleUnknown, Note: why}
	for _, c := range candidates {
		if c.Kind == Ask {
			e.Readings = append(e.Readings, c.Readings...)
		} else if c.Kind != Unusable || c.Missing {
			e.Readings = append(e.Readings, asReading(c))
		}
	}
	if len(e.Readings) == 0 {
		e.Kind = Unusable
	}
	return e
}
