package intake

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image/png"
	"io"
	"math"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/vault"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/measure"
	"limitans/oct/surface"
)

// Lines are kept as a zip of three files:
//
//	lines.json    sizes, names, the share of the edge, warnings, grey levels
//	lines.f32     rows, then confidences, of each surface in the order of the
//	              names: little-endian IEEE 754 single precision, slice after slice
//	first.png     the slice that a page opens on, so that it can be shown before
//	              the scan is read; its number, from 1, stands in lines.json
//
// Nothing in it names a person.
const (
	linesHead, linesData = "lines.json", "lines.f32"
	linesFirst           = "first.png"
	maxFirstBytes        = 64 << 20
	linesMediaType       = "application/zip"
	maxLinesHead         = 8 << 20
)

// linesHeader is lines.json. A level that could not be read is null.
type linesHeader struct {
	Slices    int          `json:"slices"`
	Rows      int          `json:"rows"`
	Columns   int          `json:"columns"`
	Surfaces  []string     `json:"surfaces"`
	EdgeShare float64      `json:"edge_share"`
	Warnings  []string     `json:"warnings,omitempty"`
	First     int          `json:"first_slice,omitempty"`
	Levels    []levelWords `json:"levels"`
}

type levelWords struct {
	Vitreous    *float64 `json:"vitreous"`
	Tissue      *float64 `json:"tissue"`
	SampleNoise *float64 `json:"sample_noise"`
	TissueNoise *float64 `json:"tissue_noise"`
	Traceable   bool     `json:"traceable"`
}

// number is nil for a NaN, which JSON cannot write.
func number(x float64) *float64 {
	if x != x {
		return nil
	}
	return &x
}

// told is NaN for nil.
func told(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}

// KeepLines writes the lines of a measurement into the vault, with the picture of
// the slice that a page opens on: the widest of the hole, else the middle one.
func KeepLines(ctx context.Context, into *vault.Vault, result *measure.Result) (*record.FileRef, error) {
	first := result.Volume.Slices / 2
	if result.Hole != nil && result.Hole.WidestSlice >= 0 {
		first = result.Hole.WidestSlice
	}
	var kept bytes.Buffer
	if err := packLines(&kept, result.Traced, result.Volume, first); err != nil {
		return nil, err
	}
	stored, err := into.Put(ctx, &kept, nil)
	if err != nil {
		return nil, err
	}
	return &record.FileRef{SHA256: stored.Hash.String(), Bytes: stored.Size, MediaType: linesMediaType}, nil
}

func packLines(to io.Writer, s *surface.Surfaces, v *oct.Volume, first int) error {
	all := []*surface.Surface{s.InnerLimitingMembrane, s.VisibleMembrane, s.PigmentEpithelium, s.PigmentEpitheliumInnerEdge}
	head := linesHeader{First: first + 1, Slices: all[0].Slices, Rows: v.Rows, Columns: all[0].Columns, EdgeShare: s.EdgeShare, Warnings: s.Warnings}
	for _, one := range all {
		head.Surfaces = append(head.Surfaces, one.Name)
	}
	for _, l := range s.Levels {
		head.Levels = append(head.Levels, levelWords{number(l.Vitreous), number(l.Tissue), number(l.SampleNoise), number(l.TissueNoise), l.Traceable})
	}
	z := zip.NewWriter(to)
	w, err := z.Create(linesHead)
	if err != nil {
		return err
	}
	if err := json.NewEncoder(w).Encode(head); err != nil {
		return err
	}
	if w, err = z.Create(linesData); err != nil {
		return err
	}
	for _, one := range all {
		for _, values := range [][]float32{one.Row, one.Confidence} {
			if err := binary.Write(w, binary.LittleEndian, values); err != nil {
				return err
			}
		}
	}
	if w, err = z.Create(linesFirst); err != nil {
		return err
	}
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, grey.Slice(v, first, grey.WindowOf(v))); err != nil {
		return err
	}
	return z.Close()
}

// FirstPicture gives the picture that [KeepLines] put beside lines, and the
// number of its slice, from 1. Errors: those of [ReadLines].
func FirstPicture(ctx context.Context, from *vault.Vault, ref *record.FileRef) (slice int, picture []byte, err error) {
	packed, err := fetchLines(ctx, from, ref)
	if err != nil {
		return 0, nil, err
	}
	z, head, err := openLines(packed)
	if err != nil {
		return 0, nil, err
	}
	picture, err = member(z, linesFirst, maxFirstBytes)
	return head.First, picture, err
}

