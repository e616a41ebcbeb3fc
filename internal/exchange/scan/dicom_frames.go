package scan

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/internal/exchange/dicom"
)

// dicomFrame is what one frame says of its place and side. Lengths are
// millimetres, as in the file.
type dicomFrame struct {
	name  string // file
	label string // file, and frame when there are several

	spacing       []float64 // between rows, between columns; NaN for an empty component, nil when absent
	spacingSource string
	between       float64 // Spacing Between Slices, 0 when absent
	thickness     float64 // Slice Thickness, 0 when absent

	position    *vector
	orientation *[2]vector // along a row, down a column
	location    *frameLocation

	side      string // Frame Laterality as written
	sideWhere string
}

// frameLocation is where a slice lies on the picture of the fundus.
type frameLocation struct {
	reference   string    // SOP Instance UID of the picture
	coordinates []float64 // row\column pairs
	orientation string
}

// frames reads the functional groups of every frame, or the attributes of the
// image when it has none (PS3.3 C.7.6.16).
func (o *dicomObject) frames() ([]*dicomFrame, error) {
	n := o.pixels.Frames
	for _, tag := range []dicom.Tag{dicom.TagSharedGroups, dicom.TagPerFrameGroups} {
		if e := o.file.Find(tag); e != nil && len(e.Value) > 0 {
			return nil, &fault.Error{
				Code: fault.Unsupported, Where: place(o.name, e.Place()), What: fmt.Sprintf("it is written as %s", clean(string(e.VR))),
				Expected: "a sequence (SQ)", Mend: "export the scan again, or convert it with a general-purpose DICOM tool",
			}
		}
	}
	var shared *dicom.DataSet
	if items := o.file.Items(dicom.TagSharedGroups); len(items) > 1 {
		return nil, o.malformed(dicom.TagSharedGroups, fmt.Sprintf("%d items", len(items)), "one")
	} else if len(items) == 1 {
		shared = items[0].DataSet
	}
	perFrame := o.file.Items(dicom.TagPerFrameGroups)
	if perFrame != nil && len(perFrame) != n {
		return nil, o.malformed(dicom.TagPerFrameGroups, fmt.Sprintf("functional groups for %d frames", len(perFrame)), fmt.Sprintf("%d, as %s says", n, dicom.TagNumberOfFrames))
	}
	frames := make([]*dicomFrame, n)
	for i := range frames {
		f := &dicomFrame{name: o.name, label: clean(o.name)}
		if n > 1 {
			f.label = place(o.name, fmt.Sprintf("frame %d", i+1))
		}
		g := frameGroups{image: &o.file.DataSet, shared: shared}
		if perFrame != nil {
			g.own = perFrame[i].DataSet
		}
		if err := f.read(g); err != nil {
			return nil, dicomFault(f.label, err)
		}
		frames[i] = f
	}
	return frames, nil
}

func (o *dicomObject) malformed(tag dicom.Tag, what, expected string) error {
	return &fault.Error{Code: fault.Malformed, Where: place(o.name, o.file.Find(tag).Place()), What: what, Expected: expected}
}

// frameGroups is where a frame's attributes may stand.
type frameGroups struct{ own, shared, image *dicom.DataSet }

// check refuses a functional group that stands in both places (PS3.3
// C.7.6.16.1 allows one): which of the two holds would be a guess.
func (g frameGroups) check() error {
	if g.own == nil || g.shared == nil {
		return nil
	}
	for _, tag := range []dicom.Tag{dicom.TagPixelMeasures, dicom.TagPlanePosition, dicom.TagPlaneOrientation, dicom.TagFrameAnatomy, dicom.TagFrameLocation} {
		if e := g.own.Find(tag); e != nil && g.shared.Find(tag) != nil {
			return &fault.Error{
				Code: fault.Malformed, Where: e.Place(),
				What: fmt.Sprintf("it is there for the frame and in %s", dicom.TagSharedGroups), Expected: "one of the two",
			}
		}
	}
	return nil
}

// group returns the first item of a functional group, the frame's own or the
// shared one, or nil.
func (g frameGroups) group(tag dicom.Tag) *dicom.DataSet {
	for _, set := range []*dicom.DataSet{g.own, g.shared} {
		if set != nil {
			if items := set.Items(tag); len(items) > 0 {
				return items[0].DataSet
			}
		}
	}
	return nil
}

// lookup returns the data set that holds attribute tag for the frame: the
// functional group, else the image itself.
func (g frameGroups) lookup(group, tag dicom.Tag) *dicom.DataSet {
	if set := g.group(group); set != nil && set.Find(tag) != nil {
		return set
	}
	return g.image
}

func (f *dicomFrame) read(g frameGroups) error {
	if err := g.check(); err != nil {
		return err
	}
	if err := f.readMeasures(g); err != nil {
		return err
	}
	if err := f.readPlane(g); err != nil {
		return err
	}
	if err := f.readLocation(g); err != nil {
		return err
	}
	if set := g.group(dicom.TagFrameAnatomy); set != nil {
		side, err := set.Text(dicom.TagFrameLaterality, g.image)
		if err != nil {
			return err
		}
		f.side, f.sideWhere = side, dicom.TagFrameLaterality.String()
	}
	return nil
}

