package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"

	"limitans/fault"
)

// Most samples one packed byte can stand for. PNG: Deflate's 1032 bytes and 8
// samples of one bit in each. JPEG: 64 samples from a block whose DC
// difference takes one bit, 512 (ITU-T T.81; the AC bands of a progressive file
// may be absent).
const (
	pngExpansion  = 8 * 1033
	jpegExpansion = 512
)

// pictureInfo is what the head of a picture announces.
type pictureInfo struct {
	rows, columns int
	bits          int
	lossy         bool
	notes         []string
}

// inspectPicture reads the head of a PNG or JPEG and holds the size it
// announces against its bytes.
func inspectPicture(name string, k kind, data []byte) (pictureInfo, error) {
	var config image.Config
	var err error
	expansion := int64(pngExpansion)
	if k == kindJPEG {
		expansion = jpegExpansion
		config, err = jpeg.DecodeConfig(bytes.NewReader(data))
	} else {
		config, err = png.DecodeConfig(bytes.NewReader(data))
	}
	if err != nil {
		return pictureInfo{}, pictureFault(name, k, err)
	}
	if err := checkSide(clean(name), int64(config.Height), int64(config.Width)); err != nil {
		return pictureInfo{}, err
	}
	if int64(config.Height)*int64(config.Width) > expansion*int64(len(data)) {
		return pictureInfo{}, &fault.Error{
			Code: fault.Malformed, Where: clean(name),
			What: fmt.Sprintf("%d bytes cannot hold %d × %d samples", len(data), config.Height, config.Width), Expected: "a complete picture",
		}
	}
	if o := exifOrientation(k, data); o != 1 {
		return pictureInfo{}, &fault.Error{
			Code: fault.Unsupported, Where: clean(name),
			What: fmt.Sprintf("the orientation mark (%d) says that the picture is stored turned or mirrored", o), Mend: "export it upright",
		}
	}
	info := pictureInfo{rows: config.Height, columns: config.Width, bits: 8, lossy: k == kindJPEG}
	switch config.ColorModel {
	case color.Gray16Model, color.RGBA64Model, color.NRGBA64Model:
		info.bits = 16
	}
	if k == kindPNG && data[24] < 8 { // bit depth in the head chunk
		info.notes = append(info.notes, fmt.Sprintf("the picture has only %d bits a sample", data[24]))
	}
	return info, nil
}

// pictureFault separates what is valid but not read from what is broken.
func pictureFault(name string, k kind, err error) error {
	e := &fault.Error{
		Code: fault.Malformed, Where: clean(name), Cause: err,
		What: fmt.Sprintf("the %s is damaged (%s)", k, clean(err.Error())), Expected: "a complete picture",
	}
	if text := err.Error(); strings.Contains(text, "unsupported") {
		e.Code, e.Expected = fault.Unsupported, ""
		e.What, e.Mend = fmt.Sprintf("this kind of %s is not read (%s)", k, clean(text)), "export as grey PNG or TIFF"
	}
	return e
}

// decodePicture writes the grey samples of a picture to dst.
func decodePicture(name string, k kind, data []byte, want pictureInfo, dst []uint16) ([]string, error) {
	var picture image.Image
	var err error
	if k == kindJPEG {
		picture, err = jpeg.Decode(bytes.NewReader(data))
	} else {
		picture, err = png.Decode(bytes.NewReader(data))
	}
	if err != nil {
		return nil, pictureFault(name, k, err)
	}
	if b := picture.Bounds(); b.Dx() != want.columns || b.Dy() != want.rows {
		return nil, &fault.Error{Code: fault.Malformed, Where: clean(name), What: "the size in the head is not that of the picture"}
	}
	return greyOf(clean(name), picture, want.bits, dst)
}

// greyOf writes the grey of a picture to dst; colour beyond the tolerance and
// transparency are faults.
func greyOf(where string, picture image.Image, bits int, dst []uint16) ([]string, error) {
	b := picture.Bounds()
	switch p := picture.(type) {
	case *image.Gray:
		for y := range b.Dy() {
			for x, v := range p.Pix[y*p.Stride:][:b.Dx()] {
				dst[y*b.Dx()+x] = uint16(v)
			}
		}
		return nil, nil
	case *image.Gray16:
		for y := range b.Dy() {
			line := p.Pix[y*p.Stride:][:2*b.Dx()]
			for x := range b.Dx() {
				dst[y*b.Dx()+x] = binary.BigEndian.Uint16(line[2*x:])
			}
		}
		return nil, nil
	case *image.CMYK:
		return nil, &fault.Error{Code: fault.Unsupported, Where: where, What: "the picture is in printing colours (CMYK)", Mend: "export in grey"}
	}
	spread := 0
	for y := range b.Dy() {
		for x := range b.Dx() {
			red, green, blue, alpha := picture.At(b.Min.X+x, b.Min.Y+y).RGBA()
			if alpha != 0xffff {
				return nil, &fault.Error{Code: fault.Unsupported, Where: where, What: "parts of the picture are transparent", Mend: "export in grey without transparency"}
			}
			spread = max(spread, int(max(red, green, blue))-int(min(red, green, blue)))
			dst[y*b.Dx()+x] = uint16(green >> (16 - bits))
		}
	}
	// RGBA widens 8 bits by the factor 257.
	if spread > colourTolerance*257 {
		return nil, colourFault(where)
	}
	if spread > 0 {
		return []string{noteNearlyGrey}, nil
	}
	return nil, nil
}

// exifOrientation returns the orientation mark of an Exif block, 1 (upright)
// when there is none or it cannot be read. The block is a small TIFF (CIPA
// DC-008).
func exifOrientation(k kind, data []byte) uint32 {
	var block []byte
	if k == kindJPEG {
		block = jpegExif(data)
	} else {
		block = pngExif(data)
	}
	if block == nil {
		return 1
	}
	t, first, err := openTIFF("", bytes.NewReader(block), int64(len(block)))
	if err != nil {
		return 1
	}
	head, err := t.read(first, 2, "", "")
	if err != nil {
		return 1
	}
	body, err := t.read(first+2, int64(t.order.Uint16(head))*12, "", "")
	if err != nil {
		return 1
	}
	for ; len(body) >= 12; body = body[12:] {
		if t.order.Uint16(body) == tagOrientation && t.order.Uint16(body[2:]) == 3 {
			if v := uint32(t.order.Uint16(body[8:])); v >= 1 && v <= 8 {
				return v
			}
		}
	}
	return 1
}

// jpegExif returns the content of the first Exif segment before the scan.
func jpegExif(data []byte) []byte {
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		marker, n := data[i+1], int(data[i+2])<<8|int(data[i+3])
		if marker == 0xda || n < 2 || i+2+n > len(data) {
			return nil
		}
		if body := data[i+4 : i+2+n]; marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) {
			return body[6:]
		}
		i += 2 + n
	}
	return nil
}

// pngExif returns the content of the eXIf chunk.
func pngExif(data []byte) []byte {
	for i := 8; i+12 <= len(data); {
		n := int64(binary.BigEndian.Uint32(data[i:]))
		if n > int64(len(data)-i-12) {
			return nil
		}
		if string(data[i+4:i+8]) == "eXIf" {
			return data[i+8 : i+8+int(n)]
		}
		i += 12 + int(n)
	}
	return nil
}
