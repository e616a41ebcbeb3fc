package demo

import (
	"math"

	"limitans/internal/record"
)

// surgery is one operation to write.
type surgery struct {
	procedure  record.Procedure
	indication record.DiagnosisCode
	option     string // what the plan chose
	peels      []record.Peel
	flap       record.FlapType
	stain      bool
	heavy      bool // heavy liquid during the operation
	retinotomy float64
	tamponade  record.Medium
	gas        record.Gas
	percent    float64
	posture    record.Posture
	oilOut     bool
	heavyOut   bool
	events     []record.EventCode
}

const (
	gauge25, gauge27 = 25, 27
	// stainSeconds is how long a dye stays before it is rinsed.
	stainSeconds = 30.0
)

// operate writes the plan of yesterday and the operation of today.
func (t *teller) operate(s surgery) {
	gauge := gauge25
	if t.chance(40) {
		gauge = gauge27
	}
	plan := &record.Plan{
		PatientID: t.patient.ID, EyeID: t.eye.ID, Revision: 1, MadeOn: t.day, MadeBy: t.surgeon, Side: t.eye.Side,
		Options: []record.PlanOption{{Code: s.option, Name: s.option}}, Chosen: s.option,
		Anaesthesia: record.AnaesthesiaBlock, GaugeG: gauge, MediumPlanned: s.tamponade, Posture: s.posture,
	}
	if s.gas != "" {
		percent := s.percent
		plan.Tamponade = record.Tamponade{Class: record.AgentGas, Gas: s.gas, Percent: &percent}
	}
	plan.Signed = t.sign(t.surgeon)
	t.write(t.surgeon, plan)

	began := t.now()
	o := &record.Operation{
		PatientID: t.patient.ID, EyeID: t.eye.ID, PlanID: plan.ID, On: t.day, StartedAt: record.Clock(t.now().Format("15:04")),
		Procedure: s.procedure, Side: t.eye.Side, Indication: s.indication, Surgeon: t.surgeon,
		Assistants:  []record.Assistant{{Account: scrubNurse, Part: record.PartNurse}},
		Anaesthesia: record.AnaesthesiaBlock, LensBefore: t.lens, Peels: s.peels, Posture: s.posture,
		InfusionSite: 4, PeripheryChecked: record.Yes,
	}
	if t.chance(25) {
		o.Surgeon, o.Supervisor = fellow, t.surgeon
	}
	for _, moment := range []record.SideCheckMoment{record.BeforeBlock, record.BeforeKnife} {
		o.SideChecks = append(o.SideChecks, record.SideCheck{When: moment, TypedSide: t.eye.Side, By: record.Actor{AccountID: scrubNurse, Place: "theatre"}, At: t.now()})
	}
	if s.procedure == record.VitrectomyWithLens {
		t.lens = record.LensPseudophakic
	}
	o.LensAfter = t.lens
	for i, site := range []record.ClockHour{4, 10, 2} {
		sutured := record.No
		if i > 0 && t.chance(20) {
			sutured = record.Yes
		}
		o.Ports = append(o.Ports, record.Port{Site: site, GaugeG: gauge, Sutured: sutured})
	}
	if s.flap != "" {
		o.Flap = &record.Flap{Type: s.flap, Placed: record.Yes}
	}
	if s.retinotomy > 0 {
		o.RetinotomyDegrees = &s.retinotomy
	}
	start, end := math.Round(t.quiet()), math.Round(t.between(12, 20))
	o.StartPressure = &record.Pressure{MmHg: &start, Method: record.PressureApplanation, NoDrops: true}
	o.EndPressure = &record.Pressure{MmHg: &end, Method: record.PressureFinger, NoDrops: true}
	if s.tamponade == record.MediumOil {
		o.TrappedAirLookedFor = record.Yes
	}
	o.Agents = t.agents(s)
	t.steps(o, s, gauge)
	for _, code := range s.events {
		o.Events = append(o.Events, record.Event{Code: code})
	}
	o.NoEvents = len(o.Events) == 0
	o.Signed = t.sign(o.Surgeon)
	if t.write(t.surgeon, o) {
		t.medium = s.tamponade
		t.fillWithGas(s, began)
	}
}

