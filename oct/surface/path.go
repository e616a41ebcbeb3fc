package surface

import (
	"fmt"
	"math"

	"limitans/fault"
)

// MinimumPath finds the path from the first to the last column of least cost
//
//	Σ_c cost[c, row(c)] + stepCost · Σ_c |row(c) − row(c−1)|,   |row(c) − row(c−1)| ≤ maxStep,
//
// by dynamic programming, and returns its row in every column and its cost.
// cost holds columns·rows values, A-scan after A-scan; +Inf forbids a node.
// maxStep is in rows per column, 0 to 127; stepCost must not be negative.
// The result is the global optimum; among equals, the smallest step and then
// the smaller row wins. The work is rows·columns·(2·maxStep+1).
func MinimumPath(cost []float32, rows, columns, maxStep int, stepCost float32) (path []int, total float64, err error) {
	if rows < 1 || columns < 1 || len(cost) != rows*columns || maxStep < 0 || maxStep > 127 || stepCost < 0 {
		return nil, 0, &fault.Error{
			Code: fault.Invalid, Where: "path search",
			What:     fmt.Sprintf("%d costs for %d rows × %d columns, step %d at %g", len(cost), rows, columns, maxStep, stepCost),
			Expected: "rows × columns costs, a step of 0 to 127 and no negative step cost",
		}
	}
	infinite := float32(math.Inf(1))
	steps := make([]int8, rows*columns)
	// The row of costs so far is padded by maxStep forbidden nodes on either
	// side, so that the inner loop needs no border test.
	previous := make([]float32, rows+2*maxStep)
	current := make([]float32, rows+2*maxStep)
	for i := range previous {
		previous[i], current[i] = infinite, infinite
	}
	copy(previous[maxStep:], cost[:rows])
	for c := 1; c < columns; c++ {
		advance(current, previous, cost[c*rows:(c+1)*rows], steps[c*rows:(c+1)*rows], maxStep, stepCost)
		previous, current = current, previous
	}
	best := 0
	for r := range rows {
		if previous[maxStep+r] < previous[maxStep+best] {
			best = r
		}
	}
	if math.IsInf(float64(previous[maxStep+best]), 1) {
		return nil, 0, &fault.Error{Code: fault.NotMeasurable, Where: "path search", What: "no path crosses the image"}
	}
	path = make([]int, columns)
	for c, r := columns-1, best; c >= 0; c-- {
		path[c] = r
		total += float64(cost[c*rows+r])
		step := int(steps[c*rows+r])
		total += float64(stepCost) * math.Abs(float64(step))
		r += step
	}
	return path, total, nil
}

// advance carries the costs so far over one column. The step that keeps the row
// is tried first and only a strictly cheaper one replaces it.
func advance(current, previous, cost []float32, steps []int8, maxStep int, stepCost float32) {
	rows := len(cost)
	best := current[maxStep : maxStep+rows]
	copy(best, previous[maxStep:maxStep+rows])
	for r := range steps {
		steps[r] = 0
	}
	for d := 1; d <= maxStep; d++ {
		penalty := stepCost * float32(d)
		above := previous[maxStep-d : maxStep-d+rows]
		below := previous[maxStep+d : maxStep+d+rows]
		for r := range best {
			if v := above[r] + penalty; v < best[r] {
				best[r], steps[r] = v, int8(-d)
			}
			if v := below[r] + penalty; v < best[r] {
				best[r], steps[r] = v, int8(d)
			}
		}
	}
	for r, c := range cost {
		best[r] += c
	}
}
