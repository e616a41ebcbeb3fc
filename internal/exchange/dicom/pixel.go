package dicom

import (
	"encoding/binary"
	"fmt"

	"limitans/fault"
	"limitans/oct"
)

// Limits of decoded pixel data, relative to the compressed bytes, so that a
// small file cannot ask for much memory.
const (
	samplesFloor   = 64 << 20 // always allowed
	samplesPerByte = 400
)

// PixelDescription is what the Image Pixel module says (PS3.3 C.7.6.3).
type PixelDescription struct {
	Frames, Rows, Columns int
	SamplesPerPixel       int
	Photometric           string
	PlanarConfiguration   int // 1: colour planes one after the other
	BitsAllocated         int
	BitsStored            int
	HighBit               int
	Signed                bool
}

// Pixels are the decoded frames: Samples[((frame·Rows + row)·Columns + column)·
// SamplesPerPixel + sample], each from 0 to 1<<BitsStored − 1. Samples of signed
// data are shifted up by 1<<(BitsStored − 1), which keeps their order.
type Pixels struct {
	PixelDescription
	Samples []uint16
	// SurplusBits says that bits outside the stored ones were set; they are no
	// part of the samples and were masked.
	SurplusBits bool
	// ConvertedBy names the installed program that decompressed the frames.
	ConvertedBy string
}

// Describe reads and checks the Image Pixel module. Malformed: an attribute is
// missing or impossible. Unsupported: allocated bits other than 8 and 16,
// samples per pixel other than 1 and 3, palettes. TooLarge: more samples than
// [oct.MaxSamples].
func (f *File) Describe() (PixelDescription, error) {
	d := PixelDescription{Frames: 1}
	for _, a := range []struct {
		tag      Tag
		into     *int
		optional bool
		min, max int64
	}{
		{TagSamplesPerPixel, &d.SamplesPerPixel, false, 1, 4},
		{TagRows, &d.Rows, false, 1, 65535},
		{TagColumns, &d.Columns, false, 1, 65535},
		{TagBitsAllocated, &d.BitsAllocated, false, 1, 64},
		{TagBitsStored, &d.BitsStored, false, 1, 64},
		{TagHighBit, &d.HighBit, false, 0, 63},
		{TagNumberOfFrames, &d.Frames, true, 1, 1 << 31},
		{TagPlanarConfiguration, &d.PlanarConfiguration, true, 0, 1},
	} {
		value, present, err := f.Int(a.tag)
		if err != nil {
			return d, err
		}
		if !present {
			if a.optional {
				continue
			}
			return d, malformed(a.tag.String(), "the attribute is missing", "an image with its size and bits")
		}
		if value < a.min || value > a.max {
			return d, malformed(f.Find(a.tag).Place(), fmt.Sprintf("%d is impossible", value), fmt.Sprintf("%d to %d", a.min, a.max))
		}
		*a.into = int(value)
	}
	representation, present, err := f.Int(TagPixelRepresentation)
	if err != nil {
		return d, err
	}
	if !present || representation < 0 || representation > 1 {
		return d, malformed(TagPixelRepresentation.String(), "the attribute is missing or neither 0 nor 1", "0 (unsigned) or 1 (signed)")
	}
	d.Signed = representation == 1
	if d.Photometric, err = f.Text(TagPhotometric, &f.DataSet); err != nil {
		return d, err
	}
	return d, d.check()
}

func (d *PixelDescription) check() error {
	unsupported := func(tag Tag, what, expected string) error {
		return &fault.Error{Code: fault.Unsupported, Where: tag.String(), What: what, Expected: expected}
	}
	if d.BitsAllocated != 8 && d.BitsAllocated != 16 {
		return unsupported(TagBitsAllocated, fmt.Sprintf("%d bits are allocated to a sample", d.BitsAllocated), "8 or 16")
	}
	if d.BitsStored > d.BitsAllocated || d.HighBit < d.BitsStored-1 || d.HighBit >= d.BitsAllocated {
		return malformed(TagHighBit.String(), fmt.Sprintf("high bit %d with %d bits stored of %d allocated is impossible", d.HighBit, d.BitsStored, d.BitsAllocated), "stored bits within the allocated ones")
	}
	colour := false
	switch d.Photometric {
	case "MONOCHROME1", "MONOCHROME2":
	case "RGB", "YBR_FULL", "YBR_FULL_422", "YBR_RCT", "YBR_ICT", "YBR_PARTIAL_420":
		colour = true
	case "":
		return malformed(TagPhotometric.String(), "the attribute is missing", "MONOCHROME2")
	default:
		return unsupported(TagPhotometric, fmt.Sprintf("samples of %q are not read", d.Photometric), "MONOCHROME1, MONOCHROME2 or RGB")
	}
	if want := map[bool]int{false: 1, true: 3}[colour]; d.SamplesPerPixel != want {
		return malformed(TagSamplesPerPixel.String(), fmt.Sprintf("%d samples a pixel with %s", d.SamplesPerPixel, d.Photometric), fmt.Sprintf("%d", want))
	}
	if d.Frames > oct.MaxSide*1000 {
		d.Frames = oct.MaxSide * 1000 // oct.CheckSize multiplies; it refuses this too
	}
	if err := oct.CheckSize(d.Frames, d.Rows, d.Columns*d.SamplesPerPixel); err != nil {
		return sizeFault(err)
	}
	return nil
}

func sizeFault(err error) error {
	return &fault.Error{
		Code: fault.CodeOf(err), Where: fmt.Sprintf("%s, %s, %s", TagNumberOfFrames, TagRows, TagColumns),
		What: err.Error(), Cause: err,
	}
}

