package decide

import (
	"fmt"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/tamponade"
)

// Condition is what the eye is to be treated for. Failed, reopened, myopic and
// traumatic holes are a [Hole] with the findings that say so.
type Condition string

// The conditions for which the table holds rules.
const (
	Hole                Condition = "hole"                  // full-thickness macular hole
	HoleWithDetachment  Condition = "hole-with-detachment"  // macular hole with retinal detachment
	EpiretinalMembrane  Condition = "epiretinal-membrane"   // with or without vein occlusion
	Traction            Condition = "traction"              // vitreomacular
	LamellarHole        Condition = "lamellar-hole"         // with foveoschisis and pseudohole
	RecurrentDetachment Condition = "recurrent-detachment"  // with membranes over and under the retina
	SubretinalBand      Condition = "subretinal-band"       // strands under the retina
	RetainedLiquid      Condition = "retained-heavy-liquid" // heavy liquid left under the retina
)

// Words names the condition as the trade does.
func (c Condition) Words() string {
	words := map[Condition]string{
		Hole: "full-thickness macular hole", HoleWithDetachment: "macular hole with retinal detachment", EpiretinalMembrane: "epiretinal membrane",
		Traction: "vitreomacular traction", LamellarHole: "lamellar hole, foveoschisis or pseudohole", RecurrentDetachment: "recurrent retinal detachment with membranes",
		SubretinalBand: "strand under the retina", RetainedLiquid: "heavy liquid left under the retina",
	}
	return words[c]
}

// Answer is yes, no or unknown. The zero value is a question that nobody
// answered; rules treat it as unknown, never as no.
type Answer string

// The answers.
const (
	NotTold Answer = ""
	Yes     Answer = "yes"
	No      Answer = "no"
	Unknown Answer = "unknown"
)

// ParseAnswer reads yes, no or unknown in any case; anything else is Invalid.
func ParseAnswer(text string) (Answer, error) {
	switch a := Answer(strings.ToLower(strings.TrimSpace(text))); a {
	case Yes, No, Unknown:
		return a, nil
	}
	return NotTold, &fault.Error{Code: fault.Invalid, Where: "answer", What: fmt.Sprintf("%q cannot be read", text), Expected: "yes, no or unknown"}
}

// Earlier is what earlier surgery for the same condition came to.
type Earlier string

// The results of earlier surgery; empty is not told.
const (
	EarlierNone     Earlier = "none"
	EarlierFailed   Earlier = "failed"   // never closed
	EarlierReopened Earlier = "reopened" // closed once, open again
)

// OpenAs is how a hole stands open after surgery; empty is not told.
type OpenAs string

// The ways to stand open: edges flat on the pigment epithelium with it bare
// between them, or edges raised.
const (
	OpenFlat     OpenAs = "flat"
	OpenElevated OpenAs = "elevated"
)

// Cause is where a hole or membrane comes from; empty is not told.
type Cause string

// The causes that the rules tell apart.
const (
	Idiopathic      Cause = "idiopathic"
	Trauma          Cause = "trauma"
	AfterDetachment Cause = "after-detachment"
	Inflammation    Cause = "inflammation"
)

// LamellarKind is one of the three conditions that look like a hole that is not
// full-thickness (Hubschman et al., Br J Ophthalmol 2020;104:1741, doi
// 10.1136/bjophthalmol-2019-315432, abstract); empty is not told.
type LamellarKind string

// The kinds.
const (
	TrueLamellar LamellarKind = "lamellar"
	Foveoschisis LamellarKind = "foveoschisis"
	Pseudohole   LamellarKind = "pseudohole"
)

