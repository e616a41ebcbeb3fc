package record

import (
	"time"

	"limitans/estimate"
	"limitans/eye"
)

// Operation is one operation or procedure on one eye.
type Operation struct {
	Base
	PatientID ID             `json:"patient_id"`
	EyeID     ID             `json:"eye_id"`
	PlanID    ID             `json:"plan_id,omitempty"`
	On        Date           `json:"on"`
	StartedAt Clock          `json:"started_at,omitempty"`
	EndedAt   Clock          `json:"ended_at,omitempty"`
	Procedure Procedure      `json:"procedure"`
	Side      eye.Laterality `json:"side"` // repeated on purpose; checked against the eye
	// SideChecks are the moments at which a person typed the side.
	SideChecks []SideCheck `json:"side_checks,omitempty"`
	// Indication is why this operation was done.
	Indication DiagnosisCode `json:"indication,omitempty"`

	Surgeon     AccountID   `json:"surgeon"`
	Supervisor  AccountID   `json:"supervisor,omitempty"`
	Assistants  []Assistant `json:"assistants,omitempty"`
	Anaesthesia Anaesthesia `json:"anaesthesia,omitempty"`

	LensBefore LensState `json:"lens_before,omitempty"`
	LensAfter  LensState `json:"lens_after,omitempty"`
	// Iridectomy matters under oil in an aphakic eye.
	Iridectomy Answer `json:"iridectomy,omitempty"`

	Steps  []Step     `json:"steps,omitempty"`
	Peels  []Peel     `json:"peels,omitempty"`
	Flap   *Flap      `json:"flap,omitempty"`
	Ports  []Port     `json:"ports,omitempty"`
	Agents []AgentUse `json:"agents,omitempty"`

	StartPressure       *Pressure `json:"start_pressure,omitempty"`
	EndPressure         *Pressure `json:"end_pressure,omitempty"`
	AirPressureMmHg     *float64  `json:"air_pressure_mmhg,omitempty"`
	InfusionSite        ClockHour `json:"infusion_site,omitempty"`
	TrappedAirLookedFor Answer    `json:"trapped_air_looked_for,omitempty"`
	PeripheryChecked    Answer    `json:"periphery_checked,omitempty"` // all round, at the end
	RetinotomyDegrees   *float64  `json:"retinotomy_degrees,omitempty"`
	HeavyLiquidRinsed   Answer    `json:"heavy_liquid_rinsed,omitempty"`
	// CavityML is the estimated volume of the vitreous cavity.
	CavityML *estimate.Estimate `json:"cavity_ml,omitempty"`

	Events   []Event `json:"events,omitempty"`
	NoEvents bool    `json:"no_events,omitempty"` // asked, none
	// RetinaMap is the map of what was peeled, left, moved; its form belongs to
	// package retina.
	RetinaMap *Blob      `json:"retina_map,omitempty"`
	Posture   Posture    `json:"posture,omitempty"`
	Signed    *Signature `json:"signed,omitempty"`
	Overrides []Override `json:"overrides,omitempty"`
	Note      FreeText   `json:"note,omitempty"`
}

// Kind is [KindOperation].
func (*Operation) Kind() Kind { return KindOperation }

// Links tells what it belongs to.
func (o *Operation) Links() Links {
	l := Links{PatientID: o.PatientID, EyeID: o.EyeID, OperationID: o.ID, Day: o.On}
	for _, a := range o.Agents {
		if a.BatchID != "" {
			l.BatchIDs = append(l.BatchIDs, a.BatchID)
		}
	}
	return l
}

// Procedure names what kind of operation it was.
type Procedure string

