package proof_test

import (
	"context"
	"math"
	"testing"

	"limitans/oct/proof"
)

// The goals of the measurement. The first three come from the repeatability of
// people (31 µm for one reading, 15 µm for the mean of three, 4 µm for the inner
// line; reference of oct-methods), the others are our own bar.
const (
	leastWithin    = 0.95
	largestBiasUM  = 5.0
	largestLineUM  = 4.0
	leastJaccard   = 0.85
	worstJaccard   = 0.75
	leastCoverage  = 0.93
	largestCovered = 0.97
)

// The published proof: 200 eyes with a hole over the whole range and 200 without
// one. It is the table of the README; limitans proof prints it.
func TestAccuracyOfThePublishedEyes(t *testing.T) {
	if testing.Short() {
		t.Skip("the long accuracy run is a step of its own")
	}
	eyes, err := proof.Eyes(context.Background(), proof.Options{Holes: 200, Intact: 200, Seed: proof.PublishedSeed})
	if err != nil {
		t.Fatal(err)
	}
	s := proof.Summarise(eyes)
	t.Logf("%+v", s)
	for i, e := range eyes {
		if !e.Truth.FullThickness {
			continue
		}
		if d := e.Readings[0].Error(); !(math.Abs(d) <= proof.WithinUM) || e.Jaccard < 0.8 {
			t.Logf("eye %d: true %.0f µm, error %.1f µm, Jaccard %.2f, slices %.0f µm apart, %d cross", i, e.Truth.MLDUM, d, e.Jaccard, e.Parameters.SliceUM, e.Truth.Crossed)
		}
	}
	check := func(what string, value float64, ok bool) {
		if !ok {
			t.Errorf("%s: %.3f", what, value)
		}
	}
	check("holes drawn", float64(s.Holes), s.Holes == 200 && s.Intact == 200)
	check("share of fine scans within 15 µm", s.FineWithin, s.FineWithin >= leastWithin && s.FineHoles >= 50)
	check("bias of the minimum linear diameter, µm", s.MLDBiasUM, math.Abs(s.MLDBiasUM) <= largestBiasUM)
	check("inner limiting membrane, µm", s.MembraneErrorUM, s.MembraneErrorUM <= largestLineUM)
	check("pigment epithelium, µm", s.EpitheliumErrorUM, s.EpitheliumErrorUM <= largestLineUM)
	check("mean Jaccard index", s.MeanJaccard, s.MeanJaccard >= leastJaccard)
	check("worst Jaccard index", s.WorstJaccard, s.WorstJaccard >= worstJaccard)
	check("coverage of all intervals", s.Covered, s.Covered >= leastCoverage && s.Covered <= largestCovered)
	check("holes in eyes without one", float64(s.FalseHoles), s.FalseHoles == 0)
}
