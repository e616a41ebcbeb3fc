package record

import (
	"encoding/json"
	"time"

	"limitans/estimate"
)

// HoleFigures are the figures of a hole with their intervals, as measured on one
// scan. They are never changed: a new measurement or a moved line is a new
// record that names the one before. A nil figure was not measured or not told;
// a figure that could not be measured is an estimate without a number whose
// basis says why.
type HoleFigures struct {
	Base
	PatientID  ID `json:"patient_id"`
	EyeID      ID `json:"eye_id"`
	ScanID     ID `json:"scan_id,omitempty"` // empty for figures from outside
	Supersedes ID `json:"supersedes,omitempty"`

	Taken          Date         `json:"taken"`       // day of the scan
	MeasuredAt     time.Time    `json:"measured_at"` // when the figures were made
	MeasuredBy     AccountID    `json:"measured_by"`
	Source         FigureSource `json:"source"`
	Method         string       `json:"method"`          // name of the method
	ProgramVersion string       `json:"program_version"` // empty for figures from outside
	Basis          string       `json:"basis,omitempty"` // what the intervals rest on
	// AxialLengthMM is the input of the correction; nil: lateral lengths are as
	// displayed.
	AxialLengthMM *float64 `json:"axial_length_mm,omitempty"`
	Corrected     bool     `json:"corrected"` // lateral figures are corrected for eye length

	HolePresent  Answer             `json:"hole_present,omitempty"`
	MLDUM        *estimate.Estimate `json:"mld_um,omitempty"`
	VisibleMLDUM *estimate.Estimate `json:"mld_visible_um,omitempty"`
	// SmallUM and LargeUM are the two diameters of the smallest section (oval holes).
	SmallUM   *estimate.Estimate `json:"min_section_small_um,omitempty"`
	LargeUM   *estimate.Estimate `json:"min_section_large_um,omitempty"`
	AreaMM2   *estimate.Estimate `json:"min_section_area_mm2,omitempty"`
	BaseUM    *estimate.Estimate `json:"base_um,omitempty"`
	OpeningUM *estimate.Estimate `json:"opening_um,omitempty"`
	HeightUM  *estimate.Estimate `json:"height_um,omitempty"`
	VolumeMM3 *estimate.Estimate `json:"volume_mm3,omitempty"`
	Indices   []NamedFigure      `json:"indices,omitempty"`
	// CentralUM is the mean thickness of the central field of the grid.
	CentralUM *estimate.Estimate `json:"central_thickness_um,omitempty"`
	Warnings  []string           `json:"warnings,omitempty"` // worded by the program
	// Document is the whole measurement as the program wrote it.
	Document json.RawMessage `json:"document,omitempty"`
	// Lines are the lines that the figures were measured on, as a file of the
	// vault; nil where none were kept.
	Lines *FileRef `json:"lines,omitempty"`
	// Signed says who stands by the figures. Signing makes a new record.
	Signed    *Signature `json:"signed,omitempty"`
	Overrides []Override `json:"overrides,omitempty"`
	Note      FreeText   `json:"note,omitempty"`
}

// Kind is [KindFigures].
func (*HoleFigures) Kind() Kind { return KindFigures }

// Links tells what it belongs to.
func (f *HoleFigures) Links() Links {
	links := Links{PatientID: f.PatientID, EyeID: f.EyeID, Day: f.Taken}
	if f.Lines != nil {
		links.FileHashes = hashes(f.Lines.SHA256)
	}
	return links
}

// NamedFigure is a figure with its name, such as an index of the hole.
type NamedFigure struct {
	Name  string            `json:"name"` // as the program names it
	Value estimate.Estimate `json:"value"`
}

// FigureSource says how figures came about.
type FigureSource string

// The sources of figures.
const (
	FiguresAutomatic FigureSource = "automatic"
	FiguresConfirmed FigureSource = "automatic, confirmed by a person"
	// FiguresCorrected are measured by the program on lines that a person moved.
	FiguresCorrected FigureSource = "automatic, on lines moved by a person"
	FiguresByHand    FigureSource = "by hand"
	FiguresTyped     FigureSource = "typed from elsewhere"
)
