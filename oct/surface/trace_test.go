package surface_test

import (
	"context"
	"errors"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/internal/exchange/scan"
	"limitans/oct"
	"limitans/oct/surface"
)

// loadHole reads the open volume of a real hole; the scale comes from its side
// file or is not needed.
func loadHole(t testing.TB) *oct.Volume {
	t.Helper()
	v, err := scan.Open(t.Context(), filepath.Join("..", "..", "testdata", "macular-hole-volume", "macular-hole-volume.tif"), scan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	given := func(um float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "README of the volume"}
	}
	v.Scale = oct.Scale{Depth: given(3.87), Lateral: given(5.77), Slice: given(31)}
	v.Pattern = oct.PatternRaster
	return v
}

// The hole volume is traced once for all tests on it.
var (
	traceHoleOnce sync.Once
	holeSurfaces  *surface.Surfaces
)

func tracedHole(t testing.TB) *surface.Surfaces {
	t.Helper()
	traceHoleOnce.Do(func() {
		s, err := surface.Trace(context.Background(), loadHole(t), surface.Options{})
		if err != nil {
			t.Fatal(err)
		}
		holeSurfaces = s
	})
	if holeSurfaces == nil {
		t.Fatal("the hole volume could not be traced")
	}
	return holeSurfaces
}

// README of macular-hole-volume: the pigment epithelium lies on rows 165 to 167
// of every page, band to accept 163 to 169. The band is that of the brightest
// row; the centre of a band 24 µm thick (6 rows) that is brighter on its upper
// side lies up to half a row deeper, so 169.5 is accepted below.
func TestHoleVolumeEpithelium(t *testing.T) {
	s := tracedHole(t)
	for slice := range s.PigmentEpithelium.Slices {
		var rows []float64
		for c := range s.PigmentEpithelium.Columns {
			if s.PigmentEpithelium.Traced(slice, c) {
				rows = append(rows, s.PigmentEpithelium.At(slice, c))
			}
		}
		if len(rows) < 190 {
			t.Errorf("page %d: traced on %d of 200 columns", slice, len(rows))
			continue
		}
		slices.Sort(rows)
		if middle := rows[len(rows)/2]; !(middle >= 163 && middle <= 169.5) {
			t.Errorf("page %d: median row %.2f, README band 163 to 169", slice, middle)
		}
		// Flattened by its authors: no column leaves the band by more than
		// 15 µm, four rows.
		if rows[0] < 159 || rows[len(rows)-1] > 173.5 {
			t.Errorf("page %d: rows %.1f to %.1f", slice, rows[0], rows[len(rows)-1])
		}
		// The inner edge lies above the centre, by half of a band of 15 to 45 µm.
		for c := range s.PigmentEpithelium.Columns {
			if !s.PigmentEpitheliumInnerEdge.Traced(slice, c) {
				continue
			}
			if d := s.PigmentEpithelium.At(slice, c) - s.PigmentEpitheliumInnerEdge.At(slice, c); !(d > 0 && d*3.87 < 45) {
				t.Errorf("page %d column %d: inner edge %.2f rows above the centre", slice, c, d)
			}
		}
	}
}

// README: the waist is open on pages 21 to 32 (± 1), so on 22 to 31 there is a
// stretch without an inner line, of at least 30 columns (173 µm; the widest is
// 66), around the hole's middle near column 100. Beyond pages 18 to 36, where the
// base ends, the inner line runs through.
func TestHoleVolumeMembraneEndsAtTheHole(t *testing.T) {
	s := tracedHole(t)
	line := s.InnerLimitingMembrane
	for slice := range line.Slices {
		run, widest, at := 0, 0, 0
		for c := range line.Columns {
			if line.Traced(slice, c) {
				run = 0
				continue
			}
			run++
			if run > widest {
				widest, at = run, c-run/2
			}
		}
		switch {
		case slice >= 23 && slice <= 30:
			if widest < 30 || at < 60 || at > 140 {
				t.Errorf("page %d: the longest stretch without a line is %d columns around %d", slice, widest, at)
			}
		case slice == 22 || slice == 31:
			if widest < 10 {
				t.Errorf("page %d: the longest stretch without a line is %d columns", slice, widest)
			}
		case slice < 17 || slice > 37:
			if widest > 3 {
				t.Errorf("page %d: no inner line on %d columns around %d, though the retina is whole", slice, widest, at)
			}
		}
	}
}

