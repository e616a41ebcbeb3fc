// Package dicom reads and writes DICOM Part 10 files: the subset that images of
// the eye need, strictly, with the standard library only.
//
// # What is read
//
// A file is 128 bytes of preamble, the letters DICM, the file meta group
// (0002,xxxx) in explicit little endian and the data set in the transfer syntax
// that the meta group names (PS3.10 section 7). [Parse] reads implicit and
// explicit little endian, deflated and (retired) explicit big endian data sets,
// nested sequences with defined and undefined lengths, and the fragments of
// encapsulated pixel data (PS3.5 sections 7.5 and A.4). Element values are kept
// as the bytes of the file, so what the package does not know is written back
// by [File.Write] as it came; only a deflated data set is deflated anew.
//
// Strictness: tags must ascend, every length must fit into what contains it,
// reserved bytes and delimiter lengths must be zero, the group length of the
// meta group must be true. A file that breaks a rule is refused with its place;
// nothing is guessed. An odd length is taken as it stands, because it cannot be
// misread.
//
// # Pixel data
//
// [File.Pixels] gives samples of 8 or 16 allocated bits from native pixel data,
// RLE lossless (PS3.5 annex G) and 8-bit JPEG baseline, extended or progressive
// frames (image/jpeg). The other compressed syntaxes go through a [Converter],
// an installed general-purpose program (see [InstalledConverter]); without one
// they are refused by name.
//
// # Limits
//
// Depth, number of elements, inflated size and decoded size are bounded, the
// last two also relative to the size of the input, before memory is taken.
//
// # Writing an object
//
// [WriteOphthalmicTomography] writes a scan as an Ophthalmic Tomography Image
// (PS3.3 A.52.3) of an invented patient.
//
// Sources: DICOM PS3.3, PS3.5, PS3.6, PS3.10, edition 2025; general-purpose
// implementations are used as oracles in the tests.
package dicom
