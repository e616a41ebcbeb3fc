package scan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// sideFile is what a person wrote beside a scan. Nil and zero mean not said.
type sideFile struct {
	name          string
	scale         GivenScale
	eye           eye.Laterality
	axialLengthMM float64
	pattern       oct.Pattern
	anglesDeg     []float64
	acquired      time.Time
}

// sideFileKeys are all keys of a side file, in the order they are told.
var sideFileKeys = []string{"depth_um", "lateral_um", "slice_um", "eye", "axial_length_mm", "pattern", "slice_angles_deg", "acquired"}

// findSideFile looks for the side file of a path: one named after the path
// beside it, or one inside a folder or zip; failing those, for a single file or
// a zip, the scan.yaml beside it. Two of them are a fault, because nobody knows
// which is meant. The result is nil when there is none.
func findSideFile(p string, b *bundle) (*sideFile, error) {
	absolute, err := filepath.Abs(p)
	if err != nil {
		return nil, readFault(p, err)
	}
	folder, base := filepath.Split(absolute)
	stem := strings.TrimSuffix(base, filepath.Ext(base))
	var found []entry
	for _, e := range b.entries {
		if b.wrapper != "" && isSideFileName(path.Base(e.name), base, stem, "scan") {
			found = append(found, e)
		}
	}
	beside := func(names ...string) error {
		seen := map[string]bool{}
		for _, n := range names {
			for _, extension := range []string{".yaml", ".yml"} {
				full := filepath.Join(folder, n+extension)
				info, err := os.Stat(full)
				if errors.Is(err, fs.ErrNotExist) || seen[full] || full == absolute {
					continue
				}
				seen[full] = true
				if err != nil {
					return readFault(full, err)
				}
				if !info.Mode().IsRegular() {
					return &fault.Error{Code: fault.Invalid, Where: clean(n + extension), What: "has the name of a side file but is not a file"}
				}
				found = append(found, fileEntry(full, n+extension, info.Size()))
			}
		}
		return nil
	}
	if err := beside(base, stem); err != nil {
		return nil, err
	}
	if len(found) == 0 && b.wrapper != "folder of " {
		if err := beside("scan"); err != nil {
			return nil, err
		}
	}
	switch len(found) {
	case 0:
		return nil, nil
	case 1:
		data, err := found[0].read(maxSideFileBytes)
		if err != nil {
			return nil, err
		}
		return parseSideFile(found[0].name, data)
	}
	return nil, &fault.Error{
		Code: fault.Conflict, Where: clean(b.name),
		What: fmt.Sprintf("there are two side files, %s and %s", clean(found[0].name), clean(found[1].name)), Mend: "keep one",
	}
}

func isSideFileName(name string, stems ...string) bool {
	extension := path.Ext(name)
	if e := strings.ToLower(extension); e != ".yaml" && e != ".yml" {
		return false
	}
	for _, s := range stems {
		if strings.EqualFold(strings.TrimSuffix(name, extension), s) {
			return true
		}
	}
	return false
}

