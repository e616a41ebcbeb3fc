package dicom

import (
	"crypto/sha256"
	"fmt"
	"math"
	"math/big"
	"sort"
	"strings"
)

// implementationUID names this implementation in the meta group (PS3.10
// section 7.1), under the root of UIDs made from numbers.
var implementationUID = UID("limitans DICOM writer")

const implementationName = "LIMITANS"

// UID returns a unique identifier under the 2.25 root (PS3.5 section B.2),
// made from the SHA-256 of seed so that the same seed gives the same UID; the
// 128 bits are marked as a name-based UUID (RFC 9562, version 8).
func UID(seed string) string {
	sum := sha256.Sum256([]byte(seed))
	b := sum[:16]
	b[6] = b[6]&0x0F | 0x80
	b[8] = b[8]&0x3F | 0x80
	return "2.25." + new(big.Int).SetBytes(b).String()
}

// NewFile returns a file with a meta group and the SOP class and instance in an
// otherwise empty data set.
func NewFile(syntax Syntax, sopClass, sopInstance string) *File {
	f := &File{Syntax: syntax, Meta: DataSet{encoding: encodingMeta}}
	f.encoding = syntax.encoding()
	f.Meta.Put(TagMetaGroupLength, "UL", 0)
	f.Meta.Put(TagMetaVersion, "OB", []byte{0, 1})
	f.Meta.Put(TagMediaSOPClass, "UI", sopClass)
	f.Meta.Put(TagMediaSOPInstance, "UI", sopInstance)
	f.Meta.Put(TagTransferSyntax, "UI", syntax.UID)
	f.Meta.Put(TagImplementationClass, "UI", implementationUID)
	f.Meta.Put(TagImplementationName, "SH", implementationName)
	f.Put(TagSOPClass, "UI", sopClass)
	f.Put(TagSOPInstance, "UI", sopInstance)
	return f
}

// Put sets an element, in its place by tag. value is a string or []string for
// text, an int or []int for US, UL and IS, a float64 or []float64 for DS, FL and
// FD, []byte as it stands, []*DataSet for the items of a sequence, or nil for an
// empty element. Text is padded to an even length. A value of another kind, or
// one that does not go with vr, is a defect of the calling code; the element is
// marked and [File.Write] refuses it.
func (s *DataSet) Put(tag Tag, vr VR, value any) {
	e := Element{Tag: tag, VR: vr}
	switch v := value.(type) {
	case nil:
	case []byte:
		e.Value = padded(append([]byte(nil), v...), 0)
	case string:
		e.Value = textValue(vr, v)
	case []string:
		e.Value = textValue(vr, strings.Join(v, `\`))
	case int:
		e.Value = s.intValue(vr, []int{v})
	case []int:
		e.Value = s.intValue(vr, v)
	case float64:
		e.Value = s.floatValue(vr, []float64{v})
	case []float64:
		e.Value = s.floatValue(vr, v)
	case []*DataSet:
		for _, item := range v {
			e.Items = append(e.Items, Item{DataSet: item})
		}
	default:
		e.VR = vrUnfit
	}
	if value != nil && e.Value == nil && e.Items == nil && !isEmpty(value) {
		e.VR = vrUnfit
	}
	i := sort.Search(len(s.Elements), func(i int) bool { return s.Elements[i].Tag >= tag })
	if i < len(s.Elements) && s.Elements[i].Tag == tag {
		s.Elements[i] = e
		return
	}
	s.Elements = append(s.Elements, Element{})
	copy(s.Elements[i+1:], s.Elements[i:])
	s.Elements[i] = e
}

// vrUnfit marks an element whose value does not go with its representation.
const vrUnfit VR = ""

func isEmpty(value any) bool {
	switch v := value.(type) {
	case string:
		return v == ""
	case []string:
		return len(v) == 0
	case []int:
		return len(v) == 0
	case []float64:
		return len(v) == 0
	case []byte:
		return len(v) == 0
	case []*DataSet:
		return len(v) == 0
	}
	return false
}

// NewItem returns an empty data set of the same encoding, for a sequence.
func (s *DataSet) NewItem() *DataSet { return &DataSet{encoding: s.encoding} }

func padded(b []byte, with byte) []byte {
	if len(b)%2 == 1 {
		b = append(b, with)
	}
	return b
}

func textValue(vr VR, text string) []byte {
	if vr == "UI" {
		return padded([]byte(text), 0)
	}
	return padded([]byte(text), ' ')
}

func (s *DataSet) intValue(vr VR, values []int) []byte {
	var b []byte
	texts := make([]string, len(values))
	for i, v := range values {
		switch vr {
		case "US", "SS":
			b = appendUint16(b, s.encoding, uint16(v))
		case "UL", "SL":
			b = appendUint32(b, s.encoding, uint32(v))
		case "AT":
			b = appendUint16(appendUint16(b, s.encoding, uint16(v>>16)), s.encoding, uint16(v))
		case "IS":
			texts[i] = fmt.Sprint(v)
		default:
			return nil
		}
	}
	if vr == "IS" {
		return textValue(vr, strings.Join(texts, `\`))
	}
	return b
}

func (s *DataSet) floatValue(vr VR, values []float64) []byte {
	var b []byte
	texts := make([]string, len(values))
	for i, v := range values {
		switch vr {
		case "FL":
			b = appendUint32(b, s.encoding, math.Float32bits(float32(v)))
		case "FD":
			n := len(b)
			b = append(b, make([]byte, 8)...)
			s.encoding.order.PutUint64(b[n:], math.Float64bits(v))
		case "DS":
			texts[i] = DecimalString(v)
		default:
			return nil
		}
	}
	if vr == "DS" {
		return textValue(vr, strings.Join(texts, `\`))
	}
	return b
}
