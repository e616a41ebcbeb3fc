package surface

import "math"

// Surface is one boundary found in a volume: for every slice and column the
// row, with fractions, where it lies. Rows are NaN where the boundary could
// not be traced; such stretches are not bridged.
//
//	index = slice·Columns + column
type Surface struct {
	Name            string
	Slices, Columns int
	Row             []float32 // fractional row, NaN where untraceable
	Confidence      []float32 // 0 (none) to 1 per column
}

// New returns a surface with no traced column.
func New(name string, slices, columns int) *Surface {
	s := &Surface{
		Name: name, Slices: slices, Columns: columns,
		Row: make([]float32, slices*columns), Confidence: make([]float32, slices*columns),
	}
	for i := range s.Row {
		s.Row[i] = float32(math.NaN())
	}
	return s
}

// At returns the row at a slice and column, NaN where untraceable.
func (s *Surface) At(slice, column int) float64 {
	return float64(s.Row[slice*s.Columns+column])
}

// Traced reports whether the boundary was traced at a slice and column.
func (s *Surface) Traced(slice, column int) bool {
	r := s.Row[slice*s.Columns+column]
	return r == r
}

// TracedShare returns the share of columns that were traced, 0 to 1.
func (s *Surface) TracedShare() float64 {
	n := 0
	for _, r := range s.Row {
		if r == r {
			n++
		}
	}
	return float64(n) / float64(len(s.Row))
}
