package bench

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"limitans/fault"
	"limitans/tamponade"
)

// MixingSchema names the form in which a mixing sheet is kept.
const MixingSchema = "limitans mixing sheet"

// MixingVersion is that of the form.
const MixingVersion = 1

// Signer is an account that signs, with the name that is shown.
type Signer struct {
	Account string    `json:"account"`
	Name    string    `json:"name"`
	At      time.Time `json:"at"`
}

// Mixing is a mixing sheet of one eye: what one account mixes, and what another
// one read. It is kept as it was asked; the recipe is planned again from it.
type Mixing struct {
	Schema  string `json:"schema"`
	Version int    `json:"version"`
	Side    string `json:"side"` // RIGHT or LEFT
	Asked   Mix    `json:"asked"`
	Lot     string `json:"lot,omitempty"`
	Expiry  string `json:"expiry,omitempty"`
	Maker   Signer `json:"maker"`
	// Checker and Read are there once the second person signed.
	Checker *Signer             `json:"checker,omitempty"`
	Read    *tamponade.ReadBack `json:"read,omitempty"`
	Typed   string              `json:"typed,omitempty"` // the share as the second person typed it
	Label   []string            `json:"label,omitempty"`
}

// NewMixing begins the sheet of an eye by who mixes. Faults: Conflict while a stop
// stands, Invalid where side, lot or expiry are not told.
func NewMixing(asked Mix, side, lot, expiry string, maker Signer) (Mixing, error) {
	m := Mixing{Schema: MixingSchema, Version: MixingVersion, Side: strings.ToUpper(side), Asked: asked, Lot: strings.TrimSpace(lot), Expiry: strings.TrimSpace(expiry), Maker: maker}
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

// ReadMixing reads a kept sheet. Errors: Malformed, and Unsupported for a later form.
func ReadMixing(data []byte) (Mixing, error) {
	var m Mixing
	if err := json.Unmarshal(data, &m); err != nil {
		return m, &fault.Error{Code: fault.Malformed, Where: "mixing sheet", What: "cannot be read", Cause: err}
	}
	if m.Schema != MixingSchema || m.Version != MixingVersion {
		return m, &fault.Error{Code: fault.Unsupported, Where: "mixing sheet", What: fmt.Sprintf("has the form %q %d", m.Schema, m.Version)}
	}
	return m, nil
}

// MixingCheck is what the second person reads from bottle and syringe and types
// without seeing it.
type MixingCheck struct {
	Gas, Percent   string
	GasML, TotalML float64
}

// Check signs the sheet by a second account, which must be another one than the
// maker's. Gas and share are compared with what was asked, the volumes with the
// recipe. What differs is a fault of code Conflict: nothing is connected.
func (m Mixing) Check(read MixingCheck, checker Signer) (Mixing, error) {
	if m.Checker != nil {
		return m, &fault.Error{Code: fault.Conflict, Where: "mixing sheet", What: "was checked before", Mend: "a new mixture needs a new sheet"}
	}
	if checker.Account == "" || checker.Account == m.Maker.Account {
		return m, &fault.Error{Code: fault.Conflict, Where: "second person", What: "is the one who mixed", Mend: "another person signs in and checks"}
	}
	if len(m.Asked.Lift) > 0 && !strings.EqualFold(strings.TrimSpace(m.Asked.Second), checker.Name) {
		return m, &fault.Error{Code: fault.Conflict, Where: "second person", What: fmt.Sprintf("a stop was lifted with %q, who is somebody else", m.Asked.Second), Mend: "the person who lifted the stop checks"}
	}
	plan, err := m.Asked.Plan()
	if err != nil {
		return m, err
	}
	typed, err := tamponade.ParsePercent(read.Percent)
	if plan.Sheet.Mixture.Agent != tamponade.AgentAir {
		if err != nil {
			return m, atFlag(err, "percent")
		}
		if typed.Percent != plan.Sheet.Mixture.Percent {
			return m, &fault.Error{Code: fault.Conflict, Where: "percent", What: fmt.Sprintf("%s was read, the sheet says %s", typed.Percent, plan.Sheet.Mixture.Percent), Mend: "stop; nothing is connected"}
		}
	}
	pair, err := tamponade.NewPair(tamponade.Person{Name: m.Maker.Name, Identifier: m.Maker.Account}, tamponade.Person{Name: checker.Name, Identifier: checker.Account})
	if err != nil {
		return m, err
	}
	back := tamponade.ReadBack{Bottle: read.Gas, GasML: read.GasML, TotalML: read.TotalML}
	signed, err := plan.Sheet.Sign(pair, back)
	if err != nil {
		return m, err
	}
	m.Checker, m.Read, m.Typed = &checker, &back, read.Percent
	m.Label, err = signed.Label(tamponade.LabelFacts{Eye: m.Side, MixedAt: m.Maker.At.Format("15:04"), Lot: m.Lot, Expiry: m.Expiry})
	return m, err
}
