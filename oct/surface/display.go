package surface

import (
	"math"
	"slices"
)

// assumedStepDB is the step of signal between vitreous and retina that the share
// of [HalfSignalShare] is worked out for: about 20 dB in a good scan (common
// practice, no source). Its square root of two either way moves the share by
// less than 0.07.
const assumedStepDB = 20.0

// HalfSignalShare is the share of the grey step between vitreous and tissue at
// which half of the tissue's signal is shown.
//
// Scanners do not show the signal I but a compressed form of it, and seldom say
// which. Speckle gives it away: its standard deviation is a fixed share of the
// signal, so on the display it is proportional to d(grey)/d(ln I). If grey grows
// with the power γ of the signal (γ → 0 is the logarithm, 1 a linear display),
// the ratio ρ of the noise in tissue to that in vitreous over a step of
// Δ = ln(10)·assumedStepDB/10 is exp(γ·Δ), and half of the signal is shown at
//
//	q = (2^(−γ) − e^(−γΔ)) / (1 − e^(−γΔ)),   γ = ln ρ / Δ.
//
// ρ = 1 gives 0.85, a fourth root 0.77, a linear display 0.50. noiseRatio is ρ;
// values below 1 count as 1 and above e^Δ as e^Δ, the two ends of the family.
// Derived here; speckle statistics: Goodman, Speckle Phenomena in Optics, 2007
// (from memory).
func HalfSignalShare(noiseRatio float64) float64 {
	delta := math.Ln10 * assumedStepDB / 10
	gamma := math.Log(min(max(noiseRatio, 1), math.Exp(delta))) / delta
	if !(gamma > 1e-6) {
		return 1 - math.Ln2/delta
	}
	floor := math.Exp(-gamma * delta)
	return (math.Exp2(-gamma) - floor) / (1 - floor)
}

// grain is the noise of single samples in the dark and in the bright class of a
// slice: the spread of differences between samples three columns apart, beyond
// the reach of the grain's own correlation and within that of most structure.
func grain(raw, smoothed []float32, rows int, l levels, excluded []bool) (dark, bright float64) {
	const apart, stride = 3, 7
	step := l.tissue - l.vitreous
	var darks, brights []float32
	for i := 0; i+apart*rows < len(raw); i += stride {
		j := i + apart*rows
		if excluded != nil && (excluded[i] || excluded[j]) {
			continue
		}
		a, b := l.fraction(float64(smoothed[i])), l.fraction(float64(smoothed[j]))
		d := float32(math.Abs(float64(raw[i] - raw[j])))
		switch {
		case math.Abs(a) < 0.2 && math.Abs(b) < 0.2:
			darks = append(darks, d)
		case math.Abs(a-1) < 0.25 && math.Abs(b-1) < 0.25 && math.Abs(a-b)*step < 0.1*step:
			brights = append(brights, d)
		}
	}
	return spreadOf(darks), spreadOf(brights)
}

// spreadOf is the standard deviation of one of two independent normal values
// from the median of their absolute differences; NaN for too few.
func spreadOf(differences []float32) float64 {
	if len(differences) < 50 {
		return math.NaN()
	}
	slices.Sort(differences)
	return 1.4826 * float64(differences[len(differences)/2]) / math.Sqrt2
}

// edgeShare is the share used for a whole volume: that of the median noise ratio
// of its slices.
func edgeShare(all []SliceLevels) float64 {
	var ratios []float64
	for _, l := range all {
		if r := l.TissueNoise / l.SampleNoise; l.Traceable && !math.IsNaN(r) && !math.IsInf(r, 0) {
			ratios = append(ratios, r)
		}
	}
	if len(ratios) == 0 {
		return HalfSignalShare(1)
	}
	slices.Sort(ratios)
	return HalfSignalShare(ratios[len(ratios)/2])
}