// ReadLines reads what [KeepLines] wrote. Sizes are checked before memory is
// taken. Errors: those of the vault; Malformed for another content.
func ReadLines(ctx context.Context, from *vault.Vault, ref *record.FileRef) (*surface.Surfaces, error) {
	packed, err := fetchLines(ctx, from, ref)
	if err != nil {
		return nil, err
	}
	return unpackLines(packed)
}

// fetchLines takes a kept file out of the vault.
func fetchLines(ctx context.Context, from *vault.Vault, ref *record.FileRef) ([]byte, error) {
	hash, err := vault.ParseHash(ref.SHA256)
	if err != nil {
		return nil, err
	}
	content, err := from.Get(ctx, hash)
	if err != nil {
		return nil, err
	}
	defer content.Close()
	if content.Size() > maxLinesBytes {
		return nil, notLines(fmt.Sprintf("%d bytes", content.Size()))
	}
	return io.ReadAll(stopping{ctx, content})
}

// Every surface has two values of four bytes a place. maxLinesPlaces bounds what
// is taken: 20,000 slices or columns of the largest scan have fewer.
const (
	lineCount      = 4
	bytesPerPlace  = lineCount * 2 * 4
	maxLinesPlaces = 16 << 20
	maxLinesBytes  = maxLinesPlaces*bytesPerPlace + maxLinesHead + maxFirstBytes
)

func notLines(what string) error {
	return &fault.Error{Code: fault.Malformed, Where: "kept lines", What: what, Expected: "the lines of a scan as this program keeps them"}
}

// openLines reads the head of a kept file.
func openLines(packed []byte) (*zip.Reader, linesHeader, error) {
	var head linesHeader
	z, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return nil, head, notLines(err.Error())
	}
	text, err := member(z, linesHead, maxLinesHead)
	if err != nil {
		return nil, head, err
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, head, notLines(err.Error())
	}
	return z, head, nil
}

func unpackLines(packed []byte) (*surface.Surfaces, error) {
	z, head, err := openLines(packed)
	if err != nil {
		return nil, err
	}
	if err := oct.CheckSize(head.Slices, head.Rows, head.Columns); err != nil {
		return nil, err
	}
	places := int64(head.Slices) * int64(head.Columns)
	if places > maxLinesPlaces || len(head.Surfaces) != lineCount || len(head.Levels) != head.Slices {
		return nil, notLines(fmt.Sprintf("%d surfaces of %d places with %d levels", len(head.Surfaces), places, len(head.Levels)))
	}
	data, err := member(z, linesData, places*bytesPerPlace)
	if err != nil {
		return nil, err
	}
	if int64(len(data)) != places*bytesPerPlace {
		return nil, notLines(fmt.Sprintf("%d bytes for %d places", len(data), places))
	}
	out := &surface.Surfaces{EdgeShare: head.EdgeShare, Warnings: head.Warnings}
	r := bytes.NewReader(data)
	for i, into := range []**surface.Surface{&out.InnerLimitingMembrane, &out.VisibleMembrane, &out.PigmentEpithelium, &out.PigmentEpitheliumInnerEdge} {
		*into = surface.New(head.Surfaces[i], head.Slices, head.Columns)
		for _, values := range [][]float32{(*into).Row, (*into).Confidence} {
			if err := binary.Read(r, binary.LittleEndian, values); err != nil {
				return nil, notLines(err.Error())
			}
		}
	}
	for _, l := range head.Levels {
		out.Levels = append(out.Levels, surface.SliceLevels{
			Vitreous: told(l.Vitreous), Tissue: told(l.Tissue), SampleNoise: told(l.SampleNoise), TissueNoise: told(l.TissueNoise), Traceable: l.Traceable,
		})
	}
	return out, nil
}

// member reads one file of the zip, at most so many bytes.
func member(z *zip.Reader, name string, most int64) ([]byte, error) {
	file, err := z.Open(name)
	if err != nil {
		return nil, notLines(name + " is not in it")
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, most+1))
	switch {
	case err != nil:
		return nil, notLines(err.Error())
	case int64(len(data)) > most:
		return nil, notLines(name + " is larger than it says")
	}
	return data, nil
}
