package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestPathRaceEqualCost runs the race on smaller images without a look at the
// clock: scikit-image (skimage.graph.MCP, Dijkstra's method on a heap) is the
// second route to the least cost. The costs are whole numbers, so the tolerance
// is zero.
func TestPathRaceEqualCost(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import skimage.graph").Run() != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("python3-skimage is not installed and LIMITANS_ORACLES=required")
		}
		t.Skip("python3-skimage is not installed")
	}
	program := filepath.Join(t.TempDir(), "pathrace")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, size := range [][2]string{{"128", "96"}, {"160", "240"}, {"496", "128"}} {
		out, err := exec.Command(python, "../../scripts/path_race.py", program, size[0], size[1], "1").CombinedOutput()
		if err != nil || !strings.Contains(string(out), "equal cost") {
			t.Errorf("%s × %s: %v\n%s", size[0], size[1], err, out)
		}
	}
}

// TestCostImageIsExact holds the image to what makes the comparison exact.
func TestCostImageIsExact(t *testing.T) {
	const rows, columns = 128, 96
	cost, err := costImage(rows, columns, 1)
	if err != nil {
		t.Fatal(err)
	}
	again, err := costImage(rows, columns, 1)
	if err != nil {
		t.Fatal(err)
	}
	low, high := cost[0], cost[0]
	for i, c := range cost {
		if c != again[i] {
			t.Fatalf("cost %d differs between two images of one seed: %g and %g", i, c, again[i])
		}
		if c != float32(int(c)) || c < 1 || c > 1531 {
			t.Fatalf("cost %d is %g, not a whole number from 1 to 1531", i, c)
		}
		low, high = min(low, c), max(high, c)
	}
	if high-low < 300 {
		t.Errorf("costs from %g to %g: the image shows nothing", low, high)
	}
}

// TestRunRefuses covers the ways of calling it wrongly.
func TestRunRefuses(t *testing.T) {
	var out bytes.Buffer
	if err := run(strings.NewReader(""), &out, nil, 64, 64, 1); err == nil {
		t.Error("no file: no error")
	}
	if err := run(strings.NewReader(""), &out, []string{filepath.Join(t.TempDir(), "none", "costs")}, 128, 96, 1); err == nil {
		t.Error("a folder that does not exist: no error")
	}
	if err := run(strings.NewReader(""), &out, []string{filepath.Join(t.TempDir(), "costs")}, 0, 96, 1); err == nil {
		t.Error("no rows: no error")
	}
	if out.Len() > 0 {
		t.Errorf("answered unasked: %q", out.String())
	}
}
