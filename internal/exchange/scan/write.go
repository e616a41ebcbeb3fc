package scan

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// The tags of a baseline grey TIFF page (TIFF 6.0, section 4; from memory).
const (
	tiffImageWidth      = 256
	tiffImageLength     = 257
	tiffBitsPerSample   = 258
	tiffCompression     = 259
	tiffPhotometric     = 262
	tiffStripOffsets    = 273
	tiffSamplesPerPixel = 277
	tiffRowsPerStrip    = 278
	tiffStripByteCounts = 279
	tiffShort, tiffLong = 3, 4
)

// WriteTIFF writes a volume as an uncompressed little-endian TIFF of one page a
// slice, 8 or 16 bits a sample, one strip a page. Scale and side have no place
// in it; see [SideFile]. Volumes of 4 GiB and more are refused.
func WriteTIFF(w io.Writer, v *oct.Volume) error {
	if err := v.Check(); err != nil {
		return err
	}
	bytesPerSample := 1
	if v.BitDepth > 8 {
		bytesPerSample = 2
	}
	const entries = 9
	const directoryBytes = 2 + 12*entries + 4
	strip := v.Rows * v.Columns * bytesPerSample
	padded := strip + strip%2 // directories begin on an even byte
	page := padded + directoryBytes
	if total := 8 + int64(page)*int64(v.Slices); total >= 1<<32 {
		return &fault.Error{Code: fault.TooLarge, Where: "TIFF", What: fmt.Sprintf("%d bytes do not fit into the format", total), Expected: "less than 4 GiB"}
	}
	out := bufio.NewWriter(w)
	little := binary.LittleEndian
	head := append([]byte("II*\x00"), 0, 0, 0, 0)
	little.PutUint32(head[4:], uint32(8+padded))
	if _, err := out.Write(head); err != nil {
		return err
	}
	buffer := make([]byte, page)
	for slice := range v.Slices {
		start := 8 + page*slice
		for i, s := range v.Slice(slice) {
			if bytesPerSample == 1 {
				buffer[i] = byte(s)
			} else {
				little.PutUint16(buffer[2*i:], s)
			}
		}
		next := 0
		if slice+1 < v.Slices {
			next = start + page + padded
		}
		putDirectory(buffer[padded:], [][3]int{
			{tiffImageWidth, tiffLong, v.Columns},
			{tiffImageLength, tiffLong, v.Rows},
			{tiffBitsPerSample, tiffShort, 8 * bytesPerSample},
			{tiffCompression, tiffShort, 1},
			{tiffPhotometric, tiffShort, 1},
			{tiffStripOffsets, tiffLong, start},
			{tiffSamplesPerPixel, tiffShort, 1},
			{tiffRowsPerStrip, tiffLong, v.Rows},
			{tiffStripByteCounts, tiffLong, strip},
		}, next)
		if _, err := out.Write(buffer); err != nil {
			return err
		}
	}
	return out.Flush()
}

// putDirectory writes the entries {tag, type, value} of one page and the place
// of the next page's directory.
func putDirectory(to []byte, entries [][3]int, next int) {
	little := binary.LittleEndian
	little.PutUint16(to, uint16(len(entries)))
	for i, e := range entries {
		at := to[2+12*i:]
		little.PutUint16(at, uint16(e[0]))
		little.PutUint16(at[2:], uint16(e[1]))
		little.PutUint32(at[4:], 1)
		little.PutUint32(at[8:], uint32(e[2]))
	}
	little.PutUint32(to[2+12*len(entries):], uint32(next))
}

// SideFile returns the side file that gives a volume written by [WriteTIFF] its
// known scales and its side back.
func SideFile(v *oct.Volume) []byte {
	var b strings.Builder
	for _, line := range []struct {
		key   string
		scale oct.AxisScale
	}{{"depth_um", v.Scale.Depth}, {"lateral_um", v.Scale.Lateral}, {"slice_um", v.Scale.Slice}} {
		if line.scale.Known() {
			fmt.Fprintf(&b, "%s: %.9g\n", line.key, line.scale.MicrometresPerSample)
		}
	}
	if v.Laterality != eye.SideUnknown {
		fmt.Fprintf(&b, "eye: %s\n", strings.ToLower(v.Laterality.String()))
	}
	if v.Pattern == oct.PatternRaster {
		b.WriteString("pattern: raster\n")
	}
	return []byte(b.String())
}
