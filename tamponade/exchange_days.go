package tamponade

import "slices"

// The days at which a course is reported after day 0: hours to day 2, quarter
// days to day 14, then whole days.
const (
	hourlyUntilDay  = 2
	quarterUntilDay = 14
	hoursPerDay     = 24
	quartersPerDay  = 4
)

func reportDays(days float64) []float64 {
	var grid []float64
	for hour := 1; hour <= hourlyUntilDay*hoursPerDay; hour++ {
		grid = append(grid, float64(hour)/hoursPerDay)
	}
	for quarter := hourlyUntilDay*quartersPerDay + 1; quarter <= quarterUntilDay*quartersPerDay; quarter++ {
		grid = append(grid, float64(quarter)/quartersPerDay)
	}
	for day := quarterUntilDay + 1; day <= MaxDays; day++ {
		grid = append(grid, float64(day))
	}
	end, _ := slices.BinarySearch(grid, days)
	if end < len(grid) && grid[end] == days {
		end++
	}
	return grid[:end]
}

// sortedUnique sorts days and drops repeats.
func sortedUnique(days []float64) []float64 {
	slices.Sort(days)
	return slices.Compact(days)
}
