package thickness

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/oct"
	"limitans/oct/surface"
)

// drawnRelief is a smooth retina, 150 to 450 µm thick.
func drawnRelief(t *rapid.T) relief {
	base := rapid.Float64Range(200, 400).Draw(t, "base")
	slopeX, slopeY := rapid.Float64Range(-0.01, 0.01).Draw(t, "slope x"), rapid.Float64Range(-0.01, 0.01).Draw(t, "slope y")
	wave, length := rapid.Float64Range(0, 20).Draw(t, "wave"), rapid.Float64Range(500, 3000).Draw(t, "length")
	return func(x, y float64) float64 {
		return base + slopeX*x + slopeY*y + wave*math.Sin(2*math.Pi*x/length)*math.Cos(2*math.Pi*y/length)
	}
}

func drawnScan(t *rapid.T) *made {
	if rapid.Bool().Draw(t, "radial") {
		return newRadialScan(rapid.IntRange(6, 24).Draw(t, "slices"))
	}
	return newRaster(27, 240)
}

func drawnHole(t *rapid.T, f relief) relief {
	cx, cy := rapid.Float64Range(-2500, 2500).Draw(t, "hole x"), rapid.Float64Range(-2500, 2500).Draw(t, "hole y")
	radius := rapid.Float64Range(0, 900).Draw(t, "hole radius")
	return func(x, y float64) float64 {
		if math.Hypot(x-cx, y-cy) < radius {
			return math.NaN()
		}
		return f(x, y)
	}
}

// A mean lies between the least and the largest value, a figure within its
// interval, shares add to one, and a field is known exactly when it was seen.
func TestFieldsAreMeansOfWhatWasSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans in one goroutine: runs in the full run of scripts/test, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		m := drawnScan(t).draw(drawnHole(t, drawnRelief(t)))
		out, err := Measure(m.volume, m.surfaces, m.options)
		if err != nil {
			t.Fatal(err)
		}
		least, most := math.Inf(1), math.Inf(-1)
		for i := range m.surfaces.PigmentEpithelium.Row {
			um := float64(m.surfaces.PigmentEpithelium.Row[i]-m.surfaces.InnerLimitingMembrane.Row[i]) * testDepthUM
			if !math.IsNaN(um) {
				least, most = math.Min(least, um), math.Max(most, um)
			}
		}
		allKnown, sum := true, 0.0
		for _, f := range out.Fields {
			e := f.ThicknessUM
			shares := f.CoveredShare + f.OutsideShare + f.NoMembraneShare + f.NoEpitheliumShare + f.ContradictedShare
			if math.Abs(shares-1) > 1e-9 {
				t.Fatalf("%s: shares add to %g", f.Name, shares)
			}
			if e.Known() != (f.CoveredShare >= LeastShare) {
				t.Fatalf("%s: covered %.3f, known %v: %s", f.Name, f.CoveredShare, e.Known(), e.Basis)
			}
			allKnown = allKnown && e.Known()
			if e.Known() && !(least-1e-3 <= e.Value && e.Value <= most+1e-3 && e.Low <= e.Value-ReadsTooMuchUM && e.High >= e.Value+ReadsTooLittleUM) {
				t.Fatalf("%s: %+v outside %g to %g", f.Name, e, least, most)
			}
			sum += f.VolumeMM3.Value
		}
		if out.TotalVolumeMM3.Known() != allKnown || allKnown && math.Abs(sum-out.TotalVolumeMM3.Value) > 1e-12 {
			t.Fatalf("total %+v, sum %g, all known %v", out.TotalVolumeMM3, sum, allKnown)
		}
	})
}

// Thickness taken twice as large reads twice as large.
func TestThicknessIsLinear(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans in one goroutine: runs in the full run of scripts/test, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		f := drawnHole(t, drawnRelief(t))
		m := drawnScan(t).draw(f)
		once, err := Measure(m.volume, m.surfaces, m.options)
		if err != nil {
			t.Fatal(err)
		}
		twice, err := Measure(m.volume, m.draw(func(x, y float64) float64 { return 2 * f(x, y) }).surfaces, m.options)
		if err != nil {
			t.Fatal(err)
		}
		for i := range once.Fields {
			a, b := once.Fields[i].ThicknessUM, twice.Fields[i].ThicknessUM
			if a.Known() != b.Known() || a.Known() && math.Abs(2*a.Value-b.Value) > 2e-3 {
				t.Fatalf("%s: %v and %v", once.Fields[i].Name, a.Value, b.Value)
			}
		}
	})
}

