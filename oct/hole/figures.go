package hole

import (
	"encoding/json"
	"math"

	"limitans/estimate"
)

// Judgement is the answer to "is there a full-thickness hole?".
type Judgement string

// The judgements.
const (
	FullThickness Judgement = "full-thickness hole"
	NoneFound     Judgement = "no full-thickness hole found"
	NotJudged     Judgement = "not judged"
)

// Hole is the result of [Measure]. Every figure is an estimate with its 95 %
// interval; a figure that cannot be measured is missing and its basis says why.
// Lengths are parallel or perpendicular to the pigment epithelium.
type Hole struct {
	Present   bool      `json:"present"`
	Judgement Judgement `json:"judgement"`
	Seen      []string  `json:"seen"` // what the judgement rests on

	// MLDUM is the minimum linear diameter in the clinician's sense: on each
	// slice the narrowest gap parallel to the epithelium, of these the widest.
	MLDUM       estimate.Estimate `json:"mld_um"`
	WidestSlice int               `json:"widest_slice"` // −1 without a hole
	MLDHeightUM PlaceUM           `json:"mld_above_epithelium_um"`
	OpenSlices  int               `json:"open_slices"`
	// EdgeCorrectionUM is how far behind its visible edge each wall was placed,
	// because bright tissue blooms on a compressed display; a caliper set on
	// the visible edges reads VisibleMLDUM.
	EdgeCorrectionUM float64           `json:"edge_correction_um"`
	VisibleMLDUM     estimate.Estimate `json:"mld_visible_um"`

	MinSection    MinSection        `json:"min_section"`
	BaseUM        estimate.Estimate `json:"base_um"`
	OpeningUM     estimate.Estimate `json:"opening_um"`
	HeightUM      estimate.Estimate `json:"height_um"` // mean of both sides
	HeightLeftUM  estimate.Estimate `json:"height_left_um"`
	HeightRightUM estimate.Estimate `json:"height_right_um"`
	VolumeMM3     estimate.Estimate `json:"volume_mm3"`
	Indices       []Index           `json:"indices"`
	SizeClass     []SizeClass       `json:"size_class"`
	Criteria      []Criterion       `json:"criteria"`
	Samples       *SampleFigures    `json:"samples,omitempty"`
	Warnings      []string          `json:"-"` // shown with the warnings of the whole result

	Lumen *Lumen `json:"-"`
}

// MinSection is the section of the lumen parallel to the epithelium that has the
// smallest area. The meridian is that of the smallest diameter, in degrees from
// 0 to 180 counter-clockwise from the fast scan, the fundus seen with later
// slices lower.
type MinSection struct {
	AreaMM2     estimate.Estimate `json:"area_mm2"`
	SmallUM     estimate.Estimate `json:"small_um"`
	LargeUM     estimate.Estimate `json:"large_um"`
	MeridianDeg estimate.Estimate `json:"meridian_deg"`
	HeightUM    PlaceUM           `json:"above_epithelium_um"`
}

// PlaceUM says where, in µm above the epithelium, a figure was taken; NaN, null in
// JSON, where there is no such place or no scale. It is no figure itself.
type PlaceUM float64

// MarshalJSON writes the number, or null.
func (p PlaceUM) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(p)) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(p))
}

// SampleFigures are figures in samples, for scans whose scale is unknown.
type SampleFigures struct {
	MLDColumns  float64 `json:"mld_columns"`
	BaseColumns float64 `json:"base_columns"`
	HeightRows  float64 `json:"height_rows"`
}

// Criterion is one published criterion of a hole-like condition and whether the
// scan shows it.
type Criterion struct {
	Condition string `json:"condition"`
	Criterion string `json:"criterion"`
	State     string `json:"state"` // seen, not seen, not judged
	Note      string `json:"note"`
	Source    string `json:"source"`
}

// Lumen is the measured region, for pictures and for comparing with a truth.
type Lumen struct {
	Slices, Rows, Columns int
	FirstSlice, LastSlice int
	LidHeightUM           float64
	// Left and Right hold, for slice·Heights + k, the wall columns at height
	// k·HeightStepUM above the epithelium's inner edge, NaN where closed.
	Heights      int
	HeightStepUM float64
	Left, Right  []float64
	// Floor holds, for slice·Columns + column, the row of the epithelium's inner edge.
	Floor []float64
	// MLD is the place of the minimum linear diameter.
	MLDSlice          int
	MLDLeft, MLDRight float64
	MLDHeightSteps    float64
	ContourUM         [][2]float64 // smallest section, µm, centre of the scan is 0,0
}

// Row returns the row of a height (in steps k) above a column.
func (l *Lumen) Row(slice int, column, k float64) float64 {
	c := min(max(int(column+0.5), 0), l.Columns-1)
	return l.Floor[slice*l.Columns+c] - k
}

// Wall returns the wall columns at a slice and height step; open is false where
// the lumen is closed.
func (l *Lumen) Wall(slice, k int) (left, right float64, open bool) {
	left, right = l.Left[slice*l.Heights+k], l.Right[slice*l.Heights+k]
	return left, right, left == left
}

// Mask marks every sample of the scan that lies in the lumen, same index as the
// samples of the volume.
func (l *Lumen) Mask() []bool {
	mask := make([]bool, l.Slices*l.Rows*l.Columns)
	top := int(l.LidHeightUM / l.HeightStepUM)
	for slice := l.FirstSlice; slice <= l.LastSlice && slice >= 0; slice++ {
		for c := range l.Columns {
			floor := l.Floor[slice*l.Columns+c]
			for row := max(0, int(floor)-top-1); row < l.Rows && float64(row) <= floor; row++ {
				h := floor - float64(row)
				k := int(h + 0.5)
				if k >= l.Heights || h*l.HeightStepUM > l.LidHeightUM {
					continue
				}
				left, right, open := l.Wall(slice, k)
				if open && float64(c) >= left && float64(c) <= right {
					mask[(slice*l.Rows+row)*l.Columns+c] = true
				}
			}
		}
	}
	return mask
}

// Options are the inputs of [Measure] besides the volume and its surfaces.
type Options struct {
	// NoData is the same as in [surface.Options].
	NoData func(slice int) []bool
}
