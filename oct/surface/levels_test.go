package surface

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// between is the variance between two classes of sorted values cut at an index,
// times the square of their number, straight from the definition (Otsu 1979,
// doi 10.1109/TSMC.1979.4310076, from memory).
func between(sorted []float32, cut int) float64 {
	mean := func(values []float32) float64 {
		sum := 0.0
		for _, v := range values {
			sum += float64(v)
		}
		return sum / float64(len(values))
	}
	a, b, all := sorted[:cut], sorted[cut:], mean(sorted)
	da, db := mean(a)-all, mean(b)-all
	return (float64(len(a))*da*da + float64(len(b))*db*db) * float64(len(sorted))
}

// Against every cut: no other has a larger variance between the classes. The
// values are whole so that sums are exact and ties are real ties.
func TestOtsuAgainstEveryCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.SliceOfN(rapid.IntRange(0, 255), 2, 60).Draw(t, "values")
		sorted := make([]float32, len(whole))
		for i, v := range whole {
			sorted[i] = float32(v)
		}
		slices.Sort(sorted)
		if sorted[0] == sorted[len(sorted)-1] {
			t.Skip("all equal")
		}
		cut := otsuIndex(sorted)
		if cut < 1 || cut >= len(sorted) || sorted[cut-1] == sorted[cut] {
			t.Fatalf("cut at %d of %v does not split it", cut, sorted)
		}
		got := between(sorted, cut)
		for other := 1; other < len(sorted); other++ {
			if sorted[other] != sorted[other-1] && between(sorted, other) > got*(1+1e-12) {
				t.Fatalf("cut at %d of %v: %g, at %d %g", cut, sorted, got, other, between(sorted, other))
			}
		}
	})
}

// Two normal classes with known levels are found again. Means of 20 and 90 with
// standard deviation 6: the classes lie 12 standard deviations apart, so none
// cross. Sampling error of a median over at least 1000 of the values that every
// third sample leaves is 1.25·6/√1000 = 0.24; four of them are allowed. That of
// the median absolute deviation is about 1.17·6/√1000 = 0.22.
func TestMeasureLevels(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	values := make([]float32, 12000)
	for i := range values {
		level := 20.0
		if i%4 == 0 {
			level = 90
		}
		values[i] = float32(level + 6*rng.NormFloat64())
	}
	l, ok := measureLevels(values, nil)
	if !ok || math.Abs(l.vitreous-20) > 1 || math.Abs(l.tissue-90) > 1 || math.Abs(l.noise-6) > 0.9 {
		t.Errorf("%+v, %v", l, ok)
	}
	if got := l.fraction(l.vitreous + (l.tissue-l.vitreous)/4); math.Abs(got-0.25) > 1e-12 {
		t.Errorf("a quarter of the step is %g", got)
	}
	if got := l.contrast(); math.Abs(got-(l.tissue-l.vitreous)/l.noise) > 1e-12 {
		t.Errorf("contrast %g", got)
	}
	// A white wedge does not count when it is marked.
	excluded := make([]bool, len(values))
	for i := range 3000 {
		values[i], excluded[i] = 255, true
	}
	if l, ok := measureLevels(values, excluded); !ok || math.Abs(l.tissue-90) > 1 || math.Abs(l.vitreous-20) > 1 {
		t.Errorf("with a wedge: %+v, %v", l, ok)
	}
}

func TestMeasureLevelsRefuses(t *testing.T) {
	same := make([]float32, 100)
	all := make([]bool, 100)
	for i := range all {
		all[i] = true
	}
	for name, test := range map[string]struct {
		values   []float32
		excluded []bool
	}{
		"none": {nil, nil}, "all equal": {same, nil}, "all without data": {make([]float32, 100), all},
	} {
		if l, ok := measureLevels(test.values, test.excluded); ok {
			t.Errorf("%s: %+v", name, l)
		}
	}
	if l := (levels{vitreous: 1, tissue: 2}); !math.IsInf(l.contrast(), 1) {
		t.Errorf("no noise: contrast %g", l.contrast())
	}
}
