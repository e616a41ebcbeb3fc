package record

import "limitans/eye"

// Eye is one eye of one patient; everything hangs on it.
type Eye struct {
	Base
	PatientID    ID             `json:"patient_id"`
	Side         eye.Laterality `json:"side"`
	AxialLengths []AxialLength  `json:"axial_lengths,omitempty"`
	Diagnoses    []Diagnosis    `json:"diagnoses,omitempty"`
	Note         FreeText       `json:"note,omitempty"`
}

// Kind is [KindEye].
func (*Eye) Kind() Kind { return KindEye }

// Links tells what it belongs to.
func (e *Eye) Links() Links { return Links{PatientID: e.PatientID, EyeID: e.ID} }

// AxialLength is one measurement of the length of the eye. The medium in the
// eye at the measurement belongs to it: sound is slower in oil.
type AxialLength struct {
	LengthMM   float64        `json:"length_mm"`
	Method     BiometryMethod `json:"method"`
	MediumThen Medium         `json:"medium_then"` // empty: not told
	// SpeedCorrected: the speed of sound was set for the medium.
	SpeedCorrected Answer   `json:"speed_corrected,omitempty"`
	Staphyloma     Answer   `json:"staphyloma,omitempty"`
	On             Date     `json:"on,omitzero"`
	Raw            FreeText `json:"raw,omitempty"`
}

// BiometryMethod says how the length was measured.
type BiometryMethod string

// The ways to measure the length of an eye; empty is not told.
const (
	BiometryLight      BiometryMethod = "light"
	BiometryUltrasound BiometryMethod = "ultrasound"
)

// Medium is what fills the vitreous cavity.
type Medium string

// What can fill the cavity. Fluid is vitreous, aqueous or infusion. Empty is
// not told.
const (
	MediumFluid       Medium = "fluid"
	MediumAir         Medium = "air"
	MediumGas         Medium = "gas"
	MediumOil         Medium = "oil"
	MediumHeavyOil    Medium = "heavy_oil"
	MediumHeavyLiquid Medium = "heavy_liquid"
)

// Diagnosis is what is wrong with the eye.
type Diagnosis struct {
	Code  DiagnosisCode `json:"code"`
	Since Date          `json:"since,omitzero"`
	Until Date          `json:"until,omitzero"`
	Note  FreeText      `json:"note,omitempty"`
}

// DiagnosisCode names what is wrong with an eye.
type DiagnosisCode string

// The diagnoses of the trade.
const (
	FullThicknessHole      DiagnosisCode = "full_thickness_macular_hole"
	LamellarHole           DiagnosisCode = "lamellar_macular_hole"
	Pseudohole             DiagnosisCode = "macular_pseudohole"
	EpiretinalMembrane     DiagnosisCode = "epiretinal_membrane"
	VitreomacularTraction  DiagnosisCode = "vitreomacular_traction"
	MyopicFoveoschisis     DiagnosisCode = "myopic_foveoschisis"
	MacularHoleDetachment  DiagnosisCode = "macular_hole_detachment"
	RetinalDetachment      DiagnosisCode = "retinal_detachment"
	ProliferativeVR        DiagnosisCode = "proliferative_vitreoretinopathy"
	DiabeticRetinopathy    DiagnosisCode = "diabetic_retinopathy"
	VeinOcclusion          DiagnosisCode = "retinal_vein_occlusion"
	VitreousHaemorrhage    DiagnosisCode = "vitreous_haemorrhage"
	RetainedHeavyLiquid    DiagnosisCode = "retained_heavy_liquid"
	MacularDegeneration    DiagnosisCode = "macular_degeneration"
	PathologicMyopia       DiagnosisCode = "pathologic_myopia"
	Glaucoma               DiagnosisCode = "glaucoma"
	Uveitis                DiagnosisCode = "uveitis"
	EyeInjury              DiagnosisCode = "eye_injury"
	SubmacularHaemorrhage  DiagnosisCode = "submacular_haemorrhage"
	DislocatedLens         DiagnosisCode = "dislocated_lens"
	Endophthalmitis        DiagnosisCode = "endophthalmitis"
	OtherDiagnosis         DiagnosisCode = "other"
	AgeRelatedCataract     DiagnosisCode = "cataract"
	OpticPitMaculopathy    DiagnosisCode = "optic_pit_maculopathy"
	MacularTelangiectasia2 DiagnosisCode = "macular_telangiectasia_2"
)

// LensState is the lens of the eye.
type LensState string

// The states of the lens; empty is not told.
const (
	LensClear           LensState = "phakic_clear"
	LensCataract        LensState = "phakic_cataract"
	LensPseudophakic    LensState = "pseudophakic"
	LensAphakic         LensState = "aphakic"
	LensAnteriorChamber LensState = "anterior_chamber_lens"
)
