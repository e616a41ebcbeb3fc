package phantom

import (
	"math"
	"runtime"
	"slices"
	"sort"
	"testing"

	"limitans/fault"
)

// TestEdgesAreAtHalfTheStep: without noise and blur, linear intensity crosses
// half of the step at the true surfaces.
func TestEdgesAreAtHalfTheStep(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector; TestDeterminism draws under it")
	}
	for _, tilt := range [][2]float64{{0, 0}, {8, -6}} {
		p := plain()
		p.TiltLateralDeg, p.TiltSliceDeg, p.Rows = tilt[0], tilt[1], 460
		volume, truth, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		at := func(slice, row, column int) float64 {
			return linear(p, volume.Samples[(slice*p.Rows+row)*p.Columns+column])
		}
		var inner, epithelium []float64
		for slice := 0; slice < p.Slices; slice += 2 {
			for column := 3; column < p.Columns-3; column += 3 {
				crossing := func(from int, plateau float64) float64 {
					for row := from; row < from+16; row++ {
						a, b := at(slice, row, column), at(slice, row+1, column)
						if a < plateau/2 && b >= plateau/2 {
							return float64(row) + (plateau/2-a)/(b-a)
						}
					}
					return math.NaN()
				}
				edge := truth.PigmentEpitheliumInnerEdge.At(slice, column)
				row := truth.InnerLimitingMembrane.At(slice, column)
				if math.IsNaN(row) {
					plateau := at(slice, int(edge+1.5), column)
					epithelium = append(epithelium, math.Abs(crossing(int(edge)-6, plateau)-edge))
					continue
				}
				if steep := math.Abs(truth.InnerLimitingMembrane.At(slice, column+1) - row); !(steep < 1.5) {
					continue // the wall of the hole: see the next test
				}
				plateau := at(slice, int(row+1.5), column)
				inner = append(inner, math.Abs(crossing(int(row)-6, plateau)-row))
			}
		}
		for name, errors := range map[string][]float64{"inner surface": inner, "epithelium": epithelium} {
			sort.Float64s(errors)
			if len(errors) < 100 {
				t.Fatalf("%s: only %d columns", name, len(errors))
			}
			if worst := errors[len(errors)*98/100]; !(worst < 0.3) {
				t.Errorf("tilt %v, %s: 98 of 100 within %.2f rows (%d columns)", tilt, name, worst, len(errors))
			}
		}
	}
}

// TestWallsAreAtHalfTheStep does the same along the fast scan, below and at
// the waist.
func TestWallsAreAtHalfTheStep(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector; TestDeterminism draws under it")
	}
	p := plain()
	p.Hole.OvalityRatio, p.Hole.MeridianDeg, p.Hole.WallRoughnessUM = 1.2, 40, 3
	d, err := newDrawing(&p)
	if err != nil {
		t.Fatal(err)
	}
	volume, truth, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	count, bad := 0, 0
	for slice := truth.WidestSlice - 3; slice <= truth.WidestSlice+3; slice++ {
		imageY := d.f.imageY(slice)
		for row := range p.Rows {
			w := d.f.imageW(slice, float64(row))
			v := w
			if v < 100 || v > truth.LidUM*0.8 {
				continue
			}
			left, right, met := d.s.sectionAt(v).chord(imageY)
			if !met {
				t.Fatal("no chord")
			}
			line := volume.Samples[(slice*p.Rows+row)*p.Columns:][:p.Columns]
			for _, wall := range []struct{ x, side float64 }{{left, -1}, {right, 1}} {
				want := wall.x/p.LateralUM + d.f.middleColumn
				inside := int(want + wall.side*2.5)
				plateau := linear(p, line[inside])
				c := inside
				for linear(p, line[c]) >= plateau/2 {
					c -= int(wall.side)
				}
				a, b := linear(p, line[c]), linear(p, line[c+int(wall.side)])
				got := float64(c) + wall.side*(plateau/2-a)/(b-a)
				count++
				if math.Abs(got-want) > 0.3 {
					bad++
				}
			}
		}
	}
	if count < 500 || bad > count/50 {
		t.Errorf("%d of %d walls are more than 0.3 columns off", bad, count)
	}
}

