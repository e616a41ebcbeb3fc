package tamponade

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fault"
)

// MixingInput is what a recipe is made from.
type MixingInput struct {
	Mixture   Mixture
	Technique Technique
	// VolumeML is the volume of a pneumatic injection; not used for a whole fill.
	VolumeML float64
	Syringe  Syringe
	// CavityML is the cavity with its interval, as eye.CavityVolumeML gives it;
	// missing when the axial length is not told, then the flush is missing too.
	CavityML estimate.Estimate
	Content  CavityContent
	// LineML is the volume of the line between syringe and eye.
	LineML float64
	// Liftings are the typed reasons for stops that two people lift.
	Liftings []Lifting
}

// Overpressure is what the mixture would be if the gas was read before its
// pressure was let out.
type Overpressure struct {
	Atmospheres float64 `json:"atmospheres"`
	Percent     Percent `json:"percent"`
}

// MixingSheet is a recipe with everything that stands beside it, or the stops
// that keep it from being one. It is made by [PlanMixing] and never changed.
type MixingSheet struct {
	Mixture   Mixture
	Technique Technique
	VolumeML  float64
	Syringe   Syringe
	CavityML  estimate.Estimate
	// Marks are zero while a stop stands.
	Marks Marks
	// InSyringe is the share in the syringe, in per cent.
	InSyringe estimate.Estimate
	Barrel    Span // the same at the limits of the barrel's standard
	// Overpressures holds 1.1, 1.2, 1.5 and 2 atmospheres.
	Overpressures []Overpressure
	Flush         Flush
	// EndVolumeML is the largest volume of a pneumatic injection.
	EndVolumeML estimate.Estimate
	Steps       []string
	Stops       []Stop
	Warnings    []Warning
}

// Accepted reports whether no stop stands; only then there is a recipe.
func (sheet MixingSheet) Accepted() bool { return !standing(sheet.Stops) }

// PlanMixing makes the sheet of one mixture in one syringe for one eye.
//
// Stops are part of the sheet, not errors: they are to be read. Errors are
// inputs that cannot be. For air there is nothing to mix and nothing to flush.
func PlanMixing(in MixingInput) (MixingSheet, error) {
	m, err := NewMixture(in.Mixture.Agent, in.Mixture.Percent)
	if err != nil {
		return MixingSheet{}, err
	}
	if err := in.Syringe.Check(); err != nil {
		return MixingSheet{}, err
	}
	sheet := MixingSheet{Mixture: m, Technique: in.Technique, VolumeML: in.VolumeML, Syringe: in.Syringe, CavityML: in.CavityML}
	missing := estimate.Missing("a stop stands")
	sheet.InSyringe, sheet.EndVolumeML = missing, estimate.Missing("no pneumatic injection")
	sheet.Flush = Flush{NeededML: missing, PercentInEye: missing}
	sheet.Stops = lift(mixtureStops(m, in.Technique, in.VolumeML), in.Liftings)
	sheet.Warnings = append(agentWarnings(m), idleLiftings(sheet.Stops, in.Liftings)...)
	if !sheet.Accepted() {
		return sheet, nil
	}
	switch {
	case in.Technique == PneumaticRetinopexy:
		err = sheet.pneumatic()
	case m.Agent == AgentAir:
		err = sheet.air(in)
	default:
		err = sheet.wholeFill(in)
	}
	if err != nil {
		return MixingSheet{}, err
	}
	return sheet, nil
}

func (sheet *MixingSheet) wholeFill(in MixingInput) error {
	m := sheet.Mixture
	marks, err := in.Syringe.FindMarks(m.Percent)
	if fault.CodeOf(err) == fault.NotMeasurable {
		sheet.Stops = append(sheet.Stops, Stop{Code: StopSyringe, Text: upperFirst(err.Error()) + ".", Source: fmt.Sprintf("tolerance of %g points: %s", MixingTolerancePoints, sourceOurs)})
		return nil
	}
	if err != nil {
		return err
	}
	sheet.Marks = marks
	sheet.InSyringe = in.Syringe.TruePercent(marks)
	sheet.Barrel = in.Syringe.BarrelPercent(marks)
	for _, k := range []float64{1.1, 1.2, 1.5, 2} {
		p, err := OverpressurePercent(m.Percent, k)
		if err != nil {
			return err
		}
		sheet.Overpressures = append(sheet.Overpressures, Overpressure{k, p})
	}
	if !in.CavityML.Known() {
		sheet.Flush = Flush{NeededML: in.CavityML, PercentInEye: in.CavityML}
		sheet.Warnings = append(sheet.Warnings, Warning{"cavity", "The axial length is not told, so the flush is not computed. 25 mL suffices for 5 mL, a long eye needs 40 to 50 mL.", sourceFlush})
	} else if sheet.Flush, err = PlanFlush(in.CavityML, sheet.InSyringe, in.Content, marks.TotalML, in.LineML); err != nil {
		return err
	}
	sheet.Warnings = append(sheet.Warnings, recipeWarnings(*sheet, in)...)
	sheet.Steps = mixingSteps(*sheet)
	return nil
}

