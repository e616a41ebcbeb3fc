package scan

import (
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// TestDICOMFaults: what cannot be one scan gives one line with code and place.
func TestDICOMFaults(t *testing.T) {
	one := func(s dicomScan) []namedBytes { return []namedBytes{s.named(t, "a.dcm")} }
	top := func(tag dicom.Tag, vr dicom.VR, value any) func(*dicom.DataSet) {
		return func(s *dicom.DataSet) { s.Put(tag, vr, value) }
	}
	side := func(text string) func(*dicom.DataSet) {
		return func(g *dicom.DataSet) {
			group(g, dicom.TagFrameAnatomy, func(a *dicom.DataSet) { a.Put(dicom.TagFrameLaterality, "CS", text) })
		}
	}
	colour := func(s *dicom.DataSet) {
		s.Put(dicom.TagSamplesPerPixel, "US", 3)
		s.Put(dicom.TagPhotometric, "CS", "RGB")
		value := make([]byte, 4*11*3)
		value[3*(11+2)] = 9 // row 1, column 2
		s.Put(dicom.TagPixelData, "OB", value)
	}
	slice := func(instance, series string, change func(*dicom.DataSet)) dicomScan {
		return dicomScan{frames: 1, instance: instance, series: series, top: change}
	}
	report := dicomScan{frames: 1}.named(t, "a.dcm")
	report.Data = withoutImage(t)
	m, u, c := fault.Malformed, fault.Unsupported, fault.Conflict
	for name, want := range map[string]struct {
		files []namedBytes
		code  fault.Code
		says  []string
	}{
		"text":                      {[]namedBytes{{Name: "a.dcm", Data: []byte("Depth;Lateral\n1;2\n")}}, m, []string{"a.dcm", "DICM"}},
		"no image":                  {[]namedBytes{report}, u, []string{"a.dcm", "(7FE0,0010) PixelData", "holds no image"}},
		"zero spacing":              {one(dicomScan{frames: 1, shared: putSpacing("0", "0.01")}), m, []string{"a.dcm", "(0028,0030) PixelSpacing at byte", "0 mm"}},
		"negative spacing":          {one(dicomScan{frames: 1, shared: putSpacing("-0.004", "0.01")}), m, []string{"(0028,0030)", "-0.004 mm"}},
		"spacing in words":          {one(dicomScan{frames: 1, shared: putSpacing("narrow", "0.01")}), m, []string{"(0028,0030)", `"narrow"`}},
		"spacing with comma":        {one(dicomScan{frames: 1, shared: putSpacing("0,004", "0.01")}), m, []string{"(0028,0030)", `"0,004"`}},
		"spacing not finite":        {one(dicomScan{frames: 1, shared: putSpacing("NaN", "Inf")}), m, []string{"(0028,0030)", `"NaN"`}},
		"one spacing":               {one(dicomScan{frames: 1, top: top(dicom.TagPixelSpacing, "DS", "0.004")}), m, []string{"(0028,0030)", "1 value"}},
		"spacing that changes":      {one(dicomScan{frames: 2, own: func(k int, g *dicom.DataSet) { putSpacing([]string{"0.004", "0.005"}[k], "0.01")(g) }}), u, []string{"a.dcm, frame 2", "(0028,0030)", "differs"}},
		"functional groups too few": {one(dicomScan{frames: 3, top: func(s *dicom.DataSet) { s.Put(dicom.TagPerFrameGroups, "SQ", []*dicom.DataSet{s.NewItem()}) }}), m, []string{"(5200,9230)", "1 frames", "expected 3"}},
		"two shared items":          {one(dicomScan{frames: 1, top: func(s *dicom.DataSet) { s.Put(dicom.TagSharedGroups, "SQ", []*dicom.DataSet{s.NewItem(), s.NewItem()}) }}), m, []string{"(5200,9229)", "2 items"}},
		"a group shared and own":    {one(dicomScan{frames: 2, shared: putSpacing("0.004", "0.01"), own: func(_ int, g *dicom.DataSet) { putSpacing("0.004", "0.01")(g) }}), m, []string{"a.dcm, frame 1", "(0028,9110) PixelMeasuresSequence at byte", "one of the two"}},
		"groups as unknown bytes":   {one(dicomScan{frames: 1, top: top(dicom.TagSharedGroups, "UN", []byte("whatever"))}), u, []string{"a.dcm", "(5200,9229)", "written as UN"}},
		"orientation of no length":  {one(dicomScan{frames: 2, own: func(k int, g *dicom.DataSet) { putPlane(g, []float64{0, 0, float64(k)}, make([]float64, 6)) }}), m, []string{"a.dcm, frame 1", "(0020,0037) ImageOrientationPatient"}},
		"orientation of five":       {one(dicomScan{frames: 2, own: func(k int, g *dicom.DataSet) { putPlane(g, []float64{0, 0, 1}, straight[:5]) }}), m, []string{"(0020,0037)", "6 numbers"}},
		"position of two":           {one(dicomScan{frames: 2, own: func(k int, g *dicom.DataSet) { putPlane(g, []float64{0, 1}, straight) }}), m, []string{"(0020,0032) ImagePositionPatient", "3 numbers"}},
		"slice of no length":        {one(dicomScan{frames: 2, own: onFundus([]float64{1, 1, 1, 1}, []float64{2, 1, 2, 9})}), m, []string{"frame 1", "(0022,0032) ReferenceCoordinates", "one place"}},
		"across the depth": {one(dicomScan{frames: 1, shared: func(g *dicom.DataSet) {
			group(g, dicom.TagFrameLocation, func(l *dicom.DataSet) { l.Put(dicom.TagOphthalmicOrientation, "CS", "TRANSVERSE") })
		}}), u, []string{"(0022,0039)", "TRANSVERSE"}},
		"sides of image and frame": {one(dicomScan{frames: 1, top: top(dicom.TagImageLaterality, "CS", "R"), shared: side("L")}), c, []string{"(0020,0062) ImageLaterality says R", "(0020,9072) FrameLaterality says L"}},
		"sides of image and series": {one(dicomScan{frames: 1, top: func(s *dicom.DataSet) {
			s.Put(dicom.TagImageLaterality, "CS", "L")
			s.Put(dicom.TagLaterality, "CS", "R")
		}}), c, []string{"(0020,0060) Laterality says R", "ImageLaterality says L"}},
		"sides of two frames":        {one(dicomScan{frames: 2, own: func(k int, g *dicom.DataSet) { side([]string{"R", "L"}[k])(g) }}), c, []string{"frame 1", "frame 2"}},
		"a side of no eye":           {one(dicomScan{frames: 1, top: top(dicom.TagImageLaterality, "CS", "OD")}), m, []string{"(0020,0062)", `"OD"`}},
		"lossy in words":             {one(dicomScan{frames: 1, top: top(dicom.TagLossyCompression, "CS", "NO")}), m, []string{"(0028,2110)", `"NO"`}},
		"colour":                     {one(dicomScan{frames: 1, top: colour}), u, []string{"a.dcm", "frame 1, row 1, column 2", "9, 0, 0 (RGB)"}},
		"two series":                 {[]namedBytes{slice("2.25.1", "2.25.31", nil).named(t, "a.dcm"), slice("2.25.2", "2.25.32", nil).named(t, "b.dcm"), slice("2.25.3", "2.25.32", nil).named(t, "c.dcm")}, c, []string{"(0020,000E) SeriesInstanceUID", "2.25.31 with 1 frame (first file a.dcm)", "2.25.32 with 2 frames (first file b.dcm)"}},
		"two scans in a series":      {[]namedBytes{dicomScan{frames: 5, instance: "2.25.1"}.named(t, "a.dcm"), dicomScan{frames: 3, instance: "2.25.2"}.named(t, "b.dcm")}, c, []string{"a.dcm with 5 frames", "b.dcm with 3 frames"}},
		"no series":                  {[]namedBytes{slice("2.25.1", "", top(dicom.TagSeriesInstance, "UI", nil)).named(t, "a.dcm"), slice("2.25.2", "", nil).named(t, "b.dcm")}, m, []string{"a.dcm", "(0020,000E)"}},
		"mixed sizes":                {[]namedBytes{slice("2.25.1", "", nil).named(t, "a.dcm"), dicomScan{frames: 1, instance: "2.25.2", rows: 5, columns: 7}.named(t, "b.dcm")}, c, []string{"1 file of 4 rows × 11 columns", "1 file of 5 rows × 7 columns", "b.dcm"}},
		"the same slice twice":       {[]namedBytes{slice("2.25.1", "", nil).named(t, "a.dcm"), slice("2.25.1", "", nil).named(t, "b.dcm")}, c, []string{"b.dcm", "same image as a.dcm"}},
		"one broken file of several": {[]namedBytes{slice("2.25.1", "", nil).named(t, "a.dcm"), {Name: "b.dcm", Data: []byte("no")}}, m, []string{"b.dcm", "DICM"}},
	} {
		v, err := readFiles(want.files)
		if err == nil {
			t.Errorf("%s: read: %+v", name, v.Notes)
			continue
		}
		if got := fault.CodeOf(err); got != want.code {
			t.Errorf("%s: %s, want %s: %v", name, got, want.code, err)
		}
		for _, part := range want.says {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%s: %q does not say %q", name, err, part)
			}
		}
		if strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: not one line: %q", name, err)
		}
	}
}