// Moving the eye and the centre together by whole samples changes nothing.
func TestFieldsMoveWithTheirCentre(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans in one goroutine: runs in the full run of scripts/test, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		f := drawnRelief(t)
		slices, columns := rapid.IntRange(-3, 3).Draw(t, "slices"), rapid.IntRange(-40, 40).Draw(t, "columns")
		dx, dy := float64(columns)*testLateralUM, -float64(slices)*240
		a := newRaster(35, 240).draw(f)
		b := newRaster(35, 240).draw(func(x, y float64) float64 { return f(x-dx, y-dy) })
		b.options.CentreSlice += float64(slices)
		b.options.CentreColumn += float64(columns)
		first, err := Measure(a.volume, a.surfaces, a.options)
		if err != nil {
			t.Fatal(err)
		}
		second, err := Measure(b.volume, b.surfaces, b.options)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range first.Fields {
			y := second.Fields[i]
			if x.ThicknessUM.Known() && y.ThicknessUM.Known() && x.CoveredShare == 1 && y.CoveredShare == 1 && math.Abs(x.ThicknessUM.Value-y.ThicknessUM.Value) > 2e-3 {
				t.Fatalf("%s: %v and %v", x.Name, x.ThicknessUM.Value, y.ThicknessUM.Value)
			}
		}
	})
}

// Turning a radial scan by a quarter turns the fields of each ring by one.
func TestFieldsTurnWithTheScan(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans: left to the run without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		f := drawnRelief(t)
		slices := 4 * rapid.IntRange(2, 6).Draw(t, "quarters")
		a := newRadialScan(slices).draw(f)
		first, err := Measure(a.volume, a.surfaces, a.options)
		if err != nil {
			t.Fatal(err)
		}
		for i := range a.volume.SliceAnglesDeg {
			a.volume.SliceAnglesDeg[i] -= 90 // clockwise
		}
		second, err := Measure(a.volume, a.surfaces, a.options)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range first.Fields {
			to := i
			if i > 0 {
				to = (i-1)/4*4 + 1 + (i-1+1)%4
			}
			if math.Abs(x.ThicknessUM.Value-second.Fields[to].ThicknessUM.Value) > 1e-6 {
				t.Fatalf("%s: %v and %v", x.Name, x.ThicknessUM.Value, second.Fields[to].ThicknessUM.Value)
			}
		}
	})
}

// Whatever rows, scales and sizes come, there is a result or an error, never a
// panic, never a figure outside its own interval, and JSON can be written.
func TestAnySurfacesAreSurvived(t *testing.T) {
	if testing.Short() {
		t.Skip("many drawn scans in one goroutine: runs in the full run of scripts/test, without the race detector")
	}
	row := rapid.OneOf(rapid.Float32Range(-10, 700), rapid.Just(float32(math.NaN())), rapid.Just(float32(math.Inf(1))), rapid.Just(float32(math.Inf(-1))), rapid.Just(float32(math.MaxFloat32)))
	scale := rapid.SampledFrom([]float64{1e-9, 1, 4, 11, 100, 400, 1e9})
	centre := rapid.SampledFrom([]float64{0, 0.5, 1, math.NaN()})
	rapid.Check(t, func(t *rapid.T) {
		v := &oct.Volume{Slices: rapid.IntRange(1, 8).Draw(t, "slices"), Rows: 1, Columns: rapid.IntRange(1, 40).Draw(t, "columns"), BitDepth: 16, Pattern: oct.Pattern(rapid.IntRange(0, 3).Draw(t, "pattern"))}
		v.Samples = make([]uint16, v.Slices*v.Columns)
		v.Scale = oct.Scale{Depth: known(scale.Draw(t, "depth")), Lateral: known(scale.Draw(t, "lateral")), Slice: known(scale.Draw(t, "slice"))}
		if v.Pattern == oct.PatternRadial {
			for range v.Slices {
				v.SliceAnglesDeg = append(v.SliceAnglesDeg, rapid.SampledFrom([]float64{0, 0, 30, 90, 179.999999, 180, -45, 1e6, 360}).Draw(t, "angle"))
			}
		}
		s := &surface.Surfaces{InnerLimitingMembrane: surface.New("a", v.Slices, v.Columns), PigmentEpithelium: surface.New("b", v.Slices, v.Columns), Levels: make([]surface.SliceLevels, v.Slices)}
		flat := rapid.Bool().Draw(t, "flat")
		for i := range s.PigmentEpithelium.Row {
			s.PigmentEpithelium.Row[i] = 500
			if !flat {
				s.PigmentEpithelium.Row[i] = row.Draw(t, "bottom")
			}
			s.InnerLimitingMembrane.Row[i] = row.Draw(t, "top")
		}
		for i := range s.Levels {
			s.Levels[i] = surface.SliceLevels{Vitreous: 1, Tissue: 2, Traceable: true}
		}
		out, err := Measure(v, s, Options{CentreSlice: centre.Draw(t, "centre slice"), CentreColumn: centre.Draw(t, "centre column")})
		if err != nil {
			return
		}
		if _, err := json.Marshal(out); err != nil {
			t.Fatal(err)
		}
		for _, f := range out.Fields {
			if e := f.ThicknessUM; e.Basis == "" || e.Known() && !(e.Low <= e.Value && e.Value <= e.High && e.Value >= 0) {
				t.Fatalf("%s: %+v", f.Name, e)
			}
		}
	})
}
