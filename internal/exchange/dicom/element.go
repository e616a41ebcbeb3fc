package dicom

import (
	"fmt"
	"sort"

	"limitans/fault"
)

// VR is a value representation of PS3.5 section 6.2, two capital letters.
type VR string

// long reports whether the explicit form has two reserved bytes and a 32-bit
// length (PS3.5 section 7.1.2). Every later VR has, so an unknown one does too.
func (v VR) long() bool {
	switch v {
	case "AE", "AS", "AT", "CS", "DA", "DS", "DT", "FL", "FD", "IS", "LO", "LT", "PN", "SH", "SL", "SS", "ST", "TM", "UI", "UL", "US":
		return false
	}
	return true
}

// Element is one data element. Exactly one of Value, Items and Fragments
// carries its content.
type Element struct {
	Tag       Tag
	VR        VR
	Offset    int64    // of its tag in the file, or in the inflated data set
	Undefined bool     // its length was not given but delimited
	Value     []byte   // the bytes of the file, padding included
	Items     []Item   // of a sequence
	Fragments [][]byte // of encapsulated pixel data; the first is the basic offset table
}

// Item is one item of a sequence.
type Item struct {
	*DataSet
	Undefined bool
}

// DataSet is a list of elements in ascending order of tags.
type DataSet struct {
	Elements []Element
	encoding encoding
}

// File is a DICOM file.
type File struct {
	Preamble [128]byte
	Meta     DataSet
	Syntax   Syntax
	DataSet
}

// Find returns the element of that tag at this level, or nil.
func (s *DataSet) Find(tag Tag) *Element {
	i := sort.Search(len(s.Elements), func(i int) bool { return s.Elements[i].Tag >= tag })
	if i < len(s.Elements) && s.Elements[i].Tag == tag {
		return &s.Elements[i]
	}
	return nil
}

// Items returns the items of a sequence, nil when it is absent or empty.
func (s *DataSet) Items(tag Tag) []Item {
	if e := s.Find(tag); e != nil {
		return e.Items
	}
	return nil
}

// Place names an element for messages: "(gggg,eeee) Keyword at byte n".
func (e *Element) Place() string { return place(e.Tag, e.Offset) }

func place(tag Tag, offset int64) string { return fmt.Sprintf("%s at byte %d", tag, offset) }

func malformed(where, what, expected string) *fault.Error {
	return &fault.Error{Code: fault.Malformed, Where: where, What: what, Expected: expected}
}
