package dicom

import (
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"io"
	"math"

	"limitans/fault"
)

// Limits of what is read. A clinical volume has some ten thousand elements in
// its functional groups, four levels deep.
const (
	MaxDepth         = 16
	MaxElements      = 1_000_000 // elements and items in all
	MaxInflated      = 2 << 30   // bytes of an inflated data set
	inflatedFloor    = 16 << 20
	inflatedPerByte  = 400 // deflate can reach 1032; blank volumes stay below this above the floor
	preambleLength   = 128
	undefinedLength  = 0xFFFFFFFF
	headerBytes      = preambleLength + 4
	itemHeaderLength = 8
)

// IsDICOM reports whether data begins as a DICOM file: a preamble and DICM.
func IsDICOM(data []byte) bool {
	return len(data) >= headerBytes && string(data[preambleLength:headerBytes]) == "DICM"
}

// Parse reads a whole file. The values of the result share memory with data,
// unless the data set was deflated. Faults are Malformed (a rule of the
// standard is broken), Unsupported (a transfer syntax that is not known) or
// TooLarge; each names the tag and the byte.
func Parse(data []byte) (*File, error) {
	if !IsDICOM(data) {
		return nil, malformed("start of the file", "the letters DICM are not at byte 128: this is not a DICOM file", "a DICOM Part 10 file")
	}
	f := &File{}
	copy(f.Preamble[:], data)
	r := &reader{data: data}
	start, err := r.meta(f)
	if err != nil {
		return nil, err
	}
	f.encoding = f.Syntax.encoding()
	if f.Syntax.Deflated {
		inflated, err := inflate(data[start:])
		if err != nil {
			return nil, err
		}
		r.data, start = inflated, 0
	}
	set, _, err := r.set(start, len(r.data), f.encoding, 0, false)
	if err != nil {
		return nil, err
	}
	f.Elements = set
	return f, nil
}

// meta reads the file meta group and returns where the data set begins.
func (r *reader) meta(f *File) (int, error) {
	f.Meta.encoding = encodingMeta
	pos, groupStart := headerBytes, -1
	var groupLength int64
	for pos+4 <= len(r.data) && encodingMeta.order.Uint16(r.data[pos:]) == 2 {
		e, next, err := r.element(pos, len(r.data), encodingMeta, 0)
		if err != nil {
			return 0, err
		}
		if n := len(f.Meta.Elements); n > 0 && f.Meta.Elements[n-1].Tag >= e.Tag {
			return 0, outOfOrder(e, f.Meta.Elements[n-1].Tag)
		}
		f.Meta.Elements = append(f.Meta.Elements, e)
		pos = next
		if e.Tag == TagMetaGroupLength {
			if groupLength, _, err = f.Meta.Int(e.Tag); err != nil {
				return 0, err
			}
			groupStart = pos
		}
	}
	if groupStart >= 0 && groupLength != int64(pos-groupStart) {
		return 0, malformed(f.Meta.Elements[0].Place(), fmt.Sprintf("the meta group is said to be %d bytes long and is %d", groupLength, pos-groupStart), "a true length")
	}
	uid, err := f.Meta.Text(TagTransferSyntax, &f.Meta)
	if err != nil {
		return 0, err
	}
	if uid == "" {
		return 0, malformed(TagTransferSyntax.String(), "the file does not say its transfer syntax", "the UID of a transfer syntax")
	}
	syntax, known := LookupSyntax(uid)
	if !known {
		return 0, &fault.Error{
			Code: fault.Unsupported, Where: f.Meta.Find(TagTransferSyntax).Place(),
			What: fmt.Sprintf("the transfer syntax %q is not known here", uid),
			Mend: "export the scan again as Explicit VR Little Endian",
		}
	}
	f.Syntax = syntax
	return pos, nil
}

// inflate gives the data set of a deflated file. Its size is bounded absolutely
// and by the size of the input; the first pass finds the size, so that nothing
// is taken for a stream that is broken or too large.
func inflate(compressed []byte) ([]byte, error) {
	limit := min(int64(len(compressed))*inflatedPerByte+inflatedFloor, MaxInflated)
	source := bytes.NewReader(compressed)
	n, err := io.Copy(io.Discard, io.LimitReader(flate.NewReader(source), limit+1))
	if n > limit {
		return nil, &fault.Error{
			Code: fault.TooLarge, Where: "deflated data set",
			What:     fmt.Sprintf("%d bytes inflate to more than %d", len(compressed), limit),
			Expected: fmt.Sprintf("at most %d bytes", limit),
		}
	}
	if err != nil {
		broken := malformed("deflated data set", fmt.Sprintf("the compressed bytes are broken after %d inflated bytes", n), "a whole deflate stream (RFC 1951)")
		broken.Cause = err
		if errors.Is(err, io.ErrUnexpectedEOF) {
			broken.What = fmt.Sprintf("the file ends within the compressed bytes, after %d inflated bytes", n)
		}
		return nil, broken
	}
	if source.Len() > 1 {
		return nil, malformed("deflated data set", fmt.Sprintf("%d bytes follow the compressed data set", source.Len()), "at most one padding byte")
	}
	out := make([]byte, n)
	if _, err := io.ReadFull(flate.NewReader(bytes.NewReader(compressed)), out); err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "deflated data set", What: "it inflates differently the second time", Cause: err}
	}
	return out, nil
}

