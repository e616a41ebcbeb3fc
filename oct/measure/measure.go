package measure

import (
	"context"
	"fmt"
	"math"
	"time"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
	"limitans/oct/thickness"
)

// ScanAgeLimit is the age beyond which a scan should be made again before
// surgery: holes grew by 57 ± 69 µm in 28.6 ± 7.5 days of waiting (Baumann et
// al., Transl Vis Sci Technol 2021;10(13), full-text excerpt).
const ScanAgeLimit = 28 * 24 * time.Hour

// Options are the inputs besides the volume. The zero value is allowed.
type Options struct {
	// AxialLengthMM of the eye; 0 when not known. It wins over the file's.
	AxialLengthMM float64
	// Now is the time of measuring, for the age of the scan; zero to leave
	// the age out.
	Now time.Time
	// Version of the program, kept with the result.
	Version string
	// Progress is told how much of the work is done; it may be called from
	// several goroutines. Nil is allowed.
	Progress func(done, total int)
}

// Result is everything measured on one scan. The keys of its JSON form are
// stable.
type Result struct {
	Version           string               `json:"version,omitempty"`
	Scan              Scan                 `json:"scan"`
	Hole              *hole.Hole           `json:"hole"`
	LateralCorrection LateralCorrection    `json:"lateral_correction"`
	Thickness         *thickness.Thickness `json:"thickness"`
	Surfaces          []SurfaceSummary     `json:"surfaces"`
	Warnings          []string             `json:"warnings"`
	Traced            *surface.Surfaces    `json:"-"`
	Volume            *oct.Volume          `json:"-"`
}

// Scan describes what was measured.
type Scan struct {
	Slices     int            `json:"slices"`
	Rows       int            `json:"rows"`
	Columns    int            `json:"columns"`
	BitDepth   int            `json:"bit_depth"`
	Scale      oct.Scale      `json:"scale"`
	Pattern    oct.Pattern    `json:"pattern"`
	Laterality eye.Laterality `json:"laterality"`
	Format     string         `json:"format,omitempty"`
	AcquiredAt string         `json:"acquired_at,omitempty"`
	Notes      []string       `json:"notes,omitempty"`
}

// LateralCorrection holds the lateral figures corrected for eye length.
type LateralCorrection struct {
	Corrected     bool              `json:"corrected"`
	AxialLengthMM float64           `json:"axial_length_mm,omitempty"`
	ReferenceMM   float64           `json:"reference_axial_length_mm"`
	Factor        estimate.Estimate `json:"factor"`
	MLDUM         estimate.Estimate `json:"mld_um"`
	BaseUM        estimate.Estimate `json:"base_um"`
	OpeningUM     estimate.Estimate `json:"opening_um"`
	SmallUM       estimate.Estimate `json:"min_section_small_um"`
	LargeUM       estimate.Estimate `json:"min_section_large_um"`
	AreaMM2       estimate.Estimate `json:"min_section_area_mm2"`
	VolumeMM3     estimate.Estimate `json:"volume_mm3"`
	VisibleMLDUM  estimate.Estimate `json:"mld_visible_um"`
	SizeClass     []hole.SizeClass  `json:"size_class"`
	Note          string            `json:"note"`
}

// SurfaceSummary says how well one surface was traced.
type SurfaceSummary struct {
	Name           string  `json:"name"`
	TracedShare    float64 `json:"traced_share"`
	MeanConfidence float64 `json:"mean_confidence"`
}

// Volume measures one scan. The volume is not changed. An error is returned
// when ctx ends, when an option is impossible, or when nothing can be traced.
func Volume(ctx context.Context, v *oct.Volume, options Options) (*Result, error) {
	if err := check(v, options); err != nil {
		return nil, err
	}
	mask := oct.NoData(v)
	traced, err := surface.Trace(ctx, v, surface.Options{NoData: noDataOf(mask), Progress: options.Progress})
	if err != nil {
		return nil, err
	}
	return figuresOf(v, mask, traced, options)
}

