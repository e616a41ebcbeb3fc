package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/thickness"
)

// Text writes a result for people. Slices are counted from 1 here, as on
// screens; the JSON document counts from 0.
func Text(w io.Writer, r *measure.Result) error {
	p := &printer{w: tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)}
	p.scan(r)
	p.hole(r)
	p.thickness(r)
	p.list("Warnings", r.Warnings)
	p.list("Cautions", append(caution.Full(), caution.SyntheticIntervals))
	if err := p.w.Flush(); err != nil {
		return err
	}
	return p.err
}

// textWidth and noteWidth are the longest lines of running text and of the
// notes beside figures, in runes.
const (
	textWidth = 100
	noteWidth = 70
)

// printer keeps the first error of its writer.
type printer struct {
	w       *tabwriter.Writer
	err     error
	missing string // why the figure before this one is missing
}

func (p *printer) line(format string, arguments ...any) {
	if _, err := fmt.Fprintf(p.w, format+"\n", arguments...); err != nil && p.err == nil {
		p.err = err
	}
}

// section starts a new block of aligned lines.
func (p *printer) section(title string) {
	p.missing = ""
	if err := p.w.Flush(); err != nil && p.err == nil {
		p.err = err
	}
	p.line("\n%s", strings.Join(wrap(title, textWidth), "\n"))
	if err := p.w.Flush(); err != nil && p.err == nil {
		p.err = err
	}
}

// list prints wrapped lines under a title; nothing for an empty list.
func (p *printer) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	p.section(title)
	for _, l := range lines {
		p.line("  - %s", strings.Join(wrap(l, textWidth-4), "\n    "))
	}
}

func (p *printer) scan(r *measure.Result) {
	s := r.Scan
	p.line("Scan\t%d slices of %d × %d samples, %d bit%s", s.Slices, s.Rows, s.Columns, s.BitDepth, prefixed(", ", s.Format))
	p.line("Scale\tdepth %s, lateral %s, between slices %s", axis(s.Scale.Depth), axis(s.Scale.Lateral), axis(s.Scale.Slice))
	p.line("Pattern\t%s", s.Pattern)
	p.line("Eye\t%s", s.Laterality)
	if s.AcquiredAt != "" {
		p.line("Acquired\t%s", s.AcquiredAt)
	}
}

func axis(a oct.AxisScale) string {
	if !a.Known() {
		return "unknown"
	}
	return fmt.Sprintf("%.4g µm (%s)", a.MicrometresPerSample, a.Trust)
}

func (p *printer) hole(r *measure.Result) {
	h := r.Hole
	p.section(strings.ToUpper(string(h.Judgement)[:1]) + string(h.Judgement)[1:])
	for _, s := range h.Seen {
		p.line("  %s", s)
	}
	if !h.Present {
		p.criteria(h)
		return
	}
	title := "Hole figures, as displayed by the scanner"
	if !r.LateralCorrection.Corrected {
		title += " (not corrected for eye length)"
	}
	title += "; 95 % intervals synthetic"
	p.section(title)
	place := fmt.Sprintf("slice %d of %d", h.WidestSlice+1, r.Scan.Slices)
	if r.Scan.Scale.Depth.Known() {
		place += fmt.Sprintf(", %.0f µm above the epithelium", h.MLDHeightUM)
	}
	p.figure("Minimum linear diameter", h.MLDUM, "µm", 0, place)
	p.figure("The same between visible edges", h.VisibleMLDUM, "µm", 0, fmt.Sprintf("a caliper on the screen; each wall lies %.0f µm behind its visible edge", h.EdgeCorrectionUM))
	p.figure("Smallest section, smallest diameter", h.MinSection.SmallUM, "µm", 0, "")
	p.figure("Smallest section, largest diameter", h.MinSection.LargeUM, "µm", 0, "over all meridians")
	p.figure("Smallest section, area", h.MinSection.AreaMM2, "mm²", 3, "")
	p.figure("Meridian of the smallest diameter", h.MinSection.MeridianDeg, "°", 0, "")
	p.figure("Base diameter", h.BaseUM, "µm", 0, "")
	p.figure("Inner opening", h.OpeningUM, "µm", 0, "at nine tenths of the lower rim")
	p.figure("Height", h.HeightUM, "µm", 0, "mean of both rims")
	p.figure("Height, low-column side", h.HeightLeftUM, "µm", 0, "")
	p.figure("Height, high-column side", h.HeightRightUM, "µm", 0, "")
	p.figure("Volume", h.VolumeMM3, "mm³", 4, "up to the opening")
	if h.Samples != nil {
		p.line("  In samples, no interval\tminimum %.1f columns, base %.1f columns, height %.1f rows", h.Samples.MLDColumns, h.Samples.BaseColumns, h.Samples.HeightRows)
	}
	p.correction(r.LateralCorrection)
	p.classes(h, r.LateralCorrection)
	p.section("Indices")
	for _, i := range h.Indices {
		p.figure(strings.ToUpper(i.Name[:1])+i.Name[1:], i.Value, i.Unit, 3, i.Formula)
	}
	p.criteria(h)
}

