package surface_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/oct/surface"
)

// costOf is the cost of a path by its definition, in float64.
func costOf(cost []float32, rows int, path []int, stepCost float32) float64 {
	total := 0.0
	for c, r := range path {
		total += float64(cost[c*rows+r])
		if c > 0 {
			total += float64(stepCost) * math.Abs(float64(r-path[c-1]))
		}
	}
	return total
}

// everyPath returns the least cost over all allowed paths, by trying them all.
func everyPath(cost []float32, rows, columns, maxStep int, stepCost float32) float64 {
	best := math.Inf(1)
	path := make([]int, columns)
	var walk func(c int)
	walk = func(c int) {
		if c == columns {
			best = math.Min(best, costOf(cost, rows, path, stepCost))
			return
		}
		from, to := 0, rows-1
		if c > 0 {
			from, to = max(0, path[c-1]-maxStep), min(rows-1, path[c-1]+maxStep)
		}
		for r := from; r <= to; r++ {
			path[c] = r
			walk(c + 1)
		}
	}
	walk(0)
	return best
}

// The path found is one that exists and costs no more than any other. Second
// route: all paths, up to 5⁶ of them. Costs are sums of at most 6 float32 terms
// below 12, each rounded by at most 2⁻²⁴ of its size: 1e-5 is ten times that.
func TestMinimumPathAgainstEveryPath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, columns := rapid.IntRange(1, 5).Draw(t, "rows"), rapid.IntRange(1, 6).Draw(t, "columns")
		maxStep := rapid.IntRange(0, 5).Draw(t, "step")
		stepCost := float32(rapid.SampledFrom([]float64{0, 0.05, 0.5, 3}).Draw(t, "step cost"))
		node := rapid.OneOf(rapid.Float32Range(-2, 2), rapid.SampledFrom([]float32{0, 1, float32(math.Inf(1))}))
		cost := rapid.SliceOfN(node, rows*columns, rows*columns).Draw(t, "cost")
		want := everyPath(cost, rows, columns, maxStep, stepCost)
		path, total, err := surface.MinimumPath(cost, rows, columns, maxStep, stepCost)
		if math.IsInf(want, 1) {
			if fault.CodeOf(err) != fault.NotMeasurable {
				t.Fatalf("no path exists, got %v, %v", path, err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		checkPath(t, path, rows, columns, maxStep)
		if got := costOf(cost, rows, path, stepCost); math.Abs(got-want) > 1e-5 || math.Abs(total-got) > 1e-9 {
			t.Fatalf("path %v costs %g, said to cost %g; the best costs %g", path, got, total, want)
		}
	})
}

func checkPath(t interface{ Fatalf(string, ...any) }, path []int, rows, columns, maxStep int) {
	if len(path) != columns {
		t.Fatalf("%d rows for %d columns", len(path), columns)
	}
	for c, r := range path {
		if r < 0 || r >= rows || (c > 0 && (r-path[c-1] > maxStep || path[c-1]-r > maxStep)) {
			t.Fatalf("path %v leaves the frame or steps too far at column %d", path, c)
		}
	}
}

// grid is one case for testdata/minimum_path.py.
type grid struct {
	Rows     int       `json:"rows"`
	Columns  int       `json:"columns"`
	Step     int       `json:"step"`
	StepCost float32   `json:"step_cost"`
	Cost     []float32 `json:"cost"`
}

// The same cost as scikit-image's skimage.graph.MCP_Flexible with offsets to the
// next column only. Rounding: float32 sums over up to 60 columns of up to 1.6
// each, against float64: 60·96·2⁻²⁴ = 3.5e-4 is the worst case, in practice its
// square root.
func TestMinimumPathAgainstScikitImage(t *testing.T) {
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import skimage.graph").Run(); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatalf("scikit-image is not installed and LIMITANS_ORACLES=required: %v", err)
		}
		t.Skip("scikit-image is not installed")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var grids []grid
	var in bytes.Buffer
	for i := range 40 {
		g := grid{Rows: 5 + rng.IntN(36), Columns: 2 + rng.IntN(59), Step: rng.IntN(5), StepCost: float32(i%4) * 0.2}
		g.Cost = make([]float32, g.Rows*g.Columns)
		for k := range g.Cost {
			g.Cost[k] = rng.Float32()
		}
		line, err := json.Marshal(g)
		if err != nil {
			t.Fatal(err)
		}
		in.Write(append(line, '\n'))
		grids = append(grids, g)
	}
	command := exec.CommandContext(t.Context(), python, filepath.Join("testdata", "minimum_path.py"))
	command.Stdin = &in
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	answers := strings.Fields(string(out))
	if len(answers) != len(grids) {
		t.Fatalf("%d answers for %d grids", len(answers), len(grids))
	}
	for i, g := range grids {
		want, err := strconv.ParseFloat(answers[i], 64)
		if err != nil {
			t.Fatal(err)
		}
		path, total, err := surface.MinimumPath(g.Cost, g.Rows, g.Columns, g.Step, g.StepCost)
		if err != nil {
			t.Fatal(err)
		}
		checkPath(t, path, g.Rows, g.Columns, g.Step)
		if math.Abs(total-want) > 3.5e-4 || math.Abs(costOf(g.Cost, g.Rows, path, g.StepCost)-want) > 3.5e-4 {
			t.Errorf("grid %d: cost %g, scikit-image %g", i, total, want)
		}
	}
}

