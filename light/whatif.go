package light

import (
	"limitans/estimate"
	"limitans/fault"
)

// Change is one thing that could be done differently.
type Change struct {
	What    string
	Setting Setting
}

// Changes are settings that spare the retina, from the recommendations of reviews
// (van den Biesen 2000, Cicinelli 2017, abstracts) and common practice: half the
// power; the tip at 10 and at 15 mm where it is nearer; a 475 nm long-pass filter
// at the same measured power, where the light's spectrum is known. What cannot be
// computed is left out because its input is missing, and no light gets stronger.
func (s Setting) Changes(e Errors) ([]Change, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	half := s
	half.PowerMW = s.PowerMW.Scaled(0.5)
	changes := []Change{{"half the power", half}}
	for _, c := range []struct {
		what string
		mm   float64
	}{{"the tip at 10 mm", 10}, {"the tip at 15 mm", 15}} {
		if s.DistanceMM.Value < c.mm {
			far := s
			far.DistanceMM = e.Distance(c.mm)
			changes = append(changes, Change{c.what, far})
		}
	}
	if half.check() != nil {
		changes = changes[1:] // as dim as a setting gets
	}
	if s.Source.filterNM == 0 {
		filtered := s
		var err error
		filtered.Source, err = s.Source.LongPass(vanDenBiesenFilterNM)
		switch fault.CodeOf(err) {
		case "":
			changes = append(changes, Change{"a 475 nm long-pass filter at the same measured power", filtered})
		case fault.Unsupported, fault.NotMeasurable:
		default:
			return nil, err
		}
	}
	return changes, nil
}

// WhatIf is one change with the time that it would leave on a basis.
type WhatIf struct {
	What        string            `json:"what"`
	MinutesLeft estimate.Estimate `json:"minutes_left"`
}

// WhatIfs computes the time that every change would leave.
func WhatIfs[B Basis](used Dose[B], s Setting, e Errors) ([]WhatIf, error) {
	changes, err := s.Changes(e)
	if err != nil {
		return nil, err
	}
	out := make([]WhatIf, len(changes))
	for i, c := range changes {
		left, err := (Budget[B]{}).MinutesLeft(used, c.Setting)
		if err != nil {
			return nil, err
		}
		out[i] = WhatIf{c.What, left}
	}
	return out, nil
}
