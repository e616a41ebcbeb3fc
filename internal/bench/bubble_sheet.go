package bench

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
func (d *BubbleAnswer) document() map[string]any {
	p := d.Prediction
	course := []map[string]any{}
	for i, day := range d.Days {
		f := p.Fill[i]
		if !f.Known() {
			break // nothing is predicted, and surprises say why
		}
		course = append(course, map[string]any{"day": day, "fill": f.Value, "fill_low": f.Low, "fill_high": f.High, "pressure": d.Pressure[i]})
	}
	postures := func(name string) map[string]any {
		out := map[string]any{}
		for i, e := range d.Covered[name] {
			out[BubblePostures[i].Key] = e
		}
		return out
	}
	support := map[string]any{}
	for k, hours := range d.supportHours {
		var days []map[string]any
		for i, e := range hours {
			days = append(days, map[string]any{"day": supportDays[i], "hours": e})
		}
		support[bubbleDiaries[k].key] = days
	}
	surprises := []map[string]any{}
	for _, s := range d.Surprises {
		surprises = append(surprises, map[string]any{"day": s.Observation.Day, "fill": s.Observation.Fill, "expected": s.Expected, "probability": s.Probability, "leak": s.Leak, "text": s.Say})
	}
	document := map[string]any{
		"gas": d.Bubble.Mixture.Agent, "percent": d.percent, "fill": d.fill, "lens": d.Bubble.Lens, "axial_length_mm": d.Asked.AxialLength,
		"cavity_ml": d.Bubble.CavityML, "half_life_days": p.HalfLifeDays,
		"days_to_fill_50": p.LastAboveDay[0], "days_to_fill_10": p.LastAboveDay[1], "days_to_gone": p.LastAboveDay[2],
		"macula_covered_until_day": postures("macula"), "peak_pressure_mmhg": d.Peak.PressureMMHg, "peak_pressure_held_by_wall": d.Peak.HeldByWall,
		"course": course, "support_hours": support, "surprises": surprises, "observations": len(d.Seen),
		"answer": bubbleAnswer(), "warnings": d.Warnings(), "method": bubbleMethod, "seed": d.Asked.Seed, "paths": p.Paths, "cautions": caution.Full(),
	}
	if d.Advice != nil {
		counts := []map[string]any{}
		for _, c := range d.closed {
			counts = append(counts, map[string]any{"what": c.What, "closed": c.Closed, "eyes": c.Eyes, "share": c.Share, "source": c.Source})
		}
		document["posture_advice"] = map[string]any{"text": d.Advice.Text, "days": d.Advice.Days, "basis": d.Advice.Basis}
		document["closed_by_day"] = counts
	}
	if len(d.Targets) > 1 {
		document["break_covered_until_day"] = postures(d.Targets[1].Name)
		if d.Rota != nil {
			document["rota"] = d.rotaJSON()
		}
	}
	return document
}

func (d *BubbleAnswer) rotaJSON() map[string]any {
	blocks := []map[string]any{}
	for _, b := range d.Rota.Blocks {
		blocks = append(blocks, map[string]any{"position": b.Position.Name, "hours": b.Hours, "covers": b.Covers})
	}
	return map[string]any{"conflict": d.Rota.Conflict, "blocks": blocks, "short": append([]string{}, d.Rota.Short...)}
}

// Warnings are the sentences that this bubble gives cause for.
func (d *BubbleAnswer) Warnings() []string {
	warnings := []string{}
	for _, s := range d.Surprises {
		warnings = append(warnings, s.Say)
	}
	if len(d.Surprises) > 0 {
		warnings = append(warnings, "The pressures are those of a watertight eye that was filled as told; what was seen is not in them.")
	}
	if d.Peak.HeldByWall {
		warnings = append(warnings, "In an unfavourable eye the bubble outgrows the cavity: pressure then rises whatever flows out. Check the concentration and the pressure on the first day.")
	}
	if d.Bubble.Lens == tamponade.LensUnknown {
		warnings = append(warnings, "The lens is not told: computed as phakic, whose gas stays longest, with a wider band.")
	}
	if d.Bubble.Lens == tamponade.Aphakic {
		for _, w := range tamponade.AphakicWarnings(false, tamponade.IridectomyNotTold) {
			warnings = append(warnings, w.Text)
		}
	}
	if d.Bubble.Mixture.Agent == tamponade.AgentC2F6 {
		warnings = append(warnings, "No half-life of C2F6 in people's eyes was found: its course stands on solubility and diffusion, and its band is wider.")
	}
	warnings = append(warnings, "Below 6 % fill a bubble is rounder than its level says and touches less retina.",
		"Ports that leak in the first hours are not in the prediction: compare the fill on day 1 and enter it with --seen.")
	for _, w := range tamponade.LongEyeQuestions(d.Asked.AxialLength) {
		warnings = append(warnings, w.Text)
	}
	return warnings
}

