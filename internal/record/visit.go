package record

import (
	"limitans/acuity"
)

// Visit is what was seen of one eye on one day.
type Visit struct {
	Base
	PatientID ID        `json:"patient_id"`
	EyeID     ID        `json:"eye_id"`
	On        Date      `json:"on"`
	At        Clock     `json:"at,omitempty"`
	SeenBy    AccountID `json:"seen_by,omitempty"`
	// Elsewhere: the findings were told by another unit.
	Elsewhere bool `json:"elsewhere,omitempty"`

	Acuities   []AcuityEntry   `json:"acuities,omitempty"`
	Pressures  []Pressure      `json:"pressures,omitempty"`
	Lens       LensState       `json:"lens,omitempty"`
	Closure    *Closure        `json:"closure,omitempty"`
	Bubble     []BubbleReading `json:"bubble,omitempty"`
	MediaSeen  []MediumSeen    `json:"media_seen,omitempty"`
	Medication []Medication    `json:"medication,omitempty"`

	Complications   []Complication `json:"complications,omitempty"`
	NoComplications bool           `json:"no_complications,omitempty"` // asked, none

	// Missing says of values that are not there why.
	Missing []MissingValue `json:"missing,omitempty"`
	// DueBy is the day by which the eye must be seen again; zero when nothing was agreed.
	DueBy  Date   `json:"due_by,omitzero"`
	DueFor DueFor `json:"due_for,omitempty"`
	// Signed, Overrides and Note as everywhere.
	Signed    *Signature `json:"signed,omitempty"`
	Overrides []Override `json:"overrides,omitempty"`
	Note      FreeText   `json:"note,omitempty"`
}

// Kind is [KindVisit].
func (*Visit) Kind() Kind { return KindVisit }

// Links tells what it belongs to.
func (v *Visit) Links() Links { return Links{PatientID: v.PatientID, EyeID: v.EyeID, Day: v.On} }

// AcuityEntry is acuity as typed beside what was understood.
type AcuityEntry struct {
	Raw FreeText `json:"raw"`
	// Understood is what package acuity read, one or more values with roles.
	Understood []acuity.Entry `json:"understood"`
	// Chosen is what a person answered where the text had two readings; it then
	// counts instead of Understood.
	Chosen   *acuity.Reading `json:"chosen,omitempty"`
	ChosenBy AccountID       `json:"chosen_by,omitempty"`
	// Role as a person gave it, where the text does not tell it.
	Role acuity.Role `json:"role,omitempty"`
	// Through is what filled the eye when acuity was taken. A value through gas
	// or air is true but no result, and never replaces the baseline.
	Through Medium `json:"through,omitempty"`
}

// Pressure is one measurement of the pressure in the eye.
type Pressure struct {
	MmHg   *float64       `json:"mmhg,omitempty"`
	Method PressureMethod `json:"method,omitempty"`
	At     Clock          `json:"at,omitempty"`
	// Drops are the pressure-lowering agents used then; NoDrops: asked, none.
	Drops   []FreeText `json:"drops,omitempty"`
	NoDrops bool       `json:"no_drops,omitempty"`
	Raw     FreeText   `json:"raw,omitempty"`
}

// PressureMethod says how pressure was measured.
type PressureMethod string

// The ways to measure the pressure; empty is not told.
const (
	PressureApplanation PressureMethod = "goldmann_applanation"
	PressureHandApplan  PressureMethod = "handheld_applanation"
	PressureAirPuff     PressureMethod = "air_puff"
	PressureRebound     PressureMethod = "rebound"
	PressureDynamic     PressureMethod = "dynamic_contour"
	PressureFinger      PressureMethod = "finger"
	PressureMachine     PressureMethod = "vitrectomy_machine"
)

// Closure says how the hole stands, in the trade's classes. It is never yes or no.
type Closure struct {
	Class  ClosureClass `json:"class"`
	Source ClosureFrom  `json:"source,omitempty"`
	ScanID ID           `json:"scan_id,omitempty"`
	By     AccountID    `json:"by,omitempty"`
	Note   FreeText     `json:"note,omitempty"`
}

// ClosureClass names how a hole stands; [ClosureClasses] gives each with its
// source.
type ClosureClass string

// The classes of closure.
const (
	ClosedNoDefect   ClosureClass = "closed_without_defect"
	ClosedWithDefect ClosureClass = "closed_with_defect"
	FlatClosed       ClosureClass = "flat_closed"
	FlatOpen         ClosureClass = "flat_open"
	ElevatedOpen     ClosureClass = "elevated_open"
	ElevatedClosed   ClosureClass = "elevated_closed"
	KangType1        ClosureClass = "type_1"
	KangType2        ClosureClass = "type_2"
	ClosureUnread    ClosureClass = "not_readable"
	Reopened         ClosureClass = "reopened"
)

// ClosureFrom says what the class rests on.
type ClosureFrom string

// What a class of closure can rest on.
const (
	ClosureFromOCT    ClosureFrom = "oct"
	ClosureFromClinic ClosureFrom = "slit_lamp"
	ClosureFromLetter ClosureFrom = "letter"
	ClosureThroughGas ClosureFrom = "oct_through_gas"
)