// reader walks over a data set. Positions count in data.
type reader struct {
	data     []byte
	elements int // elements and items met so far
}

func outOfOrder(e Element, before Tag) error {
	if e.Tag == before {
		return malformed(e.Place(), "the element is there twice", "each element once")
	}
	return malformed(e.Place(), fmt.Sprintf("it comes after %s", before), "ascending tags")
}

func (r *reader) count(where string) error {
	if r.elements++; r.elements > MaxElements {
		return &fault.Error{
			Code: fault.TooLarge, Where: where,
			What: fmt.Sprintf("the file has more than %d elements", MaxElements), Expected: "fewer elements",
		}
	}
	return nil
}

// set reads elements from pos up to end, or up to an item delimiter when the
// set is one of undefined length. It returns the position after it.
func (r *reader) set(pos, end int, enc encoding, depth int, delimited bool) ([]Element, int, error) {
	var set []Element
	for pos < end {
		if delimited {
			if tag, ok := r.tag(pos, end, enc); ok && tag == tagItemDelimiter {
				next, err := r.delimiter(pos, end, enc, tag)
				return set, next, err
			}
		}
		e, next, err := r.element(pos, end, enc, depth)
		if err != nil {
			return nil, 0, err
		}
		if n := len(set); n > 0 && set[n-1].Tag >= e.Tag {
			return nil, 0, outOfOrder(e, set[n-1].Tag)
		}
		set = append(set, e)
		pos = next
	}
	if delimited {
		return nil, 0, malformed(fmt.Sprintf("byte %d", end), "an item of undefined length has no end", tagItemDelimiter.String())
	}
	return set, pos, nil
}

func (r *reader) tag(pos, end int, enc encoding) (Tag, bool) {
	if end-pos < 4 {
		return 0, false
	}
	return Tag(enc.order.Uint16(r.data[pos:]))<<16 | Tag(enc.order.Uint16(r.data[pos+2:])), true
}

// delimiter checks the item or sequence delimiter at pos and returns the
// position after it.
func (r *reader) delimiter(pos, end int, enc encoding, tag Tag) (int, error) {
	if end-pos < itemHeaderLength {
		return 0, truncated(tag, pos, end)
	}
	if length := enc.order.Uint32(r.data[pos+4:]); length != 0 {
		return 0, malformed(place(tag, int64(pos)), fmt.Sprintf("a delimiter with a length of %d", length), "0")
	}
	return pos + itemHeaderLength, nil
}

func truncated(tag Tag, pos, end int) error {
	return malformed(place(tag, int64(pos)), fmt.Sprintf("the element is cut off at byte %d", end), "a whole element")
}

// element reads the element at pos, which must end at or before end.
func (r *reader) element(pos, end int, enc encoding, depth int) (Element, int, error) {
	tag, ok := r.tag(pos, end, enc)
	if !ok {
		return Element{}, 0, malformed(fmt.Sprintf("byte %d", pos), fmt.Sprintf("%d bytes are left over, too few for an element", end-pos), "a whole element")
	}
	e := Element{Tag: tag, Offset: int64(pos)}
	if err := r.count(e.Place()); err != nil {
		return e, 0, err
	}
	if tag.Group() == 0xFFFE {
		return e, 0, malformed(e.Place(), "an item or delimiter stands outside a sequence", "a data element")
	}
	length, value, err := r.header(&e, pos, end, enc)
	if err != nil {
		return e, 0, err
	}
	if length == undefinedLength {
		e.Undefined = true
		return r.undefined(e, value, end, enc, depth)
	}
	if int64(length) > int64(end-value) {
		return e, 0, malformed(e.Place(), fmt.Sprintf("its length is %d bytes and %d are left", length, end-value), "a length within what contains it")
	}
	next := value + int(length)
	if e.VR == "SQ" {
		e.Items, _, err = r.items(e, value, next, enc, depth)
		return e, next, err
	}
	e.Value = r.data[value:next:next]
	return e, next, nil
}

// header reads the representation and length of e and returns the length and
// the position of the value (PS3.5 section 7.1).
func (r *reader) header(e *Element, pos, end int, enc encoding) (uint32, int, error) {
	if end-pos < 8 {
		return 0, 0, truncated(e.Tag, pos, end)
	}
	if enc.implicit {
		e.VR = vrOf(e.Tag)
		return enc.order.Uint32(r.data[pos+4:]), pos + 8, nil
	}
	a, b := r.data[pos+4], r.data[pos+5]
	if a < 'A' || a > 'Z' || b < 'A' || b > 'Z' {
		return 0, 0, malformed(e.Place(), fmt.Sprintf("the bytes %02X %02X are not a value representation; the data set is not in the transfer syntax the file names", a, b), "two capital letters")
	}
	e.VR = VR(r.data[pos+4 : pos+6])
	if !e.VR.long() {
		return uint32(enc.order.Uint16(r.data[pos+6:])), pos + 8, nil
	}
	if end-pos < 12 {
		return 0, 0, truncated(e.Tag, pos, end)
	}
	if r.data[pos+6] != 0 || r.data[pos+7] != 0 {
		return 0, 0, malformed(e.Place(), fmt.Sprintf("the reserved bytes after %s are %02X %02X", e.VR, r.data[pos+6], r.data[pos+7]), "00 00")
	}
	return enc.order.Uint32(r.data[pos+8:]), pos + 12, nil
}

