package main

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/internal/figure"
	"limitans/tamponade"
)

const bubbleMethod = "gases exchange with blood by their partial pressures, calibrated to published half-lives of people's eyes; " +
	"bands from sampled eyes (exchange, fill, mixture, pressure, two laws of decay); level flat in a sphere; highest pressure by integration with aqueous flow"

// bubbleAnswer is said with every date.
func bubbleAnswer() string {
	return "Flying, heights, nitrous oxide, diving: " + tamponade.NotUntilSeenEmpty + ". No date here is a permission."
}

// jsonDocument holds the stable keys.
func (d bubbleDocument) jsonDocument() map[string]any {
	p := d.prediction
	course := []map[string]any{}
	for i, day := range d.days {
		f := p.Fill[i]
		if !f.Known() {
			break // nothing is predicted, and surprises say why
		}
		course = append(course, map[string]any{"day": day, "fill": f.Value, "fill_low": f.Low, "fill_high": f.High, "pressure": d.pressure[i]})
	}
	postures := func(name string) map[string]any {
		out := map[string]any{}
		for i, e := range d.covered[name] {
			out[bubblePostures[i].key] = e
		}
		return out
	}
	support := map[string]any{}
	for k, hours := range p.SupportHours {
		var days []map[string]any
		for i, e := range hours {
			days = append(days, map[string]any{"day": supportDays[i], "hours": e})
		}
		support[bubbleDiaries[k].key] = days
	}
	surprises := []map[string]any{}
	for _, s := range d.surprises {
		surprises = append(surprises, map[string]any{"day": s.Observation.Day, "fill": s.Observation.Fill, "expected": s.Expected, "probability": s.Probability, "leak": s.Leak, "text": s.Say})
	}
	document := map[string]any{
		"gas": d.bubble.Mixture.Agent, "percent": d.percent, "fill": d.fill, "lens": d.bubble.Lens, "axial_length_mm": d.command.AxialLength,
		"cavity_ml": d.bubble.CavityML, "half_life_days": p.HalfLifeDays,
		"days_to_fill_50": p.LastAboveDay[0], "days_to_fill_10": p.LastAboveDay[1], "days_to_gone": p.LastAboveDay[2],
		"macula_covered_until_day": postures("macula"), "peak_pressure_mmhg": d.peak.PressureMMHg, "peak_pressure_held_by_wall": d.peak.HeldByWall,
		"course": course, "support_hours": support, "surprises": surprises, "observations": len(d.seen),
		"answer": bubbleAnswer(), "warnings": d.warnings(), "method": bubbleMethod, "seed": d.command.Seed, "paths": p.Paths, "cautions": caution.Full(),
	}
	if d.advice != nil {
		counts := []map[string]any{}
		for _, c := range d.closed {
			counts = append(counts, map[string]any{"what": c.What, "closed": c.Closed, "eyes": c.Eyes, "share": c.Share, "source": c.Source})
		}
		document["posture_advice"] = map[string]any{"text": d.advice.Text, "days": d.advice.Days, "basis": d.advice.Basis}
		document["closed_by_day"] = counts
	}
	if len(d.targets) > 1 {
		document["break_covered_until_day"] = postures(d.targets[1].Name)
		if d.rota != nil {
			document["rota"] = d.rotaJSON()
		}
	}
	return document
}

func (d bubbleDocument) rotaJSON() map[string]any {
	blocks := []map[string]any{}
	for _, b := range d.rota.Blocks {
		blocks = append(blocks, map[string]any{"position": b.Position.Name, "hours": b.Hours, "covers": b.Covers})
	}
	return map[string]any{"conflict": d.rota.Conflict, "blocks": blocks, "short": append([]string{}, d.rota.Short...)}
}

// warnings are the sentences that this bubble gives cause for.
func (d bubbleDocument) warnings() []string {
	warnings := []string{}
	for _, s := range d.surprises {
		warnings = append(warnings, s.Say)
	}
	if len(d.surprises) > 0 {
		warnings = append(warnings, "The pressures are those of a watertight eye that was filled as told; what was seen is not in them.")
	}
	if d.peak.HeldByWall {
		warnings = append(warnings, "In an unfavourable eye the bubble outgrows the cavity: pressure then rises whatever flows out. Check the concentration and the pressure on the first day.")
	}
	if d.bubble.Lens == tamponade.LensUnknown {
		warnings = append(warnings, "The lens is not told: computed as phakic, whose gas stays longest, with a wider band.")
	}
	if d.bubble.Lens == tamponade.Aphakic {
		for _, w := range tamponade.AphakicWarnings(false, tamponade.IridectomyNotTold) {
			warnings = append(warnings, w.Text)
		}
	}
	if d.bubble.Mixture.Agent == tamponade.AgentC2F6 {
		warnings = append(warnings, "No half-life of C2F6 in people's eyes was found: its course stands on solubility and diffusion, and its band is wider.")
	}
	warnings = append(warnings, "Below 6 % fill a bubble is rounder than its level says and touches less retina.",
		"Ports that leak in the first hours are not in the prediction: compare the fill on day 1 and enter it with --seen.")
	for _, w := range tamponade.LongEyeQuestions(d.command.AxialLength) {
		warnings = append(warnings, w.Text)
	}
	return warnings
}

