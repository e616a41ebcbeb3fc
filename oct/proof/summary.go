package proof

import (
	"math"
	"slices"

	"limitans/oct/phantom"
)

// FineSliceUM is the slice distance up to which the goal for the minimum linear
// diameter is stated: that of a usual dense raster.
const FineSliceUM = 31.0

// WithinUM is that goal: the repeatability of the mean of three readings of two
// experts (Baumann et al., Transl Vis Sci Technol 2021;10(13), full-text excerpt).
const WithinUM = 15.0

// FigureSummary tells how one figure did over a run.
type FigureSummary struct {
	Figure            string
	Measured, Missing int
	Bias, RMS         float64 // of measured − true, in the figure's unit
	Low, Median, High float64 // 2.5, 50 and 97.5 % of the errors
	Covered           float64 // share of intervals that hold the truth
}

// Summary is what a run proves.
type Summary struct {
	Holes, Found, Intact, FalseHoles int
	FalseHoleEyes                    []int // index of the eye in the run
	Figures                          []FigureSummary
	Covered                          float64 // over all figures of all holes
	FineHoles                        int     // holes scanned with at most FineSliceUM between slices
	FineWithin                       float64 // share of them with the MLD within WithinUM
	MLDBiasUM                        float64 // over all holes found
	FineMLDBiasUM                    float64
	MeanJaccard, WorstJaccard        float64
	MembraneErrorUM                  float64 // mean over all eyes of the mean unsigned error
	EpitheliumErrorUM                float64
	WorstMembraneUM                  float64
	WorstEpitheliumUM                float64
	Smallest, Largest                float64 // true MLD, µm
}

// Summarise adds up a run.
func Summarise(eyes []Eye) Summary {
	s := Summary{WorstJaccard: math.Inf(1), Smallest: math.Inf(1)}
	var names []string
	errors, covered, missing := map[string][]float64{}, map[string]int{}, map[string]int{}
	for i, e := range eyes {
		s.MembraneErrorUM += e.MembraneErrorUM / float64(len(eyes))
		s.EpitheliumErrorUM += e.EpitheliumErrorUM / float64(len(eyes))
		s.WorstMembraneUM = math.Max(s.WorstMembraneUM, e.MembraneErrorUM)
		s.WorstEpitheliumUM = math.Max(s.WorstEpitheliumUM, e.EpitheliumErrorUM)
		if !e.Truth.FullThickness {
			s.Intact++
			if e.Found {
				s.FalseHoles++
				s.FalseHoleEyes = append(s.FalseHoleEyes, i)
			}
			continue
		}
		s.addHole(e)
		for _, r := range e.Readings {
			if !slices.Contains(names, r.Figure) {
				names = append(names, r.Figure)
			}
			if math.IsNaN(r.Error()) {
				missing[r.Figure]++
				continue
			}
			errors[r.Figure] = append(errors[r.Figure], r.Error())
			if r.Covered() {
				covered[r.Figure]++
			}
		}
	}
	s.finish(names, errors, covered, missing)
	return s
}

// addHole adds one eye with a hole.
func (s *Summary) addHole(e Eye) {
	s.Holes++
	s.Smallest, s.Largest = math.Min(s.Smallest, e.Truth.MLDUM), math.Max(s.Largest, e.Truth.MLDUM)
	s.MeanJaccard += e.Jaccard
	s.WorstJaccard = math.Min(s.WorstJaccard, e.Jaccard)
	fine := isFine(e.Parameters)
	if fine {
		s.FineHoles++
	}
	if !e.Found {
		return
	}
	s.Found++
	if d := e.Readings[0].Error(); !math.IsNaN(d) {
		s.MLDBiasUM += d
		if fine {
			s.FineMLDBiasUM += d
			if math.Abs(d) <= WithinUM {
				s.FineWithin++
			}
		}
	}
}

func isFine(p phantom.Parameters) bool { return p.SliceUM <= FineSliceUM }

// finish turns sums into means and errors into summaries.
func (s *Summary) finish(names []string, errors map[string][]float64, covered, missing map[string]int) {
	s.MLDBiasUM /= math.Max(1, float64(s.Found))
	s.FineMLDBiasUM /= math.Max(1, float64(s.FineHoles))
	s.FineWithin /= math.Max(1, float64(s.FineHoles))
	s.MeanJaccard /= math.Max(1, float64(s.Holes))
	inside, all := 0, 0
	for _, name := range names {
		e := errors[name]
		f := FigureSummary{Figure: name, Measured: len(e), Missing: missing[name]}
		if len(e) > 0 {
			slices.Sort(e)
			for _, x := range e {
				f.Bias += x / float64(len(e))
				f.RMS += x * x / float64(len(e))
			}
			f.RMS = math.Sqrt(f.RMS)
			f.Low, f.Median, f.High = quantile(e, 0.025), quantile(e, 0.5), quantile(e, 0.975)
			f.Covered = float64(covered[name]) / float64(len(e))
		}
		inside, all = inside+covered[name], all+len(e)
		s.Figures = append(s.Figures, f)
	}
	s.Covered = float64(inside) / math.Max(1, float64(all))
}

// quantile of sorted values by linear interpolation between order statistics
// (Hyndman and Fan 1996, definition 7; from memory).
func quantile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}
