package main

import (
	"encoding/json"
	"fmt"
	"io"
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

// print writes the answer as text or JSON.
func (r *flowResult) print(out *console, asJSON bool) error {
	if asJSON {
		return r.writeJSON(out.Stdout)
	}
	return r.writeText(out.Stdout)
}

func (r *flowResult) writeJSON(w io.Writer) error {
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
	return writeIndented(w, document)
}

func writeIndented(w io.Writer, document any) error {
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	return encoder.Encode(document)
}

func (r *flowResult) writeText(w io.Writer) error {
	var b strings.Builder
	line := func(label, text string) {
		for i, part := range wrapped(text, 72) {
			if i > 0 {
				label = ""
			}
			fmt.Fprintf(&b, "  %-26s %s\n", label, part)
		}
	}
	b.WriteString(r.title + "\n")
	for _, f := range r.figures {
		line(f.label, figureText(f))
		line("", "error: "+f.estimate.Basis)
	}
	for _, e := range r.words {
		line(e.label, e.text)
	}
	b.WriteString("\nInputs\n")
	for _, e := range r.inputs {
		if e.label != "" {
			line(e.label, e.text)
		}
	}
	b.WriteString("\n")
	for _, block := range []struct {
		title string
		texts []string
	}{{"Method", []string{flowMethod}}, {"Sources", r.sources}, {"Warnings", r.warnings}, {"Cautions", caution.Full()}} {
		if len(block.texts) == 0 {
			continue
		}
		b.WriteString(block.title + "\n")
		for _, text := range block.texts {
			b.WriteString("  - " + strings.Join(wrapped(text, 96), "\n    ") + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
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

// threeDigits rounds to three significant digits and writes no exponent for
// large numbers, which people read wrongly.
func threeDigits(v float64) string {
	if v < 1000 {
		return fmt.Sprintf("%.3g", v)
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	return fmt.Sprintf("%.0f", math.Round(v/unit)*unit)
}

// wrapped breaks a text into lines of at most width runes, between words.
func wrapped(text string, width int) []string {
	var lines []string
	line, long := "", 0
	for _, word := range strings.Fields(text) {
		n := len([]rune(word))
		if long > 0 && long+1+n > width {
			lines, line, long = append(lines, line), "", 0
		}
		if long > 0 {
			line, long = line+" ", long+1
		}
		line, long = line+word, long+n
	}
	return append(lines, line)
}

type flowPublished struct {
	JSON bool `name:"json" help:"Print a JSON document instead of text."`
}

// Run prints published measurements beside computed ones.
func (c flowPublished) Run(out *console) error {
	rows, err := fluidics.Comparisons()
	if err != nil {
		return err
	}
	if c.JSON {
		return publishedJSON(out.Stdout, rows)
	}
	var b strings.Builder
	b.WriteString("Published measurements beside what these laws compute\n")
	for _, row := range rows {
		unit := strings.Replace(row.Unit, "uL", "µL", 1)
		published := fmt.Sprintf("%.4g", row.PublishedLow)
		if row.PublishedHigh > row.PublishedLow {
			published += fmt.Sprintf(" to %.4g", row.PublishedHigh)
		}
		fmt.Fprintf(&b, "\n%s\n  published %s %s; %s (%s)\n  computed  %.3g %s (%.3g to %.3g); %s\n", row.Quantity, published, unit, row.Source, row.HowKnown,
			row.Computed.Value, unit, row.Computed.Low, row.Computed.High, agreement(row))
		if row.Difference != "" {
			b.WriteString("  " + strings.Join(wrapped(row.Difference, 96), "\n  ") + "\n")
		}
	}
	b.WriteString("\nCautions\n  - " + strings.Join(caution.Full(), "\n  - ") + "\n")
	_, err = io.WriteString(out.Stdout, b.String())
	return err
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

func publishedJSON(w io.Writer, rows []fluidics.Comparison) error {
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
	return writeIndented(w, map[string]any{"task": "published", "comparisons": entries, "method": flowMethod, "cautions": caution.Full()})
}