// README: an operculum at rows 0 to 55 of pages 26 to 29 is bright tissue that is
// not the inner limiting membrane. The rims reach row 71 at the highest (page 24);
// no line may lie above row 60 anywhere.
func TestHoleVolumeOperculumNotJoined(t *testing.T) {
	line := tracedHole(t).InnerLimitingMembrane
	for slice := range line.Slices {
		for c := range line.Columns {
			if line.Traced(slice, c) && line.At(slice, c) < 60 {
				t.Errorf("page %d column %d: inner line at row %.1f", slice, c, line.At(slice, c))
			}
		}
	}
	bright := 0
	v := loadHole(t)
	for slice := 26; slice <= 29; slice++ {
		for _, x := range v.Slice(slice)[:40*v.Columns] {
			if x > 100 {
				bright++
			}
		}
	}
	if bright < 200 {
		t.Errorf("%d bright samples at the top of pages 26 to 29: the operculum is not where this test looks", bright)
	}
}

// README, left rim of page 24: rows 71 to 163, 356 µm, band 330 to 380 µm to the
// pigment epithelium.
func TestHoleVolumeRimHeight(t *testing.T) {
	s := tracedHole(t)
	highest := math.Inf(1)
	for c := range 100 {
		if r := s.InnerLimitingMembrane.At(24, c); r < highest {
			highest = r
		}
	}
	if um := (s.PigmentEpithelium.At(24, 50) - highest) * 3.87; !(um >= 330 && um <= 380) {
		t.Errorf("left rim of page 24 stands %.0f µm over the epithelium", um)
	}
}

// What is said of every column is consistent: confidence lies in 0 to 1 and is 0
// where there is no line; lines lie in the frame and in their order.
func checkSurfaces(t interface{ Fatalf(string, ...any) }, v *oct.Volume, s *surface.Surfaces) {
	for _, line := range []*surface.Surface{s.InnerLimitingMembrane, s.PigmentEpithelium, s.PigmentEpitheliumInnerEdge} {
		if line.Slices != v.Slices || line.Columns != v.Columns || len(line.Row) != v.Slices*v.Columns || len(line.Confidence) != len(line.Row) {
			t.Fatalf("%s has another size than the scan", line.Name)
		}
		for i, r := range line.Row {
			confidence := line.Confidence[i]
			switch {
			case !(confidence >= 0 && confidence <= 1):
				t.Fatalf("%s: confidence %g", line.Name, confidence)
			case r != r && confidence != 0:
				t.Fatalf("%s: confidence %g without a line", line.Name, confidence)
			case r < 0 || float64(r) > float64(v.Rows-1) || math.IsInf(float64(r), 0):
				t.Fatalf("%s: row %g of %d", line.Name, r, v.Rows)
			}
		}
	}
	for i, r := range s.PigmentEpithelium.Row {
		if m := s.InnerLimitingMembrane.Row[i]; m >= r {
			t.Fatalf("inner line at %g, epithelium at %g", m, r)
		}
	}
	if !(s.EdgeShare >= 0.49 && s.EdgeShare <= 0.85) || len(s.Levels) != v.Slices {
		t.Fatalf("edge share %g, %d levels", s.EdgeShare, len(s.Levels))
	}
}

func TestTraceIsConsistent(t *testing.T) {
	checkSurfaces(t, loadHole(t), tracedHole(t))
	for _, name := range pictures {
		v := loadPicture(t, name)
		s, _ := traced(t, v)
		checkSurfaces(t, v, s)
	}
}

