package record

// Patient holds the clinical facts about a patient that do not identify. Who
// it is stands in [Person].
type Patient struct {
	Base
	// BirthYear is kept for the age at surgery; 0 when not known. The full date
	// is the person's. De-identified views turn it into an age and group high ages.
	BirthYear      int          `json:"birth_year,omitempty"`
	Sex            Sex          `json:"sex,omitempty"`
	Allergies      []Allergy    `json:"allergies,omitempty"`
	NoAllergies    bool         `json:"no_allergies,omitempty"` // asked, none
	Conditions     []Condition  `json:"conditions,omitempty"`
	Medication     []Medication `json:"medication,omitempty"`
	ClotRisk       Answer       `json:"clot_risk,omitempty"` // recent clot or high risk: posture matters
	ClotRiskWhy    FreeText     `json:"clot_risk_why,omitempty"`
	CannotLieProne Answer       `json:"cannot_lie_prone,omitempty"`
	PostureLimits  FreeText     `json:"posture_limits,omitempty"`
	Note           FreeText     `json:"note,omitempty"`
}

// Kind is [KindPatient].
func (*Patient) Kind() Kind { return KindPatient }

// Links tells what it belongs to.
func (p *Patient) Links() Links { return Links{PatientID: p.ID} }

// Sex as recorded.
type Sex string

// The values of sex as recorded; empty is not told.
const (
	Female   Sex = "female"
	Male     Sex = "male"
	OtherSex Sex = "other"
)

// Answer is the answer to a question; the zero value means that it was not asked.
type Answer string

// The answers.
const (
	NotAsked Answer = ""
	Yes      Answer = "yes"
	No       Answer = "no"
	Unclear  Answer = "unclear"
)

// Allergy is a substance and what it did.
type Allergy struct {
	Substance FreeText `json:"substance"`
	Reaction  FreeText `json:"reaction,omitempty"`
}

// Condition is a disease that matters for the eye.
type Condition struct {
	Code  ConditionCode `json:"code"`
	Since Date          `json:"since,omitzero"`
	Note  FreeText      `json:"note,omitempty"`
}

// ConditionCode names a disease of the body.
type ConditionCode string

// The diseases of the body that matter for a macular operation.
const (
	Diabetes        ConditionCode = "diabetes"
	Hypertension    ConditionCode = "hypertension"
	Stroke          ConditionCode = "stroke"
	VenousClot      ConditionCode = "venous_clot"
	HeartDisease    ConditionCode = "heart_disease"
	LungDisease     ConditionCode = "lung_disease"
	KidneyDisease   ConditionCode = "kidney_disease"
	BleedingProne   ConditionCode = "bleeding_prone"
	OtherCondition  ConditionCode = "other"
	MovementLimited ConditionCode = "movement_limited"
)

// Medication is a drug with its dose as written.
type Medication struct {
	Class MedicationClass `json:"class"`
	Name  FreeText        `json:"name"`
	Dose  FreeText        `json:"dose,omitempty"`
	From  Date            `json:"from,omitzero"`
	Until Date            `json:"until,omitzero"`
}

// MedicationClass groups drugs by what they mean for the eye.
type MedicationClass string

// The groups of drugs.
const (
	Anticoagulant    MedicationClass = "anticoagulant"
	Antiplatelet     MedicationClass = "antiplatelet"
	PressureLowering MedicationClass = "pressure_lowering"
	Steroid          MedicationClass = "steroid"
	Antibiotic       MedicationClass = "antibiotic"
	AntiInflammatory MedicationClass = "anti_inflammatory"
	AntiVEGF         MedicationClass = "anti_vegf"
	OtherMedication  MedicationClass = "other"
)

// ContactAttempt is one try to reach a patient who is due. How the patient was
// reached (number, address) stands in [Person].
type ContactAttempt struct {
	Base
	PatientID ID             `json:"patient_id"`
	EyeID     ID             `json:"eye_id,omitempty"`
	On        Date           `json:"on"`
	By        AccountID      `json:"by"`
	Way       ContactWay     `json:"way"`
	Outcome   ContactOutcome `json:"outcome"`
	Note      FreeText       `json:"note,omitempty"`
}

// ContactOutcome says how an attempt ended.
type ContactOutcome string

// The outcomes of an attempt.
const (
	Reached       ContactOutcome = "reached"
	NotReached    ContactOutcome = "not_reached"
	MessageLeft   ContactOutcome = "message_left"
	WillCome      ContactOutcome = "will_come"
	WillNotCome   ContactOutcome = "will_not_come"
	SeenElsewhere ContactOutcome = "seen_elsewhere"
	Died          ContactOutcome = "died"
)

// Kind is [KindContact].
func (*ContactAttempt) Kind() Kind { return KindContact }

// Links tells what it belongs to.
func (c *ContactAttempt) Links() Links {
	return Links{PatientID: c.PatientID, EyeID: c.EyeID, Day: c.On}
}
