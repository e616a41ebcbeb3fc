package dicom

import (
	"compress/flate"
	"encoding/binary"
	"fmt"
	"strings"
)

// Syntax is a transfer syntax: how a data set and its pixel data are written
// down (PS3.5 section 10 and annex A).
type Syntax struct {
	UID          string
	Name         string
	BigEndian    bool
	Implicit     bool
	Deflated     bool
	Encapsulated bool // pixel data come as compressed fragments
	Lossy        bool // the coding always loses
	MayLose      bool // it may lose; (0028,2110) says whether it did
	codec        codec
}

// codec is how the frames of a syntax are coded.
type codec int

const (
	codecNative codec = iota
	codecRLE
	codecJPEG   // ISO/IEC 10918-1, all its processes
	codecJPEGLS // ISO/IEC 14495-1
	codecJPEG2000
	codecVideo
	codecOther
)

// UIDs of the transfer syntaxes that are named in code.
const (
	ImplicitLittleEndian = "1.2.840.10008.1.2"
	ExplicitLittleEndian = "1.2.840.10008.1.2.1"
	DeflatedLittleEndian = "1.2.840.10008.1.2.1.99"
	ExplicitBigEndian    = "1.2.840.10008.1.2.2"
)

var syntaxes = []Syntax{
	{UID: ImplicitLittleEndian, Name: "Implicit VR Little Endian", Implicit: true},
	{UID: ExplicitLittleEndian, Name: "Explicit VR Little Endian"},
	{UID: DeflatedLittleEndian, Name: "Deflated Explicit VR Little Endian", Deflated: true},
	{UID: ExplicitBigEndian, Name: "Explicit VR Big Endian", BigEndian: true},
	{UID: "1.2.840.10008.1.2.5", Name: "RLE Lossless", Encapsulated: true, codec: codecRLE},
	{UID: "1.2.840.10008.1.2.4.50", Name: "JPEG Baseline (Process 1)", Encapsulated: true, Lossy: true, codec: codecJPEG},
	{UID: "1.2.840.10008.1.2.4.51", Name: "JPEG Extended (Process 2 and 4)", Encapsulated: true, Lossy: true, codec: codecJPEG},
	{UID: "1.2.840.10008.1.2.4.57", Name: "JPEG Lossless (Process 14)", Encapsulated: true, codec: codecJPEG},
	{UID: "1.2.840.10008.1.2.4.70", Name: "JPEG Lossless First-Order Prediction", Encapsulated: true, codec: codecJPEG},
	{UID: "1.2.840.10008.1.2.4.80", Name: "JPEG-LS Lossless", Encapsulated: true, codec: codecJPEGLS},
	{UID: "1.2.840.10008.1.2.4.81", Name: "JPEG-LS Near-Lossless", Encapsulated: true, MayLose: true, codec: codecJPEGLS},
	{UID: "1.2.840.10008.1.2.4.90", Name: "JPEG 2000 Lossless", Encapsulated: true, codec: codecJPEG2000},
	{UID: "1.2.840.10008.1.2.4.91", Name: "JPEG 2000", Encapsulated: true, MayLose: true, codec: codecJPEG2000},
	{UID: "1.2.840.10008.1.2.4.201", Name: "High-Throughput JPEG 2000 Lossless", Encapsulated: true, codec: codecOther},
	{UID: "1.2.840.10008.1.2.4.202", Name: "High-Throughput JPEG 2000 RPCL Lossless", Encapsulated: true, codec: codecOther},
	{UID: "1.2.840.10008.1.2.4.203", Name: "High-Throughput JPEG 2000", Encapsulated: true, MayLose: true, codec: codecOther},
}

// LookupSyntax returns the transfer syntax of a UID. The syntaxes from
// …1.2.4.100 to …1.2.4.108 are video. Any other UID gives false.
func LookupSyntax(uid string) (Syntax, bool) {
	for _, s := range syntaxes {
		if s.UID == uid {
			return s, true
		}
	}
	if strings.HasPrefix(uid, "1.2.840.10008.1.2.4.10") && len(uid) >= len("1.2.840.10008.1.2.4.100") {
		return Syntax{UID: uid, Name: "MPEG video", Encapsulated: true, Lossy: true, codec: codecVideo}, true
	}
	return Syntax{}, false
}

// String returns "name (UID)".
func (s Syntax) String() string { return fmt.Sprintf("%s (%s)", s.Name, s.UID) }

// encoding is what a data set needs to be read or written. A sequence kept as
// UN is implicit little endian whatever surrounds it (PS3.5 section 6.2.2).
type encoding struct {
	order    binary.ByteOrder
	implicit bool
}

var (
	encodingMeta     = encoding{order: binary.LittleEndian}
	encodingImplicit = encoding{order: binary.LittleEndian, implicit: true}
)

func (s Syntax) encoding() encoding {
	e := encoding{order: binary.LittleEndian, implicit: s.Implicit}
	if s.BigEndian {
		e.order = binary.BigEndian
	}
	return e
}

const deflateLevel = flate.DefaultCompression
