// Command pathrace is the Go side of scripts/path-race, which runs
// [surface.MinimumPath] against the minimum-cost path of a general-purpose
// image library on one and the same image of costs.
//
// # Image
//
// The costs come from one slice of a made scan with a hole, so that the path
// has a bright band, a second band and a gap to choose from:
//
//	cost(row, column) = 766 + (sum of the 3 × 3 samples above − sum of the 3 × 3 below) / 3
//
// that is 1 to 1531, the third cut towards zero. They are whole numbers, and a
// path through 768 columns costs less than 2²⁴ = 16 777 216 (768 · 1531 = 1 175 808):
// every sum is exact in single and in double precision, so that two searches
// that are both right must agree to the last digit.
//
// # Protocol
//
// The image is written to a file as float32, little-endian, A-scan after A-scan.
// Then, for every line read from standard input, one search is done and one line
// written: its nanoseconds, its total cost and its row in every column. The
// caller decides when each side runs, so that the two take turns on one machine.
//
// # Assumptions
//
// maxStep 3, stepCost 0: the library searches on a graph with a cost for each
// node and none for each edge. The nanoseconds hold the search alone, not making
// or writing the image.
package main
