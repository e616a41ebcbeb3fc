package scan

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path"
	"slices"
	"sort"
	"strings"

	"limitans/fault"
	"limitans/oct"
)

// frame is one slice that can be decoded when its place in memory is there.
type frame struct {
	label string // file or page, in words
	info  pictureInfo
	// decode fills dst, rows·columns values, and returns what there is to note.
	decode func(dst []uint16) ([]string, error)
}

// tiffFrames lists the pages of a TIFF as frames.
func tiffFrames(name string, r io.ReaderAt, size int64) ([]frame, []string, error) {
	t, first, err := openTIFF(name, r, size)
	if err != nil {
		return nil, nil, err
	}
	pages, err := t.pages(first)
	if err != nil {
		return nil, nil, err
	}
	if n := t.announcedImages(pages[0]); n > len(pages) {
		return nil, nil, t.unsupported("", fmt.Sprintf("the description announces %d pictures, the chain of pages has %d", n, len(pages)),
			"export every slice as a page of its own")
	}
	var frames []frame
	var notes []string
	resolution, claimed := false, int64(0)
	for i, directory := range pages {
		where := fmt.Sprintf("page %d", i)
		subfile, err := t.number(directory, tagNewSubfileType, 0, where)
		if err != nil {
			return nil, nil, err
		}
		if subfile&5 != 0 {
			notes = append(notes, fmt.Sprintf("page %d of the TIFF was passed over: the file calls it a reduced copy or a mask", i))
			continue
		}
		page, err := t.layout(directory, where)
		if err != nil {
			return nil, nil, err
		}
		// Pages that share their bytes would let a small file fill the memory.
		for _, n := range page.byteCounts {
			claimed += int64(n)
		}
		if claimed > size {
			return nil, nil, t.malformed(where, fmt.Sprintf("the pages up to here claim %d bytes of a file of %d", claimed, size), "pages with bytes of their own")
		}
		_, has := directory[tagXResolution]
		resolution = resolution || has
		frames = append(frames, frame{
			label: place(name, where),
			info:  pictureInfo{rows: page.rows, columns: page.columns, bits: page.bits}, decode: page.decode,
		})
	}
	if len(frames) == 0 {
		return nil, nil, t.malformed("", "the file holds no page but reduced copies and masks", "at least one picture")
	}
	if resolution {
		notes = append(notes, "the resolution tags of the TIFF say how large to print; they are not used as a scale")
	}
	return frames, notes, nil
}

// pictureFrame reads the head of one picture of a folder or zip; the picture
// itself is read again when it is decoded.
func pictureFrame(e entry, limits Limits) ([]frame, []string, error) {
	data, err := e.read(limits.FileBytes)
	if err != nil {
		return nil, nil, err
	}
	if e.kind == kindTIFF {
		frames, notes, err := tiffFrames(e.name, bytes.NewReader(data), int64(len(data)))
		for i := range frames {
			frames[i].decode = again(e, limits, i)
		}
		return frames, notes, err
	}
	info, err := inspectPicture(e.name, e.kind, data)
	if err != nil {
		return nil, nil, err
	}
	return []frame{{label: e.name, info: info, decode: func(dst []uint16) ([]string, error) {
		data, err := e.read(limits.FileBytes)
		if err != nil {
			return nil, err
		}
		now, err := inspectPicture(e.name, e.kind, data)
		if err != nil {
			return nil, err
		}
		if now.rows != info.rows || now.columns != info.columns || now.bits != info.bits {
			return nil, changed(e.name)
		}
		return decodePicture(e.name, e.kind, data, info, dst)
	}}}, nil, nil
}

// again reads a TIFF of a folder or zip a second time and decodes one page.
func again(e entry, limits Limits, page int) func([]uint16) ([]string, error) {
	return func(dst []uint16) ([]string, error) {
		data, err := e.read(limits.FileBytes)
		if err != nil {
			return nil, err
		}
		frames, _, err := tiffFrames(e.name, bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return nil, err
		}
		if page >= len(frames) || frames[page].info.rows*frames[page].info.columns != len(dst) {
			return nil, changed(e.name)
		}
		return frames[page].decode(dst)
	}
}

func changed(name string) error {
	return &fault.Error{Code: fault.Conflict, Where: clean(name), What: "the file changed while it was read", Mend: "try again"}
}

// openSingle opens one file that is not DICOM without taking it whole into
// memory where the format allows.
func openSingle(ctx context.Context, p string, b *bundle, o Options) (*oct.Volume, error) {
	e := b.entries[0]
	if e.kind != kindTIFF {
		frames, notes, err := pictureFrame(e, o.Limits)
		if err != nil {
			return nil, err
		}
		return assemble(ctx, frames, notes, e.kind.String(), o)
	}
	file, err := os.Open(p)
	if err != nil {
		return nil, readFault(p, err)
	}
	defer file.Close()
	frames, notes, err := tiffFrames(e.name, file, e.size)
	if err != nil {
		return nil, err
	}
	format := "TIFF"
	if len(frames) > 1 {
		format = "multi-page TIFF"
	}
	return assemble(ctx, frames, notes, format, o)
}

