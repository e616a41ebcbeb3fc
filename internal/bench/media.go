package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fluidics"
	"limitans/internal/record"
	"limitans/tamponade"
)

// OilOfEye is what stands about oil that is in an eye: its volume against the
// cavity, what it does to refraction and to a length by sound, the pressure under
// it, and when it may come out, with counts. What the record does not hold of the lens
// and of a length by sound is asked.
func OilOfEye(c record.Course, content record.Content, asOf record.Date, asked OilAsked) (*Sheet, error) {
	state := record.StateOf(c, asOf)
	name := "Silicone oil in the eye"
	if content.Medium == record.MediumHeavyOil {
		name = "Heavy silicone oil in the eye"
	}
	s := newSheet(name)
	contentLines(s, content, asOf)
	cavity := estimate.Missing(state.NoUsableAxial)
	if a := state.UsableAxial; a != nil {
		var err error
		if cavity, err = eye.CavityVolumeML(a.LengthMM); err != nil {
			return nil, err
		}
	}
	if err := oilVolume(s, content, cavity); err != nil {
		return nil, err
	}
	if err := oilOptics(s, c, content, state, asked); err != nil {
		return nil, err
	}
	if err := oilPressure(s, c, content, asOf); err != nil {
		return nil, err
	}
	oilRemoval(s)
	return s, nil
}

// contentLines say since when it is in, and when it was looked for.
func contentLines(s *Sheet, content record.Content, asOf record.Date) {
	since := "since when is not told"
	if days, ok := content.Since.DaysUntil(asOf); ok {
		since = fmt.Sprintf("since %s, %d days", content.Since.Words(), days)
	}
	s.line("in the eye", since)
	if content.LastSeen.Known() {
		s.line("last looked for", fmt.Sprintf("%s: %s", content.LastSeen.Words(), strings.ReplaceAll(string(content.LastLook), "_", " ")))
	} else {
		s.line("last looked for", "never, as far as the record tells")
	}
	for _, l := range content.Labels {
		s.line("label", fmt.Sprintf("%s lot %s, expires %s", l.Product, l.Lot, l.Expiry.Words()))
	}
	for _, n := range content.Notes {
		s.signal("caution", "note", n)
	}
}

func oilVolume(s *Sheet, content record.Content, cavity estimate.Estimate) error {
	s.figure("cavity", "%.2f", cavity, "mL")
	if content.AmountML == nil {
		s.line("volume", "not told: how much was injected?")
		return nil
	}
	s.line("volume", fmt.Sprintf("%g mL", *content.AmountML))
	if !cavity.Known() {
		return nil
	}
	fill, err := tamponade.AssessOilFill(*content.AmountML, cavity)
	if err != nil {
		return err
	}
	s.figure("fill", "%.0f", fill.FillPercent, "%")
	s.figure("underfill", "%.0f", fill.UnderfillPercent, "%")
	s.warnings("Fill", fill.Warnings)
	return nil
}

// pressureUnderOilMMHg is the threshold above which pressure-months are summed
// (ours, no source).
const pressureUnderOilMMHg = 21

func oilPressure(s *Sheet, c record.Course, content record.Content, asOf record.Date) error {
	var readings []tamponade.PressureReading
	for _, v := range c.Visits {
		day, known := content.Since.DaysUntil(v.On)
		if v.Struck() || !known || day < 0 || asOf.CertainlyBefore(v.On) {
			continue
		}
		highest := math.NaN()
		for _, p := range v.Pressures {
			if p.MmHg != nil && !(highest >= *p.MmHg) {
				highest = *p.MmHg
			}
		}
		if n := len(readings); !math.IsNaN(highest) && (n == 0 || float64(day) > readings[n-1].Day) {
			readings = append(readings, tamponade.PressureReading{Day: float64(day), PressureMMHg: highest})
		}
	}
	if len(readings) < 2 {
		s.list("Pressure under oil", []string{"fewer than two readings: no sum"})
		return nil
	}
	sum, err := tamponade.PressureMonths(readings, pressureUnderOilMMHg)
	if err != nil {
		return err
	}
	s.list("Pressure under oil", []string{fmt.Sprintf("%.1f mmHg × months above %d mmHg, from %d readings by the trapezoid rule; the sum is ours and unproven", sum, pressureUnderOilMMHg, len(readings))})
	return nil
}

// oilRemoval is the statement of risks with its counts.
func oilRemoval(s *Sheet) {
	e := tamponade.OilRemovalEvidence()
	s.list("When it may come out: a statement of risks, not a date", []string{e.Statement})
	var rows [][]string
	for _, group := range [][]tamponade.Counted{e.Redetachment, {e.Within3Months, e.After3Months}, e.LossWithoutCause, e.AfterRemoval} {
		for _, one := range group {
			note := one.Note
			if one.Derived {
				note = strings.TrimPrefix(note+"; count derived from its percentage", "; ")
			}
			rows = append(rows, []string{one.What, one.String(), note, one.Source})
		}
	}
	s.table("Published counts", []string{"what", "counts", "note", "source"}, rows)
	s.list("To be looked at before", e.Checks)
}

