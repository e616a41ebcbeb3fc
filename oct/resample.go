package oct

import (
	"math"
	"slices"
)

// Constants of the search for traces of enlarging. On the open scans of the
// test data the largest line stands 4 to 19 times over its surroundings; after
// enlarging by 1.2 to 3 along an axis, 100 to 140,000 times (measured; see the
// tests).
const (
	enlargedLine      = 60.0
	enlargedSlices    = 8
	enlargedMinLength = 64
	enlargedMaxLength = 2048
	enlargedLowest    = 0.1 // cycles a sample; below lies anatomy
	blockPeriod       = 8   // samples; blocks of JPEG leave lines of their own
)

// enlargedLineAt looks along one axis for the trace that enlarging by
// interpolation leaves: samples that were computed between two others have a
// smaller second difference, so its mean rises and falls with the period of the
// enlarging. It returns how far the strongest line of the spectrum stands over
// the median of its surroundings, and its frequency in cycles a sample. Lines
// at multiples of 1/8, left by the blocks of JPEG, are passed over, and with
// them an enlarging by exactly 2; shrinking leaves no line.
//
// Method: Gallagher, Detection of linear and cubic interpolation in JPEG
// compressed images, 2005, doi 10.1109/CRV.2005.33 (from memory).
func enlargedLineAt(v *Volume, depth bool) (over, frequency float64) {
	d := secondDifferences(v, depth)
	if len(d) < enlargedMinLength {
		return 0, 0
	}
	if len(d) > enlargedMaxLength {
		from := (len(d) - enlargedMaxLength) / 2
		d = d[from : from+enlargedMaxLength]
	}
	power := linePower(d)
	n := float64(len(d))
	for i := range power {
		f := float64(i) / n
		fromBlock := math.Abs(f*blockPeriod-math.Round(f*blockPeriod)) / blockPeriod * n
		if f < enlargedLowest || fromBlock < 2.5 {
			continue
		}
		var near []float64
		for j := max(0, i-20); j <= min(len(power)-1, i+20); j++ {
			if abs(j-i) > 3 {
				near = append(near, power[j])
			}
		}
		if m := median(near); m > 0 && power[i]/m > over {
			over, frequency = power[i]/m, f
		}
	}
	return over, frequency
}

// secondDifferences returns the logarithm of the mean absolute second
// difference at each position along an axis, less its running mean. Parts
// without data are left out, and the outermost samples.
func secondDifferences(v *Volume, depth bool) []float64 {
	length, across, step, acrossStep := v.Columns, v.Rows, 1, v.Columns
	if depth {
		length, across, step, acrossStep = v.Rows, v.Columns, v.Columns, 1
	}
	const margin = 5
	if length < enlargedMinLength+2*margin {
		return nil
	}
	sum, count := make([]float64, length), make([]float64, length)
	for _, s := range spread(v.Slices, enlargedSlices) {
		samples := v.Slice(s)
		mask := noDataSlice(v, samples)
		for a := range across {
			for p := 1; p < length-1; p++ {
				i := a*acrossStep + p*step
				if mask != nil && (mask[i-step] || mask[i] || mask[i+step]) {
					continue
				}
				sum[p] += math.Abs(2*float64(samples[i]) - float64(samples[i-step]) - float64(samples[i+step]))
				count[p]++
			}
		}
	}
	out := make([]float64, 0, length)
	for p := margin; p < length-margin; p++ {
		if count[p] < float64(across)/8 || sum[p] == 0 {
			// Exactly equal neighbours are found as repeated lines; here they
			// would stand out without being interpolation.
			out = append(out, math.NaN())
			continue
		}
		out = append(out, math.Log(sum[p]/count[p]))
	}
	return lessRunningMean(out, 4)
}

// lessRunningMean takes off the mean of reach neighbours to either side;
// unknown values become 0.
func lessRunningMean(x []float64, reach int) []float64 {
	out := make([]float64, len(x))
	for i, y := range x {
		if math.IsNaN(y) {
			continue
		}
		sum, n := 0.0, 0.0
		for _, z := range x[max(0, i-reach):min(len(x), i+reach+1)] {
			if !math.IsNaN(z) {
				sum += z
				n++
			}
		}
		out[i] = y - sum/n
	}
	return out
}

// linePower returns the power at each frequency i/len(x) up to a half, under a
// Hann window.
func linePower(x []float64) []float64 {
	n := len(x)
	cosine, sine := make([]float64, n), make([]float64, n)
	for i := range n {
		sine[i], cosine[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	power := make([]float64, n/2+1)
	for k := range power {
		re, im := 0.0, 0.0
		for i, y := range x {
			y *= (1 - cosine[i]) / 2
			re += y * cosine[k*i%n]
			im += y * sine[k*i%n]
		}
		power[k] = re*re + im*im
	}
	return power
}

// repeatedShare returns the share of neighbouring columns (or rows) that are
// equal in every sample, though not constant, as they are when a picture was
// enlarged by repeating samples.
func repeatedShare(v *Volume, depth bool) float64 {
	length, across, step, acrossStep := v.Columns, v.Rows, 1, v.Columns
	if depth {
		length, across, step, acrossStep = v.Rows, v.Columns, v.Columns, 1
	}
	equal, count := 0, 0
	for _, s := range spread(v.Slices, enlargedSlices) {
		samples := v.Slice(s)
		line := make([]uint16, across)
		for p := range length - 1 {
			same := true
			for a := range across {
				i := a*acrossStep + p*step
				line[a] = samples[i]
				same = same && samples[i] == samples[i+step]
			}
			if slices.Min(line) == slices.Max(line) {
				continue
			}
			count++
			if same {
				equal++
			}
		}
	}
	if count == 0 {
		return 0
	}
	return float64(equal) / float64(count)
}
