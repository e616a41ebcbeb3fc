package stain

import (
	"fmt"
	"math"
	"strings"

	"limitans/fault"
)

// contact judges the applications.
func (s *Sheet) contact(in Input) error {
	if len(in.ContactS) == 0 || len(s.Dyes) == 0 {
		return nil
	}
	dyes := make([]Dye, len(s.Dyes))
	var sources []string
	for i, p := range s.Dyes {
		dyes[i] = p.Dye
		sources = append(sources, p.Dye.Name+": "+p.Dye.ContactSource)
	}
	c, err := AddUp(in.ContactS, dyes...)
	if err != nil {
		return err
	}
	s.Contact = &c
	source := strings.Join(sources, "; ")
	if c.LongestS > c.LongestPublishedS {
		s.stop(StopContact, fmt.Sprintf("%g s in one application: nothing longer than %g s is published for this use.", c.LongestS, c.LongestPublishedS), source)
	} else if c.LongestS > c.CautionS {
		s.warn("long_contact", fmt.Sprintf("%g s in one application: up to %g s is customary.", c.LongestS, c.CautionS), source)
	}
	if n := len(c.Applications); n > 1 {
		light := "; light " + given(in.LightPercent, "%g %%") + ", distance " + given(in.DistanceMM, "%g mm")
		text := fmt.Sprintf("%d applications, %g s of contact in all%s. Repeated staining and light add up.", n, c.TotalS, light)
		const chalam = "cells survived 53 % at 0.5 mg/mL, 15 min, light at 1 cm, and 97.5 % at 0.25 mg/mL, 1 min, 2.5 cm (Chalam 2015, J Clin Med Res 7:517, abstract)"
		if c.Verdict == Halt && c.LongestS <= c.LongestPublishedS {
			s.stop(StopContactSum, text+fmt.Sprintf(" Never above %g s with this dye.", c.LongestPublishedS), source)
		} else {
			s.warn("repeated_contact", text, chalam)
		}
	}
	if c.Verdict != Unknown {
		s.Verdict = worse(s.Verdict, c.Verdict)
	}
	return nil
}

func given(x float64, format string) string {
	if math.IsNaN(x) {
		return "not told"
	}
	return fmt.Sprintf(format, x)
}

// surroundings warns of what the eye and the light add.
func (s *Sheet) surroundings(in Input) error {
	for _, q := range []struct {
		where       string
		value       float64
		least, most float64
	}{
		{"light", in.LightPercent, 0, 100},
		{"distance", in.DistanceMM, 0.5, 30},
		{"volume injected", in.InjectedML, leastML, 5},
	} {
		if !math.IsNaN(q.value) && !(q.value >= q.least && q.value <= q.most) {
			return &fault.Error{Code: fault.Invalid, Where: q.where, What: fmt.Sprintf("%g cannot be", q.value), Expected: fmt.Sprintf("%g to %g", q.least, q.most)}
		}
	}
	for _, p := range s.Dyes {
		d := p.Dye
		if d.Key == "tb" && in.DryHydrophilicImplant {
			s.stop(StopDryHydrophilic, "Trypan blue must not be used when a dry-state hydrophilic acrylic lens is to be put in.", "label (full text, excerpt)")
		}
		if in.InjectedML > d.VolumeHighML {
			s.warn("large_volume", fmt.Sprintf("%g mL is more than the customary %g to %g mL of %s.", in.InjectedML, d.VolumeLowML, d.VolumeHighML, d.Name), "from memory")
		}
		if d.Sensitiser {
			s.warn("light", capital(d.Name)+" is taken as excited by light beyond 620 nm: dim the light and steer it away while the dye rests. The evidence conflicts.",
				"donor maculae harmed: Gandorfer 2003, IOVS 44:316 (abstract); porcine retina not: PMID 17065519 (abstract)")
		}
		if d.Key == "icg" {
			s.warn("iodine", "Iodine allergy: ask; common preparations of indocyanine green hold sodium iodide.", "from memory")
		}
		s.warn("dye", capital(d.Name)+": "+d.Caution+".", d.HowKnown)
	}
	if in.Hole == HoleOpen && len(s.Dyes) > 0 {
		s.warn("hole_open", "Hole not covered: cover it (blood, viscoelastic or heavy liquid) and inject along the retina, not at the hole.", "covering: from memory; harm below the retina: Graefes 2012;250:669 (abstract)")
	}
	if in.SubretinalDyeSuspected {
		s.warn("subretinal", "Dye below the retina: note the time and wash out; treat any indocyanine dye there as harmful.", "Retina 2003 and Graefes 2012;250:669 (abstracts); the sources disagree at 0.5 mg/mL")
	}
	return nil
}

// steps words the preparation.
func (s *Sheet) steps() {
	if len(s.Dyes) == 0 || len(s.Stops) > 0 {
		return
	}
	var names, finals []string
	for _, p := range s.Dyes {
		names = append(names, fmt.Sprintf("%s %s", p.Dye.Name, p.Reading.Strength))
		finals = append(finals, fmt.Sprintf("%s %s", p.Dye.Name, strengthText(p.MGPerML.Value)))
	}
	s.Steps = append(s.Steps, "Read the label aloud, name and strength with its unit: "+strings.Join(names, ", ")+".")
	if len(s.Parts) > 0 {
		s.Steps = append(s.Steps, fmt.Sprintf("Draw %.4g mL of it.", s.StockML))
		for _, p := range s.Parts {
			s.Steps = append(s.Steps, fmt.Sprintf("Add %.4g mL %s.", p.ML, p.Solution.Name))
		}
		s.Steps = append(s.Steps, fmt.Sprintf("Turn it over until it is even: %.4g mL in all.", s.TotalML))
	}
	s.Steps = append(
		s.Steps,
		"Write on the syringe: FOR THE EYE, "+strings.Join(finals, ", ")+".",
		"Stop the infusion, inject along the retina, as little as stains; count the seconds aloud; wash out at once.",
	)
}
