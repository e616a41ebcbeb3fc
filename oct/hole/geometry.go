package hole

import (
	"math"
	"runtime"

	"limitans/oct"
	"limitans/oct/surface"
)

// geometry is the scale of the scan and the tilt of the retina in it.
//
// Heights are counted along depth from the epithelium, and gaps along the fast
// scan at equal heights. On a retina tilted by θ such a gap, measured as a
// caliper parallel to the epithelium measures it, is longer by 1/cos θ and a
// height perpendicular to the epithelium is shorter by cos θ:
//
//	          ╱ lip
//	   gap  ╱────────╱      horizontal distance d at equal height
//	      ╱        ╱        caliper along the slope: d / cos θ
//	━━━━━━━━ epithelium, tilted by θ
type geometry struct {
	depthUM, lateralUM, sliceUM float64
	heights                     int
	workers                     int
	slopeLateral, slopeSlice    float64 // rise of the epithelium over distance, dimensionless
}

func (g geometry) rows(um float64) int    { return max(0, int(math.Round(um/g.depthUM))) }
func (g geometry) columns(um float64) int { return max(1, int(math.Round(um/g.lateralUM))) }

// gapFactor turns a distance along the fast scan into one along the epithelium.
func (g geometry) gapFactor() float64 { return math.Hypot(1, g.slopeLateral) }

// crossFactor does the same for a distance across slices.
func (g geometry) crossFactor() float64 { return math.Hypot(1, g.slopeSlice) }

// areaFactor turns an area seen along depth into one along the epithelium.
func (g geometry) areaFactor() float64 {
	return math.Sqrt(1 + g.slopeLateral*g.slopeLateral + g.slopeSlice*g.slopeSlice)
}

// heightUM turns a height in samples of depth into µm perpendicular to the epithelium.
func (g geometry) heightUM(k float64) float64 { return k * g.depthUM / g.areaFactor() }

// heightSteps is the inverse of heightUM.
func (g geometry) heightSteps(um float64) float64 { return um * g.areaFactor() / g.depthUM }

// measureGeometry reads scale and tilt. Where the scale is unknown one sample
// is taken as a usual scan.s, for the search windows only; respectScale takes the micrometres away again.
func measureGeometry(v *oct.Volume, s *surface.Surfaces) geometry {
	g := geometry{depthUM: usualDepthUM, lateralUM: usualLateralUM, sliceUM: usualSliceUM, workers: runtime.GOMAXPROCS(0)}
	if v.Scale.Depth.Known() {
		g.depthUM = v.Scale.Depth.MicrometresPerSample
	}
	if v.Scale.Lateral.Known() {
		g.lateralUM = v.Scale.Lateral.MicrometresPerSample
	}
	if v.Scale.Slice.Known() {
		g.sliceUM = v.Scale.Slice.MicrometresPerSample
	}
	tallest := 0.0
	rpe, membrane := s.PigmentEpithelium, s.InnerLimitingMembrane
	for i := range rpe.Row {
		if h := float64(rpe.Row[i] - membrane.Row[i]); h > tallest {
			tallest = h
		}
	}
	g.heights = max(1, min(int(tallest)+g.rows(80), v.Rows))
	return g
}

// withTilt adds the slope of the epithelium around a place, within reach µm.
// Scanners do not hold depth from slice to slice, so the slope across slices is
// the trend of the slices' own levels and is used for raster scans only.
func (g geometry) withTilt(v *oct.Volume, s *surface.Surfaces, slice, column int, reachUM float64) geometry {
	if !v.Scale.Depth.Known() || !v.Scale.Lateral.Known() {
		return g // an angle needs both scales; addWarnings says so
	}
	from, to := max(0, column-g.columns(reachUM)), min(v.Columns-1, column+g.columns(reachUM))
	var slopes, at, level []float64
	for k := range v.Slices {
		if v.Pattern == oct.PatternRaster && math.Abs(float64(k-slice))*g.sliceUM > reachUM {
			continue
		}
		var x, y []float64
		for c := from; c <= to; c++ {
			if r := s.PigmentEpithelium.At(k, c); !math.IsNaN(r) {
				x = append(x, float64(c-column)*g.lateralUM)
				y = append(y, -r*g.depthUM)
			}
		}
		if len(x) < (to-from+1)/2 {
			continue
		}
		a, b := fitLine(x, y)
		slopes, at, level = append(slopes, b), append(at, float64(k)*g.sliceUM), append(level, a)
	}
	if len(slopes) > 0 {
		g.slopeLateral = median(slopes)
	}
	if v.Pattern == oct.PatternRaster && len(at) >= 5 {
		_, g.slopeSlice = fitLine(at, level)
	}
	return g
}
