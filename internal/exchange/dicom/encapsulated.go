package dicom

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"limitans/fault"
)

// encapsulated decodes compressed frames.
func (f *File) encapsulated(e *Element, d PixelDescription, convert Converter) (*Pixels, error) {
	var compressed int64
	for _, fragment := range e.Fragments {
		compressed += int64(len(fragment))
	}
	if err := plausible(e, d, compressed); err != nil {
		return nil, err
	}
	switch f.Syntax.codec {
	case codecVideo, codecOther:
		return nil, &fault.Error{
			Code: fault.Unsupported, Where: e.Place(),
			What: "frames in " + f.Syntax.String() + " are not read", Mend: "export the scan again uncompressed (Explicit VR Little Endian)",
		}
	}
	frames, err := splitFrames(e, d.Frames, f.Syntax)
	if err != nil {
		return nil, err
	}
	if f.Syntax.codec == codecRLE {
		return decodeRLEFrames(e, d, frames)
	}
	standard := f.Syntax.codec == codecJPEG
	for i, frame := range frames {
		header, err := readFrameHeader(frame, f.Syntax.codec)
		if err != nil {
			return nil, inFrame(e, i, err)
		}
		if header.rows != d.Rows || header.columns != d.Columns {
			return nil, inFrame(e, i, malformed("", fmt.Sprintf("the compressed picture has %d rows × %d columns", header.rows, header.columns),
				fmt.Sprintf("%d × %d, as %s and %s say", d.Rows, d.Columns, TagRows, TagColumns)))
		}
		standard = standard && header.standard
	}
	if standard && d.BitsAllocated == 8 {
		return decodeJPEGFrames(e, d, frames)
	}
	return f.convert(e, d, convert)
}

// inFrame puts the frame's number before the place of err.
func inFrame(e *Element, frame int, err error) error {
	return &fault.Error{Code: fault.CodeOf(err), Where: fmt.Sprintf("%s, frame %d", e.Place(), frame+1), What: err.Error(), Cause: err}
}

// splitFrames joins the fragments to frames (PS3.5 section A.4): by the basic
// offset table; without one by one fragment a frame, all fragments for a single
// frame, or the end-of-image marks of the JPEG families.
func splitFrames(e *Element, frames int, syntax Syntax) ([][]byte, error) {
	table, fragments := e.Fragments[0], e.Fragments[1:]
	if len(fragments) < frames {
		return nil, malformed(e.Place(), fmt.Sprintf("%d fragments for %d frames", len(fragments), frames), "at least one fragment a frame")
	}
	if len(table) > 0 {
		return splitByTable(e, table, fragments, frames)
	}
	if len(fragments) == frames {
		return fragments, nil
	}
	if frames == 1 && syntax.codec != codecRLE {
		return [][]byte{bytes.Join(fragments, nil)}, nil
	}
	var out [][]byte
	start := 0
	for i, fragment := range fragments {
		if syntax.codec != codecRLE && bytes.HasSuffix(bytes.TrimRight(fragment, "\x00"), []byte{0xFF, 0xD9}) {
			out = append(out, bytes.Join(fragments[start:i+1], nil))
			start = i + 1
		}
	}
	if len(out) != frames || start != len(fragments) {
		return nil, malformed(e.Place(), fmt.Sprintf("%d fragments cannot be told apart into %d frames: there is no basic offset table", len(fragments), frames), "one fragment a frame, or an offset table")
	}
	return out, nil
}

func splitByTable(e *Element, table []byte, fragments [][]byte, frames int) ([][]byte, error) {
	if len(table) != 4*frames {
		return nil, malformed(e.Place(), fmt.Sprintf("the basic offset table has %d bytes for %d frames", len(table), frames), fmt.Sprintf("%d", 4*frames))
	}
	out := make([][]byte, 0, frames)
	offset, first := int64(0), 0 // of the fragment at hand, from the first fragment's item
	next := func(i int) int64 {
		if i < frames {
			return int64(binary.LittleEndian.Uint32(table[4*i:]))
		}
		return -1
	}
	if next(0) != 0 {
		return nil, malformed(e.Place(), fmt.Sprintf("the basic offset table starts with %d", next(0)), "0")
	}
	for i, fragment := range fragments {
		if i > 0 && offset == next(len(out)+1) {
			out = append(out, bytes.Join(fragments[first:i], nil))
			first = i
		}
		offset += itemHeaderLength + int64(len(fragment))
	}
	out = append(out, bytes.Join(fragments[first:], nil))
	if len(out) != frames {
		return nil, malformed(e.Place(), fmt.Sprintf("offset %d of the basic offset table points to no fragment", len(out)+1), "the start of a fragment")
	}
	return out, nil
}
