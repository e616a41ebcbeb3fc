package oct

import (
	"fmt"
	"math"
	"time"

	"limitans/eye"
	"limitans/fault"
)

// Limits on what is taken into memory. A clinical volume has up to some
// hundred slices of some 10⁶ samples.
const (
	MaxSamples = 600_000_000
	MaxSide    = 20_000
)

// Trust says where a scale comes from, from none to best.
type Trust int

// The trusts.
const (
	TrustUnknown   Trust = iota // nothing is known: no micrometres
	TrustAssumed                // a stated assumption
	TrustUserGiven              // a person gave it
	TrustFileGiven              // a standard attribute of the file gave it
)

// String returns the trust in words.
func (t Trust) String() string {
	switch t {
	case TrustAssumed:
		return "assumed"
	case TrustUserGiven:
		return "given by the user"
	case TrustFileGiven:
		return "given by the file"
	}
	return "unknown"
}

// MarshalText writes the words of [Trust.String].
func (t Trust) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// AxisScale is the distance between two samples along one axis.
type AxisScale struct {
	MicrometresPerSample float64 `json:"um_per_sample"` // 0 while unknown
	Trust                Trust   `json:"trust"`
	Source               string  `json:"source"` // attribute, flag, side file or assumption, in words
}

// Known reports whether lengths along the axis can be given in micrometres.
func (a AxisScale) Known() bool { return a.Trust != TrustUnknown && a.MicrometresPerSample > 0 }

// Scale is the scale of the three axes.
type Scale struct {
	Depth   AxisScale `json:"depth"`
	Lateral AxisScale `json:"lateral"`
	Slice   AxisScale `json:"slice"`
}

// Pattern says how the slices lie on the retina.
type Pattern int

// The patterns.
const (
	PatternUnknown Pattern = iota
	PatternRaster          // parallel slices, Scale.Slice apart
	PatternRadial          // slices through one centre
	PatternSingle          // one slice
)

// String returns the pattern in words.
func (p Pattern) String() string {
	switch p {
	case PatternRaster:
		return "raster"
	case PatternRadial:
		return "radial"
	case PatternSingle:
		return "single slice"
	}
	return "unknown"
}

// MarshalText writes the words of [Pattern.String].
func (p Pattern) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// Acquisition holds what the file says of how the scan was made. Empty means
// the file does not say.
type Acquisition struct {
	Format        string // e.g. "DICOM Ophthalmic Tomography Image", "multi-page TIFF"
	Manufacturer  string
	Model         string
	AcquiredAt    time.Time // zero when unknown
	AxialLengthMM float64   // 0 when unknown
	Lossy         bool      // the samples went through lossy compression
}

// Volume is one scan. Samples[(slice*Rows+row)*Columns+column] is the grey
// value; BitDepth tells its range, 0 to 1<<BitDepth − 1. Functions of this
// module never change the Samples of a volume they were given.
type Volume struct {
	Slices, Rows, Columns int
	BitDepth              int
	Samples               []uint16
	Scale                 Scale
	Pattern               Pattern
	// SliceAnglesDeg holds, for PatternRadial, the direction of each slice on
	// the retina in degrees, counter-clockwise as the fundus is seen; the
	// slices cross at their middle column. Nil otherwise.
	SliceAnglesDeg []float64
	Laterality     eye.Laterality
	Acquisition    Acquisition
	Notes          []string // what a reader noticed, for people
}

// Slice returns the samples of one slice, Rows·Columns values, sharing memory
// with the volume.
func (v *Volume) Slice(slice int) []uint16 {
	n := v.Rows * v.Columns
	return v.Samples[slice*n : (slice+1)*n : (slice+1)*n]
}

// MaxSample returns the largest value BitDepth allows.
func (v *Volume) MaxSample() uint16 { return uint16(1<<v.BitDepth - 1) }

// CheckSize returns a fault when a volume of that size is impossible or larger
// than [MaxSamples]; readers call it before they take memory.
func CheckSize(slices, rows, columns int) error {
	if slices < 1 || rows < 1 || columns < 1 {
		return &fault.Error{
			Code: fault.Malformed, Where: "size",
			What:     fmt.Sprintf("a scan of %d slices of %d × %d samples is empty", slices, rows, columns),
			Expected: "at least one slice, row and column",
		}
	}
	if rows > MaxSide || columns > MaxSide || slices > MaxSide ||
		int64(slices)*int64(rows) > MaxSamples/int64(columns) {
		return &fault.Error{
			Code: fault.TooLarge, Where: "size",
			What:     fmt.Sprintf("a scan of %d slices of %d × %d samples is larger than this program takes", slices, rows, columns),
			Expected: fmt.Sprintf("at most %d samples in all and %d along a side", MaxSamples, MaxSide),
		}
	}
	return nil
}

// Check returns a fault when the volume contradicts itself.
func (v *Volume) Check() error {
	if err := CheckSize(v.Slices, v.Rows, v.Columns); err != nil {
		return err
	}
	if want := v.Slices * v.Rows * v.Columns; len(v.Samples) != want {
		return &fault.Error{
			Code: fault.Malformed, Where: "samples",
			What: fmt.Sprintf("%d samples are there", len(v.Samples)), Expected: fmt.Sprintf("%d", want),
		}
	}
	if v.BitDepth < 1 || v.BitDepth > 16 {
		return &fault.Error{
			Code: fault.Malformed, Where: "bit depth",
			What: fmt.Sprintf("%d bits a sample", v.BitDepth), Expected: "1 to 16",
		}
	}
	if v.Pattern == PatternRadial && len(v.SliceAnglesDeg) != v.Slices {
		return &fault.Error{
			Code: fault.Malformed, Where: "slice angles",
			What: fmt.Sprintf("%d angles for %d slices", len(v.SliceAnglesDeg), v.Slices), Expected: "one a slice",
		}
	}
	for _, axis := range []struct {
		name  string
		scale AxisScale
	}{{"depth scale", v.Scale.Depth}, {"lateral scale", v.Scale.Lateral}, {"slice scale", v.Scale.Slice}} {
		um := axis.scale.MicrometresPerSample
		if math.IsNaN(um) || math.IsInf(um, 0) || um < 0 || (axis.scale.Trust != TrustUnknown && um == 0) {
			return &fault.Error{
				Code: fault.Malformed, Where: axis.name,
				What: fmt.Sprintf("%g µm per sample", um), Expected: "a positive length",
			}
		}
	}
	return nil
}