// Findings are what is known of one eye. Whatever is nil, empty or NotTold is
// unknown and stays so: rows of the table say what then holds, and
// [Decision.Open] lists what would be worth knowing.
type Findings struct {
	Condition Condition `json:"condition"`
	Cause     Cause     `json:"cause,omitempty"`

	// MLDUM is the minimum linear diameter of the hole, µm, 30 to 3000. Its
	// interval decides how probable each size class is.
	MLDUM *estimate.Estimate `json:"mld_um,omitempty"`
	// LargestUM is the larger diameter of the smallest section of an oval hole,
	// µm; where it is known the size class goes by it.
	LargestUM *estimate.Estimate `json:"largest_um,omitempty"`
	// BaseUM is the diameter at the pigment epithelium, µm; never below MLDUM.
	BaseUM *estimate.Estimate `json:"base_um,omitempty"`
	// DurationMonths of symptoms, 0 to 600.
	DurationMonths *float64 `json:"duration_months,omitempty"`
	// ScanAgeDays is how old the scan is on which the figures rest.
	ScanAgeDays *float64 `json:"scan_age_days,omitempty"`
	// AxialLengthMM, 15 to 40.
	AxialLengthMM *float64 `json:"axial_length_mm,omitempty"`
	// BySoundInOil: the length was taken by sound with oil in the eye, which
	// makes it false-long; it is then not used.
	BySoundInOil Answer `json:"axial_length_by_sound_in_oil,omitempty"`

	// VitreousAttached: the vitreous still pulls at the fovea.
	VitreousAttached Answer `json:"vitreous_attached,omitempty"`
	// AttachmentUM is the width of that attachment, µm; broad above 1500.
	AttachmentUM *float64 `json:"attachment_um,omitempty"`
	// Membrane: an epiretinal membrane lies on the macula.
	Membrane Answer `json:"membrane,omitempty"`
	// MembraneStage is 1 to 4 (Govetto et al., Am J Ophthalmol 2017;175:99, doi
	// 10.1016/j.ajo.2016.12.006, abstract); 0 is not told.
	MembraneStage int          `json:"membrane_stage,omitempty"`
	Lamellar      LamellarKind `json:"lamellar,omitempty"`
	// Symptoms: distortion or loss that the patient wants treated.
	Symptoms Answer `json:"symptoms,omitempty"`
	// Worsening: acuity or tissue was lost between two visits.
	Worsening Answer `json:"worsening,omitempty"`
	// AcuityLogMAR before surgery, -0.5 to 3.
	AcuityLogMAR *float64 `json:"acuity_logmar,omitempty"`

	EarlierSurgery Earlier `json:"earlier_surgery,omitempty"`
	OpenAs         OpenAs  `json:"open_as,omitempty"`
	// MembraneLeft: the retina map shows limiting membrane left around the hole.
	MembraneLeft Answer `json:"membrane_left,omitempty"`
	// MembraneFurther: there is limiting membrane to be had further away.
	MembraneFurther Answer `json:"membrane_further,omitempty"`
	// DaysSinceSurgery of the failed operation.
	DaysSinceSurgery *float64 `json:"days_since_surgery,omitempty"`

	VeinOcclusion       Answer `json:"vein_occlusion,omitempty"`
	MacularIschaemia    Answer `json:"macular_ischaemia,omitempty"`
	VitreousHaemorrhage Answer `json:"vitreous_haemorrhage,omitempty"`
	// Detachment: the retina is detached. A hole with it is HoleWithDetachment.
	Detachment Answer `json:"detachment,omitempty"`
	// Proliferation: vitreoretinal, grade C or more.
	Proliferation Answer `json:"proliferation,omitempty"`
	// BandLifts: the strand under the retina holds it up or crosses the macula.
	BandLifts Answer `json:"band_lifts,omitempty"`

	// DropUM and DropDistanceUM are the diameter of the drop under the retina and
	// the distance of its centre from the foveal centre, µm.
	DropUM         *float64 `json:"drop_um,omitempty"`
	DropDistanceUM *float64 `json:"drop_distance_um,omitempty"`
	// DropIsLiquid: it is held to be heavy liquid, not oil, gas or fluid.
	DropIsLiquid Answer `json:"drop_is_liquid,omitempty"`

	Lens tamponade.Lens `json:"lens,omitempty"`
	// IridectomyOpen matters in an aphakic eye.
	IridectomyOpen Answer `json:"iridectomy_open,omitempty"`
	// Hydrophilic: the lens implant is hydrophilic acrylic.
	Hydrophilic Answer `json:"hydrophilic_implant,omitempty"`
	Glaucoma    Answer `json:"glaucoma,omitempty"`
	OnlyEye     Answer `json:"only_eye,omitempty"`
	// PaleFundus makes stain hard to see.
	PaleFundus Answer `json:"pale_fundus,omitempty"`
	Lattice    Answer `json:"lattice,omitempty"`

	CanPosture  Answer `json:"can_posture,omitempty"`
	ClotRisk    Answer `json:"clot_risk,omitempty"`
	FlightAhead Answer `json:"flight_ahead,omitempty"`
	// ClimbAhead: a road or home above where the patient has been living.
	ClimbAhead       Answer    `json:"climb_ahead,omitempty"`
	AnaestheticAhead Answer    `json:"anaesthetic_ahead,omitempty"`
	Allergies        []Allergy `json:"allergies,omitempty"`
	// GaugeG that the surgeon means to use: 20, 23, 25 or 27; 0 is open.
	GaugeG int `json:"gauge_g,omitempty"`
}

// Allergy is an agent that must not be used in this patient.
type Allergy string

// The agents that rules know.
const (
	AllergyBrilliantBlue    Allergy = "brilliant-blue"
	AllergyTrypanBlue       Allergy = "trypan-blue"
	AllergyIndocyanineGreen Allergy = "indocyanine-green"
	AllergyIodine           Allergy = "iodine"
	AllergySteroid          Allergy = "steroid"
)
