package surface

import (
	"math"
	"slices"
)

// levels are the grey values that tell vitreous from tissue in one slice.
type levels struct {
	vitreous float64 // typical smoothed grey of the dark class
	tissue   float64 // typical smoothed grey of the bright class
	noise    float64 // standard deviation of the smoothed dark class
}

// fraction maps a grey value to 0 at the vitreous level and 1 at the tissue level.
func (l levels) fraction(grey float64) float64 {
	return (grey - l.vitreous) / (l.tissue - l.vitreous)
}

// contrast is the step between the classes in units of the smoothed noise.
func (l levels) contrast() float64 {
	if l.noise <= 0 {
		return math.Inf(1)
	}
	return (l.tissue - l.vitreous) / l.noise
}

// measureLevels splits smoothed grey values into a dark and a bright class where
// the variance between the classes is largest (Otsu 1979, doi
// 10.1109/TSMC.1979.4310076; from memory) and describes each class by its
// median, the dark one's spread by its median absolute deviation. excluded
// marks samples without data; nil means none. ok is false when all values are
// equal.
func measureLevels(smoothed []float32, excluded []bool) (l levels, ok bool) {
	const stride = 13 // some ten thousand samples are plenty for two medians
	values := make([]float32, 0, len(smoothed)/stride+1)
	for i := 0; i < len(smoothed); i += stride {
		if excluded == nil || !excluded[i] {
			values = append(values, smoothed[i])
		}
	}
	if len(values) == 0 {
		return levels{}, false
	}
	slices.Sort(values)
	low, high := values[0], values[len(values)-1]
	if !(high > low) {
		return levels{}, false
	}
	cut := otsuIndex(values)
	dark, bright := values[:cut], values[cut:]
	l.vitreous = float64(dark[len(dark)/2])
	l.tissue = float64(bright[len(bright)/2])
	deviations := make([]float32, len(dark))
	for i, v := range dark {
		deviations[i] = float32(math.Abs(float64(v) - l.vitreous))
	}
	slices.Sort(deviations)
	// 1.4826 turns the median absolute deviation of a normal sample into its
	// standard deviation: 1/Φ⁻¹(3/4).
	l.noise = 1.4826 * float64(deviations[len(deviations)/2])
	return l, l.tissue > l.vitreous
}

// otsuIndex returns the index that splits sorted values into two non-empty
// classes with the largest variance between them.
func otsuIndex(sorted []float32) int {
	var total float64
	for _, v := range sorted {
		total += float64(v)
	}
	n := float64(len(sorted))
	best, bestAt := -1.0, 1
	var sum float64
	for i := 1; i < len(sorted); i++ {
		sum += float64(sorted[i-1])
		if sorted[i] == sorted[i-1] {
			continue
		}
		w := float64(i)
		difference := sum/w - (total-sum)/(n-w)
		if between := w * (n - w) * difference * difference; between > best {
			best, bestAt = between, i
		}
	}
	return bestAt
}
