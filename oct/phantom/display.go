package phantom

import "math"

// displayTable turns linear intensity into grey values through a table over
// the leading bits of the number: the exponent and the first mantissa bits.
type displayTable struct {
	floor float32
	white uint16
	grey  []float32
}

const (
	displayBits  = 10 // mantissa bits kept; steps of 0.004 dB
	displayShift = 23 - displayBits
	displayLow   = (127 - 24) << displayBits // 2^−24
	displayHigh  = (127 + 24) << displayBits
)

func newDisplayTable(p *Parameters) *displayTable {
	t := &displayTable{floor: float32(p.NoiseFloor), white: uint16(1<<p.BitDepth - 1), grey: make([]float32, displayHigh-displayLow+2)}
	for i := range t.grey {
		bits := uint32(i+displayLow) << displayShift
		t.grey[i] = float32(p.Display.grey(float64(math.Float32frombits(bits))) * float64(t.white))
	}
	return t
}

// grey returns the display's value of a linear intensity: 0 black, 1 white,
// not clipped.
func (d Display) grey(intensity float64) float64 {
	if d.Curve == CurveFourthRoot {
		black, white := math.Pow(10, d.BlackDB/40), math.Pow(10, (d.BlackDB+d.RangeDB)/40)
		return (math.Sqrt(math.Sqrt(intensity)) - black) / (white - black)
	}
	return (10*math.Log10(intensity) - d.BlackDB) / d.RangeDB
}

// at interpolates between the entries and clips.
func (t *displayTable) at(intensity float32) uint16 {
	bits := math.Float32bits(intensity)
	i := int(bits>>displayShift) - displayLow
	if i < 0 {
		i, bits = 0, 0
	} else if i >= len(t.grey)-1 {
		return t.white
	}
	part := float32(bits&(1<<displayShift-1)) * (1.0 / (1 << displayShift))
	grey := t.grey[i] + part*(t.grey[i+1]-t.grey[i]) + 0.5
	if grey < 0 {
		return 0
	}
	return uint16(min(grey, float32(t.white)))
}

// tissueContrast is the contrast of the speckle in tissue against that in the
// noise floor, set to what the real volume shows.
const tissueContrast = 0.75

// write adds the floor, multiplies by the noise (nil: none), applies the curve
// and turns columns into rows.
func (t *displayTable) write(out []uint16, signal, noise []float32, p *Parameters, slice int) {
	const block = 32
	for c0 := 0; c0 < p.Columns; c0 += block {
		c1 := min(c0+block, p.Columns)
		for r0 := 0; r0 < p.Rows; r0 += block {
			r1 := min(r0+block, p.Rows)
			for c := c0; c < c1; c++ {
				for r := r0; r < r1; r++ {
					i := c*p.Rows + r
					value := signal[i] + t.floor
					if noise != nil {
						value += (tissueContrast*signal[i] + t.floor) * (noise[i] - 1)
					}
					row := r
					if p.Inverted {
						row = p.Rows - 1 - r
					}
					out[row*p.Columns+c] = t.at(value)
				}
			}
		}
	}
	if p.WhiteWedge {
		t.wedge(out, p)
	}
}

// wedge whitens what an image turned by a few degrees leaves empty.
func (t *displayTable) wedge(out []uint16, p *Parameters) {
	slope := 0.02 + 0.05*float64(p.Seed%7)/6
	for c := range p.Columns {
		height := int(math.Min(slope*float64(c), float64(p.Rows)/8))
		for r := range height {
			out[r*p.Columns+c] = t.white
			out[(p.Rows-1-r)*p.Columns+p.Columns-1-c] = t.white
		}
	}
}
