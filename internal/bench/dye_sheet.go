package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/internal/caution"
	"limitans/stain"
	"limitans/tamponade"
)

// dyeAnswer is the preparation with what went into it.
type dyeAnswer struct {
	in       stain.Input
	prepared stain.Sheet
}

const dyeMethod = "weight by volume: 1 % = 10 mg/mL; mixing by volume; osmolarity = Σ n·g/M of what is dissolved, mixed by volume; " +
	"contact judged each time and summed, never averaged"

// document holds the stable keys; percent and mg_per_ml are those that come
// to the retina, of the first dye, and null where a strength was not understood.
func (d dyeAnswer) document() map[string]any {
	s := d.prepared
	document := map[string]any{
		"percent": nil, "mg_per_ml": nil, "verdict": s.Verdict, "accepted": s.Accepted(),
		"stops": append([]stain.Stop{}, s.Stops...), "warnings": append([]stain.Warning{}, s.Warnings...), "steps": append([]string{}, s.Steps...),
		"glucose_percent": s.GlucosePercent, "glucose_verdict": s.Glucose, "osmolarity_mosm_per_l": s.MOsmPerL, "osmolarity_verdict": s.Osmolarity,
		"vehicle": d.in.Vehicle.Name, "method": dyeMethod, "cautions": caution.Full(),
	}
	dyes := []map[string]any{}
	for i, p := range s.Dyes {
		if i == 0 && p.MGPerML.Known() {
			document["percent"], document["mg_per_ml"] = rounded(p.Percent.Value), rounded(p.MGPerML.Value)
		}
		dyes = append(dyes, map[string]any{
			"dye": p.Dye.Key, "name": p.Dye.Name, "written": p.Reading.Raw, "how": p.Reading.How, "label_percent": p.Reading.Strength.Percent(), "label_mg_per_ml": p.Reading.Strength.MGPerML(),
			"percent": p.Percent, "mg_per_ml": p.MGPerML, "limit_percent": p.Limit.Percent(), "limit_mg_per_ml": p.Limit.MGPerML(),
			"status": p.Dye.Status, "how_known": p.Dye.HowKnown,
		})
	}
	document["dyes"] = dyes
	parts := []map[string]any{}
	if len(s.Parts) > 0 {
		parts = append(parts, map[string]any{"liquid": "dye", "ml": s.StockML})
		for _, p := range s.Parts {
			parts = append(parts, map[string]any{"liquid": p.Solution.Key, "ml": p.ML})
		}
	}
	document["parts"] = parts
	if c := s.Contact; c != nil {
		contact := map[string]any{"applications_s": c.Applications, "longest_s": c.LongestS, "total_s": c.TotalS, "verdict": c.Verdict}
		if !math.IsNaN(c.LongestPublishedS) {
			contact["caution_s"], contact["longest_published_s"] = c.CautionS, c.LongestPublishedS
		}
		document["contact"] = contact
	}
	return document
}

// rounded takes the noise of binary fractions from a number that people read.
func rounded(x float64) float64 { return math.Round(x*1e9) / 1e9 }

func (d dyeAnswer) sheet() *Sheet {
	s := d.prepared
	sheet := newSheet("Vital dye: STOP, nothing is to be injected")
	if s.Accepted() {
		sheet.Title = fmt.Sprintf("Vital dye: verdict %s", s.Verdict)
	}
	for _, stop := range s.Stops {
		sheet.signal("stop", "STOP", fmt.Sprintf("%s: %s", stop.Code, stop.Text))
		sheet.line("", "source: "+stop.Source)
	}
	for _, p := range s.Dyes {
		if !p.MGPerML.Known() {
			continue
		}
		sheet.line(p.Dye.Name, banded("%.4g", p.Percent, "%"))
		sheet.line("", "= "+banded("%.4g", p.MGPerML, "mg/mL"))
		sheet.line("", "error: "+p.MGPerML.Basis)
	}
	sheet.line("glucose", banded("%.3f", s.GlucosePercent, "%")+verdictText(s.Glucose))
	sheet.line("osmolarity", banded("%.1f", s.MOsmPerL, "mOsm/L")+verdictText(s.Osmolarity))
	if s.MOsmPerL.Known() {
		sheet.line("", "error: "+s.MOsmPerL.Basis)
	}
	d.contact(sheet)
	sheet.steps(s.Steps)
	d.inputs(sheet)
	sheet.list("Method", []string{dyeMethod})
	warnings := make([]tamponade.Warning, len(s.Warnings))
	for i, w := range s.Warnings {
		warnings[i] = tamponade.Warning(w)
	}
	sheet.warnings("Warnings", warnings)
	sheet.cautions()
	return sheet
}

func verdictText(v stain.Verdict) string {
	if v == stain.Unknown {
		return ""
	}
	return ": " + string(v)
}

func (d dyeAnswer) contact(sheet *Sheet) {
	c := d.prepared.Contact
	if c == nil {
		return
	}
	times := make([]string, len(c.Applications))
	for i, s := range c.Applications {
		times[i] = fmt.Sprintf("%g", s)
	}
	sheet.line("contact", fmt.Sprintf("%s s, %g s in all%s", strings.Join(times, " + "), c.TotalS, verdictText(c.Verdict)))
	if !math.IsNaN(c.LongestPublishedS) {
		sheet.line("", fmt.Sprintf("customary up to %g s, published up to %g s", c.CautionS, c.LongestPublishedS))
	}
	for _, p := range d.prepared.Dyes {
		sheet.line("", "source: "+p.Dye.Name+": "+p.Dye.ContactSource)
	}
}

func (d dyeAnswer) inputs(sheet *Sheet) {
	sheet.part("Inputs")
	for _, w := range d.in.Dyes {
		sheet.line("written", fmt.Sprintf("%q %q", w.Name, w.Strength))
	}
	for _, p := range d.prepared.Dyes {
		if p.MGPerML.Known() {
			sheet.line("read as", fmt.Sprintf("%s %s (%s); read it back aloud", p.Dye.Name, p.Reading.Strength, p.Reading.How))
		}
		sheet.line("limit", fmt.Sprintf("%s %s; stains the limiting membrane: %s; epiretinal membranes: %s; %s [%s]",
			p.Dye.Name, p.Limit, p.Dye.StainsLimiting, p.Dye.StainsEpiretinal, p.Dye.Status, p.Dye.HowKnown))
	}
	sheet.line("vehicle", d.in.Vehicle.Name)
	for _, v := range []struct {
		label, unit string
		value       float64
	}{{"injected", "mL", d.in.InjectedML}, {"light", "%", d.in.LightPercent}, {"distance", "mm", d.in.DistanceMM}} {
		if !math.IsNaN(v.value) {
			sheet.line(v.label, fmt.Sprintf("%g %s", v.value, v.unit))
		}
	}
}