// openPictures makes one scan of the pictures of a folder or zip.
func openPictures(ctx context.Context, b *bundle, pictures []entry, o Options) (*oct.Volume, error) {
	folder := path.Dir(pictures[0].name)
	for _, e := range pictures {
		if path.Dir(e.name) != folder {
			return nil, &fault.Error{
				Code: fault.Conflict, Where: clean(b.name),
				What: fmt.Sprintf("slices lie in several folders, %s and %s", clean(folder), clean(path.Dir(e.name))),
				Mend: "open the folder of one scan",
			}
		}
	}
	var frames []frame
	var notes []string
	for _, e := range pictures {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		f, n, err := pictureFrame(e, o.Limits)
		if err != nil {
			return nil, err
		}
		if len(f) > 1 && len(pictures) > 1 {
			return nil, &fault.Error{
				Code: fault.Conflict, Where: clean(b.name),
				What: fmt.Sprintf("%s has %d pages and lies among %d other files", clean(e.name), len(f), len(pictures)-1),
				Mend: "open the file with many pages by itself",
			}
		}
		frames = append(frames, f...)
		for _, note := range n {
			if !slices.Contains(notes, note) {
				notes = append(notes, note)
			}
		}
	}
	if len(frames) > len(pictures) {
		return assemble(ctx, frames, notes, b.wrapper+"one multi-page TIFF", o)
	}
	return assemble(ctx, frames, notes, b.wrapper+pictures[0].kind.String()+" slices", o)
}

// assemble checks that the frames fit together, takes the memory and decodes.
func assemble(ctx context.Context, frames []frame, notes []string, format string, o Options) (*oct.Volume, error) {
	if err := sameSize(frames); err != nil {
		return nil, err
	}
	first := frames[0].info
	if err := oct.CheckSize(len(frames), first.rows, first.columns); err != nil {
		return nil, err
	}
	if n := int64(len(frames)) * int64(first.rows) * int64(first.columns); n > o.Limits.Samples {
		return nil, tooManySamples(n, o.Limits)
	}
	v := &oct.Volume{
		Slices: len(frames), Rows: first.rows, Columns: first.columns, BitDepth: first.bits,
		Samples: make([]uint16, len(frames)*first.rows*first.columns),
		Pattern: oct.PatternUnknown, Acquisition: oct.Acquisition{Format: format}, Notes: notes,
	}
	if v.Slices == 1 {
		v.Pattern = oct.PatternSingle
	}
	said := map[string][]int{}
	for i, f := range frames {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		more, err := f.decode(v.Slice(i))
		if err != nil {
			return nil, err
		}
		if reason := screenshot(v.Slice(i), v.Rows, v.Columns); reason != "" {
			more = append(more, reason)
		}
		for _, n := range append(more, f.info.notes...) {
			said[n] = append(said[n], i)
		}
		v.Acquisition.Lossy = v.Acquisition.Lossy || f.info.lossy
		o.progress(i+1, len(frames))
	}
	v.Notes = append(v.Notes, gatherNotes(said, len(frames))...)
	return v, nil
}

// sameSize faults when frames differ in size or depth of grey.
func sameSize(frames []frame) error {
	sizes := map[string][]string{}
	var order []string
	for _, f := range frames {
		s := fmt.Sprintf("%d × %d samples of %d bits", f.info.columns, f.info.rows, f.info.bits)
		if sizes[s] == nil {
			order = append(order, s)
		}
		sizes[s] = append(sizes[s], f.label)
	}
	if len(order) == 1 {
		return nil
	}
	sort.SliceStable(order, func(i, j int) bool { return len(sizes[order[i]]) > len(sizes[order[j]]) })
	var parts []string
	for _, s := range order[:min(len(order), 4)] {
		names := sizes[s]
		which := clean(names[0])
		if len(names) > 1 {
			which += fmt.Sprintf(" and %d more", len(names)-1)
		}
		parts = append(parts, fmt.Sprintf("%s (%s)", s, which))
	}
	return &fault.Error{
		Code: fault.Conflict, Where: "size", What: "slices differ in size: " + strings.Join(parts, "; "),
		Expected: "slices of one scan, all of one size",
	}
}

// gatherNotes says each thing once, with the slices it holds for.
func gatherNotes(said map[string][]int, slices int) []string {
	var notes []string
	for text, which := range said {
		if slices > 1 {
			text += " (" + sliceList(which, slices) + ")"
		}
		notes = append(notes, text)
	}
	sort.Strings(notes)
	return notes
}

// sliceList names slices, counted from 0, in words.
func sliceList(which []int, slices int) string {
	if len(which) == slices {
		return "all slices"
	}
	var parts []string
	for i := 0; i < len(which); {
		j := i
		for j+1 < len(which) && which[j+1] == which[j]+1 {
			j++
		}
		if j > i {
			parts = append(parts, fmt.Sprintf("%d–%d", which[i], which[j]))
		} else {
			parts = append(parts, fmt.Sprint(which[i]))
		}
		i = j + 1
	}
	return "slice " + strings.Join(parts, ", ")
}
