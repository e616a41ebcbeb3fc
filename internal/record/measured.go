package record

import (
	"encoding/json"
	"time"

	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/oct/measure"
)

// FiguresFrom makes the stored figures of a measurement. Lateral figures are those
// corrected for eye length when the measurement corrected them, else as displayed.
// The caller sets identifiers, patient, eye, scan and who measured. document is the
// whole result as JSON, kept as it is; nil lets this function write it.
func FiguresFrom(r *measure.Result, taken Date, at time.Time, document json.RawMessage) (*HoleFigures, error) {
	if document == nil {
		var err error
		if document, err = json.Marshal(r); err != nil {
			return nil, err
		}
	}
	f := &HoleFigures{
		Taken: taken, MeasuredAt: at, Source: FiguresAutomatic, Method: methodName, ProgramVersion: r.Version,
		Basis: caution.SyntheticIntervals, Corrected: r.LateralCorrection.Corrected, Warnings: r.Warnings, Document: document,
	}
	if f.Corrected {
		mm := r.LateralCorrection.AxialLengthMM
		f.AxialLengthMM = &mm
	}
	if h := r.Hole; h != nil {
		f.HolePresent = No
		if h.Present {
			f.HolePresent = Yes
		}
		c := r.LateralCorrection
		if !c.Corrected {
			c.MLDUM, c.VisibleMLDUM, c.BaseUM, c.OpeningUM = h.MLDUM, h.VisibleMLDUM, h.BaseUM, h.OpeningUM
			c.SmallUM, c.LargeUM, c.AreaMM2, c.VolumeMM3 = h.MinSection.SmallUM, h.MinSection.LargeUM, h.MinSection.AreaMM2, h.VolumeMM3
		}
		f.MLDUM, f.VisibleMLDUM, f.BaseUM, f.OpeningUM = told(c.MLDUM), told(c.VisibleMLDUM), told(c.BaseUM), told(c.OpeningUM)
		f.SmallUM, f.LargeUM, f.AreaMM2, f.VolumeMM3 = told(c.SmallUM), told(c.LargeUM), told(c.AreaMM2), told(c.VolumeMM3)
		f.HeightUM = told(h.HeightUM)
		for _, i := range h.Indices {
			f.Indices = append(f.Indices, NamedFigure{Name: i.Name, Value: i.Value})
		}
	}
	if r.Thickness != nil {
		for _, field := range r.Thickness.Fields {
			if field.InnerUM == 0 { // the central field
				f.CentralUM = told(field.ThicknessUM)
			}
		}
	}
	return f, nil
}

// methodName names the method of package oct/measure.
const methodName = "surfaces and lumen of the OCT volume"

// told returns the figure with its basis; nil for a figure that was never set.
func told(e estimate.Estimate) *estimate.Estimate {
	if e.Basis == "" && e.Value == 0 {
		return nil
	}
	return &e
}
