package register

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"limitans/estimate"
)

// depthStepUM is how far apart places are at which depths are compared.
const depthStepUM = 60.0

// depth fits the plane between the epithelia of the two scans at corresponding
// places and fills it into m.
func depth(first, second Scan, m *Motion) error {
	a, b := first.depths(), second.depths()
	type pair struct{ x, y, d float64 }
	var pairs []pair
	across, down := first.size()
	for y := -down / 2; y <= down/2; y += depthStepUM {
		for x := -across / 2; x <= across/2; x += depthStepUM {
			bx, by := m.ToSecond(x, y)
			d := second.at(b, bx, by, depthStepUM) - first.at(a, x, y, depthStepUM)
			if d == d {
				pairs = append(pairs, pair{x, y, d})
			}
		}
	}
	for range 3 {
		if len(pairs) < 20 {
			return noMatch("the pigment epithelium was traced on too few common places", "20 or more")
		}
		// Normal equations of d = c + tx·x + ty·y, in mm so that they are well set.
		ata := mat.NewSymDense(3, nil)
		atd := mat.NewVecDense(3, nil)
		for _, p := range pairs {
			row := [3]float64{1, p.x / 1000, p.y / 1000}
			for i := range 3 {
				for j := i; j < 3; j++ {
					ata.SetSym(i, j, ata.At(i, j)+row[i]*row[j])
				}
				atd.SetVec(i, atd.AtVec(i)+row[i]*p.d)
			}
		}
		var chol mat.Cholesky
		var fit mat.VecDense
		if !chol.Factorize(ata) || chol.SolveVecTo(&fit, atd) != nil {
			return noMatch("the common places lie on a line", "an area")
		}
		residual := func(p pair) float64 {
			return p.d - fit.AtVec(0) - fit.AtVec(1)*p.x/1000 - fit.AtVec(2)*p.y/1000
		}
		sum := 0.0
		for _, p := range pairs {
			sum += residual(p) * residual(p)
		}
		sd := math.Sqrt(sum / float64(len(pairs)-3))
		m.DepthUM = estimate.Normal(fit.AtVec(0), sd/math.Sqrt(float64(len(pairs))), "plane through the differences of the pigment epithelium; interval of its middle")
		m.TiltX, m.TiltY = fit.AtVec(1)/1000, fit.AtVec(2)/1000
		kept := pairs[:0:0]
		for _, p := range pairs {
			if math.Abs(residual(p)) <= 2.5*sd {
				kept = append(kept, p)
			}
		}
		pairs = kept
	}
	return nil
}

// depths are those of the epithelium in µm, NaN where it was not traced.
func (s Scan) depths() []float64 {
	out := make([]float64, len(s.Lines.PigmentEpithelium.Row))
	um := s.Volume.Scale.Depth.MicrometresPerSample
	for i, row := range s.Lines.PigmentEpithelium.Row {
		out[i] = float64(row) * um
	}
	return out
}