func (p *printer) correction(c measure.LateralCorrection) {
	if !c.Corrected {
		return
	}
	p.section(fmt.Sprintf("Corrected for an axial length of %.4g mm (reference eye %.4g mm)", c.AxialLengthMM, c.ReferenceMM))
	p.figure("Factor", c.Factor, "", 4, "lateral lengths; areas and volumes take its square")
	p.figure("Minimum linear diameter", c.MLDUM, "µm", 0, "")
	p.figure("The same between visible edges", c.VisibleMLDUM, "µm", 0, "")
	p.figure("Smallest section, smallest diameter", c.SmallUM, "µm", 0, "")
	p.figure("Smallest section, largest diameter", c.LargeUM, "µm", 0, "")
	p.figure("Smallest section, area", c.AreaMM2, "mm²", 3, "")
	p.figure("Base diameter", c.BaseUM, "µm", 0, "")
	p.figure("Inner opening", c.OpeningUM, "µm", 0, "")
	p.figure("Volume", c.VolumeMM3, "mm³", 4, "")
}

func (p *printer) classes(h *hole.Hole, c measure.LateralCorrection) {
	classes, what := h.SizeClass, "as displayed"
	if c.Corrected {
		classes, what = c.SizeClass, "corrected for eye length"
	}
	if len(classes) == 0 {
		return
	}
	p.section("Size class, " + what)
	p.line("  The published limits rest on calipers set on the screen: class by the reading between visible edges.")
	for _, class := range classes {
		figure := map[string]string{"mld_visible_um": "minimum linear diameter between visible edges", "mld_um": "minimum linear diameter", "min_section.large_um": "largest diameter of the smallest section"}[class.Figure]
		var others []string
		for _, q := range class.Probabilities {
			if q.Probability >= 0.005 {
				others = append(others, fmt.Sprintf("%s %.0f %%", q.Class, 100*q.Probability))
			}
		}
		border := ""
		if class.Borderline {
			border = fmt.Sprintf("borderline: within %.0f µm of a limit", hole.RealChangeUM)
		}
		p.line("  %s\tby %s\t%s\t%s", class.Scheme, figure, strings.Join(others, ", "), border)
	}
}

func (p *printer) thickness(r *measure.Result) {
	t := r.Thickness
	p.section("Retinal thickness, " + t.Boundary)
	if !anyThickness(t) {
		p.line("  %s", strings.Join(wrap("Not measured: no field of the grid was seen well enough. Centre field: "+t.CentralUM.Basis+".", 96), "\n  "))
	} else {
		p.figure("Centre point", t.CentrePointUM, "µm", 0, "")
		for _, f := range t.Fields {
			p.figure(strings.ToUpper(f.Name[:1])+f.Name[1:], f.ThicknessUM, "µm", 0, fmt.Sprintf("%.0f %% of the field seen", 100*f.CoveredShare))
		}
		p.figure("Total volume", t.TotalVolumeMM3, "mm³", 2, "circle of 6 mm")
	}
	if len(t.Membrane) > 0 {
		p.section("Signs of an epiretinal membrane (" + t.Membrane[0].Indicative + ")")
		for _, s := range t.Membrane {
			p.figure(s.Name, s.Value, s.Unit, 2, "")
		}
	}
}

// anyThickness reports whether any field of the grid has a figure.
func anyThickness(t *thickness.Thickness) bool {
	if t.CentrePointUM.Known() || t.TotalVolumeMM3.Known() {
		return true
	}
	for _, f := range t.Fields {
		if f.ThicknessUM.Known() {
			return true
		}
	}
	return false
}

func (p *printer) criteria(h *hole.Hole) {
	p.section("Criteria of hole-like conditions")
	for _, c := range h.Criteria {
		p.line("  %s\t%s\t%s\t%s", c.Condition, c.Criterion, c.State, c.Note)
	}
}

// figure prints a name, a value with unit and interval, and a note. A missing
// figure says why, once for several in a row.
func (p *printer) figure(name string, e estimate.Estimate, unit string, decimals int, note string) {
	why := ""
	switch {
	case !e.Known() || math.IsInf(e.Value, 0):
		if why = e.Basis; why == "" {
			why = "not measured, no reason given"
		}
	case !(e.Low <= e.High) || math.IsInf(e.Low, 0) || math.IsInf(e.High, 0):
		why = "no interval: not shown"
	}
	if why != "" {
		if why == p.missing {
			p.line("  %s\t–  as above", name)
			return
		}
		p.line("  %s\t–  %s", name, strings.Join(wrap(why, noteWidth), "\n\t   "))
		p.missing = why
		return
	}
	p.missing = ""
	p.line("  %s\t%.*f%s\t(95 %%: %.*f to %.*f)\t%s", name, decimals, e.Value, prefixed(" ", unit), decimals, e.Low, decimals, e.High, note)
}

func prefixed(prefix, text string) string {
	if text == "" {
		return ""
	}
	return prefix + text
}

// wrap breaks a text at spaces into lines of at most width runes, where it can.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len([]rune(line))+1+len([]rune(word)) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
