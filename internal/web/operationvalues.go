package web

import (
	"fmt"
	"strconv"

	"limitans/internal/record"
)

// The fields of the form of an operation. operationValues writes an operation
// into them and readOperation reads it back; what the form does not hold (steps,
// the map of the retina, assistants, overrides) stays as it was.

// Rows of the form that are always there.
const peelRows, portRows, agentRows = 2, 3, 2

// operationValues writes an operation as the form has it.
func operationValues(o *record.Operation) entryValues {
	f := entryValues{map[string][]string{}}
	f.put("id", string(o.ID))
	f.Set("version", strconv.FormatInt(o.Version, 10))
	f.date("on", o.On)
	if o.Version > 0 {
		f.put("side", sideWords(o.Side))
	}
	for name, value := range map[string]string{
		"started": string(o.StartedAt), "ended": string(o.EndedAt), "procedure": string(o.Procedure), "indication": string(o.Indication),
		"surgeon": string(o.Surgeon), "supervisor": string(o.Supervisor), "anaesthesia": string(o.Anaesthesia),
		"lens-before": string(o.LensBefore), "lens-after": string(o.LensAfter), "iridectomy": string(o.Iridectomy),
		"trapped-air": string(o.TrappedAirLookedFor), "periphery": string(o.PeripheryChecked), "rinsed": string(o.HeavyLiquidRinsed),
		"posture": string(o.Posture), "note": string(o.Note),
	} {
		f.put(name, value)
	}
	f.number("air-pressure", o.AirPressureMmHg)
	f.number("retinotomy", o.RetinotomyDegrees)
	if o.StartPressure != nil {
		f.pressure("start", 0, *o.StartPressure)
	}
	if o.EndPressure != nil {
		f.pressure("end", 0, *o.EndPressure)
	}
	if o.InfusionSite != 0 {
		f.Set("infusion", strconv.FormatFloat(float64(o.InfusionSite), 'f', -1, 64))
	}
	for i, p := range o.Peels {
		f.Set(row("peel", i, "membrane"), string(p.Membrane))
		f.put(row("peel", i, "state"), string(p.State))
		f.number(row("peel", i, "discs"), p.DiscDiameters)
		f.number(row("peel", i, "disc-mm"), p.DiscDiameterMM)
		f.put(row("peel", i, "note"), string(p.Note))
	}
	if o.Flap != nil {
		f.put("flap", string(o.Flap.Type))
		f.put("flap-placed", string(o.Flap.Placed))
		f.put("flap-note", string(o.Flap.Note))
	}
	for i, p := range o.Ports {
		f.Set(row("port", i, "site"), "")
		if p.Site != 0 {
			f.Set(row("port", i, "site"), strconv.FormatFloat(float64(p.Site), 'f', -1, 64))
		}
		if p.GaugeG != 0 {
			f.Set(row("port", i, "gauge"), strconv.Itoa(p.GaugeG))
		}
		f.number(row("port", i, "limbus"), p.LimbusMM)
		f.put(row("port", i, "sutured"), string(p.Sutured))
		f.put(row("port", i, "leaked"), string(p.LeakedAtEnd))
	}
	for i, a := range o.Agents {
		f.agent(i, a)
	}
	for _, e := range o.Events {
		f.Add("event", string(e.Code))
		f.put("about-"+string(e.Code), string(e.Note))
	}
	if o.NoEvents {
		f.Set("no-events", "yes")
	}
	return f
}

func (v entryValues) agent(i int, a record.AgentUse) {
	v.Set(row("agent", i, "class"), string(a.Class))
	for name, value := range map[string]string{
		"action": string(a.Action), "gas": string(a.Gas), "gas-text": string(a.GasText), "dye": string(a.Dye), "product": a.Product, "batch": string(a.BatchID),
		"lot": a.Lot, "full": string(a.FullFill), "technique": string(a.Technique), "mixed": string(a.MixedBy), "checked": string(a.CheckedBy),
		"empty": string(a.SeenEmpty), "note": string(a.Note),
	} {
		v.put(row("agent", i, name), value)
	}
	v.date(row("agent", i, "expiry"), a.Expiry)
	v.number(row("agent", i, "ml"), a.AmountML)
	v.number(row("agent", i, "percent"), a.Percent)
	v.number(row("agent", i, "mg"), a.MilligramsPerML)
	v.number(row("agent", i, "cst"), a.ViscosityCSt)
	v.number(row("agent", i, "seconds"), a.Seconds)
	v.number(row("agent", i, "elapsed"), a.ElapsedS)
}