// text prints the sheet.
func (d bubbleDocument) text(b *strings.Builder) {
	p := d.prediction
	sheet := sheetText{b}
	fmt.Fprintf(b, "Bubble of %s, %s\n", d.bubble.Mixture, d.bubble.Mixture.Agent.FullName())
	sheet.line("ANSWER", bubbleAnswer())
	for _, s := range d.surprises {
		name := "CAUTION"
		if s.Leak {
			name = "LEAK?"
		}
		sheet.line(name, s.Say)
	}
	b.WriteString("\n")
	figureLine := func(label, format string, e estimate.Estimate, unit string) {
		sheet.line(label, banded(format, e, unit))
		sheet.line("", "error: "+e.Basis)
	}
	figureLine("half-life", "%.1f", p.HalfLifeDays, "days")
	figureLine("half full", "%.1f", p.LastAboveDay[0], "days after surgery")
	sheet.line("a tenth full", banded("%.0f", p.LastAboveDay[1], "days after surgery"))
	sheet.line("gone", banded("%.0f", p.LastAboveDay[2], "days after surgery")+fmt.Sprintf(": below %.1f %% of the cavity", 100*tamponade.GoneFill))
	figureLine("highest pressure", "%.0f", d.peak.PressureMMHg, "mmHg")
	if len(d.seen) > 0 {
		sheet.line("law of decay", fmt.Sprintf("contact area %.0f %%, volume %.0f %% likely after what was seen", 100*d.contact, 100*(1-d.contact)))
	}
	for _, t := range d.targets {
		fmt.Fprintf(b, "\nThe %s is covered until day\n", t.Name)
		for i, e := range d.covered[t.Name] {
			days := fmt.Sprintf("%.1f (%.1f to %.1f)", e.Value, e.Low, e.High)
			switch {
			case !e.Known():
				days = "not computed"
			case strings.HasPrefix(e.Basis, "never"):
				days = "never"
			case e.High == 0:
				days = "not with this fill"
			}
			fmt.Fprintf(b, "  %-28s %s\n", bubblePostures[i].position.Name, days)
		}
	}
	if p.HalfLifeDays.Known() {
		d.supportText(b)
	}
	if d.advice != nil {
		d.adviceText(b)
	}
	if d.rota != nil {
		d.rotaText(b)
	}
	b.WriteString("\nCourse\n  day    fill             pressure, mmHg\n")
	for i, day := range d.days {
		if i%2 == 1 && day > 3 && i != len(d.days)-1 {
			continue // every other line is enough for reading
		}
		f := p.Fill[i]
		if !(f.High >= 0.005) {
			break // nothing but zeros from here on, or nothing predicted
		}
		fmt.Fprintf(b, "  %-5g %4.0f %% (%.0f to %.0f)%s%.0f\n", day, 100*f.Value, 100*f.Low, 100*f.High, strings.Repeat(" ", max(1, 12-len(fmt.Sprintf("(%.0f to %.0f)", 100*f.Low, 100*f.High))+2)), d.pressure[i])
	}
	b.WriteString("\nInputs\n")
	sheet.line("share", fmt.Sprintf("%q read as %s (%s)", d.percent.Raw, d.percent.Percent, d.percent.How))
	sheet.line("fill", fmt.Sprintf("%q read as %s (%s)", d.fill.Raw, d.fill.Percent, d.fill.How))
	sheet.line("lens", d.bubble.Lens.String())
	sheet.line("axial length", fmt.Sprintf("%g mm", d.command.AxialLength))
	sheet.line("cavity", banded("%.2f", d.bubble.CavityML, "mL"))
	sheet.line("", "error: "+d.bubble.CavityML.Basis)
	for _, o := range d.seen {
		sheet.line("seen", fmt.Sprintf("day %g: %.0f %%, reading error %.0f points (0.35 mL)", o.Day, 100*o.Fill, 100*estimate.Z95*o.FillSD))
	}
	sheet.line("sampling", fmt.Sprintf("%d courses, seed %d", p.Paths, d.command.Seed))
	b.WriteString("\n")
	sheet.list("Method", []string{bubbleMethod})
	sheet.list("Warnings", d.warnings())
	sheet.list("Cautions", caution.Full())
}