// LiquidOfEye is what stands about heavy liquid that is, or may still be, in an eye.
func LiquidOfEye(c record.Course, content record.Content, asOf record.Date) (*Sheet, error) {
	s := newSheet("Heavy liquid in the eye")
	contentLines(s, content, asOf)
	use := tamponade.LiquidUse{RetinotomyDeg: math.NaN(), LotAndExpiryKnown: len(content.Labels) > 0 && content.Labels[0].Lot != "" && content.Labels[0].Expiry.Known()}
	for _, o := range c.Operations {
		if o.ID != content.OperationID {
			continue
		}
		if o.RetinotomyDegrees != nil {
			use.RetinotomyDeg = *o.RetinotomyDegrees
		}
		use.Rinsed = answerOf(o.HeavyLiquidRinsed)
		for _, a := range o.Agents {
			if a.Class == record.AgentHeavyLiquid && a.SeenEmpty != "" {
				use.SeenEmpty = answerOf(a.SeenEmpty)
			}
			use.OilDirectly = use.OilDirectly || a.Class == record.AgentHeavyOil && a.Action == record.AgentPlaced
		}
	}
	prompts, err := tamponade.LiquidPrompts(use)
	if err != nil {
		return nil, err
	}
	s.warnings("Questions and risks", prompts)
	if err := drops(s, c); err != nil {
		return nil, err
	}
	e := tamponade.RetainedLiquidEvidence()
	rows := [][]string{{e.All.What, e.All.String(), e.All.Note, e.All.Source}, {e.Rinsed.What, e.Rinsed.String(), e.Rinsed.Note, e.Rinsed.Source}}
	for _, sign := range e.Signs {
		rows = append(rows, []string{sign.What, sign.String(), sign.Note, sign.Source})
	}
	s.table("Published counts", []string{"what", "counts", "note", "source"}, rows)
	return s, nil
}

func answerOf(a record.Answer) tamponade.Answer {
	switch a {
	case record.Yes:
		return tamponade.Yes
	case record.No:
		return tamponade.No
	}
	return tamponade.NotTold
}

// aspirationGauges are those of the fine cannulas.
var aspirationGauges = []int{38, 41}

// drops say where drops lie that visits measured, what is published for them, and
// what their aspiration takes.
func drops(s *Sheet, c record.Course) error {
	for _, v := range c.Visits {
		if v.Struck() {
			continue
		}
		for _, seen := range v.MediaSeen {
			if seen.Medium != record.MediumHeavyLiquid || seen.DropletUM == nil {
				continue
			}
			distance := math.NaN()
			if seen.FoveaDistanceUM != nil {
				distance = *seen.FoveaDistanceUM
			}
			s.part("Drop seen " + v.On.Words())
			if math.IsNaN(distance) {
				s.line("place", fmt.Sprintf("%g µm across; how far from the fovea?", *seen.DropletUM))
				continue
			}
			under := tamponade.NotTold
			if seen.State == record.LookSubretinal {
				under = tamponade.Yes
			}
			report, err := tamponade.AssessDrop(tamponade.Drop{DiameterUM: *seen.DropletUM, FoveaDistanceUM: distance, UnderRetina: under, Identity: tamponade.DropLiquid})
			if err != nil {
				return err
			}
			s.line("place", report.Place)
			if err := aspiration(s, *seen.DropletUM/1000); err != nil {
				return err
			}
			s.warnings("Options, none a recommendation", report.Options)
		}
	}
	return nil
}

// aspiration is the passive flow of a drop into fine cannulas at 20 mmHg.
func aspiration(s *Sheet, acrossMM float64) error {
	volume, err := fluidics.HemisphereUL(acrossMM)
	if err != nil {
		return nil // outside what the law is for; the place is told all the same
	}
	for _, gauge := range aspirationGauges {
		line, err := fluidics.FineTip(gauge)
		if err != nil {
			return err
		}
		drive, err := fluidics.Drive(20, 0)
		if err != nil {
			return err
		}
		a, err := line.Aspirate(fluidics.PerfluoroNOctane(), drive, volume)
		if err != nil {
			return err
		}
		s.line(fmt.Sprintf("%d gauge", gauge), fmt.Sprintf("%s to aspirate %.2g µL with 20 mmHg in the eye and no vacuum; enters the tip: %s", banded("%.2g", a.Seconds, "s"), volume, a.Enters))
		s.line("", a.Seconds.Basis)
	}
	return nil
}
