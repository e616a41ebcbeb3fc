package dicom

import (
	"encoding/binary"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// dumpLine is one element as dcmdump prints it.
type dumpLine struct {
	depth          int
	tag, vr, value string
}

var dumpPattern = regexp.MustCompile(`^( *)\(([0-9a-f]{4},[0-9a-f]{4})\) (..) (.*?) *# +[0-9u/l]+, *[0-9]+ `)

// readDump runs dcmdump, with values in full and UIDs as numbers.
func readDump(t *testing.T, tool, path string) []dumpLine {
	t.Helper()
	out, err := exec.Command(tool, "-q", "-Un", "+L", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var lines []dumpLine
	for _, text := range strings.Split(string(out), "\n") {
		m := dumpPattern.FindStringSubmatch(text)
		if m == nil || m[2] == "fffe,e00d" || m[2] == "fffe,e0dd" {
			continue
		}
		lines = append(lines, dumpLine{depth: len(m[1]), tag: m[2], vr: m[3], value: m[4]})
	}
	if len(lines) < 10 {
		t.Fatalf("dcmdump printed %d elements of %s", len(lines), path)
	}
	return lines
}

// ourDump prints a data set in the same manner.
func ourDump(set *DataSet, depth int) []dumpLine {
	var lines []dumpLine
	for i := range set.Elements {
		e := &set.Elements[i]
		tag := fmt.Sprintf("%04x,%04x", e.Tag.Group(), e.Tag.Element())
		line := dumpLine{depth: depth, tag: tag, vr: string(e.VR), value: dumpValue(set, e)}
		lines = append(lines, line)
		for _, fragment := range e.Fragments {
			lines = append(lines, dumpLine{depth: depth + 2, tag: "fffe,e000", vr: "pi", value: dumpBytes(fragment)})
		}
		for _, item := range e.Items {
			lines = append(lines, dumpLine{depth: depth + 2, tag: "fffe,e000", vr: "na"})
			lines = append(lines, ourDump(item.DataSet, depth+4)...)
		}
	}
	return lines
}

func dumpBytes(b []byte) string {
	if len(b) == 0 {
		return "(no value available)"
	}
	parts := make([]string, len(b))
	for i, v := range b {
		parts[i] = fmt.Sprintf("%02x", v)
	}
	return strings.Join(parts, `\`)
}

func dumpValue(set *DataSet, e *Element) string {
	order := set.encoding.order
	var parts []string
	switch e.VR {
	case "SQ":
		return ""
	case "OB", "UN":
		if e.Fragments != nil {
			return ""
		}
		return dumpBytes(e.Value)
	case "OW":
		for i := 0; i+1 < len(e.Value); i += 2 {
			parts = append(parts, fmt.Sprintf("%04x", order.Uint16(e.Value[i:])))
		}
	case "US", "SS", "UL", "SL":
		values, err := set.Ints(e.Tag)
		if err != nil {
			return err.Error()
		}
		for _, v := range values {
			parts = append(parts, fmt.Sprint(v))
		}
	case "FL", "FD":
		values, err := set.Floats(e.Tag)
		if err != nil {
			return err.Error()
		}
		for _, v := range values {
			parts = append(parts, fmt.Sprint(v))
		}
	case "AT":
		for i := 0; i+3 < len(e.Value); i += 4 {
			parts = append(parts, fmt.Sprintf("(%04x,%04x)", order.Uint16(e.Value[i:]), order.Uint16(e.Value[i+2:])))
		}
	default:
		values, err := set.Strings(e.Tag)
		if err != nil {
			return err.Error()
		}
		if values != nil {
			return "[" + strings.Join(values, `\`) + "]"
		}
	}
	if parts == nil {
		return "(no value available)"
	}
	return strings.Join(parts, `\`)
}

func sameValue(vr, ours, theirs string) bool {
	if ours == theirs {
		return true
	}
	if vr != "FL" && vr != "FD" {
		return false
	}
	a, b := strings.Split(ours, `\`), strings.Split(theirs, `\`)
	for i := range a {
		if len(a) != len(b) {
			return false
		}
		x, errX := strconv.ParseFloat(a[i], 64)
		y, errY := strconv.ParseFloat(b[i], 64)
		// dcmdump prints FL with nine digits.
		if errX != nil || errY != nil || math.Abs(x-y) > 1e-8*math.Abs(y) {
			return false
		}
	}
	return true
}

// TestAgainstDump compares every element of every vector, tag, representation
// and value, with dcmdump of dcmtk.
func TestAgainstDump(t *testing.T) {
	tool := needTool(t, "dcmdump")
	compared := 0
	for name, data := range vectors(t) {
		f := mustParse(t, data)
		ours := append(ourDump(&f.Meta, 0), ourDump(&f.DataSet, 0)...)
		theirs := readDump(t, tool, filepath.Join("testdata", name))
		if len(ours) != len(theirs) {
			t.Errorf("%s: %d elements, dcmdump %d", name, len(ours), len(theirs))
			continue
		}
		for i, want := range theirs {
			got := ours[i]
			if got.depth != want.depth || got.tag != want.tag {
				t.Errorf("%s: element %d is %+v, dcmdump %+v", name, i, got, want)
				break
			}
			if got.vr == "SQ" || got.vr == "na" || f.Syntax.Encapsulated && got.tag == "7fe0,0010" {
				want.value = "" // dcmdump describes the content there
			}
			if got.vr == "UN" && f.Syntax.Implicit {
				continue // its dictionary is larger
			}
			if got.vr != want.vr || !sameValue(got.vr, got.value, want.value) {
				t.Errorf("%s: %s: %s %.80s, dcmdump %s %.80s", name, got.tag, got.vr, got.value, want.vr, want.value)
			}
			compared++
		}
	}
	if compared < 2000 {
		t.Errorf("%d elements compared, want at least 2000", compared)
	}
}

// TestDictionary compares every line with pydicom's dictionary (PS3.6).
func TestDictionary(t *testing.T) {
	python := needPydicom(t)
	const script = `
from pydicom.datadict import DicomDictionary as D
for tag, (vr, vm, name, retired, keyword) in D.items():
    print("%08X %s %s" % (tag, vr.replace(" ", ""), keyword))`
	out, err := exec.Command(python, "-c", script).Output()
	if err != nil {
		t.Fatalf("pydicom: %v", err)
	}
	theirs := map[Tag][2]string{}
	for _, line := range strings.Split(string(out), "\n") {
		if parts := strings.Fields(line); len(parts) == 3 {
			tag, err := strconv.ParseUint(parts[0], 16, 32)
			if err != nil {
				t.Fatal(err)
			}
			theirs[Tag(tag)] = [2]string{parts[1], parts[2]}
		}
	}
	if len(dictionary) < 300 || len(theirs) < 4000 {
		t.Fatalf("%d lines against %d", len(dictionary), len(theirs))
	}
	for tag, entry := range dictionary {
		want, ok := theirs[tag]
		allowed := strings.Split(want[0], "or")
		match := false
		for _, vr := range allowed {
			match = match || vr == string(entry.vr)
		}
		if !ok || !match || want[1] != entry.keyword {
			t.Errorf("%s: %s %s, pydicom %s %s", tag, entry.vr, entry.keyword, want[0], want[1])
		}
	}
}

// TestBigEndianNumbers reads a number of each kind from both byte orders.
func TestBigEndianNumbers(t *testing.T) {
	for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
		s := &DataSet{encoding: encoding{order: order}}
		s.Put(TagRows, "US", 512)
		s.Put(0x00209057, "UL", 70000)
		s.Put(0x00209165, "SL", -7)
		s.Put(0x00280106, "SS", -300)
		s.Put(TagAxialLength, "FL", 24.5)
		s.Put(0x00189073, "FD", -2.25)
		for tag, want := range map[Tag]float64{TagRows: 512, 0x00209057: 70000, 0x00209165: -7, 0x00280106: -300, TagAxialLength: 24.5, 0x00189073: -2.25} {
			if got, err := s.Floats(tag); err != nil || len(got) != 1 || got[0] != want {
				t.Errorf("%s: %s is %v, %v, want %g", order, tag, got, err, want)
			}
		}
	}
}