func (d bubbleDocument) supportText(b *strings.Builder) {
	b.WriteString("\nHours a day in which the macula is covered, day 1 to 7\n")
	for k, hours := range d.prediction.SupportHours {
		fmt.Fprintf(b, "  %-54s", bubbleDiaries[k].name)
		for _, e := range hours {
			fmt.Fprintf(b, " %4.0f", e.Value)
		}
		b.WriteString("\n")
		fmt.Fprintf(b, "  %-54s", "  in an unlucky bubble (1 of 40)")
		for _, e := range hours {
			fmt.Fprintf(b, " %4.0f", e.Low)
		}
		b.WriteString("\n")
	}
}

func (d bubbleDocument) adviceText(b *strings.Builder) {
	sheet := sheetText{b}
	b.WriteString("\nPosture to start from\n")
	sheet.line(fmt.Sprintf("%g µm", d.command.HoleUM), d.advice.Text)
	sheet.line("", "basis: "+d.advice.Basis)
	for _, c := range d.closed {
		sheet.line(fmt.Sprintf("%d of %d closed", c.Closed, c.Eyes), fmt.Sprintf("%s: %.0f %% (%.0f to %.0f); %s", c.What, 100*c.Share.Value, 100*c.Share.Low, 100*c.Share.High, c.Source))
	}
}

func (d bubbleDocument) rotaText(b *strings.Builder) {
	sheet := sheetText{b}
	if d.rota.Conflict {
		b.WriteString("\nThe targets conflict: no single position covers both on day 1. Take turns\n")
	} else {
		b.WriteString("\nOne position covers both targets on day 1\n")
	}
	for _, block := range d.rota.Blocks {
		sheet.line(fmt.Sprintf("%.3g hours", block.Hours), block.Position.Name+": covers "+strings.Join(block.Covers, " and "))
	}
	for _, s := range d.rota.Short {
		sheet.line("SHORT", s)
	}
}

// chart is what the figure shows.
func (d bubbleDocument) chart() figure.BubbleChart {
	p := d.prediction
	below := fmt.Sprintf("%.0f %% fill at the end of surgery · %s · axial length %g mm, cavity %s", float64(d.fill.Percent), lensWords(d.bubble.Lens), d.command.AxialLength, banded("%.1f", d.bubble.CavityML, "mL"))
	c := figure.BubbleChart{Title: "Bubble of " + d.bubble.Mixture.String(), Below: below, Days: d.days, Fill: p.Fill}
	for _, level := range []struct {
		at    int
		label string
	}{{2, "covers the macula face down 45°"}, {1, "covers the macula looking down 30°"}, {0, "covers the macula upright"}} {
		least, err := tamponade.MinimumFill(bubblePostures[level.at].position, d.targets[0])
		if err == nil && least < 1 {
			c.Levels = append(c.Levels, figure.BubbleLevel{Fill: least, Label: fmt.Sprintf("%.0f %%: %s", 100*least, level.label)})
		}
	}
	for i, label := range []string{"Half full", "A tenth", "Gone"} {
		c.Dates = append(c.Dates, figure.BubbleDate{Day: p.LastAboveDay[i], Label: label})
	}
	for _, o := range d.seen {
		unused := false
		for _, s := range d.surprises {
			unused = unused || s.Observation == o
		}
		c.Seen = append(c.Seen, figure.BubbleSeen{Day: math.Min(o.Day, d.days[len(d.days)-1]), Fill: o.Fill, SD: o.FillSD, Unused: unused})
	}
	c.Answer = bubbleAnswer()
	for _, s := range d.surprises {
		c.Notes = append(c.Notes, s.Say+" Hollow: a reading that exchange does not explain.")
	}
	c.Notes = append(c.Notes, "Line and area: median course. Dark band and brackets: 95 % of sampled eyes. Highest pressure in the first days: "+banded("%.0f", d.peak.PressureMMHg, "mmHg")+".",
		"Method: "+bubbleMethod+".")
	return c
}

func lensWords(l tamponade.Lens) string {
	if l == tamponade.LensUnknown {
		return "lens not told"
	}
	return l.String()
}