// TestGrain: contrast and correlation of the noise floor against the closed
// forms 1/√looks, 2w/(1 + 2w²) and w²/(1 + 2w²).
func TestGrain(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector; TestDeterminism draws under it")
	}
	for _, looks := range []float64{24, 12, 6, 3, 1} {
		p := plain()
		p.Looks, p.Slices, p.Rows = looks, 8, 400
		p.Display = Display{CurveLogarithm, -45, 80}
		volume, _, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		var n, sum, square, right, below, below2 float64
		for slice := range p.Slices {
			at := func(r, c int) float64 { return linear(p, volume.Slice(slice)[r*p.Columns+c]) }
			for r := 2; r < 60; r++ {
				for c := 2; c < p.Columns-3; c++ {
					x := at(r, c)
					n, sum, square = n+1, sum+x, square+x*x
					right, below, below2 = right+x*at(r, c+1), below+x*at(r+1, c), below2+x*at(r+2, c)
				}
			}
		}
		mean := sum / n
		variance := square/n - mean*mean
		// 150,000 samples, of which about one in four is independent.
		near(t, "mean", mean+p.NoiseFloor, p.NoiseFloor, 0.01)
		near(t, "contrast", math.Sqrt(variance)/p.NoiseFloor, 1/math.Sqrt(looks), 0.02/math.Sqrt(looks))
		correlation := func(product float64) float64 { return (product/n - mean*mean) / variance }
		a, b := p.GrainLateral, p.GrainDepth
		near(t, "beside", correlation(right), 2*a/(1+2*a*a), 0.02)
		near(t, "below", correlation(below), 2*b/(1+2*b*b), 0.02)
		near(t, "two below", correlation(below2), b*b/(1+2*b*b), 0.02)
	}
}

// TestGammaQuantiles: shape 1 is the exponential distribution, whose quantile
// is −ln(1 − p).
func TestGammaQuantiles(t *testing.T) {
	table := make([]float32, grainEntries)
	fillGammaQuantiles(table, 1)
	for _, i := range []int{40, 400, 2048, 3600, 4000} {
		want := -math.Log(1 - (float64(i)+0.5)/grainEntries)
		near(t, "quantile", float64(table[i]), want, 0.003+0.005*want)
	}
	for _, shape := range []float64{0.2, 0.6, 1.5, 4, 30} {
		fillGammaQuantiles(table, shape)
		if !slices.IsSorted(table) || table[0] < 0 {
			t.Errorf("shape %g: not ascending from 0", shape)
		}
	}
}

// TestResemblesTheRealVolume: grey statistics of the vitreous as measured in
// the real volume of the test data (mean 12.7 to 14, standard deviation 11 to
// 13, 12 to 21 % zeros, correlation 0.48 beside, 0.65 and 0.21 below).
func TestResemblesTheRealVolume(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn scans: runs in the full run of scripts/test, without the race detector; TestDeterminism draws under it")
	}
	p := asReal()
	volume, truth, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	var n, zeros, sum, square, tissue, band float64
	for slice := range p.Slices {
		line := volume.Slice(slice)
		for c := range p.Columns {
			for r := 2; r < 30; r++ {
				x := float64(line[r*p.Columns+c])
				n, sum, square = n+1, sum+x, square+x*x
				if x == 0 {
					zeros++
				}
			}
			centre := int(truth.PigmentEpithelium.At(slice, c) + 0.5)
			band += float64(line[centre*p.Columns+c])
			tissue += float64(line[(centre-70)*p.Columns+c])
		}
	}
	mean := sum / n
	columns := float64(p.Slices * p.Columns)
	near(t, "vitreous mean", mean, 13.5, 2.5)
	near(t, "vitreous standard deviation", math.Sqrt(square/n-mean*mean), 12, 2)
	near(t, "vitreous zeros", zeros/n, 0.165, 0.05)
	near(t, "epithelium", band/columns, 205, 25)
	near(t, "inner retina", tissue/columns, 136, 20)
}

// TestDeterminism: the same Parameters, whatever the number of processors.
func TestDeterminism(t *testing.T) {
	p := asReal()
	p.Slices, p.MotionDepthUM, p.MotionLateralUM, p.Vessels, p.Strands, p.Operculum, p.Membrane, p.Drusen = 9, 4, 4, 3, 2, true, true, 3
	p.SliceUM = 120
	p.Rows = 260
	a, first, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	b, second, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.Samples, b.Samples) || !slices.Equal(first.Lumen, second.Lumen) || first.MLDUM != second.MLDUM {
		t.Error("two makes differ")
	}
	p.Seed++
	c, _, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	if slices.Equal(a.Samples, c.Samples) {
		t.Error("the seed changes nothing")
	}
}

// TestInverted: upside down, samples and truth alike.
func TestInverted(t *testing.T) {
	p := asReal()
	p.Slices, p.SliceUM = 7, 100
	a, upright, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	p.Inverted = true
	b, inverted, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	for slice := range p.Slices {
		for row := range p.Rows {
			i, k := (slice*p.Rows+row)*p.Columns, (slice*p.Rows+p.Rows-1-row)*p.Columns
			if !slices.Equal(a.Samples[i:i+p.Columns], b.Samples[k:k+p.Columns]) || !slices.Equal(upright.Lumen[i:i+p.Columns], inverted.Lumen[k:k+p.Columns]) {
				t.Fatalf("slice %d row %d", slice, row)
			}
		}
	}
	near(t, "row", inverted.PigmentEpithelium.At(3, 50), float64(p.Rows-1)-upright.PigmentEpithelium.At(3, 50), 1e-4)
}

