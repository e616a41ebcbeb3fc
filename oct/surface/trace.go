package surface

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"limitans/fault"
	"limitans/oct"
	"limitans/oct/ascan"
)

// Lengths the search works with, in µm, with the reason for each.
const (
	epitheliumBandUM   = 24.0   // thickness of the bright band (common practice, no source)
	nextBandGapUM      = 28.0   // from the band's centre to what must be darker below it
	epitheliumSlopeMax = 0.75   // 37°: tilt of 12° plus the steepest drusen and myopic curvature
	membraneSlopeMax   = 2.5    // 68°: a steep rim
	corridorUM         = 90.0   // half-width of the corridor around what the neighbours agree on
	thinnestRetinaUM   = 45.0   // tissue nearer to the band's centre than this is not retina
	thinnestSheetUM    = 9.0    // thinner sheets are vitreous strands, not retina
	narrowestTissueUM  = 22.0   // narrower columns of tissue are strands
	sheetWidthUM       = 1200.0 // an operculum is narrower than this (common practice, no source)
	sheetThicknessUM   = 35.0   // inner retina is thicker, a detached vitreous face thinner
	dimTissue          = 0.18   // relative brightness of the dimmest retinal layer, widely averaged
	thickestRetinaUM   = 900.0  // inner retina lies within this distance of the epithelium
	borderUM           = 80.0   // strip at the frame's border in which some exports fade
	innerEdgeReachUM   = 40.0   // the band's inner edge lies within this distance above its centre
	defaultDepthUM     = 4.0    // search windows only, where the scale is unknown
	defaultLateralUM   = 8.0    // search windows only
	smallestContrast   = 2.0    // class step over smoothed noise below which nothing is traced
	smoothNoiseGoal    = 0.055  // noise aimed at by smoothing, as a share of the class step
)

// SliceLevels are the grey levels of one slice, for those who build on the
// surfaces: the typical vitreous and tissue grey and the noise of one sample.
type SliceLevels struct {
	Vitreous, Tissue float64
	// SampleNoise and TissueNoise are the standard deviations of one sample in
	// vitreous and in tissue; TissueNoise is NaN where it could not be read.
	SampleNoise, TissueNoise float64
	Traceable                bool
}

// Surfaces is the result of [Trace].
type Surfaces struct {
	// InnerLimitingMembrane lies where half of the tissue's signal is shown;
	// VisibleMembrane is its edge as an eye sees it, at the middle of the grey
	// step, one or two samples higher. Lengths are measured from the first, the
	// second is drawn and compared with lines that people draw.
	InnerLimitingMembrane      *Surface
	VisibleMembrane            *Surface
	PigmentEpithelium          *Surface
	PigmentEpitheliumInnerEdge *Surface
	Levels                     []SliceLevels
	// EdgeShare is where on the grey step from vitreous to tissue boundaries
	// are placed, see [HalfSignalShare].
	EdgeShare float64
	Warnings  []string
}

// Options are the inputs of [Trace] besides the volume.
type Options struct {
	// NoData returns, for a slice, true for each sample (row after row) that
	// holds no data; nil or a nil result means that all samples do.
	NoData func(slice int) []bool
	// Progress is told how many slices are done; nil is allowed. It may be
	// called from several goroutines.
	Progress func(done, total int)
}

// geometry is the scale in the form the search needs: rows and columns.
type geometry struct {
	rows, columns      int
	depthUM, lateralUM float64
}

func (g geometry) depthRows(um float64) int   { return max(1, int(math.Round(um/g.depthUM))) }
func (g geometry) lateralCols(um float64) int { return max(1, int(math.Round(um/g.lateralUM))) }
func (g geometry) maxStep(slope float64) int {
	return min(max(1, int(math.Ceil(slope*g.lateralUM/g.depthUM))), 60)
}

// tracer holds what the passes over one volume share.
type tracer struct {
	volume   *oct.Volume
	options  Options
	geometry geometry
	out      *Surfaces
	slices   []sliceState
	done     atomic.Int64
}

