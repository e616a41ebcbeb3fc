package ascan_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"limitans/oct/ascan"
)

// naiveMean is the mean over the window of every sample, cut at the frame, from
// the definition.
func naiveMean(image []float32, rows, columns, halfRows, halfColumns int) []float64 {
	out := make([]float64, len(image))
	for c := range columns {
		for r := range rows {
			sum, n := 0.0, 0.0
			for k := max(0, c-halfColumns); k <= min(columns-1, c+halfColumns); k++ {
				for j := max(0, r-halfRows); j <= min(rows-1, r+halfRows); j++ {
					sum += float64(image[k*rows+j])
					n++
				}
			}
			out[c*rows+r] = sum / n
		}
	}
	return out
}

// picture is a drawn image.
type picture struct {
	rows, columns int
	values        []float32
}

// drawPicture draws samples as scanners give them, 0 to 65535, so that running
// sums may round: a sum of up to 24 values below 2¹⁶ keeps 2⁻²⁴ of 24·2¹⁶, and
// each of the up to 48 additions and subtractions can lose half of that, 2.3 in
// the worst case of 16 bits. Whole values below 256 are exact.
func drawPicture(t *rapid.T, most int) picture {
	p := picture{rows: rapid.IntRange(1, 24).Draw(t, "rows"), columns: rapid.IntRange(1, 24).Draw(t, "columns")}
	for range p.rows * p.columns {
		p.values = append(p.values, float32(rapid.IntRange(0, most).Draw(t, "value")))
	}
	return p
}

// A mean moves no value by more than rounding when it is computed by running
// sums: 8-bit samples, whose sums are exact in float32, to 1e-6 of 255 from the
// two divisions.
func TestBoxMeanAgainstNaive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPicture(t, 255)
		halfRows, halfColumns := rapid.IntRange(0, 30).Draw(t, "half rows"), rapid.IntRange(0, 30).Draw(t, "half columns")
		before := slices.Clone(p.values)
		for name, test := range map[string]struct {
			got  []float32
			want []float64
		}{
			"box":    {ascan.BoxMean(p.values, p.rows, p.columns, halfRows, halfColumns), naiveMean(p.values, p.rows, p.columns, halfRows, halfColumns)},
			"along":  {ascan.MeanAlong(p.values, p.rows, p.columns, halfRows), naiveMean(p.values, p.rows, p.columns, halfRows, 0)},
			"across": {ascan.MeanAcross(p.values, p.rows, p.columns, halfColumns), naiveMean(p.values, p.rows, p.columns, 0, halfColumns)},
		} {
			for i := range test.want {
				// Sums of means are no longer whole: 24 of them below 256,
				// each rounded by 2⁻¹⁷, in up to 48 steps.
				if math.Abs(float64(test.got[i])-test.want[i]) > 2e-3 {
					t.Fatalf("%s of %d × %d by %d, %d at %d: %g, want %g", name, p.rows, p.columns, halfRows, halfColumns, i, test.got[i], test.want[i])
				}
			}
		}
		if !slices.Equal(before, p.values) {
			t.Fatal("the caller's image was changed")
		}
	})
}

// A mean lies between the smallest and the largest value, and that of a constant
// is the constant; 16 bits, tolerance as in drawPicture.
func TestBoxMeanStaysInRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPicture(t, 65535)
		half := rapid.IntRange(0, 10).Draw(t, "half")
		low, high := float64(slices.Min(p.values)), float64(slices.Max(p.values))
		for _, v := range ascan.BoxMean(p.values, p.rows, p.columns, half, half) {
			if float64(v) < low-2.3 || float64(v) > high+2.3 {
				t.Fatalf("mean %g of values from %g to %g", v, low, high)
			}
		}
		constant := make([]float32, p.rows*p.columns)
		for i := range constant {
			constant[i] = p.values[0]
		}
		for _, v := range ascan.BoxMean(constant, p.rows, p.columns, half, half) {
			if math.Abs(float64(v)-float64(p.values[0])) > 2.3 {
				t.Fatalf("mean %g of a constant %g", v, p.values[0])
			}
		}
	})
}

// A tall image of full 16-bit samples: the error of the running sum does not
// grow along 2000 rows beyond 0.5 of 65535. Each of 4000 steps loses at most
// 2⁻²⁴·5·2¹⁶ = 0.02, at random √4000·0.02/5 = 0.25.
func TestMeanAlongDoesNotDrift(t *testing.T) {
	const rows = 2000
	values := make([]float32, rows)
	seed := uint32(1)
	for i := range values {
		seed = seed*1664525 + 1013904223 // Numerical Recipes' generator (from memory)
		values[i] = float32(seed >> 16)
	}
	got, want := ascan.MeanAlong(values, rows, 1, 2), naiveMean(values, rows, 1, 2, 0)
	for i := range want {
		if math.Abs(float64(got[i])-want[i]) > 0.5 {
			t.Fatalf("row %d: %g, want %g", i, got[i], want[i])
		}
	}
}

// A symmetric step stays where it is: the mean crosses half of the step half a
// sample before the first bright sample, at any window.
func TestBoxMeanMovesNoEdge(t *testing.T) {
	const rows, edge = 64, 30
	values := make([]float32, rows)
	for r := edge; r < rows; r++ {
		values[r] = 100
	}
	for half := range 12 {
		got := ascan.MeanAlong(values, rows, 1, half)
		for r := 1; r < rows; r++ {
			if got[r-1] < 50 && got[r] >= 50 {
				at := float64(r-1) + float64((50-got[r-1])/(got[r]-got[r-1]))
				if math.Abs(at-(edge-0.5)) > 1e-4 {
					t.Errorf("window of %d: the edge moved to %g", 2*half+1, at)
				}
			}
		}
	}
}

func TestFromRows(t *testing.T) {
	samples := []uint16{1, 2, 3, 4, 5, 65535}
	want := []float32{1, 4, 2, 5, 3, 65535}
	if got := ascan.FromRows(samples, 2, 3); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	rapid.Check(t, func(t *rapid.T) {
		rows, columns := rapid.IntRange(1, 12).Draw(t, "rows"), rapid.IntRange(1, 12).Draw(t, "columns")
		samples := rapid.SliceOfN(rapid.Uint16(), rows*columns, rows*columns).Draw(t, "samples")
		image := ascan.FromRows(samples, rows, columns)
		for r := range rows {
			for c := range columns {
				if image[c*rows+r] != float32(samples[r*columns+c]) {
					t.Fatalf("row %d, column %d: %g, want %d", r, c, image[c*rows+r], samples[r*columns+c])
				}
			}
		}
	})
}

// The mean over any rows from the sums is that of the rows themselves. Whole
// 16-bit samples are exact in float64.
func TestPrefixSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.SliceOfN(rapid.Uint16(), 1, 80).Draw(t, "values")
		values := make([]float32, len(whole))
		for i, v := range whole {
			values[i] = float32(v)
		}
		sums := make([]float64, len(values)+1)
		for i := range sums {
			sums[i] = math.NaN() // must all be written
		}
		ascan.PrefixSums(values, sums)
		a := rapid.IntRange(0, len(values)).Draw(t, "a")
		b := rapid.IntRange(a, len(values)).Draw(t, "b")
		want := 0.0
		for _, v := range values[a:b] {
			want += float64(v)
		}
		if sums[b]-sums[a] != want || sums[0] != 0 {
			t.Fatalf("rows %d to %d: %g, want %g", a, b, sums[b]-sums[a], want)
		}
	})
}
