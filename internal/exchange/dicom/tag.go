package dicom

import "fmt"

// Tag is a data element tag, group<<16 | element.
type Tag uint32

// Group returns the group number.
func (t Tag) Group() uint16 { return uint16(t >> 16) }

// Element returns the element number.
func (t Tag) Element() uint16 { return uint16(t) }

// Private reports whether the tag lies in a private (odd) group.
func (t Tag) Private() bool { return t.Group()&1 == 1 }

// Keyword returns the keyword of PS3.6, or "" when the dictionary of this
// package does not hold the tag.
func (t Tag) Keyword() string { return dictionary[t].keyword }

// String returns "(gggg,eeee) Keyword".
func (t Tag) String() string {
	s := fmt.Sprintf("(%04X,%04X)", t.Group(), t.Element())
	switch keyword := t.Keyword(); {
	case keyword != "":
		return s + " " + keyword
	case t.Private():
		return s + " private"
	case t.Element() == 0:
		return s + " group length"
	}
	return s
}

// vrOf returns the value representation for an implicit data set.
func vrOf(t Tag) VR {
	if entry, ok := dictionary[t]; ok {
		return entry.vr
	}
	if t.Element() == 0 {
		return "UL"
	}
	if t.Private() && t.Element() >= 0x10 && t.Element() <= 0xFF {
		return "LO" // private creator, PS3.5 section 7.8.1
	}
	return "UN"
}

// The tags this module reads or writes by name.
const (
	TagMetaGroupLength       Tag = 0x00020000
	TagMetaVersion           Tag = 0x00020001
	TagMediaSOPClass         Tag = 0x00020002
	TagMediaSOPInstance      Tag = 0x00020003
	TagTransferSyntax        Tag = 0x00020010
	TagImplementationClass   Tag = 0x00020012
	TagImplementationName    Tag = 0x00020013
	TagSpecificCharacterSet  Tag = 0x00080005
	TagImageType             Tag = 0x00080008
	TagSOPClass              Tag = 0x00080016
	TagSOPInstance           Tag = 0x00080018
	TagAcquisitionDate       Tag = 0x00080022
	TagAcquisitionDateTime   Tag = 0x0008002A
	TagAcquisitionTime       Tag = 0x00080032
	TagModality              Tag = 0x00080060
	TagManufacturer          Tag = 0x00080070
	TagTimezoneOffset        Tag = 0x00080201
	TagSeriesDescription     Tag = 0x0008103E
	TagModelName             Tag = 0x00081090
	TagReferencedImage       Tag = 0x00081140
	TagReferencedSOP         Tag = 0x00081155
	TagSliceThickness        Tag = 0x00180050
	TagSpacingBetweenSlices  Tag = 0x00180088
	TagSeriesInstance        Tag = 0x0020000E
	TagSeriesNumber          Tag = 0x00200011
	TagInstanceNumber        Tag = 0x00200013
	TagImagePosition         Tag = 0x00200032
	TagImageOrientation      Tag = 0x00200037
	TagLaterality            Tag = 0x00200060
	TagImageLaterality       Tag = 0x00200062
	TagFrameAnatomy          Tag = 0x00209071
	TagFrameLaterality       Tag = 0x00209072
	TagPlanePosition         Tag = 0x00209113
	TagPlaneOrientation      Tag = 0x00209116
	TagAxialLength           Tag = 0x00220030
	TagFrameLocation         Tag = 0x00220031
	TagReferenceCoordinates  Tag = 0x00220032
	TagOphthalmicOrientation Tag = 0x00220039
	TagSamplesPerPixel       Tag = 0x00280002
	TagPhotometric           Tag = 0x00280004
	TagPlanarConfiguration   Tag = 0x00280006
	TagNumberOfFrames        Tag = 0x00280008
	TagRows                  Tag = 0x00280010
	TagColumns               Tag = 0x00280011
	TagPixelSpacing          Tag = 0x00280030
	TagBitsAllocated         Tag = 0x00280100
	TagBitsStored            Tag = 0x00280101
	TagHighBit               Tag = 0x00280102
	TagPixelRepresentation   Tag = 0x00280103
	TagLossyCompression      Tag = 0x00282110
	TagPixelMeasures         Tag = 0x00289110
	TagSharedGroups          Tag = 0x52009229
	TagPerFrameGroups        Tag = 0x52009230
	TagPixelData             Tag = 0x7FE00010
	tagItem                  Tag = 0xFFFEE000
	tagItemDelimiter         Tag = 0xFFFEE00D
	tagSequenceDelimiter     Tag = 0xFFFEE0DD
)