// BubbleReading is how big a bubble looked: as a share of the cavity or as the
// height of its meniscus, with the error of the reading.
type BubbleReading struct {
	Medium Medium `json:"medium"`
	// FillPercent of the cavity's volume.
	FillPercent      *float64 `json:"fill_percent,omitempty"`
	FillErrorPercent *float64 `json:"fill_error_percent,omitempty"` // half width of the 95 % interval
	// MeniscusPercent is how much of the cavity's vertical diameter, upright and
	// looking ahead, lies above the fluid line: 100 is a full bubble, 0 none.
	MeniscusPercent      *float64 `json:"meniscus_percent,omitempty"`
	MeniscusErrorPercent *float64 `json:"meniscus_error_percent,omitempty"`
	At                   Clock    `json:"at,omitempty"`
	Note                 FreeText `json:"note,omitempty"`
}

// MediumSeen says what foreign medium was seen in the eye at a visit.
type MediumSeen struct {
	Medium Medium     `json:"medium"`
	State  MediumLook `json:"state"`
	// DropletUM and FoveaDistanceUM of a single droplet.
	DropletUM       *float64 `json:"droplet_um,omitempty"`
	FoveaDistanceUM *float64 `json:"fovea_distance_um,omitempty"`
	Note            FreeText `json:"note,omitempty"`
}

// MediumLook says how a medium looked.
type MediumLook string

// How a medium looks.
const (
	LookFull       MediumLook = "full"
	LookPartial    MediumLook = "partial"
	LookDroplets   MediumLook = "droplets"
	LookEmulsified MediumLook = "emulsified"
	LookSubretinal MediumLook = "under_the_retina"
	LookAnterior   MediumLook = "in_the_anterior_chamber"
	LookNone       MediumLook = "seen_empty"
)

// Complication is something that went wrong after an operation.
type Complication struct {
	Code  ComplicationCode `json:"code"`
	Since Date             `json:"since,omitzero"`
	Note  FreeText         `json:"note,omitempty"`
}

// ComplicationCode names a complication.
type ComplicationCode string

// The complications.
const (
	CompDetachment      ComplicationCode = "retinal_detachment"
	CompBreak           ComplicationCode = "retinal_break"
	CompHighPressure    ComplicationCode = "high_pressure"
	CompHypotony        ComplicationCode = "hypotony"
	CompEndophthalmitis ComplicationCode = "endophthalmitis"
	CompHaemorrhage     ComplicationCode = "vitreous_haemorrhage"
	CompCataract        ComplicationCode = "cataract"
	CompFieldLoss       ComplicationCode = "field_loss"
	CompMacularOedema   ComplicationCode = "macular_oedema"
	CompReopening       ComplicationCode = "hole_reopened"
	CompUveitis         ComplicationCode = "inflammation"
	CompKeratopathy     ComplicationCode = "keratopathy"
	CompEmulsification  ComplicationCode = "oil_emulsified"
	CompOilAnterior     ComplicationCode = "oil_in_anterior_chamber"
	CompRetainedLiquid  ComplicationCode = "retained_heavy_liquid"
	CompChoroidal       ComplicationCode = "choroidal_detachment"
	CompWoundLeak       ComplicationCode = "wound_leak"
	CompDyeToxicity     ComplicationCode = "dye_toxicity"
	CompUnexplainedLoss ComplicationCode = "unexplained_loss_of_vision"
	CompClot            ComplicationCode = "venous_clot"
	CompOther           ComplicationCode = "other"
)

// MissingValue says of a value that is not there why.
type MissingValue struct {
	Field  MissingField  `json:"field"`
	Reason MissingReason `json:"reason"`
	Note   FreeText      `json:"note,omitempty"`
}

// MissingField names a value of a visit.
type MissingField string

// The values of a visit that can be missing.
const (
	FieldAcuity   MissingField = "acuity"
	FieldPressure MissingField = "pressure"
	FieldLens     MissingField = "lens"
	FieldClosure  MissingField = "closure"
	FieldBubble   MissingField = "bubble"
	FieldScan     MissingField = "scan"
)

// MissingReason says why a value is missing.
type MissingReason string

// Why a value is missing.
const (
	NotDone        MissingReason = "not_done"
	NotPossible    MissingReason = "not_possible"
	PatientRefused MissingReason = "refused"
	NotWritten     MissingReason = "not_written_down"
	CannotBeRead   MissingReason = "cannot_be_read"
	NoReasonGiven  MissingReason = "no_reason_given"
)

// DueFor says why an eye must be seen.
type DueFor string

// Why an eye must be seen.
const (
	DueReview        DueFor = "review"
	DuePressure      DueFor = "pressure"
	DueGasCheck      DueFor = "gas_check"
	DueOilRemoval    DueFor = "oil_removal"
	DueHeavyLiquid   DueFor = "heavy_liquid_removal"
	DueFellowEyeScan DueFor = "fellow_eye_scan"
)
