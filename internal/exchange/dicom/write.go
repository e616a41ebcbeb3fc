package dicom

import (
	"bufio"
	"compress/flate"
	"fmt"
	"io"
	"math"

	"limitans/fault"
)

// Write writes the file in its transfer syntax. What [Parse] gave is written
// back byte for byte, unknown and private elements included; a deflated data
// set has the same inflated bytes but may be deflated differently. The group
// length of the meta group is calculated.
func (f *File) Write(w io.Writer) error {
	if err := f.refreshMetaLength(); err != nil {
		return err
	}
	buffered := bufio.NewWriter(w)
	out := &writer{w: buffered}
	out.bytes(f.Preamble[:])
	out.bytes([]byte("DICM"))
	out.set(f.Meta.Elements, encodingMeta)
	if f.Syntax.Deflated {
		counted := &countingWriter{w: buffered}
		deflater, err := flate.NewWriter(counted, deflateLevel)
		if err != nil {
			return writeFault(err)
		}
		body := &writer{w: deflater, err: out.err}
		body.set(f.Elements, f.encoding)
		if err := deflater.Close(); body.err == nil {
			body.err = err
		}
		out.err = body.err
		if counted.n%2 == 1 {
			out.bytes([]byte{0})
		}
	} else {
		out.set(f.Elements, f.encoding)
	}
	if out.err == nil {
		out.err = buffered.Flush()
	}
	return writeFault(out.err)
}

func writeFault(err error) error {
	if err == nil || fault.CodeOf(err) != fault.Internal {
		return err
	}
	return &fault.Error{Code: fault.Internal, Where: "DICOM file", What: "it could not be written: " + err.Error(), Cause: err}
}

type countingWriter struct {
	w io.Writer
	n int64
}

func (c *countingWriter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}

func (f *File) refreshMetaLength() error {
	e := f.Meta.Find(TagMetaGroupLength)
	if e == nil {
		return nil
	}
	length := setLength(f.Meta.Elements, encodingMeta) - elementLength(e, encodingMeta)
	if e.VR != "UL" || len(e.Value) != 4 || length > math.MaxUint32 {
		return malformed(e.Place(), "it is not a group length", "UL of 4 bytes")
	}
	value := make([]byte, 4)
	encodingMeta.order.PutUint32(value, uint32(length))
	e.Value = value
	return nil
}

// writer writes elements and keeps the first error.
type writer struct {
	w   io.Writer
	err error
}

func (w *writer) bytes(p []byte) {
	if w.err == nil {
		_, w.err = w.w.Write(p)
	}
}

func (w *writer) set(elements []Element, enc encoding) {
	for i := range elements {
		w.element(&elements[i], enc)
	}
}

// element writes one element; its length is that of its content.
func (w *writer) element(e *Element, enc encoding) {
	length := contentLength(e, enc)
	header := make([]byte, 4, 12)
	enc.order.PutUint16(header, e.Tag.Group())
	enc.order.PutUint16(header[2:], e.Tag.Element())
	limit := int64(math.MaxUint32 - 1)
	short := !enc.implicit && !e.VR.long()
	if short {
		limit = math.MaxUint16
	}
	if !e.Undefined && length > limit {
		w.fail(&fault.Error{
			Code: fault.TooLarge, Where: e.Tag.String(),
			What: fmt.Sprintf("a value of %d bytes does not fit %s", length, e.VR), Expected: fmt.Sprintf("at most %d bytes", limit),
		})
		return
	}
	if len(e.VR) != 2 {
		w.fail(&fault.Error{Code: fault.Internal, Where: e.Tag.String(), What: "a value was put that does not go with its representation"})
		return
	}
	if !enc.implicit {
		header = append(header, e.VR...)
	}
	stated := uint32(length)
	if e.Undefined {
		stated = undefinedLength
	}
	switch {
	case short:
		header = appendUint16(header, enc, uint16(length))
	case enc.implicit:
		header = appendUint32(header, enc, stated)
	default:
		header = appendUint32(append(header, 0, 0), enc, stated)
	}
	w.bytes(header)
	w.content(e, enc)
}

func (w *writer) fail(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *writer) content(e *Element, enc encoding) {
	inner := itemsEncoding(e, enc)
	switch {
	case e.Fragments != nil:
		for _, fragment := range e.Fragments {
			w.mark(tagItem, uint32(len(fragment)), enc)
			w.bytes(fragment)
		}
	case e.Items != nil || e.Undefined:
		for _, item := range e.Items {
			length := uint32(undefinedLength)
			if !item.Undefined {
				length = uint32(setLength(item.Elements, inner))
			}
			w.mark(tagItem, length, inner)
			w.set(item.Elements, inner)
			if item.Undefined {
				w.mark(tagItemDelimiter, 0, inner)
			}
		}
	default:
		w.bytes(e.Value)
		return
	}
	if e.Undefined {
		w.mark(tagSequenceDelimiter, 0, inner)
	}
}

// itemsEncoding is the encoding of the items of e: implicit little endian in a
// sequence kept as UN.
func itemsEncoding(e *Element, enc encoding) encoding {
	if e.VR == "UN" && e.Undefined {
		return encodingImplicit
	}
	return enc
}

func (w *writer) mark(tag Tag, length uint32, enc encoding) {
	b := make([]byte, 4, 8)
	enc.order.PutUint16(b, tag.Group())
	enc.order.PutUint16(b[2:], tag.Element())
	w.bytes(appendUint32(b, enc, length))
}

func appendUint16(b []byte, enc encoding, v uint16) []byte {
	n := len(b)
	b = append(b, 0, 0)
	enc.order.PutUint16(b[n:], v)
	return b
}

func appendUint32(b []byte, enc encoding, v uint32) []byte {
	n := len(b)
	b = append(b, 0, 0, 0, 0)
	enc.order.PutUint32(b[n:], v)
	return b
}

// contentLength is the number of bytes after the header of e, delimiters
// included.
func contentLength(e *Element, enc encoding) int64 {
	var n int64
	inner := itemsEncoding(e, enc)
	for _, fragment := range e.Fragments {
		n += itemHeaderLength + int64(len(fragment))
	}
	for _, item := range e.Items {
		n += itemHeaderLength + setLength(item.Elements, inner)
		if item.Undefined {
			n += itemHeaderLength
		}
	}
	if e.Undefined {
		n += itemHeaderLength
	}
	return n + int64(len(e.Value))
}

func elementLength(e *Element, enc encoding) int64 {
	header := int64(8)
	if !enc.implicit && e.VR.long() {
		header = 12
	}
	return header + contentLength(e, enc)
}

func setLength(elements []Element, enc encoding) int64 {
	var n int64
	for i := range elements {
		n += elementLength(&elements[i], enc)
	}
	return n
}