func (sheet *MixingSheet) air(in MixingInput) error {
	total := in.Syringe.CapacityML
	sheet.Marks = Marks{AirML: total, TotalML: total}
	sheet.InSyringe = estimate.Estimate{Basis: "filtered room air holds no long-acting gas"}
	sheet.Flush = Flush{
		NeededML:     estimate.Estimate{Basis: "nothing is washed out: the eye is to hold air"},
		PercentInEye: estimate.Estimate{Basis: "air holds no long-acting gas"}, Law: "none",
	}
	sheet.Steps = []string{"There is nothing to mix. Filter the air. Label the syringe: an air syringe beside a gas syringe is a look-alike."}
	return nil
}

func (sheet *MixingSheet) pneumatic() error {
	s := sheet.Syringe
	lines := math.Round(sheet.VolumeML / s.GraduationML)
	volume := cleanProduct(lines, s.GraduationML)
	if math.Abs(volume-sheet.VolumeML) > 1e-9 || volume > s.CapacityML {
		sheet.Stops = append(sheet.Stops, Stop{
			Code:   StopSyringe,
			Text:   fmt.Sprintf("%g mL is no line of a %g mL syringe with divisions of %g mL; take a finer syringe.", sheet.VolumeML, s.CapacityML, s.GraduationML),
			Source: sourceOurs,
		})
		return nil
	}
	facts, err := sheet.Mixture.Agent.Facts()
	if err != nil {
		return err
	}
	sheet.Marks = Marks{GasML: volume, TotalML: volume}
	if sheet.Mixture.Agent == AgentAir {
		sheet.Marks = Marks{AirML: volume, TotalML: volume}
	}
	residual := s.DeadSpaceML.High / (volume + s.DeadSpaceML.High)
	sheet.InSyringe = estimate.Estimate{
		Value: 100, Low: 100 * (1 - residual*residual), High: 100,
		Basis: "pure gas; the lower end with two rinses of the largest dead space",
	}
	slack := readingDivisions * s.GraduationML
	sheet.EndVolumeML = estimate.Estimate{
		Value: volume * facts.ExpansionPure, Low: volume - slack, High: (volume + slack) * facts.ExpansionPure * 1.5,
		Basis: fmt.Sprintf("%g times by the planning table, after %s days; lower end without growth (outflow or leak), upper end half as much again, about what the reference gas model gives above that table", facts.ExpansionPure, facts.DaysToMaximumPure),
	}
	sheet.Flush.NeededML = estimate.Missing("a pneumatic injection flushes nothing")
	sheet.Flush.PercentInEye = estimate.Missing("a small pure bubble, not a mixture")
	sheet.Warnings = append(sheet.Warnings, Warning{
		"pneumatic", fmt.Sprintf("Pure %s: %.2g mL grows to about %.2g mL. Only into an eye whose pressure was lowered before; look at the artery of the disc afterwards.", sheet.Mixture.Agent, volume, sheet.EndVolumeML.Value), "growth: " + sourceCollege + "; the rest common practice, no source",
	})
	sheet.Steps = []string{
		"Say and write the gas, \"pure\" and the volume before anything is drawn.",
		"Flush line and filter with gas, rinse the syringe twice, draw more than is needed, let the plunger go until it stands still.",
		fmt.Sprintf("Set the plunger to %g mL. The second person reads the bottle and the syringe.", volume),
	}
	return nil
}

// agentWarnings hold for every eye that gets this agent.
func agentWarnings(m Mixture) []Warning {
	out := []Warning{
		{
			"hazards", "No nitrous oxide (theatre, dentist, inhaled pain relief), no flying, no mountains, no diving until an eye doctor has seen the eye empty. Wristband and card before the patient leaves.", sourceCollege,
		},
	}
	if m.Agent == AgentAir {
		out[0].Text = "Air counts as gas: " + strings.ToLower(out[0].Text[:1]) + out[0].Text[1:]
		out[0].Source = "J Med Case Rep 2025;19:11, doi 10.1186/s13256-024-05017-w (full text): sight lost in flight four days after air"
		return out
	}
	return append(out, Warning{
		"one_gas", fmt.Sprintf("%s is %s. The number belongs to this gas: SF6 20 %%, C2F6 16 %%, C3F8 14 %%. Read the bottle; suppliers and bottles change.", m.Agent, m.Agent.FullName()), sourceCollege + "; " + sourceIncident,
	})
}

