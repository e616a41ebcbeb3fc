package phantom

import (
	"fmt"
	"math"

	"limitans/fault"
	"limitans/oct"
)

// Make draws the phantom that p describes and returns it with its truth. Equal
// Parameters give equal results, however many processors work. p is not
// changed. The scales of the volume are those of p, marked as given by the
// file.
//
// Faults: Invalid for an impossible field, for a rim that does not rise above
// the retina or its waist and for a retina that does not fit the rows; TooLarge or
// Malformed for the size.
func Make(p Parameters) (*oct.Volume, *Truth, error) {
	d, err := newDrawing(&p)
	if err != nil {
		return nil, nil, err
	}
	volume := &oct.Volume{
		Slices: p.Slices, Rows: p.Rows, Columns: p.Columns, BitDepth: p.BitDepth,
		Samples: make([]uint16, p.Slices*p.Rows*p.Columns), Pattern: oct.PatternRaster, Laterality: p.Laterality,
		Scale:       oct.Scale{Depth: scaleOf(p.DepthUM), Lateral: scaleOf(p.LateralUM), Slice: scaleOf(p.SliceUM)},
		Acquisition: oct.Acquisition{Format: "phantom"}, Notes: []string{"invented: a drawing, not an eye"},
	}
	if p.Slices == 1 {
		volume.Pattern = oct.PatternSingle
	}
	d.prepare()
	d.render(volume)
	return volume, d.truth(), nil
}

// newDrawing checks p and works out the geometry.
func newDrawing(p *Parameters) (*drawing, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	shape := newShape(p)
	f := newFrame(p)
	if err := fit(p, f, shape); err != nil {
		return nil, err
	}
	d := &drawing{
		p: p, f: f, s: shape, features: newFeatures(p, f, shape),
		texture: p.Seed * 0x2545f4914f6cdd1d,
	}
	return d, nil
}

// prepare fills the tables that only the rendering needs.
func (d *drawing) prepare() {
	p := d.p
	d.t, d.layouts = newTissue(p), newLayoutGrid(p, d.f, d.s)
	d.grain, d.display = newGrain(p.Looks, p.GrainLateral, p.GrainDepth), newDisplayTable(p)
	d.blur[0] = halfKernel(p.AxialSigmaUM / p.DepthUM)
	d.blur[1] = halfKernel(p.LateralSigmaUM / p.LateralUM)
}

func scaleOf(um float64) oct.AxisScale {
	return oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustFileGiven, Source: "phantom"}
}

// marginRows is the least distance of the retina from the first and last row.
const marginRows = 6

// fit places the epithelium so that the whole retina lies in the frame.
func fit(p *Parameters, f *frame, s *shape) error {
	low, high := math.Inf(1), math.Inf(-1)
	halfX, halfY := float64(p.Columns)/2*p.LateralUM, float64(p.Slices)/2*p.SliceUM
	const points = 40
	for i := range points + 1 {
		for k := range points + 1 {
			x, y := halfX*(2*float64(i)/points-1), halfY*(2*float64(k)/points-1)
			_, _, bottom := f.image(x, y, -epitheliumBandUM)
			_, _, top := f.image(x, y, math.Max(s.top(x, y), s.waistV))
			low, high = math.Min(low, bottom), math.Max(high, top)
		}
	}
	motion := 0.0
	for _, shift := range f.shiftDepthUM {
		motion = math.Max(motion, math.Abs(shift))
	}
	low, high = low-motion, high+motion
	room := float64(p.Rows-1-2*marginRows) - (high-low)/p.DepthUM
	if p.EpitheliumRow == 0 {
		f.epitheliumRow = marginRows + 0.55*room + high/p.DepthUM
	}
	first, last := f.epitheliumRow-high/p.DepthUM, f.epitheliumRow-low/p.DepthUM
	if first < marginRows-0.001 || last > float64(p.Rows-1-marginRows)+0.001 {
		return &fault.Error{
			Code: fault.Invalid, Where: "phantom",
			What:     fmt.Sprintf("the retina would lie in rows %.0f to %.0f", first, last),
			Expected: fmt.Sprintf("rows %d to %d", marginRows, p.Rows-1-marginRows),
			Mend:     "take more rows, less tilt or a smaller field",
		}
	}
	return nil
}