// frameSamples is the number of samples of one frame.
func (d *PixelDescription) frameSamples() int { return d.Rows * d.Columns * d.SamplesPerPixel }

// Pixels decodes the pixel data. convert decompresses what this package does
// not; it may be nil. Faults are those of [File.Describe] and: Malformed when
// the pixel data contradict the description, Unsupported when the transfer
// syntax cannot be decoded here.
func (f *File) Pixels(convert Converter) (*Pixels, error) {
	d, err := f.Describe()
	if err != nil {
		return nil, err
	}
	e := f.Find(TagPixelData)
	if e == nil {
		for _, tag := range []Tag{0x7FE00008, 0x7FE00009} {
			if f.Find(tag) != nil {
				return nil, &fault.Error{Code: fault.Unsupported, Where: tag.String(), What: "floating-point pixels are not read", Expected: TagPixelData.String()}
			}
		}
		return nil, malformed(TagPixelData.String(), "the file has no pixel data", "an image")
	}
	if f.Syntax.Encapsulated != (e.Fragments != nil) {
		want := map[bool]string{true: "fragments of undefined length", false: "samples of defined length"}
		return nil, malformed(e.Place(), "the pixel data are not as the transfer syntax "+f.Syntax.String()+" wants", want[f.Syntax.Encapsulated])
	}
	if f.Syntax.Encapsulated {
		return f.encapsulated(e, d, convert)
	}
	return f.native(e, d)
}

// native takes samples as they stand (PS3.5 section 8).
func (f *File) native(e *Element, d PixelDescription) (*Pixels, error) {
	if d.Photometric != "MONOCHROME1" && d.Photometric != "MONOCHROME2" && d.Photometric != "RGB" && d.Photometric != "YBR_FULL" {
		return nil, &fault.Error{
			Code: fault.Unsupported, Where: TagPhotometric.String(),
			What: fmt.Sprintf("uncompressed samples of %s are not read", d.Photometric), Expected: "MONOCHROME1, MONOCHROME2, RGB or YBR_FULL",
		}
	}
	size := d.Frames * d.frameSamples() * d.BitsAllocated / 8
	if len(e.Value) != size+size%2 && len(e.Value) != size {
		return nil, malformed(e.Place(), fmt.Sprintf("it holds %d bytes", len(e.Value)),
			fmt.Sprintf("%d for %d frames of %d rows × %d columns × %d samples of %d bits", size, d.Frames, d.Rows, d.Columns, d.SamplesPerPixel, d.BitsAllocated))
	}
	value := e.Value
	if d.BitsAllocated == 8 && f.Syntax.BigEndian && e.VR == "OW" {
		if len(value)%2 == 1 {
			return nil, malformed(e.Place(), fmt.Sprintf("16-bit words in %d bytes", len(value)), "an even length")
		}
		value = swapped(value)
	}
	p := &Pixels{PixelDescription: d, Samples: make([]uint16, size*8/d.BitsAllocated)}
	if d.BitsAllocated == 8 {
		for i := range p.Samples {
			p.Samples[i] = uint16(value[i])
		}
	} else {
		words(p.Samples, value, f.Syntax.encoding().order)
	}
	p.interleave()
	p.store()
	return p, nil
}

func words(out []uint16, value []byte, order binary.ByteOrder) {
	for i := range out {
		out[i] = order.Uint16(value[2*i:])
	}
}

func swapped(value []byte) []byte {
	out := make([]byte, len(value))
	for i := 0; i+1 < len(value); i += 2 {
		out[i], out[i+1] = value[i+1], value[i]
	}
	return out
}

// interleave brings colour planes to colour by pixel.
func (p *Pixels) interleave() {
	if p.SamplesPerPixel == 1 || p.PlanarConfiguration == 0 {
		return
	}
	n := p.Rows * p.Columns
	frame := make([]uint16, n*p.SamplesPerPixel)
	for k := range p.Frames {
		planes := p.Samples[k*len(frame) : (k+1)*len(frame)]
		for s := range p.SamplesPerPixel {
			for i := range n {
				frame[i*p.SamplesPerPixel+s] = planes[s*n+i]
			}
		}
		copy(planes, frame)
	}
	p.PlanarConfiguration = 0
}

// store takes the stored bits out of the allocated ones and shifts signed
// samples.
func (p *Pixels) store() {
	shift := p.HighBit + 1 - p.BitsStored
	mask := uint16(1<<p.BitsStored - 1)
	var offset uint16
	if p.Signed {
		offset = 1 << (p.BitsStored - 1)
	}
	var surplus uint16
	for i, v := range p.Samples {
		s := v >> shift & mask
		rest := v &^ (mask << shift)
		if p.Signed && s&offset != 0 && shift == 0 {
			rest ^= ^mask & uint16(1<<p.BitsAllocated-1) // sign extension is no surplus
		}
		surplus |= rest
		p.Samples[i] = s ^ offset
	}
	p.SurplusBits = surplus != 0
}

// plausible refuses a decoded size that is out of proportion to the compressed
// bytes, before memory is taken.
func plausible(e *Element, d PixelDescription, compressed int64) error {
	samples := int64(d.Frames) * int64(d.frameSamples())
	if limit := max(compressed*samplesPerByte, samplesFloor); samples > limit {
		return &fault.Error{
			Code: fault.TooLarge, Where: e.Place(),
			What:     fmt.Sprintf("%d compressed bytes are said to hold %d samples", compressed, samples),
			Expected: fmt.Sprintf("at most %d samples from so few bytes", limit),
		}
	}
	return nil
}
