package ascan

// FromRows copies one slice, kept row after row, into A-scan order. samples
// holds rows·columns values and is not changed.
func FromRows(samples []uint16, rows, columns int) []float32 {
	image := make([]float32, rows*columns)
	for r := range rows {
		line := samples[r*columns : (r+1)*columns]
		for c, s := range line {
			image[c*rows+r] = float32(s)
		}
	}
	return image
}

// BoxMean returns the mean over the window of 2·halfRows+1 by 2·halfColumns+1
// samples around every sample.
func BoxMean(image []float32, rows, columns, halfRows, halfColumns int) []float32 {
	return MeanAcross(MeanAlong(image, rows, columns, halfRows), rows, columns, halfColumns)
}

// MeanAlong averages along depth over 2·half+1 rows.
func MeanAlong(image []float32, rows, columns, half int) []float32 {
	out := make([]float32, len(image))
	if half == 0 {
		copy(out, image)
		return out
	}
	for c := range columns {
		in, to := image[c*rows:(c+1)*rows], out[c*rows:(c+1)*rows]
		var sum float32
		n := 0
		for r := 0; r < half && r < rows; r++ {
			sum += in[r]
			n++
		}
		for r := range rows {
			if k := r + half; k < rows {
				sum += in[k]
				n++
			}
			if k := r - half - 1; k >= 0 {
				sum -= in[k]
				n--
			}
			to[r] = sum / float32(n)
		}
	}
	return out
}

// MeanAcross averages along the fast scan over 2·half+1 columns.
func MeanAcross(image []float32, rows, columns, half int) []float32 {
	out := make([]float32, len(image))
	if half == 0 {
		copy(out, image)
		return out
	}
	sum := make([]float32, rows)
	nothing := make([]float32, rows) // what stands beyond the frame
	column := func(c int) []float32 {
		if c < 0 || c >= columns {
			return nothing
		}
		return image[c*rows : (c+1)*rows]
	}
	for c := range min(half, columns) {
		for r, v := range column(c) {
			sum[r] += v
		}
	}
	for c := range columns {
		n := min(c+half, columns-1) - max(c-half, 0) + 1
		scale := 1 / float32(n)
		entering, leaving := column(c + half)[:len(sum)], column(c - half - 1)[:len(sum)]
		to := out[c*rows : (c+1)*rows][:len(sum)]
		for r, s := range sum {
			s = s + entering[r] - leaving[r]
			sum[r] = s
			to[r] = s * scale
		}
	}
	return out
}

// PrefixSums writes sums[r] = Σ of the values before r, so that the mean over
// rows [a, b) is (sums[b]−sums[a])/(b−a). sums is one longer than values.
func PrefixSums(values []float32, sums []float64) {
	sums[0] = 0
	for r, v := range values {
		sums[r+1] = sums[r] + float64(v)
	}
}