// Among equals the smallest step and then the smaller row wins, as documented.
func TestMinimumPathTies(t *testing.T) {
	path, total, err := surface.MinimumPath(make([]float32, 4*5), 4, 5, 2, 0)
	if err != nil || total != 0 {
		t.Fatal(total, err)
	}
	for _, r := range path {
		if r != 0 {
			t.Errorf("path %v over equal costs, want row 0 throughout", path)
		}
	}
}

// Ties away from the frame's border: a path that may stay stays, and of two
// equal steps the one from the smaller row is taken.
func TestMinimumPathTiesInside(t *testing.T) {
	const rows, columns = 5, 4
	end := make([]float32, rows*columns)
	for r := range rows {
		end[(columns-1)*rows+r] = 1
	}
	end[(columns-1)*rows+2] = 0 // the path must end in row 2
	path, _, err := surface.MinimumPath(end, rows, columns, 2, 0)
	if err != nil || !slices.Equal(path, []int{2, 2, 2, 2}) {
		t.Errorf("path %v, %v; want to stay in row 2", path, err)
	}
	fork := []float32{0, 1, 0, 1, 0, 1} // rows 0 and 2 are equally good before row 1
	path, _, err = surface.MinimumPath(fork, 3, 2, 1, 0)
	if err != nil || !slices.Equal(path, []int{0, 1}) {
		t.Errorf("path %v, %v; want to come from row 0", path, err)
	}
}

// The caller's costs are not changed.
func TestMinimumPathLeavesCosts(t *testing.T) {
	cost := []float32{3, 1, 2, 0, 5, 4, 9, 8, 7}
	before := append([]float32(nil), cost...)
	if _, _, err := surface.MinimumPath(cost, 3, 3, 1, 0.1); err != nil {
		t.Fatal(err)
	}
	for i := range cost {
		if cost[i] != before[i] {
			t.Fatalf("costs became %v", cost)
		}
	}
}

func TestMinimumPathInvalid(t *testing.T) {
	four := make([]float32, 4)
	for _, test := range []struct {
		name                   string
		cost                   []float32
		rows, columns, maxStep int
		stepCost               float32
	}{
		{"no rows", nil, 0, 4, 1, 0},
		{"no columns", nil, 4, 0, 1, 0},
		{"negative rows", four, -2, -2, 1, 0},
		{"too few costs", four[:3], 2, 2, 1, 0},
		{"too many costs", four, 1, 2, 1, 0},
		{"negative step", four, 2, 2, -1, 0},
		{"step beyond a byte", four, 2, 2, 128, 0},
		{"negative step cost", four, 2, 2, 1, -0.1},
	} {
		if _, _, err := surface.MinimumPath(test.cost, test.rows, test.columns, test.maxStep, test.stepCost); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", test.name, err)
		}
	}
	infinite := float32(math.Inf(1))
	if _, _, err := surface.MinimumPath([]float32{1, 1, infinite, infinite, 1, 1}, 2, 3, 1, 0); fault.CodeOf(err) != fault.NotMeasurable {
		t.Errorf("a forbidden column: %v", err)
	}
	// The largest step is allowed and reaches over a whole tall image.
	tall := make([]float32, 2*128)
	for i := range tall {
		tall[i] = 1
	}
	tall[0], tall[255] = 0, 0
	if path, total, err := surface.MinimumPath(tall, 128, 2, 127, 0); err != nil || total != 0 || path[1] != 127 {
		t.Errorf("step of 127: %v, %g, %v", path, total, err)
	}
}
