// Package typeset turns text into placed glyphs, so that a sheet prints every
// name as its script wants it: letters joined (Arabic), stacked and reordered
// (Devanagari), right to left where the script runs so, in lines that break
// where Unicode lets them break.
//
// # Method
//
// Directions by the Unicode bidirectional algorithm (UAX #9), line breaks by
// UAX #14, glyphs by the shaping rules of OpenType; all three from
// github.com/go-text/typesetting, a port of HarfBuzz. The tests compare its
// glyphs with those of HarfBuzz itself (hb-shape).
//
// # Measures
//
// Everything here is in thousandths of the em (the size of the letters), so a
// [Line] can be drawn at any size: width in points = Width × size / 1000.
//
// # Fonts
//
// Folder fonts holds them with their licences: IBM Plex Sans for Latin, Greek
// and Cyrillic letters, with its Arabic and Devanagari companions, in two
// weights; its figures are all of one width, so that columns of numbers stand
// straight. WenQuanYi Micro Hei for Chinese, Japanese and Korean, in one weight;
// bold is made by an outline, and Han letters have one form for all languages.
//
// # What it does not do
//
// A letter that no font holds is a fault that names the letter, never a box.
// Letters that turn the direction of other letters without being seen (U+202A
// to U+202E and U+2066 to U+2069) are refused, because a name could be made to
// read as another. There is no hyphenation and no vertical text.
package typeset
