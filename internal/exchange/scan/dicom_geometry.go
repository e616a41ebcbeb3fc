package scan

import (
	"fmt"
	"math"
	"sort"

	"limitans/internal/exchange/dicom"
	"limitans/oct"
)

// vector is a direction or place in the patient's frame, millimetres:
// x to the patient's left, y to the back, z to the head (PS3.3 C.7.6.2).
type vector [3]float64

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vector) length() float64      { return math.Sqrt(a.dot(a)) }
func (a vector) minus(b vector) vector {
	return vector{a[0] - b[0], a[1] - b[1], a[2] - b[2]}
}

func (a vector) plus(b vector, times float64) vector {
	return vector{a[0] + times*b[0], a[1] + times*b[1], a[2] + times*b[2]}
}

func (a vector) cross(b vector) vector {
	return vector{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// sameDirection: two directions count as parallel below this angle, which the
// rounding of four-digit cosines does not reach.
const sameDirection = 0.25 * math.Pi / 180

func angleBetween(a, b vector) float64 { return math.Atan2(a.cross(b).length(), a.dot(b)) }

// setPixelScale sets the scale along depth and along the slice. A spacing that
// no scanner of the eye has is not taken, and that is said.
func setPixelScale(v *oct.Volume, frames []*dicomFrame) error {
	first := frames[0]
	for _, f := range frames[1:] {
		if (f.spacing == nil) != (first.spacing == nil) || f.spacing != nil && (differ(f.spacing[0], first.spacing[0]) || differ(f.spacing[1], first.spacing[1])) {
			return unequalSpacing(first, f)
		}
	}
	if first.spacing == nil {
		v.Notes = append(v.Notes, "the file gives no Pixel Spacing: depth and lateral scale are unknown")
		return nil
	}
	for i, a := range []struct {
		axis axis
		into *oct.AxisScale
	}{{depthAxis, &v.Scale.Depth}, {lateralAxis, &v.Scale.Lateral}} {
		um := first.spacing[i] * 1000
		switch {
		case math.IsNaN(um):
			v.Notes = append(v.Notes, fmt.Sprintf("%s is empty for the %s: it is unknown", first.spacingSource, a.axis.name))
		case a.axis.check("", um) != nil:
			v.Notes = append(v.Notes, fmt.Sprintf("%s gives %g µm per sample for the %s, outside %g to %g µm: it was not used", first.spacingSource, um, a.axis.name, a.axis.low, a.axis.high))
		default:
			*a.into = oct.AxisScale{MicrometresPerSample: um, Trust: oct.TrustFileGiven, Source: first.spacingSource}
		}
	}
	return nil
}

func differ(a, b float64) bool {
	if math.IsNaN(a) || math.IsNaN(b) {
		return math.IsNaN(a) != math.IsNaN(b)
	}
	return math.Abs(a-b) > 1e-4*math.Abs(a)
}

// sliceGeometry finds pattern, order, slice distance and angles, and returns
// which frame becomes which slice. The first source that says something wins:
//
//  1. Image Position and Orientation (Patient): positions projected on the
//     normal of the slices;
//  2. Reference Coordinates of the Ophthalmic Frame Location times the Pixel
//     Spacing of the picture referred to, when it is among the files;
//  3. Spacing Between Slices;
//  4. Slice Thickness, with trust "assumed", since slices may overlap or leave
//     gaps;
//  5. none: the slice distance stays unknown.
func sliceGeometry(v *oct.Volume, frames []*dicomFrame, references []*dicomObject) ([]int, error) {
	order := make([]int, len(frames))
	for i := range order {
		order[i] = i
	}
	if len(frames) == 1 {
		v.Pattern = oct.PatternSingle
		return order, nil
	}
	if done := planes(v, frames, order); done {
		return order, nil
	}
	done, err := lines(v, frames, order, references)
	if done || err != nil {
		return order, err
	}
	sliceAttributes(v, frames)
	return order, nil
}

// planes uses positions and orientations; it reports whether they decide.
func planes(v *oct.Volume, frames []*dicomFrame, order []int) bool {
	parallel := true
	for _, f := range frames {
		if f.position == nil || f.orientation == nil {
			return false
		}
		parallel = parallel && angleBetween(f.orientation[0], frames[0].orientation[0]) < sameDirection &&
			angleBetween(f.orientation[1], frames[0].orientation[1]) < sameDirection
	}
	if !parallel {
		if !radialPlanes(v, frames) {
			v.Notes = append(v.Notes, "the slices are neither parallel nor do they cross at their middle: no slice distance")
		}
		return true
	}
	row, column := frames[0].orientation[0], frames[0].orientation[1]
	normal := row.cross(column)
	along := make([]float64, len(frames))
	var shiftMM float64
	for i, f := range frames {
		step := f.position.minus(*frames[0].position)
		along[i] = step.dot(normal) / normal.length()
		shiftMM = math.Max(shiftMM, step.plus(normal, -along[i]).length())
	}
	if !raster(v, along, order, "Image Position (Patient) projected on the normal") {
		return false
	}
	if um := shiftMM * 1000; um > 1 && um > v.Scale.Lateral.MicrometresPerSample/2 {
		v.Notes = append(v.Notes, fmt.Sprintf("the slices are shifted within their planes by up to %.4g µm against the first; this is not corrected", um))
	}
	return true
}

// raster orders parallel slices and sets their distance from their places along
// the normal in millimetres. It returns false when all lie at one place.
func raster(v *oct.Volume, alongMM []float64, order []int, source string) bool {
	gaps := sortAlong(v, alongMM, order)
	median := append([]float64(nil), gaps...)
	sort.Float64s(median)
	least, most := median[0], median[len(median)-1]
	middle := median[len(median)/2]
	mean := math.Abs(alongMM[order[len(order)-1]]-alongMM[order[0]]) / float64(len(gaps))
	const samePlaceMM = 1e-5 // a hundredth of a micrometre
	if most < samePlaceMM {
		v.Notes = append(v.Notes, source+": all slices lie at one place; not used")
		return false
	}
	v.Pattern = oct.PatternRaster
	scale := oct.AxisScale{MicrometresPerSample: mean * 1000, Trust: oct.TrustFileGiven, Source: source}
	if least < samePlaceMM {
		v.Pattern = oct.PatternUnknown
		v.Notes = append(v.Notes, fmt.Sprintf("%s: some slices lie at the same place as others; the slice distance is unknown", source))
		return true
	}
	const even = 0.01 // what rounding to three digits may do
	if most-middle > even*middle || middle-least > even*middle {
		widest := 0
		for i, g := range gaps {
			if g > gaps[widest] {
				widest = i
			}
		}
		v.Notes = append(v.Notes, fmt.Sprintf("the slices are unevenly spaced: %.4g to %.4g µm, widest between slices %d and %d (counted from 1); the mean is used",
			least*1000, most*1000, widest+1, widest+2))
		scale.Trust, scale.Source = oct.TrustAssumed, "mean of uneven distances from "+source
	}
	if err := sliceAxis.check("", scale.MicrometresPerSample); err != nil {
		v.Notes = append(v.Notes, fmt.Sprintf("%s gives %g µm between slices, outside %g to %g µm: it was not used", source, scale.MicrometresPerSample, sliceAxis.low, sliceAxis.high))
		return true
	}
	v.Scale.Slice = scale
	return true
}

// sortAlong puts order by place, keeping the file's own order when it runs one
// way, and returns the distances between neighbours.
func sortAlong(v *oct.Volume, along []float64, order []int) []float64 {
	up, down := true, true
	for i := 1; i < len(along); i++ {
		up = up && along[i] >= along[i-1]
		down = down && along[i] <= along[i-1]
	}
	if !up && !down {
		sort.SliceStable(order, func(i, j int) bool { return along[order[i]] < along[order[j]] })
		v.Notes = append(v.Notes, "the frames were not in the order of their places; they were put in order along the normal")
	}
	gaps := make([]float64, len(along)-1)
	for i := range gaps {
		gaps[i] = math.Abs(along[order[i+1]] - along[order[i]])
	}
	return gaps
}

// radialPlanes recognises slices that share their depth direction and cross at
// their middle column. It needs the lateral scale to find the middle.
//
// The fundus as it is seen: the viewer looks along depth d. right is the
// patient's left (+x) made perpendicular to d, up = right × d turned so that
// (right, up, −d) is right-handed; angles run from right to up.
func radialPlanes(v *oct.Volume, frames []*dicomFrame) bool {
	if !v.Scale.Lateral.Known() {
		return false
	}
	sampleMM := v.Scale.Lateral.MicrometresPerSample / 1000
	depth := frames[0].orientation[1]
	right := vector{1, 0, 0}
	right = right.plus(depth, -right.dot(depth))
	if right.length() < 0.1 {
		return false // depth along x: no way to tell how the fundus is seen
	}
	right = vector{}.plus(right, 1/right.length())
	up := right.cross(depth)
	var first vector
	angles := make([]float64, len(frames))
	const crossSamples = 1.5
	for i, f := range frames {
		if angleBetween(f.orientation[1], depth) > sameDirection {
			return false
		}
		middle := f.position.plus(f.orientation[0], sampleMM*float64(v.Columns-1)/2)
		if i == 0 {
			first = middle
		}
		away := middle.minus(first)
		away = away.plus(depth, -away.dot(depth))
		if away.length() > crossSamples*sampleMM {
			return false
		}
		angles[i] = turn(f.orientation[0].dot(up), f.orientation[0].dot(right))
	}
	v.Pattern, v.SliceAnglesDeg = oct.PatternRadial, angles
	return true
}

// turn is the angle of (x, y) in degrees from 0 to below 360.
func turn(y, x float64) float64 {
	degrees := math.Atan2(y, x) * 180 / math.Pi
	if degrees < 0 {
		degrees += 360
	}
	if degrees >= 360-1e-9 {
		return 0
	}
	return degrees
}

// sliceAttributes falls back on the attributes that state a distance.
func sliceAttributes(v *oct.Volume, frames []*dicomFrame) {
	for _, a := range []struct {
		tag   dicom.Tag
		of    func(*dicomFrame) float64
		trust oct.Trust
		words string
	}{
		{dicom.TagSpacingBetweenSlices, func(f *dicomFrame) float64 { return f.between }, oct.TrustFileGiven, ""},
		{dicom.TagSliceThickness, func(f *dicomFrame) float64 { return f.thickness }, oct.TrustAssumed, " taken as the slice distance"},
	} {
		mm := a.of(frames[0])
		if mm == 0 {
			continue
		}
		equal := true
		for _, f := range frames {
			equal = equal && !differ(mm, a.of(f))
		}
		if !equal || sliceAxis.check("", mm*1000) != nil {
			v.Notes = append(v.Notes, fmt.Sprintf("%s (%g mm in the first slice) differs between slices or is impossible: it was not used", a.tag, mm))
			continue
		}
		v.Pattern = oct.PatternRaster
		v.Scale.Slice = oct.AxisScale{MicrometresPerSample: mm * 1000, Trust: a.trust, Source: a.tag.String() + a.words}
		if a.trust == oct.TrustAssumed {
			v.Notes = append(v.Notes, "the file does not say where the slices lie; that they are parallel and as far apart as they are thick is an assumption")
		}
		return
	}
	v.Notes = append(v.Notes, "the file does not say where the slices lie: pattern and slice distance are unknown")
}
