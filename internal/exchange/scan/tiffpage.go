package scan

import (
	"fmt"

	"limitans/fault"
	"limitans/oct"
)

// tiffPage is the layout of one page after all its tags were checked.
type tiffPage struct {
	file          *tiffFile
	where         string
	rows, columns int
	bits          int // 8 or 16
	channels      int // colour channels: 1 or 3
	extra         int // further channels after them
	compression   uint32
	predictor     bool
	whiteIsZero   bool
	// Blocks are strips (as wide as the page) or tiles, left to right and top
	// to bottom.
	blockRows, blockColumns int
	tiled                   bool
	offsets, byteCounts     []uint32
}

// layout checks the tags of a page and that its bytes can hold its samples.
func (t *tiffFile) layout(page tiffDirectory, where string) (*tiffPage, error) {
	p := &tiffPage{file: t, where: where}
	for _, step := range []func(tiffDirectory) error{p.readSize, p.readColour, p.readCoding, p.readBlocks, p.checkRoom} {
		if err := step(page); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (p *tiffPage) number(page tiffDirectory, tag uint16, missing uint32, into *uint32) error {
	v, err := p.file.number(page, tag, missing, p.where)
	*into = v
	return err
}

func (p *tiffPage) readSize(page tiffDirectory) error {
	var columns, rows, orientation uint32
	for _, f := range []struct {
		tag     uint16
		missing uint32
		into    *uint32
	}{{tagImageWidth, 0, &columns}, {tagImageLength, 0, &rows}, {tagOrientation, 1, &orientation}} {
		if err := p.number(page, f.tag, f.missing, f.into); err != nil {
			return err
		}
	}
	if err := checkSide(place(p.file.name, p.where), int64(rows), int64(columns)); err != nil {
		return err
	}
	if orientation != 1 {
		return p.file.unsupported(p.where, fmt.Sprintf("the orientation tag (%d) says that the picture is stored turned or mirrored", orientation),
			"export it upright")
	}
	p.rows, p.columns = int(rows), int(columns)
	return nil
}

func (p *tiffPage) readColour(page tiffDirectory) error {
	t := p.file
	var channels, photometric, planar uint32
	for _, f := range []struct {
		tag     uint16
		missing uint32
		into    *uint32
	}{{tagSamplesPerPixel, 1, &channels}, {tagPhotometric, 99, &photometric}, {tagPlanar, 1, &planar}} {
		if err := p.number(page, f.tag, f.missing, f.into); err != nil {
			return err
		}
	}
	switch photometric {
	case 0, 1:
		p.channels, p.whiteIsZero = 1, photometric == 0
	case 2:
		p.channels = 3
	case 99:
		return t.malformed(p.where, "the page does not say how its samples are coloured (tag 262)", "grey or red, green, blue")
	default:
		return t.unsupported(p.where, fmt.Sprintf("colour scheme %d (tag 262) is not read", photometric), "export in grey")
	}
	if channels < uint32(p.channels) || channels > 4 {
		return t.malformed(p.where, fmt.Sprintf("%d channels for a picture that needs %d", channels, p.channels), "a picture in grey")
	}
	if p.extra = int(channels) - p.channels; channels > 1 && planar != 1 {
		return t.unsupported(p.where, "the colour channels are stored apart (planar configuration 2)", "export in grey")
	}
	bits, err := t.numbers(page, tagBitsPerSample, int64(channels), p.where)
	if err != nil {
		return err
	}
	if bits == nil {
		bits = []uint32{1}
	}
	for _, b := range bits {
		if (b != 8 && b != 16) || b != bits[0] {
			return t.unsupported(p.where, fmt.Sprintf("%d bits a sample are not read", b), "export with 8 or 16 bits")
		}
	}
	p.bits = int(bits[0])
	formats, err := t.numbers(page, tagSampleFormat, -1, p.where)
	if err != nil {
		return err
	}
	for _, f := range formats {
		if f != 1 && f != 4 {
			return t.unsupported(p.where, fmt.Sprintf("sample format %d (signed or floating point) is not read", f), "export as unsigned 8 or 16 bits")
		}
	}
	return nil
}

func (p *tiffPage) readCoding(page tiffDirectory) error {
	t := p.file
	var predictor, fillOrder uint32
	for _, f := range []struct {
		tag     uint16
		missing uint32
		into    *uint32
	}{{tagCompression, 1, &p.compression}, {tagPredictor, 1, &predictor}, {tagFillOrder, 1, &fillOrder}} {
		if err := p.number(page, f.tag, f.missing, f.into); err != nil {
			return err
		}
	}
	if maxExpansion(p.compression) == 0 {
		return t.unsupported(p.where, fmt.Sprintf("compression %d is not read", p.compression),
			"export uncompressed or with PackBits, LZW or Deflate")
	}
	if fillOrder != 1 {
		return t.unsupported(p.where, fmt.Sprintf("fill order %d is not read", fillOrder), "export again with usual settings")
	}
	if predictor != 1 && predictor != 2 {
		return t.unsupported(p.where, fmt.Sprintf("predictor %d is not read", predictor), "export without predictor")
	}
	p.predictor = predictor == 2 && p.compression != compressionNone && p.compression != compressionPackBits
	return nil
}

func (p *tiffPage) readBlocks(page tiffDirectory) error {
	t := p.file
	_, hasTiles := page[tagTileOffsets]
	_, hasStrips := page[tagStripOffsets]
	var rows, columns uint32
	offsetTag, countTag := uint16(tagStripOffsets), uint16(tagStripByteCounts)
	switch {
	case hasTiles && hasStrips:
		return t.malformed(p.where, "the page has both strips and tiles", "one of them")
	case hasTiles:
		p.tiled, offsetTag, countTag = true, tagTileOffsets, tagTileByteCounts
		if err := p.number(page, tagTileWidth, 0, &columns); err != nil {
			return err
		}
		if err := p.number(page, tagTileLength, 0, &rows); err != nil {
			return err
		}
		// A tile much larger than its page has no use but to take memory.
		if err := checkSide(place(t.name, p.where+", tile"), int64(rows), int64(columns)); err != nil {
			return err
		}
		if int64(rows)*int64(columns) > max(4*int64(p.rows)*int64(p.columns), 1<<20) {
			return t.malformed(p.where, fmt.Sprintf("tiles of %d × %d for a page of %d × %d samples", rows, columns, p.rows, p.columns), "smaller tiles")
		}
	case hasStrips:
		columns = uint32(p.columns)
		if err := p.number(page, tagRowsPerStrip, uint32(p.rows), &rows); err != nil {
			return err
		}
		if rows == 0 {
			return t.malformed(p.where, "strips of no rows", "at least one row")
		}
		rows = min(rows, uint32(p.rows))
	default:
		return t.malformed(p.where, "the page says nowhere where its samples are", "strips or tiles")
	}
	p.blockRows, p.blockColumns = int(rows), int(columns)
	blocks := int64(ceilDiv(p.rows, p.blockRows)) * int64(ceilDiv(p.columns, p.blockColumns))
	var err error
	if p.offsets, err = t.numbers(page, offsetTag, blocks, p.where); err != nil {
		return err
	}
	if p.byteCounts, err = t.numbers(page, countTag, blocks, p.where); err != nil {
		return err
	}
	if p.byteCounts == nil {
		return t.malformed(p.where, "the sizes of strips or tiles are missing", fmt.Sprintf("tag %d", countTag))
	}
	return nil
}

// checkRoom holds what each block must unpack to against what its bytes can
// hold at best, before memory is taken for any.
func (p *tiffPage) checkRoom(tiffDirectory) error {
	expansion := maxExpansion(p.compression)
	for i := range p.offsets {
		rows, columns := p.blockSize(i)
		want := int64(rows) * int64(columns) * int64(p.pixelBytes())
		n := int64(p.byteCounts[i])
		if int64(p.offsets[i])+n > p.file.size {
			return p.file.malformed(p.where, fmt.Sprintf("block %d ends at byte %d of a file of %d bytes", i, int64(p.offsets[i])+n, p.file.size),
				"a complete file, not one cut short")
		}
		if n*expansion < want {
			return p.file.malformed(p.where, fmt.Sprintf("%d bytes cannot hold block %d of %d bytes", n, i, want), "all samples of the page")
		}
	}
	return nil
}

func (p *tiffPage) pixelBytes() int { return (p.channels + p.extra) * p.bits / 8 }

// blockSize returns the stored rows and columns of a block: the last strip may
// be shorter, tiles are always whole.
func (p *tiffPage) blockSize(block int) (rows, columns int) {
	if p.tiled {
		return p.blockRows, p.blockColumns
	}
	return min(p.blockRows, p.rows-block*p.blockRows), p.columns
}

func ceilDiv(a, b int) int { return (a + b - 1) / b }

// checkSide refuses pictures without samples and those too large for a scan.
func checkSide(where string, rows, columns int64) error {
	if rows > oct.MaxSide || columns > oct.MaxSide {
		return &fault.Error{
			Code: fault.TooLarge, Where: where,
			What:     fmt.Sprintf("%d × %d samples are more than this program takes", rows, columns),
			Expected: fmt.Sprintf("at most %d along a side", oct.MaxSide),
		}
	}
	if rows < 1 || columns < 1 {
		return &fault.Error{
			Code: fault.Malformed, Where: where,
			What: fmt.Sprintf("a picture of %d × %d samples is empty", rows, columns), Expected: "at least one row and column",
		}
	}
	return nil
}
