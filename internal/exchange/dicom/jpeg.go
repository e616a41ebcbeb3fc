package dicom

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"

	"limitans/fault"
)

// frameHeader is what the head of a compressed picture says.
type frameHeader struct {
	rows, columns int
	standard      bool // image/jpeg decodes it
}

// readFrameHeader reads the size of a compressed picture without decoding it:
// the frame header of JPEG (ISO/IEC 10918-1 section B.2.2) and JPEG-LS
// (ISO/IEC 14495-1 section C.2.2), or the SIZ marker of JPEG 2000
// (ISO/IEC 15444-1 section A.5.1).
func readFrameHeader(frame []byte, kind codec) (frameHeader, error) {
	if kind == codecJPEG2000 {
		return readCodestreamHeader(frame)
	}
	bad := func(what string) (frameHeader, error) {
		return frameHeader{}, malformed("", what, "a JPEG picture")
	}
	if len(frame) < 4 || frame[0] != 0xFF || frame[1] != 0xD8 {
		return bad("the frame does not start as a JPEG picture")
	}
	for pos := 2; pos+4 <= len(frame); {
		if frame[pos] != 0xFF {
			return bad(fmt.Sprintf("a JPEG marker is missing at byte %d of the frame", pos))
		}
		marker := frame[pos+1]
		if marker == 0xFF {
			pos++
			continue
		}
		length := int(binary.BigEndian.Uint16(frame[pos+2:]))
		if length < 2 || pos+2+length > len(frame) {
			return bad(fmt.Sprintf("a JPEG marker segment is cut off at byte %d of the frame", pos))
		}
		sof := marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC || marker == 0xF7
		if sof && length >= 8 {
			segment := frame[pos+4:]
			return frameHeader{
				rows:     int(binary.BigEndian.Uint16(segment[1:])),
				columns:  int(binary.BigEndian.Uint16(segment[3:])),
				standard: segment[0] == 8 && marker <= 0xC2,
			}, nil
		}
		if marker == 0xDA || sof {
			break
		}
		pos += 2 + length
	}
	return bad("the JPEG picture has no frame header")
}

func readCodestreamHeader(frame []byte) (frameHeader, error) {
	const sizLength = 24 // SOC, SIZ, Lsiz, Rsiz, Xsiz, Ysiz, XOsiz, YOsiz
	if len(frame) < sizLength || binary.BigEndian.Uint32(frame) != 0xFF4FFF51 {
		return frameHeader{}, malformed("", "the frame does not start as a JPEG 2000 codestream", "a JPEG 2000 picture")
	}
	at := func(i int) int64 { return int64(binary.BigEndian.Uint32(frame[i:])) }
	columns, rows := at(8)-at(16), at(12)-at(20)
	if rows < 1 || columns < 1 {
		return frameHeader{}, malformed("", "the JPEG 2000 picture is empty", "a picture with rows and columns")
	}
	return frameHeader{rows: int(rows), columns: int(columns)}, nil
}

// decodeJPEGFrames decodes 8-bit pictures with image/jpeg.
func decodeJPEGFrames(e *Element, d PixelDescription, frames [][]byte) (*Pixels, error) {
	p := &Pixels{PixelDescription: d, Samples: make([]uint16, d.Frames*d.frameSamples())}
	for i, frame := range frames {
		picture, err := jpeg.Decode(bytes.NewReader(frame))
		if err != nil {
			return nil, inFrame(e, i, &fault.Error{Code: fault.Malformed, What: "the JPEG picture cannot be decoded: " + err.Error(), Cause: err})
		}
		out := p.Samples[i*d.frameSamples() : (i+1)*d.frameSamples()]
		if err := takePicture(out, picture, d); err != nil {
			return nil, inFrame(e, i, err)
		}
	}
	if d.SamplesPerPixel == 3 {
		p.Photometric, p.PlanarConfiguration = "RGB", 0
	}
	return p, p.checkRange(e)
}

// checkRange refuses samples above the stored bits, which a codec may give.
func (p *Pixels) checkRange(e *Element) error {
	if p.Signed || p.BitsStored != p.HighBit+1 {
		return &fault.Error{Code: fault.Unsupported, Where: e.Place(), What: "JPEG pictures with signed or shifted samples are not read", Expected: "unsigned samples"}
	}
	for i, v := range p.Samples {
		if v>>p.BitsStored != 0 {
			return malformed(e.Place(), fmt.Sprintf("sample %d is %d with %d bits stored", i, v, p.BitsStored), "a sample within its bits")
		}
	}
	return nil
}

func takePicture(out []uint16, picture image.Image, d PixelDescription) error {
	size := picture.Bounds().Size()
	if size.Y != d.Rows || size.X != d.Columns {
		return malformed("", fmt.Sprintf("the JPEG picture has %d rows × %d columns", size.Y, size.X), fmt.Sprintf("%d × %d", d.Rows, d.Columns))
	}
	gray, isGray := picture.(*image.Gray)
	if isGray != (d.SamplesPerPixel == 1) {
		return malformed("", "the JPEG picture's number of components is not that of the image", fmt.Sprintf("%d", d.SamplesPerPixel))
	}
	origin := picture.Bounds().Min
	for row := range d.Rows {
		for column := range d.Columns {
			at := row*d.Columns + column
			if isGray {
				out[at] = uint16(gray.GrayAt(origin.X+column, origin.Y+row).Y)
				continue
			}
			c, ok := color.NRGBAModel.Convert(picture.At(origin.X+column, origin.Y+row)).(color.NRGBA)
			if !ok {
				return malformed("", "the JPEG picture's colours are not read", "grey or RGB")
			}
			out[3*at], out[3*at+1], out[3*at+2] = uint16(c.R), uint16(c.G), uint16(c.B)
		}
	}
	return nil
}