func (f *dicomFrame) readMeasures(g frameGroups) error {
	set := g.lookup(dicom.TagPixelMeasures, dicom.TagPixelSpacing)
	spacing, err := set.Floats(dicom.TagPixelSpacing)
	if err != nil {
		return err
	}
	if spacing != nil {
		e := set.Find(dicom.TagPixelSpacing)
		if len(spacing) != 2 {
			return &fault.Error{Code: fault.Malformed, Where: e.Place(), What: counted(len(spacing), "value"), Expected: "two: between rows and between columns"}
		}
		for _, mm := range spacing {
			if mm <= 0 {
				return &fault.Error{Code: fault.Malformed, Where: e.Place(), What: fmt.Sprintf("a spacing of %g mm", mm), Expected: "a positive length"}
			}
		}
		f.spacing, f.spacingSource = spacing, dicom.TagPixelSpacing.String()
		if set != g.image {
			f.spacingSource += " in " + dicom.TagPixelMeasures.String()
		}
	}
	for _, a := range []struct {
		tag  dicom.Tag
		into *float64
	}{{dicom.TagSpacingBetweenSlices, &f.between}, {dicom.TagSliceThickness, &f.thickness}} {
		set := g.lookup(dicom.TagPixelMeasures, a.tag)
		values, err := set.Floats(a.tag)
		if err != nil {
			return err
		}
		if len(values) == 0 || math.IsNaN(values[0]) {
			continue
		}
		if len(values) > 1 || values[0] < 0 {
			return &fault.Error{Code: fault.Malformed, Where: set.Find(a.tag).Place(), What: fmt.Sprintf("%v mm", values), Expected: "one positive length"}
		}
		*a.into = values[0] // zero is a usual way of not saying
	}
	return nil
}

func (f *dicomFrame) readPlane(g frameGroups) error {
	set := g.lookup(dicom.TagPlanePosition, dicom.TagImagePosition)
	position, err := finite(set, dicom.TagImagePosition, 3)
	if err != nil {
		return err
	}
	if position != nil {
		f.position = &vector{position[0], position[1], position[2]}
	}
	set = g.lookup(dicom.TagPlaneOrientation, dicom.TagImageOrientation)
	cosines, err := finite(set, dicom.TagImageOrientation, 6)
	if err != nil || cosines == nil {
		return err
	}
	row := vector{cosines[0], cosines[1], cosines[2]}
	column := vector{cosines[3], cosines[4], cosines[5]}
	const tolerance = 1e-3 // cosines are often written with four digits
	if math.Abs(row.length()-1) > tolerance || math.Abs(column.length()-1) > tolerance || math.Abs(row.dot(column)) > tolerance {
		return &fault.Error{
			Code: fault.Malformed, Where: set.Find(dicom.TagImageOrientation).Place(),
			What: fmt.Sprintf("%g are not the cosines of two directions at right angles", cosines), Expected: "two unit vectors at right angles",
		}
	}
	f.orientation = &[2]vector{row, column}
	return nil
}

// finite returns the n values of a DS element, nil when it is absent or empty.
func finite(set *dicom.DataSet, tag dicom.Tag, n int) ([]float64, error) {
	values, err := set.Floats(tag)
	if err != nil || values == nil {
		return nil, err
	}
	bad := len(values) != n
	for _, v := range values {
		bad = bad || math.IsNaN(v)
	}
	if bad {
		return nil, &fault.Error{Code: fault.Malformed, Where: set.Find(tag).Place(), What: fmt.Sprintf("%g", values), Expected: fmt.Sprintf("%d numbers", n)}
	}
	return values, nil
}

func (f *dicomFrame) readLocation(g frameGroups) error {
	set := g.group(dicom.TagFrameLocation)
	if set == nil {
		return nil
	}
	coordinates, err := set.Floats(dicom.TagReferenceCoordinates)
	if err != nil {
		return err
	}
	for _, c := range coordinates {
		if math.IsNaN(c) {
			return &fault.Error{Code: fault.Malformed, Where: set.Find(dicom.TagReferenceCoordinates).Place(), What: "a coordinate is empty", Expected: "row\\column pairs"}
		}
	}
	l := &frameLocation{coordinates: coordinates}
	if l.reference, err = set.Text(dicom.TagReferencedSOP, g.image); err != nil {
		return err
	}
	if l.orientation, err = set.Text(dicom.TagOphthalmicOrientation, g.image); err != nil {
		return err
	}
	if l.orientation == "TRANSVERSE" {
		return &fault.Error{
			Code: fault.Unsupported, Where: set.Find(dicom.TagOphthalmicOrientation).Place(),
			What: "the frames lie across the depth (TRANSVERSE)", Expected: "B-scans: depth down the rows",
		}
	}
	f.location = l
	return nil
}
