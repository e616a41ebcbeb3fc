package bench

import (
	"fmt"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/caution"
	"limitans/tamponade"
)

// MixAnswer is a mixing sheet with what was asked and what mistakes would do.
type MixAnswer struct {
	Asked   Mix
	Percent tamponade.PercentReading
	Sheet   tamponade.MixingSheet
	unclear []tamponade.Stop
	fill    tamponade.Percent
	wrong   []tamponade.WrongMixture
}

// orUnclear makes a stop of what has two readings and hands on everything else.
func (d *MixAnswer) orUnclear(err error, code tamponade.StopCode, flag string) error {
	if fault.CodeOf(err) != fault.Conflict {
		return atFlag(err, flag)
	}
	d.unclear = append(d.unclear, tamponade.Stop{Code: code, Text: atFlag(err, flag).Error() + ".", Source: "a number or a gas is never guessed"})
	return nil
}

// noSheet is the sheet while gas or share have two readings: nothing is computed.
func noSheet() tamponade.MixingSheet {
	missing := estimate.Missing("what was written has two readings")
	return tamponade.MixingSheet{
		CavityML: missing, InSyringe: missing, EndVolumeML: missing,
		Flush: tamponade.Flush{NeededML: missing, PercentInEye: missing},
	}
}

const mixMethod = "gas = share × (total + dead space), set on lines of the syringe; volumes at room pressure; " +
	"flush by exponential dilution in a well mixed air-filled cavity, five cavity volumes; pressures of wrong mixtures from the gas exchange model"

// document holds the stable keys; gas_ml, air_ml and flush_ml are null while
// a stop stands or a figure is missing.
func (d *MixAnswer) document() map[string]any {
	s := d.Sheet
	number := func(x float64) *float64 { return &x }
	document := map[string]any{
		"gas": s.Mixture.Agent, "percent": d.Percent, "accepted": s.Accepted(),
		"gas_ml": nil, "air_ml": nil, "total_ml": nil, "flush_ml": nil,
		"flush": s.Flush.NeededML, "flush_law": s.Flush.Law, "percent_in_eye": s.Flush.PercentInEye,
		"percent_in_syringe": s.InSyringe, "cavity_ml": s.CavityML, "end_volume_ml": s.EndVolumeML, "syringe": s.Syringe,
		"stops": append([]tamponade.Stop{}, s.Stops...), "warnings": append([]tamponade.Warning{}, s.Warnings...),
		"steps": append([]string{}, s.Steps...), "overpressure": append([]tamponade.Overpressure{}, s.Overpressures...),
		"method": mixMethod, "cautions": caution.Full(),
	}
	if d.Asked.AxialLength != nil {
		document["axial_length_mm"] = *d.Asked.AxialLength
	}
	if s.Accepted() {
		document["gas_ml"], document["air_ml"], document["total_ml"] = number(s.Marks.GasML), number(s.Marks.AirML), number(s.Marks.TotalML)
		if s.Flush.NeededML.Known() {
			document["flush_ml"] = number(s.Flush.NeededML.Value)
		}
	}
	wrong := []map[string]any{}
	for _, w := range d.wrong {
		wrong = append(wrong, map[string]any{"what": w.What, "percent": w.Mixture.Percent, "peak_pressure_mmhg": w.Peak.PressureMMHg, "held_by_wall": w.Peak.HeldByWall})
	}
	document["wrong_mixtures"] = wrong
	return document
}

func (d *MixAnswer) title() string {
	s := d.Sheet
	switch {
	case len(d.unclear) > 0:
		return "No mixture: what was written has two readings"
	case s.Technique == tamponade.PneumaticRetinopexy:
		return fmt.Sprintf("Pneumatic injection: %s, %s", s.Mixture, s.Mixture.Agent.FullName())
	case s.Mixture.Agent == tamponade.AgentAir:
		return "Air for a whole fill"
	}
	return fmt.Sprintf("Mixture for a whole fill: %s, %s", s.Mixture, s.Mixture.Agent.FullName())
}