// Tracing twice gives the same rows, whatever the goroutines do, and leaves the
// samples alone.
func TestTraceRepeats(t *testing.T) {
	v := loadHole(t)
	sum := func() uint64 {
		h := fnv.New64a()
		for _, x := range v.Samples {
			h.Write([]byte{byte(x), byte(x >> 8)})
		}
		return h.Sum64()
	}
	before := sum()
	first := tracedHole(t)
	second, err := surface.Trace(t.Context(), v, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if sum() != before {
		t.Error("the samples were changed")
	}
	for i := range first.InnerLimitingMembrane.Row {
		for _, pair := range [][2]*surface.Surface{
			{first.InnerLimitingMembrane, second.InnerLimitingMembrane},
			{first.PigmentEpithelium, second.PigmentEpithelium},
			{first.PigmentEpitheliumInnerEdge, second.PigmentEpitheliumInnerEdge},
		} {
			if math.Float32bits(pair[0].Row[i]) != math.Float32bits(pair[1].Row[i]) {
				t.Fatalf("%s differs at %d: %g and %g", pair[0].Name, i, pair[0].Row[i], pair[1].Row[i])
			}
		}
	}
}

// Mirroring the columns mirrors the lines: nothing prefers a side. Paths of
// equal cost may differ, so a few columns may.
func TestTraceMirrored(t *testing.T) {
	v := loadHole(t)
	mirrored := *v
	mirrored.Samples = make([]uint16, len(v.Samples))
	for i, x := range v.Samples {
		mirrored.Samples[i-i%v.Columns+v.Columns-1-i%v.Columns] = x
	}
	first := tracedHole(t)
	second, err := surface.Trace(t.Context(), &mirrored, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, pair := range [][2]*surface.Surface{
		{first.InnerLimitingMembrane, second.InnerLimitingMembrane}, {first.PigmentEpithelium, second.PigmentEpithelium},
	} {
		different := 0
		for slice := range v.Slices {
			for c := range v.Columns {
				a, b := pair[0].At(slice, c), pair[1].At(slice, v.Columns-1-c)
				if !(math.Abs(a-b) < 0.5) && !(math.IsNaN(a) && math.IsNaN(b)) {
					different++
				}
			}
		}
		if share := float64(different) / float64(len(v.Samples)/v.Rows); share > 0.01 {
			t.Errorf("%s: %.2f %% of columns differ in a mirrored scan", pair[0].Name, 100*share)
		}
	}
}

// noise is a volume of independent values.
func noise(slices, rows, columns int, seed uint64) *oct.Volume {
	rng := rand.New(rand.NewPCG(seed, 1))
	v := &oct.Volume{Slices: slices, Rows: rows, Columns: columns, BitDepth: 8, Samples: make([]uint16, slices*rows*columns), Pattern: oct.PatternRaster}
	for i := range v.Samples {
		v.Samples[i] = uint16(rng.IntN(256))
	}
	return v
}

func TestTraceRefuses(t *testing.T) {
	constant := noise(2, 40, 40, 1)
	for i := range constant.Samples {
		constant.Samples[i] = 77
	}
	broken := noise(1, 32, 32, 1)
	broken.Samples = broken.Samples[:5]
	for _, test := range []struct {
		name string
		v    *oct.Volume
		want fault.Code
	}{
		{"too few rows", noise(1, 15, 64, 1), fault.NotMeasurable},
		{"too few columns", noise(1, 64, 15, 1), fault.NotMeasurable},
		{"constant", constant, fault.NotMeasurable},
		{"contradicts itself", broken, fault.Malformed},
	} {
		s, err := surface.Trace(t.Context(), test.v, surface.Options{})
		if fault.CodeOf(err) != test.want || s != nil && test.want == fault.Malformed {
			t.Errorf("%s: %v", test.name, err)
		}
	}
}

// A blank slice among good ones is named and stays untraced; its neighbours keep
// their lines.
func TestTraceBlankSlice(t *testing.T) {
	v := loadHole(t)
	blank := *v
	blank.Samples = slices.Clone(v.Samples)
	clear(blank.Slice(10))
	s, err := surface.Trace(t.Context(), &blank, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Levels[10].Traceable || !strings.Contains(strings.Join(s.Warnings, "\n"), "slice 10") {
		t.Errorf("the blank slice: %+v, warnings %q", s.Levels[10], s.Warnings)
	}
	for c := range v.Columns {
		if s.PigmentEpithelium.Traced(10, c) || s.InnerLimitingMembrane.Traced(10, c) {
			t.Fatalf("a line on a blank slice at column %d", c)
		}
	}
	whole := tracedHole(t)
	for _, slice := range []int{8, 9, 11, 12} {
		for c := range v.Columns {
			if d := s.PigmentEpithelium.At(slice, c) - whole.PigmentEpithelium.At(slice, c); math.Abs(d) > 1 {
				t.Errorf("page %d column %d moved by %.2f rows beside a blank slice", slice, c, d)
			}
		}
	}
}

// Nothing panics and all results are consistent on whatever small scans.
func TestTraceOnAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := noise(rapid.IntRange(1, 4).Draw(t, "slices"), rapid.IntRange(16, 40).Draw(t, "rows"), rapid.IntRange(16, 40).Draw(t, "columns"), rapid.Uint64().Draw(t, "seed"))
		slope := rapid.IntRange(-6, 6).Draw(t, "slope")
		keep := rapid.IntRange(0, 2).Draw(t, "noise")
		for i := range v.Samples {
			row := i / v.Columns % v.Rows
			v.Samples[i] = uint16(min(max(128+slope*(row-v.Rows/2)+keep*(int(v.Samples[i])-128)/2, 0), 255))
		}
		s, err := surface.Trace(context.Background(), v, surface.Options{})
		if err != nil {
			if fault.CodeOf(err) != fault.NotMeasurable {
				t.Fatal(err)
			}
			return
		}
		checkSurfaces(t, v, s)
	})
}

