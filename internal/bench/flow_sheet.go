package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fluidics"
	"limitans/internal/caution"
)

// flowResult is the answer to a question about flow, for people and programs.
type flowResult struct {
	task, title string
	inputs      []flowEntry
	figures     []flowFigure
	words       []flowEntry
	sources     []string
	warnings    []string
}

// flowEntry is an input or a word of the answer: the key and value for programs,
// the label and text for people.
type flowEntry struct {
	key, label string
	value      any
	text       string
}

type flowFigure struct {
	key, label, unit string
	estimate         estimate.Estimate
}

func newFlowResult(task, title string) *flowResult { return &flowResult{task: task, title: title} }

func (r *flowResult) input(key, label string, value any, text string) {
	r.inputs = append(r.inputs, flowEntry{key, label, value, text})
}

func (r *flowResult) figure(key, label, unit string, e estimate.Estimate) {
	r.figures = append(r.figures, flowFigure{key, label, unit, e})
}

func (r *flowResult) word(key, label, text string) {
	r.words = append(r.words, flowEntry{key, label, text, text})
}

func (r *flowResult) warn(text string) { r.warnings = append(r.warnings, text) }

// cannula enters bore and length, with where the bore comes from.
func (r *flowResult) cannula(l fluidics.Line) {
	bore := l.Cannula.BoreMM
	r.input("bore_mm", "bore", bore, fmt.Sprintf("%.3g mm (%.3g to %.3g)", bore.Value, bore.Low, bore.High))
	r.input("length_mm", "length", l.Cannula.LengthMM.Value, fmt.Sprintf("%g mm", l.Cannula.LengthMM.Value))
	if l.Tubing.LengthMM.Value > 0 {
		r.input("tubing_bore_mm", "tubing", l.Tubing.BoreMM.Value, fmt.Sprintf("%g mm bore, %g mm long (%s)", l.Tubing.BoreMM.Value, l.Tubing.LengthMM.Value, l.Tubing.BoreMM.Basis))
		r.input("tubing_length_mm", "", l.Tubing.LengthMM.Value, "")
	}
	r.sources = append(r.sources, bore.Basis)
	if strings.Contains(bore.Basis, "estimated") {
		r.warn("The bore of this gauge is an estimate; flow goes with its fourth power. Give --bore-mm and --length-mm where they are known.")
	}
}

func (r *flowResult) fluid(f fluidics.Fluid) {
	v := f.ViscosityMPaS
	r.input("liquid", "liquid", f.Name, f.Name)
	r.input("viscosity_mpa_s", "viscosity", v, fmt.Sprintf("%.4g mPa·s (%.4g to %.4g; %s)", v.Value, v.Low, v.High, v.Basis))
	r.input("density_g_per_ml", "density", f.DensityGPerML, fmt.Sprintf("%g g/mL", f.DensityGPerML))
}

// regime enters the regime of the computed flow.
func (r *flowResult) regime(l fluidics.Line, f fluidics.Fluid, flowMLPerMin estimate.Estimate) error {
	q, err := fluidics.MLPerMin(flowMLPerMin.Value)
	if err != nil {
		return err
	}
	regime, err := l.Regime(f, q)
	if err != nil {
		return err
	}
	r.setRegime(regime)
	return nil
}

func (r *flowResult) setRegime(regime fluidics.Regime) {
	r.words = append(r.words,
		flowEntry{"regime", "regime", regime.String(), regime.String()},
		flowEntry{"reynolds_number", "Reynolds number", regime.Reynolds, fmt.Sprintf("%.3g", regime.Reynolds)},
		flowEntry{"entrance_length_mm", "entrance length", regime.EntranceMM, fmt.Sprintf("%.3g mm", regime.EntranceMM)},
		flowEntry{"mean_speed_m_per_s", "mean speed", regime.MeanSpeedMPerS, fmt.Sprintf("%.3g m/s", regime.MeanSpeedMPerS)},
		flowEntry{"kinetic_share", "kinetic share in cannula", regime.KineticShare, fmt.Sprintf("%.0f %%", 100*regime.KineticShare)},
	)
}

// flowMethod is said beside every answer.
const flowMethod = "pressure = friction (Poiseuille, 128µLQ/πd⁴, tubing and cannula) + kinetic loss at entry and exit (K·½ρV², K 2.3 of 1.5 to 2.7), solved for the flow; straight round tubes, constant pressure, room temperature, no instrument in the bore"

