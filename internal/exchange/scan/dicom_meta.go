package scan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// dicomClasses names the SOP classes in which scans of the eye are met (PS3.6
// annex A).
var dicomClasses = map[string]string{
	"1.2.840.10008.5.1.4.1.1.77.1.5.4": "Ophthalmic Tomography Image",
	"1.2.840.10008.5.1.4.1.1.77.1.5.1": "Ophthalmic Photography 8 Bit Image",
	"1.2.840.10008.5.1.4.1.1.77.1.5.2": "Ophthalmic Photography 16 Bit Image",
	"1.2.840.10008.5.1.4.1.1.7":        "Secondary Capture Image",
	"1.2.840.10008.5.1.4.1.1.7.2":      "Multi-frame Grayscale Byte Secondary Capture Image",
	"1.2.840.10008.5.1.4.1.1.7.3":      "Multi-frame Grayscale Word Secondary Capture Image",
	"1.2.840.10008.5.1.4.1.1.7.4":      "Multi-frame True Color Secondary Capture Image",
	"1.2.840.10008.5.1.4.1.1.104.1":    "Encapsulated PDF",
	"1.2.840.10008.5.1.4.1.1.66":       "Raw Data",
	"1.2.840.10008.1.3.10":             "Media Storage Directory (DICOMDIR)",
}

func dicomClass(uid string) string {
	if name := dicomClasses[uid]; name != "" {
		return name
	}
	if uid == "" {
		return "of no stated class"
	}
	return "of class " + clean(uid)
}

// describeAcquisition takes what the files say of the eye and of the device.
func describeAcquisition(v *oct.Volume, objects []*dicomObject, frames []*dicomFrame) error {
	first := objects[0]
	set := &first.file.DataSet
	text := func(tag dicom.Tag) (string, error) {
		s, err := set.Text(tag, set)
		if err != nil {
			return "", dicomFault(first.name, err)
		}
		return s, nil
	}
	class, err := text(dicom.TagSOPClass)
	if err != nil {
		return err
	}
	name := dicomClass(class)
	v.Acquisition.Format = "DICOM " + name
	if name != "Ophthalmic Tomography Image" {
		v.Notes = append(v.Notes, fmt.Sprintf("the DICOM object (%s) is not an Ophthalmic Tomography Image: that its frames are B-scans with depth down the rows is an assumption", name))
	}
	if v.Acquisition.Manufacturer, err = text(dicom.TagManufacturer); err != nil {
		return err
	}
	if v.Acquisition.Model, err = text(dicom.TagModelName); err != nil {
		return err
	}
	if err := acquisitionTime(v, first); err != nil {
		return err
	}
	if err := axialLength(v, first); err != nil {
		return err
	}
	for _, o := range objects {
		if err := lossy(v, o); err != nil {
			return err
		}
	}
	return laterality(v, objects, frames)
}

// acquisitionTime reads Acquisition DateTime, else Acquisition Date and Time.
func acquisitionTime(v *oct.Volume, o *dicomObject) error {
	set := &o.file.DataSet
	tag := dicom.TagAcquisitionDateTime
	text, err := set.Text(tag, set)
	if err == nil && text == "" {
		tag = dicom.TagAcquisitionDate
		var clock string
		if text, err = set.Text(tag, set); err == nil && text != "" {
			if clock, err = set.Text(dicom.TagAcquisitionTime, set); err == nil {
				text += clock
			}
		}
	}
	if err != nil {
		return dicomFault(o.name, err)
	}
	if text == "" {
		return nil
	}
	if !strings.ContainsAny(text, "+-") {
		offset, err := set.Text(dicom.TagTimezoneOffset, set)
		if err != nil {
			return dicomFault(o.name, err)
		}
		text += offset
	}
	at, err := dicom.DateTime(text)
	if err != nil {
		v.Notes = append(v.Notes, fmt.Sprintf("%s is %q, no date and time: the time of acquisition is unknown", tag, clean(text)))
		return nil
	}
	v.Acquisition.AcquiredAt = at
	if digits := strings.IndexAny(text+".", ".+-"); digits < len("YYYYMMDDHHMM") {
		v.Notes = append(v.Notes, fmt.Sprintf("%s is %q, without hours and minutes; midnight, and the first month or day, stand for what is missing", tag, clean(text)))
	}
	if at.Location() == time.UTC && !strings.ContainsAny(text, "+-") {
		v.Notes = append(v.Notes, "the time of acquisition is the device's local time; the file names no zone")
	}
	return nil
}

