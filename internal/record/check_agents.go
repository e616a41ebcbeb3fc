package record

import (
	"fmt"
	"strings"

	"limitans/eye"
	"limitans/tamponade"
)

// gasIn is a gas as it stands in a plan or an operation.
type gasIn struct {
	where     string
	gas       Gas
	text      FreeText
	percent   *float64
	amountML  *float64
	technique GasTechnique
}

// gas checks a gas and its concentration. The limit of each gas stands in
// package tamponade.
func (c *checker) gas(in gasIn) {
	agent, ok := c.oneGas(in)
	if !ok {
		return
	}
	if in.percent == nil {
		c.add(CodeGasPercent, in.where+".percent", "the concentration is not told", "gas and concentration are one choice")
		return
	}
	percent := *in.percent
	if !(percent >= 0 && percent <= 100) {
		c.add(CodeImpossibleNumber, in.where+".percent", fmt.Sprintf("%g %%", percent), "0 to 100 %")
		return
	}
	if percent > 0 && percent < 1 {
		c.add(CodeGasPercent, in.where+".percent", fmt.Sprintf("%g: is %.4g %% meant?", percent, percent*100), "write the concentration in per cent")
		return
	}
	facts, err := agent.Facts()
	if err != nil || percent <= float64(facts.NonExpansilePercent) {
		return
	}
	if in.technique == GasRetinopexy && percent == 100 && in.amountML != nil && *in.amountML > 0 && *in.amountML <= tamponade.LargestPneumaticML {
		return // a small volume of pure gas on purpose; its expansion is shown where it is planned
	}
	c.add(CodeGasExpands, in.where+".percent",
		fmt.Sprintf("%g %% %s is above the non-expansile %g %%: it grows in the closed eye (%s)", percent, agent, float64(facts.NonExpansilePercent), facts.Source),
		"correct it, or type the reason with a second person")
}

// oneGas reads which gas it is. Two gases in one note are never resolved.
func (c *checker) oneGas(in gasIn) (tamponade.Agent, bool) {
	var agents []tamponade.Agent
	for _, text := range []string{string(in.gas), string(in.text)} {
		if strings.TrimSpace(text) == "" {
			continue
		}
		agent, err := tamponade.ParseAgent(text)
		if err != nil {
			if text == string(in.text) && in.gas != "" && !twoGases(text) {
				continue // words around the gas; the coded gas stands
			}
			c.add(CodeTwoGases, in.where+".gas", fmt.Sprintf("%q does not name one gas", text), "read the bottle; nothing is computed until one is left")
			return tamponade.AgentUnknown, false
		}
		agents = append(agents, agent)
	}
	switch {
	case len(agents) == 0:
		c.add(CodeGasPercent, in.where+".gas", "which gas is not told", "read the bottle")
		return tamponade.AgentUnknown, false
	case len(agents) == 2 && agents[0] != agents[1]:
		c.add(CodeTwoGases, in.where+".gas", fmt.Sprintf("%s was chosen, but %q is written", agents[0], string(in.text)), "read the bottle")
		return tamponade.AgentUnknown, false
	}
	return agents[0], true
}

// twoGases reports a text that holds the formulas of two gases, whatever else it says.
func twoGases(text string) bool {
	n := 0
	for _, g := range Words[Gas]() {
		if strings.Contains(strings.ToUpper(text), string(g)) {
			n++
		}
	}
	return n > 1
}

// needsLot are the classes whose lot must be traceable.
func needsLot(class AgentClass) bool {
	switch class {
	case AgentAir, AgentIrrigation, AgentDrug, AgentGraft, "":
		return false
	}
	return true
}

func (c *checker) agents(o *Operation, around Around) {
	for i, a := range o.Agents {
		where := fmt.Sprintf("agents[%d]", i)
		if a.Class == "" || a.Action == "" {
			c.add(CodeReference, where, "what it was, or what was done with it, is not told", "")
		}
		c.within(a.AmountML, 0, 500, where+".amount_ml", "mL")
		c.within(a.Percent, 0, 100, where+".percent", "%")
		c.within(a.Seconds, 0, 3600, where+".seconds", "s")
		if a.Class == AgentGas && a.Action == AgentPlaced {
			c.gas(gasIn{where, a.Gas, a.GasText, a.Percent, a.AmountML, a.Technique})
		}
		if a.MixedBy != "" && a.MixedBy == a.CheckedBy {
			c.add(CodeSamePerson, where+".checked_by", "mixed and checked by the same person", "a second person reads the bottle and the syringe")
		}
		if a.Action == AgentPlaced || a.Action == AgentUsed {
			c.label(a, o.On, around, where)
		}
	}
	c.oilAgainstCavity(o)
}