// answer is the result as sheet and document.
func (r *flowResult) answer() Answer {
	return Answer{Sheet: r.sheet(), Document: r.document()}
}

func (r *flowResult) document() map[string]any {
	inputs := map[string]any{}
	for _, e := range r.inputs {
		inputs[e.key] = e.value
	}
	document := map[string]any{
		"task": r.task, "inputs": inputs, "method": flowMethod, "sources": r.sources,
		"warnings": append([]string{}, r.warnings...), "cautions": caution.Full(),
	}
	for _, f := range r.figures {
		document[f.key] = f.estimate
	}
	for _, e := range r.words {
		document[e.key] = e.value
	}
	return document
}

func (r *flowResult) sheet() *Sheet {
	s := newSheet(r.title)
	s.label, s.text = 26, 72
	for _, f := range r.figures {
		s.line(f.label, figureText(f))
		s.line("", "error: "+f.estimate.Basis)
	}
	for _, e := range r.words {
		s.line(e.label, e.text)
	}
	s.part("Inputs")
	for _, e := range r.inputs {
		if e.label != "" {
			s.line(e.label, e.text)
		}
	}
	s.list("Method", []string{flowMethod})
	s.list("Sources", r.sources)
	if len(r.warnings) > 0 {
		s.list("Warnings", r.warnings)
	}
	s.cautions()
	return s
}

// figureText rounds a figure to three digits with its interval.
func figureText(f flowFigure) string {
	e := f.estimate
	high := threeDigits(e.High)
	if math.IsNaN(e.High) {
		high = "no limit"
	}
	return fmt.Sprintf("%s %s (%s to %s)", threeDigits(e.Value), f.unit, threeDigits(e.Low), high)
}

// FlowPublished puts published measurements beside what the laws compute.
type FlowPublished struct{}

// Answer is published measurements beside computed ones.
func (c FlowPublished) Answer() (Answer, error) {
	rows, err := fluidics.Comparisons()
	if err != nil {
		return Answer{}, err
	}
	s := newSheet("Published measurements beside what these laws compute")
	s.label, s.text = 9, 96
	for _, row := range rows {
		unit := strings.Replace(row.Unit, "uL", "µL", 1)
		published := fmt.Sprintf("%.4g", row.PublishedLow)
		if row.PublishedHigh > row.PublishedLow {
			published += fmt.Sprintf(" to %.4g", row.PublishedHigh)
		}
		s.part(row.Quantity)
		s.line("published", fmt.Sprintf("%s %s; %s (%s)", published, unit, row.Source, row.HowKnown))
		s.line("computed", fmt.Sprintf("%.3g %s (%.3g to %.3g); %s", row.Computed.Value, unit, row.Computed.Low, row.Computed.High, agreement(row)))
		if row.Difference != "" {
			s.line("", row.Difference)
		}
	}
	s.cautions()
	return Answer{Sheet: s, Document: publishedDocument(rows)}, nil
}

// agreement says whether a comparison could have failed: a bore fitted to the
// figure cannot miss it.
func agreement(row fluidics.Comparison) string {
	text := "differs"
	if row.Agrees() {
		text = "agrees"
	}
	if row.Fitted {
		text += ", the bore being derived from it"
	}
	return text
}

func publishedDocument(rows []fluidics.Comparison) map[string]any {
	type entry struct {
		Quantity      string            `json:"quantity"`
		Unit          string            `json:"unit"`
		PublishedLow  float64           `json:"published_low"`
		PublishedHigh float64           `json:"published_high"`
		Computed      estimate.Estimate `json:"computed"`
		Agrees        bool              `json:"agrees"`
		Fitted        bool              `json:"fitted"`
		Difference    string            `json:"difference"`
		Source        string            `json:"source"`
		HowKnown      string            `json:"how_known"`
	}
	entries := make([]entry, len(rows))
	for i, row := range rows {
		entries[i] = entry{
			row.Quantity, row.Unit, row.PublishedLow, row.PublishedHigh, row.Computed, row.Agrees(), row.Fitted,
			row.Difference, row.Source, row.HowKnown,
		}
	}
	return map[string]any{"task": "published", "comparisons": entries, "method": flowMethod, "cautions": caution.Full()}
}
