package bench

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/tamponade"
)

// MixingSchema names the form in which the recipe of a mixing sheet is kept.
const MixingSchema = "limitans mixing sheet"

// MixingVersion is that of the form.
const MixingVersion = 2

// Mixing is the recipe of a mixing sheet of one eye, as it was asked; it is planned
// again from that. Who mixes, who read and what was read stand in the record
// ([record.Mixing]), which holds the rule of two people.
type Mixing struct {
	Schema  string `json:"schema"`
	Version int    `json:"version"`
	Side    string `json:"side"` // RIGHT or LEFT
	Asked   Mix    `json:"asked"`
	Lot     string `json:"lot,omitempty"`
	Expiry  string `json:"expiry,omitempty"`
}

// NewMixing begins the sheet of an eye. Faults: Conflict while a stop stands, Invalid
// where side, lot or expiry are not told.
func NewMixing(asked Mix, side, lot, expiry string) (Mixing, error) {
	m := Mixing{Schema: MixingSchema, Version: MixingVersion, Side: strings.ToUpper(side), Asked: asked, Lot: strings.TrimSpace(lot), Expiry: strings.TrimSpace(expiry)}
	if m.Side != "RIGHT" && m.Side != "LEFT" {
		return m, &fault.Error{Code: fault.Invalid, Where: "side", What: "is not told", Expected: "right or left"}
	}
	for name, text := range map[string]string{"lot": m.Lot, "expiry": m.Expiry} {
		if text == "" {
			return m, &fault.Error{Code: fault.Invalid, Where: name, What: "is missing", Expected: "what stands on the bottle, or \"not told\""}
		}
	}
	plan, err := asked.Plan()
	if err != nil {
		return m, err
	}
	if !plan.Sheet.Accepted() {
		return m, &fault.Error{Code: fault.Conflict, Where: "mixing sheet", What: "a stop stands: " + plan.Answer().Stopped, Mend: "two people lift it with a typed reason, or another mixture is chosen"}
	}
	return m, nil
}

// ReadMixing reads a kept recipe. Errors: Malformed, and Unsupported for another form.
func ReadMixing(data []byte) (Mixing, error) {
	var m Mixing
	if err := json.Unmarshal(data, &m); err != nil {
		return m, &fault.Error{Code: fault.Malformed, Where: "mixing sheet", What: "cannot be read", Cause: err}
	}
	if m.Schema != MixingSchema || m.Version != MixingVersion {
		return m, &fault.Error{Code: fault.Unsupported, Where: "mixing sheet", What: fmt.Sprintf("has the form %q %d", m.Schema, m.Version), Mend: "begin a new sheet"}
	}
	return m, nil
}

// Facts are what the first person stands for, for the record.
func (m Mixing) Facts() (record.MixingFacts, error) {
	plan, err := m.Asked.Plan()
	if err != nil {
		return record.MixingFacts{}, err
	}
	s := plan.Sheet
	facts := factsOf(s.Mixture, s.Marks.GasML, s.Marks.TotalML)
	facts.DivisionML = s.Syringe.GraduationML
	return facts, nil
}

// factsOf writes a mixture as the record does.
func factsOf(m tamponade.Mixture, gasML, totalML float64) record.MixingFacts {
	facts := record.MixingFacts{GasML: gasML, TotalML: totalML}
	if m.Agent != tamponade.AgentAir {
		facts.Gas, facts.Percent = record.Gas(m.Agent.String()), float64(m.Percent)
	}
	return facts
}

// MixingCheck is what the second person reads from bottle and syringe and types
// without seeing it.
type MixingCheck struct {
	Gas, Percent   string
	GasML, TotalML float64
}

// Check compares what the second person typed with the recipe and gives it as the
// record keeps it. What differs is a fault of code Conflict: nothing is connected.
func (m Mixing) Check(read MixingCheck, by tamponade.Pair) (record.MixingFacts, error) {
	none := record.MixingFacts{}
	if len(m.Asked.Lift) > 0 && !strings.EqualFold(strings.TrimSpace(m.Asked.Second), by.Second().Name) {
		return none, &fault.Error{Code: fault.Conflict, Where: "second person", What: fmt.Sprintf("a stop was lifted with %q, who is somebody else", m.Asked.Second), Mend: "the person who lifted the stop checks"}
	}
	plan, err := m.Asked.Plan()
	if err != nil {
		return none, err
	}
	mixture := plan.Sheet.Mixture
	if mixture.Agent != tamponade.AgentAir {
		typed, err := tamponade.ParsePercent(read.Percent)
		if err != nil {
			return none, atFlag(err, "percent")
		}
		if typed.Percent != mixture.Percent {
			return none, &fault.Error{Code: fault.Conflict, Where: "percent", What: fmt.Sprintf("%s was read, the sheet says %s", typed.Percent, mixture.Percent), Mend: "stop; nothing is connected"}
		}
	}
	if _, err := plan.Sheet.Sign(by, tamponade.ReadBack{Bottle: read.Gas, GasML: read.GasML, TotalML: read.TotalML}); err != nil {
		return none, err
	}
	return factsOf(mixture, read.GasML, read.TotalML), nil
}

// Label is the text for the syringe of a mixture that both people stand for.
func (m Mixing) Label(read record.MixingFacts, by tamponade.Pair, mixed time.Time) ([]string, error) {
	plan, err := m.Asked.Plan()
	if err != nil {
		return nil, err
	}
	bottle := string(read.Gas)
	if bottle == "" {
		bottle = tamponade.AgentAir.String()
	}
	signed, err := plan.Sheet.Sign(by, tamponade.ReadBack{Bottle: bottle, GasML: read.GasML, TotalML: read.TotalML})
	if err != nil {
		return nil, err
	}
	return signed.Label(tamponade.LabelFacts{Eye: m.Side, MixedAt: mixed.Format("15:04"), Lot: m.Lot, Expiry: m.Expiry})
}
