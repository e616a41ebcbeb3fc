package hole

import (
	"math"
	"slices"
	"sync"

	"limitans/oct"
	"limitans/oct/ascan"
	"limitans/oct/surface"
)

// field is the scan seen from the pigment epithelium, as brightness relative to
// vitreous (0) and tissue (1):
//
//	height k ▲
//	         │      vitreous
//	         │   ___       ___        value(slice, column, k)
//	         │  /   \     /   \
//	         │ /  R  |   |  R  \      k = 0 is the epithelium's inner edge
//	       0 └──────────────────▶ column
//
// One step of k is one sample of depth. Values are kept in bytes, see [toByte],
// height after height, then column after column, then slice after slice.
type field struct {
	slices, columns, heights int
	value                    []uint8
	floor                    []float64 // row of k = 0 for every slice and column
	noise                    []float64 // per slice: noise of value
	retinaTop                []float64 // height, in steps, of the inner limiting membrane; NaN where there is none
	usable                   []bool    // per slice
}

// Relative brightness −0.5 … 2.05 is kept in a byte: the step of 0.01 is far
// below the noise.
const (
	byteOffset = 50.0
	byteScale  = 100.0
)

func toByte(fraction float64) uint8 {
	return uint8(min(max(math.Round(fraction*byteScale)+byteOffset, 0), 255))
}

func fromByte(b uint8) float64 { return (float64(b) - byteOffset) / byteScale }

func (f *field) index(slice, column, k int) int {
	return (slice*f.columns+column)*f.heights + k
}

// column returns the values above one place of the epithelium.
func (f *field) column(slice, column int) []uint8 {
	i := f.index(slice, column, 0)
	return f.value[i : i+f.heights]
}

// flatten builds the field. heights is how many samples above the epithelium
// are kept.
func flatten(v *oct.Volume, s *surface.Surfaces, g geometry, noData func(slice int) []bool) *field {
	f := &field{
		slices: v.Slices, columns: v.Columns, heights: g.heights,
		floor: floorRows(s, g), noise: make([]float64, v.Slices), usable: make([]bool, v.Slices),
	}
	f.value = make([]uint8, v.Slices*v.Columns*f.heights)
	f.retinaTop = make([]float64, v.Slices*v.Columns)
	var group sync.WaitGroup
	work := make(chan int)
	for range g.workers {
		group.Go(func() {
			for slice := range work {
				f.flattenSlice(v, s, g, noData, slice)
			}
		})
	}
	for slice := range v.Slices {
		work <- slice
	}
	close(work)
	group.Wait()
	return f
}

// floorRows is the row of the epithelium's inner edge in every column: the
// centre line of its band, averaged over some 100 µm so that debris on it does
// not count, less the band's half thickness as seen in this scan.
func floorRows(s *surface.Surfaces, g geometry) []float64 {
	centre, edge := s.PigmentEpithelium, s.PigmentEpitheliumInnerEdge
	var half []float64
	for i := range centre.Row {
		if d := float64(centre.Row[i] - edge.Row[i]); d == d && math.IsNaN(float64(s.InnerLimitingMembrane.Row[i])) {
			half = append(half, d) // over bare epithelium the edge is sharpest
		}
	}
	offset := bandHalfUM / g.depthUM
	if len(half) >= 20 {
		slices.Sort(half)
		offset = min(max(half[len(half)/2], 0.5*offset), 1.5*offset)
	}
	out := make([]float64, len(centre.Row))
	for slice := range centre.Slices {
		line := out[slice*centre.Columns : (slice+1)*centre.Columns]
		for c := range line {
			line[c] = centre.At(slice, c) - offset
		}
		bridge(line)
		copy(line, runningMedian(line, g.columns(50)))
		copy(line, runningMean(line, g.columns(40)))
	}
	return out
}

// flattenSlice fills one slice of the field.
func (f *field) flattenSlice(v *oct.Volume, s *surface.Surfaces, g geometry, noData func(slice int) []bool, slice int) {
	level := s.Levels[slice]
	floor := f.floor[slice*f.columns : (slice+1)*f.columns]
	for c := range f.columns {
		f.retinaTop[slice*f.columns+c] = floor[c] - s.InnerLimitingMembrane.At(slice, c)
	}
	if !level.Traceable || math.IsNaN(floor[0]) {
		return
	}
	f.usable[slice] = true
	image := fractions(v, level, noData, slice)
	halfRows, halfColumns, gain := smoothing(level, g)
	f.noise[slice] = level.SampleNoise / (level.Tissue - level.Vitreous) * gain
	image = ascan.BoxMean(image, v.Rows, v.Columns, halfRows, halfColumns)
	for c := range f.columns {
		scan := image[c*v.Rows : (c+1)*v.Rows]
		out := f.column(slice, c)
		for k := range out {
			row := floor[c] - float64(k)
			r := int(math.Floor(row))
			switch t := row - float64(r); {
			case r < 0:
				out[k] = toByte(0) // above the frame; hole figures there are refused elsewhere
			case r+1 >= v.Rows:
				out[k] = toByte(1)
			default:
				out[k] = toByte(float64(scan[r])*(1-t) + float64(scan[r+1])*t)
			}
		}
	}
}

// fractions turns grey into relative brightness, A-scan after A-scan. Samples
// without data count as vitreous above and never reach the retina.
func fractions(v *oct.Volume, level surface.SliceLevels, noData func(slice int) []bool, slice int) []float32 {
	out := make([]float32, v.Rows*v.Columns)
	var mask []bool
	if noData != nil {
		mask = noData(slice)
	}
	scale := float32(1 / (level.Tissue - level.Vitreous))
	samples := v.Slice(slice)
	for r := range v.Rows {
		for c := range v.Columns {
			i := r*v.Columns + c
			if mask != nil && mask[i] {
				continue
			}
			out[c*v.Rows+r] = (float32(samples[i]) - float32(level.Vitreous)) * scale
		}
	}
	return out
}

// smoothing chooses the smallest window that brings the noise of one sample
// down to noiseGoal, and returns what share of the noise is left. Neighbouring
// samples of a scan are correlated; two thirds of the samples along each axis
// are taken to be independent.
func smoothing(level surface.SliceLevels, g geometry) (halfRows, halfColumns int, gain float64) {
	noise := level.SampleNoise / (level.Tissue - level.Vitreous)
	halfRows = max(1, g.rows(6))
	for halfColumns = 1; ; halfColumns++ {
		n := float64((2*halfRows+1)*(2*halfColumns+1)) * 4 / 9
		gain = 1 / math.Sqrt(n)
		if noise*gain <= noiseGoal || halfColumns >= g.columns(24) {
			return halfRows, halfColumns, gain
		}
	}
}
