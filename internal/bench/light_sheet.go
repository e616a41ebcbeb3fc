package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/light"
	"limitans/tamponade"
)

// lightAnswer is the light on one spot with all that goes with it.
type lightAnswer struct {
	preferred  string
	setting    light.Setting
	base       light.Source // the light of the stretches, before their own filters
	errors     light.Errors
	seconds    float64
	segments   []light.Segment
	disc       estimate.Estimate
	irradiance estimate.Estimate
	thermal    light.Thermal
	bases      []basisAnswer
	warnings   []tamponade.Warning
}

const lightMethod = "A-weighted dose = power × mean weight / lit disc × time; disc radius = fibre radius + distance × tan(half angle); " +
	"doses of stretches add, pauses earn nothing; minutes left = (limit − dose) / rate; each basis by itself"

// lightBand writes a value with its interval to three digits, and thousands
// without a power of ten.
func lightBand(e estimate.Estimate, unit string) string {
	if !e.Known() {
		return banded("", e, unit)
	}
	number := func(v float64) string {
		if math.Abs(v) >= 1000 {
			return fmt.Sprintf("%.0f", v)
		}
		return fmt.Sprintf("%.3g", v)
	}
	return fmt.Sprintf("%s %s (%s to %s)", number(e.Value), unit, number(e.Low), number(e.High))
}

// first is the basis that was asked for.
func (d lightAnswer) first() basisAnswer {
	for _, a := range d.bases {
		if a.Key == d.preferred {
			return a
		}
	}
	return d.bases[0]
}

func (d lightAnswer) document() map[string]any {
	a := d.first()
	segments := []map[string]any{}
	for _, g := range d.segments {
		segments = append(segments, map[string]any{"seconds": g.Seconds, "power_mw": g.PowerMW, "distance_mm": g.DistanceMM, "filter_nm": g.FilterNM})
	}
	return map[string]any{
		"dose_j_per_cm2": a.Dose.Value, "basis": a.Key, "minutes_left": a.Left.Value,
		"dose": a.Dose, "left": a.Left, "limit_j_per_cm2": a.Limit, "state": a.State, "bases": d.bases,
		"irradiance_mw_per_cm2": d.irradiance, "disc_radius_mm": d.disc,
		"thermal": map[string]any{"w_per_cm2": d.thermal.WPerCM2, "limit_w_per_cm2": d.thermal.LimitWPerCM2, "source": d.thermal.Source},
		"inputs": map[string]any{
			"power_mw": d.setting.PowerMW, "distance_mm": d.setting.DistanceMM, "seconds": d.seconds, "light": d.setting.Source.String(),
			"fibre_radius_mm": d.setting.Probe.FibreRadiusMM, "half_angle_deg": d.setting.Probe.HalfAngleDegrees,
			"incidence_deg": d.setting.IncidenceDegrees, "reflection": d.setting.Reflection, "segments": segments,
		},
		"warnings": append([]tamponade.Warning{}, d.warnings...), "method": lightMethod, "cautions": caution.Full(),
	}
}

func (d lightAnswer) sheet() *Sheet {
	sheet := newSheet("Light on the retina")
	first := d.first()
	d.basisText(sheet, first, first.Left.Basis)
	for _, a := range d.bases {
		if a.Key != first.Key {
			d.basisText(sheet, a, "from the same inputs as above")
		}
	}
	sheet.part("Heat")
	if t := d.thermal; t.WPerCM2.Known() {
		sheet.line("thermal", lightBand(t.WPerCM2, "W/cm²")+fmt.Sprintf(" of %.3g", t.LimitWPerCM2))
	} else {
		sheet.line("thermal", lightBand(t.WPerCM2, "W/cm²"))
	}
	sheet.line("", "source: "+d.thermal.Source)
	d.inputs(sheet)
	sheet.list("Method", []string{lightMethod})
	sheet.warnings("Warnings", d.warnings)
	sheet.cautions()
	return sheet
}

// basisText prints one basis; the error is told at length once, because the two
// share every input.
func (d lightAnswer) basisText(sheet *Sheet, a basisAnswer, errorText string) {
	sheet.part(fmt.Sprintf("%s, %g J/cm²", a.Name, a.Limit))
	sheet.line("dose", lightBand(a.Dose, "J/cm²")+fmt.Sprintf(", %.0f %% of the limit: %s", 100*a.Share.Value, strings.ReplaceAll(string(a.State), "_", " ")))
	for i, e := range a.Each {
		g := d.segments[i]
		filter := ""
		if g.FilterNM > 0 {
			filter = fmt.Sprintf(", filter %g nm", g.FilterNM)
		}
		sheet.line(fmt.Sprintf("  stretch %d", i+1), fmt.Sprintf("%s  %g s, %g mW, %g mm%s", lightBand(e, "J/cm²"), g.Seconds, g.PowerMW, g.DistanceMM, filter))
	}
	sheet.line("rate now", lightBand(a.Rate, "mW/cm² A-weighted"))
	sheet.line("minutes left", lightBand(a.Left, "min at the setting of now"))
	sheet.line("", "error: "+errorText)
	for _, w := range a.WhatIf {
		sheet.line("  what if", fmt.Sprintf("%s: %s", w.What, lightBand(w.MinutesLeft, "min left")))
	}
	sheet.line("", "source: "+a.Source+" ("+a.HowKnown+")")
}

func (d lightAnswer) inputs(sheet *Sheet) {
	s := d.setting
	sheet.part("Inputs")
	sheet.line("light", s.Source.String())
	for _, in := range []struct {
		label, unit string
		e           estimate.Estimate
	}{
		{"power", "mW", s.PowerMW},
		{"distance", "mm", s.DistanceMM},
		{"fibre radius", "mm", s.Probe.FibreRadiusMM},
		{"half angle", "°", s.Probe.HalfAngleDegrees},
		{"reflection", "times", s.Reflection},
		{"lit disc", "mm radius", d.disc},
		{"irradiance", "mW/cm²", d.irradiance},
	} {
		sheet.line(in.label, lightBand(in.e, in.unit))
		if in.label != "irradiance" && in.label != "lit disc" { // theirs repeats the ones above
			sheet.line("", in.e.Basis)
		}
	}
	sheet.line("incidence", fmt.Sprintf("%g°", s.IncidenceDegrees))
	sheet.line("time now", fmt.Sprintf("%g s", d.seconds))
}
