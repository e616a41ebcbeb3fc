// Package oct holds one OCT scan: its samples, the scale of its three axes with
// the trust each deserves, and what can be said about it before anything is
// measured (where there is no data, whether it is upside down).
//
// # Frames
//
// Samples are kept slice after slice, row after row:
//
//	          column 0 … Columns-1   (lateral, along the fast scan)
//	        ┌────────────────────────▶
//	row 0   │ vitreous
//	  …     │      ___         ___
//	        │  ___/   \_______/   \__   inner limiting membrane
//	        │  ______________________   pigment epithelium
//	Rows-1  │ choroid
//	(depth) ▼
//	                slice 0 … Slices-1 go into the page (slow scan)
//
// The centre of a sample has integer coordinates. Lengths are micrometres:
// depth = row · Scale.Depth, lateral = column · Scale.Lateral, and for a raster
// slice distance = slice · Scale.Slice. The spacings are very unequal (4, 6 and
// 31 µm is usual), so nothing is measured in samples when micrometres are known.
//
// # Trust
//
// A scale comes from the file's standard attributes, from a person, from an
// assumption that is stated, or is unknown. With an unknown lateral scale no
// lateral micrometres are given, only samples.
//
// The package reads no files; readers stand in internal/exchange.
package oct
