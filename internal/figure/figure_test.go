package figure

import (
	"math"
	"testing"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/exchange/scan"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
	"limitans/oct/thickness"
)

// realKey names one way to measure the open volume.
type realKey struct {
	scaled bool
	side   eye.Laterality
}

// realSubjects keeps what was measured, because no drawing changes it.
var realSubjects = map[realKey]Subject{}

// realSubject is the open volume of testdata, measured, with its published
// scale or without one.
func realSubject(t testing.TB, scaled bool, side eye.Laterality) Subject {
	t.Helper()
	key := realKey{scaled, side}
	if _, known := realSubjects[key]; !known {
		realSubjects[key] = freshSubject(t, scaled, side)
	}
	return realSubjects[key]
}

// freshSubject measures anew.
func freshSubject(t testing.TB, scaled bool, side eye.Laterality) Subject {
	t.Helper()
	var given scan.GivenScale
	if scaled {
		d, l, s := 3.87, 5.77, 31.0
		given = scan.GivenScale{DepthUM: &d, LateralUM: &l, SliceUM: &s}
	}
	v, err := scan.Open(t.Context(), "../../testdata/macular-hole-volume/macular-hole-volume.tif", scan.Options{Scale: given, Laterality: side})
	if err != nil {
		t.Fatal(err)
	}
	traced, err := surface.Trace(t.Context(), v, surface.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return measured(t, v, traced)
}

func measured(t testing.TB, v *oct.Volume, traced *surface.Surfaces) Subject {
	t.Helper()
	h, err := hole.Measure(v, traced, hole.Options{})
	if err != nil {
		t.Fatal(err)
	}
	th, err := thickness.Measure(v, traced, thickness.Options{CentreSlice: math.NaN(), CentreColumn: math.NaN()})
	if err != nil {
		t.Fatal(err)
	}
	return Subject{Volume: v, Surfaces: traced, Hole: h, Thickness: th}
}

// madeEye is a scan of an eye without a hole whose lines are known: a pit of
// 120 µm in a retina of 330 µm, slices columns spread over width µm, with
// columns 10 to 19 of the first slice untraced.
func madeEye(slices, rows, columns int, widthUM float64) (*oct.Volume, *surface.Surfaces) {
	given := func(um float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustUserGiven, Source: "test"}
	}
	depth := 800 / float64(rows)
	v := &oct.Volume{
		Slices: slices, Rows: rows, Columns: columns, BitDepth: 8, Samples: make([]uint16, slices*rows*columns), Pattern: oct.PatternRaster,
		Scale: oct.Scale{Depth: given(depth), Lateral: given(widthUM / float64(columns)), Slice: given(widthUM / float64(slices))},
	}
	if slices == 1 {
		v.Pattern = oct.PatternSingle
	}
	s := &surface.Surfaces{
		InnerLimitingMembrane: surface.New("inner limiting membrane", slices, columns),
		PigmentEpithelium:     surface.New("pigment epithelium", slices, columns),
		Levels:                make([]surface.SliceLevels, slices),
	}
	s.PigmentEpitheliumInnerEdge = s.PigmentEpithelium
	for i := range slices {
		s.Levels[i] = surface.SliceLevels{Vitreous: 10, Tissue: 150, SampleNoise: 1, Traceable: true}
		for c := range columns {
			x := (float64(c) - float64(columns-1)/2) * widthUM / float64(columns)
			y := (float64(i) - float64(slices-1)/2) * widthUM / float64(slices)
			r := math.Hypot(x, y) / 1000
			um := 330 + 60*math.Exp(-(r-1.2)*(r-1.2)) - 150*math.Exp(-3*r*r) - 12*r*r
			rpe := 0.8 * float64(rows)
			s.PigmentEpithelium.Row[i*columns+c] = float32(rpe)
			if i != 0 || c < 10 || c > 19 {
				s.InnerLimitingMembrane.Row[i*columns+c] = float32(rpe - um/depth)
			}
			for row := range rows {
				grey := 10.0
				switch d := rpe - float64(row); {
				case d*depth < 24 && d >= -2:
					grey = 240
				case d*depth < um:
					grey = 130 + 30*math.Sin(float64(row*7+c*3+i*5))
				}
				v.Samples[(i*rows+row)*columns+c] = uint16(grey)
			}
		}
	}
	return v, s
}

// madeHole is a lumen around the middle of a scan: on every slice the wall
// columns are left and right from the floor at 0.8 of the rows up to a lid of
// 300 µm.
func madeHole(v *oct.Volume, left, right float64) *hole.Hole {
	step := v.Scale.Depth.MicrometresPerSample
	if step == 0 {
		step = 4
	}
	l := &hole.Lumen{
		Slices: v.Slices, Rows: v.Rows, Columns: v.Columns, FirstSlice: 0, LastSlice: v.Slices - 1,
		LidHeightUM: 300, HeightStepUM: step, Heights: int(300/step) + 3,
		MLDSlice: v.Slices / 2, MLDLeft: left, MLDRight: right, MLDHeightSteps: 100 / step,
		Floor: make([]float64, v.Slices*v.Columns),
	}
	for i := range l.Floor {
		l.Floor[i] = 0.8 * float64(v.Rows)
	}
	for range v.Slices * l.Heights {
		l.Left, l.Right = append(l.Left, left), append(l.Right, right)
	}
	um := estimate.Normal(400, 10, "made")
	h := &hole.Hole{
		Present: true, Judgement: hole.FullThickness, WidestSlice: l.MLDSlice, Lumen: l, MLDUM: um, BaseUM: um, OpeningUM: um, VolumeMM3: um,
		MinSection: hole.MinSection{AreaMM2: um, SmallUM: um, LargeUM: um, MeridianDeg: estimate.Missing("round"), HeightUM: 100},
	}
	return h
}