// sheet is the recipe for people.
func (d *MixAnswer) sheet() *Sheet {
	s := d.Sheet
	sheet := newSheet(d.title())
	for _, stop := range s.Stops {
		text := fmt.Sprintf("%s: %s", stop.Code, stop.Text)
		if stop.Lifted {
			sheet.signal("caution", "stop, lifted", text)
			sheet.line("", "lifted by "+stop.LiftedBy)
		} else {
			sheet.signal("stop", "STOP", text)
			if stop.Liftable {
				sheet.line("", fmt.Sprintf("two people lift it with a typed reason: --lift \"%s=REASON\" --first NAME --second NAME", stop.Code))
			}
		}
		sheet.line("", "source: "+stop.Source)
	}
	if s.Accepted() {
		d.recipe(sheet)
	}
	d.pressures(sheet)
	d.inputs(sheet)
	sheet.list("Method", []string{mixMethod, s.Flush.Law})
	sheet.warnings("Warnings", s.Warnings)
	sheet.cautions()
	return sheet
}

func (d *MixAnswer) recipe(sheet *Sheet) {
	s := d.Sheet
	sheet.line("gas", fmt.Sprintf("%g mL", s.Marks.GasML))
	sheet.line("air", fmt.Sprintf("%g mL", s.Marks.AirML))
	sheet.line("total", fmt.Sprintf("%g mL in a %g mL syringe", s.Marks.TotalML, s.Syringe.CapacityML))
	if s.Mixture.Agent != tamponade.AgentAir {
		sheet.line("in the syringe", banded("%.1f", s.InSyringe, "%"))
		sheet.line("", "error: "+s.InSyringe.Basis)
	}
	if s.Technique == tamponade.PneumaticRetinopexy {
		sheet.line("at its largest", banded("%.2f", s.EndVolumeML, "mL"))
		sheet.line("", "error: "+s.EndVolumeML.Basis)
	} else if s.Mixture.Agent != tamponade.AgentAir {
		sheet.line("flush", banded("%.0f", s.Flush.NeededML, "mL"))
		sheet.line("", "error: "+s.Flush.NeededML.Basis)
		sheet.line("in the eye", banded("%.1f", s.Flush.PercentInEye, "%"))
		sheet.line("", "error: "+s.Flush.PercentInEye.Basis)
	}
	sheet.steps(s.Steps)
}

// pressures stand beside a recipe and beside a stop: they say why it is there.
func (d *MixAnswer) pressures(sheet *Sheet) {
	if len(d.wrong) == 0 {
		return
	}
	sheet.part(fmt.Sprintf("Highest pressure in the first days, fill %s at the end of surgery", d.fill))
	for _, w := range d.wrong {
		sheet.line(w.Mixture.String(), fmt.Sprintf("%s  %s", banded("%.0f", w.Peak.PressureMMHg, "mmHg"), w.What))
	}
	sheet.line("", "error: "+d.wrong[0].Peak.PressureMMHg.Basis)
}

func (d *MixAnswer) inputs(sheet *Sheet) {
	s := d.Sheet
	sheet.part("Inputs")
	if d.Percent.Raw != "" {
		sheet.line("share", fmt.Sprintf("%q read as %s (%s); read it back aloud", d.Percent.Raw, d.Percent.Percent, d.Percent.How))
	}
	if s.Syringe.CapacityML > 0 {
		sheet.line("syringe", fmt.Sprintf("%g mL, divisions of %g mL, dead space %s mL", s.Syringe.CapacityML, s.Syringe.GraduationML, s.Syringe.DeadSpaceML))
		sheet.line("", s.Syringe.Basis)
	}
	if d.Asked.AxialLength != nil {
		sheet.line("axial length", fmt.Sprintf("%g mm", *d.Asked.AxialLength))
	}
	if s.CavityML.Basis != "" {
		sheet.line("cavity", banded("%.2f", s.CavityML, "mL"))
		if s.CavityML.Known() {
			sheet.line("", "error: "+s.CavityML.Basis)
		}
	}
}
