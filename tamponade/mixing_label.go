package tamponade

import (
	"fmt"
	"strings"

	"limitans/fault"
)

// LabelFacts is what a label says beyond the recipe. MixedAt is the time as the
// unit writes it; lot and expiry as they stand on the bottle.
type LabelFacts struct {
	Eye     string // "RIGHT" or "LEFT"
	MixedAt string
	Lot     string
	Expiry  string
}

// Label is the text for the syringe, one line an element, the gas and its share
// first and in words that cannot be swapped:
//
//	GAS FOR THE EYE: C3F8 14 %
//	octafluoropropane 7 mL + air 43 mL = 50 mL
//	RIGHT eye
//	mixed 14:05 by A, read by B
//	lot 123, expires 2027-01
//	use at once; not for injection elsewhere
//
// Side and time must be given: a label without them is what gets swapped.
func (s Signed) Label(f LabelFacts) ([]string, error) {
	if s.by.first.Name == "" {
		return nil, &fault.Error{Code: fault.Invalid, Where: "label", What: "nobody has signed the mixture", Expected: "two people"}
	}
	for _, field := range []struct{ name, text string }{{"eye", f.Eye}, {"time of mixing", f.MixedAt}, {"lot", f.Lot}, {"expiry", f.Expiry}} {
		if strings.TrimSpace(field.text) == "" {
			return nil, &fault.Error{Code: fault.Invalid, Where: "label", What: field.name + " is missing", Mend: "write \"not told\" when nobody knows it"}
		}
	}
	m := s.sheet.Mixture
	recipe := fmt.Sprintf("%s %g mL + air %g mL = %g mL", m.Agent.FullName(), s.sheet.Marks.GasML, s.sheet.Marks.AirML, s.sheet.Marks.TotalML)
	name := fmt.Sprintf("%s %s", m.Agent, m.Percent)
	if m.Percent == 100 {
		name = fmt.Sprintf("%s PURE, small volume only", m.Agent)
	}
	if m.Agent == AgentAir {
		name, recipe = "AIR", fmt.Sprintf("filtered room air %g mL", s.sheet.Marks.TotalML)
	}
	return []string{
		"GAS FOR THE EYE: " + name,
		recipe,
		strings.TrimSpace(f.Eye) + " eye",
		fmt.Sprintf("mixed %s by %s, read by %s", strings.TrimSpace(f.MixedAt), s.by.first.Name, s.by.second.Name),
		fmt.Sprintf("lot %s, expires %s", strings.TrimSpace(f.Lot), strings.TrimSpace(f.Expiry)),
		"use at once; not for injection elsewhere",
	}, nil
}