// The procedures.
const (
	Vitrectomy          Procedure = "vitrectomy"
	VitrectomyWithLens  Procedure = "vitrectomy_with_lens_surgery"
	OilRemoval          Procedure = "oil_removal"
	OilExchange         Procedure = "oil_exchange"
	HeavyLiquidRemoval  Procedure = "heavy_liquid_removal"
	OfficeGasExchange   Procedure = "office_gas_exchange"
	GasTopUpProcedure   Procedure = "gas_top_up"
	GasReleaseProcedure Procedure = "gas_release"
	PneumaticRetinopexy Procedure = "pneumatic_retinopexy"
	ScleralBuckle       Procedure = "scleral_buckle"
	LensSurgery         Procedure = "lens_surgery"
	Injection           Procedure = "intravitreal_injection"
	LaserTreatment      Procedure = "laser"
	OtherProcedure      Procedure = "other"
)

// SideCheck is a moment at which a person typed the side.
type SideCheck struct {
	When      SideCheckMoment `json:"when"`
	TypedSide eye.Laterality  `json:"typed_side"`
	By        Actor           `json:"by"`
	At        time.Time       `json:"at"`
}

// SideCheckMoment is when the side is typed.
type SideCheckMoment string

// The moments at which the side is typed.
const (
	BeforeBlock     SideCheckMoment = "before_block"
	BeforeKnife     SideCheckMoment = "before_knife"
	BeforeInjection SideCheckMoment = "before_injection"
)

// Assistant is somebody else at the table and the part taken.
type Assistant struct {
	Account AccountID     `json:"account"`
	Part    AssistantPart `json:"part"`
}

// AssistantPart says how much somebody did.
type AssistantPart string

// How much somebody did.
const (
	PartDid     AssistantPart = "did"
	PartPart    AssistantPart = "part"
	PartWatched AssistantPart = "watched"
	PartNurse   AssistantPart = "scrub_nurse"
	PartAnaesth AssistantPart = "anaesthetist"
)

// Step is one timed act. The time line rests on the elapsed seconds; the clock
// is kept beside it, for it may be wrong or cross midnight.
type Step struct {
	Code      StepCode  `json:"code"`
	ElapsedS  *float64  `json:"elapsed_s,omitempty"` // since the start of the operation
	Clock     Clock     `json:"clock,omitempty"`
	DurationS *float64  `json:"duration_s,omitempty"`
	By        AccountID `json:"by,omitempty"`
	GaugeG    int       `json:"gauge_g,omitempty"`
	Note      FreeText  `json:"note,omitempty"`
}

// StepCode names an act of an operation.
type StepCode string

// The acts of a macular operation.
const (
	StepBlock            StepCode = "block"
	StepKnife            StepCode = "start"
	StepPorts            StepCode = "ports"
	StepInfusionSeen     StepCode = "infusion_tip_seen"
	StepLens             StepCode = "lens_surgery"
	StepCoreVitrectomy   StepCode = "core_vitrectomy"
	StepHyaloid          StepCode = "posterior_hyaloid_detached"
	StepPeripheral       StepCode = "peripheral_vitrectomy"
	StepStain            StepCode = "stain"
	StepRinse            StepCode = "stain_rinsed"
	StepMembranePeel     StepCode = "epiretinal_membrane_peel"
	StepILMPeel          StepCode = "inner_limiting_membrane_peel"
	StepFlap             StepCode = "flap"
	StepGraft            StepCode = "graft"
	StepDissection       StepCode = "subretinal_fluid_injection"
	StepHeavyLiquidIn    StepCode = "heavy_liquid_in"
	StepHeavyLiquidOut   StepCode = "heavy_liquid_out"
	StepRetinotomy       StepCode = "retinotomy"
	StepLaser            StepCode = "laser"
	StepCryo             StepCode = "cryotherapy"
	StepPeripherySearch  StepCode = "periphery_searched"
	StepFluidAir         StepCode = "fluid_air_exchange"
	StepTamponadeIn      StepCode = "tamponade_in"
	StepTamponadeOut     StepCode = "tamponade_out"
	StepTrappedAirSearch StepCode = "trapped_air_searched"
	StepPortsOut         StepCode = "ports_out"
	StepEnd              StepCode = "end"
	StepOther            StepCode = "other"
)

