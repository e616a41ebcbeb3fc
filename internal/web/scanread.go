package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/figure"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/measure"
	"limitans/oct/surface"
)

// needVault is the fault of a server without a vault.
func (s *Server) needVault() error {
	if s.Vault == nil {
		return &fault.Error{Code: fault.Unsupported, Where: "scan", What: "this server has no files to show scans from", Mend: "ask whoever runs it"}
	}
	return nil
}

// takeScan gives a scan from the shelf.
func (s *Server) takeScan(ctx context.Context, noun *record.Scan, e *record.Eye) (*shelved, error) {
	if err := s.needVault(); err != nil {
		return nil, err
	}
	if noun.File.SHA256 == "" {
		return nil, &fault.Error{Code: fault.NotFound, Where: "scan", What: "the record holds its description and no file", Mend: "bring the file in"}
	}
	return s.shelf.take(ctx, noun, e, func(ctx context.Context) (*oct.Volume, error) {
		return intake.ReadScan(ctx, s.Vault, noun, e, nil)
	})
}

// linesName names the lines that figures rest on.
func linesName(f *record.HoleFigures) string {
	if f != nil && f.Lines != nil {
		return f.Lines.SHA256
	}
	return "traced"
}

// measured gives the measurement that figures tell of, with its lines: those
// that were kept with them, else traced anew. Where ctx ends first the measuring
// goes on for whoever asks next.
func (s *Server) measured(ctx context.Context, on *shelved, e *record.Eye, f *record.HoleFigures) (*measure.Result, error) {
	type answer struct {
		result *measure.Result
		err    error
	}
	done := make(chan answer, 1)
	going := context.WithoutCancel(ctx)
	go func() {
		result, err := on.result(linesName(f), func() (*measure.Result, error) {
			var lines *surface.Surfaces
			if f != nil && f.Lines != nil {
				var err error
				if lines, err = intake.ReadLines(going, s.Vault, f.Lines); err != nil {
					return nil, err
				}
			}
			return intake.Measure(going, on.volume, e, lines, s.measuring(""))
		})
		done <- answer{result, err}
	}()
	select {
	case a := <-done:
		return a.result, a.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// measuring says that figures are made now by this program.
func (s *Server) measuring(by record.AccountID) intake.Measuring {
	return intake.Measuring{Program: s.Program, Now: s.Now(), By: by, Vault: s.Vault}
}

// pictureAddress is the address of the pictures of a scan by what they are made
// of, so that one can be kept and is never the picture of something else.
func pictureAddress(noun *record.Scan) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "picture 1 %s %t %d", noun.File.SHA256, noun.Flipped, noun.Version))
	return hex.EncodeToString(sum[:8])
}

// picturePath is where the picture of a slice is; slices count from 1 here.
func picturePath(noun *record.Scan, slice int) string {
	return scanPath(noun) + "/pictures/" + pictureAddress(noun) + "/" + strconv.Itoa(slice) + ".png"
}

// pictureSeconds is how long a browser of its own keeps a picture. It is the
// patient's, so that no cache between keeps it.
const pictureSeconds = 7 * 24 * 3600

