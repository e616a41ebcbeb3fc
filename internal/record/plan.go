package record

import (
	"encoding/json"
	"time"

	"limitans/estimate"
	"limitans/eye"
)

// Plan is what is to be done and why. Once signed it is frozen: a change is a
// new plan that names the one before in Replaces.
type Plan struct {
	Base
	PatientID ID        `json:"patient_id"`
	EyeID     ID        `json:"eye_id"`
	Revision  int       `json:"revision"` // 1 for the first
	Replaces  ID        `json:"replaces,omitempty"`
	MadeOn    Date      `json:"made_on"`
	MadeBy    AccountID `json:"made_by"`
	FiguresID ID        `json:"figures_id,omitempty"` // the figures it rests on
	ScanID    ID        `json:"scan_id,omitempty"`
	// Options in the order they were offered; the first is the one with the best
	// expected result.
	Options []PlanOption `json:"options,omitempty"`
	Chosen  string       `json:"chosen"` // code of one option
	// ReasonsAgainstFirst are needed when another option than the first was chosen.
	ReasonsAgainstFirst []PlanReason `json:"reasons_against_first,omitempty"`

	Side          eye.Laterality `json:"side"` // repeated on purpose; checked against the eye
	Anaesthesia   Anaesthesia    `json:"anaesthesia,omitempty"`
	GaugeG        int            `json:"gauge_g,omitempty"`
	WithLens      Answer         `json:"with_lens_surgery,omitempty"`
	Dye           Dye            `json:"dye,omitempty"`
	Stain         string         `json:"stain,omitempty"` // as named on the label
	Tamponade     Tamponade      `json:"tamponade,omitzero"`
	MediumPlanned Medium         `json:"medium_planned,omitempty"`
	PostureDays   *float64       `json:"posture_days,omitempty"`
	Posture       Posture        `json:"posture,omitempty"`
	Sheet         *Blob          `json:"sheet,omitempty"` // the theatre sheet's figures as computed
	Signed        *Signature     `json:"signed,omitempty"`
	Overrides     []Override     `json:"overrides,omitempty"`
	Note          FreeText       `json:"note,omitempty"`
}

// Kind is [KindPlan].
func (*Plan) Kind() Kind { return KindPlan }

// Links tells what it belongs to.
func (p *Plan) Links() Links { return Links{PatientID: p.PatientID, EyeID: p.EyeID, Day: p.MadeOn} }

// Frozen reports whether the plan was signed and must not change.
func (p *Plan) Frozen() bool { return p.Signed != nil }

// PlanOption is one way to operate, as it was offered.
type PlanOption struct {
	Code            string             `json:"code"`
	Name            string             `json:"name"`
	ExpectedClosure *estimate.Estimate `json:"expected_closure,omitempty"` // share, 0 to 1
	Why             []string           `json:"why,omitempty"`              // worded by the program
	WhyNot          []string           `json:"why_not,omitempty"`
}

// PlanReason is why another option was taken than the first.
type PlanReason struct {
	Code ReasonCode `json:"code"`
	Text FreeText   `json:"text,omitempty"`
}

// ReasonCode groups reasons for choosing.
type ReasonCode string

// The reasons for choosing another option than the first.
const (
	ReasonExperience ReasonCode = "surgeon_experience"
	ReasonEquipment  ReasonCode = "not_available"
	ReasonPatient    ReasonCode = "patient_wish"
	ReasonPosture    ReasonCode = "posture_not_possible"
	ReasonTravel     ReasonCode = "travel_or_altitude"
	ReasonAllergy    ReasonCode = "allergy"
	ReasonFellowEye  ReasonCode = "fellow_eye"
	ReasonEarlier    ReasonCode = "earlier_surgery"
	ReasonOther      ReasonCode = "other"
)

// Tamponade is what is to be left in the eye.
type Tamponade struct {
	Class       AgentClass `json:"class,omitempty"`
	Gas         Gas        `json:"gas,omitempty"`
	GasText     FreeText   `json:"gas_text,omitempty"`
	Percent     *float64   `json:"percent,omitempty"`
	FillPercent *float64   `json:"fill_percent,omitempty"`
}

// Anaesthesia of an operation.
type Anaesthesia string

// The kinds of anaesthesia.
const (
	AnaesthesiaGeneral  Anaesthesia = "general"
	AnaesthesiaBlock    Anaesthesia = "block"
	AnaesthesiaTopical  Anaesthesia = "topical"
	AnaesthesiaSedation Anaesthesia = "block_with_sedation"
)

// Posture after an operation.
type Posture string

// The postures.
const (
	PostureFaceDown  Posture = "face_down"
	PostureUpright   Posture = "upright"
	PostureRightSide Posture = "right_side"
	PostureLeftSide  Posture = "left_side"
	PostureNotSupine Posture = "not_on_the_back"
	PostureFree      Posture = "free"
)

// Signature says who stood for the content and when.
type Signature struct {
	By Actor     `json:"by"`
	At time.Time `json:"at"`
}

// Override is a stop that a person passed with a reason. TypedSide is needed
// where the stop was about sides.
type Override struct {
	Code      FindingCode    `json:"code"`
	Reason    FreeText       `json:"reason"`
	By        Actor          `json:"by"`
	At        time.Time      `json:"at"`
	TypedSide eye.Laterality `json:"typed_side,omitempty"`
	// SecondBy is the second person where the stop asks for one.
	SecondBy AccountID `json:"second_by,omitempty"`
}

// Blob is a versioned JSON value whose form another package knows.
type Blob struct {
	Schema  string          `json:"schema"`
	Version int             `json:"version"`
	Data    json.RawMessage `json:"data"`
}