// sheet is the prediction for people.
func (d *BubbleAnswer) sheet() *Sheet {
	p := d.Prediction
	s := newSheet(fmt.Sprintf("Bubble of %s, %s", d.Bubble.Mixture, d.Bubble.Mixture.Agent.FullName()))
	s.signal("note", "ANSWER", bubbleAnswer())
	for _, one := range d.Surprises {
		name := "CAUTION"
		if one.Leak {
			name = "LEAK?"
		}
		s.signal("caution", name, one.Say)
	}
	s.part("Dates")
	s.figure("half-life", "%.1f", p.HalfLifeDays, "days")
	s.figure("half full", "%.1f", p.LastAboveDay[0], "days after surgery")
	s.line("a tenth full", banded("%.0f", p.LastAboveDay[1], "days after surgery"))
	s.line("gone", banded("%.0f", p.LastAboveDay[2], "days after surgery")+fmt.Sprintf(": below %.1f %% of the cavity", 100*tamponade.GoneFill))
	s.figure("highest pressure", "%.0f", d.Peak.PressureMMHg, "mmHg")
	if len(d.Seen) > 0 {
		s.line("law of decay", fmt.Sprintf("contact area %.0f %%, volume %.0f %% likely after what was seen", 100*d.contact, 100*(1-d.contact)))
	}
	for _, t := range d.Targets {
		var rows [][]string
		for i, e := range d.Covered[t.Name] {
			rows = append(rows, []string{BubblePostures[i].Position.Name, CoveredWords(e)})
		}
		s.table(fmt.Sprintf("The %s is covered until day", t.Name), nil, rows)
	}
	if p.HalfLifeDays.Known() {
		d.supportTable(s)
	}
	if d.Advice != nil {
		d.advicePart(s)
	}
	if d.Rota != nil {
		d.rotaPart(s)
	}
	d.courseTable(s)
	d.inputs(s)
	s.list("Method", []string{bubbleMethod})
	s.list("Warnings", d.Warnings())
	s.cautions()
	return s
}

// CoveredWords writes the last day of a posture with its interval, or why there
// is none.
func CoveredWords(e estimate.Estimate) string {
	switch {
	case !e.Known():
		return "not computed"
	case strings.HasPrefix(e.Basis, "never"):
		return "never"
	case e.High == 0:
		return "not with this fill"
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", e.Value, e.Low, e.High)
}

// courseTable lists fill and pressure until nothing but zeros is left.
func (d *BubbleAnswer) courseTable(s *Sheet) {
	var rows [][]string
	for i, day := range d.Days {
		if i%2 == 1 && day > 3 && i != len(d.Days)-1 {
			continue // every other line is enough for reading
		}
		f := d.Prediction.Fill[i]
		if !(f.High >= 0.005) {
			break // nothing but zeros from here on, or nothing predicted
		}
		rows = append(rows, []string{fmt.Sprintf("%g", day), fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*f.Value, 100*f.Low, 100*f.High), fmt.Sprintf("%.0f", d.Pressure[i])})
	}
	if len(rows) > 0 {
		s.table("Course", []string{"day", "fill", "pressure, mmHg"}, rows)
	}
}

func (d *BubbleAnswer) inputs(s *Sheet) {
	s.part("Inputs")
	s.line("share", fmt.Sprintf("%q read as %s (%s)", d.percent.Raw, d.percent.Percent, d.percent.How))
	s.line("fill", fmt.Sprintf("%q read as %s (%s)", d.fill.Raw, d.fill.Percent, d.fill.How))
	s.line("lens", d.Bubble.Lens.String())
	s.line("axial length", fmt.Sprintf("%g mm", d.Asked.AxialLength))
	s.figure("cavity", "%.2f", d.Bubble.CavityML, "mL")
	for _, o := range d.Seen {
		s.line("seen", fmt.Sprintf("day %g: %.0f %%, reading error %.0f points (0.35 mL)", o.Day, 100*o.Fill, 100*estimate.Z95*o.FillSD))
	}
	s.line("sampling", fmt.Sprintf("%d courses, seed %d", d.Prediction.Paths, d.Asked.Seed))
}