// agents lists what went into and out of the eye.
func (t *teller) agents(s surgery) []record.AgentUse {
	var out []record.AgentUse
	add := func(class record.AgentClass, action record.AgentAction, product string) *record.AgentUse {
		use := record.AgentUse{Class: class, Action: action, Product: product}
		if b := t.clinic.batch(product, t.day); b != nil {
			use.BatchID, use.Lot, use.Expiry = b.ID, b.Lot, b.Expiry
		}
		out = append(out, use)
		return &out[len(out)-1]
	}
	if s.oilOut {
		add(record.AgentOil, record.AgentRemoved, "Invented silicone oil 1300 cSt").SeenEmpty = record.Yes
	}
	if s.heavyOut {
		add(record.AgentHeavyLiquid, record.AgentRemoved, "Invented perfluoro-octane").SeenEmpty = record.Yes
	}
	if s.stain {
		seconds, percent := stainSeconds, 0.025
		use := add(record.AgentDye, record.AgentUsed, "Invented brilliant blue G 0.025 %")
		use.Seconds, use.Percent = &seconds, &percent
	}
	if s.heavy {
		add(record.AgentHeavyLiquid, record.AgentUsed, "Invented perfluoro-octane").SeenEmpty = record.Yes
	}
	switch s.tamponade {
	case record.MediumGas:
		percent := s.percent
		use := add(record.AgentGas, record.AgentPlaced, string(s.gas))
		use.Gas, use.Percent, use.FullFill, use.Technique = s.gas, &percent, record.Yes, record.GasExchange
		use.MixedBy, use.CheckedBy = scrubNurse, secondNurse
	case record.MediumAir:
		add(record.AgentAir, record.AgentPlaced, "filtered air").FullFill = record.Yes
	case record.MediumOil:
		ml := math.Round(t.between(4.5, 6)*10) / 10
		add(record.AgentOil, record.AgentPlaced, "Invented silicone oil 1300 cSt").AmountML = &ml
	}
	return out
}

// steps writes the time line of the operation.
func (t *teller) steps(o *record.Operation, s surgery, gauge int) {
	elapsed := 0.0
	add := func(code record.StepCode, minutes float64) {
		at := math.Round(elapsed)
		o.Steps = append(o.Steps, record.Step{Code: code, ElapsedS: &at, By: o.Surgeon, GaugeG: gauge})
		elapsed += 60 * minutes * t.between(0.7, 1.5)
	}
	add(record.StepKnife, 0.5)
	add(record.StepPorts, 3)
	add(record.StepInfusionSeen, 0.5)
	if s.procedure == record.VitrectomyWithLens {
		add(record.StepLens, 10)
	}
	if s.oilOut {
		add(record.StepTamponadeOut, 8)
	} else {
		add(record.StepCoreVitrectomy, 6)
		add(record.StepHyaloid, 3)
	}
	if s.stain {
		add(record.StepStain, 0.5)
		add(record.StepRinse, 1)
	}
	if s.heavy {
		add(record.StepHeavyLiquidIn, 2)
	}
	for _, p := range s.peels {
		if p.Membrane == record.MembraneERM {
			add(record.StepMembranePeel, 6)
		} else {
			add(record.StepILMPeel, 6)
		}
	}
	if s.flap != "" {
		add(record.StepFlap, 4)
	}
	if s.heavy {
		add(record.StepHeavyLiquidOut, 3)
	}
	add(record.StepPeripherySearch, 3)
	if s.tamponade != record.MediumFluid {
		add(record.StepFluidAir, 4)
		add(record.StepTamponadeIn, 3)
	}
	add(record.StepPortsOut, 2)
	add(record.StepEnd, 0)
	if elapsed > 0 {
		end := t.now().Add(secondsOf(elapsed))
		o.EndedAt = record.Clock(end.Format("15:04"))
	}
}
