package intake

import (
	"context"
	"fmt"
	"slices"
	"time"

	"limitans/internal/record"
	"limitans/internal/vault"
	"limitans/oct"
	"limitans/oct/measure"
	"limitans/oct/surface"
)

// Measurer is who the history names for figures that a job has measured.
const Measurer record.AccountID = "measuring job"

// Measuring says how figures are made.
type Measuring struct {
	Program  string                // version of this program
	Now      time.Time             // when they are made
	By       record.AccountID      // who the figures name
	Vault    *vault.Vault          // takes the lines; nil leaves them out
	Progress func(done, total int) // may be nil; may be called from several goroutines
}

// Figures measures a volume as the scan s of the eye e and returns the figures
// for the record, without an identifier. Lateral lengths are corrected for the
// axial length that record.UsableAxialLength gives; where the record has none,
// for that of the file; where it has some and none may be used, not at all, and
// a warning says why.
//
// Errors: those of measure.Volume and of the vault.
func Figures(ctx context.Context, v *oct.Volume, s *record.Scan, e *record.Eye, m Measuring) (*record.HoleFigures, error) {
	result, err := Measure(ctx, v, e, nil, m)
	if err != nil {
		return nil, err
	}
	f, err := FiguresOf(result, s, m)
	if err != nil || m.Vault == nil {
		return f, err
	}
	f.Lines, err = KeepLines(ctx, m.Vault, result)
	return f, err
}

// Measure measures a volume of the eye e as [Figures] does, on the lines given,
// or where they are nil on those that it traces.
func Measure(ctx context.Context, v *oct.Volume, e *record.Eye, lines *surface.Surfaces, m Measuring) (*measure.Result, error) {
	v, lengthMM := axialLength(v, e)
	options := measure.Options{AxialLengthMM: lengthMM, Now: m.Now, Version: m.Program, Progress: m.Progress}
	if lines != nil {
		return measure.Lines(ctx, v, lines, options)
	}
	return measure.Volume(ctx, v, options)
}

// FiguresOf puts a result of [Measure] into the form of the record.
func FiguresOf(result *measure.Result, s *record.Scan, m Measuring) (*record.HoleFigures, error) {
	f, err := record.FiguresFrom(result, s.Taken, m.Now, nil)
	if err != nil {
		return nil, err
	}
	f.PatientID, f.EyeID, f.ScanID, f.MeasuredBy = s.PatientID, s.EyeID, s.ID, m.By
	return f, nil
}

// axialLength decides which axial length counts, in mm, 0 for none. The volume
// that it returns shares its samples with v and carries the reason as a note.
func axialLength(v *oct.Volume, e *record.Eye) (*oct.Volume, float64) {
	use, ok, why := record.UsableAxialLength(e)
	ofFile := v.Acquisition.AxialLengthMM
	noted := *v
	add := func(format string, args ...any) {
		noted.Notes = append(slices.Clone(v.Notes), fmt.Sprintf(format, args...))
	}
	switch {
	case ok:
		if ofFile != 0 && !alikeMM(ofFile, use.LengthMM) {
			add("axial length: %g mm of the record is used; the file says %g mm", use.LengthMM, ofFile)
		}
		return &noted, use.LengthMM
	case len(e.AxialLengths) > 0:
		noted.Acquisition.AxialLengthMM = 0
		if ofFile != 0 {
			add("no axial length is used (%s); that of the file, %g mm, is not used either", why, ofFile)
		} else {
			add("no axial length is used (%s)", why)
		}
		return &noted, 0
	case ofFile != 0:
		add("axial length: %g mm of the file is used; the record has none", ofFile)
		return &noted, ofFile
	}
	return v, 0
}

// alikeMM reports lengths that agree within the last digit that is written,
// 0.01 mm.
func alikeMM(a, b float64) bool { return a-b < 0.005 && b-a < 0.005 }

// equal reports figures that a repetition of the same measurement gives: same
// program, same axial length, same scale.
func equal(a, b *record.HoleFigures) bool {
	if !sameScale(a, b) || a.Source != b.Source || a.ProgramVersion != b.ProgramVersion || (a.AxialLengthMM == nil) != (b.AxialLengthMM == nil) {
		return false
	}
	return a.AxialLengthMM == nil || alikeMM(*a.AxialLengthMM, *b.AxialLengthMM)
}