// Trace finds the surfaces of a volume; see the package comment for the method.
// The volume must be upright and pass [oct.Volume.Check]. Slices in which
// tissue cannot be told from vitreous stay untraced and are named in Warnings;
// an error is returned when that is so in all of them, or when ctx ends.
func Trace(ctx context.Context, v *oct.Volume, options Options) (*Surfaces, error) {
	if err := v.Check(); err != nil {
		return nil, err
	}
	g := geometry{rows: v.Rows, columns: v.Columns, depthUM: defaultDepthUM, lateralUM: defaultLateralUM}
	if v.Scale.Depth.Known() {
		g.depthUM = v.Scale.Depth.MicrometresPerSample
	}
	if v.Scale.Lateral.Known() {
		g.lateralUM = v.Scale.Lateral.MicrometresPerSample
	}
	if v.Rows < 16 || v.Columns < 16 {
		return nil, &fault.Error{
			Code: fault.NotMeasurable, Where: "scan",
			What: fmt.Sprintf("a slice of %d × %d samples is too small to trace", v.Rows, v.Columns), Expected: "at least 16 × 16",
		}
	}
	t := &tracer{
		volume: v, options: options, geometry: g, slices: make([]sliceState, v.Slices),
		out: &Surfaces{
			InnerLimitingMembrane:      New("inner limiting membrane", v.Slices, v.Columns),
			VisibleMembrane:            New("inner limiting membrane, visible edge", v.Slices, v.Columns),
			PigmentEpithelium:          New("pigment epithelium", v.Slices, v.Columns),
			PigmentEpitheliumInnerEdge: New("pigment epithelium, inner edge", v.Slices, v.Columns),
			Levels:                     make([]SliceLevels, v.Slices),
		},
	}
	if err := t.run(ctx, t.traceEpithelium); err != nil {
		return nil, err
	}
	t.agreeOnEpithelium()
	if err := t.run(ctx, t.traceMembrane); err != nil {
		return nil, err
	}
	t.agreeOnMembrane()
	t.out.EdgeShare = edgeShare(t.out.Levels)
	if err := t.run(ctx, t.placeWithinSample); err != nil {
		return nil, err
	}
	return t.out, t.summarise()
}

// run does one pass over all slices on all processors.
func (t *tracer) run(ctx context.Context, pass func(slice int)) error {
	var group sync.WaitGroup
	var next atomic.Int64
	for range min(runtime.GOMAXPROCS(0), t.volume.Slices) {
		group.Go(func() {
			for ctx.Err() == nil {
				slice := int(next.Add(1)) - 1
				if slice >= t.volume.Slices {
					return
				}
				pass(slice)
				if t.options.Progress != nil {
					t.options.Progress(int(t.done.Add(1)), 3*t.volume.Slices)
				}
			}
		})
	}
	group.Wait()
	return ctx.Err()
}

// summarise names the slices that could not be traced.
func (t *tracer) summarise() error {
	var faint []int
	for i := range t.slices {
		if !t.out.Levels[i].Traceable {
			faint = append(faint, i)
		}
	}
	if len(faint) == t.volume.Slices {
		return &fault.Error{
			Code: fault.NotMeasurable, Where: "scan",
			What: "tissue cannot be told from vitreous in any slice", Expected: "an OCT scan of the macula with visible layers",
			Mend: "check that the file is an OCT scan and that its contrast is not inverted",
		}
	}
	if len(faint) > 0 {
		t.out.Warnings = append(t.out.Warnings, fmt.Sprintf("%d of %d slices could not be traced (first: slice %d): too little contrast", len(faint), t.volume.Slices, faint[0]))
	}
	return nil
}

// sliceState is what the passes keep of one slice.
type sliceState struct {
	levels      levels
	smoothed    []float32 // A-scan order
	excluded    []bool    // A-scan order, nil when all samples hold data
	lateralHalf int       // half-width of the lateral smoothing, columns
	epithelium  []int     // row of the band's centre in every column
	response    []float32 // strength of the band in every column, share of the class step
	membrane    []int     // row of the first tissue, −1 where there is none
	runs        [][]int   // per column: rows where runs of tissue begin, from above
}

// prepare smooths a slice until its noise is small against its contrast.
func (t *tracer) prepare(slice int) bool {
	g, s := t.geometry, &t.slices[slice]
	raw := ascan.FromRows(t.volume.Slice(slice), g.rows, g.columns)
	if t.options.NoData != nil {
		if mask := t.options.NoData(slice); mask != nil {
			s.excluded = make([]bool, len(raw))
			for r := range g.rows {
				for c := range g.columns {
					s.excluded[c*g.rows+r] = mask[r*g.columns+c]
				}
			}
		}
	}
	first, ok := measureLevels(ascan.BoxMean(raw, g.rows, g.columns, 1, 1), s.excluded)
	if !ok {
		return false
	}
	if s.excluded != nil {
		for i, x := range s.excluded {
			if x {
				raw[i] = float32(first.vitreous)
			}
		}
	}
	along := ascan.MeanAlong(raw, g.rows, g.columns, min(2, g.depthRows(4)))
	for half := 1; ; half++ {
		s.smoothed = ascan.MeanAcross(along, g.rows, g.columns, half)
		s.lateralHalf = half
		if s.levels, ok = measureLevels(s.smoothed, s.excluded); !ok {
			return false
		}
		if s.levels.noise <= smoothNoiseGoal*(s.levels.tissue-s.levels.vitreous) || half >= g.lateralCols(30) {
			break
		}
	}
	dark, bright := grain(raw, s.smoothed, g.rows, s.levels, s.excluded)
	if math.IsNaN(dark) {
		dark = s.levels.noise
	}
	t.out.Levels[slice] = SliceLevels{
		Vitreous: s.levels.vitreous, Tissue: s.levels.tissue, SampleNoise: dark, TissueNoise: bright,
		Traceable: s.levels.contrast() >= smallestContrast,
	}
	return t.out.Levels[slice].Traceable
}