// Lines measures one scan whose lines are known: traced before, or moved by
// hand. With the lines that were traced on it, it gives the figures of [Volume].
// Neither the volume nor the lines are changed.
//
// Errors: as [Volume]; Invalid for the lines of another scan.
func Lines(ctx context.Context, v *oct.Volume, lines *surface.Surfaces, options Options) (*Result, error) {
	if err := check(v, options); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for _, one := range []*surface.Surface{lines.InnerLimitingMembrane, lines.PigmentEpithelium, lines.PigmentEpitheliumInnerEdge} {
		if one == nil || one.Slices != v.Slices || one.Columns != v.Columns || len(one.Row) != v.Slices*v.Columns {
			return nil, &fault.Error{Code: fault.Invalid, Where: "lines", What: "they belong to another scan"}
		}
	}
	return figuresOf(v, oct.NoData(v), lines, options)
}

// check refuses what cannot be measured before anything is done.
func check(v *oct.Volume, options Options) error {
	if err := v.Check(); err != nil {
		return err
	}
	if options.AxialLengthMM != 0 {
		return eye.CheckAxialLengthMM(options.AxialLengthMM)
	}
	return nil
}

// noDataOf gives a mask as the searches take it.
func noDataOf(mask *oct.Mask) func(slice int) []bool {
	if mask.Empty() {
		return nil
	}
	return mask.Slice
}

// figuresOf measures what lies between lines.
func figuresOf(v *oct.Volume, mask *oct.Mask, traced *surface.Surfaces, options Options) (*Result, error) {
	found, err := hole.Measure(v, traced, hole.Options{NoData: noDataOf(mask)})
	if err != nil {
		return nil, err
	}
	r := &Result{Version: options.Version, Hole: found, Traced: traced, Volume: v, Scan: describe(v)}
	for _, s := range []*surface.Surface{traced.InnerLimitingMembrane, traced.PigmentEpithelium, traced.PigmentEpitheliumInnerEdge} {
		r.Surfaces = append(r.Surfaces, summarise(s))
	}
	if r.LateralCorrection, err = correct(v, found, options.AxialLengthMM); err != nil {
		return nil, err
	}
	centreSlice, centreColumn := holeCentre(found)
	factor := 0.0
	if r.LateralCorrection.Corrected {
		factor = r.LateralCorrection.Factor.Value
	}
	if r.Thickness, err = thickness.Measure(v, traced, thickness.Options{
		CentreSlice: centreSlice, CentreColumn: centreColumn, LateralFactor: factor,
	}); err != nil {
		return nil, err
	}
	r.Warnings = warnings(v, r, mask, options)
	return r, nil
}

// holeCentre is the middle of the hole, where the thickness grid belongs; NaN
// without a hole, for the grid to find the pit.
func holeCentre(h *hole.Hole) (slice, column float64) {
	if h.Lumen == nil {
		return math.NaN(), math.NaN()
	}
	return float64(h.Lumen.FirstSlice+h.Lumen.LastSlice) / 2, (h.Lumen.MLDLeft + h.Lumen.MLDRight) / 2
}

func describe(v *oct.Volume) Scan {
	s := Scan{
		Slices: v.Slices, Rows: v.Rows, Columns: v.Columns, BitDepth: v.BitDepth, Scale: v.Scale,
		Pattern: v.Pattern, Laterality: v.Laterality, Format: v.Acquisition.Format, Notes: v.Notes,
	}
	if !v.Acquisition.AcquiredAt.IsZero() {
		s.AcquiredAt = v.Acquisition.AcquiredAt.Format(time.RFC3339)
	}
	return s
}

func summarise(s *surface.Surface) SurfaceSummary {
	sum, n := 0.0, 0
	for i, c := range s.Confidence {
		if s.Row[i] == s.Row[i] {
			sum += float64(c)
			n++
		}
	}
	return SurfaceSummary{Name: s.Name, TracedShare: s.TracedShare(), MeanConfidence: sum / math.Max(1, float64(n))}
}