// label checks lot, expiry and recall of one agent.
func (c *checker) label(a AgentUse, on Date, around Around, where string) {
	b := around.Batches[a.BatchID]
	expiry := a.Expiry
	if b != nil {
		if a.Lot != "" && b.Lot != "" && strings.TrimSpace(a.Lot) != strings.TrimSpace(b.Lot) {
			c.add(CodeLotDiffers, where+".lot", fmt.Sprintf("%q was read, the batch has %q", a.Lot, b.Lot), "read the label again, or choose the other batch")
		}
		if b.Class != "" && a.Class != "" && b.Class != a.Class {
			c.add(CodeLotDiffers, where+".class", fmt.Sprintf("%s was given from a batch of %s", a.Class, b.Class), "choose the other batch")
		}
		if b.Recall != nil && !on.CertainlyBefore(b.Recall.On) {
			c.add(CodeRecalled, where, fmt.Sprintf("lot %s was recalled %s", b.Lot, b.Recall.On), "do not use it; if it was used, say so with the reason and call the patient")
		}
		if !expiry.Known() {
			expiry = b.Expiry
		}
	}
	if expiry.CertainlyBefore(on) { // a month alone ends with its last day
		c.add(CodeExpired, where+".expiry", fmt.Sprintf("expired %s, used %s", expiry, on), "take another; if it was used, say so with the reason")
	}
	if needsLot(a.Class) && a.Lot == "" && (b == nil || b.Lot == "") {
		c.add(CodeLotMissing, where+".lot", fmt.Sprintf("no lot number of the %s", a.Class), "read it from the label")
	}
}

// oilAgainstCavity compares the oil that went in with the estimated cavity. The
// cavity is an estimate: only what lies outside its interval is said.
func (c *checker) oilAgainstCavity(o *Operation) {
	if o.CavityML == nil || !o.CavityML.Known() || !(o.CavityML.Value > 0) {
		return
	}
	placed, told := 0.0, false
	for _, a := range o.Agents {
		if (a.Class == AgentOil || a.Class == AgentHeavyOil) && a.Action == AgentPlaced && a.AmountML != nil {
			placed, told = placed+*a.AmountML, true
		}
	}
	cavity := *o.CavityML
	switch {
	case !told:
	case placed < cavity.Low:
		trapped := ""
		if o.TrappedAirLookedFor != Yes {
			trapped = "; trapped air was not looked for"
		}
		c.add(CodeOilUnderfill, "agents", fmt.Sprintf("%.2g mL of oil for a cavity of %.2g mL (%.2g to %.2g): %.0f %% under-filled%s",
			placed, cavity.Value, cavity.Low, cavity.High, 100*(1-placed/cavity.Value), trapped), "hidden air behind the lens?")
	case placed > cavity.High:
		c.add(CodeOilOverfill, "agents", fmt.Sprintf("%.2g mL of oil for a cavity of %.2g mL (%.2g to %.2g)", placed, cavity.Value, cavity.Low, cavity.High), "overfilled, or part of it lost on the way?")
	}
}

// aphakicFill asks about the iridectomy where nothing holds a fill back.
func (c *checker) aphakicFill(o *Operation) {
	if o.LensAfter != LensAphakic || o.Iridectomy == Yes {
		return
	}
	for _, a := range o.Agents {
		if a.Action != AgentPlaced {
			continue
		}
		switch a.Class {
		case AgentOil, AgentHeavyOil, AgentGas, AgentAir:
			c.add(CodeAphakic, "iridectomy", fmt.Sprintf("%s in an aphakic eye: it passes forward and makes no sphere; iridectomy not recorded as open", a.Class),
				"record the iridectomy; check the pressure on day 1; no lying on the back")
			return
		}
	}
}

// sideChecks holds the typed sides to the eye.
func (c *checker) sideChecks(o *Operation, side eye.Laterality) {
	beforeKnife := false
	for i, s := range o.SideChecks {
		where := fmt.Sprintf("side_checks[%d]", i)
		if s.TypedSide == eye.SideUnknown {
			c.add(CodeSideMissing, where, "the side was not typed", "type right or left")
		}
		c.sideOfEye(where, s.TypedSide, side)
		if o.Side != eye.SideUnknown && s.TypedSide != o.Side && s.TypedSide != eye.SideUnknown && side == eye.SideUnknown {
			c.add(CodeSideNotEye, where, fmt.Sprintf("typed %s, operation on the %s eye", s.TypedSide, o.Side), "")
		}
		beforeKnife = beforeKnife || s.When == BeforeKnife || s.When == BeforeInjection
	}
	if !beforeKnife {
		c.add(CodeSideNotTyped, "side_checks", "nobody typed the side before the start", "type the side before block, knife and injection")
	}
}
