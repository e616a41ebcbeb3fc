package intake

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"image/png"
	"math/rand/v2"
	"reflect"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/vault"
	"limitans/oct"
	"limitans/oct/measure"
	"limitans/oct/phantom"
)

// TestLinesComeBack: lines that were kept give the figures that they gave
// before, to the last digit.
func TestLinesComeBack(t *testing.T) {
	p := phantom.Draw(rand.New(rand.NewPCG(1, 2)), phantom.Medium)
	p.Slices, p.Rows, p.Columns, p.LateralUM, p.SliceUM = 9, 320, 256, 20, 120
	v, _, err := phantom.Make(p)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := measure.Volume(t.Context(), v, measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	files, err := vault.Open(t.Context(), t.TempDir(), vault.Options{})
	if err != nil {
		t.Fatal(err)
	}
	ref, err := KeepLines(t.Context(), files, whole)
	if err != nil {
		t.Fatal(err)
	}
	slice, picture, err := FirstPicture(t.Context(), files, ref)
	if err != nil || slice != whole.Hole.WidestSlice+1 {
		t.Errorf("first picture: slice %d, %v", slice, err)
	}
	if m, err := png.Decode(bytes.NewReader(picture)); err != nil || m.Bounds().Dx() != v.Columns || m.Bounds().Dy() != v.Rows {
		t.Errorf("first picture: %v", err)
	}
	lines, err := ReadLines(t.Context(), files, ref)
	if err != nil {
		t.Fatal(err)
	}
	again, err := measure.Lines(t.Context(), v, lines, measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	first, _ := json.Marshal(whole)
	second, _ := json.Marshal(again)
	if !bytes.Equal(first, second) {
		t.Errorf("figures differ:\n%s\n%s", first, second)
	}
	if lines.EdgeShare != whole.Traced.EdgeShare || !reflect.DeepEqual(lines.Levels, whole.Traced.Levels) {
		t.Errorf("%+v", lines.Levels)
	}
}

// TestBrokenLines: a damaged file of lines is a fault and never a crash.
func TestBrokenLines(t *testing.T) {
	pack := func(head string, bytesOfData int) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		if head != "" {
			w, _ := z.Create(linesHead)
			_, _ = w.Write([]byte(head))
		}
		w, _ := z.Create(linesData)
		_, _ = w.Write(make([]byte, bytesOfData))
		_ = z.Close()
		return b.Bytes()
	}
	four, level := `"surfaces":["a","b","c","d"]`, `"levels":[{}]`
	for name, packed := range map[string][]byte{
		"nothing":         {},
		"no zip":          []byte("lines"),
		"no head":         pack("", 32),
		"head is no JSON": pack("{", 32),
		"no size":         pack("{}", 32),
		"a huge size":     pack(`{"slices":20000,"rows":1,"columns":20000,`+four+`,`+level+`}`, 32),
		"too few levels":  pack(`{"slices":2,"rows":9,"columns":1,`+four+`,`+level+`}`, 64),
		"three surfaces":  pack(`{"slices":1,"rows":9,"columns":1,"surfaces":["a","b","c"],`+level+`}`, 32),
		"too short":       pack(`{"slices":1,"rows":9,"columns":1,`+four+`,`+level+`}`, 31),
		"too long":        pack(`{"slices":1,"rows":9,"columns":1,`+four+`,`+level+`}`, 33),
	} {
		if _, err := unpackLines(packed); err == nil || fault.CodeOf(err) == fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := unpackLines(pack(`{"slices":1,"rows":9,"columns":1,`+four+`,`+level+`}`, 32)); err != nil {
		t.Errorf("what is whole is refused: %v", err)
	}
}

// TestScaleMakesAnotherMeasurement: figures of another scale are no repetition.
func TestScaleMakesAnotherMeasurement(t *testing.T) {
	at := func(um float64) *record.HoleFigures {
		return &record.HoleFigures{Source: record.FiguresAutomatic, Document: scaleDocument(oct.Scale{Depth: oct.AxisScale{MicrometresPerSample: um}})}
	}
	if equal(at(3), at(4)) || !equal(at(3), at(3)) || !equal(at(3), &record.HoleFigures{Source: record.FiguresAutomatic}) {
		t.Error("the scale does not tell measurements apart")
	}
}