// correct multiplies lateral lengths by the axial-length factor, areas and
// volumes by its square (both lateral directions of a raster are angles).
func correct(v *oct.Volume, h *hole.Hole, axialLengthMM float64) (LateralCorrection, error) {
	if axialLengthMM == 0 {
		axialLengthMM = v.Acquisition.AxialLengthMM
	}
	c := LateralCorrection{ReferenceMM: eye.ReferenceAxialLengthMM}
	if axialLengthMM == 0 {
		low, err := eye.LateralFactor(21, eye.ReferenceAxialLengthMM)
		if err != nil {
			return c, err
		}
		high, err := eye.LateralFactor(31, eye.ReferenceAxialLengthMM)
		if err != nil {
			return c, err
		}
		missing := estimate.Missing("not corrected: axial length not given")
		for _, e := range []*estimate.Estimate{
			&c.Factor, &c.MLDUM, &c.VisibleMLDUM, &c.BaseUM, &c.OpeningUM, &c.SmallUM, &c.LargeUM, &c.AreaMM2, &c.VolumeMM3,
		} {
			*e = missing
		}
		c.Note = fmt.Sprintf("lateral lengths are as displayed, not corrected for eye length; eyes of 21 to 31 mm would span × %.2f to × %.2f", low.Value, high.Value)
		return c, nil
	}
	factor, err := eye.LateralFactor(axialLengthMM, eye.ReferenceAxialLengthMM)
	if err != nil {
		return c, err
	}
	c.Corrected, c.AxialLengthMM, c.Factor = true, axialLengthMM, factor
	c.MLDUM, c.BaseUM, c.OpeningUM = times(h.MLDUM, factor, 1), times(h.BaseUM, factor, 1), times(h.OpeningUM, factor, 1)
	c.SmallUM, c.LargeUM = times(h.MinSection.SmallUM, factor, 1), times(h.MinSection.LargeUM, factor, 1)
	c.AreaMM2, c.VolumeMM3 = times(h.MinSection.AreaMM2, factor, 2), times(h.VolumeMM3, factor, 2)
	c.VisibleMLDUM = times(h.VisibleMLDUM, factor, 1)
	c.SizeClass = hole.ClassifyAll(c.VisibleMLDUM, c.MLDUM, c.LargeUM)
	c.Note = "depth is not corrected: the axial scale does not depend on eye length; the factor is approximate in pseudophakic, aphakic and gas-filled eyes"
	return c, nil
}

// times multiplies a figure by the power of a factor that has its own error.
func times(figure, factor estimate.Estimate, power float64) estimate.Estimate {
	if !figure.Known() {
		return figure
	}
	sd := func(e estimate.Estimate) float64 { return (e.High - e.Low) / (2 * estimate.Z95) / e.Value }
	value := figure.Value * math.Pow(factor.Value, power)
	return estimate.NormalPositive(value, value*math.Hypot(sd(figure), power*sd(factor)), figure.Basis+"; corrected for eye length")
}

// warnings gathers what a reader of the figures must know.
func warnings(v *oct.Volume, r *Result, mask *oct.Mask, options Options) []string {
	out := append([]string{}, v.Notes...)
	out = append(out, r.Traced.Warnings...)
	out = append(out, r.Hole.Warnings...)
	out = append(out, r.Thickness.Warnings...)
	if !mask.Empty() {
		out = append(out, "parts of the frame hold no data (constant wedges at its border); they were left out")
	}
	scale := v.Scale
	for _, axis := range []struct {
		name  string
		scale oct.AxisScale
	}{{"depth", scale.Depth}, {"lateral", scale.Lateral}, {"slice", scale.Slice}} {
		switch {
		case axis.name == "slice" && v.Slices == 1:
		case !axis.scale.Known():
			out = append(out, fmt.Sprintf("%s scale unknown: no micrometres along this axis; give it with --scale or a side file", axis.name))
		case axis.scale.Trust == oct.TrustAssumed:
			out = append(out, fmt.Sprintf("%s scale is assumed (%s)", axis.name, axis.scale.Source))
		}
	}
	if v.Laterality == eye.SideUnknown {
		out = append(out, "side of the eye not known; give it with --eye")
	}
	if !options.Now.IsZero() && !v.Acquisition.AcquiredAt.IsZero() {
		if age := options.Now.Sub(v.Acquisition.AcquiredAt); age > ScanAgeLimit {
			out = append(out, fmt.Sprintf("the scan is %d days old: holes grow while waiting (57 ± 69 µm in four weeks); scan again before surgery", int(age.Hours()/24)))
		} else if age < -24*time.Hour {
			out = append(out, "the scan's date lies in the future")
		}
	}
	if v.Acquisition.Lossy {
		out = append(out, "the samples went through lossy compression")
	}
	return out
}
