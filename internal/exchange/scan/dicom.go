package scan

import (
	"errors"
	"fmt"
	"sort"
	"strings"

	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

func init() {
	readDICOM = func(files []namedBytes) (*oct.Volume, error) {
		convert := dicom.InstalledConverter()
		if len(files) == 1 {
			return fromDICOM(files[0].Name, files[0].Data, convert)
		}
		return fromDICOMSeries(files, convert)
	}
}

// dicomObject is one DICOM file with an image.
type dicomObject struct {
	name   string
	file   *dicom.File
	pixels dicom.PixelDescription
}

// dicomFault puts the file's name before the place of a fault.
func dicomFault(name string, err error) error {
	var f *fault.Error
	if !errors.As(err, &f) {
		return &fault.Error{Code: fault.Internal, Where: clean(name), What: err.Error(), Cause: err}
	}
	moved := *f
	moved.Where, moved.Cause = place(name, f.Where), err
	return &moved
}

// fromDICOM reads one object: a multi-frame image, each frame a slice, or a
// single slice. convert decompresses what the dicom package does not decode; it
// may be nil.
//
// The scale follows one rule. Depth and lateral: Pixel Spacing of the Pixel
// Measures functional group, else of the image; nominal and imager spacing and
// the resolutions of the acquisition parameters are no scale. Slice distance:
// see [sliceGeometry].
func fromDICOM(name string, data []byte, convert dicom.Converter) (*oct.Volume, error) {
	object, err := openDICOM(name, data)
	if err != nil {
		return nil, err
	}
	return volumeFromObjects([]*dicomObject{object}, nil, nil, convert)
}

// fromDICOMSeries reads the files of a folder or zip as one scan: single-frame
// images of one series, or one multi-frame image; a picture of the fundus that
// the slices refer to may be among them. Files without an image are passed over
// with a note. Conflict: several series, or several scans in one.
func fromDICOMSeries(files []namedBytes, convert dicom.Converter) (*oct.Volume, error) {
	var objects []*dicomObject
	var notes []string
	instances := map[string]string{}
	for _, file := range files {
		object, err := openDICOM(file.Name, file.Data)
		if errors.Is(err, errNoImage) {
			notes = append(notes, fmt.Sprintf("%s was passed over: it is DICOM without an image", clean(file.Name)))
			continue
		}
		if err != nil {
			return nil, err
		}
		instance, err := object.file.Text(dicom.TagSOPInstance, &object.file.DataSet)
		if err != nil {
			return nil, dicomFault(file.Name, err)
		}
		if first, twice := instances[instance]; twice && instance != "" {
			return nil, &fault.Error{
				Code: fault.Conflict, Where: clean(file.Name), Mend: "take one of the two away",
				What: "it is the same image as " + clean(first),
			}
		}
		instances[instance] = file.Name
		objects = append(objects, object)
	}
	if len(objects) == 0 {
		return nil, &fault.Error{Code: fault.Malformed, Where: "DICOM files", What: "none of them holds an image", Expected: "at least one slice"}
	}
	scans, references, err := splitReferences(objects)
	if err != nil {
		return nil, err
	}
	if err := oneSeries(scans); err != nil {
		return nil, err
	}
	if len(scans) > 1 {
		if err := orderByInstance(scans); err != nil {
			return nil, err
		}
	}
	return volumeFromObjects(scans, references, notes, convert)
}

// errNoImage is the cause of the fault for a DICOM file that holds no image.
var errNoImage = errors.New("no image")

func openDICOM(name string, data []byte) (*dicomObject, error) {
	file, err := dicom.Parse(data)
	if err != nil {
		return nil, dicomFault(name, err)
	}
	if file.Find(dicom.TagPixelData) == nil && file.Find(dicom.TagRows) == nil {
		class, _ := file.Text(dicom.TagSOPClass, &file.DataSet)
		return nil, &fault.Error{
			Code: fault.Unsupported, Where: place(name, dicom.TagPixelData.String()),
			What: fmt.Sprintf("the file holds no image; it is %s", dicomClass(class)), Expected: "an OCT image", Cause: errNoImage,
		}
	}
	pixels, err := file.Describe()
	if err != nil {
		return nil, dicomFault(name, err)
	}
	return &dicomObject{name: name, file: file, pixels: pixels}, nil
}

// splitReferences takes out the pictures of the fundus that other images refer
// to in their Ophthalmic Frame Location.
func splitReferences(objects []*dicomObject) (scans, references []*dicomObject, err error) {
	referred := map[string]bool{}
	for _, o := range objects {
		frames, err := o.frames()
		if err != nil {
			return nil, nil, err
		}
		for _, f := range frames {
			if f.location != nil {
				referred[f.location.reference] = true
			}
		}
	}
	for _, o := range objects {
		instance, err := o.file.Text(dicom.TagSOPInstance, &o.file.DataSet)
		if err != nil {
			return nil, nil, dicomFault(o.name, err)
		}
		if instance != "" && referred[instance] {
			references = append(references, o)
		} else {
			scans = append(scans, o)
		}
	}
	if len(scans) == 0 {
		return objects, nil, nil // images that refer to each other: no picture among them
	}
	return scans, references, nil
}

// oneSeries refuses what is not one scan and lists what there is.
func oneSeries(objects []*dicomObject) error {
	type series struct{ uid, text string }
	frames, files := map[string]int{}, map[string]int{}
	var found []series
	multi := false
	for _, o := range objects {
		uid, err := o.file.Text(dicom.TagSeriesInstance, &o.file.DataSet)
		if err != nil {
			return dicomFault(o.name, err)
		}
		if uid == "" && len(objects) > 1 {
			return &fault.Error{
				Code: fault.Malformed, Where: place(o.name, dicom.TagSeriesInstance.String()),
				What: "the file does not say to which series it belongs", Expected: "a UID",
			}
		}
		if files[uid] == 0 {
			found = append(found, series{uid: uid, text: clean(o.name)})
		}
		files[uid]++
		frames[uid] += o.pixels.Frames
		multi = multi || o.pixels.Frames > 1
	}
	if len(found) > 1 {
		const shown = 10
		var parts []string
		for i, s := range found {
			if i == shown {
				parts = append(parts, fmt.Sprintf("%d more", len(found)-shown))
				break
			}
			parts = append(parts, fmt.Sprintf("%s with %s (first file %s)", s.uid, counted(frames[s.uid], "frame"), s.text))
		}
		return &fault.Error{
			Code: fault.Conflict, Where: dicom.TagSeriesInstance.String(), Expected: "the files of one scan",
			What: fmt.Sprintf("the files belong to %d series: %s", len(found), strings.Join(parts, ", ")), Mend: "open the files of one series",
		}
	}
	if multi && len(objects) > 1 {
		var parts []string
		for _, o := range objects {
			parts = append(parts, fmt.Sprintf("%s with %s", clean(o.name), counted(o.pixels.Frames, "frame")))
		}
		return &fault.Error{
			Code: fault.Conflict, Where: dicom.TagNumberOfFrames.String(), Expected: "one of them",
			What: "the series holds several scans: " + strings.Join(parts, ", "), Mend: "open one file",
		}
	}
	return nil
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// orderByInstance sorts single-frame files by Instance Number, then by name;
// their positions, where there are any, decide afterwards.
func orderByInstance(objects []*dicomObject) error {
	numbers := map[*dicomObject]int64{}
	for _, o := range objects {
		n, _, err := o.file.Int(dicom.TagInstanceNumber)
		if err != nil {
			return dicomFault(o.name, err)
		}
		numbers[o] = n
	}
	sort.SliceStable(objects, func(i, j int) bool {
		a, b := objects[i], objects[j]
		if numbers[a] != numbers[b] {
			return numbers[a] < numbers[b]
		}
		return naturalLess(a.name, b.name)
	})
	return nil
}

// volumeFromObjects builds the scan from its objects in order.
func volumeFromObjects(objects, references []*dicomObject, notes []string, convert dicom.Converter) (*oct.Volume, error) {
	first := objects[0]
	if err := sameDICOMSize(objects); err != nil {
		return nil, err
	}
	var frames []*dicomFrame
	for _, o := range objects {
		of, err := o.frames()
		if err != nil {
			return nil, err
		}
		frames = append(frames, of...)
	}
	v := &oct.Volume{Slices: len(frames), Rows: first.pixels.Rows, Columns: first.pixels.Columns, BitDepth: first.pixels.BitsStored, Notes: notes}
	if err := oct.CheckSize(v.Slices, v.Rows, v.Columns); err != nil {
		return nil, dicomFault(first.name, err)
	}
	if err := describeAcquisition(v, objects, frames); err != nil {
		return nil, err
	}
	if err := setPixelScale(v, frames); err != nil {
		return nil, err
	}
	order, err := sliceGeometry(v, frames, references)
	if err != nil {
		return nil, err
	}
	if err := takeSamples(v, objects, order, convert); err != nil {
		return nil, err
	}
	return v, v.Check()
}

func sameDICOMSize(objects []*dicomObject) error {
	sizes := map[string][]string{}
	var found []string
	for _, o := range objects {
		size := fmt.Sprintf("%d rows × %d columns × %d bits", o.pixels.Rows, o.pixels.Columns, o.pixels.BitsStored)
		if sizes[size] == nil {
			found = append(found, size)
		}
		sizes[size] = append(sizes[size], o.name)
	}
	if len(found) == 1 {
		return nil
	}
	var parts []string
	for _, size := range found {
		parts = append(parts, fmt.Sprintf("%s of %s (first %s)", counted(len(sizes[size]), "file"), size, clean(sizes[size][0])))
	}
	return &fault.Error{
		Code: fault.Conflict, Where: fmt.Sprintf("%s, %s", dicom.TagRows, dicom.TagColumns),
		What: "the slices are not of one size: " + strings.Join(parts, ", "), Expected: "slices of one size", Mend: "open the files of one scan",
	}
}

// takeSamples decodes the objects one after the other; order[k] is the frame,
// counted over all objects, that becomes slice k.
func takeSamples(v *oct.Volume, objects []*dicomObject, order []int, convert dicom.Converter) error {
	size := v.Rows * v.Columns
	sliceOf := make([]int, len(order))
	for slice, frame := range order {
		sliceOf[frame] = slice
	}
	noted := map[string]bool{}
	frame := 0
	for _, o := range objects {
		grey, notes, err := greyFrames(o, convert)
		if err != nil {
			return dicomFault(o.name, err)
		}
		for _, note := range notes {
			if !noted[note] {
				noted[note] = true
				v.Notes = append(v.Notes, note)
			}
		}
		if len(objects) == 1 && inOrder(order) {
			v.Samples = grey
			return nil
		}
		if v.Samples == nil {
			v.Samples = make([]uint16, len(order)*size)
		}
		for k := range o.pixels.Frames {
			copy(v.Slice(sliceOf[frame]), grey[k*size:(k+1)*size])
			frame++
		}
	}
	return nil
}

func inOrder(order []int) bool {
	for i, k := range order {
		if i != k {
			return false
		}
	}
	return true
}

// greyFrames decodes one object to grey values that grow with brightness.
func greyFrames(o *dicomObject, convert dicom.Converter) ([]uint16, []string, error) {
	p, err := o.file.Pixels(convert)
	if err != nil {
		return nil, nil, err
	}
	var notes []string
	if p.ConvertedBy != "" {
		notes = append(notes, fmt.Sprintf("the frames in %s were decompressed by %s", o.file.Syntax, p.ConvertedBy))
	}
	if p.SurplusBits {
		notes = append(notes, fmt.Sprintf("bits outside the %d stored ones were set; they are no part of the samples and were left out", p.BitsStored))
	}
	if p.Signed {
		notes = append(notes, fmt.Sprintf("the samples are signed; %d was added to each", 1<<(p.BitsStored-1)))
	}
	if p.Photometric == "MONOCHROME1" {
		top := uint16(1<<p.BitsStored - 1)
		for i, s := range p.Samples {
			p.Samples[i] = top - s
		}
		notes = append(notes, "the file shows low values bright (MONOCHROME1); the samples were inverted")
	}
	if p.SamplesPerPixel == 1 {
		return p.Samples, notes, nil
	}
	grey, err := greyOfColour(p)
	return grey, notes, err
}

// greyOfColour takes the grey out of colour frames that are grey: R = G = B, or
// both chroma samples in the middle.
func greyOfColour(p *dicom.Pixels) ([]uint16, error) {
	middle := uint16(1 << (p.BitsStored - 1))
	luma := p.Photometric != "RGB"
	n := p.Rows * p.Columns
	grey := make([]uint16, p.Frames*n)
	for i := range grey {
		a, b, c := p.Samples[3*i], p.Samples[3*i+1], p.Samples[3*i+2]
		if luma && (b != middle || c != middle) || !luma && (a != b || b != c) {
			return nil, &fault.Error{
				Code:     fault.Unsupported,
				Where:    fmt.Sprintf("%s, frame %d, row %d, column %d", dicom.TagPixelData, i/n+1, i%n/p.Columns, i%p.Columns),
				What:     fmt.Sprintf("the frame is in colour: %d, %d, %d (%s)", a, b, c, p.Photometric),
				Expected: "grey slices", Mend: "export the scan in grey",
			}
		}
		grey[i] = a
	}
	return grey, nil
}
