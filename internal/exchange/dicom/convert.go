package dicom

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"limitans/fault"
)

// Converter decompresses the pixel data of a whole DICOM file in the given
// syntax and returns the same image as a file with native pixel data of about
// maxBytes bytes at most, with the name of the program that did it. It returns
// an error that wraps [ErrNoConverter] when it has no means for the syntax.
type Converter func(file []byte, syntax Syntax, maxBytes int64) (converted []byte, program string, err error)

// ErrNoConverter is the cause of the fault when no installed program
// decompresses a transfer syntax.
var ErrNoConverter = errors.New("no converter installed")

// convertTimeout leaves room for the largest scans: 58 MB of JPEG 2000 took 16 s
// on two shared cores.
const convertTimeout = 5 * time.Minute

// conversion is one installed program that may decompress a codec.
type conversion struct {
	program   string
	arguments []string
	codecs    []codec
}

// conversions in the order in which they are tried; dcmtk's take JPEG and
// JPEG-LS alone.
var conversions = []conversion{
	{"gdcmconv", []string{"--raw"}, []codec{codecJPEG, codecJPEGLS, codecJPEG2000}},
	{"dcmdjpeg", nil, []codec{codecJPEG}},
	{"dcmdjpls", nil, []codec{codecJPEGLS}},
}

// InstalledConverter returns a converter that runs gdcmconv (Debian package
// libgdcm-tools) or dcmtk's dcmdjpeg and dcmdjpls, the first that is on the
// path and succeeds. The file goes through a directory of its own that only
// this user can read and that is removed afterwards; a run ends after five
// minutes.
func InstalledConverter() Converter {
	return func(file []byte, syntax Syntax, maxBytes int64) ([]byte, string, error) {
		failed := fmt.Errorf("%s: %w", syntax.Name, ErrNoConverter)
		for _, c := range conversions {
			if !c.takes(syntax.codec) {
				continue
			}
			path, err := exec.LookPath(c.program)
			if err != nil {
				continue
			}
			converted, err := c.run(path, file, maxBytes)
			if err == nil {
				return converted, c.program, nil
			}
			failed = fmt.Errorf("%s: %w", c.program, err)
		}
		return nil, "", failed
	}
}

func (c conversion) takes(kind codec) bool {
	for _, k := range c.codecs {
		if k == kind {
			return true
		}
	}
	return false
}

// slackBytes is what a converted file may hold besides its pixel data.
const slackBytes = 1 << 20

func (c conversion) run(path string, file []byte, maxBytes int64) ([]byte, error) {
	directory, err := os.MkdirTemp("", "limitans-dicom-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(directory)
	from, to := filepath.Join(directory, "in.dcm"), filepath.Join(directory, "out.dcm")
	if err := os.WriteFile(from, file, 0o600); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), convertTimeout)
	defer cancel()
	command := exec.CommandContext(ctx, path, append(append([]string{}, c.arguments...), from, to)...)
	command.WaitDelay = time.Second
	var said bytes.Buffer
	command.Stdout, command.Stderr = &said, &said
	if err := command.Run(); err != nil {
		if ctx.Err() != nil {
			return nil, fmt.Errorf("it did not end within %s", convertTimeout)
		}
		text := strings.ReplaceAll(said.String(), directory, "")
		return nil, fmt.Errorf("%w: %.200s", err, strings.Join(strings.Fields(text), " "))
	}
	info, err := os.Stat(to)
	if err != nil {
		return nil, errors.New("it wrote no file")
	}
	if info.Size() > maxBytes+slackBytes {
		return nil, fmt.Errorf("it wrote %d bytes instead of about %d", info.Size(), maxBytes)
	}
	return os.ReadFile(to)
}

// convert decompresses through a converter. Only the image pixel attributes
// and the fragments leave this process: no name, no date.
func (f *File) convert(e *Element, d PixelDescription, convert Converter) (*Pixels, error) {
	if convert == nil {
		convert = func([]byte, Syntax, int64) ([]byte, string, error) { return nil, "", ErrNoConverter }
	}
	var bare bytes.Buffer
	if err := f.pixelOnly().Write(&bare); err != nil {
		return nil, err
	}
	size := int64(d.Frames) * int64(d.frameSamples()) * int64(d.BitsAllocated) / 8
	converted, program, err := convert(bare.Bytes(), f.Syntax, size)
	if errors.Is(err, ErrNoConverter) {
		return nil, &fault.Error{
			Code: fault.Unsupported, Where: e.Place(),
			What:  "frames in " + f.Syntax.String() + " need a converter and none is installed",
			Mend:  "install gdcmconv (Debian package libgdcm-tools), or export the scan again uncompressed (Explicit VR Little Endian)",
			Cause: err,
		}
	}
	if err != nil {
		return nil, &fault.Error{
			Code: fault.Malformed, Where: e.Place(),
			What: "the frames in " + f.Syntax.String() + " could not be decompressed: " + err.Error(), Expected: "whole frames", Cause: err,
		}
	}
	return readConverted(e, d, converted, program)
}

func readConverted(e *Element, d PixelDescription, converted []byte, program string) (*Pixels, error) {
	wrong := func(what string, cause error) error {
		return &fault.Error{Code: fault.Malformed, Where: e.Place(), What: program + " gave " + what, Expected: "the same image uncompressed", Cause: cause}
	}
	g, err := Parse(converted)
	if err != nil {
		return nil, wrong("a file that cannot be read: "+err.Error(), err)
	}
	if g.Syntax.Encapsulated {
		return nil, wrong("a file that is still compressed", nil)
	}
	p, err := g.Pixels(nil)
	if err != nil {
		return nil, wrong("an image that cannot be read: "+err.Error(), err)
	}
	if p.Frames != d.Frames || p.Rows != d.Rows || p.Columns != d.Columns || p.SamplesPerPixel != d.SamplesPerPixel || p.BitsStored != d.BitsStored || p.Signed != d.Signed {
		return nil, wrong(fmt.Sprintf("%d frames of %d × %d with %d bits for %d of %d × %d with %d", p.Frames, p.Rows, p.Columns, p.BitsStored, d.Frames, d.Rows, d.Columns, d.BitsStored), nil)
	}
	p.ConvertedBy = program
	return p, nil
}

// pixelOnly returns a file with the image pixel attributes and the pixel data
// of f alone, sharing memory.
func (f *File) pixelOnly() *File {
	const secondaryCapture = "1.2.840.10008.5.1.4.1.1.7"
	g := NewFile(f.Syntax, secondaryCapture, UID("pixels alone"))
	for i := range f.Elements {
		if e := f.Elements[i]; e.Tag.Group() == 0x0028 && e.Tag.Element() <= TagPixelRepresentation.Element() && e.Items == nil || e.Tag == TagPixelData {
			g.Elements = append(g.Elements, e)
		}
	}
	return g
}
