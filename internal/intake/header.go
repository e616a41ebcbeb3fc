package intake

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/internal/record"
)

// headMost bounds, in bytes, what is read of a DICOM file to find its header.
// The functional groups of a volume of some hundred slices take below 1 MiB.
const headMost = 32 << 20

// header is what the header of a DICOM file says of the eye and the person.
type header struct {
	sides                 []record.SideSource
	name, number, station string
	birth, taken          record.Date
}

// The attributes that identify (PS3.6).
const (
	tagStationName dicom.Tag = 0x00081010
	tagPersonName  dicom.Tag = 0x00100010
	tagPersonID    dicom.Tag = 0x00100020
	tagBirthDate   dicom.Tag = 0x00100030
)

// readHeader reads the header of a file; one that is not DICOM says nothing.
func readHeader(path string) (*header, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, cannotRead(path, err)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, cannotRead(path, err)
	}
	for most := int64(1 << 20); ; most *= 8 {
		most = min(most, headMost)
		head := make([]byte, min(most, info.Size()))
		if _, err := file.ReadAt(head, 0); err != nil && err != io.EOF {
			return nil, cannotRead(path, err)
		}
		if !dicom.IsDICOM(head) {
			return &header{}, nil
		}
		whole := int64(len(head)) == info.Size()
		parsed, err := parseHead(head, whole)
		if err != nil {
			return nil, err
		}
		if parsed != nil {
			return headerOf(parsed)
		}
		if whole || most == headMost {
			return nil, &fault.Error{
				Code: fault.Unsupported, Where: path, What: fmt.Sprintf("its header does not end within %d MiB, so nothing is known of its side", headMost>>20),
				Mend: "export the scan again as Explicit VR Little Endian",
			}
		}
	}
}

// mostBorders is how many times the letters of the pixel data's tag are taken
// for its beginning. Inside a header they stand by chance, if at all.
const mostBorders = 100

// parseHead parses what stands before the pixel data. A piece of a file ends
// cleanly only where an element of the outermost level begins, so a tag that is
// inside something else is never taken for the border. nil: no border is in it.
func parseHead(head []byte, whole bool) (*dicom.File, error) {
	at := 0
	for range mostBorders {
		next := nearest(head[at:], []byte{0xE0, 0x7F, 0x10, 0x00}, []byte{0x7F, 0xE0, 0x00, 0x10})
		if next < 0 {
			break
		}
		at += next
		if file, err := dicom.Parse(head[:at]); err == nil {
			return file, nil
		}
		at++
	}
	if whole { // without pixel data, deflated or broken: that is said by the parser
		return dicom.Parse(head)
	}
	return nil, nil
}

// nearest is the first place of any of the marks, -1 for none.
func nearest(in []byte, marks ...[]byte) int {
	first := -1
	for _, m := range marks {
		if i := bytes.Index(in, m); i >= 0 && (first < 0 || i < first) {
			first = i
		}
	}
	return first
}

// headerOf takes from a header what it says. A side that is no side (both,
// unpaired) is kept as text.
func headerOf(file *dicom.File) (*header, error) {
	h := &header{}
	set := &file.DataSet
	var failed error
	text := func(from *dicom.DataSet, tag dicom.Tag) string {
		value, err := from.Text(tag, set)
		if err != nil && failed == nil {
			failed = err
		}
		return value
	}
	h.name, h.number, h.station = text(set, tagPersonName), text(set, tagPersonID), text(set, tagStationName)
	h.birth = headerDay(text(set, tagBirthDate))
	for _, tag := range []dicom.Tag{dicom.TagAcquisitionDateTime, dicom.TagAcquisitionDate} {
		if day := headerDay(text(set, tag)); day.Known() && !h.taken.Known() {
			h.taken = day
		}
	}
	h.side(text(set, dicom.TagImageLaterality))
	h.side(text(set, dicom.TagLaterality))
	for _, groups := range []dicom.Tag{dicom.TagSharedGroups, dicom.TagPerFrameGroups} {
		for _, group := range set.Items(groups) {
			for _, anatomy := range group.Items(dicom.TagFrameAnatomy) {
				h.side(text(anatomy.DataSet, dicom.TagFrameLaterality))
			}
		}
	}
	return h, failed
}

// side adds a side that the header tells, each text once.
func (h *header) side(text string) {
	if text == "" {
		return
	}
	for _, s := range h.sides {
		if string(s.Text) == text {
			return
		}
	}
	source := record.SideSource{Source: record.SideFromHeader, Text: record.FreeText(text)}
	switch text {
	case "R":
		source.Side = eye.Right
	case "L":
		source.Side = eye.Left
	}
	h.sides = append(h.sides, source)
}

// headerDay reads the day of a DA or DT value (PS3.5 section 6.2: YYYYMMDD and
// more); a value that is none is kept as text.
func headerDay(text string) record.Date {
	var day record.Date
	if len(text) >= 8 {
		n, err := fmt.Sscanf(text[:8], "%4d%2d%2d", &day.Year, &day.Month, &day.Day)
		if err == nil && n == 3 && day.Full() && day.Check() == nil {
			return day
		}
	}
	return record.Date{Raw: text}
}