// readOperation reads the form. before is the operation the form was made from,
// or a new one with its eye; it is not changed.
func (e *entryReader) readOperation(before *record.Operation) *record.Operation {
	o := *before
	answer := func(name string) record.Answer { return record.Answer(e.text(name)) }
	o.On, o.Side = e.date("on", "on", record.OrderUndecided), e.side("side", "side")
	o.StartedAt, o.EndedAt = e.clock("started", "started_at"), e.clock("ended", "ended_at")
	o.Procedure, o.Indication = record.Procedure(e.text("procedure")), record.DiagnosisCode(e.text("indication"))
	o.Surgeon, o.Supervisor = record.AccountID(e.text("surgeon")), record.AccountID(e.text("supervisor"))
	o.Anaesthesia = record.Anaesthesia(e.text("anaesthesia"))
	o.LensBefore, o.LensAfter = record.LensState(e.text("lens-before")), record.LensState(e.text("lens-after"))
	o.Iridectomy, o.TrappedAirLookedFor, o.PeripheryChecked, o.HeavyLiquidRinsed = answer("iridectomy"), answer("trapped-air"), answer("periphery"), answer("rinsed")
	o.Posture, o.Note = record.Posture(e.text("posture")), record.FreeText(e.text("note"))
	o.AirPressureMmHg, o.RetinotomyDegrees = e.number("air-pressure", "air_pressure_mmhg"), e.number("retinotomy", "retinotomy_degrees")
	o.InfusionSite = e.clockHour("infusion", "infusion_site")
	o.StartPressure, o.EndPressure = e.onePressure("start", "start_pressure", before.StartPressure), e.onePressure("end", "end_pressure", before.EndPressure)
	o.Peels, o.Ports, o.Agents = e.readPeels(before.Peels), e.readPorts(), e.readAgents()
	o.Flap = nil
	if flap := (record.Flap{Type: record.FlapType(e.text("flap")), Placed: answer("flap-placed"), Note: record.FreeText(e.text("flap-note"))}); flap != (record.Flap{}) {
		o.Flap = &flap
	}
	o.Events = nil
	for _, code := range e.values.Values["event"] {
		event := record.Event{Code: record.EventCode(code), Note: record.FreeText(e.text("about-" + code))}
		for _, was := range before.Events {
			if was.Code == event.Code {
				event.ElapsedS, event.Site = was.ElapsedS, was.Site
			}
		}
		o.Events = append(o.Events, event)
	}
	o.NoEvents = e.text("no-events") != ""
	return &o
}

// clockHour reads a place as the surgeon counts it.
func (e *entryReader) clockHour(name, where string) record.ClockHour {
	x := e.number(name, where)
	if x == nil {
		return 0
	}
	if !(*x > 0 && *x <= 12) {
		e.stop(where, fmt.Sprintf("%g is no clock hour", *x), "1 to 12, 1.5 is half past one")
		return 0
	}
	return record.ClockHour(*x)
}

func (e *entryReader) onePressure(sort, where string, before *record.Pressure) *record.Pressure {
	p, told := e.readPressure(sort, 0, where)
	if !told {
		return nil
	}
	if before != nil { // the form has no field for these
		p.At, p.Drops, p.NoDrops = before.At, before.Drops, before.NoDrops
	}
	return &p
}

func (e *entryReader) readPeels(before []record.Peel) []record.Peel {
	var out []record.Peel
	for _, i := range e.values.rows("peel", "membrane", peelRows) {
		where := fmt.Sprintf("peels[%d].", len(out))
		p := record.Peel{
			Membrane: record.Membrane(e.text(row("peel", i, "membrane"))), State: record.PeelState(e.text(row("peel", i, "state"))),
			DiscDiameters: e.number(row("peel", i, "discs"), where+"disc_diameters"), DiscDiameterMM: e.number(row("peel", i, "disc-mm"), where+"disc_diameter_assumed_mm"),
			Note: record.FreeText(e.text(row("peel", i, "note"))),
		}
		if p == (record.Peel{}) {
			continue
		}
		if i < len(before) && before[i].Membrane == p.Membrane {
			p.AreaMM2 = before[i].AreaMM2
		}
		if p.Membrane == "" {
			e.stop(where+"membrane", "which membrane is not told", "choose one")
		}
		out = append(out, p)
	}
	return out
}

func (e *entryReader) readPorts() []record.Port {
	var out []record.Port
	for _, i := range e.values.rows("port", "site", portRows) {
		where := fmt.Sprintf("ports[%d].", len(out))
		p := record.Port{
			Site: e.clockHour(row("port", i, "site"), where+"site"), LimbusMM: e.number(row("port", i, "limbus"), where+"limbus_mm"),
			Sutured: record.Answer(e.text(row("port", i, "sutured"))), LeakedAtEnd: record.Answer(e.text(row("port", i, "leaked"))),
		}
		if typed := e.text(row("port", i, "gauge")); typed != "" {
			gauge, err := strconv.Atoi(typed)
			if err != nil {
				e.stop(where+"gauge_g", fmt.Sprintf("%q is no gauge", typed), "20, 23, 25 or 27")
			}
			p.GaugeG = gauge
		}
		if p != (record.Port{}) {
			out = append(out, p)
		}
	}
	return out
}

func (e *entryReader) readAgents() []record.AgentUse {
	var out []record.AgentUse
	for _, i := range e.values.rows("agent", "class", agentRows) {
		where := fmt.Sprintf("agents[%d].", len(out))
		text := func(name string) string { return e.text(row("agent", i, name)) }
		number := func(name, field string) *float64 { return e.number(row("agent", i, name), where+field) }
		a := record.AgentUse{
			Class: record.AgentClass(text("class")), Action: record.AgentAction(text("action")), Gas: record.Gas(text("gas")),
			GasText: record.FreeText(text("gas-text")), Dye: record.Dye(text("dye")), Product: text("product"), BatchID: record.ID(text("batch")), Lot: text("lot"),
			Expiry:   e.dateAhead(row("agent", i, "expiry"), where+"expiry"),
			AmountML: number("ml", "amount_ml"), Percent: number("percent", "percent"), MilligramsPerML: number("mg", "mg_per_ml"),
			ViscosityCSt: number("cst", "viscosity_cst"), Seconds: number("seconds", "seconds"), ElapsedS: number("elapsed", "elapsed_s"),
			FullFill: record.Answer(text("full")), Technique: record.GasTechnique(text("technique")),
			MixedBy: record.AccountID(text("mixed")), CheckedBy: record.AccountID(text("checked")),
			SeenEmpty: record.Answer(text("empty")), Note: record.FreeText(text("note")),
		}
		if a != (record.AgentUse{}) {
			out = append(out, a)
		}
	}
	return out
}