// undefined reads the content of an element of undefined length.
func (r *reader) undefined(e Element, pos, end int, enc encoding, depth int) (Element, int, error) {
	var err error
	switch {
	case e.Tag == TagPixelData && !enc.implicit && (e.VR == "OB" || e.VR == "OW"):
		e.Fragments, pos, err = r.fragments(e, pos, end, enc)
	case e.VR == "SQ":
		e.Items, pos, err = r.items(e, pos, end, enc, depth)
	case e.VR == "UN" && enc.implicit:
		e.VR = "SQ"
		e.Items, pos, err = r.items(e, pos, end, enc, depth)
	case e.VR == "UN":
		e.Items, pos, err = r.items(e, pos, end, encodingImplicit, depth)
	default:
		err = malformed(e.Place(), fmt.Sprintf("a value of %s with undefined length", e.VR), "a length, or a sequence")
	}
	return e, pos, err
}

// items reads the items of sequence e from pos to end, or to the sequence
// delimiter when e has an undefined length (PS3.5 section 7.5).
func (r *reader) items(e Element, pos, end int, enc encoding, depth int) ([]Item, int, error) {
	if depth >= MaxDepth {
		return nil, 0, &fault.Error{
			Code: fault.TooLarge, Where: e.Place(),
			What: fmt.Sprintf("sequences are nested more than %d deep", MaxDepth), Expected: "fewer levels",
		}
	}
	var items []Item
	for pos < end {
		tag, ok := r.tag(pos, end, enc)
		if !ok || end-pos < itemHeaderLength {
			return nil, 0, malformed(e.Place(), fmt.Sprintf("the sequence is cut off at byte %d", end), "a whole item")
		}
		if e.Undefined && tag == tagSequenceDelimiter {
			next, err := r.delimiter(pos, end, enc, tag)
			return items, next, err
		}
		if tag != tagItem {
			return nil, 0, malformed(e.Place(), fmt.Sprintf("at byte %d of the sequence stands %s", pos, tag), tagItem.String()+" item")
		}
		if err := r.count(e.Place()); err != nil {
			return nil, 0, err
		}
		length := enc.order.Uint32(r.data[pos+4:])
		pos += itemHeaderLength
		item := Item{DataSet: &DataSet{encoding: enc}, Undefined: length == undefinedLength}
		itemEnd := end
		if !item.Undefined {
			if int64(length) > int64(end-pos) {
				return nil, 0, malformed(e.Place(), fmt.Sprintf("item %d at byte %d is %d bytes long and %d are left", len(items)+1, pos-itemHeaderLength, length, end-pos), "a length within the sequence")
			}
			itemEnd = pos + int(length)
		}
		set, next, err := r.set(pos, itemEnd, enc, depth+1, item.Undefined)
		if err != nil {
			return nil, 0, err
		}
		item.Elements, pos = set, next
		items = append(items, item)
	}
	if e.Undefined {
		return nil, 0, malformed(e.Place(), "the sequence of undefined length has no end", tagSequenceDelimiter.String())
	}
	return items, pos, nil
}

// fragments reads encapsulated pixel data (PS3.5 section A.4).
func (r *reader) fragments(e Element, pos, end int, enc encoding) ([][]byte, int, error) {
	var fragments [][]byte
	for {
		tag, ok := r.tag(pos, end, enc)
		if !ok || end-pos < itemHeaderLength {
			return nil, 0, malformed(e.Place(), fmt.Sprintf("the fragments are cut off at byte %d, after %d of them", end, len(fragments)), tagSequenceDelimiter.String())
		}
		switch tag {
		case tagSequenceDelimiter:
			next, err := r.delimiter(pos, end, enc, tag)
			if err == nil && len(fragments) == 0 {
				err = malformed(e.Place(), "the basic offset table is missing", "a first item, which may be empty")
			}
			return fragments, next, err
		case tagItem:
		default:
			return nil, 0, malformed(e.Place(), fmt.Sprintf("at byte %d of the fragments stands %s", pos, tag), tagItem.String()+" item")
		}
		if err := r.count(e.Place()); err != nil {
			return nil, 0, err
		}
		length := enc.order.Uint32(r.data[pos+4:])
		pos += itemHeaderLength
		if length > math.MaxInt32 || int64(length) > int64(end-pos) {
			return nil, 0, malformed(e.Place(), fmt.Sprintf("fragment %d at byte %d is %d bytes long and %d are left", len(fragments), pos-itemHeaderLength, length, end-pos), "a length within the file")
		}
		fragments = append(fragments, r.data[pos:pos+int(length):pos+int(length)])
		pos += int(length)
	}
}
