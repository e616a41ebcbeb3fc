package typeset

import (
	"encoding/binary"
	"slices"

	"github.com/go-text/typesetting/font/opentype"

	"limitans/fault"
)

// Subset returns a TrueType font of some glyphs of the face only. Glyph i of it
// is glyphs[i]; glyph 0 should be the face's glyph 0. Parts that composite
// glyphs are put together from are added behind. The outlines, instructions and
// widths are those of the face (OpenType 1.9, tables glyf, loca, hmtx, maxp).
func (f *Face) Subset(glyphs []uint16) ([]byte, error) {
	out, err := f.subsetTables(glyphs)
	if err != nil {
		return nil, err
	}
	return written(out, glyphTables), nil
}

// written puts tables into a file, in the order of their tags, which is sorted.
func written(out map[string][]byte, order []string) []byte {
	var tables []opentype.Table
	for _, tag := range order {
		if len(out[tag]) > 0 {
			tables = append(tables, opentype.Table{Tag: opentype.MustNewTag(tag), Content: padded(out[tag])})
		}
	}
	return opentype.WriteTTF(tables)
}

func (f *Face) subsetTables(glyphs []uint16) (map[string][]byte, error) {
	all := slices.Clone(glyphs)
	place := map[uint16]uint16{}
	for i, g := range all {
		place[g] = uint16(i)
	}
	var outlines []byte
	offsets := []uint32{0}
	for i := 0; i < len(all); i++ { // grows while parts are found
		outline, err := f.outline(all[i])
		if err != nil {
			return nil, err
		}
		err = eachPart(outline, func(at int) {
			part := binary.BigEndian.Uint16(outline[at:])
			if _, known := place[part]; !known {
				place[part] = uint16(len(all))
				all = append(all, part)
			}
			binary.BigEndian.PutUint16(outline[at:], place[part])
		})
		if err != nil {
			return nil, err
		}
		outlines = append(outlines, padded(outline)...)
		offsets = append(offsets, uint32(len(outlines)))
	}
	var loca, hmtx []byte
	for _, o := range offsets {
		loca = binary.BigEndian.AppendUint32(loca, o)
	}
	metrics := int(uint16At(f.tables["hhea"], 34))
	for _, g := range all {
		bearing := 4*int(g) + 2
		if int(g) >= metrics {
			bearing = 4*metrics + 2*(int(g)-metrics)
		}
		hmtx = binary.BigEndian.AppendUint16(hmtx, uint16At(f.tables["hmtx"], 4*min(int(g), metrics-1)))
		hmtx = binary.BigEndian.AppendUint16(hmtx, uint16At(f.tables["hmtx"], bearing))
	}
	head, hhea, maxp := slices.Clone(f.tables["head"]), slices.Clone(f.tables["hhea"]), slices.Clone(f.tables["maxp"])
	if len(head) < 54 || len(hhea) < 36 || len(maxp) < 6 {
		return nil, f.damaged()
	}
	binary.BigEndian.PutUint32(head[8:], 0)  // the sum over the whole file, of no use inside a PDF
	binary.BigEndian.PutUint16(head[50:], 1) // loca holds 32-bit offsets
	binary.BigEndian.PutUint16(hhea[34:], uint16(len(all)))
	binary.BigEndian.PutUint16(maxp[4:], uint16(len(all)))
	return map[string][]byte{
		"cvt ": f.tables["cvt "], "fpgm": f.tables["fpgm"], "prep": f.tables["prep"],
		"glyf": outlines, "head": head, "hhea": hhea, "hmtx": hmtx, "loca": loca, "maxp": maxp,
	}, nil
}

func (f *Face) damaged() error {
	return &fault.Error{Code: fault.Internal, Where: "font " + f.Name, What: "a table is damaged"}
}

// outline is a copy of a glyph's bytes in table glyf.
func (f *Face) outline(glyph uint16) ([]byte, error) {
	loca, glyf := f.tables["loca"], f.tables["glyf"]
	var from, to uint32
	if uint16At(f.tables["head"], 50) == 0 {
		from, to = 2*uint32(uint16At(loca, 2*int(glyph))), 2*uint32(uint16At(loca, 2*int(glyph)+2))
	} else if 4*int(glyph)+8 <= len(loca) {
		from, to = binary.BigEndian.Uint32(loca[4*int(glyph):]), binary.BigEndian.Uint32(loca[4*int(glyph)+4:])
	}
	if from > to || to > uint32(len(glyf)) {
		return nil, f.damaged()
	}
	return slices.Clone(glyf[from:to]), nil
}

// The flags of a part of a composite glyph that tell its length.
const (
	partWords     = 0x0001
	partScale     = 0x0008
	partMore      = 0x0020
	partTwoScales = 0x0040
	partMatrix    = 0x0080
)

// eachPart calls visit with the place of the glyph number of every part of a
// composite glyph.
func eachPart(outline []byte, visit func(at int)) error {
	if len(outline) < 10 || int16At(outline, 0) >= 0 {
		return nil
	}
	for at := 10; ; {
		if at+4 > len(outline) {
			return &fault.Error{Code: fault.Internal, Where: "font", What: "a composite glyph is cut off"}
		}
		flags := uint16At(outline, at)
		visit(at + 2)
		at += 6
		if flags&partWords != 0 {
			at += 2
		}
		switch {
		case flags&partScale != 0:
			at += 2
		case flags&partTwoScales != 0:
			at += 4
		case flags&partMatrix != 0:
			at += 8
		}
		if flags&partMore == 0 {
			return nil
		}
	}
}

// padded ends a table on a multiple of four bytes.
func padded(b []byte) []byte {
	b = slices.Clip(b) // what lies behind may belong to another table
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}
