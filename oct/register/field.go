package register

import (
	"math"

	"limitans/fault"
	"limitans/oct"
	"limitans/oct/surface"
)

// Scan is one of the two scans. Neither is changed.
type Scan struct {
	Volume *oct.Volume
	Lines  *surface.Surfaces
}

// Lengths that the fields are made with, in µm.
const (
	bandAboveUM = 60.0  // band of brightness: from this far above the epithelium's centre …
	bandBelowUM = 12.0  // … to this far below it
	slowHalfUM  = 260.0 // half side of the box whose mean is slow change
	holeEdgeUM  = 120.0 // what lies nearer to missing membrane is left out
)

// field is the brightness of the band on a square grid round the middle of the
// scan, NaN where nothing is known.
//
//	value[row·columns + column] at x = (column − (columns−1)/2)·step,
//	                               y = ((rows−1)/2 − row)·step
type field struct {
	columns, rows int
	step          float64
	value         []float64
}

// check refuses scans that cannot be laid on each other.
func (s Scan) check(which string) error {
	wrong := func(what, mend string) error {
		return &fault.Error{Code: fault.NotMeasurable, Where: which + " scan", What: what, Mend: mend}
	}
	if s.Volume == nil || s.Lines == nil || s.Lines.PigmentEpithelium == nil || s.Lines.InnerLimitingMembrane == nil {
		return &fault.Error{Code: fault.Invalid, Where: which + " scan", What: "the scan or its lines are missing"}
	}
	v := s.Volume
	if err := v.Check(); err != nil {
		return err
	}
	for _, one := range []*surface.Surface{s.Lines.PigmentEpithelium, s.Lines.InnerLimitingMembrane} {
		if one.Slices != v.Slices || one.Columns != v.Columns || len(one.Row) != v.Slices*v.Columns {
			return &fault.Error{Code: fault.Invalid, Where: which + " scan", What: "the lines belong to another scan"}
		}
	}
	switch {
	case v.Pattern != oct.PatternRaster || v.Slices < 5:
		return wrong("it is not a raster of five or more slices", "compare the figures alone")
	case !v.Scale.Depth.Known() || !v.Scale.Lateral.Known() || !v.Scale.Slice.Known():
		return wrong("the scale of an axis is not known", "tell the scale")
	}
	return nil
}

// size is how far a scan reaches, in µm.
func (s Scan) size() (across, down float64) {
	v := s.Volume
	return float64(v.Columns) * v.Scale.Lateral.MicrometresPerSample, float64(v.Slices) * v.Scale.Slice.MicrometresPerSample
}

// band is the mean brightness at the epithelium for every slice and column, NaN
// where it was not traced and near to where there is no inner limiting membrane.
func (s Scan) band() []float64 {
	v := s.Volume
	above := int(math.Round(bandAboveUM / v.Scale.Depth.MicrometresPerSample))
	below := int(math.Round(bandBelowUM / v.Scale.Depth.MicrometresPerSample))
	out := make([]float64, v.Slices*v.Columns)
	open := s.open()
	for slice := range v.Slices {
		samples := v.Slice(slice)
		for c := range v.Columns {
			i := slice*v.Columns + c
			centre := s.Lines.PigmentEpithelium.At(slice, c)
			if centre != centre || open[i] {
				out[i] = math.NaN()
				continue
			}
			sum, n := 0.0, 0
			for row := max(0, int(centre)-above); row <= min(v.Rows-1, int(centre)+below); row++ {
				sum += float64(samples[row*v.Columns+c])
				n++
			}
			out[i] = sum / float64(n)
		}
	}
	return out
}

// open marks what lies within holeEdgeUM of a place without inner limiting
// membrane, along and across the slices.
func (s Scan) open() []bool {
	v, membrane := s.Volume, s.Lines.InnerLimitingMembrane
	half := int(math.Ceil(holeEdgeUM / v.Scale.Lateral.MicrometresPerSample))
	slices := int(math.Ceil(holeEdgeUM / v.Scale.Slice.MicrometresPerSample))
	out := make([]bool, v.Slices*v.Columns)
	for slice := range v.Slices {
		for c := range v.Columns {
			if membrane.Traced(slice, c) {
				continue
			}
			for k := max(0, slice-slices); k <= min(v.Slices-1, slice+slices); k++ {
				for i := max(0, c-half); i <= min(v.Columns-1, c+half); i++ {
					out[k*v.Columns+i] = true
				}
			}
		}
	}
	return out
}

// fieldOf lays values of slices and columns on a grid of a step.
func (s Scan) fieldOf(values []float64, step float64) *field {
	across, down := s.size()
	f := &field{columns: int(across / step), rows: int(down / step), step: step}
	f.value = make([]float64, f.columns*f.rows)
	for row := range f.rows {
		for c := range f.columns {
			x, y := f.place(row, c)
			f.value[row*f.columns+c] = s.at(values, x, y, step)
		}
	}
	return f
}

func (f *field) place(row, column int) (x, y float64) {
	return (float64(column) - float64(f.columns-1)/2) * f.step, (float64(f.rows-1)/2 - float64(row)) * f.step
}

