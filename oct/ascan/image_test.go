package ascan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestMeansAgainstTheirDefinition sums every window anew. The images hold whole
// numbers below 2¹⁶ and a window at most 40 of them: every sum is below 2²⁴ and
// exact in single precision. A mean is off by its own rounding alone: one for a
// quotient, two for a product with a rounded 1/n.
func TestMeansAgainstTheirDefinition(t *testing.T) {
	const rounding = 1.0 / (1 << 24)
	rng := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		rows, columns := 1+rng.IntN(40), 1+rng.IntN(40)
		image := make([]float32, rows*columns)
		for i := range image {
			image[i] = float32(rng.IntN(1 << 16))
		}
		halfRows, halfColumns := rng.IntN(21), rng.IntN(21)
		given := slices.Clone(image)
		compare(t, "along", MeanAlong(image, rows, columns, halfRows), image, rows, columns, halfRows, 0, rounding)
		compare(t, "across", MeanAcross(image, rows, columns, halfColumns), image, rows, columns, 0, halfColumns, 2.01*rounding)
		if !slices.Equal(image, given) {
			t.Fatal("the caller's image was changed")
		}
	}
}

// TestBoxMeanAgainstItsDefinition: running sums of the rounded means of the
// first pass lose up to one rounding of the largest sum at each of the 2·columns
// additions; a sum of n values of at most 2¹⁶ is then off by 2·columns·n·2¹⁶·2⁻²⁴
// and a mean by a n-th of it.
func TestBoxMeanAgainstItsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 100 {
		rows, columns := 1+rng.IntN(40), 1+rng.IntN(40)
		image := make([]float32, rows*columns)
		for i := range image {
			image[i] = float32(rng.IntN(1 << 16))
		}
		halfRows, halfColumns := rng.IntN(8), rng.IntN(8)
		got := BoxMean(image, rows, columns, halfRows, halfColumns)
		limit := float64(2*columns+4) / (1 << 8)
		for i, want := range windowMeans(image, rows, columns, halfRows, halfColumns) {
			if math.Abs(float64(got[i])-want) > limit {
				t.Fatalf("%d × %d, window %d, %d: sample %d is %g, want %g", rows, columns, halfRows, halfColumns, i, got[i], want)
			}
		}
	}
}

func compare(t *testing.T, what string, got, image []float32, rows, columns, halfRows, halfColumns int, relative float64) {
	t.Helper()
	for i, want := range windowMeans(image, rows, columns, halfRows, halfColumns) {
		if math.Abs(float64(got[i])-want) > relative*want {
			t.Fatalf("%s, %d × %d, window %d, %d: sample %d is %g, want %g", what, rows, columns, halfRows, halfColumns, i, got[i], want)
		}
	}
}

// windowMeans sums every window by itself, cut at the frame.
func windowMeans(image []float32, rows, columns, halfRows, halfColumns int) []float64 {
	out := make([]float64, len(image))
	for c := range columns {
		for r := range rows {
			sum, n := 0.0, 0
			for k := max(0, c-halfColumns); k <= min(columns-1, c+halfColumns); k++ {
				for j := max(0, r-halfRows); j <= min(rows-1, r+halfRows); j++ {
					sum += float64(image[k*rows+j])
					n++
				}
			}
			out[c*rows+r] = sum / float64(n)
		}
	}
	return out
}

// TestFromRowsTurnsTheImage: the value at a row and column stays there.
func TestFromRowsTurnsTheImage(t *testing.T) {
	const rows, columns = 5, 7
	samples := make([]uint16, rows*columns)
	for i := range samples {
		samples[i] = uint16(i * 1871)
	}
	image := FromRows(samples, rows, columns)
	for r := range rows {
		for c := range columns {
			if got, want := image[c*rows+r], float32(samples[r*columns+c]); got != want {
				t.Errorf("row %d, column %d: %g, want %g", r, c, got, want)
			}
		}
	}
}

// TestPrefixSums: differences of the sums are the values.
func TestPrefixSums(t *testing.T) {
	values := []float32{3, 0, 65535, 0.5}
	sums := make([]float64, len(values)+1)
	PrefixSums(values, sums)
	if want := []float64{0, 3, 3, 65538, 65538.5}; !slices.Equal(sums, want) {
		t.Errorf("%v, want %v", sums, want)
	}
}