func readFiles(files []namedBytes) (*oct.Volume, error) {
	if len(files) == 1 {
		return fromDICOM(files[0].Name, files[0].Data, nil)
	}
	return fromDICOMSeries(files, nil)
}

// withoutImage is a DICOM file of a class without pixels.
func withoutImage(t testing.TB) []byte {
	t.Helper()
	syntax, _ := dicom.LookupSyntax(dicom.ExplicitLittleEndian)
	f := dicom.NewFile(syntax, "1.2.840.10008.5.1.4.1.1.104.1", "2.25.77")
	var out strings.Builder
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return []byte(out.String())
}

// TestDICOMNotes: what is not a fault but must be said is said.
func TestDICOMNotes(t *testing.T) {
	put := func(tag dicom.Tag, vr dicom.VR, value any) func(*dicom.DataSet) {
		return func(s *dicom.DataSet) { s.Put(tag, vr, value) }
	}
	for name, c := range map[string]struct {
		scan  dicomScan
		check func(*oct.Volume) bool
		note  string
	}{
		"both eyes":      {dicomScan{frames: 1, top: put(dicom.TagImageLaterality, "CS", "B")}, func(v *oct.Volume) bool { return v.Laterality == eye.SideUnknown }, "both eyes"},
		"photography":    {dicomScan{frames: 1, class: photographyClass}, func(v *oct.Volume) bool { return v.Acquisition.Format == "DICOM Ophthalmic Photography 8 Bit Image" }, "not an Ophthalmic Tomography Image"},
		"inverted":       {dicomScan{frames: 1, top: put(dicom.TagPhotometric, "CS", "MONOCHROME1")}, func(v *oct.Volume) bool { return v.Samples[0] == 245 }, "inverted"},
		"signed":         {dicomScan{frames: 1, top: put(dicom.TagPixelRepresentation, "US", 1)}, func(v *oct.Volume) bool { return v.Samples[0] == 138 }, "128 was added"},
		"eye of 244 mm":  {dicomScan{frames: 1, top: put(dicom.TagAxialLength, "FL", 244.6)}, func(v *oct.Volume) bool { return v.Acquisition.AxialLengthMM == 0 }, "no axial length of a human eye"},
		"eye of 0 mm":    {dicomScan{frames: 1, top: put(dicom.TagAxialLength, "FL", 0.0)}, func(v *oct.Volume) bool { return v.Acquisition.AxialLengthMM == 0 }, "no axial length"},
		"impossible day": {dicomScan{frames: 1, top: put(dicom.TagAcquisitionDateTime, "DT", "20230230")}, func(v *oct.Volume) bool { return v.Acquisition.AcquiredAt.IsZero() }, "20230230"},
		"time, no zone":  {dicomScan{frames: 1, top: put(dicom.TagAcquisitionDateTime, "DT", "20230228101112")}, func(v *oct.Volume) bool { return v.Acquisition.AcquiredAt.Hour() == 10 }, "names no zone"},
		"a year":         {dicomScan{frames: 1, top: put(dicom.TagAcquisitionDateTime, "DT", "2023+0100")}, func(v *oct.Volume) bool { return v.Acquisition.AcquiredAt.Year() == 2023 }, "without hours"},
		"date and time": {dicomScan{frames: 1, top: func(s *dicom.DataSet) {
			s.Put(dicom.TagAcquisitionDate, "DA", "20230228")
			s.Put(dicom.TagAcquisitionTime, "TM", "101112.5")
			s.Put(dicom.TagTimezoneOffset, "SH", "+0530")
		}}, func(v *oct.Volume) bool {
			return v.Acquisition.AcquiredAt.Format("2006-01-02T15:04:05.0Z07:00") == "2023-02-28T10:11:12.5+05:30"
		}, ""},
		"lossy before": {dicomScan{frames: 1, top: put(dicom.TagLossyCompression, "CS", "01")}, func(v *oct.Volume) bool { return v.Acquisition.Lossy }, ""},
	} {
		v, err := fromDICOM("a.dcm", c.scan.bytes(t), nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !c.check(v) || !strings.Contains(strings.Join(v.Notes, "; "), c.note) {
			t.Errorf("%s: %+v, %s, notes %q", name, v.Acquisition, v.Laterality, v.Notes)
		}
	}
	// A report beside the slices is passed over and named.
	v, err := fromDICOMSeries([]namedBytes{{Name: "report.dcm", Data: withoutImage(t)}, dicomScan{frames: 2}.named(t, "a.dcm")}, nil)
	if err != nil || !strings.Contains(strings.Join(v.Notes, "; "), "report.dcm was passed over") {
		t.Errorf("report: %v", err)
	}
}
