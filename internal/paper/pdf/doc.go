// Package pdf writes sheets as PDF 1.7 (ISO 32000-1:2008): pages with text,
// lines, areas, pictures and scenes of package figure/scene.
//
// # Frame
//
//	(0,0) ───────▶ x
//	  │
//	  │    points, 1/72 inch, from the upper left corner of the page
//	  ▼
//	  y
//
// # What it promises
//
//   - The same calls give the same bytes. Time is an argument; the identifier of
//     the file is made from its content.
//   - Text can be searched and copied: a glyph that stands for one piece of text
//     is mapped by the font's ToUnicode table (section 9.10.3); a cluster whose
//     glyphs stand in another order or number than its letters carries its text
//     as ActualText (section 14.9.4). Right-to-left text is mapped glyph by
//     glyph in the order in which it stands on the page, as readers expect; vowel
//     signs that share a glyph may be copied in another order than they were
//     written in.
//   - Fonts are embedded with the glyphs that are used and no others.
//   - Nothing outside the file is needed: no fonts, addresses, scripts or forms.
//
// The structure of the page for screen readers (tagged PDF) is not written; the
// print page in HTML is the accessible form.
package pdf