func axialLength(v *oct.Volume, o *dicomObject) error {
	values, err := o.file.Floats(dicom.TagAxialLength)
	if err != nil {
		return dicomFault(o.name, err)
	}
	if len(values) == 0 {
		return nil
	}
	mm := values[0]
	if short, err := strconv.ParseFloat(strconv.FormatFloat(mm, 'g', -1, 32), 64); err == nil {
		mm = short // the attribute has 32 bits; the shortest decimal is what was written
	}
	if err := eye.CheckAxialLengthMM(mm); err != nil || len(values) > 1 {
		v.Notes = append(v.Notes, fmt.Sprintf("%s is %g mm, no axial length of a human eye: it was not used", dicom.TagAxialLength, values))
		return nil
	}
	v.Acquisition.AxialLengthMM = mm
	return nil
}

func lossy(v *oct.Volume, o *dicomObject) error {
	said, err := o.file.Text(dicom.TagLossyCompression, &o.file.DataSet)
	if err != nil {
		return dicomFault(o.name, err)
	}
	switch {
	case said == "01" || o.file.Syntax.Lossy:
		v.Acquisition.Lossy = true
	case said == "" && o.file.Syntax.MayLose:
		v.Acquisition.Lossy = true
		note := fmt.Sprintf("the file does not say whether its compression, %s, lost anything; it is counted as lossy", o.file.Syntax)
		if !slices.Contains(v.Notes, note) {
			v.Notes = append(v.Notes, note)
		}
	case said == "00" || said == "":
	default:
		return dicomFault(o.name, &fault.Error{
			Code: fault.Malformed, Where: o.file.Find(dicom.TagLossyCompression).Place(),
			What: fmt.Sprintf("%q", said), Expected: "00 or 01",
		})
	}
	return nil
}

// laterality takes the side from Image Laterality, Frame Laterality and (series)
// Laterality. Sources that disagree are a Conflict; both eyes or an unknown eye
// leave it unknown.
func laterality(v *oct.Volume, objects []*dicomObject, frames []*dicomFrame) error {
	said := map[eye.Laterality]string{} // the first source of each side
	noted := map[string]bool{}
	tell := func(where, text string) error {
		switch text {
		case "":
		case "R", "L":
			side, err := eye.ParseLaterality(text)
			if err != nil {
				return err
			}
			if said[side] == "" {
				said[side] = where
			}
		case "B", "U":
			if !noted[text] {
				noted[text] = true
				v.Notes = append(v.Notes, fmt.Sprintf("%s says %s (%s)", where, text, map[string]string{"B": "both eyes", "U": "unpaired"}[text]))
			}
		default:
			return &fault.Error{Code: fault.Malformed, Where: where, What: fmt.Sprintf("%q does not name a side", clean(text)), Expected: "R or L"}
		}
		return nil
	}
	for _, o := range objects {
		for _, tag := range []dicom.Tag{dicom.TagImageLaterality, dicom.TagLaterality} {
			text, err := o.file.Text(tag, &o.file.DataSet)
			if err != nil {
				return dicomFault(o.name, err)
			}
			if err := tell(place(o.name, tag.String()), text); err != nil {
				return err
			}
		}
	}
	for _, f := range frames {
		if err := tell(place(f.label, f.sideWhere), f.side); err != nil {
			return err
		}
	}
	if said[eye.Right] != "" && said[eye.Left] != "" {
		return &fault.Error{
			Code: fault.Conflict, Where: "side of the eye",
			What: fmt.Sprintf("%s says R and %s says L", said[eye.Right], said[eye.Left]),
			Mend: "find out which eye it is before anything is measured",
		}
	}
	for side := range said {
		v.Laterality = side
	}
	return nil
}