// slicePicture answers with one slice, or the view from the front, as a picture
// without any text in it.
func (s *Server) slicePicture(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	noun, e, err := s.scanAndEye(r)
	if err != nil {
		return err
	}
	name, isPicture := strings.CutSuffix(r.PathValue("slice"), ".png")
	if !isPicture || r.PathValue("content") != pictureAddress(noun) {
		return errNoPicture
	}
	etag := strconv.Quote(r.PathValue("content") + "-" + name)
	h := w.Header()
	if r.Header.Get("If-None-Match") == etag {
		h.Set("ETag", etag)
		h.Set("Cache-Control", fmt.Sprintf("private, max-age=%d, immutable", pictureSeconds))
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	data := s.keptPicture(r.Context(), noun, e, name)
	if data == nil {
		on, err := s.takeScan(r.Context(), noun, e)
		if err != nil {
			return err
		}
		if data, err = s.encoded(r.Context(), on, noun, e, name); err != nil {
			return err
		}
	}
	h.Set("Content-Type", "image/png")
	h.Set("ETag", etag)
	h.Set("Cache-Control", fmt.Sprintf("private, max-age=%d, immutable", pictureSeconds))
	h.Set("Content-Length", strconv.Itoa(len(data)))
	// The status is out; a reader that left is no fault of ours.
	_, _ = w.Write(data)
	return nil
}

// keptPicture is the first picture of a scan as it was kept with its lines, so
// that it is there before the scan is read; nil where there is none, or where the
// scan is on the shelf. What is wrong with it shows when the scan itself is read.
func (s *Server) keptPicture(ctx context.Context, noun *record.Scan, e *record.Eye, name string) []byte {
	slice, err := strconv.Atoi(name)
	if err != nil || s.Vault == nil || s.shelf.has(noun, e) {
		return nil
	}
	all, err := s.Store.FiguresOfScan(ctx, noun.ID)
	if err != nil {
		return nil
	}
	for _, f := range slices.Backward(all) {
		if f.Lines == nil {
			continue
		}
		if first, data, err := intake.FirstPicture(ctx, s.Vault, f.Lines); err == nil && first == slice {
			return data
		}
	}
	return nil
}

// frontPrefix begins the name of the view from the front; what follows are the
// first digits of the lines that it is made with.
const frontPrefix = "front-"

// frontPath is where the view from the front with the lines of figures is.
func frontPath(noun *record.Scan, f *record.HoleFigures) string {
	name := linesName(f)
	return scanPath(noun) + "/pictures/" + pictureAddress(noun) + "/" + frontPrefix + name[:min(len(name), 12)] + ".png"
}

// encoded gives a picture of a scan by its name. It fails with fault.NotFound.
func (s *Server) encoded(ctx context.Context, on *shelved, noun *record.Scan, e *record.Eye, name string) ([]byte, error) {
	lines, isFront := strings.CutPrefix(name, frontPrefix)
	slice, err := strconv.Atoi(name)
	if !isFront && (err != nil || slice < 1 || slice > on.volume.Slices) || isFront && lines == "" {
		return nil, errNoPicture
	}
	return on.picture(name, func() ([]byte, error) {
		if !isFront {
			return packed(grey.Slice(on.volume, slice-1, grey.WindowOf(on.volume)))
		}
		c, err := s.Store.Course(ctx, e.ID, false)
		if err != nil {
			return nil, err
		}
		for _, f := range append(versionsOf(c, noun.ID), nil) {
			if strings.HasPrefix(linesName(f), lines) {
				result, err := s.measured(ctx, on, e, f)
				if err != nil {
					return nil, err
				}
				return packed(figure.FrontPicture(on.volume, result.Traced))
			}
		}
		return nil, errNoPicture
	})
}

// packed writes a picture without loss.
func packed(m image.Image) ([]byte, error) {
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	err := encoder.Encode(&b, m)
	return b.Bytes(), err
}

// errNoPicture says that an address names no picture, or one of another version.
var errNoPicture = &fault.Error{Code: fault.NotFound, Where: "picture", What: "there is no such picture", Mend: "open the scan again"}

// scanAndEye reads the scan and the eye of an address without the whole course.
func (s *Server) scanAndEye(r *http.Request) (*record.Scan, *record.Eye, error) {
	none := &fault.Error{Code: fault.NotFound, Where: "scan", What: "this eye has no such scan", Mend: "go to the list of its scans"}
	id, eyeID := record.ID(r.PathValue("scan")), record.ID(r.PathValue("eye"))
	if id.Check() != nil || eyeID.Check() != nil {
		return nil, nil, none
	}
	found, err := s.Store.Get(r.Context(), record.KindScan, id)
	if err != nil {
		return nil, nil, err
	}
	noun := found.(*record.Scan)
	if noun.EyeID != eyeID || noun.Struck() {
		return nil, nil, none
	}
	if found, err = s.Store.Get(r.Context(), record.KindEye, eyeID); err != nil {
		return nil, nil, err
	}
	return noun, found.(*record.Eye), nil
}