// parseSideFile reads a side file strictly: one level of known keys, each once,
// each with a plain value. Anchors and tags are refused, so a small file stays
// small.
func parseSideFile(name string, data []byte) (side *sideFile, err error) {
	defer func() {
		if r := recover(); r != nil {
			side, err = nil, sideFault(name, 0, "is not readable as YAML", "lines such as depth_um: 3.87")
		}
	}()
	file, err := parser.ParseBytes(bytes.TrimPrefix(data, []byte("\ufeff")), 0)
	if err != nil {
		return nil, sideFault(name, 0, "is not readable as YAML ("+firstLine(err.Error())+")", "lines such as depth_um: 3.87")
	}
	s := &sideFile{name: clean(name)}
	seen := map[string]bool{}
	for _, document := range file.Docs {
		var lines []*ast.MappingValueNode
		switch body := document.Body.(type) {
		case nil, *ast.CommentGroupNode, *ast.NullNode:
			continue
		case *ast.MappingNode:
			lines = body.Values
		case *ast.MappingValueNode:
			lines = []*ast.MappingValueNode{body}
		default:
			return nil, sideFault(name, lineOf(body), "does not hold keys and values", "lines such as depth_um: 3.87")
		}
		for _, l := range lines {
			key := l.Key.GetToken().Value
			if seen[key] {
				return nil, sideFault(name, lineOf(l.Key), fmt.Sprintf("the key %s stands twice", clean(key)), "")
			}
			seen[key] = true
			if err := s.set(key, l.Key, l.Value); err != nil {
				return nil, err
			}
		}
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	return s, nil
}

// check refuses keys that contradict each other.
func (s *sideFile) check() error {
	radial := s.pattern == oct.PatternRadial
	switch {
	case radial && s.anglesDeg == nil:
		return sideFault(s.name, 0, "a radial pattern needs slice_angles_deg", "one angle a slice")
	case !radial && s.anglesDeg != nil:
		return sideFault(s.name, 0, "slice_angles_deg is given, but pattern is not radial", "pattern: radial")
	case radial && s.scale.SliceUM != nil:
		return sideFault(s.name, 0, "slice_um is given, but radial slices cross at their middle", "no slice_um, or pattern: raster")
	}
	return nil
}

func sideFault(name string, line int, what, expected string) error {
	where := "side file"
	if line > 0 {
		where = fmt.Sprintf("side file, line %d", line)
	}
	return &fault.Error{Code: fault.Malformed, Where: place(name, where), What: what, Expected: expected}
}

func lineOf(n ast.Node) int {
	if t := n.GetToken(); t != nil && t.Position != nil {
		return t.Position.Line
	}
	return 0
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return clean(line)
}

// set takes one key.
func (s *sideFile) set(key string, at, value ast.Node) error {
	switch key {
	case "depth_um":
		return s.length(key, depthAxis, value, &s.scale.DepthUM)
	case "lateral_um":
		return s.length(key, lateralAxis, value, &s.scale.LateralUM)
	case "slice_um":
		return s.length(key, sliceAxis, value, &s.scale.SliceUM)
	case "axial_length_mm":
		mm, err := s.number(key, value)
		if err == nil {
			err = eye.CheckAxialLengthMM(mm)
		}
		s.axialLengthMM = mm
		return err
	case "slice_angles_deg":
		return s.angles(value)
	case "eye", "pattern", "acquired":
		text, err := s.text(key, value)
		if err != nil {
			return err
		}
		return s.word(key, lineOf(value), text)
	}
	mend := nearestKey(key)
	e := sideFault(s.name, lineOf(at), fmt.Sprintf("the key %s is not known", clean(key)), strings.Join(sideFileKeys, ", ")).(*fault.Error)
	if mend != "" {
		e.Mend = fmt.Sprintf("was %s meant?", mend)
	}
	return e
}

func (s *sideFile) word(key string, line int, text string) (err error) {
	switch key {
	case "eye":
		if s.eye, err = eye.ParseLaterality(text); err != nil {
			return sideFault(s.name, line, fmt.Sprintf("%q does not name a side", clean(text)), "right or left")
		}
	case "pattern":
		switch strings.ToLower(text) {
		case "raster":
			s.pattern = oct.PatternRaster
		case "radial":
			s.pattern = oct.PatternRadial
		default:
			return sideFault(s.name, line, fmt.Sprintf("%q is not a pattern", clean(text)), "raster or radial")
		}
	case "acquired":
		for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02 15:04", time.DateOnly} {
			if s.acquired, err = time.Parse(layout, text); err == nil {
				return nil
			}
		}
		return sideFault(s.name, line, fmt.Sprintf("%q is not a date", clean(text)), "such as 2024-03-31 or 2024-03-31 14:05")
	}
	return nil
}

func (s *sideFile) length(key string, a axis, value ast.Node, into **float64) error {
	um, err := s.number(key, value)
	if err != nil {
		return err
	}
	*into = &um
	return a.check(place(s.name, fmt.Sprintf("side file, line %d, %s", lineOf(value), key)), um)
}

func (s *sideFile) number(key string, value ast.Node) (float64, error) {
	text, err := s.text(key, value)
	if err != nil {
		return 0, err
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, sideFault(s.name, lineOf(value), fmt.Sprintf("%s: %q is not a number", key, clean(text)), "a number with a decimal point and no unit")
	}
	return x, nil
}

func (s *sideFile) angles(value ast.Node) error {
	list, ok := value.(*ast.SequenceNode)
	if !ok {
		return sideFault(s.name, lineOf(value), "slice_angles_deg is not a list", "such as [0, 30, 60]")
	}
	s.anglesDeg = []float64{}
	for _, v := range list.Values {
		x, err := s.number("slice_angles_deg", v)
		if err != nil {
			return err
		}
		if !(x >= -360 && x <= 360) {
			return sideFault(s.name, lineOf(v), fmt.Sprintf("slice_angles_deg: %g° cannot be", x), "−360 to 360")
		}
		s.anglesDeg = append(s.anglesDeg, x)
	}
	return nil
}

// text returns a plain value as written.
func (s *sideFile) text(key string, value ast.Node) (string, error) {
	switch v := value.(type) {
	case *ast.StringNode:
		return strings.TrimSpace(v.Value), nil
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode, *ast.BoolNode:
		return strings.TrimPrefix(v.GetToken().Value, "."), nil
	}
	return "", sideFault(s.name, lineOf(value), key+" has no plain value", "one value behind the colon")
}

// nearestKey returns the known key that shares most of its letters with an
// unknown one, empty when none is near.
func nearestKey(key string) string {
	best, bestDistance := "", 4
	for _, known := range sideFileKeys {
		if d := editDistance(strings.ToLower(key), known); d < bestDistance {
			best, bestDistance = known, d
		}
	}
	return best
}

// editDistance counts insertions, deletions and replacements (Levenshtein).
func editDistance(a, b string) int {
	if len(a) > 64 {
		return len(a)
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