// Peel says what became of a membrane.
type Peel struct {
	Membrane Membrane  `json:"membrane"`
	State    PeelState `json:"state"`
	// AreaMM2 with its error; DiscDiameterMM is the assumption where the extent
	// was told in disc diameters.
	AreaMM2        *estimate.Estimate `json:"area_mm2,omitempty"`
	DiscDiameters  *float64           `json:"disc_diameters,omitempty"`
	DiscDiameterMM *float64           `json:"disc_diameter_assumed_mm,omitempty"`
	Note           FreeText           `json:"note,omitempty"`
}

// Membrane names a membrane.
type Membrane string

// The membranes.
const (
	MembraneILM        Membrane = "inner_limiting_membrane"
	MembraneERM        Membrane = "epiretinal_membrane"
	MembraneHyaloid    Membrane = "posterior_hyaloid"
	MembraneSubretinal Membrane = "subretinal_membrane"
)

// PeelState says what became of a membrane.
type PeelState string

// What became of a membrane.
const (
	Peeled       PeelState = "peeled"
	PartlyPeeled PeelState = "partly_peeled"
	LeftInPlace  PeelState = "left"
	AlreadyGone  PeelState = "already_absent"
	PeelUnknown  PeelState = "unknown"
)

// Flap is a flap or graft laid on or into a hole.
type Flap struct {
	Type   FlapType `json:"type"`
	Placed Answer   `json:"placed,omitempty"` // in place at the end
	Note   FreeText `json:"note,omitempty"`
}

// FlapType names a flap or graft.
type FlapType string

// The flaps and grafts.
const (
	FlapInverted    FlapType = "inverted"
	FlapTemporal    FlapType = "temporal_inverted"
	FlapPedicle     FlapType = "pedicle"
	FlapFree        FlapType = "free"
	FlapLensCapsule FlapType = "lens_capsule"
	FlapRetina      FlapType = "autologous_retina"
	FlapAmnion      FlapType = "amniotic_membrane"
	FlapBloodPlug   FlapType = "platelet_or_blood"
	FlapOther       FlapType = "other"
)

// Port is one sclerotomy.
type Port struct {
	Site        ClockHour `json:"site,omitempty"`
	GaugeG      int       `json:"gauge_g,omitempty"`
	LimbusMM    *float64  `json:"limbus_mm,omitempty"`
	Sutured     Answer    `json:"sutured,omitempty"`
	LeakedAtEnd Answer    `json:"leaked_at_end,omitempty"`
}

// ClockHour is a place on the eye as the surgeon facing it counts, 1 to 12; 0 is
// not told. Halves are rounded by nobody: 1.5 is half past one.
type ClockHour float64

// Event is something that went wrong or had to be done besides.
type Event struct {
	Code     EventCode `json:"code"`
	ElapsedS *float64  `json:"elapsed_s,omitempty"`
	Site     ClockHour `json:"site,omitempty"`
	Note     FreeText  `json:"note,omitempty"`
}

// EventCode names an event during an operation.
type EventCode string

// The events during an operation.
const (
	EventIatrogenicBreak  EventCode = "iatrogenic_break"
	EventLensTouch        EventCode = "lens_touch"
	EventHaemorrhage      EventCode = "haemorrhage"
	EventHypotony         EventCode = "hypotony"
	EventInfusionBlocked  EventCode = "infusion_blocked"
	EventInfusionSlipped  EventCode = "infusion_slipped"
	EventChoroidal        EventCode = "choroidal_detachment"
	EventRetinalTouch     EventCode = "retinal_touch"
	EventSubretinalAgent  EventCode = "agent_under_retina"
	EventCapsuleRupture   EventCode = "posterior_capsule_rupture"
	EventFlapLost         EventCode = "flap_lost"
	EventDetachment       EventCode = "retinal_detachment"
	EventPoorView         EventCode = "poor_view"
	EventInstrumentFailed EventCode = "instrument_failed"
	EventOther            EventCode = "other"
)
