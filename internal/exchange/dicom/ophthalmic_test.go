package dicom

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// invented returns a small scan with every figure this package can write.
func invented(slices, bits int) *oct.Volume {
	v := &oct.Volume{
		Slices: slices, Rows: 9, Columns: 7, BitDepth: bits, Pattern: oct.PatternRaster, Laterality: eye.Left,
		Samples: make([]uint16, slices*9*7),
		Scale: oct.Scale{
			Depth:   oct.AxisScale{MicrometresPerSample: 3.87, Trust: oct.TrustUserGiven},
			Lateral: oct.AxisScale{MicrometresPerSample: 100.0 / 7, Trust: oct.TrustFileGiven},
			Slice:   oct.AxisScale{MicrometresPerSample: 61.3, Trust: oct.TrustFileGiven},
		},
		Acquisition: oct.Acquisition{AxialLengthMM: 27.31, Model: `Müller\2`},
	}
	for i := range v.Samples {
		v.Samples[i] = uint16(i*31) & v.MaxSample()
	}
	return v
}

func radial(slices int) *oct.Volume {
	v := invented(slices, 8)
	v.Pattern, v.Scale.Slice = oct.PatternRadial, oct.AxisScale{}
	for k := range slices {
		v.SliceAnglesDeg = append(v.SliceAnglesDeg, float64(k)*180/float64(slices))
	}
	return v
}

var inventedMeta = OphthalmicMeta{Seed: "test", At: time.Date(2024, 2, 29, 8, 30, 0, 0, time.FixedZone("", 3600))}

// contradiction lists what dciodvfy 1.00 says of every truthful object that is
// no concatenation: its Ophthalmic Tomography module wants the three attributes
// (Type 1, as PS3.3 C.8.17.7 does), its Multi-frame Functional Groups module
// does not (Type 1C). Without them it reports three other errors.
var contradiction = map[string]bool{
	"Error - Cannot be less than or equal to one since then not a Concatenation - attribute <InConcatenationTotalNumber>":                                                                              true,
	"Error - Attribute present when condition unsatisfied (which may not be present otherwise) Type 1C Conditional Element=<InConcatenationNumber> Module=<MultiFrameFunctionalGroupsCommon>":          true,
	"Error - Attribute present when condition unsatisfied (which may not be present otherwise) Type 1C Conditional Element=<ConcatenationFrameOffsetNumber> Module=<MultiFrameFunctionalGroupsCommon>": true,
}

// TestObjectAgainstItsDefinition checks written objects with dciodvfy (Debian
// dicom3tools), which knows the modules of PS3.3.
func TestObjectAgainstItsDefinition(t *testing.T) {
	tool := needTool(t, "dciodvfy")
	single := invented(1, 8)
	single.Pattern, single.Scale.Slice = oct.PatternSingle, oct.AxisScale{}
	odd := invented(1, 5)
	odd.Pattern, odd.Acquisition.AxialLengthMM, odd.Acquisition.Lossy = oct.PatternSingle, 0, true
	meta := inventedMeta
	meta.LossyRatio, meta.LossyMethod = 7.5, "ISO_10918_1"
	for name, v := range map[string]*oct.Volume{"raster 8": invented(3, 8), "raster 12": invented(2, 12), "raster 16": invented(2, 16), "radial": radial(6), "single": single, "odd": odd} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "object.dcm")
			var out bytes.Buffer
			if err := WriteOphthalmicTomography(&out, v, meta); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			said, err := exec.Command(tool, path).CombinedOutput()
			if err != nil && len(said) == 0 {
				t.Fatal(err)
			}
			if !strings.Contains(string(said), "OphthalmicTomographyImage") {
				t.Errorf("dciodvfy does not recognise the object:\n%s", said)
			}
			for _, line := range strings.Split(string(said), "\n") {
				if contradiction[line] {
					continue
				}
				if strings.Contains(line, "Error") || strings.Contains(line, "Warning") {
					t.Error(line)
				}
			}
		})
	}
}

// TestObjectRefusals: what the object cannot state truly is not written.
func TestObjectRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*oct.Volume, *OphthalmicMeta)
		want   string
	}{
		"side":           {func(v *oct.Volume, _ *OphthalmicMeta) { v.Laterality = eye.SideUnknown }, "side"},
		"depth unknown":  {func(v *oct.Volume, _ *OphthalmicMeta) { v.Scale.Depth = oct.AxisScale{} }, "depth scale"},
		"assumed":        {func(v *oct.Volume, _ *OphthalmicMeta) { v.Scale.Lateral.Trust = oct.TrustAssumed }, "lateral scale"},
		"slice unknown":  {func(v *oct.Volume, _ *OphthalmicMeta) { v.Scale.Slice = oct.AxisScale{} }, "slice scale"},
		"pattern":        {func(v *oct.Volume, _ *OphthalmicMeta) { v.Pattern = oct.PatternUnknown }, "pattern"},
		"single of many": {func(v *oct.Volume, _ *OphthalmicMeta) { v.Pattern = oct.PatternSingle }, "pattern"},
		"time":           {func(_ *oct.Volume, m *OphthalmicMeta) { m.At = time.Time{} }, "time"},
		"lossy":          {func(v *oct.Volume, _ *OphthalmicMeta) { v.Acquisition.Lossy = true }, "lossy"},
		"bit depth":      {func(v *oct.Volume, _ *OphthalmicMeta) { v.Samples[5] = 300 }, "samples"},
	} {
		v, meta := invented(2, 8), inventedMeta
		c.change(v, &meta)
		var out bytes.Buffer
		err := WriteOphthalmicTomography(&out, v, meta)
		if fault.CodeOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), c.want) || out.Len() != 0 {
			t.Errorf("%s: %v, %d bytes written", name, err, out.Len())
		}
	}
}

// TestObjectIsDeterministic: one seed, one object; another seed, other UIDs.
func TestObjectIsDeterministic(t *testing.T) {
	write := func(seed string) []byte {
		meta := inventedMeta
		meta.Seed = seed
		var out bytes.Buffer
		if err := WriteOphthalmicTomography(&out, invented(2, 8), meta); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}
	a, b := write("a"), write("b")
	if !bytes.Equal(a, write("a")) || bytes.Equal(a, b) {
		t.Error("the same seed must give the same bytes, another one others")
	}
	f := mustParse(t, a)
	for _, tag := range []Tag{TagSOPInstance, TagSeriesInstance, 0x0020000D, 0x00200052} {
		uid, err := f.Text(tag, &f.DataSet)
		if err != nil || !strings.HasPrefix(uid, "2.25.") || len(uid) > 64 || bytes.Contains(b, []byte(uid)) {
			t.Errorf("%s: %q, %v", tag, uid, err)
		}
	}
}
