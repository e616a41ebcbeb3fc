package proof

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"limitans/estimate"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/phantom"
	"limitans/oct/surface"
)

// PublishedSeed is the seed of the published accuracy table.
const PublishedSeed = 2026

// MostEyes bounds a run: all eyes are kept until it ends, and ten thousand take
// hours.
const MostEyes = 10_000

// Options fix a run.
type Options struct {
	Holes, Intact int    // how many eyes of either kind
	Seed          uint64 // the same seed gives the same eyes
	Progress      func(done, total int)
}

// Reading is one figure of one eye beside its truth.
type Reading struct {
	Figure   string
	Measured estimate.Estimate
	Truth    float64
}

// Error is measured minus true, NaN where the figure is missing.
func (r Reading) Error() float64 { return r.Measured.Value - r.Truth }

// Covered reports whether the interval holds the truth.
func (r Reading) Covered() bool { return r.Truth >= r.Measured.Low && r.Truth <= r.Measured.High }

// Eye is one measured phantom.
type Eye struct {
	Parameters phantom.Parameters
	Truth      *phantom.Truth // its figures only
	Found      bool
	Judgement  hole.Judgement
	Readings   []Reading
	Jaccard    float64 // of the lumen; NaN where there is none
	// Mean unsigned error of a surface over the columns where both have it, µm.
	MembraneErrorUM, EpitheliumErrorUM float64
	MembraneTraced, EpitheliumTraced   float64 // share of the columns that have it
}

// Eyes draws and measures the eyes of a run: first the holes, then the intact.
func Eyes(ctx context.Context, o Options) ([]Eye, error) {
	if o.Holes < 0 || o.Intact < 0 || o.Holes > MostEyes || o.Intact > MostEyes || o.Holes+o.Intact == 0 {
		return nil, &fault.Error{
			Code: fault.Invalid, Where: "proof", What: fmt.Sprintf("%d holes and %d intact eyes", o.Holes, o.Intact),
			Expected: fmt.Sprintf("at least one eye and at most %d of either kind", MostEyes),
		}
	}
	total := o.Holes + o.Intact
	out, faults := make([]Eye, total), make([]error, total)
	var next, done atomic.Int64
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), total) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < total && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				out[i], faults[i] = measureEye(ctx, parameters(o, i))
				if o.Progress != nil {
					o.Progress(int(done.Add(1)), total)
				}
			}
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for i, err := range faults {
		if err != nil {
			return nil, fmt.Errorf("synthetic eye %d of seed %d: %w", i, o.Seed, err)
		}
	}
	return out, nil
}

// parameters draws eye i of a run; every eye has a random stream of its own, so
// that it can be drawn alone.
func parameters(o Options, i int) phantom.Parameters {
	rng := rand.New(rand.NewPCG(o.Seed, uint64(i)))
	if i < o.Holes {
		return phantom.Draw(rng)
	}
	kinds := phantom.IntactKinds()
	return phantom.DrawIntact(rng, kinds[(i-o.Holes)%len(kinds)])
}

// measureEye makes and measures one phantom.
func measureEye(ctx context.Context, p phantom.Parameters) (e Eye, err error) {
	v, truth, err := phantom.Make(p)
	if err != nil {
		return Eye{}, err
	}
	e = Eye{Parameters: p, Truth: truth, Jaccard: math.NaN()}
	r, err := measure.Volume(ctx, v, measure.Options{})
	if err != nil {
		return e, err
	}
	defer func() { e.Truth = figuresOf(truth) }()
	e.Found, e.Judgement = r.Hole.Present, r.Hole.Judgement
	e.MembraneErrorUM, e.MembraneTraced = surfaceError(v, r.Traced.InnerLimitingMembrane, &truth.InnerLimitingMembrane)
	e.EpitheliumErrorUM, e.EpitheliumTraced = surfaceError(v, r.Traced.PigmentEpithelium, &truth.PigmentEpithelium)
	if !truth.FullThickness {
		return e, nil
	}
	e.Readings = readings(r.Hole, truth)
	if r.Hole.Lumen != nil {
		e.Jaccard = jaccard(r.Hole.Lumen.Mask(), truth.Lumen)
	} else {
		e.Jaccard = 0
	}
	return e, nil
}

// figuresOf is a truth without its surfaces and its lumen, which are as large as
// the scan.
func figuresOf(t *phantom.Truth) *phantom.Truth {
	figures := *t
	figures.Lumen = nil
	figures.InnerLimitingMembrane, figures.PigmentEpithelium, figures.PigmentEpitheliumInnerEdge = phantom.Surface{}, phantom.Surface{}, phantom.Surface{}
	return &figures
}

// readings lists the figures of a hole beside their truth.
func readings(h *hole.Hole, t *phantom.Truth) []Reading {
	return []Reading{
		{"mld_um", h.MLDUM, t.MLDUM},
		{"min_section.area_mm2", h.MinSection.AreaMM2, t.MinSection.AreaMM2},
		{"min_section.small_um", h.MinSection.SmallUM, t.MinSection.SmallUM},
		{"min_section.large_um", h.MinSection.LargeUM, t.MinSection.LargeUM},
		{"min_section.meridian_deg", unwrap(h.MinSection.MeridianDeg, t.MinSection.MeridianDeg), t.MinSection.MeridianDeg},
		{"base_um", h.BaseUM, t.BaseUM},
		{"opening_um", h.OpeningUM, t.OpeningUM},
		{"height_um", h.HeightUM, t.HeightUM},
		{"height_left_um", h.HeightLeftUM, t.HeightLeftUM},
		{"height_right_um", h.HeightRightUM, t.HeightRightUM},
		{"volume_mm3", h.VolumeMM3, t.VolumeMM3},
	}
}

// unwrap moves a direction by multiples of 180° to be nearest to another one.
func unwrap(e estimate.Estimate, near float64) estimate.Estimate {
	if !e.Known() {
		return e
	}
	shift := 180 * math.Round((near-e.Value)/180)
	e.Value, e.Low, e.High = e.Value+shift, e.Low+shift, e.High+shift
	return e
}

func surfaceError(v *oct.Volume, found *surface.Surface, truth *phantom.Surface) (meanUM, traced float64) {
	sum, both, have := 0.0, 0, 0
	for i, t := range truth.Row {
		if t != t {
			continue
		}
		have++
		if f := found.Row[i]; f == f {
			sum += math.Abs(float64(f - t))
			both++
		}
	}
	if both == 0 {
		return math.NaN(), 0
	}
	return sum / float64(both) * v.Scale.Depth.MicrometresPerSample, float64(both) / float64(have)
}

// jaccard is the size of the intersection over that of the union.
func jaccard(a, b []bool) float64 {
	both, any := 0, 0
	for i := range a {
		if a[i] && b[i] {
			both++
		}
		if a[i] || b[i] {
			any++
		}
	}
	if any == 0 {
		return math.NaN()
	}
	return float64(both) / float64(any)
}