// A cancelled call ends with the context's error, before the work is done, and
// leaves no goroutine behind.
func TestTraceCancelled(t *testing.T) {
	v := loadHole(t)
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(t.Context())
	var last atomic.Int64
	_, err := surface.Trace(ctx, v, surface.Options{Progress: func(done, total int) {
		last.Store(int64(done))
		cancel()
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the context's error", err)
	}
	if done := int(last.Load()); done > v.Slices {
		t.Errorf("%d pieces of work were done after the end", done)
	}
	for range 200 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond) // not a bound on speed: goroutines need a turn to end
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// Progress counts up to its total, once each.
func TestTraceProgress(t *testing.T) {
	v := loadPicture(t, pictures[0])
	var mutex sync.Mutex
	var all []int
	total := 0
	if _, err := surface.Trace(t.Context(), v, surface.Options{Progress: func(done, of int) {
		mutex.Lock()
		defer mutex.Unlock()
		all, total = append(all, done), of
	}}); err != nil {
		t.Fatal(err)
	}
	slices.Sort(all)
	for i, done := range all {
		if done != i+1 {
			t.Fatalf("progress %v", all)
		}
	}
	if len(all) != total {
		t.Errorf("%d of %d reported", len(all), total)
	}
}

func TestNewSurface(t *testing.T) {
	s := surface.New("line", 2, 3)
	if s.TracedShare() != 0 || s.Traced(1, 2) || !math.IsNaN(s.At(0, 0)) {
		t.Errorf("a new surface is traced: %+v", s)
	}
	s.Row[1*3+2] = 7.5
	if !s.Traced(1, 2) || s.At(1, 2) != 7.5 || math.Abs(s.TracedShare()-1.0/6) > 1e-15 {
		t.Errorf("%+v, share %g", s, s.TracedShare())
	}
}
