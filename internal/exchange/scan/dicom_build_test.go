package scan

import (
	"bytes"
	"testing"

	"limitans/internal/exchange/dicom"
)

// dicomScan describes a DICOM image of constant frames: frame k holds the value
// 10·(k+1).
type dicomScan struct {
	class    string
	series   string
	instance string
	frames   int
	rows     int
	columns  int
	// top sets attributes of the image, shared and own those of the functional
	// groups; own is called for each frame.
	top    func(*dicom.DataSet)
	shared func(*dicom.DataSet)
	own    func(k int, groups *dicom.DataSet)
}

const (
	tomographyClass  = dicom.OphthalmicTomographyClass
	photographyClass = "1.2.840.10008.5.1.4.1.1.77.1.5.1"
	fundusUID        = "2.25.700"
)

func (s dicomScan) bytes(t testing.TB) []byte {
	t.Helper()
	orElse := func(text, other string) string {
		if text == "" {
			return other
		}
		return text
	}
	if s.rows == 0 {
		s.rows, s.columns = 4, 11
	}
	syntax, _ := dicom.LookupSyntax(dicom.ExplicitLittleEndian)
	f := dicom.NewFile(syntax, orElse(s.class, tomographyClass), orElse(s.instance, "2.25.1"))
	f.Put(dicom.TagSeriesInstance, "UI", orElse(s.series, "2.25.2"))
	f.Put(dicom.TagSamplesPerPixel, "US", 1)
	f.Put(dicom.TagPhotometric, "CS", "MONOCHROME2")
	f.Put(dicom.TagNumberOfFrames, "IS", s.frames)
	f.Put(dicom.TagRows, "US", s.rows)
	f.Put(dicom.TagColumns, "US", s.columns)
	f.Put(dicom.TagBitsAllocated, "US", 8)
	f.Put(dicom.TagBitsStored, "US", 8)
	f.Put(dicom.TagHighBit, "US", 7)
	f.Put(dicom.TagPixelRepresentation, "US", 0)
	var value []byte
	for k := range s.frames {
		value = append(value, bytes.Repeat([]byte{byte(10 * (k + 1))}, s.rows*s.columns)...)
	}
	f.Put(dicom.TagPixelData, "OB", value)
	if s.shared != nil {
		groups := f.NewItem()
		s.shared(groups)
		f.Put(dicom.TagSharedGroups, "SQ", []*dicom.DataSet{groups})
	}
	if s.own != nil {
		var items []*dicom.DataSet
		for k := range s.frames {
			groups := f.NewItem()
			s.own(k, groups)
			items = append(items, groups)
		}
		f.Put(dicom.TagPerFrameGroups, "SQ", items)
	}
	if s.top != nil {
		s.top(&f.DataSet)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func (s dicomScan) named(t testing.TB, name string) namedBytes {
	t.Helper()
	return namedBytes{Name: name, Data: s.bytes(t)}
}

// group puts one item into a functional group.
func group(groups *dicom.DataSet, tag dicom.Tag, fill func(*dicom.DataSet)) {
	item := groups.NewItem()
	fill(item)
	groups.Put(tag, "SQ", []*dicom.DataSet{item})
}

func putSpacing(row, column string) func(*dicom.DataSet) {
	return func(groups *dicom.DataSet) {
		group(groups, dicom.TagPixelMeasures, func(m *dicom.DataSet) {
			m.Put(dicom.TagPixelSpacing, "DS", []string{row, column})
		})
	}
}

func putPlane(groups *dicom.DataSet, position, orientation []float64) {
	group(groups, dicom.TagPlanePosition, func(p *dicom.DataSet) { p.Put(dicom.TagImagePosition, "DS", position) })
	group(groups, dicom.TagPlaneOrientation, func(p *dicom.DataSet) { p.Put(dicom.TagImageOrientation, "DS", orientation) })
}

// straight is the orientation of slices whose columns run to the patient's left
// and whose depth runs to the back.
var straight = []float64{1, 0, 0, 0, 1, 0}

// atHeights places parallel slices at heights in millimetres.
func atHeights(mm ...float64) func(int, *dicom.DataSet) {
	return func(k int, groups *dicom.DataSet) { putPlane(groups, []float64{0, 0, mm[k]}, straight) }
}

// onFundus places slices by row\column pairs on the picture [fundusUID].
func onFundus(coordinates ...[]float64) func(int, *dicom.DataSet) {
	return func(k int, groups *dicom.DataSet) {
		group(groups, dicom.TagFrameLocation, func(l *dicom.DataSet) {
			l.Put(dicom.TagReferencedSOP, "UI", fundusUID)
			l.Put(dicom.TagReferenceCoordinates, "FL", coordinates[k])
			l.Put(dicom.TagOphthalmicOrientation, "CS", "LINEAR")
		})
	}
}
