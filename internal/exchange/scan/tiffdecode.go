package scan

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"

	"golang.org/x/image/tiff/lzw"
)

// Compressions of TIFF that are read. 8 and 32946 are both zlib Deflate.
const (
	compressionNone       = 1
	compressionLZW        = 5
	compressionDeflate    = 8
	compressionPackBits   = 32773
	compressionOldDeflate = 32946
)

// maxExpansion bounds the bytes one packed byte can unpack to; 0 for schemes
// that are not read. PackBits: a run of 128 from 2 bytes. LZW: a 12-bit code
// stands for at most the longest string of a table of 4096. Deflate: 258 bytes
// from 2 bits (RFC 1951), 1032, with room for the head.
func maxExpansion(compression uint32) int64 {
	switch compression {
	case compressionNone:
		return 1
	case compressionPackBits:
		return 64
	case compressionLZW:
		return 2731
	case compressionDeflate, compressionOldDeflate:
		return 1033
	}
	return 0
}

// decode writes the grey samples of the page to dst, rows·columns values, and
// returns what there is to note.
func (p *tiffPage) decode(dst []uint16) ([]string, error) {
	var buffer []byte
	across := ceilDiv(p.columns, p.blockColumns)
	coloured := 0 // largest difference of two channels met
	for i := range p.offsets {
		rows, columns := p.blockSize(i)
		want := rows * columns * p.pixelBytes()
		if cap(buffer) < want {
			buffer = make([]byte, want)
		}
		buffer = buffer[:want]
		if err := p.unpack(i, buffer); err != nil {
			return nil, err
		}
		if p.predictor {
			p.undoPredictor(buffer, columns)
		}
		row0, column0 := i/across*p.blockRows, i%across*p.blockColumns
		for r := range min(rows, p.rows-row0) {
			line := buffer[r*columns*p.pixelBytes():]
			out := dst[(row0+r)*p.columns+column0:][:min(columns, p.columns-column0)]
			spread, opaque := p.greyLine(line, out)
			if !opaque {
				return nil, p.file.unsupported(p.where, "parts of the picture are transparent", "export in grey without transparency")
			}
			coloured = max(coloured, spread)
		}
	}
	var notes []string
	if coloured > 0 {
		if coloured > colourTolerance<<(p.bits-8) {
			return nil, colourFault(place(p.file.name, p.where))
		}
		notes = append(notes, noteNearlyGrey)
	}
	if p.whiteIsZero {
		notes = append(notes, "samples are stored with white as zero and were inverted, as the file says")
	}
	return notes, nil
}

// unpack fills buffer with the bytes of a block.
func (p *tiffPage) unpack(block int, buffer []byte) error {
	packed, err := p.file.read(int64(p.offsets[block]), int64(p.byteCounts[block]), p.where, "a block")
	if err != nil {
		return err
	}
	n := 0
	switch p.compression {
	case compressionNone:
		n = copy(buffer, packed)
	case compressionPackBits:
		n = unpackBits(buffer, packed)
	case compressionLZW:
		r := lzw.NewReader(bytes.NewReader(packed), lzw.MSB, 8)
		n, err = io.ReadFull(r, buffer)
		_ = r.Close()
	default:
		var r io.ReadCloser
		if r, err = zlib.NewReader(bytes.NewReader(packed)); err == nil {
			n, err = io.ReadFull(r, buffer)
			_ = r.Close()
		}
	}
	if err != nil || n < len(buffer) {
		return p.file.malformed(p.where, fmt.Sprintf("block %d unpacks to %d bytes", block, n), fmt.Sprintf("%d", len(buffer)))
	}
	return nil
}

// unpackBits undoes the run-length scheme of TIFF 6.0 section 9 and returns how
// many bytes of dst were filled.
func unpackBits(dst, src []byte) int {
	n := 0
	for len(src) > 0 && n < len(dst) {
		code := int8(src[0])
		src = src[1:]
		switch {
		case code >= 0:
			run := min(int(code)+1, len(src))
			n += copy(dst[n:], src[:run])
			src = src[run:]
		case code != -128:
			if len(src) == 0 {
				return n
			}
			for range min(1-int(code), len(dst)-n) {
				dst[n] = src[0]
				n++
			}
			src = src[1:]
		}
	}
	return n
}

// undoPredictor adds up horizontal differences, channel by channel (TIFF 6.0
// section 14).
func (p *tiffPage) undoPredictor(buffer []byte, columns int) {
	step := p.channels + p.extra
	width := columns * p.pixelBytes()
	for ; len(buffer) >= width; buffer = buffer[width:] {
		line := buffer[:width]
		if p.bits == 8 {
			for i := step; i < len(line); i++ {
				line[i] += line[i-step]
			}
			continue
		}
		for i := 2 * step; i+1 < len(line); i += 2 {
			sum := p.file.order.Uint16(line[i:]) + p.file.order.Uint16(line[i-2*step:])
			p.file.order.PutUint16(line[i:], sum)
		}
	}
}

// greyLine turns stored pixels into grey samples. It returns the largest
// difference between two colour channels and whether further channels are
// opaque throughout. Grey of nearly equal channels is the green one.
func (p *tiffPage) greyLine(line []byte, out []uint16) (spread int, opaque bool) {
	size, top := p.bits/8, uint16(1<<p.bits-1)
	opaque = true
	sample := func(i int) uint16 {
		if size == 1 {
			return uint16(line[i])
		}
		return p.file.order.Uint16(line[2*i:])
	}
	step := p.channels + p.extra
	for c := range out {
		v := sample(c * step)
		if p.channels == 3 {
			g, b := sample(c*step+1), sample(c*step+2)
			spread = max(spread, int(max(v, g, b))-int(min(v, g, b)))
			v = g
		}
		for e := range p.extra {
			opaque = opaque && sample(c*step+p.channels+e) == top
		}
		if p.whiteIsZero {
			v = top - v
		}
		out[c] = v
	}
	return spread, opaque
}
