package main

import (
	"fmt"
	"io"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/caution"
	"limitans/tamponade"
)

// mixDocument is the mixing sheet with what the command adds to it.
type mixDocument struct {
	AxialLength *float64
	Percent     tamponade.PercentReading
	sheet       tamponade.MixingSheet
	unclear     []tamponade.Stop
	fill        tamponade.Percent
	wrong       []tamponade.WrongMixture
}

// orUnclear makes a stop of what has two readings and hands on everything else.
func (d *mixDocument) orUnclear(err error, code tamponade.StopCode, flag string) error {
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

// jsonDocument holds the stable keys; gas_ml, air_ml and flush_ml are null while
// a stop stands or a figure is missing.
func (d mixDocument) jsonDocument() map[string]any {
	s := d.sheet
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
	if d.AxialLength != nil {
		document["axial_length_mm"] = *d.AxialLength
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

func (d mixDocument) print(out *console, asJSON bool) error {
	if asJSON {
		return writeIndented(out.Stdout, d.jsonDocument())
	}
	var b strings.Builder
	d.text(&b)
	_, err := io.WriteString(out.Stdout, b.String())
	return err
}

// banded writes a value with its interval.
func banded(format string, e estimate.Estimate, unit string) string {
	if !e.Known() {
		return "not computed: " + e.Basis
	}
	return fmt.Sprintf(format, e.Value) + " " + unit + fmt.Sprintf(" ("+format+" to "+format+")", e.Low, e.High)
}

func (d mixDocument) text(b *strings.Builder) {
	s := d.sheet
	sheet := sheetText{b}
	switch {
	case len(d.unclear) > 0:
		b.WriteString("No mixture: what was written has two readings\n")
	case s.Technique == tamponade.PneumaticRetinopexy:
		fmt.Fprintf(b, "Pneumatic injection: %s, %s\n", s.Mixture, s.Mixture.Agent.FullName())
	case s.Mixture.Agent == tamponade.AgentAir:
		b.WriteString("Air for a whole fill\n")
	default:
		fmt.Fprintf(b, "Mixture for a whole fill: %s, %s\n", s.Mixture, s.Mixture.Agent.FullName())
	}
	for _, stop := range s.Stops {
		name := "STOP"
		if stop.Lifted {
			name = "stop, lifted"
		}
		sheet.line(name, fmt.Sprintf("%s: %s", stop.Code, stop.Text))
		if stop.Lifted {
			sheet.line("", "lifted by "+stop.LiftedBy)
		} else if stop.Liftable {
			sheet.line("", fmt.Sprintf("two people lift it with --lift \"%s=REASON\" --first NAME --second NAME", stop.Code))
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
	sheet.list("Cautions", caution.Full())
}

func (d mixDocument) recipe(sheet sheetText) {
	s := d.sheet
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
	sheet.b.WriteString("\nSteps\n")
	for i, step := range s.Steps {
		fmt.Fprintf(sheet.b, "  %d. %s\n", i+1, strings.Join(wrapped(step, 94), "\n     "))
	}
}

// pressures stand beside a recipe and beside a stop: they say why it is there.
func (d mixDocument) pressures(sheet sheetText) {
	if len(d.wrong) == 0 {
		return
	}
	fmt.Fprintf(sheet.b, "\nHighest pressure in the first days, fill %s at the end of surgery\n", d.fill)
	for _, w := range d.wrong {
		sheet.line(w.Mixture.String(), fmt.Sprintf("%s  %s", banded("%.0f", w.Peak.PressureMMHg, "mmHg"), w.What))
	}
	sheet.line("", "error: "+d.wrong[0].Peak.PressureMMHg.Basis)
}

func (d mixDocument) inputs(sheet sheetText) {
	s := d.sheet
	sheet.b.WriteString("\nInputs\n")
	if d.Percent.Raw != "" {
		sheet.line("share", fmt.Sprintf("%q read as %s (%s); read it back aloud", d.Percent.Raw, d.Percent.Percent, d.Percent.How))
	}
	if s.Syringe.CapacityML > 0 {
		sheet.line("syringe", fmt.Sprintf("%g mL, divisions of %g mL, dead space %s mL", s.Syringe.CapacityML, s.Syringe.GraduationML, s.Syringe.DeadSpaceML))
		sheet.line("", s.Syringe.Basis)
	}
	if d.AxialLength != nil {
		sheet.line("axial length", fmt.Sprintf("%g mm", *d.AxialLength))
	}
	if s.CavityML.Basis != "" {
		sheet.line("cavity", banded("%.2f", s.CavityML, "mL"))
		if s.CavityML.Known() {
			sheet.line("", "error: "+s.CavityML.Basis)
		}
	}
	sheet.b.WriteString("\n")
}

// sheetText writes the blocks of a printed sheet.
type sheetText struct{ b *strings.Builder }

func (t sheetText) line(label, text string) {
	for i, part := range wrapped(text, 80) {
		if i > 0 {
			label = ""
		}
		fmt.Fprintf(t.b, "  %-16s %s\n", label, part)
	}
}

func (t sheetText) list(title string, texts []string) {
	t.b.WriteString(title + "\n")
	for _, text := range texts {
		if text != "" {
			t.b.WriteString("  - " + strings.Join(wrapped(text, 96), "\n    ") + "\n")
		}
	}
}

// warnings prints each with its source behind it.
func (t sheetText) warnings(title string, warnings []tamponade.Warning) {
	if len(warnings) == 0 {
		return
	}
	texts := make([]string, len(warnings))
	for i, w := range warnings {
		texts[i] = w.Text + " [" + w.Source + "]"
	}
	t.list(title, texts)
}
