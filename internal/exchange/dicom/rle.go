package dicom

import (
	"encoding/binary"
	"fmt"
)

const (
	rleHeaderLength = 64
	rleMaxRatio     = 64 // two bytes give at most 128
)

// decodeRLEFrames decodes frames of RLE lossless: byte planes, the most
// significant byte of each sample first (PS3.5 annex G).
func decodeRLEFrames(e *Element, d PixelDescription, frames [][]byte) (*Pixels, error) {
	n := d.Rows * d.Columns
	bytesPerSample := d.BitsAllocated / 8
	segments := d.SamplesPerPixel * bytesPerSample
	for i, frame := range frames {
		if int64(len(frame))*rleMaxRatio < int64(n)*int64(segments) {
			return nil, inFrame(e, i, malformed("", fmt.Sprintf("%d bytes cannot hold %d rows × %d columns", len(frame), d.Rows, d.Columns), "more bytes"))
		}
	}
	p := &Pixels{PixelDescription: d, Samples: make([]uint16, d.Frames*d.frameSamples())}
	plane := make([]byte, n)
	for i, frame := range frames {
		parts, err := rleSegments(frame, segments)
		if err != nil {
			return nil, inFrame(e, i, err)
		}
		out := p.Samples[i*d.frameSamples() : (i+1)*d.frameSamples()]
		for s, part := range parts {
			if err := decodeRLE(plane, part); err != nil {
				return nil, inFrame(e, i, err)
			}
			sample := s / bytesPerSample
			for k, b := range plane {
				at := k*d.SamplesPerPixel + sample
				out[at] = out[at]<<8 | uint16(b)
			}
		}
	}
	p.PlanarConfiguration = 0
	p.store()
	return p, nil
}

// rleSegments cuts a frame by the offsets of its header (PS3.5 section G.5).
func rleSegments(frame []byte, want int) ([][]byte, error) {
	if len(frame) < rleHeaderLength {
		return nil, malformed("", fmt.Sprintf("the run-length header is cut off: %d bytes", len(frame)), fmt.Sprintf("%d", rleHeaderLength))
	}
	count := binary.LittleEndian.Uint32(frame)
	if count != uint32(want) {
		return nil, malformed("", fmt.Sprintf("%d run-length segments", count), fmt.Sprintf("%d", want))
	}
	parts := make([][]byte, want)
	begin := int64(rleHeaderLength)
	for i := range parts {
		if offset := int64(binary.LittleEndian.Uint32(frame[4+4*i:])); offset < begin || offset > int64(len(frame)) || (i == 0 && offset != begin) {
			return nil, malformed("", fmt.Sprintf("run-length segment %d starts at %d of %d bytes", i+1, offset, len(frame)), "ascending offsets from 64 within the frame")
		} else {
			begin = offset
		}
		end := int64(len(frame))
		if i+1 < want {
			end = int64(binary.LittleEndian.Uint32(frame[8+4*i:]))
		}
		if end < begin || end > int64(len(frame)) {
			return nil, malformed("", fmt.Sprintf("run-length segment %d ends at %d of %d bytes", i+1, end, len(frame)), "ascending offsets from 64 within the frame")
		}
		parts[i] = frame[begin:end]
		begin = end
	}
	return parts, nil
}

// decodeRLE fills out from one segment (PS3.5 section G.3.2): a count byte n
// from 0 to 127 is followed by n+1 literal bytes, from 129 to 255 by one byte
// that stands 257−n times; 128 does nothing. What follows a full plane may only
// be padding to an even length.
func decodeRLE(out, segment []byte) error {
	filled, pos := 0, 0
	short := func() error {
		return malformed("", fmt.Sprintf("a run-length segment ends after %d of %d samples", filled, len(out)), "a whole plane")
	}
	for filled < len(out) {
		if pos >= len(segment) {
			return short()
		}
		n := int(segment[pos])
		pos++
		switch {
		case n == 128:
			continue
		case n < 128:
			n++
			if pos+n > len(segment) {
				return short()
			}
			if filled+n > len(out) {
				return malformed("", fmt.Sprintf("a run-length segment holds more than %d samples", len(out)), "one plane")
			}
			copy(out[filled:], segment[pos:pos+n])
			pos += n
		default:
			n = 257 - n
			if pos >= len(segment) {
				return short()
			}
			if filled+n > len(out) {
				return malformed("", fmt.Sprintf("a run-length segment holds more than %d samples", len(out)), "one plane")
			}
			for i := range n {
				out[filled+i] = segment[pos]
			}
			pos++
		}
		filled += n
	}
	if rest := len(segment) - pos; rest > 1 {
		return malformed("", fmt.Sprintf("%d bytes follow the end of a run-length segment", rest), "at most one padding byte")
	}
	return nil
}
