// Package scan turns a path into one OCT scan: a multi-page TIFF, one picture,
// a folder or zip of pictures in their natural order, or DICOM. [Open] is the
// one door; everything else serves it.
//
// # What is read
//
//	TIFF     8 and 16 bits, grey (either polarity) or red = green = blue;
//	         strips and tiles; uncompressed, PackBits, LZW, Deflate; predictor 2;
//	         both byte orders (TIFF revision 6.0, Adobe 1992; Deflate and the
//	         predictor for 16 bits from its technical notes, from memory)
//	PNG      grey, or colour whose three channels agree
//	JPEG     grey, or colour whose chroma is within the tolerance of the codec
//	DICOM    found by its content, not by its name
//	zip      stored or deflated entries, no zip inside a zip
//
// The kind of a file is decided by its first bytes. A folder or zip must hold
// slices of one kind and one size; hidden files, text and a side file are
// passed over, and whatever else is passed over is named in a note.
//
// # What is never done
//
// No scale is guessed. The scale comes from the user, then from a side file
// (scan.yaml, or the path's own name with .yaml), then from standard attributes
// of the file; where two of them differ by more than 1 % a note says both. The
// resolution tags of pictures tell how large to print, not how large the retina
// is, so they are not used. A side of the eye that two sources tell differently
// stops the import. A scan that looks upside down is turned only when the
// caller has said yes.
//
// # Memory
//
// Sizes that a file announces are held against what its bytes can hold, and
// against [Limits], before memory is taken for them.
package scan
