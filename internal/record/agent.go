package record

// AgentClass is the class of what goes into an eye.
type AgentClass string

// The classes of agents.
const (
	AgentDye         AgentClass = "dye"
	AgentGas         AgentClass = "gas"
	AgentAir         AgentClass = "air"
	AgentOil         AgentClass = "oil"
	AgentHeavyOil    AgentClass = "heavy_oil"
	AgentHeavyLiquid AgentClass = "heavy_liquid"
	AgentImplant     AgentClass = "implant"
	AgentGraft       AgentClass = "graft"
	AgentDrug        AgentClass = "drug"
	AgentIrrigation  AgentClass = "irrigation"
)

// Gas names a gas by its formula.
type Gas string

// The gases of the trade; "SF6/C3F8" in one note is not a gas but a question.
const (
	SF6  Gas = "SF6"
	C2F6 Gas = "C2F6"
	C3F8 Gas = "C3F8"
)

// Dye names a dye or marker by its substance, whatever the label calls it.
type Dye string

// The dyes of the trade.
const (
	BrilliantBlueG           Dye = "brilliant_blue_g"
	TrypanBlue               Dye = "trypan_blue"
	IndocyanineGreen         Dye = "indocyanine_green"
	InfracyanineGreen        Dye = "infracyanine_green"
	BromophenolBlue          Dye = "bromophenol_blue"
	Triamcinolone            Dye = "triamcinolone_acetonide"
	BrilliantBlueTrypan      Dye = "brilliant_blue_and_trypan_blue"
	BrilliantBlueBromophenol Dye = "brilliant_blue_and_bromophenol_blue"
	OtherDye                 Dye = "other"
)

// Batch is one lot of an agent as the unit holds it, so that everybody who got
// it can be found.
type Batch struct {
	Base
	Class   AgentClass `json:"class"`
	Product string     `json:"product"` // as on the label
	Maker   string     `json:"maker,omitempty"`
	Lot     string     `json:"lot"`
	Expiry  Date       `json:"expiry"` // a month alone means its last day
	Recall  *Recall    `json:"recall,omitempty"`
	Note    FreeText   `json:"note,omitempty"`
}

// Kind is [KindBatch].
func (*Batch) Kind() Kind { return KindBatch }

// Links tells what it belongs to.
func (b *Batch) Links() Links { return Links{BatchIDs: []ID{b.ID}} }

// Recall says that a batch must not be used any more.
type Recall struct {
	On  Date     `json:"on"`
	Why FreeText `json:"why"`
}

// AgentAction says what was done with an agent.
type AgentAction string

// What is done with an agent.
const (
	AgentPlaced        AgentAction = "placed"         // put in and left, as far as this entry goes
	AgentUsed          AgentAction = "used"           // put in and taken out again in the same operation (a dye, a rinse)
	AgentRemoved       AgentAction = "removed"        // what was in the eye was taken out, seen empty
	AgentPartlyRemoved AgentAction = "partly_removed" // some was left
)

// AgentUse is one agent in one operation.
type AgentUse struct {
	Class  AgentClass  `json:"class"`
	Action AgentAction `json:"action"`
	Gas    Gas         `json:"gas,omitempty"`
	// GasText is the gas as it was written.
	GasText FreeText `json:"gas_text,omitempty"`
	Dye     Dye      `json:"dye,omitempty"`
	Product string   `json:"product,omitempty"` // as on the label
	BatchID ID       `json:"batch_id,omitempty"`
	Lot     string   `json:"lot,omitempty"` // as read from the label
	Expiry  Date     `json:"expiry,omitzero"`
	// AmountML in millilitres; Percent by volume for a gas, by mass for a dye.
	AmountML        *float64 `json:"amount_ml,omitempty"`
	Percent         *float64 `json:"percent,omitempty"`
	MilligramsPerML *float64 `json:"mg_per_ml,omitempty"`
	ViscosityCSt    *float64 `json:"viscosity_cst,omitempty"`
	Seconds         *float64 `json:"seconds,omitempty"` // contact time, for a dye
	ElapsedS        *float64 `json:"elapsed_s,omitempty"`
	// FullFill: the cavity was filled with the mixture. Technique tells a small
	// volume of pure gas from a fill.
	FullFill  Answer       `json:"full_fill,omitempty"`
	Technique GasTechnique `json:"technique,omitempty"`
	// MixedBy and CheckedBy are two people.
	MixedBy   AccountID `json:"mixed_by,omitempty"`
	CheckedBy AccountID `json:"checked_by,omitempty"`
	// SeenEmpty: after removal the eye was looked at and seen empty.
	SeenEmpty Answer   `json:"seen_empty,omitempty"`
	Note      FreeText `json:"note,omitempty"`
}

// GasTechnique says how gas was used.
type GasTechnique string

// The ways gas is used.
const (
	GasExchange   GasTechnique = "fluid_gas_exchange"
	GasRetinopexy GasTechnique = "pneumatic_retinopexy"
	GasTopUp      GasTechnique = "top_up"
)