// TestImpossibleFields: every field is checked.
func TestImpossibleFields(t *testing.T) {
	nan := math.NaN()
	for name, spoil := range map[string]func(p *Parameters){
		"bit depth": func(p *Parameters) { p.BitDepth = 12 }, "rows": func(p *Parameters) { p.Rows = 3 },
		"columns": func(p *Parameters) { p.Columns = 3 }, "depth": func(p *Parameters) { p.DepthUM = 0 },
		"lateral": func(p *Parameters) { p.LateralUM = -1 }, "slice": func(p *Parameters) { p.SliceUM = nan },
		"tilt": func(p *Parameters) { p.TiltLateralDeg = 13 }, "tilt across": func(p *Parameters) { p.TiltSliceDeg = nan },
		"curvature": func(p *Parameters) { p.CurvatureRadiusMM = 1 }, "row": func(p *Parameters) { p.EpitheliumRow = -1 },
		"motion": func(p *Parameters) { p.MotionDepthUM = -1 }, "motion along": func(p *Parameters) { p.MotionLateralUM = 100 },
		"thickness": func(p *Parameters) { p.ThicknessUM = 0 }, "looks": func(p *Parameters) { p.Looks = 0 },
		"floor": func(p *Parameters) { p.NoiseFloor = 0 }, "signal": func(p *Parameters) { p.SignalLevel = 0 },
		"axial": func(p *Parameters) { p.AxialSigmaUM = -1 }, "lateral point spread": func(p *Parameters) { p.LateralSigmaUM = nan },
		"curve": func(p *Parameters) { p.Display.Curve = 7 }, "range": func(p *Parameters) { p.Display.RangeDB = 0 },
		"black": func(p *Parameters) { p.Display.BlackDB = nan }, "grain": func(p *Parameters) { p.GrainLateral = 2 },
		"grain in depth": func(p *Parameters) { p.GrainDepth = -1 }, "fraying": func(p *Parameters) { p.Fraying = 2 },
		"cysts": func(p *Parameters) { p.Cysts = -1 }, "fragments": func(p *Parameters) { p.Fragments = -1 },
		"strands": func(p *Parameters) { p.Strands = 99 }, "vessels": func(p *Parameters) { p.Vessels = -1 }, "drusen": func(p *Parameters) { p.Drusen = -1 },
		"minimum": func(p *Parameters) { p.Hole.MinimumUM = 0 }, "ovality": func(p *Parameters) { p.Hole.OvalityRatio = 0.9 },
		"meridian": func(p *Parameters) { p.Hole.MeridianDeg = nan }, "base": func(p *Parameters) { p.Hole.BaseRatio = 0.5 },
		"waist": func(p *Parameters) { p.Hole.WaistHeightFraction = 0.84 }, "rim": func(p *Parameters) { p.Hole.RimHeightUM = 0 },
		"rim below the retina": func(p *Parameters) { p.ThicknessUM = 400 },
		"roll":                 func(p *Parameters) { p.Hole.RimRollUM = 0 }, "decay": func(p *Parameters) { p.Hole.RimDecayUM = 0 },
		"asymmetry": func(p *Parameters) { p.Hole.RimAsymmetryUM = 500 }, "overhang": func(p *Parameters) { p.Hole.Overhang = 2 },
		"roughness": func(p *Parameters) { p.Hole.WallRoughnessUM = 100 }, "centre x": func(p *Parameters) { p.Hole.CentreXUM = nan },
		"centre y": func(p *Parameters) { p.Hole.CentreYUM = math.Inf(1) }, "pit beside a hole": func(p *Parameters) { p.Pit.DepthUM = 80 },
		"does not fit": func(p *Parameters) { p.Rows = 100 },
		"pit":          func(p *Parameters) { *p = intact(); p.Pit = Pit{999, 700, 2} },
		"pit width":    func(p *Parameters) { *p = intact(); p.Pit = Pit{99, 0, 2} },
		"pit steep":    func(p *Parameters) { *p = intact(); p.Pit = Pit{99, 700, 9} },
		"central cyst": func(p *Parameters) { *p = intact(); p.LargeCentralCyst = &CentralCyst{} },
		"defect":       func(p *Parameters) { *p = intact(); p.LamellarDefect = &Defect{} },
		"fluid":        func(p *Parameters) { *p = intact(); p.Fluid = &Fluid{} },
		"no fragments": func(p *Parameters) { *p = intact(); p.Fragments = 1 },
		"no cuff":      func(p *Parameters) { *p = intact(); p.SubretinalFluidCuff = true },
	} {
		p := asReal()
		spoil(&p)
		if _, _, err := Make(p); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	p := asReal()
	p.Slices = 0
	if _, _, err := Make(p); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("no slices: %v", err)
	}
	p.Slices, p.Rows, p.Columns = 20000, 20000, 20000
	if _, _, err := Make(p); fault.CodeOf(err) != fault.TooLarge {
		t.Errorf("huge: %v", err)
	}
}

func intact() Parameters {
	p := asReal()
	p.Hole, p.Fragments = nil, 0
	return p
}
