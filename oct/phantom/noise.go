package phantom

import (
	"math"
	"math/rand/v2"
)

// grain makes speckle: independent gamma variates of mean 1, run through a
// three-sample kernel along each axis. The kernel (weight, 1, weight)/(1 + 2·weight)
// keeps the mean and multiplies the variance by (1 + 2w²)/(1 + 2w)²; the
// variates are drawn with the variance that makes up for it, so that the field
// has variance 1/looks. Neighbours then correlate by 2w/(1 + 2w²), samples two
// apart by w²/(1 + 2w²).
type grain struct {
	table              [grainEntries]float32 // quantiles of the variate
	lateral, depth     float32
	lateral0, depth0   float32 // weights of the middle
	quiet              bool
	lateralOn, depthOn bool
}

const (
	grainBits    = 12
	grainEntries = 1 << grainBits
	perDraw      = 64 / grainBits
)

func newGrain(looks, lateral, depth float64) *grain {
	g := &grain{quiet: math.IsInf(looks, 1), lateralOn: lateral > 0, depthOn: depth > 0}
	g.lateral, g.lateral0 = float32(lateral/(1+2*lateral)), float32(1/(1+2*lateral))
	g.depth, g.depth0 = float32(depth/(1+2*depth)), float32(1/(1+2*depth))
	if g.quiet {
		return g
	}
	keep := (1 + 2*lateral*lateral) / ((1 + 2*lateral) * (1 + 2*lateral)) *
		(1 + 2*depth*depth) / ((1 + 2*depth) * (1 + 2*depth))
	fillGammaQuantiles(g.table[:], looks*keep)
	return g
}

// fillGammaQuantiles fills table with equally probable values of the gamma
// distribution with the given shape and mean 1; mean and variance of the table
// are then set exactly.
func fillGammaQuantiles(table []float32, shape float64) {
	// P(k, x) = x^k e^−x / Γ(k+1) · Σ x^n / ((k+1)…(k+n)), tabulated on a grid
	// that is even in log x and inverted by interpolation.
	lgamma, _ := math.Lgamma(shape + 1)
	cumulative := func(x float64) float64 {
		term, sum := 1.0, 1.0
		for n := 1; n < 2000; n++ {
			term *= x / (shape + float64(n))
			sum += term
			if term < sum*1e-12 {
				break
			}
		}
		return math.Exp(shape*math.Log(x)-x-lgamma) * sum
	}
	low := math.Log(1e-6) / shape // P ≈ 10⁻⁶/Γ(k+1) there
	high := math.Log(shape + 12*math.Sqrt(shape) + 25)
	const steps = 4000
	logX, previousX, previousP := low, low, 0.0
	at, p := 0, cumulative(math.Exp(low))
	values := make([]float64, len(table))
	for step := 1; step <= steps && at < len(table); step++ {
		for at < len(table) {
			want := (float64(at) + 0.5) / float64(len(table))
			if want > p {
				break
			}
			t := 0.0
			if p > previousP {
				t = (want - previousP) / (p - previousP)
			}
			values[at] = math.Exp(previousX + t*(logX-previousX))
			at++
		}
		previousX, previousP = logX, p
		logX = low + (high-low)*float64(step)/steps
		p = cumulative(math.Exp(logX))
	}
	for ; at < len(table); at++ {
		values[at] = math.Exp(high)
	}
	mean, square := 0.0, 0.0
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	for _, v := range values {
		square += (v - mean) * (v - mean)
	}
	variance := square / float64(len(values)) / (mean * mean)
	stretch := math.Sqrt(1 / shape / variance) // the last bin's tail is cut: a part in a thousand
	for i, v := range values {
		table[i] = float32(math.Max(0, 1+(v/mean-1)*stretch))
	}
}

// fill writes columns × rows of noise, column after column. The buffers are of
// the same length.
func (g *grain) fill(field, scratch []float32, columns, rows int, rng *rand.PCG) {
	g.draw(field, rng)
	if g.depthOn {
		for c := range columns {
			smoothColumn(scratch[c*rows:(c+1)*rows], field[c*rows:(c+1)*rows], g.depth0, g.depth)
		}
		field, scratch = scratch, field
	}
	if !g.lateralOn {
		if g.depthOn {
			copy(scratch, field)
		}
		return
	}
	for c := range columns {
		middle := field[c*rows : (c+1)*rows]
		left, right := middle, middle
		if c > 0 {
			left = field[(c-1)*rows : c*rows]
		}
		if c < columns-1 {
			right = field[(c+1)*rows : (c+2)*rows]
		}
		out := scratch[c*rows : (c+1)*rows]
		for r := range out {
			out[r] = g.lateral0*middle[r] + g.lateral*(left[r]+right[r])
		}
	}
	if !g.depthOn {
		copy(field, scratch)
	}
}

func (g *grain) draw(field []float32, rng *rand.PCG) {
	i := 0
	for ; i+perDraw <= len(field); i += perDraw {
		bits := rng.Uint64()
		for k := range perDraw {
			field[i+k] = g.table[bits>>(k*grainBits)&(grainEntries-1)]
		}
	}
	for bits := rng.Uint64(); i < len(field); i++ {
		field[i] = g.table[bits&(grainEntries-1)]
		bits >>= grainBits
	}
}

func smoothColumn(out, in []float32, middle, side float32) {
	last := len(in) - 1
	out[0] = middle*in[0] + side*(in[0]+in[1])
	for r := 1; r < last; r++ {
		out[r] = middle*in[r] + side*(in[r-1]+in[r+1])
	}
	out[last] = middle*in[last] + side*(in[last]+in[last-1])
}
