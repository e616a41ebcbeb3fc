// Package ascan holds the few image operations that the boundary search and the
// hole measurement share, on images kept A-scan after A-scan:
//
//	value(row, column) = image[column·rows + row]
//
// because every search along depth then runs through neighbouring memory.
// Means are box means whose window is cut at the frame, not padded; a box mean
// moves no symmetric edge. Nothing here knows of micrometres.
package ascan
