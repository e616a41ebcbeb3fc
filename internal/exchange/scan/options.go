package scan

import (
	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// GivenScale is the scale as a person gave it, in micrometres per sample. Nil
// means not given; zero is not "not given" but a fault.
type GivenScale struct {
	DepthUM, LateralUM, SliceUM *float64
}

// Limits bound what [Open] takes. A zero field stands for its default.
type Limits struct {
	Samples    int64 // samples of the whole scan; default [oct.MaxSamples]
	FileBytes  int64 // bytes of one file, packed or unpacked; default 2 GiB
	TotalBytes int64 // bytes of all files of a folder or zip, unpacked; default 4 GiB
	Entries    int   // files in a folder or zip; default 20,000
}

// The defaults of [Limits], and the bound of a side file.
const (
	defaultFileBytes  = 2 << 30
	defaultTotalBytes = 4 << 30
	defaultEntries    = 20_000
	maxSideFileBytes  = 64 << 10
)

func (l Limits) withDefaults() Limits {
	if l.Samples <= 0 || l.Samples > oct.MaxSamples {
		l.Samples = oct.MaxSamples
	}
	if l.FileBytes <= 0 {
		l.FileBytes = defaultFileBytes
	}
	if l.TotalBytes <= 0 {
		l.TotalBytes = defaultTotalBytes
	}
	if l.Entries <= 0 {
		l.Entries = defaultEntries
	}
	return l
}

// Options say what the caller knows and allows. The zero value opens a file
// with nothing known and nothing allowed.
type Options struct {
	// Scale wins over a side file and over the file's own attributes.
	Scale GivenScale
	// Laterality is the side as the user gave it.
	Laterality eye.Laterality
	// AcceptSide says that a person has seen that the sources of the side
	// disagree and stands by Laterality; the disagreement is noted.
	AcceptSide bool
	// AcceptFlip says that a scan found upside down may be turned.
	AcceptFlip bool
	// Converter decompresses DICOM pixel data that this program does not decode
	// itself. Nil stands for [dicom.InstalledConverter].
	Converter dicom.Converter
	Limits    Limits
	// Progress, when not nil, is told after each slice.
	Progress func(done, total int)
}

func (o Options) progress(done, total int) {
	if o.Progress != nil {
		o.Progress(done, total)
	}
}
