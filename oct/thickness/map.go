package thickness

import (
	"math"
)

// Map is thickness on a square grid round the centre, for drawing.
//
//	row 0      (−3000, +3000) ───▶ (+3000, +3000)      x to the right, y up,
//	  …             │                                  as the fundus is seen;
//	row Size−1 (−3000, −3000)                          the middle is the centre
//	            column 0        column Size−1          of the grid
//
// The value stands for the place itself, not for a cell round it.
type Map struct {
	Size        int       // rows and columns
	StepUM      float64   // distance of two places
	ThicknessUM []float32 // row after row; NaN where unseen
}

// PlaceUM returns the place of a row and column, in µm from the centre.
func (m *Map) PlaceUM(row, column int) (x, y float64) {
	half := float64(m.Size-1) / 2
	return (float64(column) - half) * m.StepUM, (half - float64(row)) * m.StepUM
}

// At returns thickness in µm at a row and column, NaN where unseen.
func (m *Map) At(row, column int) float64 { return float64(m.ThicknessUM[row*m.Size+column]) }

// newMap fills the square that holds the outer circle.
func newMap(pl plane, centre place) *Map {
	size := int(2*OuterRadiusUM/mapStepUM) + 1
	m := &Map{Size: size, StepUM: mapStepUM, ThicknessUM: make([]float32, size*size)}
	for row := range size {
		for column := range size {
			x, y := m.PlaceUM(row, column)
			um, why := pl.at(place{centre.x + x, centre.y + y})
			if why != seen {
				um = math.NaN()
			}
			m.ThicknessUM[row*size+column] = float32(um)
		}
	}
	return m
}
