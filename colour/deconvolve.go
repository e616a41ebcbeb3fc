package colour

import (
	"fmt"
	"math"

	"limitans/fault"
)

// leastIntensity is one step of an eight-bit channel: darker tells no density.
const leastIntensity = 1.0 / math.MaxUint8

// OpticalDensity is −log10(I/I0) per channel, of linear intensities: the picture's
// and that of the unstained place beside it, each from 1/255 to 1. Darker than
// that is NotMeasurable.
func OpticalDensity(intensity, unstained RGB) ([3]float64, error) {
	var out [3]float64
	i, i0 := []float64{intensity.R, intensity.G, intensity.B}, []float64{unstained.R, unstained.G, unstained.B}
	for k := range out {
		for _, v := range []float64{i[k], i0[k]} {
			if !(v >= 0 && v <= 1) {
				return out, &fault.Error{Code: fault.Invalid, Where: "intensity", What: fmt.Sprintf("%g is no channel", v), Expected: "0 to 1, linear"}
			}
			if v < leastIntensity {
				return out, &fault.Error{Code: fault.NotMeasurable, Where: "intensity", What: fmt.Sprintf("%g is too dark for a density", v), Expected: "at least 1/255"}
			}
		}
		out[k] = -math.Log10(i[k] / i0[k])
	}
	return out, nil
}

// Stains is a set of three dyes by their optical densities per channel, one a
// row, each of length 1.
type Stains struct{ rows, inverse [3][3]float64 }

// NewStains takes three densities per unit of dye, each of any length above 0,
// none negative, that no one can be made of the others.
func NewStains(rows [3][3]float64) (Stains, error) {
	s := Stains{rows: rows}
	for i, row := range rows {
		length := math.Hypot(row[0], math.Hypot(row[1], row[2]))
		for _, v := range row {
			if !(v >= 0) {
				return Stains{}, &fault.Error{Code: fault.Invalid, Where: "stain", What: fmt.Sprintf("a density of %g cannot be", v), Expected: "0 or more"}
			}
		}
		if !(length > 0) || math.IsInf(length, 0) {
			return Stains{}, &fault.Error{Code: fault.Invalid, Where: "stain", What: "one has no density"}
		}
		for k := range row {
			s.rows[i][k] = row[k] / length
		}
	}
	m := s.rows
	minor := func(r, c int) float64 {
		a, b, d, e := (r+1)%3, (r+2)%3, (c+1)%3, (c+2)%3
		return m[a][d]*m[b][e] - m[a][e]*m[b][d]
	}
	determinant := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	if math.Abs(determinant) < 1e-6 {
		return Stains{}, &fault.Error{Code: fault.NotMeasurable, Where: "stains", What: "two of them have the same colour, so their amounts cannot be told apart"}
	}
	for r := range 3 {
		for c := range 3 {
			s.inverse[c][r] = minor(r, c) / determinant
		}
	}
	return s, nil
}

// Density is what amounts of the three dyes make: Σ amount·row.
func (s Stains) Density(amounts [3]float64) [3]float64 { return times(amounts, s.rows) }

// Amounts are those that a density is made of, density·M⁻¹ (Ruifrok and Johnston
// 2001). A negative amount says that the place is less stained than the
// unstained one; it is given as it is.
func (s Stains) Amounts(density [3]float64) [3]float64 { return times(density, s.inverse) }

func times(row [3]float64, m [3][3]float64) [3]float64 {
	var out [3]float64
	for k := range out {
		out[k] = row[0]*m[0][k] + row[1]*m[1][k] + row[2]*m[2][k]
	}
	return out
}
