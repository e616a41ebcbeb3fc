package measure_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"hash/fnv"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/scan"
	"limitans/oct"
	"limitans/oct/measure"
)

// loadHole reads the open volume of a real hole with the scale of its README.
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
	v.Notes = nil // the reader's are about the scale that is given here
	return v
}

// plainResult measures the hole volume without options, once for all tests.
var plainResult struct {
	once   sync.Once
	result *measure.Result
	err    error
}

func measuredHole(t testing.TB) *measure.Result {
	t.Helper()
	plainResult.once.Do(func() {
		plainResult.result, plainResult.err = measure.Volume(context.Background(), loadHole(t), measure.Options{})
	})
	if plainResult.err != nil || plainResult.result == nil {
		t.Fatal(plainResult.err)
	}
	return plainResult.result
}

// hashOf covers everything of a volume a caller could see changed.
func hashOf(v *oct.Volume) uint64 {
	h := fnv.New64a()
	for _, x := range v.Samples {
		h.Write([]byte{byte(x), byte(x >> 8)})
	}
	rest := *v
	rest.Samples = nil
	data, err := json.Marshal(rest)
	if err != nil {
		panic(err)
	}
	h.Write(data)
	return h.Sum64()
}

func TestCallersVolumeUnchanged(t *testing.T) {
	v := loadHole(t)
	v.Notes = append(make([]string, 0, 8), "a note") // room to append into by mistake
	before := hashOf(v)
	r, err := measure.Volume(t.Context(), v, measure.Options{AxialLengthMM: 25, Now: time.Date(2024, 5, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if hashOf(v) != before || v.Notes[:2][1] != "" {
		t.Error("the caller's volume was changed")
	}
	if !slices.Contains(r.Warnings, "a note") {
		t.Errorf("what the reader noticed is not passed on: %q", r.Warnings)
	}
}

// Two runs give the same document, whatever the goroutines do.
func TestTwoRunsAreEqual(t *testing.T) {
	first, err := json.Marshal(measuredHole(t))
	if err != nil {
		t.Fatal(err)
	}
	again, err := measure.Volume(t.Context(), loadHole(t), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	second, err := json.Marshal(again)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first, second) {
		t.Errorf("two runs differ:\n%s\n%s", first, second)
	}
	if !bytes.Contains(first, []byte(`"mld_um"`)) {
		t.Error("the document holds no diameter")
	}
}

// With the axial length both values are given: lengths times
// (AL − 1.82)/(24.46 − 1.82), areas and volumes times its square, depth
// untouched. Worked example 23 and hard case 38 (factor 1.289 at 31 mm) of the
// reference; half a unit of the last digit printed.
func TestAxialLengthCorrection(t *testing.T) {
	for axialLengthMM, factor := range map[float64]float64{22: 0.8913, 26: 1.0680, 31: 1.2889} {
		r, err := measure.Volume(t.Context(), loadHole(t), measure.Options{AxialLengthMM: axialLengthMM})
		if err != nil {
			t.Fatal(err)
		}
		plain, c := measuredHole(t).Hole, r.LateralCorrection
		if !c.Corrected || c.AxialLengthMM != axialLengthMM || c.ReferenceMM != 24.46 || math.Abs(c.Factor.Value-factor) > 0.5e-4 {
			t.Errorf("%g mm: %+v, want the factor %g", axialLengthMM, c.Factor, factor)
		}
		for name, pair := range map[string]struct {
			displayed, corrected estimate.Estimate
			power                float64
		}{
			"mld": {plain.MLDUM, c.MLDUM, 1}, "visible": {plain.VisibleMLDUM, c.VisibleMLDUM, 1}, "base": {plain.BaseUM, c.BaseUM, 1}, "opening": {plain.OpeningUM, c.OpeningUM, 1},
			"small": {plain.MinSection.SmallUM, c.SmallUM, 1}, "large": {plain.MinSection.LargeUM, c.LargeUM, 1},
			"area": {plain.MinSection.AreaMM2, c.AreaMM2, 2}, "volume": {plain.VolumeMM3, c.VolumeMM3, 2},
		} {
			want := pair.displayed.Value * math.Pow((axialLengthMM-1.82)/(24.46-1.82), pair.power)
			if !(math.Abs(pair.corrected.Value-want) <= 1e-9*want) {
				t.Errorf("%g mm, %s: corrected %g, want %g", axialLengthMM, name, pair.corrected.Value, want)
			}
			relative := func(e estimate.Estimate) float64 { return (e.High - e.Low) / e.Value }
			if !(relative(pair.corrected) > relative(pair.displayed)) {
				t.Errorf("%g mm, %s: the factor's own error is left out: %+v from %+v", axialLengthMM, name, pair.corrected, pair.displayed)
			}
		}
		for name, pair := range map[string][2]estimate.Estimate{
			"displayed mld": {plain.MLDUM, r.Hole.MLDUM}, "height": {plain.HeightUM, r.Hole.HeightUM},
			"left rim": {plain.HeightLeftUM, r.Hole.HeightLeftUM}, "right rim": {plain.HeightRightUM, r.Hole.HeightRightUM},
		} {
			if pair[0] != pair[1] {
				t.Errorf("%g mm: %s changed from %+v to %+v", axialLengthMM, name, pair[0], pair[1])
			}
		}
		if len(c.SizeClass) == 0 || !strings.Contains(c.Note, "depth is not corrected") {
			t.Errorf("%g mm: note %q, %d classes", axialLengthMM, c.Note, len(c.SizeClass))
		}
	}
}

// Hard case 41: without an axial length nothing is corrected, it says so, and the
// span over eyes of 21 to 31 mm is × 0.85 to × 1.29.
func TestNoAxialLength(t *testing.T) {
	c := measuredHole(t).LateralCorrection
	for _, e := range []estimate.Estimate{c.Factor, c.MLDUM, c.VisibleMLDUM, c.BaseUM, c.OpeningUM, c.SmallUM, c.LargeUM, c.AreaMM2, c.VolumeMM3} {
		if e.Known() || !strings.Contains(e.Basis, "not corrected") {
			t.Errorf("%+v", e)
		}
	}
	if c.Corrected || len(c.SizeClass) != 0 || !strings.Contains(c.Note, "0.85") || !strings.Contains(c.Note, "1.29") || !strings.Contains(c.Note, "not corrected") {
		t.Errorf("%+v", c)
	}
}

// The caller's axial length wins over the file's, and the file's is used when
// the caller has none.
func TestWhoseAxialLength(t *testing.T) {
	for _, test := range []struct{ file, caller, want float64 }{{26, 0, 26}, {26, 23, 23}, {0, 23, 23}} {
		v := loadHole(t)
		v.Acquisition.AxialLengthMM = test.file
		r, err := measure.Volume(t.Context(), v, measure.Options{AxialLengthMM: test.caller})
		if err != nil {
			t.Fatal(err)
		}
		if r.LateralCorrection.AxialLengthMM != test.want {
			t.Errorf("file %g, caller %g: %g was used", test.file, test.caller, r.LateralCorrection.AxialLengthMM)
		}
	}
}

func TestImpossibleOptions(t *testing.T) {
	v := loadHole(t)
	for _, mm := range []float64{310, -24, 3, math.NaN(), math.Inf(1)} {
		if _, err := measure.Volume(t.Context(), v, measure.Options{AxialLengthMM: mm}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("axial length %g: %v", mm, err)
		}
	}
	_, err := measure.Volume(t.Context(), v, measure.Options{AxialLengthMM: 310})
	if err == nil || !strings.Contains(err.Error(), "31 mm meant") {
		t.Errorf("%v does not ask whether 31 mm was meant", err)
	}
	v.Acquisition.AxialLengthMM = 235 // a file can be wrong too
	if r, err := measure.Volume(t.Context(), v, measure.Options{}); err == nil && r.LateralCorrection.Corrected {
		t.Errorf("an impossible axial length of the file was used: %+v", r.LateralCorrection)
	}
	v.Acquisition.AxialLengthMM = 0
	v.Samples = v.Samples[1:]
	if _, err := measure.Volume(t.Context(), v, measure.Options{}); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("a sample missing: %v", err)
	}
}

func has(warnings []string, part string) bool {
	return strings.Contains(strings.Join(warnings, "\n"), part)
}

// Scans older than four weeks are to be made again before surgery (Baumann et
// al. 2021: holes grew by 57 ± 69 µm in 28.6 ± 7.5 days). Time is an input.
func TestAgeOfScan(t *testing.T) {
	now := time.Date(2024, 3, 29, 12, 0, 0, 0, time.UTC)
	for _, test := range []struct {
		name        string
		now, taken  time.Time
		old, future bool
	}{
		{"the same day", now, now, false, false},
		{"four weeks to the hour", now, now.Add(-28 * 24 * time.Hour), false, false},
		{"four weeks and a minute", now, now.Add(-28*24*time.Hour - time.Minute), true, false},
		{"a year", now, now.AddDate(-1, 0, 0), true, false},
		{"another time zone, an hour ahead", now, now.Add(time.Hour), false, false},
		{"two days ahead", now, now.Add(48 * time.Hour), false, true},
		{"no time to compare with", time.Time{}, now.AddDate(-1, 0, 0), false, false},
		{"date of the scan not known", now, time.Time{}, false, false},
	} {
		v := loadHole(t)
		v.Slices, v.Samples = 3, v.Samples[24*v.Rows*v.Columns:27*v.Rows*v.Columns]
		v.Acquisition.AcquiredAt = test.taken
		r, err := measure.Volume(t.Context(), v, measure.Options{Now: test.now})
		if err != nil {
			t.Fatal(err)
		}
		if has(r.Warnings, "days old") != test.old || has(r.Warnings, "future") != test.future {
			t.Errorf("%s: %q", test.name, r.Warnings)
		}
		if got := r.Scan.AcquiredAt; test.taken.IsZero() != (got == "") || (got != "" && got != test.taken.Format(time.RFC3339)) {
			t.Errorf("%s: acquired at %q", test.name, got)
		}
	}
}

// Unknown and assumed scales, an unknown side and lossy samples are said.
func TestWarnings(t *testing.T) {
	v := loadHole(t)
	v.Slices, v.Samples = 3, v.Samples[24*v.Rows*v.Columns:27*v.Rows*v.Columns]
	run := func() *measure.Result {
		r, err := measure.Volume(t.Context(), v, measure.Options{Version: "1.2.3"})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r := run()
	for _, part := range []string{"scale unknown", "assumed", "lossy"} {
		if has(r.Warnings, part) {
			t.Errorf("a known scale, lossless: %q", r.Warnings)
		}
	}
	if !has(r.Warnings, "side of the eye not known") || r.Version != "1.2.3" || r.Scan.Slices != 3 || r.Scan.Rows != 200 || r.Scan.Columns != 200 {
		t.Errorf("%+v, %q", r.Scan, r.Warnings)
	}
	v.Laterality, v.Acquisition.Lossy = eye.Left, true
	v.Scale.Lateral = oct.AxisScale{}
	v.Scale.Slice.Trust, v.Scale.Slice.Source = oct.TrustAssumed, "a usual distance"
	r = run()
	if has(r.Warnings, "side of the eye") || !has(r.Warnings, "lossy") || !has(r.Warnings, "lateral scale unknown") || !has(r.Warnings, "slice scale is assumed (a usual distance)") || has(r.Warnings, "depth scale") {
		t.Errorf("%q", r.Warnings)
	}
	if r.Hole.MLDUM.Known() || r.LateralCorrection.MLDUM.Known() {
		t.Errorf("a lateral length without a lateral scale: %+v", r.Hole.MLDUM)
	}
	// All scales unknown, and a length of the eye: still no micrometres.
	v.Scale, v.Acquisition.AxialLengthMM = oct.Scale{}, 25
	r = run()
	for _, axis := range []string{"depth", "lateral", "slice"} {
		if !has(r.Warnings, axis+" scale unknown") {
			t.Errorf("%s: %q", axis, r.Warnings)
		}
	}
	for _, e := range []estimate.Estimate{r.Hole.MLDUM, r.Hole.HeightUM, r.Hole.VolumeMM3, r.LateralCorrection.MLDUM, r.LateralCorrection.VolumeMM3} {
		if e.Known() {
			t.Errorf("micrometres out of nothing: %+v", e)
		}
	}
}

// The corrected reading of the test volume stays between the visible edges' and
// the README's band, and the summary of the lines is consistent.
func TestSummary(t *testing.T) {
	r := measuredHole(t)
	if len(r.Surfaces) < 3 || r.Traced == nil || r.Volume == nil || r.Thickness == nil {
		t.Fatalf("%+v", r.Surfaces)
	}
	for _, s := range r.Surfaces {
		if s.Name == "" || !(s.TracedShare > 0.8 && s.TracedShare <= 1) || !(s.MeanConfidence > 0.3 && s.MeanConfidence <= 1) {
			t.Errorf("%+v", s)
		}
	}
}

// A cancelled call returns the context's error and leaves no goroutine behind;
// one cancelled from the start does no piece of work.
func TestCancelled(t *testing.T) {
	v := loadHole(t)
	before := runtime.NumGoroutine()
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	worked := false
	if _, err := measure.Volume(ended, v, measure.Options{Progress: func(int, int) { worked = true }}); !errors.Is(err, context.Canceled) || worked {
		t.Errorf("%v, worked: %v", err, worked)
	}
	later, cancelLater := context.WithCancel(t.Context())
	defer cancelLater()
	var mutex sync.Mutex
	pieces := 0
	_, err := measure.Volume(later, v, measure.Options{Progress: func(int, int) {
		mutex.Lock()
		defer mutex.Unlock()
		if pieces++; pieces == 5 {
			cancelLater()
		}
	}})
	mutex.Lock()
	if !errors.Is(err, context.Canceled) || pieces > 5+2*runtime.GOMAXPROCS(0) {
		t.Errorf("%v after %d pieces of work", err, pieces)
	}
	mutex.Unlock()
	for range 200 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond) // not a bound on speed: goroutines need a turn to end
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}