// at is the mean of the values of a step along the slices, interpolated between
// the two slices beside a place; NaN where either is not known.
func (s Scan) at(values []float64, x, y, step float64) float64 {
	v := s.Volume
	slice := float64(v.Slices-1)/2 - y/v.Scale.Slice.MicrometresPerSample
	column := float64(v.Columns-1)/2 + x/v.Scale.Lateral.MicrometresPerSample
	half := step / 2 / v.Scale.Lateral.MicrometresPerSample
	first := int(math.Floor(slice))
	t := slice - float64(first)
	if first < 0 && slice > -0.5 {
		first, t = 0, 0
	}
	if first >= v.Slices-1 && slice < float64(v.Slices)-0.5 {
		first, t = v.Slices-1, 0
	}
	if first < 0 || first >= v.Slices || t > 0 && first+1 >= v.Slices {
		return math.NaN()
	}
	low := alongMean(values[first*v.Columns:(first+1)*v.Columns], column, half)
	if t == 0 {
		return low
	}
	return (1-t)*low + t*alongMean(values[(first+1)*v.Columns:(first+2)*v.Columns], column, half)
}

// alongMean is the mean of a row of values within half columns of a place, at
// least interpolated between the two beside it.
func alongMean(row []float64, at, half float64) float64 {
	if half < 0.5 {
		i := int(math.Floor(at))
		if i < 0 || i+1 >= len(row) {
			return math.NaN()
		}
		t := at - float64(i)
		return (1-t)*row[i] + t*row[i+1]
	}
	sum, n := 0.0, 0.0
	for i := int(math.Ceil(at - half)); i <= int(math.Floor(at+half)); i++ {
		if i < 0 || i >= len(row) {
			return math.NaN()
		}
		sum, n = sum+row[i], n+1
	}
	return sum / n
}

// withoutSlow subtracts the mean of a box round each place, so that shadows and
// not the slope of brightness decide.
func (f *field) withoutSlow() *field {
	half := max(1, int(math.Round(slowHalfUM/f.step)))
	sum, n := f.integral()
	out := &field{columns: f.columns, rows: f.rows, step: f.step, value: make([]float64, len(f.value))}
	wide := f.columns + 1
	for row := range f.rows {
		for c := range f.columns {
			top, bottom, left, right := max(0, row-half), min(f.rows, row+half+1), max(0, c-half), min(f.columns, c+half+1)
			box := func(t []float64) float64 {
				return t[bottom*wide+right] - t[top*wide+right] - t[bottom*wide+left] + t[top*wide+left]
			}
			out.value[row*f.columns+c] = f.value[row*f.columns+c] - box(sum)/box(n)
		}
	}
	return out
}

// smooth is the binomial mean of nine places (1 2 1 along both axes) of what is
// known among them. Without it, interpolating between grid points, which smooths
// too, would make places between the points match better than the points.
func (f *field) smooth() *field {
	out := &field{columns: f.columns, rows: f.rows, step: f.step, value: make([]float64, len(f.value))}
	for row := range f.rows {
		for c := range f.columns {
			i := row*f.columns + c
			out.value[i] = math.NaN()
			if f.value[i] != f.value[i] {
				continue
			}
			sum, n := 0.0, 0.0
			for k := max(0, row-1); k <= min(f.rows-1, row+1); k++ {
				for j := max(0, c-1); j <= min(f.columns-1, c+1); j++ {
					if x := f.value[k*f.columns+j]; x == x {
						w := float64((2 - abs(k-row)) * (2 - abs(j-c)))
						sum, n = sum+w*x, n+w
					}
				}
			}
			out.value[i] = sum / n
		}
	}
	return out
}

func abs(n int) int { return max(n, -n) }

// integral gives running sums of the known values and of their number.
func (f *field) integral() (sum, n []float64) {
	wide := f.columns + 1
	sum, n = make([]float64, wide*(f.rows+1)), make([]float64, wide*(f.rows+1))
	for row := range f.rows {
		for c := range f.columns {
			x, one := f.value[row*f.columns+c], 1.0
			if x != x {
				x, one = 0, 0
			}
			i := (row+1)*wide + c + 1
			sum[i] = x + sum[i-1] + sum[i-wide] - sum[i-wide-1]
			n[i] = one + n[i-1] + n[i-wide] - n[i-wide-1]
		}
	}
	return sum, n
}

// interpolated is the value at a place, between the four grid points beside it;
// NaN where one is not known.
func (f *field) interpolated(x, y float64) float64 {
	c := x/f.step + float64(f.columns-1)/2
	r := float64(f.rows-1)/2 - y/f.step
	ci, ri := int(math.Floor(c)), int(math.Floor(r))
	if ci < 0 || ri < 0 || ci+1 >= f.columns || ri+1 >= f.rows {
		return math.NaN()
	}
	tc, tr := c-float64(ci), r-float64(ri)
	i := ri*f.columns + ci
	return (1-tr)*((1-tc)*f.value[i]+tc*f.value[i+1]) + tr*((1-tc)*f.value[i+f.columns]+tc*f.value[i+f.columns+1])
}
