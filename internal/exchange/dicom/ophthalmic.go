package dicom

import (
	"fmt"
	"io"
	"math"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// OphthalmicTomographyClass is the SOP class of the objects that
// [WriteOphthalmicTomography] writes.
const OphthalmicTomographyClass = "1.2.840.10008.5.1.4.1.1.77.1.5.4"

// OphthalmicMeta says what a scan does not say of itself.
type OphthalmicMeta struct {
	// Seed makes the UIDs of study, series, frame of reference and instance:
	// one seed, one object.
	Seed string
	// At is the time of study and content, and of acquisition where the scan
	// has none. It is written with its offset from UTC.
	At time.Time
	// Manufacturer, Model, SerialNumber and SoftwareVersion of the equipment.
	// Where they are empty the scan's own, then "Invented" is written, because
	// the standard wants them.
	Manufacturer, Model, SerialNumber, SoftwareVersion string
	// LossyRatio and LossyMethod (a defined term of PS3.3 C.7.6.1.1.5.1, as
	// ISO_10918_1) say how samples were compressed that went through lossy
	// compression; needed for those alone.
	LossyRatio  float64
	LossyMethod string
}

// The invented patient of every object this package writes.
const (
	inventedName = "Phantom^Invented"
	inventedID   = "INVENTED"
)

// WriteOphthalmicTomography writes v as an Ophthalmic Tomography Image (PS3.3
// A.52.3) in Explicit VR Little Endian, with all mandatory modules and
// functional groups, for an invented patient.
//
// Geometry: depth (rows) runs to the back, +y. The columns of a raster run to
// the patient's left, +x, and slice k lies k slice distances towards the head,
// +z; the middle of the first slice is the origin. The slices of a radial scan
// turn about the origin by their angles, from +x to +z, as
// [oct.Volume.SliceAnglesDeg] wants. Such places are nominal (PS3.3
// A.52.4.3.1). A scale that a person gave stands in the object like one of an
// instrument: the attributes know no trust. Bits stored are 8, 12 or 16, the fewest that hold the samples,
// since the object allows no others.
//
// Invalid: the side is unknown, a scale is unknown or only assumed (the object
// would state it as a fact), the pattern of several slices is unknown, or a
// sample exceeds the bit depth; and what [oct.Volume.Check] says.
func WriteOphthalmicTomography(w io.Writer, v *oct.Volume, meta OphthalmicMeta) error {
	if err := writable(v, meta); err != nil {
		return err
	}
	syntax, _ := LookupSyntax(ExplicitLittleEndian)
	o := &object{File: NewFile(syntax, OphthalmicTomographyClass, UID(meta.Seed+" instance")), v: v, meta: meta}
	o.patientStudySeries()
	o.equipment()
	o.image()
	o.acquisition()
	o.functionalGroups()
	o.pixelData()
	return o.Write(w)
}

// writable refuses what the object cannot state truly.
func writable(v *oct.Volume, meta OphthalmicMeta) error {
	if err := v.Check(); err != nil {
		return err
	}
	invalid := func(where, what, mend string) error {
		return &fault.Error{Code: fault.Invalid, Where: where, What: what, Mend: mend}
	}
	if meta.At.IsZero() || meta.At.Year() > 9999 || meta.At.Year() < 1 {
		return invalid("time", "the object needs the time of its making", "give a time")
	}
	if v.Laterality != eye.Right && v.Laterality != eye.Left {
		return invalid("side", "the object must name the eye and the side is unknown", "give the side")
	}
	scales := map[string]oct.AxisScale{"depth scale": v.Scale.Depth, "lateral scale": v.Scale.Lateral}
	switch v.Pattern {
	case oct.PatternRaster:
		scales["slice scale"] = v.Scale.Slice
	case oct.PatternRadial, oct.PatternSingle:
	default:
		return invalid("pattern", "the object must say where the slices lie and their pattern is unknown", "give the slice distance")
	}
	for _, name := range []string{"depth scale", "lateral scale", "slice scale"} {
		if s, needed := scales[name]; needed && (!s.Known() || s.Trust == oct.TrustAssumed) {
			return invalid(name, fmt.Sprintf("it is %s and the object would state it as a fact", s.Trust), "give the scale")
		}
	}
	if v.Slices > 1 && v.Pattern == oct.PatternSingle {
		return invalid("pattern", fmt.Sprintf("a single slice that is %d", v.Slices), "give the pattern")
	}
	if v.Acquisition.Lossy && (!(meta.LossyRatio >= 1) || math.IsInf(meta.LossyRatio, 0) || meta.LossyMethod == "") {
		return invalid("lossy compression", "the object must tell ratio and method of the lossy compression", "give both")
	}
	for i, s := range v.Samples {
		if s > v.MaxSample() {
			return invalid("samples", fmt.Sprintf("sample %d is %d with %d bits", i, s, v.BitDepth), "give the true bit depth")
		}
	}
	return nil
}

// object is a file in the making. The methods write one module each; the
// comments name it with its section of PS3.3.
type object struct {
	*File
	v    *oct.Volume
	meta OphthalmicMeta
}

const (
	dateLayout     = "20060102"
	timeLayout     = "150405"
	dateTimeLayout = "20060102150405.000000-0700"
)

// patientStudySeries: Patient C.7.1.1, General Study C.7.2.1, General Series
// C.7.3.1, Ophthalmic Tomography Series C.8.17.6, Frame of Reference C.7.4.1,
// Synchronization is not needed without a reference picture.
func (o *object) patientStudySeries() {
	at := o.meta.At
	o.Put(TagSpecificCharacterSet, "CS", "ISO_IR 192")
	o.Put(0x00100010, "PN", inventedName)
	o.Put(0x00100020, "LO", inventedID)
	o.Put(0x00100030, "DA", nil)
	o.Put(0x00100040, "CS", nil)
	o.Put(0x0020000D, "UI", UID(o.meta.Seed+" study"))
	o.Put(0x00080020, "DA", at.Format(dateLayout))
	o.Put(0x00080030, "TM", at.Format(timeLayout))
	o.Put(0x00080090, "PN", nil)
	o.Put(0x00200010, "SH", "1")
	o.Put(0x00080050, "SH", nil)
	o.Put(TagModality, "CS", "OPT")
	o.Put(TagSeriesInstance, "UI", UID(o.meta.Seed+" series"))
	o.Put(TagSeriesNumber, "IS", 1)
	o.Put(0x00200052, "UI", UID(o.meta.Seed+" frame of reference"))
	o.Put(0x00201040, "LO", nil)
}

func firstOf(texts ...string) string {
	for _, text := range texts {
		if text != "" {
			return cut(printable(text))
		}
	}
	return ""
}

// cut keeps a text within the 64 characters of LO and off the backslash, which
// divides values (PS3.5 section 6.2).
func cut(text string) string {
	r := []rune(text)
	if len(r) > 64 {
		r = r[:64]
	}
	for i := range r {
		if r[i] == '\\' {
			r[i] = '/'
		}
	}
	return string(r)
}

// equipment: General C.7.5.1 and Enhanced General Equipment C.7.5.2.
func (o *object) equipment() {
	a := o.v.Acquisition
	o.Put(TagManufacturer, "LO", firstOf(o.meta.Manufacturer, a.Manufacturer, "Invented"))
	o.Put(TagModelName, "LO", firstOf(o.meta.Model, a.Model, "Invented"))
	o.Put(0x00181000, "LO", firstOf(o.meta.SerialNumber, "Invented"))
	o.Put(0x00181020, "LO", firstOf(o.meta.SoftwareVersion, "limitans"))
}

func (o *object) acquiredAt() string {
	if at := o.v.Acquisition.AcquiredAt; !at.IsZero() {
		return at.Format(dateTimeLayout)
	}
	return o.meta.At.Format(dateTimeLayout)
}

// image: Ophthalmic Tomography Image C.8.17.7, Ocular Region Imaged C.8.17.5,
// the common part of Multi-frame Functional Groups C.7.6.16, SOP Common C.12.1.
func (o *object) image() {
	at := o.meta.At
	// DERIVED: no instrument gave these samples to this program.
	o.Put(TagImageType, "CS", []string{"DERIVED", "PRIMARY"})
	o.Put(TagInstanceNumber, "IS", 1)
	o.Put(0x00080023, "DA", at.Format(dateLayout))
	o.Put(0x00080033, "TM", at.Format(timeLayout))
	o.Put(TagTimezoneOffset, "SH", at.Format("-0700"))
	o.Put(TagNumberOfFrames, "IS", o.v.Slices)
	o.Put(TagAcquisitionDateTime, "DT", o.acquiredAt())
	o.Put(0x00200012, "IS", 1)
	// Type 1 in C.8.17.7, whether there is a concatenation or not.
	o.Put(0x00209162, "US", 1) // In-concatenation Number: one object holds all frames
	o.Put(0x00209163, "US", 1)
	o.Put(0x00209228, "UL", 0)
	o.Put(0x20500020, "CS", "IDENTITY")
	o.Put(0x00280301, "CS", "NO")
	lossy := "00"
	if o.v.Acquisition.Lossy {
		lossy = "01"
		o.Put(0x00282112, "DS", o.meta.LossyRatio)
		o.Put(0x00282114, "CS", o.meta.LossyMethod)
	}
	o.Put(TagLossyCompression, "CS", lossy)
	o.Put(TagImageLaterality, "CS", o.side())
	o.Put(0x00082218, "SQ", []*DataSet{o.code("5665001", "SCT", "Retina")})
	o.Put(0x00400555, "SQ", nil) // Acquisition Context C.7.6.14
}

func (o *object) side() string {
	if o.v.Laterality == eye.Right {
		return "R"
	}
	return "L"
}

func (o *object) code(value, scheme, meaning string) *DataSet {
	c := o.NewItem()
	c.Put(0x00080100, "SH", value)
	c.Put(0x00080102, "SH", scheme)
	c.Put(0x00080104, "LO", meaning)
	return c
}

// acquisition: Ophthalmic Tomography Acquisition Parameters C.8.17.8 and
// Parameters C.8.17.9.
func (o *object) acquisition() {
	var axial any
	if mm := o.v.Acquisition.AxialLengthMM; mm > 0 {
		axial = mm
	}
	o.Put(TagAxialLength, "FL", axial)
	o.Put(0x0022000C, "FL", nil) // Horizontal Field of View
	o.Put(0x0022001B, "SQ", nil) // Refractive State
	o.Put(0x0022000A, "FL", nil) // Emmetropic Magnification
	o.Put(0x0022000B, "FL", nil) // Intra Ocular Pressure
	o.Put(0x0022000D, "CS", nil) // Pupil Dilated
	o.Put(0x00220015, "SQ", []*DataSet{o.code("392012008", "SCT", "Optical Coherence Tomography Scanner")})
	o.Put(0x00220017, "SQ", nil)   // Light Path Filter Type Stack Code
	o.Put(0x00187004, "CS", "CCD") // Detector Type must be one of four; an invented scan has none
}

// functionalGroups: Multi-frame Functional Groups C.7.6.16 and Multi-frame
// Dimension C.7.6.17; the frames are indexed by their place in one stack.
func (o *object) functionalGroups() {
	organization := UID(o.meta.Seed + " dimension")
	holder := o.NewItem()
	holder.Put(0x00209164, "UI", organization)
	o.Put(0x00209221, "SQ", []*DataSet{holder})
	index := o.NewItem()
	index.Put(0x00209164, "UI", organization)
	index.Put(0x00209165, "AT", []int{0x00209057}) // In-Stack Position Number
	index.Put(0x00209167, "AT", []int{0x00209111}) // of Frame Content
	o.Put(0x00209222, "SQ", []*DataSet{index})

	measures := o.NewItem()
	measures.Put(TagPixelSpacing, "DS", []float64{o.v.Scale.Depth.MicrometresPerSample / 1000, o.v.Scale.Lateral.MicrometresPerSample / 1000})
	anatomy := o.NewItem()
	anatomy.Put(0x00082218, "SQ", []*DataSet{o.code("5665001", "SCT", "Retina")})
	anatomy.Put(TagFrameLaterality, "CS", o.side())
	shared := o.NewItem()
	shared.Put(TagPixelMeasures, "SQ", []*DataSet{measures})
	shared.Put(TagFrameAnatomy, "SQ", []*DataSet{anatomy})
	o.Put(TagSharedGroups, "SQ", []*DataSet{shared})

	frames := make([]*DataSet, o.v.Slices)
	for k := range frames {
		frames[k] = o.frame(k)
	}
	o.Put(TagPerFrameGroups, "SQ", frames)
}

func (o *object) frame(k int) *DataSet {
	content := o.NewItem()
	content.Put(0x00189074, "DT", o.acquiredAt()) // Frame Acquisition DateTime
	content.Put(0x00189151, "DT", o.acquiredAt()) // Frame Reference DateTime
	content.Put(0x00209056, "SH", "1")            // Stack ID
	content.Put(0x00209057, "UL", k+1)            // In-Stack Position Number
	content.Put(0x00209157, "UL", k+1)            // Dimension Index Values

	turn := 0.0
	if o.v.Pattern == oct.PatternRadial {
		turn = o.v.SliceAnglesDeg[k] * math.Pi / 180
	}
	x, z := math.Cos(turn), math.Sin(turn)
	half := float64(o.v.Columns-1) / 2 * o.v.Scale.Lateral.MicrometresPerSample / 1000
	position := []float64{-half * x, 0, -half * z}
	if o.v.Pattern == oct.PatternRaster {
		position[2] += float64(k) * o.v.Scale.Slice.MicrometresPerSample / 1000
	}
	plane := o.NewItem()
	plane.Put(TagImagePosition, "DS", position)
	orientation := o.NewItem()
	orientation.Put(TagImageOrientation, "DS", []float64{x, 0, z, 0, 1, 0})

	groups := o.NewItem()
	groups.Put(0x00209111, "SQ", []*DataSet{content})
	groups.Put(TagPlanePosition, "SQ", []*DataSet{plane})
	groups.Put(TagPlaneOrientation, "SQ", []*DataSet{orientation})
	return groups
}

// pixelData: Image Pixel C.7.6.3.
func (o *object) pixelData() {
	stored := 8
	for stored < o.v.BitDepth {
		stored += 4
	}
	allocated := (stored + 7) / 8 * 8
	o.Put(TagSamplesPerPixel, "US", 1)
	o.Put(TagPhotometric, "CS", "MONOCHROME2")
	o.Put(TagRows, "US", o.v.Rows)
	o.Put(TagColumns, "US", o.v.Columns)
	o.Put(TagBitsAllocated, "US", allocated)
	o.Put(TagBitsStored, "US", stored)
	o.Put(TagHighBit, "US", stored-1)
	o.Put(TagPixelRepresentation, "US", 0)
	e := Element{Tag: TagPixelData, VR: "OB"}
	if allocated == 8 {
		e.Value = make([]byte, len(o.v.Samples), len(o.v.Samples)+1)
		for i, s := range o.v.Samples {
			e.Value[i] = byte(s)
		}
		e.Value = padded(e.Value, 0)
	} else {
		e.VR = "OW"
		e.Value = make([]byte, 2*len(o.v.Samples))
		for i, s := range o.v.Samples {
			o.encoding.order.PutUint16(e.Value[2*i:], s)
		}
	}
	o.Elements = append(o.Elements, e) // the last tag of all
}
