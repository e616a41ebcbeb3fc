package scan

import "fmt"

// panelGap is the least width, in samples, of a uniform band that separates two
// panels of a screenshot.
const panelGap = 2

// screenshot says why a picture looks like a shot of a screen rather than one
// B-scan, empty when it does not: a band of one value runs right through it with
// content on both sides, or one grey that is neither black nor white fills two
// fifths of it. Text and overlays inside a B-scan are not found.
func screenshot(samples []uint16, rows, columns int) string {
	for _, across := range []bool{false, true} {
		if at := panelBorder(samples, rows, columns, across); at >= 0 {
			word := "column"
			if across {
				word = "row"
			}
			return fmt.Sprintf("looks like a screenshot with several panels (a uniform band at %s %d): crop to one B-scan; a scale is unknown unless its bar lies inside the crop", word, at)
		}
	}
	var count [1 << 16]int
	low, high := samples[0], samples[0]
	for _, x := range samples {
		count[x]++
		low, high = min(low, x), max(high, x)
	}
	for x, n := range count {
		if 5*n > 2*len(samples) && x > int(low) && x < int(high) {
			return fmt.Sprintf("looks like a screenshot (%d %% of it has one grey): crop to the B-scan; the scale is unknown", 100*n/len(samples))
		}
	}
	return ""
}

// panelBorder returns the first line of a uniform band that has content on both
// sides, −1 when there is none. Lines are columns, or rows when across is true.
// Uniform lines at the frame's edge are no border.
func panelBorder(samples []uint16, rows, columns int, across bool) int {
	lines, length, step, along := columns, rows, 1, columns
	if across {
		lines, length, step, along = rows, columns, columns, 1
	}
	content := false
	run, first := 0, 0
	for l := range lines {
		start := samples[l*step]
		uniform := true
		for i := 1; i < length && uniform; i++ {
			uniform = samples[l*step+i*along] == start
		}
		switch {
		case uniform && run > 0 && start == samples[(l-1)*step]:
			run++
		case uniform:
			run, first = 1, l
		default:
			if content && run >= panelGap {
				return first
			}
			content, run = true, 0
		}
	}
	return -1
}
