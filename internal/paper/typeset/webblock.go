package typeset

import (
	"encoding/binary"

	"limitans/fault"
)

// blockLetters is how many letters of the alphabet of alphabets go into one block.
const blockLetters = 256

// webTables are those that a browser wants, sorted.
var webTables = []string{metricsTable, "cmap", "cvt ", "fpgm", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post", "prep"}

// WebBlock is a TrueType font of the Chinese, Japanese and Korean letters U+BB00 to
// U+BBFF, where block is BB: the whole font is large, and a page has a name or two.
// Its parts are those of the font itself; the table of letters (cmap, format 4) is
// that of the block. OpenType 1.9 (from memory; browsers read it in the tests).
//
// Faults: NotFound where the font holds none of these letters.
func WebBlock(block uint8) ([]byte, error) {
	face, err := chinese.load()
	if err != nil {
		return nil, err
	}
	glyphs, letters := []uint16{0}, []uint16(nil)
	for i := range blockLetters {
		letter := uint16(block)<<8 | uint16(i)
		if glyph, has := face.font.NominalGlyph(rune(letter)); has && letter != 0xffff {
			glyphs, letters = append(glyphs, uint16(glyph)), append(letters, letter)
		}
	}
	if len(letters) == 0 {
		return nil, &fault.Error{Code: fault.NotFound, Where: "letters", What: "the font holds none of this block"}
	}
	out, err := face.subsetTables(glyphs)
	if err != nil {
		return nil, err
	}
	out[metricsTable] = face.tables[metricsTable]
	out["cmap"] = letterTable(letters)
	out["name"] = []byte{0, 0, 0, 0, 0, 6}                        // no names
	out["post"] = append([]byte{0, 3, 0, 0}, make([]byte, 28)...) // no names of glyphs
	return written(out, webTables), nil
}

// letterTable is a cmap of one table of format 4 in which letters[i] is glyph i+1.
// letters rise and do not hold U+FFFF.
func letterTable(letters []uint16) []byte {
	type run struct{ first, last, glyph uint16 }
	var runs []run
	for i, letter := range letters {
		if n := len(runs); n > 0 && runs[n-1].last+1 == letter {
			runs[n-1].last = letter
			continue
		}
		runs = append(runs, run{letter, letter, uint16(i + 1)})
	}
	runs = append(runs, run{0xffff, 0xffff, 0}) // the end, as the format wants it
	n := len(runs)
	search, step := 1, 0
	for search*2 <= n {
		search, step = search*2, step+1
	}
	var b []byte
	put := func(values ...int) {
		for _, v := range values {
			b = binary.BigEndian.AppendUint16(b, uint16(v))
		}
	}
	put(0, 1, 3, 1, 0, 12) // one table, Windows, Unicode, 12 bytes from the beginning
	put(4, 16+8*n, 0, 2*n, 2*search, step, 2*n-2*search)
	for _, r := range runs {
		put(int(r.last))
	}
	put(0)
	for _, r := range runs {
		put(int(r.first))
	}
	for _, r := range runs {
		put(int(r.glyph) - int(r.first)) // modulo 65536, as the format has it; the end leads to glyph 0 or 1
	}
	for range runs {
		put(0)
	}
	return b
}
