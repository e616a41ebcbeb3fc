package record

import (
	"fmt"
	"slices"
	"strings"

	"limitans/eye"
)

func (c *checker) plan(p *Plan, side eye.Laterality) {
	c.need(p.EyeID, "eye_id", "eye")
	c.happened(p.MadeOn, "made_on")
	if p.Side == eye.SideUnknown {
		c.add(CodeSideMissing, "side", "the plan does not tell the side", "type right or left")
	}
	c.sideOfEye("side", p.Side, side)
	if p.Revision < 1 || p.Revision == 1 && p.Replaces != "" || p.Revision > 1 && p.Replaces == "" {
		c.add(CodeContradiction, "revision", fmt.Sprintf("revision %d that replaces %q", p.Revision, string(p.Replaces)), "the first is 1 and replaces none")
	}
	if p.Replaces != "" && p.Replaces == p.ID {
		c.add(CodeContradiction, "replaces", "a plan cannot replace itself", "")
	}
	c.choice(p)
	t := p.Tamponade
	c.within(t.FillPercent, 0, 100, "tamponade.fill_percent", "%")
	if t.Class == AgentGas || t.Gas != "" || t.GasText != "" {
		c.gas(gasIn{where: "tamponade", gas: t.Gas, text: t.GasText, percent: t.Percent})
	}
	c.within(p.PostureDays, 0, 60, "posture_days", "days")
	c.checkOverrides(p.Overrides, side)
}

// choice holds the chosen option to the list, and wants reasons when it is not
// the first.
func (c *checker) choice(p *Plan) {
	if p.Chosen == "" {
		if p.Signed != nil {
			c.add(CodeOpenField, "chosen", "nothing was chosen", "choose before signing")
		}
		return
	}
	at := slices.IndexFunc(p.Options, func(o PlanOption) bool { return o.Code == p.Chosen })
	switch {
	case at < 0:
		c.add(CodeOptionUnknown, "chosen", fmt.Sprintf("%q is none of the options that were offered", p.Chosen), "choose one of them, or keep it as a further option")
	case at > 0 && !hasReason(p.ReasonsAgainstFirst):
		c.add(CodeReasonAgainstFirst, "reasons_against_first", fmt.Sprintf("%q was chosen instead of %q without a reason", p.Options[at].Name, p.Options[0].Name), "give the reason; the series needs it later")
	}
}

func hasReason(all []PlanReason) bool {
	return slices.ContainsFunc(all, func(r PlanReason) bool {
		return r.Code != "" && (r.Code != ReasonOther || strings.TrimSpace(string(r.Text)) != "")
	})
}
