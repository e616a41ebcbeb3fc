package figure

import "math"

// grid is a rectangle of values, NaN where unknown.
type grid struct {
	columns, rows int
	value         func(column, row int) float64
}

// gridPoint is a place on a grid, in columns and rows.
type gridPoint struct{ column, row float64 }

// edgeKey names the edge of a cell: from (column, row) to the right, or down.
type edgeKey struct {
	column, row int
	down        bool
}

// levelLines are the lines on a grid where its value is level, joined to runs
// (marching squares with linear interpolation; a saddle is cut by the mean of
// its corners). Cells with an unknown corner have no line.
func (g grid) levelLines(level float64) [][]gridPoint {
	next := map[edgeKey][]edgeKey{}
	var order []edgeKey
	join := func(a, b edgeKey) {
		for _, k := range [2]edgeKey{a, b} {
			if _, seen := next[k]; !seen {
				order = append(order, k)
			}
		}
		next[a], next[b] = append(next[a], b), append(next[b], a)
	}
	for row := range g.rows - 1 {
		for column := range g.columns - 1 {
			g.cell(column, row, level, join)
		}
	}
	var runs [][]gridPoint
	used := map[edgeKey]bool{}
	follow := func(start edgeKey) {
		run := []gridPoint{g.crossing(start, level)}
		used[start] = true
		for at := start; ; {
			moved := false
			for _, k := range next[at] {
				if !used[k] {
					used[k], at, moved = true, k, true
					run = append(run, g.crossing(k, level))
					break
				}
			}
			if !moved {
				for _, k := range next[at] {
					if k == start && len(run) > 2 {
						run = append(run, run[0]) // closed
					}
				}
				break
			}
		}
		if len(run) > 1 {
			runs = append(runs, run)
		}
	}
	for _, k := range order { // open runs from their ends, then closed ones
		if len(next[k]) == 1 && !used[k] {
			follow(k)
		}
	}
	for _, k := range order {
		if !used[k] {
			follow(k)
		}
	}
	return runs
}

// cell joins the edges of one cell that the level crosses.
func (g grid) cell(column, row int, level float64, join func(a, b edgeKey)) {
	a, b := g.value(column, row), g.value(column+1, row)
	c, d := g.value(column+1, row+1), g.value(column, row+1)
	if math.IsNaN(a + b + c + d) {
		return
	}
	top, right := edgeKey{column, row, false}, edgeKey{column + 1, row, true}
	bottom, left := edgeKey{column, row + 1, false}, edgeKey{column, row, true}
	var crossed []edgeKey
	for _, e := range []struct {
		key  edgeKey
		x, y float64
	}{{top, a, b}, {right, b, c}, {bottom, c, d}, {left, d, a}} {
		if (e.x >= level) != (e.y >= level) {
			crossed = append(crossed, e.key)
		}
	}
	switch len(crossed) {
	case 2:
		join(crossed[0], crossed[1])
	case 4:
		if ((a+b+c+d)/4 >= level) == (a >= level) {
			join(top, right)
			join(bottom, left)
		} else {
			join(top, left)
			join(bottom, right)
		}
	}
}

// crossing is where the level lies on an edge.
func (g grid) crossing(k edgeKey, level float64) gridPoint {
	column, row := k.column, k.row
	x, y := float64(column), float64(row)
	first := g.value(column, row)
	if k.down {
		return gridPoint{x, y + (level-first)/(g.value(column, row+1)-first)}
	}
	return gridPoint{x + (level-first)/(g.value(column+1, row)-first), y}
}
