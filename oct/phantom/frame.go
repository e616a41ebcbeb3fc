package phantom

import "math"

// frame turns places in the image into places in the retina.
type frame struct {
	cosA, sinA, cosB, sinB float64
	sagFactor              float64 // 1/(2·radius) in 1/µm
	depthUM, lateralUM     float64
	sliceUM                float64
	middleColumn           float64
	middleSlice            float64
	epitheliumRow          float64 // row of (0,0,0)
	shiftDepthUM           []float64
	shiftLateralUM         []float64
}

func newFrame(p *Parameters) *frame {
	f := &frame{
		depthUM: p.DepthUM, lateralUM: p.LateralUM, sliceUM: p.SliceUM,
		middleColumn: float64(p.Columns-1) / 2, middleSlice: float64(p.Slices-1) / 2,
		epitheliumRow: p.EpitheliumRow,
		shiftDepthUM:  make([]float64, p.Slices), shiftLateralUM: make([]float64, p.Slices),
	}
	f.sinA, f.cosA = math.Sincos(p.TiltLateralDeg * math.Pi / 180)
	f.sinB, f.cosB = math.Sincos(p.TiltSliceDeg * math.Pi / 180)
	if p.CurvatureRadiusMM != 0 {
		f.sagFactor = 1 / (2000 * p.CurvatureRadiusMM)
	}
	rng := newStream(p.Seed, streamMotion)
	for s := range f.shiftDepthUM {
		f.shiftDepthUM[s] = rng.NormFloat64() * p.MotionDepthUM
		f.shiftLateralUM[s] = rng.NormFloat64() * p.MotionLateralUM
	}
	return f
}

// sag is the rise of the curved epithelium above its tangent plane.
func (f *frame) sag(x, y float64) float64 { return f.sagFactor * (x*x + y*y) }

// imageXY returns the place of a column and slice on the image's own plane.
func (f *frame) imageX(slice int, column float64) float64 {
	return (column-f.middleColumn)*f.lateralUM - f.shiftLateralUM[slice]
}

func (f *frame) imageY(slice int) float64 { return (float64(slice) - f.middleSlice) * f.sliceUM }

// imageW returns the height of a row.
func (f *frame) imageW(slice int, row float64) float64 {
	return (f.epitheliumRow-row)*f.depthUM - f.shiftDepthUM[slice]
}

// row is the inverse of imageW.
func (f *frame) row(slice int, w float64) float64 {
	return f.epitheliumRow - (w+f.shiftDepthUM[slice])/f.depthUM
}

// retina returns the place in the retina's frame.
func (f *frame) retina(imageX, imageY, imageW float64) (x, y, v float64) {
	x = imageX*f.cosA + imageW*f.sinA
	inSlice := imageW*f.cosA - imageX*f.sinA
	y = imageY*f.cosB + inSlice*f.sinB
	v = inSlice*f.cosB - imageY*f.sinB - f.sag(x, y)
	return x, y, v
}

// image is the inverse of retina.
func (f *frame) image(x, y, v float64) (imageX, imageY, imageW float64) {
	flat := v + f.sag(x, y)
	imageY = y*f.cosB - flat*f.sinB
	inSlice := y*f.sinB + flat*f.cosB
	return x*f.cosA - inSlice*f.sinA, imageY, x*f.sinA + inSlice*f.cosA
}

// yInSlice returns y where the plane of a slice at imageY meets height v at x.
// The rise of the curvature depends on y itself; two rounds settle it to less
// than a nanometre for the radii that are allowed.
func (f *frame) yInSlice(imageY, x, v float64) float64 {
	y := imageY/f.cosB + v*f.sinB/f.cosB
	for range 3 {
		y = imageY/f.cosB + (v+f.sag(x, y))*f.sinB/f.cosB
	}
	return y
}
