package bench

import (
	"fmt"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fluidics"
	"limitans/internal/caution"
	"limitans/tamponade"
)

// portsAnswer is the entry with all that follows from it.
type portsAnswer struct {
	asked              Ports
	ageMonths          float64
	lens               eye.LensStatus
	refused            string
	rule               eye.SclerotomyRule
	behindMM           float64
	reach              estimate.Estimate
	tiltDeg            float64
	chordMM, shaftsDeg float64
	shaft              estimate.Estimate
	gauge              *fluidics.GaugeShaft
	places             []portsPlace
	warnings           []tamponade.Warning
}

// portsPlace is one place to be reached. The keys are stable.
type portsPlace struct {
	Place       eye.Target         `json:"place"`
	Distance    estimate.Estimate  `json:"distance_mm"`
	Needed      *estimate.Estimate `json:"needed_mm"`
	Spare       *estimate.Estimate `json:"spare_mm"`
	Verdict     eye.ReachVerdict   `json:"verdict,omitempty"`
	TipBend     *estimate.Estimate `json:"tip_bend_mm"`
	PortBend    *estimate.Estimate `json:"port_bend_mm"`
	BendVerdict string             `json:"bend_verdict,omitempty"`
}

const portsMethod = "entry by published practice; the eye a sphere through the ring of the limbus and the posterior pole, distances its chords; " +
	"needed = distance + hub and bend; shafts are uniform cantilevers from the hub, length and rigidity from two published deflections"

// whatPlaces words the places for people.
var whatPlaces = map[eye.Target]string{
	eye.TargetMacula: "macula", eye.TargetArcade: "arcade across", eye.TargetFarthest: "farthest point",
	eye.TargetEquatorOpposite: "equator across", eye.TargetOraOpposite: "ora across", eye.TargetEquatorSame: "equator near",
}

func (d portsAnswer) document() map[string]any {
	c := d.asked
	inputs := map[string]any{
		"axial_length_mm": c.AxialLengthMM, "age_months": d.ageMonths, "lens": d.lens.String(), "growth": c.Growth,
		"apart_deg": c.ApartDeg, "push_mn": c.PushMN, "tip_load_mn": fluidics.RetinalForceMN, "bend_limit_mm": c.LimitMM,
	}
	document := map[string]any{
		"refused": nil, "sclerotomy_mm": nil, "places": append([]portsPlace{}, d.places...), "inputs": inputs,
		"warnings": append([]tamponade.Warning{}, d.warnings...), "method": portsMethod, "cautions": caution.Full(),
	}
	if d.refused != "" {
		document["refused"] = d.refused
		return document
	}
	document["sclerotomy_mm"] = map[string]any{"value": d.rule.MM, "low": d.rule.LowMM, "high": d.rule.HighMM, "source": d.rule.Source, "how_known": d.rule.HowKnown}
	document["behind_limbus_mm"] = d.behindMM
	document["reach_mm"] = d.reach
	if d.reach.Known() {
		document["ports"] = map[string]any{"apart_deg": c.ApartDeg, "chord_mm": d.chordMM, "shafts_deg": d.shaftsDeg, "tilt_deg": d.tiltDeg}
	}
	if d.shaft.Known() {
		inputs["shaft_mm"] = d.shaft
	}
	if d.gauge != nil {
		document["shaft"] = map[string]any{
			"gauge": d.gauge.Gauge, "free_length_mm": d.gauge.FreeLengthMM, "rigidity_n_mm2": d.gauge.RigidityNMM2,
			"source": d.gauge.Source, "how_known": d.gauge.HowKnown,
		}
	}
	return document
}

func (d portsAnswer) sheet() *Sheet {
	sheet := newSheet("Entry into the eye")
	if d.refused != "" {
		sheet.Title = "Entry into the eye: NO DISTANCE IS GIVEN"
		sheet.signal("stop", "refused", d.refused)
	} else {
		d.entryPart(sheet)
		for _, p := range d.places {
			d.placeLine(sheet, p)
		}
	}
	sheet.part("Inputs")
	sheet.line("axial length", fmt.Sprintf("%g mm", d.asked.AxialLengthMM))
	sheet.line("age", fmt.Sprintf("%g months", d.ageMonths))
	sheet.line("lens", d.lens.String())
	sheet.line("growth", d.asked.Growth)
	if d.shaft.Known() {
		sheet.line("free shaft", banded("%.1f", d.shaft, "mm"))
		sheet.line("", d.shaft.Basis)
	}
	if g := d.gauge; g != nil {
		sheet.line("rigidity", banded("%.0f", g.RigidityNMM2, "N·mm²")+fmt.Sprintf(", %d gauge", g.Gauge))
		sheet.line("", "source: "+g.Source+" ("+g.HowKnown+")")
		sheet.line("loads", fmt.Sprintf("%g mN at the tip (most forces on the retina stay below; secondary), %g mN at the entry (from memory)", fluidics.RetinalForceMN, d.asked.PushMN))
		sheet.line("too much", fmt.Sprintf("from %g mm on (no source)", d.asked.LimitMM))
	}
	sheet.list("Method", []string{portsMethod})
	sheet.warnings("Warnings", d.warnings)
	sheet.cautions()
	return sheet
}

func (d portsAnswer) entryPart(sheet *Sheet) {
	ranged := ""
	if d.rule.LowMM < d.rule.HighMM {
		ranged = fmt.Sprintf(" (%.1f to %.1f)", d.rule.LowMM, d.rule.HighMM)
	}
	sheet.line("behind limbus", fmt.Sprintf("%.1f mm%s", d.rule.MM, ranged))
	sheet.line("", "source: "+d.rule.Source+" ("+d.rule.HowKnown+")")
	if d.behindMM != d.rule.MM {
		sheet.line("as told", fmt.Sprintf("%g mm; what follows is computed from it", d.behindMM))
	}
	if !d.reach.Known() {
		sheet.line("reach", banded("%.1f", d.reach, "mm"))
		return
	}
	sheet.line("reach", banded("%.1f", d.reach, "mm")+" to the posterior pole")
	sheet.line("", "error: "+d.reach.Basis)
	sheet.line("ports", fmt.Sprintf("%g° apart: %.1f mm straight, shafts meet at the macula at %.0f°, each %.0f° off the axis", d.asked.ApartDeg, d.chordMM, d.shaftsDeg, d.tiltDeg))
	sheet.part("Places")
}

func (d portsAnswer) placeLine(sheet *Sheet, p portsPlace) {
	text := banded("%.1f", p.Distance, "mm")
	if p.Spare != nil {
		text += fmt.Sprintf(": %s; spare %s", strings.ReplaceAll(string(p.Verdict), "_", " "), banded("%.1f", *p.Spare, "mm"))
	}
	sheet.line(whatPlaces[p.Place], text)
	if p.PortBend == nil {
		return
	}
	sheet.line("", fmt.Sprintf("bend of the tip %s under the load there, %s when pushing at the entry: %s",
		banded("%.2f", *p.TipBend, "mm"), banded("%.2f", *p.PortBend, "mm"), strings.ReplaceAll(p.BendVerdict, "_", " ")))
}
