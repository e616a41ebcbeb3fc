package dicom

import (
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// effective returns the representation and byte order in which a value is to be
// understood: a known attribute that came as UN has its value in little endian
// (PS3.5 section 6.2.2).
func (s *DataSet) effective(e *Element) (VR, binary.ByteOrder) {
	if e.VR == "UN" {
		return vrOf(e.Tag), binary.LittleEndian
	}
	return e.VR, s.encoding.order
}

// Strings returns the values of a text element, without padding. Values of
// ST, LT and UT are never divided. An absent or empty element gives nil.
func (s *DataSet) Strings(tag Tag) ([]string, error) {
	e := s.Find(tag)
	if e == nil || len(e.Value) == 0 {
		return nil, nil
	}
	vr, _ := s.effective(e)
	switch vr {
	case "ST", "LT", "UT", "UR":
		return []string{strings.TrimRight(string(e.Value), " \x00")}, nil
	case "AE", "AS", "CS", "DA", "DS", "DT", "IS", "LO", "PN", "SH", "TM", "UI", "UC":
		text := strings.TrimRight(string(e.Value), " \x00")
		if text == "" {
			return nil, nil
		}
		values := strings.Split(text, `\`)
		for i := range values {
			values[i] = strings.Trim(values[i], " \x00")
		}
		return values, nil
	}
	return nil, malformed(e.Place(), fmt.Sprintf("its value representation is %q", string(vr)), "text")
}

// Text returns the first value of a text element in UTF-8, "" when absent. The
// Specific Character Set of characters, often the file's data set, is followed
// for ISO_IR 100 (Latin 1) and ISO_IR 192 (UTF-8); bytes of other sets that are
// not ASCII come as U+FFFD.
func (s *DataSet) Text(tag Tag, characters *DataSet) (string, error) {
	values, err := s.Strings(tag)
	if err != nil || len(values) == 0 {
		return "", err
	}
	return decodeText(values[0], characters), nil
}

func decodeText(text string, characters *DataSet) string {
	latin1 := false
	if e := characters.Find(TagSpecificCharacterSet); e != nil {
		latin1 = strings.TrimRight(string(e.Value), " \x00") == "ISO_IR 100"
		if strings.TrimRight(string(e.Value), " \x00") == "ISO_IR 192" && utf8.ValidString(text) {
			return printable(text)
		}
	}
	var b strings.Builder
	for i := range len(text) {
		switch c := text[i]; {
		case c < 0x80:
			b.WriteByte(c)
		case latin1:
			b.WriteRune(rune(c))
		default:
			b.WriteRune(utf8.RuneError)
		}
	}
	return printable(b.String())
}

// printable replaces control characters, which have no business in a name and
// would break one-line messages.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7F {
			return utf8.RuneError
		}
		return r
	}, text)
}

// Ints returns the values of an integer element (US, SS, UL, SL, UV, SV, IS).
// An absent or empty element gives nil.
func (s *DataSet) Ints(tag Tag) ([]int64, error) {
	e := s.Find(tag)
	if e == nil || len(e.Value) == 0 {
		return nil, nil
	}
	vr, order := s.effective(e)
	if vr == "IS" {
		return intStrings(s, e)
	}
	sizes := map[VR]int{"US": 2, "SS": 2, "UL": 4, "SL": 4, "UV": 8, "SV": 8}
	size := sizes[vr]
	if size == 0 {
		return nil, malformed(e.Place(), fmt.Sprintf("its value representation is %q", string(vr)), "an integer")
	}
	if len(e.Value)%size != 0 {
		return nil, malformed(e.Place(), fmt.Sprintf("a %s of %d bytes", vr, len(e.Value)), fmt.Sprintf("a multiple of %d", size))
	}
	out := make([]int64, len(e.Value)/size)
	for i := range out {
		b := e.Value[i*size:]
		switch vr {
		case "US":
			out[i] = int64(order.Uint16(b))
		case "SS":
			out[i] = int64(int16(order.Uint16(b)))
		case "UL":
			out[i] = int64(order.Uint32(b))
		case "SL":
			out[i] = int64(int32(order.Uint32(b)))
		default:
			u := order.Uint64(b)
			if vr == "UV" && u > math.MaxInt64 {
				return nil, malformed(e.Place(), fmt.Sprintf("%d is larger than this program takes", u), "")
			}
			out[i] = int64(u)
		}
	}
	return out, nil
}

func intStrings(s *DataSet, e *Element) ([]int64, error) {
	texts, err := s.Strings(e.Tag)
	if err != nil {
		return nil, err
	}
	out := make([]int64, len(texts))
	for i, text := range texts {
		if out[i], err = strconv.ParseInt(text, 10, 32); err != nil {
			return nil, malformed(e.Place(), fmt.Sprintf("%q is not an integer string", text), "digits, at most 2147483647")
		}
	}
	return out, nil
}

// Floats returns the values of a number element: DS, FL, FD or what [DataSet.Ints]
// reads. Empty components of a DS come as NaN; values that are written as not a
// number or infinite are Malformed. An absent or empty element gives nil.
func (s *DataSet) Floats(tag Tag) ([]float64, error) {
	e := s.Find(tag)
	if e == nil || len(e.Value) == 0 {
		return nil, nil
	}
	vr, order := s.effective(e)
	switch vr {
	case "DS":
		return decimalStrings(s, e)
	case "FL", "FD":
		size := 4
		if vr == "FD" {
			size = 8
		}
		if len(e.Value)%size != 0 {
			return nil, malformed(e.Place(), fmt.Sprintf("a %s of %d bytes", vr, len(e.Value)), fmt.Sprintf("a multiple of %d", size))
		}
		out := make([]float64, len(e.Value)/size)
		for i := range out {
			if vr == "FL" {
				out[i] = float64(math.Float32frombits(order.Uint32(e.Value[i*size:])))
			} else {
				out[i] = math.Float64frombits(order.Uint64(e.Value[i*size:]))
			}
			if math.IsNaN(out[i]) || math.IsInf(out[i], 0) {
				return nil, malformed(e.Place(), fmt.Sprintf("value %d is %g", i+1, out[i]), "a finite number")
			}
		}
		return out, nil
	}
	ints, err := s.Ints(tag)
	out := make([]float64, len(ints))
	for i, v := range ints {
		out[i] = float64(v)
	}
	return out, err
}

func decimalStrings(s *DataSet, e *Element) ([]float64, error) {
	texts, err := s.Strings(e.Tag)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(texts))
	for i, text := range texts {
		if text == "" {
			out[i] = math.NaN()
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || strings.Trim(text, "0123456789+-.eE") != "" {
			return nil, malformed(e.Place(), fmt.Sprintf("%q is not a decimal string", printable(decodeText(text, s))), "digits with a point, as 0.0039")
		}
		out[i] = v
	}
	return out, nil
}

// Int returns the single value of an integer element and whether it is there.
func (s *DataSet) Int(tag Tag) (int64, bool, error) {
	values, err := s.Ints(tag)
	if err != nil || len(values) == 0 {
		return 0, false, err
	}
	if len(values) > 1 {
		e := s.Find(tag)
		return 0, false, malformed(e.Place(), fmt.Sprintf("%d values", len(values)), "one")
	}
	return values[0], true, nil
}

// DateTime reads a DT value (PS3.5 section 6.2): YYYYMMDDHHMMSS.FFFFFF&ZZXX,
// which may stop after any part from the year on. Without an offset the value
// is local time of the device and comes as if it were UTC.
func DateTime(text string) (time.Time, error) {
	bad := malformed("date and time", fmt.Sprintf("%q is not a DICOM date and time", printable(text)), "YYYYMMDDHHMMSS")
	body, zone := text, ""
	if i := strings.IndexAny(text, "+-"); i >= 0 {
		body, zone = text[:i], text[i:]
	}
	body, fraction, _ := strings.Cut(body, ".")
	const layout = "20060102150405"
	switch len(body) {
	case 4, 6, 8, 10, 12, 14:
	default:
		return time.Time{}, bad
	}
	if len(fraction) > 6 || (fraction != "" && len(body) != 14) {
		return time.Time{}, bad
	}
	format, value := layout[:len(body)], body
	if fraction != "" {
		format, value = format+"."+strings.Repeat("0", len(fraction)), value+"."+fraction
	}
	if zone != "" {
		format, value = format+"-0700", value+zone
	}
	t, err := time.Parse(format, value)
	if err != nil {
		return time.Time{}, bad
	}
	return t, nil
}

// DecimalString writes v as a DS, which has at most 16 characters (PS3.5
// section 6.2), with as many digits as fit.
func DecimalString(v float64) string {
	const longest = 16
	for digits := 17; digits > 1; digits-- {
		if text := strconv.FormatFloat(v, 'g', digits, 64); len(text) <= longest {
			if short := strconv.FormatFloat(v, 'g', -1, 64); len(short) <= longest {
				return short
			}
			return text
		}
	}
	return strconv.FormatFloat(v, 'g', 1, 64)
}
