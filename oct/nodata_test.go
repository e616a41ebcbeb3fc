package oct_test

import (
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"limitans/internal/exchange/scan"
	"limitans/oct"
)

// pictures are the open single B-scans of the test data.
var pictures = []string{"NORMAL-1384-3", "DME-82328-7", "DRUSEN-95633-4", "CNV-81630-43"}

// loadPicture reads one of them without the reader of scans.
func loadPicture(t testing.TB, name string) *oct.Volume {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "testdata", "kermany-oct", name+".jpeg"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	decoded, err := jpeg.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	grey, ok := decoded.(*image.Gray)
	if !ok {
		t.Fatalf("%s is %T", name, decoded)
	}
	v := &oct.Volume{Slices: 1, Rows: grey.Rect.Dy(), Columns: grey.Rect.Dx(), BitDepth: 8, Pattern: oct.PatternSingle}
	for y := range v.Rows {
		for _, x := range grey.Pix[y*grey.Stride:][:v.Columns] {
			v.Samples = append(v.Samples, uint16(x))
		}
	}
	return v
}

func loadHole(t testing.TB) *oct.Volume {
	t.Helper()
	v, err := scan.Open(t.Context(), filepath.Join("..", "testdata", "macular-hole-volume", "macular-hole-volume.tif"), scan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// floodFromEdge is a second route to the white wedges: components of near white
// connected to the frame, found by flooding, without the small ones.
func floodFromEdge(v *oct.Volume, slice int, least uint16, smallest int) []bool {
	samples := v.Slice(slice)
	seen, out := make([]bool, len(samples)), make([]bool, len(samples))
	for i := range samples {
		r, c := i/v.Columns, i%v.Columns
		if seen[i] || samples[i] < least || (r > 0 && c > 0 && r < v.Rows-1 && c < v.Columns-1) {
			continue
		}
		seen[i] = true
		queue := []int{i}
		for at := 0; at < len(queue); at++ {
			r, c := queue[at]/v.Columns, queue[at]%v.Columns
			for _, d := range [4][2]int{{0, 1}, {1, 0}, {0, -1}, {-1, 0}} {
				y, x := r+d[0], c+d[1]
				if y < 0 || x < 0 || y >= v.Rows || x >= v.Columns {
					continue
				}
				if j := y*v.Columns + x; !seen[j] && samples[j] >= least {
					seen[j] = true
					queue = append(queue, j)
				}
			}
		}
		if len(queue) >= smallest {
			for _, j := range queue {
				out[j] = true
			}
		}
	}
	return out
}

func nearest(truth []bool, rows, columns, r, c, reach int) bool {
	for y := max(0, r-reach); y <= min(rows-1, r+reach); y++ {
		for x := max(0, c-reach); x <= min(columns-1, c+reach); x++ {
			if truth[y*columns+x] {
				return true
			}
		}
	}
	return false
}

// Every wedge found by flooding is marked, and nothing is marked further from
// one than the growth and the filling of dips reach (3 + 3 samples).
func TestNoDataWhiteWedges(t *testing.T) {
	for _, name := range pictures {
		v := loadPicture(t, name)
		mask := oct.NoData(v)
		// Thin tips of a wedge have no fully white sample: what must be marked is
		// flooded more strictly than what may be.
		truth, loose := floodFromEdge(v, 0, 246, 40), floodFromEdge(v, 0, 239, 1)
		missed, beyond, wedge := 0, 0, 0
		for i := range truth {
			r, c := i/v.Columns, i%v.Columns
			if truth[i] {
				wedge++
				if !mask.At(0, r, c) {
					missed++
				}
			} else if mask.At(0, r, c) && !nearest(loose, v.Rows, v.Columns, r, c, 6) {
				beyond++
			}
		}
		t.Logf("%s: wedge %d, marked %d, missed %d, beyond %d", name, wedge, mask.Count(0), missed, beyond)
		if wedge == 0 || missed > 0 || beyond > 0 {
			t.Errorf("%s: wedge %d, missed %d, beyond %d", name, wedge, missed, beyond)
		}
	}
}

// The real volume was cropped inside the picture: it has data everywhere.
func TestNoDataRealVolumeHasNone(t *testing.T) {
	v := loadHole(t)
	mask := oct.NoData(v)
	for s := range v.Slices {
		if n := mask.Count(s); n > 0 {
			t.Errorf("slice %d: %d samples marked", s, n)
		}
	}
	if !mask.Empty() || mask.Slice(0) != nil {
		t.Error("the mask is not empty")
	}
}

// drawn makes a slice of noise with a retina in it, so that every sample's
// nature is known: the vitreous ends at row 60, a saturated epithelium lies at
// rows 120 to 132, the choroid follows.
func drawn(rows, columns int, vitreous func(*rand.Rand) float64) *oct.Volume {
	random := rand.New(rand.NewPCG(1, 2))
	v := &oct.Volume{Slices: 1, Rows: rows, Columns: columns, BitDepth: 8, Samples: make([]uint16, rows*columns)}
	for r := range rows {
		for c := range columns {
			x := vitreous(random)
			switch {
			case r >= 120 && r < 132:
				x = 245 + 60*random.NormFloat64()
			case r >= 60:
				x = 90 + 40*random.NormFloat64()
			}
			v.Samples[r*columns+c] = uint16(min(max(x, 0), 255))
		}
	}
	return v
}

func noise(r *rand.Rand) float64 { return 6 + 14*r.NormFloat64() }

func TestNoDataDrawn(t *testing.T) {
	paint := func(v *oct.Volume, value uint16, inside func(r, c int) bool) map[[2]int]bool {
		out := map[[2]int]bool{}
		for r := range v.Rows {
			for c := range v.Columns {
				if inside(r, c) {
					v.Samples[r*v.Columns+c] = value
					out[[2]int{r, c}] = true
				}
			}
		}
		return out
	}
	for _, c := range []struct {
		name   string
		rows   int
		vit    func(*rand.Rand) float64
		value  uint16
		inside func(r, c int) bool
		want   bool
	}{
		{"nothing", 160, noise, 0, func(r, c int) bool { return false }, false},
		{"saturated layer at the lower edge", 126, noise, 0, func(r, c int) bool { return false }, false},
		{"vitreous clipped to zero", 160, func(*rand.Rand) float64 { return 0 }, 0, func(r, c int) bool { return false }, false},
		{"vitreous nearly clipped", 160, func(r *rand.Rand) float64 { return -20 + 14*r.NormFloat64() }, 0, func(r, c int) bool { return false }, false},
		{"saturated spot inside", 160, noise, 255, func(r, c int) bool { return r > 20 && r < 40 && c > 20 && c < 60 }, false},
		{"saturated layer to the side edge", 160, noise, 255, func(r, c int) bool { return r >= 120 && r < 132 && c < 90 }, false},
		{"white wedge above", 160, noise, 255, func(r, c int) bool { return r < 30-c/6 }, true},
		{"black wedge above", 160, noise, 0, func(r, c int) bool { return r < 30-c/6 }, true},
		{"white wedge below", 160, noise, 255, func(r, c int) bool { return r > 150-c/20 }, true},
		{"white curve above", 160, noise, 255, func(r, c int) bool { return r < 5+(c-100)*(c-100)/500 }, true},
		{"white band at the left", 160, noise, 255, func(r, c int) bool { return c < 12 }, true},
		{"white column at the right", 160, noise, 255, func(r, c int) bool { return c == 199 }, true},
	} {
		v := drawn(c.rows, 200, c.vit)
		truth := paint(v, c.value, c.inside)
		before := append([]uint16(nil), v.Samples...)
		mask := oct.NoData(v)
		missed, beyond := 0, 0
		for r := range v.Rows {
			for col := range v.Columns {
				switch at := mask.At(0, r, col); {
				case !at && truth[[2]int{r, col}]:
					missed++
				case at && !truth[[2]int{r, col}]:
					beyond++
				}
			}
		}
		if c.want && missed > 0 {
			t.Errorf("%s: %d of %d missed", c.name, missed, len(truth))
		}
		if !c.want && !mask.Empty() {
			t.Errorf("%s: %d samples marked", c.name, mask.Count(0))
		}
		// At most 6 samples along a border as long as both sides together.
		if c.want && beyond > 6*(v.Rows+v.Columns) {
			t.Errorf("%s: %d samples marked beyond", c.name, beyond)
		}
		for i := range before {
			if before[i] != v.Samples[i] {
				t.Fatal("the caller's samples were changed")
			}
		}
	}
}

func TestNoDataConstantSlice(t *testing.T) {
	v := &oct.Volume{Slices: 1, Rows: 4, Columns: 5, BitDepth: 8, Samples: make([]uint16, 20)}
	if n := oct.NoData(v).Count(0); n != 20 {
		t.Errorf("%d of 20 samples marked", n)
	}
}