func recipeWarnings(sheet MixingSheet, in MixingInput) []Warning {
	var out []Warning
	facts, err := sheet.Mixture.Agent.Facts()
	if err == nil && sheet.Mixture.Percent < facts.LowestUsedPercent {
		out = append(out, Warning{"weak", fmt.Sprintf("%s lies below %s, the bottom of the range in use: the bubble is smaller and gone sooner.", sheet.Mixture, facts.LowestUsedPercent), "ranges in use (secondary)"})
	}
	if sheet.Marks.TotalML < in.Syringe.CapacityML {
		out = append(out, Warning{"total", fmt.Sprintf("Fill to %g mL, not to the end of the %g mL syringe: only so do both settings lie on lines.", sheet.Marks.TotalML, in.Syringe.CapacityML), "arithmetic"})
	}
	if available := sheet.Marks.TotalML - in.LineML; in.CavityML.Known() && in.Content == AirFilled && sheet.Flush.NeededML.Value > sheet.Marks.TotalML {
		out = append(out, Warning{"flush_short", fmt.Sprintf("%.3g mL reach the eye, %.3g mL are needed: the eye ends at %.1f %% instead of %s. Use a larger syringe.", math.Max(0, available), sheet.Flush.NeededML.Value, sheet.Flush.PercentInEye.Value, sheet.Mixture.Percent), sourceFlush})
	} else if in.Content == AirFilled && sheet.Flush.NeededML.High > sheet.Marks.TotalML {
		out = append(out, Warning{"flush_band", fmt.Sprintf("A cavity at the upper end of its interval needs %.3g mL, more than the %g mL in the syringe.", sheet.Flush.NeededML.High, sheet.Marks.TotalML), sourceFlush})
	}
	if in.LineML == 0 {
		out = append(out, Warning{"line", "The volume of the line between syringe and eye is not told; its content goes in first. Add it to the flush.", "arithmetic"})
	}
	if width := sheet.InSyringe.High - sheet.InSyringe.Low; width > 2 {
		out = append(out, Warning{"coarse", fmt.Sprintf("A quarter of a division at each setting gives %.1f to %.1f %%. A finer or larger syringe is safer.", sheet.InSyringe.Low, sheet.InSyringe.High), "reading error: " + sourceOurs})
	}
	return append(out,
		Warning{"pressure", fmt.Sprintf("Let the plunger go until it stands still before the gas is read: drawn at 1.1 or 1.2 atmospheres the mixture is %.1f or %.1f %%.", float64(sheet.Overpressures[0].Percent), float64(sheet.Overpressures[1].Percent)), sourceIncident},
		Warning{"barrel", fmt.Sprintf("A barrel at the limits of its standard would give %.1f to %.1f %%; this is not in the interval.", sheet.Barrel.Low, sheet.Barrel.High), "ISO 7886-1 (from memory)"},
		Warning{"order", "Gas first, then air. In three eyes the air was drawn first and nearly pure gas followed.", "Niyousha et al., Acta Sci Ophthalmol 2021;4(12):84 (abstract)"},
		Warning{"closure", "Mix at the moment of use and close with a stopcock: with a plastic cap less than 41 % of the gas was left after 24 h.", sourceOhji},
	)
}

func mixingSteps(sheet MixingSheet) []string {
	m, marks := sheet.Mixture, sheet.Marks
	flush := "Flush the line and a new filter with gas from the bottle or from another syringe, not into the mixing syringe."
	nozzle := "Empty the mixing syringe to zero. Do not rinse it with gas: its nozzle holds room air, and the recipe counts on that."
	if sheet.Syringe.Nozzle == NozzleGas {
		flush = "Flush the line and a new filter with gas."
		nozzle = "Rinse the mixing syringe twice with gas and empty it to zero; the recipe counts on gas in its nozzle."
	}
	return []string{
		fmt.Sprintf("Say and write before anything is drawn: %s, %s, %s.", m.Agent, m.Agent.FullName(), m.Percent),
		flush,
		nozzle,
		fmt.Sprintf("Draw gas to %g mL, let the plunger go until it stands still, and set it to %g mL; when it stood more than one line beyond, empty the syringe and begin again. Close the tap.", marks.GasML, marks.GasML),
		"The second person reads the gas on the bottle and the volume on the syringe, aloud.",
		fmt.Sprintf("Take line and filter off, put a new filter on, draw room air to %g mL (%g mL of air). Close the tap.", marks.TotalML, marks.AirML),
		"The second person reads the total. Turn the syringe over ten times. Label it at once.",
		"Pause before it is connected: gas, share, who mixed, who read.",
	}
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