func (d *BubbleAnswer) supportTable(s *Sheet) {
	head := []string{"day"}
	for _, day := range supportDays {
		head = append(head, fmt.Sprintf("%g", day))
	}
	var rows [][]string
	for k, hours := range d.supportHours {
		middle, low := []string{bubbleDiaries[k].name}, []string{"  in an unlucky bubble (1 of 40)"}
		for _, e := range hours {
			middle, low = append(middle, fmt.Sprintf("%.0f", e.Value)), append(low, fmt.Sprintf("%.0f", e.Low))
		}
		rows = append(rows, middle, low)
	}
	s.table("Hours a day in which the macula is covered, day 1 to 7", head, rows)
}

func (d *BubbleAnswer) advicePart(s *Sheet) {
	s.part("Posture to start from")
	s.line(fmt.Sprintf("%g µm", d.Asked.HoleUM), d.Advice.Text)
	s.line("", "basis: "+d.Advice.Basis)
	for _, c := range d.closed {
		s.line(fmt.Sprintf("%d of %d closed", c.Closed, c.Eyes), fmt.Sprintf("%s: %.0f %% (%.0f to %.0f); %s", c.What, 100*c.Share.Value, 100*c.Share.Low, 100*c.Share.High, c.Source))
	}
}

// Titles of the part about two targets.
const (
	RotaTitle     = "The targets conflict: no single position covers both on day 1. Take turns"
	TogetherTitle = "One position covers both targets on day 1"
)

func (d *BubbleAnswer) rotaPart(s *Sheet) {
	if d.Rota.Conflict {
		s.part(RotaTitle)
	} else {
		s.part(TogetherTitle)
	}
	for _, block := range d.Rota.Blocks {
		s.line(fmt.Sprintf("%.3g hours", block.Hours), block.Position.Name+": covers "+strings.Join(block.Covers, " and "))
	}
	for _, short := range d.Rota.Short {
		s.signal("caution", "SHORT", short)
	}
}

// Chart is what the figure shows.
func (d *BubbleAnswer) Chart() figure.BubbleChart {
	p := d.Prediction
	below := fmt.Sprintf("%.0f %% fill at the end of surgery · %s · axial length %g mm, cavity %s", float64(d.fill.Percent), lensWords(d.Bubble.Lens), d.Asked.AxialLength, banded("%.1f", d.Bubble.CavityML, "mL"))
	c := figure.BubbleChart{Title: "Bubble of " + d.Bubble.Mixture.String(), Below: below, Days: d.Days, Fill: p.Fill}
	for _, level := range []struct {
		at    int
		label string
	}{{2, "covers the macula face down 45°"}, {1, "covers the macula looking down 30°"}, {0, "covers the macula upright"}} {
		least, err := tamponade.MinimumFill(BubblePostures[level.at].Position, d.Targets[0])
		if err == nil && least < 1 {
			c.Levels = append(c.Levels, figure.BubbleLevel{Fill: least, Label: fmt.Sprintf("%.0f %%: %s", 100*least, level.label)})
		}
	}
	for i, label := range []string{"Half full", "A tenth", "Gone"} {
		c.Dates = append(c.Dates, figure.BubbleDate{Day: p.LastAboveDay[i], Label: label})
	}
	for _, o := range d.Seen {
		unused := false
		for _, s := range d.Surprises {
			unused = unused || s.Observation == o
		}
		c.Seen = append(c.Seen, figure.BubbleSeen{Day: math.Min(o.Day, d.Days[len(d.Days)-1]), Fill: o.Fill, SD: o.FillSD, Unused: unused})
	}
	c.Answer = bubbleAnswer()
	for _, s := range d.Surprises {
		c.Notes = append(c.Notes, s.Say+" Hollow: a reading that exchange does not explain.")
	}
	c.Notes = append(c.Notes, "Line and area: median course. Dark band and brackets: 95 % of sampled eyes. Highest pressure in the first days: "+banded("%.0f", d.Peak.PressureMMHg, "mmHg")+".",
		"Method: "+bubbleMethod+".")
	return c
}

func lensWords(l tamponade.Lens) string {
	if l == tamponade.LensUnknown {
		return "lens not told"
	}
	return l.String()
}
