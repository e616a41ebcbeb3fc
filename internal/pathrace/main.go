package main

import (
	"bufio"
	"encoding/binary"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"limitans/fault"
	"limitans/oct/phantom"
	"limitans/oct/surface"
)

// maxStep is how many rows the path may move from column to column.
const maxStep = 3

func main() {
	rows := flag.Int("rows", 496, "samples in depth")
	columns := flag.Int("columns", 768, "A-scans")
	seed := flag.Uint64("seed", 1, "seed of the made scan")
	flag.Parse()
	if err := run(os.Stdin, os.Stdout, flag.Args(), *rows, *columns, *seed); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// run writes the image and then searches once for every line of in.
func run(in io.Reader, out io.Writer, files []string, rows, columns int, seed uint64) error {
	if len(files) != 1 {
		return &fault.Error{
			Code: fault.Invalid, Where: "pathrace", What: fmt.Sprintf("%d files named", len(files)),
			Expected: "the one file to write the costs to",
		}
	}
	cost, err := costImage(rows, columns, seed)
	if err != nil {
		return err
	}
	if err := writeCosts(files[0], cost); err != nil {
		return err
	}
	for lines := bufio.NewScanner(in); lines.Scan(); {
		begun := time.Now()
		path, total, err := surface.MinimumPath(cost, rows, columns, maxStep, 0)
		taken := time.Since(begun)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintln(out, taken.Nanoseconds(), total, strings.Trim(fmt.Sprint(path), "[]")); err != nil {
			return err
		}
	}
	return nil
}

// writeCosts writes float32 values, little-endian.
func writeCosts(name string, cost []float32) error {
	data := make([]byte, 0, 4*len(cost))
	for _, c := range cost {
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(c))
	}
	if err := os.WriteFile(name, data, 0o600); err != nil {
		return &fault.Error{Code: fault.Invalid, Where: name, What: "cannot be written", Cause: err}
	}
	return nil
}

// costImage makes the costs of the middle slice of a made scan; see the package
// comment.
func costImage(rows, columns int, seed uint64) ([]float32, error) {
	const slices = 3
	v, _, err := phantom.Make(phantom.Parameters{
		Slices: slices, Rows: rows, Columns: columns, BitDepth: 8,
		DepthUM: 1920 / float64(rows), LateralUM: 4450 / float64(columns), SliceUM: 30, TiltLateralDeg: 3, CurvatureRadiusMM: 15,
		Seed: seed, ThicknessUM: 300, Looks: 6, NoiseFloor: 1, SignalLevel: 1, AxialSigmaUM: 3.5, LateralSigmaUM: 6,
		Display: phantom.Display{Curve: phantom.CurveLogarithm, BlackDB: -2, RangeDB: 36}, GrainLateral: 0.28, GrainDepth: 0.5,
		Hole: &phantom.Hole{
			MinimumUM: 400, OvalityRatio: 1.15, BaseRatio: 1.8, WaistHeightFraction: 0.5,
			RimHeightUM: 400, RimRollUM: 240, RimDecayUM: 330, WallRoughnessUM: 5,
		},
		Cysts: 10, Fraying: 0.7,
	})
	if err != nil {
		return nil, err
	}
	grey := v.Slice(slices / 2)
	// Beyond the frame the nearest sample counts, so that the border is no step.
	block := func(row, column int) (sum int) {
		for r := row - 1; r <= row+1; r++ {
			for c := column - 1; c <= column+1; c++ {
				sum += int(grey[min(max(r, 0), rows-1)*columns+min(max(c, 0), columns-1)])
			}
		}
		return sum
	}
	cost := make([]float32, rows*columns)
	for c := range columns {
		for r := range rows {
			cost[c*rows+r] = float32(766 + (block(r-2, c)-block(r+2, c))/3)
		}
	}
	return cost, nil
}
